"""The fleet: each aircraft's condition, what stands open, what changed, and which needs attention first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from statistics import median

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.series import MAD_TO_SIGMA
from analyzer.trends.comparison import Comparison
from analyzer.trends.followed_tail import LevelStep, Projection, Trend
from analyzer.trends.history import FlightFinding
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import NONE_SETTLED, OpenFindings, Settled
from analyzer.trends.tail_result import TailResult

NO_AIRCRAFT: Mapping[str, Settled] = {}


class Happened(StrEnum):
    """What changed."""

    RAISED = "raised"
    LAPSED = "lapsed"
    STEPPED = "stepped"
    ENTRY = "entry"


@dataclass(frozen=True, slots=True)
class MeasureStep:
    """A measure stepped."""

    measure: str
    change: LevelStep

    @property
    def unit(self) -> str:
        """Unit of the measure."""
        return MEASURES[self.measure]


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that changed of an aircraft, and when."""

    when: datetime
    what: Happened
    about: TrendFinding | MeasureStep | Comparison


@dataclass(frozen=True, slots=True)
class NextLimit:
    """A limit that a measure goes to, with when."""

    measure: str
    limit: float
    reached: Projection

    @property
    def unit(self) -> str:
        """Unit of the limit."""
        return MEASURES[self.measure]


@dataclass(frozen=True, slots=True)
class FleetRow:
    """One aircraft of the fleet."""

    result: TailResult
    stands: OpenFindings[FlightFinding]
    last_flight: datetime | None
    next_limit: NextLimit | None
    changed: tuple[Happening, ...] | None  # None where nobody asked

    @property
    def tail(self) -> str:
        """Its registration."""
        return self.result.tail


@dataclass(frozen=True, slots=True)
class Spread:
    """The middle and spread of a measure's present level over aircraft of one system voltage."""

    nominal_voltage: int | None
    measure: str
    tails: int
    median: float
    deviation: float  # robust standard deviation
    apart: tuple[str, ...]  # tails more than three of these from the middle


@dataclass(frozen=True, slots=True)
class FleetResult:
    """The fleet, the aircraft in most need first."""

    since: datetime | None
    rows: tuple[FleetRow, ...]
    spread: tuple[Spread, ...]


def fleet_result(
    results: Sequence[TailResult],
    last: Mapping[str, datetime | None],
    since: datetime | None = None,
    settled: Mapping[str, Settled] = NO_AIRCRAFT,
) -> FleetResult:
    """Give the fleet by need: by condition, then by how soon a limit may be reached, then by tail.

    Parameters
    ----------
    results : one a tail
    last : tail -> start of its last flight
    since : say what changed from this moment on
    settled : tail -> the findings that people have settled
    """
    rows = [_row(one, last.get(one.tail), since, settled.get(one.tail, NONE_SETTLED)) for one in results]
    rows.sort(
        key=lambda row: (
            row.result.condition.place,
            -len(row.stands.over_many),
            row.next_limit.reached.earliest if row.next_limit else float("inf"),
            row.tail,
        )
    )
    return FleetResult(since, tuple(rows), fleet_spread(results))


def fleet_spread(results: Sequence[TailResult]) -> tuple[Spread, ...]:
    """Give the middle and spread of each measure's present level over aircraft of one system voltage.

    Context only: an aircraft is judged by its own history first. ``apart`` names those whose level lies more
    than three robust standard deviations from the others'.
    """
    levels: dict[tuple[int | None, str], dict[str, float]] = {}
    for one in results:
        for measure, trend in one.trends.items():
            if trend.now is not None:
                levels.setdefault((one.nominal_voltage, measure), {})[one.tail] = trend.now.level
    spread = []
    for (nominal, measure), own in sorted(levels.items(), key=lambda one: (one[0][0] or 0, one[0][1])):
        if len(own) < limit_value("fleet_fewest"):
            continue
        middle = median(own.values())
        deviation = MAD_TO_SIGMA * median(abs(level - middle) for level in own.values())
        apart = [tail for tail, level in own.items() if deviation and abs(level - middle) > 3.0 * deviation]
        spread.append(Spread(nominal, measure, len(own), middle, deviation, tuple(sorted(apart))))
    return tuple(spread)


def _row(result: TailResult, last: datetime | None, since: datetime | None, settled: Settled) -> FleetRow:
    stands = result.stands(settled)
    return FleetRow(
        result=replace(result, condition=stands.condition(result.flights)),
        stands=stands,
        last_flight=last,
        next_limit=next_limit(result.trends),
        changed=None if since is None else changed_since(result, since),
    )


def next_limit(trends: Mapping[str, Trend]) -> NextLimit | None:
    """The limit that may be reached first, None where none is."""
    coming = [
        NextLimit(measure, trend.now.limit, trend.now.ahead)
        for measure, trend in trends.items()
        if trend.now is not None and trend.now.limit is not None and trend.now.ahead is not None
    ]
    return min(coming, key=lambda one: one.reached.earliest, default=None)


def changed_since(result: TailResult, since: datetime) -> tuple[Happening, ...]:
    """Give what happened from a moment on: findings raised and lapsed, steps, entries; in order of time."""
    happened: list[Happening] = []
    for finding in result.findings:
        raised = finding.raisings[-1].start
        if raised is not None and raised >= since:
            happened.append(Happening(raised, Happened.RAISED, finding))
        if finding.lapsed_at is not None and finding.lapsed_at >= since:
            happened.append(Happening(finding.lapsed_at, Happened.LAPSED, finding))
    happened += [
        Happening(change.start, Happened.STEPPED, MeasureStep(measure, change))
        for measure, trend in result.trends.items()
        for change in trend.changes
        if change.start is not None and change.start >= since
    ]
    happened += [
        Happening(one.entry.when, Happened.ENTRY, one) for one in result.comparisons if one.entry.when >= since
    ]
    return tuple(sorted(happened, key=lambda one: one.when))
