"""What one flight says of one symptom: seen, not seen though it would have shown, or not observable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.alternator_online import GROUND_CHECK, VOLTMETER_ONLY
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.series import Floats, Mask, fill_short_gaps, runs

#: Name -> (value, unit).
Numbers = Mapping[str, tuple[float, str]]


class State(StrEnum):
    """What a recording says of a symptom."""

    SEEN = "seen"
    NOT_SEEN = "not_seen"  # though it would have shown
    NOT_OBSERVABLE = "not_observable"


@dataclass(frozen=True, slots=True)
class Occasion:
    """One time at which a symptom was seen; rows ``first`` up to ``end`` of the flight."""

    first: int
    end: int
    says: str
    numbers: Numbers


@dataclass(frozen=True, slots=True)
class Sighting:
    """One symptom in one flight."""

    state: State
    says: str  # the numbers that say so, or why it could not show
    numbers: Numbers = field(default_factory=dict)
    occasions: tuple[Occasion, ...] = ()
    watched: Mask | None = None  # rows in which it would have shown, None where time does not matter


def seen(occasions: list[Occasion], watched: Mask | None = None) -> Sighting:
    """Give a symptom that was seen."""
    return Sighting(State.SEEN, occasions[0].says, {}, tuple(occasions), watched)


def not_seen(says: str, numbers: Numbers, watched: Mask | None = None) -> Sighting:
    """Give a symptom that would have shown and did not."""
    return Sighting(State.NOT_SEEN, says, numbers, (), watched)


def not_observable(because: str, numbers: Numbers | None = None) -> Sighting:
    """Give a symptom that this flight's recording could not have shown."""
    return Sighting(State.NOT_OBSERVABLE, because, numbers or {})


def number(value: float, unit: str, digits: int = 1) -> tuple[float, str]:
    """A number of a document."""
    return round(float(value), digits), unit


def numbers_document(numbers: Numbers) -> dict[str, dict[str, Any]]:
    """Numbers by the document's shape."""
    return {name: {"value": value, "unit": unit} for name, (value, unit) in numbers.items()}


def supposed_rows(flight: Flight) -> Mask:
    """Rows in which the alternator is supposed to hold the bus.

    Left out: the first moments after start, the engine's last ones, a check on the ground, and what only
    the voltmeter says. Low engine speed is kept: it is a condition, not an excuse.
    """
    trace = flight.trace
    rows = flight.running.copy()
    just_started = flight.recharge is not None and flight.recharge.start_recorded  # it is seen to take the bus
    if just_started or not flight.begins_running:
        rows &= trace.time >= trace.time[flight.run.start] + limit_value("squawk_after_start")
    if flight.run.stop < trace.time.size:
        rows &= trace.time <= flight.stop_s - limit_value("spin_up")
    apart = trace.rows_in(limit_value("spin_up"))
    for outage in flight.outages:
        if outage.kind in (GROUND_CHECK, VOLTMETER_ONLY):
            rows[max(0, outage.first - apart) : outage.end + apart] = False
    return rows


def low_in(flight: Flight, kind: str) -> float:
    """Seconds in outages of a kind in which the voltmeter shows less than the low-voltage light's limit."""
    trace = flight.trace
    low = trace.bus_voltage < flight.limits["low_voltage"]
    spans = [slice(outage.first, outage.end) for outage in flight.outages if outage.kind == kind]
    return float(sum(trace.seconds[span][low[span]].sum() for span in spans))


def watched_minutes(flight: Flight, rows: Mask) -> float:
    """Minutes that some rows stand for."""
    return float(flight.trace.seconds[rows].sum()) / 60.0


def stretches(flight: Flight, rows: Mask) -> list[tuple[int, int]]:
    """Runs of rows, those that follow each other within moments joined into one occasion."""
    gap = max(limit_value("squawk_occasion_gap"), 3.0 * flight.trace.step_s)
    return runs(fill_short_gaps(rows, flight.trace.time, gap))


def finding_rows(flight: Flight, finding: Finding) -> tuple[int, int]:
    """Rows that a finding spans, first and end; at least one."""
    first, end = np.searchsorted(flight.trace.time, (finding.from_s - 1e-6, finding.to_s + 1e-6))
    return int(first), max(int(end), int(first) + 1)


def of_finding(flight: Flight, finding: Finding, numbers: Numbers) -> Occasion:
    """Give a finding as an occasion."""
    return Occasion(*finding_rows(flight, finding), finding.says, numbers)


def meter_doubt(flight: Flight) -> str | None:
    """Why the voltmeter's level cannot be trusted in this flight; None when it can."""
    for fault in flight.reading_faults:
        if fault.channel == "bus_voltage" and fault.kind == "offset":
            return f"the voltmeter reads {fault.value:+.1f} V off throughout" if fault.value else "the voltmeter is off"
        if fault.channel == "bus_voltage" and fault.kind == "path":
            return "the voltmeter reads low behind a resistance on its way"
    return None


def lowest(values: Floats) -> float:
    """Lowest finite value, NaN without any."""
    finite = values[np.isfinite(values)]
    return float(finite.min()) if finite.size else float("nan")


def short_look(flight: Flight, rows: Mask) -> str | None:
    """Why the time that could be looked at is too short, None when it is enough."""
    minutes = watched_minutes(flight, rows)
    if 60.0 * minutes >= limit_value("squawk_shortest_look"):
        return None
    if not np.isfinite(flight.trace.bus_voltage[flight.running]).any():
        return "no bus voltage is recorded with the engine running"
    return f"only {60.0 * minutes:.0f} s are recorded in which it could have shown"
