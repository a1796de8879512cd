"""What one flight says of one symptom: seen, not seen though it would have shown, or not observable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import GROUND_CHECK, VOLTMETER_ONLY
from analyzer.limits import limit_value
from analyzer.quantity import Quantity
from analyzer.series import Floats, Mask, fill_short_gaps, runs
from analyzer.squawk.reasons import Reason, Unobservable

#: What a number is of -> the number.
Numbers = Mapping[str, Quantity]


class State(StrEnum):
    """What a recording says of a symptom."""

    SEEN = "seen"
    NOT_SEEN = "not_seen"  # though it would have shown
    NOT_OBSERVABLE = "not_observable"


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One time at which a symptom was seen; rows ``first`` up to ``end`` of the flight."""

    first: int
    end: int
    says: str
    numbers: Numbers


@dataclass(frozen=True, slots=True)
class SymptomResult:
    """One symptom in one flight."""

    state: State
    says: str = ""  # the numbers that say so; nothing where it could not show
    reason: Reason | None = None  # why it could not
    numbers: Numbers = field(default_factory=dict)
    occasions: tuple[Occurrence, ...] = ()
    watched: Mask | None = None  # rows in which it would have shown, None where time does not matter


def seen(occasions: list[Occurrence], watched: Mask | None = None) -> SymptomResult:
    """Give a symptom that was seen."""
    return SymptomResult(State.SEEN, occasions[0].says, None, {}, tuple(occasions), watched)


def not_seen(says: str, numbers: Numbers, watched: Mask | None = None) -> SymptomResult:
    """Give a symptom that would have shown and did not."""
    return SymptomResult(State.NOT_SEEN, says, None, numbers, (), watched)


def not_observable(reason: Reason, numbers: Numbers | None = None) -> SymptomResult:
    """Give a symptom that this flight's recording could not have shown."""
    return SymptomResult(State.NOT_OBSERVABLE, "", reason, numbers or {})


def number(value: float, unit: str, digits: int = 1) -> Quantity:
    """A number as far as it is shown."""
    return Quantity(round(float(value), digits), unit)


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


def of_finding(flight: Flight, finding: Finding, numbers: Numbers) -> Occurrence:
    """Give a finding as an occasion."""
    return Occurrence(*finding_rows(flight, finding), finding.says, numbers)


def meter_doubt(flight: Flight) -> Reason | None:
    """Why the voltmeter's level cannot be trusted in this flight; None when it can."""
    for fault in flight.reading_faults:
        if fault.channel == "bus_voltage" and fault.kind == "offset":
            return Reason(Unobservable.VOLTMETER_OFFSET, {"offset": number(fault.value, "V")} if fault.value else {})
        if fault.channel == "bus_voltage" and fault.kind == "path" and not fault.unsure:
            return Reason(Unobservable.VOLTMETER_BEHIND_RESISTANCE)
    return None


def lowest(values: Floats) -> float:
    """Lowest finite value, NaN without any."""
    finite = values[np.isfinite(values)]
    return float(finite.min()) if finite.size else float("nan")


def short_look(flight: Flight, rows: Mask) -> Reason | None:
    """Why the time that could be looked at is too short, None when it is enough."""
    minutes = watched_minutes(flight, rows)
    if 60.0 * minutes >= limit_value("squawk_shortest_look"):
        return None
    if not np.isfinite(flight.trace.bus_voltage[flight.running]).any():
        return Reason(Unobservable.NO_VOLTAGE)
    return Reason(Unobservable.TOO_SHORT, {"observed": number(60.0 * minutes, "s", 0)})
