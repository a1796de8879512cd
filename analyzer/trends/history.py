"""What trends are made of: one summary a flight, the maintenance entries, and both of one tail in order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft
from analyzer.findings.battery import discharge_before
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.trends.once import each_once

if TYPE_CHECKING:
    from analyzer.review import FlightReview
    from analyzer.trends.entries import Entry


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure of one flight that could be measured, with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class FlightFinding:
    """A finding of one flight, as far as its recurrence needs it."""

    name: str
    severity: str


@dataclass(frozen=True, slots=True)
class FlightSummary:
    """One flight as the trends see it."""

    start: datetime
    end: datetime
    hours: float  # engine running [h]
    nominal_voltage: int | None  # None where nothing tells
    ammeter: str
    air_start: float | None  # outside air at the start [degC]
    air_flight: float | None  # outside air while the bus is regulated [degC]
    drawn_ah: float | None  # charge drawn before the alternator took the bus [Ah]
    readings: Mapping[str, Reading]
    findings: tuple[FlightFinding, ...] = ()


@dataclass(frozen=True, slots=True)
class History:
    """One tail's flights in order of start, and what was done to it."""

    tail: str
    flights: tuple[FlightSummary, ...]
    entries: tuple[Entry, ...] = ()
    aircraft: Aircraft = field(default=UNKNOWN_AIRCRAFT)

    @property
    def hours(self) -> float:
        """Engine hours recorded [h]."""
        return float(sum(flight.hours for flight in self.flights))

    @property
    def nominal_voltage(self) -> int | None:
        """Nominal voltage of most of the flights that tell it [V]; the fleet file's, or None, where none does."""
        told = [flight.nominal_voltage for flight in self.flights if flight.nominal_voltage is not None]
        if self.flights and not told:
            return self.aircraft.nominal_voltage
        return 28 if 2 * told.count(28) > len(told) else 14

    def until(self, moment: datetime | None) -> History:
        """Give the history as it was at a moment: flights begun and entries made up to it; all of it for None."""
        if moment is None:
            return self
        return History(
            self.tail,
            tuple(flight for flight in self.flights if flight.start <= moment),
            tuple(entry for entry in self.entries if entry.when <= moment),
            self.aircraft,
        )


def history_of(
    tail: str,
    flights: Iterable[FlightSummary],
    entries: Sequence[Entry] = (),
    aircraft: Aircraft = UNKNOWN_AIRCRAFT,
) -> History:
    """Give a tail's history in order, each flight once.

    Which of two copies of a flight counts is told by ``each_once``; of equally long ones that with more readings.
    """
    fullest = sorted(flights, key=lambda one: (len(one.readings), one.hours), reverse=True)
    kept = each_once(fullest, lambda one: (one.start, one.end)).kept
    return History(tail, tuple(kept), tuple(sorted(entries, key=lambda entry: entry.when)), aircraft)


def summarize(review: FlightReview) -> FlightSummary | None:
    """Give a flight's summary, or None when no clock says when it took place."""
    flight = review.flight
    start, end = flight.clock(flight.from_s), flight.clock(flight.to_s)
    if start is None or end is None:
        return None
    readings = {
        name: Reading(measure.value, measure.low, measure.high)
        for name, measure in review.measures.items()
        if measure.value is not None and measure.low is not None and measure.high is not None
    }
    air_start, air_flight, drawn = circumstances(review)
    return FlightSummary(
        start=datetime.fromisoformat(start),
        end=datetime.fromisoformat(end),
        hours=flight_hours(flight),
        nominal_voltage=flight.nominal_voltage,
        ammeter=flight.ammeter.kind,
        air_start=air_start,
        air_flight=air_flight,
        drawn_ah=drawn,
        readings=readings,
        findings=tuple(FlightFinding(finding.name, finding.severity) for finding in review.findings),
    )


def flight_hours(flight: Flight) -> float:
    """Time with the engine running [h]."""
    return max(0.0, flight.stop_s - float(flight.trace.time[flight.run.start])) / 3600.0


def circumstances(review: FlightReview) -> tuple[float | None, float | None, float | None]:
    """Give the air at the start and in flight [degC], and the charge drawn before the alternator came on [Ah].

    The charge is not known where the log begins with the engine running.
    """
    drawn = None
    if not review.flight.begins_running:
        drawn = round(discharge_before(review.flight, dict(review.measures)), 3)
    return *_air(review.flight), drawn


def _air(flight: Flight) -> tuple[float | None, float | None]:
    """Outside air at the start and while the bus is regulated [degC]."""
    air = flight.trace.outside_air_temperature
    if air is None:
        return None, None
    first = air[: flight.run.start + flight.trace.rows_in(limit_value("trend_start_window"))]
    rows = flight.regulated
    return _middle(first), _middle(air[rows] if rows.any() else air[flight.running])


def _middle(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float | None:
    known = values[np.isfinite(values)]
    return round(float(np.median(known)), 2) if known.size else None
