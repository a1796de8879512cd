"""What else a stretch without the alternator may be, and how likely each explanation is.

One explanation is acted on, but a bus that reads low has four: an alternator that gives nothing, one at its limit, an
engine that turns too slowly, and a voltmeter that alone reads low. What the stretch shows falls into classes, and each
class has a score for every explanation, learned together from flights whose truth is known (``outage_evidence.toml``).
Scores add up over what is seen; what is not recorded says nothing.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from analyzer.flights.alternator_online import (
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
from analyzer.flights.at_power import altitude_tells, power_held
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.phrases import duration
from analyzer.series import Floats, Mask, finite_of, median, percentile

EVIDENCE_FILE = Path(__file__).with_name("outage_evidence.toml")
#: The explanations, in the order of the scores in the evidence table.
EXPLANATIONS = (OFFLINE, OUTPUT_LIMITED, LOW_RPM, VOLTMETER_ONLY)
#: The order of the kinds by which the first observation, what the stretch was taken for, is numbered.
_KINDS = (LOW_RPM, OFFLINE, OUTPUT_LIMITED, GROUND_CHECK, LATE_START, BRIEF, VOLTMETER_ONLY)


@dataclass(frozen=True, slots=True)
class _Evidence:
    edges: tuple[float, ...]
    scores: tuple[tuple[float, ...], ...]  # a row for each class, one more than edges
    words: str  # {shown} is the value, {share} the same in percent; empty where it is told to nobody


@cache
def load_evidence() -> Mapping[str, _Evidence]:
    """Every observation of ``outage_evidence.toml`` by name."""
    entries = tomllib.loads(EVIDENCE_FILE.read_text("utf-8"))["observations"]
    return {
        name: _Evidence(tuple(one["edges"]), tuple(map(tuple, one["scores"])), one["words"])
        for name, one in entries.items()
    }


@dataclass(frozen=True, slots=True)
class Setting:
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
    times = Counter(outage.kind for outage in found)
    told = []
    for outage in found:
        seen = clues(setting, outage, times[outage.kind])
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

    A loss stays one whatever is likelier: that is told beside it. An alternator at its limit gives way to a low engine
    speed only where that is all but sure, and an engine that is shown to be fast idles for no chance. One before which
    the bus rose stays.
    """
    return [replace(one, kind=_likelier(one)) for one in found]


def _likelier(outage: AlternatorOutage) -> OutageKind:
    kind = outage.kind
    if not outage.alternatives:
        return kind
    best = outage.alternatives[0]
    enough = limit_value("alternative_sure")
    if best.explanation == LOW_RPM:
        enough = limit_value("alternative_innocent") if kind == OUTPUT_LIMITED else enough
        fast = max((clue.value for clue in outage.clues if clue.name == "speed"), default=0.0)
        gives_way = fast < limit_value("alternative_slow")
    else:
        gives_way = best.explanation in (OFFLINE, OUTPUT_LIMITED)
    gives_way &= kind in (OUTPUT_LIMITED, VOLTMETER_ONLY) and not outage.rose
    return best.explanation if gives_way and best.chance >= enough else kind


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


def clues(setting: Setting, outage: AlternatorOutage, times: int) -> tuple[Clue, ...]:
    """What a stretch shows; ``times`` is how many of its kind the flight has."""
    seen = []
    for name, value in _values(setting, outage, times).items():
        entry = load_evidence()[name]
        if np.isfinite(value):
            scores = entry.scores[int(np.searchsorted(entry.edges, value))]
            seen.append(Clue(name, round(value, 5), scores, _said(entry.words, value)))
    return tuple(seen)


def _said(words: str, value: float) -> str:
    place = ("it ends before take-off", "it is in flight", "it lasts until the engine stops")[
        min(2, max(0, round(value)))
    ]
    return words.format(
        shown=f"{value:.2f}",
        share=f"{100.0 * value:.0f} %",
        count=round(value),
        place=place,
        lasts=duration(10.0 ** min(value, 9.0)),
    )


