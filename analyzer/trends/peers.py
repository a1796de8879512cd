"""Normal for the type: where an aircraft's measures stand beside those of others of its type in the records.

Each aircraft counts once, with its recent level: at the reference temperature and the usual load where its measure is
followed from flight to flight. Context only: peers may be worn themselves; an aircraft is judged by its own history.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from analyzer.aircraft import Aircraft, Battery, Source
from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.trends.entries import kinds
from analyzer.trends.followed_tail import Trend
from analyzer.trends.tail_result import TailResult
from analyzer.trends.unlogged import BATTERY


@dataclass(frozen=True, slots=True)
class Kind:
    """What aircraft must share to be peers.

    A battery that is not set is like another that is not set alone, and lithium and lead may be among these.
    """

    aircraft_type: str  # as its owner wrote it
    nominal_voltage: int
    battery: Battery | None
    source: Source


@dataclass(frozen=True, slots=True)
class Beside:
    """One measure of an aircraft beside its peers'."""

    measure: str
    level: float
    corrected: bool  # for temperature and load
    peers: Mapping[str, float]  # tail -> level of those that carry it
    percentile: float | None  # share of the peers that lie lower, ties by half [%]; None with too few of them, or mixed
    mixed: bool = False  # it is the battery's, and what kinds of battery the peers have is not set

    @property
    def unit(self) -> str:
        """Unit of the measure."""
        return MEASURES[self.measure]

    @property
    def lower(self) -> int:
        """Peers that lie lower."""
        return sum(level < self.level for level in self.peers.values())

    @property
    def middle(self) -> float:
        """The peers' median."""
        return median(self.peers.values())


@dataclass(frozen=True, slots=True)
class Peers:
    """An aircraft beside its peers, or why not."""

    tail: str
    kind: Kind | None  # None where its type is not set or its voltage not known
    peers: tuple[str, ...]
    measures: tuple[Beside, ...]
    because: str | None = None  # why it is set beside nobody


def kind_of(aircraft: Aircraft, nominal_voltage: int | None) -> Kind | None:
    """What an aircraft's peers share with it; None where its type is not set or its voltage not known."""
    if aircraft.aircraft_type is None or nominal_voltage is None:
        return None
    return Kind(aircraft.aircraft_type, nominal_voltage, aircraft.battery, aircraft.source or Source.ALTERNATOR)


def beside_peers(result: TailResult, others: Sequence[TailResult], known: Mapping[str, Aircraft]) -> Peers:
    """Set an aircraft beside the others of its type.

    Parameters
    ----------
    others : of the records, perhaps itself among them
    known : tail -> what is known of it beforehand
    """
    kind = _kind(result, known)
    if kind is None:
        return Peers(result.tail, None, (), (), _why_none(known.get(result.tail)))
    peers = [one for one in others if one.tail != result.tail and _alike(_kind(one, known), kind)]
    fewest = int(limit_value("peers_fewest"))
    names = tuple(sorted(one.tail for one in peers))
    if len(peers) < fewest:
        because = f"too few peers: {len(peers)} other aircraft of its kind are kept; {fewest} are needed"
        return Peers(result.tail, kind, names, (), because)
    levels = {one.tail: _levels(one) for one in peers}
    measures = [
        _beside(result, kind, name, level, {tail: own[name] for tail, own in levels.items() if name in own})
        for name, level in _levels(result).items()
    ]
    return Peers(result.tail, kind, names, tuple(measures))


def _why_none(aircraft: Aircraft | None) -> str:
    if aircraft is None or aircraft.aircraft_type is None:
        return "its type is not set; set the type of each aircraft in its settings"
    return "its voltage is not known; set its system voltage in its settings"


def _kind(result: TailResult, known: Mapping[str, Aircraft]) -> Kind | None:
    aircraft = known.get(result.tail)
    return None if aircraft is None else kind_of(aircraft, result.nominal_voltage)


def _alike(one: Kind | None, other: Kind) -> bool:
    """Whether both are one kind; capitals tell no types apart."""
    return one is not None and _folded(one) == _folded(other)


def _folded(kind: Kind) -> tuple[object, ...]:
    return kind.aircraft_type.casefold(), kind.nominal_voltage, kind.battery, kind.source


def _levels(result: TailResult) -> dict[str, float]:
    """The recent level of each measure that tells one."""
    followed = {name: level for name, trend in result.trends.items() if (level := _level(trend)) is not None}
    return followed | dict(result.as_recorded)


def _level(trend: Trend) -> float | None:
    return None if trend.now is None else trend.now.level


def _beside(result: TailResult, kind: Kind, name: str, level: float, peers: Mapping[str, float]) -> Beside:
    mixed = kind.battery is None and name in _of_the_battery()
    told = len(peers) >= limit_value("peers_fewest") and not mixed
    lower = sum(one < level for one in peers.values()) + 0.5 * sum(one == level for one in peers.values())
    return Beside(name, level, name in result.trends, peers, 100.0 * lower / len(peers) if told else None, mixed)


def _of_the_battery() -> set[str]:
    """Measures that another battery changes."""
    return {*kinds()[BATTERY].resets, "cranking_time"}
