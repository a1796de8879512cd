"""What else a stretch without the alternator may be, and how likely each explanation is.

One explanation is acted on, but a bus that reads low has four: an alternator that gives nothing, one at its limit, an
engine that turns too slowly, and a voltmeter that alone reads low. What the stretch shows falls into classes, and each
class has a score for every explanation, learned together from flights whose truth is known (``outage_evidence.toml``).
Scores add up over what is seen; what is not recorded says nothing.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.flights.at_power import altitude_tells, power_held
from analyzer.flights.outage_kinds import (
    BRIEF,
    GROUND_CHECK,
    LATE_START,
    LOW_RPM,
    OFFLINE,
    OUTPUT_LIMITED,
    VOLTMETER_ONLY,
    Alternative,
    AlternatorOutage,
    Clue,
    OutageKind,
)
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.phrases import bus_volts, duration, times
from analyzer.series import Floats, Mask, finite_of, median, percentile
from analyzer.shipped_tables import read_table

EVIDENCE_FILE = Path(__file__).with_name("outage_evidence.toml")
#: The explanations, in the order of the scores in the evidence table.
EXPLANATIONS = (OFFLINE, OUTPUT_LIMITED, LOW_RPM, VOLTMETER_ONLY)
#: The order of the kinds by which the first observation, what the stretch was taken for, is numbered.
_KINDS = (LOW_RPM, OFFLINE, OUTPUT_LIMITED, GROUND_CHECK, LATE_START, BRIEF, VOLTMETER_ONLY)


class _Evidence(Struct, frozen=True):
    edges: tuple[float, ...]
    scores: tuple[tuple[float, ...], ...]  # a row for each class, one more than edges
    words: str  # with the numbers of ``_shown`` in braces; empty where it is told to nobody


@cache
def load_evidence() -> Mapping[str, _Evidence]:
    """Every observation of ``outage_evidence.toml`` by name."""
    entries = read_table(EVIDENCE_FILE)["observations"]
    return {
        name: _Evidence(tuple(one["edges"]), tuple(map(tuple, one["scores"])), one["words"])
        for name, one in entries.items()
    }


class Setting(Struct, frozen=True):
    """What a stretch is held against, the same for all of a flight."""

    trace: Trace
    running: Mask
    rpm_sufficient: Mask
    takeoff: int
    ever_held: bool  # whether the alternator is ever seen to carry the bus
    held: float  # what the regulator holds [V]
    rest: float  # bus voltage with the engine stopped [V], NaN when unknown
    limits: Limits


def weighed(setting: Setting, found: Sequence[AlternatorOutage]) -> list[AlternatorOutage]:
    """The outages of a flight, each with what it shows and the chances of its explanations.

    None of a flight in which the alternator never holds the bus, as far as is seen: what an outage shows is held
    against what it holds.
    """
    if not setting.ever_held:
        return list(found)
    of_kind = Counter(outage.kind for outage in found)
    told = []
    for outage in found:
        seen = clues(setting, outage, of_kind[outage.kind])
        told.append(replace(outage, clues=seen, alternatives=alternatives(seen)))
    return told


def telling(outage: AlternatorOutage) -> tuple[str, ...]:
    """What speaks most for the likeliest explanation of an outage against the second, in words."""
    if not outage.alternatives:
        return ()
    first, second = (EXPLANATIONS.index(one.explanation) for one in outage.alternatives[:2])
    told = [(one.scores[first] - one.scores[second], one.words) for one in outage.clues if one.words]
    most = sorted(told, reverse=True)[: int(limit_value("alternative_clues"))]
    return tuple(words for log_odds, words in most if log_odds > 0.0)


def settled(found: Sequence[AlternatorOutage]) -> list[AlternatorOutage]:
    """The outages of a flight, each by a far likelier explanation where one is no less grave than the first.

    A loss stays one whatever is likelier: that is told beside it. An alternator at its limit and a low reading give way
    to a low engine speed only where that is all but sure, and an engine that is shown to be fast, by its speed or by
    height and airspeed held, idles for no chance. Neither becomes a loss that is too short for one, or for one on the
    ground. One before which the bus rose stays.
    """
    return [replace(one, kind=_likelier(one)) for one in found]


def _likelier(outage: AlternatorOutage) -> OutageKind:
    kind = outage.kind
    if not outage.alternatives or outage.rose or kind not in (OUTPUT_LIMITED, VOLTMETER_ONLY):
        return kind
    best = outage.alternatives[0]
    innocent = best.explanation == LOW_RPM
    if innocent:
        gives_way = not engine_shown_fast([outage])
    else:
        gives_way = best.explanation == OUTPUT_LIMITED or (best.explanation == OFFLINE and _lasts_as_a_loss(outage))
    shown_slow = kind == VOLTMETER_ONLY and np.isfinite(_clue(outage, "speed", "at_power"))
    enough = limit_value("alternative_innocent" if innocent and not shown_slow else "alternative_sure")
    return best.explanation if gives_way and best.chance >= enough else kind


def _lasts_as_a_loss(outage: AlternatorOutage) -> bool:
    """Whether a stretch is as long as a loss must be where it lies: on the ground longer than the usual check."""
    lasts, in_flight = 10.0 ** _clue(outage, "lasts"), _clue(outage, "place") == _IN_FLIGHT
    return bool(lasts > limit_value("offline_shortest" if in_flight else "ground_check_longest"))


def engine_shown_fast(outages: Sequence[AlternatorOutage]) -> bool:
    """Whether the engine is shown to be fast for most of some outages: by its speed, else by height and airspeed."""
    told = [(10.0 ** _clue(one, "lasts"), _clue(one, "speed", "at_power")) for one in outages]
    told = [(lasts, share) for lasts, share in told if np.isfinite(lasts * share)]
    whole = sum(lasts for lasts, _ in told)
    quick = sum(lasts * share for lasts, share in told)
    return bool(whole > 0.0 and quick >= limit_value("alternative_slow") * whole)


def _clue(outage: AlternatorOutage, *names: str) -> float:
    """Value of the clue of one of some names, NaN where the outage shows none of them."""
    return next((clue.value for clue in outage.clues if clue.name in names), float("nan"))


def chances(outages: Sequence[AlternatorOutage], seconds: Floats) -> dict[OutageKind, float]:
    """Chance of each explanation over some outages together, each by how long it lasts; empty of none."""
    lasts = [float(seconds[one.first : one.end].sum()) for one in outages if one.alternatives]
    told = [{each.explanation: each.chance for each in one.alternatives} for one in outages if one.alternatives]
    whole = sum(lasts)
    if not whole > 0.0:
        return {}
    return {kind: sum(own[kind] * long for own, long in zip(told, lasts, strict=True)) / whole for kind in EXPLANATIONS}


def still_read_low(faults: list[ReadingFault], trace: Trace, found: Sequence[AlternatorOutage]) -> list[ReadingFault]:
    """The faults, without those of stretches in which the voltmeter alone read low that are now something likelier."""
    low = [(trace.time[one.first], trace.time[one.end - 1]) for one in found if one.kind == VOLTMETER_ONLY]
    return [
        fault
        for fault in faults
        if not fault.by_stretches or any(from_s <= fault.to_s and fault.from_s <= to_s for from_s, to_s in low)
    ]


def clues(setting: Setting, outage: AlternatorOutage, of_kind: int) -> tuple[Clue, ...]:
    """What a stretch shows; ``of_kind`` is how many of its kind the flight has."""
    seen, measured = [], _measured(setting, outage, of_kind)
    shown = _shown(setting, measured)
    for name, value in _values(setting, outage, measured).items():
        entry = load_evidence()[name]
        if np.isfinite(value):
            scores = entry.scores[bisect_left(entry.edges, value)]
            seen.append(Clue(name, round(value, 5), scores, entry.words.format_map(shown)))
    return tuple(seen)


def alternatives(seen: Sequence[Clue]) -> tuple[Alternative, ...]:
    """Every explanation with its chance by what was seen, the likeliest first."""
    scores = np.sum([one.scores for one in seen], axis=0)
    chances = np.exp(scores - scores.max())
    chances /= chances.sum()
    found = [Alternative(kind, float(chance)) for kind, chance in zip(EXPLANATIONS, chances, strict=True)]
    return tuple(sorted(found, key=lambda one: -one.chance))


class _Measured(Struct, frozen=True):
    """What is read of a stretch, as a mechanic reads it; NaN what is not recorded."""

    lasts: float  # [s]
    bus: float  # typical [V]
    lowest: float  # all but a twentieth lies above it [V]
    sank: float  # from its beginning to its last third [V]
    fell: float  # from just before to its beginning [V]
    current: float  # into the battery, typical [A]
    output: float  # typical [A]
    highest: float  # highest output of the flight [A]
    output_before: float  # just before [A]
    times: int  # how many of its kind the flight has
    place: int  # before take-off 0, after it 1, at the end of the engine run 2
    speed: float  # share of the time in which the engine is fast enough
    at_power: float  # share in which height and airspeed are held, where no engine speed tells


def _measured(setting: Setting, outage: AlternatorOutage, of_kind: int) -> _Measured:
    trace = setting.trace
    rows = slice(outage.first, outage.end)
    beside = trace.rows_in(limit_value("outage_beside"))
    before = slice(max(0, outage.first - beside), outage.first)
    volts, begins = trace.bus_voltage, median(trace.bus_voltage[rows][:beside])
    output = trace.alternator_output
    shown = finite_of(output[setting.running]) if output is not None else np.zeros(0)
    third = max(1, (outage.end - outage.first) // 3)
    seconds = trace.seconds[rows]
    lasts = float(seconds.sum())
    speed = at_power = float("nan")
    if trace.engine_speed is not None:
        speed = float(seconds[setting.rpm_sufficient[rows]].sum()) / max(lasts, 1e-3)
    elif altitude_tells(trace, outage.first, outage.end):
        at_power = float(seconds[power_held(trace)[rows]].sum()) / max(lasts, 1e-3)
    return _Measured(
        lasts=lasts,
        bus=median(volts[rows]),
        lowest=percentile(finite_of(volts[rows]), 5.0) if np.isfinite(volts[rows]).any() else float("nan"),
        sank=begins - median(volts[outage.end - third : outage.end]),
        fell=median(volts[before]) - begins,
        current=_typical(trace.battery_current, rows),
        output=_typical(output, rows),
        highest=percentile(shown, limit_value("output_highest")) if shown.size else float("nan"),
        output_before=_typical(output, before),
        times=of_kind,
        place=_place(setting, outage),
        speed=speed,
        at_power=at_power,
    )


#: A stretch's place that is neither before take-off nor at the end of the engine run.
_IN_FLIGHT = 1
_PLACES = ("it ends before take-off", "it is in flight", "it lasts until the engine stops")


def _shown(setting: Setting, read: _Measured) -> dict[str, str]:
    """The numbers of the words of ``outage_evidence.toml``, by the names in their braces."""
    above = read.bus - setting.rest
    return {
        "lasts": duration(read.lasts),
        "bus": bus_volts(read.bus),
        "lowest": bus_volts(read.lowest),
        "full": bus_volts(setting.limits["full_battery"]),
        "held": bus_volts(setting.held),
        "rest": bus_volts(setting.rest),
        "from_rest": f"{abs(above):.1f} V {'above' if above >= 0.0 else 'below'}",
        "sank": _moved(read.sank, "sinks", "climbs"),
        "fell": _moved(read.fell, "falls", "rises"),
        "current": f"{'takes' if read.current > 0.0 else 'gives'} {abs(read.current):.1f} A",
        "output": f"{max(0.0, read.output):.0f} A",
        "highest": f"{read.highest:.0f} A",
        "output_before": f"{max(0.0, read.output_before):.0f} A",
        "times": times(read.times),
        "place": _PLACES[read.place],
        "fast": f"{100.0 * (read.speed if np.isfinite(read.speed) else read.at_power):.0f} %",
    }


def _moved(fall: float, falls: str, rises: str) -> str:
    """A fall of the bus [V] in words."""
    return "stays level" if abs(fall) < 0.05 else f"{falls if fall > 0.0 else rises} by {abs(fall):.1f} V"


def _values(setting: Setting, outage: AlternatorOutage, read: _Measured) -> dict[str, float]:
    """Every observation by name, NaN what is not recorded. Volts are shares of what the alternator lifts the bus by."""
    limits, smallest = setting.limits, limit_value("output_smallest")
    full = limits["full_battery"]
    lift = max(setting.held - full, limits["carrying_smallest_rise"]) if np.isfinite(setting.held) else np.nan
    found = {
        "taken_for": float(3 * _KINDS.index(outage.kind) + _ammeters(setting.trace)),
        "lasts": float(np.log10(max(read.lasts, 1e-3))),
        "height": (read.bus - full) / lift,
        "lowest": (read.lowest - full) / lift,
        "above_rest": (read.bus - setting.rest) / lift,
        "sank": read.sank / lift,
        "fell_at_once": read.fell / lift,
        "times": float(read.times),
        "place": float(read.place),
        "given": read.current / limits["battery_capacity"],
        "speed": read.speed,
        "at_power": read.at_power,
        "output": read.output / max(read.highest, smallest),
        "output_kept": read.output / max(read.output_before, smallest),
    }
    return {name: float(value) for name, value in found.items()}


def _ammeters(trace: Trace) -> int:
    """Which current tells: none, the battery's, the alternator's."""
    flows = (trace.battery_current, trace.alternator_output)
    of_battery, of_alternator = (flow is not None and bool(np.isfinite(flow).any()) for flow in flows)
    return 2 if of_alternator else int(of_battery)


def _typical(channel: Floats | None, rows: slice) -> float:
    return float("nan") if channel is None else median(channel[rows])


def _place(setting: Setting, outage: AlternatorOutage) -> int:
    """Before take-off 0, after it 1, at the end of the engine run 2."""
    stop = int(np.flatnonzero(setting.running)[-1]) if setting.running.any() else 0
    return 0 if outage.end <= setting.takeoff else 2 if outage.end > stop else _IN_FLIGHT
