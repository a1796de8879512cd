"""The charging light, and the alternator that leaves the bus for good."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import GROUND_CHECK, VOLTMETER_ONLY
from analyzer.limits import limit_value
from analyzer.phrases import duration
from analyzer.review import FlightReview
from analyzer.series import Floats, Mask, median, running_median, runs
from analyzer.squawk.conditions import bus_load
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import (
    Occurrence,
    SymptomResult,
    finding_rows,
    low_in,
    lowest,
    meter_doubt,
    not_observable,
    not_seen,
    number,
    seen,
    short_look,
    stretches,
    supposed_rows,
    watched_minutes,
)


def charging_light(review: FlightReview) -> SymptomResult:
    """Bus below the low-voltage light's limit with the engine running; repeated short dips are a flicker."""
    flight = review.flight
    volts = flight.trace.bus_voltage
    watched = supposed_rows(flight) & np.isfinite(volts)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    limit = flight.limits["low_voltage"]
    below = watched & (volts < limit)
    doubt = meter_doubt(flight)
    occasions = [
        _below(flight, below, first, end, limit)
        for first, end in stretches(flight, below)
        if _counts(flight, first, end)
    ]
    if not doubt and not occasions and low_in(flight, VOLTMETER_ONLY) > 0.0:
        doubt = Reason(Unobservable.VOLTMETER_AGAINST_CURRENTS)
    if doubt and (occasions or low_in(flight, VOLTMETER_ONLY) > 0.0):
        return not_observable(replace(doubt, numbers={**doubt.numbers, "light_at": number(limit, "V")}))
    if occasions:
        return seen(occasions, watched)
    step = flight.trace.step_s
    least, minutes = lowest(volts[watched]), watched_minutes(flight, watched)
    if step > limit_value("squawk_slow_sampling"):
        numbers = {"step": number(step, "s"), "lowest_voltage": number(least, "V")}
        return not_observable(Reason(Unobservable.SLOW_FOR_FLICKER, numbers))
    says = f"lowest bus {least:.1f} V over {minutes:.0f} min with the engine running, light at {_light(flight)}"
    if (checked := low_in(flight, GROUND_CHECK)) > 0.0:
        says += f"; below it for {checked:.0f} s that look like the alternator switched off for a check on the ground"
    numbers = {
        "lowest_voltage": number(least, "V", 2),
        "light_at": number(limit, "V", 2),
        "watched": number(minutes, "min"),
    }
    return not_seen(says, numbers, watched)


def _light(flight: Flight) -> str:
    """Where the light comes on, in words; it is assumed where the fleet file does not tell."""
    known = "low_voltage" in flight.limits.overrides
    return f"{flight.limits['low_voltage']:.1f} V" + ("" if known else " (assumed)")


def _counts(flight: Flight, first: int, end: int) -> bool:
    """Whether a stretch is more than one reading a hair below the limit."""
    deep = flight.limits["low_voltage"] - flight.limits["squawk_light_margin"]
    return end - first > 1 or lowest(flight.trace.bus_voltage[first:end]) < deep


def _below(flight: Flight, below: Mask, first: int, end: int, limit: float) -> Occurrence:
    trace = flight.trace
    rows = np.zeros(below.size, dtype=np.bool_)
    rows[first:end] = below[first:end]
    falls = np.array([float(trace.seconds[one:other].sum()) for one, other in runs(rows)])
    seconds, span, times = float(falls.sum()), float(trace.seconds[first:end].sum()), falls.size
    level, least = median(trace.bus_voltage[rows]), lowest(trace.bus_voltage[rows])
    if times >= limit_value("squawk_flicker_times") and seconds < limit_value("squawk_flicker_share") * span:
        kind = "a flicker" if median(falls) <= limit_value("squawk_flicker_fall") else "it came and went"
        says = f"Bus below the light's {_light(flight)} {times} times within {duration(span)}, "
        says += f"{duration(seconds)} in all, lowest {least:.1f} V: {kind}"
    else:
        within = f" within {duration(span)}" if duration(span) != duration(seconds) else ""
        says = f"Bus at {level:.1f} V for {duration(seconds)}{within}, lowest {least:.1f} V, "
        says += f"below the {_light(flight)} at which the light comes on"
    numbers = {
        "lowest_voltage": number(least, "V", 2),
        "light_at": number(limit, "V", 2),
        "below": number(seconds, "s"),
        "times": number(times, "1", 0),
    }
    return Occurrence(first, end, says, numbers)


def breaker_opened(review: FlightReview) -> SymptomResult:
    """The alternator gone in one step and for a while, or never there: its breaker may have opened.

    Which breaker it was is never recorded: the alternator's switch looks the same, and a load's breaker
    looks like the load switched off.
    """
    flight = review.flight
    watched = supposed_rows(flight) & np.isfinite(flight.trace.bus_voltage)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    losses = [finding for finding in review.findings if _as_a_breaker(finding)]
    if losses:
        return seen([_opened(flight, finding) for finding in losses], watched)
    least, minutes = lowest(flight.trace.bus_voltage[watched]), watched_minutes(flight, watched)
    says = f"the alternator never dropped off line in one step in {minutes:.0f} min, lowest bus {least:.1f} V"
    numbers = {"lowest_voltage": number(least, "V", 2), "watched": number(minutes, "min")}
    load = bus_load(flight)
    if load is None:
        return not_seen(f"{says}; a load's own breaker would not show without the load's current", numbers, watched)
    falls = load_falls(flight, load, watched)
    says += f"; {falls} lasting falls of the load by {limit_value('squawk_load_fall'):.0f} A or more, as a switch or a "
    says += "load's breaker makes them: which of the two cannot be told"
    return not_seen(says, numbers | {"load_falls": number(falls, "1", 0)}, watched)


def _as_a_breaker(finding: Finding) -> bool:
    if finding.name not in ("alternator_offline", "overvoltage_trip") or finding.signs.get("late"):
        return False
    lasts = finding.to_s - finding.from_s
    abrupt = finding.signs.get("abrupt_loss") is not False or finding.signs.get("never_on", False)
    return abrupt and lasts >= limit_value("squawk_breaker_stays")


def _opened(flight: Flight, finding: Finding) -> Occurrence:
    first, end = finding_rows(flight, finding)
    numbers = {"without_alternator": number(finding.to_s - finding.from_s, "s", 0)}
    if np.isfinite(least := lowest(flight.trace.bus_voltage[first:end])):
        numbers["lowest_voltage"] = number(least, "V", 2)
    if "peak_voltage" in finding.evidence:
        numbers["highest_before"] = number(finding.evidence["peak_voltage"].value, "V", 2)
    says = f"{finding.says} The alternator's breaker, its field breaker, its switch and a broken wire look alike"
    return Occurrence(first, end, says, numbers)


def load_falls(flight: Flight, load: Floats, watched: Mask) -> int:
    """How often the load fell and stayed lower, as a switch or a load's own breaker makes it.

    The medians of a while before and after are compared, on a held bus.
    """
    side = flight.trace.rows_in(limit_value("squawk_current_smoothed"))
    held = watched & flight.alternator_online & np.isfinite(load)
    if held.sum() < 4 * side:
        return 0
    level = running_median(load[held], side)
    fall = np.zeros(level.size, dtype=np.bool_)
    fall[: -2 * side] = level[: -2 * side] - level[2 * side :] > limit_value("squawk_load_fall")
    return len(runs(fall))