def alternatives(seen: Sequence[Clue]) -> tuple[Alternative, ...]:
    """Every explanation with its chance by what was seen, the likeliest first."""
    scores = np.sum([one.scores for one in seen], axis=0)
    chances = np.exp(scores - scores.max())
    chances /= chances.sum()
    found = [Alternative(kind, float(chance)) for kind, chance in zip(EXPLANATIONS, chances, strict=True)]
    return tuple(sorted(found, key=lambda one: -one.chance))


def _values(setting: Setting, outage: AlternatorOutage, times: int) -> dict[str, float]:
    """Every observation by name, NaN what is not recorded. Volts are shares of what the alternator lifts the bus by."""
    trace, limits = setting.trace, setting.limits
    rows = slice(outage.first, outage.end)
    beside = trace.rows_in(limit_value("outage_beside"))
    before = slice(max(0, outage.first - beside), outage.first)
    start = slice(outage.first, min(outage.end, outage.first + beside))
    volts, full = trace.bus_voltage, limits["full_battery"]
    lift = max(setting.held - full, limits["carrying_smallest_rise"]) if np.isfinite(setting.held) else np.nan
    third = max(1, (outage.end - outage.first) // 3)
    seconds = trace.seconds[rows]
    lasts = float(seconds.sum())
    found = {
        "taken_for": float(3 * _KINDS.index(outage.kind) + _ammeters(trace)),
        "lasts": float(np.log10(max(lasts, 1e-3))),
        "height": (median(volts[rows]) - full) / lift,
        "lowest": (percentile(finite_of(volts[rows]), 5.0) - full) / lift if np.isfinite(volts[rows]).any() else np.nan,
        "above_rest": (median(volts[rows]) - setting.rest) / lift,
        "sank": (median(volts[start]) - median(volts[outage.end - third : outage.end])) / lift,
        "fell_at_once": (median(volts[before]) - median(volts[start])) / lift,
        "times": float(times),
        "place": _place(setting, outage),
        "given": _typical(trace.battery_current, rows) / limits["battery_capacity"],
        "speed": np.nan,
        "at_power": np.nan,
    }
    found |= _of_the_output(trace, rows, before, setting.running)
    if trace.engine_speed is not None:
        found["speed"] = float(seconds[setting.rpm_sufficient[rows]].sum()) / max(lasts, 1e-3)
    elif altitude_tells(trace, outage.first, outage.end):
        found["at_power"] = float(seconds[power_held(trace)[rows]].sum()) / max(lasts, 1e-3)
    return {name: float(value) for name, value in found.items()}


def _ammeters(trace: Trace) -> int:
    """Which current tells: none, the battery's, the alternator's."""
    flows = (trace.battery_current, trace.alternator_output)
    of_battery, of_alternator = (flow is not None and bool(np.isfinite(flow).any()) for flow in flows)
    return 2 if of_alternator else int(of_battery)


def _typical(channel: Floats | None, rows: slice) -> float:
    return float("nan") if channel is None else median(channel[rows])


def _of_the_output(trace: Trace, rows: slice, before: slice, running: Mask) -> dict[str, float]:
    """Its level as a share of the highest of the flight, and of that just before."""
    output = trace.alternator_output
    shown = finite_of(output[running]) if output is not None else np.zeros(0)
    if output is None or not shown.size:
        return {"output": float("nan"), "output_kept": float("nan")}
    most = max(percentile(shown, limit_value("output_highest")), limit_value("output_smallest"))
    was = max(median(output[before]), limit_value("output_smallest"))
    return {"output": median(output[rows]) / most, "output_kept": median(output[rows]) / was}


def _place(setting: Setting, outage: AlternatorOutage) -> float:
    """Before take-off 0, after it 1, at the end of the engine run 2."""
    stop = int(np.flatnonzero(setting.running)[-1]) if setting.running.any() else 0
    return 0.0 if outage.end <= setting.takeoff else 2.0 if outage.end > stop else 1.0
