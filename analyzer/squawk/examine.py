"""One flight looked through for some symptoms: small, and ready to be sent from one process to another."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from msgspec.structs import replace

from analyzer.findings.causes import weigh_causes
from analyzer.findings.finding import Cause, Finding
from analyzer.findings.signs import flight_signs
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import LATE_START
from analyzer.quantity import Quantity
from analyzer.results import clock_at
from analyzer.review import FlightReview
from analyzer.series import Mask
from analyzer.squawk import ammeter, charging, gauges, starting, voltage
from analyzer.squawk.conditions import (
    Circumstances,
    SymptomCondition,
    circumstances_at,
    exposure,
    low_rpm_below,
    masks,
    occasion_within,
    of_flight,
)
from analyzer.squawk.known import Symptom, load_symptoms
from analyzer.squawk.reasons import Reason
from analyzer.squawk.symptom_result import Occurrence, State, SymptomResult

#: Looks for one symptom in one flight.
Look = Callable[[FlightReview], SymptomResult]
LOOKS: dict[str, Look] = {
    "charging_light": charging.charging_light,
    "ammeter_discharge": ammeter.ammeter_discharge,
    "ammeter_high": ammeter.ammeter_high,
    "breaker_opened": charging.breaker_opened,
    "slow_crank": starting.slow_crank,
    "dead_battery": starting.dead_battery,
    "noise_or_pulsing": voltage.noise_or_pulsing,
    "voltage_high": voltage.voltage_high,
    "battery_heat": ammeter.battery_heat,
    "gauge_jumps": gauges.gauge_jumps,
}


@dataclass(frozen=True, slots=True)
class SquawkFlight:
    """Which flight: by its number among the kept ones, or by its log."""

    id: int | None
    source: str
    number: int
    start: datetime | None


@dataclass(frozen=True, slots=True)
class Occasion:
    """One time at which a symptom was seen, with how it was then. Times are seconds from the log's first row."""

    flight: SquawkFlight
    from_s: float
    to_s: float
    at: datetime | None
    says: str
    numbers: Mapping[str, Quantity]
    circumstances: Circumstances
    within: Mapping[SymptomCondition, float] = field(default_factory=dict)  # part of its time that lies in each [1]
    late_start: bool = False  # the alternator had not come on yet after the start

    @property
    def lasted_s(self) -> float:
        """How long it lasted [s]."""
        return self.to_s - self.from_s


@dataclass(frozen=True, slots=True)
class FlightSymptom:
    """One symptom in one flight."""

    state: State
    says: str  # the numbers that say so; nothing where it could not show
    reason: Reason | None  # why it could not
    numbers: Mapping[str, Quantity]
    occasions: tuple[Occasion, ...]
    exposure: Mapping[SymptomCondition, tuple[float, float]]  # seconds in a condition and in all, watched
    watched_h: float
    likely: tuple[Cause, ...]
    check: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExaminedFlight:
    """One flight, looked through."""

    ref: SquawkFlight
    end: datetime | None
    hours: float
    nominal_voltage: int | None
    ammeter: str  # its kind, by this flight
    band: tuple[float, float]  # of the regulated voltage, the aircraft's own where it is known [V]
    own_band: bool  # whether the fleet file tells it
    conditions: Mapping[SymptomCondition, bool]  # of the whole flight
    low_rpm_below: float | None
    findings: tuple[Finding, ...]
    symptoms: Mapping[str, FlightSymptom]

    @property
    def start(self) -> datetime | None:
        """When it begins, None without a clock."""
        return self.ref.start


def examine(ref: SquawkFlight, review: FlightReview, symptoms: Sequence[str]) -> ExaminedFlight:
    """Look through one flight.

    Parameters
    ----------
    ref : which flight it is
    review : the flight, measured and judged
    symptoms : names of ``SYMPTOMS``
    """
    flight = review.flight
    known = load_symptoms()
    running_s = max(0.0, flight.stop_s - float(flight.trace.time[flight.run.start]))
    return ExaminedFlight(
        ref=ref,
        end=clock_at(flight.clock_start, flight.to_s),
        hours=running_s / 3600.0,
        nominal_voltage=flight.nominal_voltage,
        ammeter=flight.ammeter.kind,
        band=(flight.limits["regulated_low"], flight.limits["regulated_high"]),
        own_band=flight.aircraft.regulated_voltage is not None,
        conditions=of_flight(flight),
        low_rpm_below=low_rpm_below(flight),
        findings=tuple(review.findings),
        symptoms={name: _symptom(ref, review, known[name], LOOKS[name](review)) for name in symptoms},
    )


def reference_of(review: FlightReview, source: str, number: int) -> SquawkFlight:
    """Which flight of a log a review is of, for one that is not kept."""
    flight = review.flight
    return SquawkFlight(None, source, number, clock_at(flight.clock_start, flight.from_s))


def _symptom(ref: SquawkFlight, review: FlightReview, symptom: Symptom, found: SymptomResult) -> FlightSymptom:
    flight = review.flight
    conditions = masks(flight)
    occasions = tuple(_occasion(ref, flight, conditions, one) for one in found.occasions)
    likely, check = _causes(review, symptom, occasions) if found.state == State.SEEN else ((), ())
    watched = found.watched
    hours = 0.0 if watched is None else float(flight.trace.seconds[watched].sum()) / 3600.0
    return FlightSymptom(
        found.state,
        found.says,
        found.reason,
        found.numbers,
        occasions,
        exposure(flight, conditions, watched),
        hours,
        likely,
        check,
    )


def _occasion(
    ref: SquawkFlight, flight: Flight, conditions: Mapping[SymptomCondition, Mask], found: Occurrence
) -> Occasion:
    trace = flight.trace
    from_s, to_s = float(trace.time[found.first]), float(trace.time[max(found.first, found.end - 1)])
    return Occasion(
        ref,
        from_s,
        to_s,
        clock_at(flight.clock_start, from_s),
        found.says,
        found.numbers,
        circumstances_at(flight, found),
        occasion_within(flight, conditions, found),
        any(one.kind == LATE_START and one.first < found.end and found.first < one.end for one in flight.outages),
    )


def _causes(
    review: FlightReview, symptom: Symptom, occasions: tuple[Occasion, ...]
) -> tuple[tuple[Cause, ...], tuple[str, ...]]:
    """Causes of the flight's findings that are about the symptom; without any, those of the symptom itself."""
    about = [finding for finding in review.findings if finding.name in symptom.findings and finding.likely]
    if about and not symptom.own_causes:
        share = 1.0 / len(about)
        likely = [replace(one, weight=share * one.weight) for finding in about for one in finding.likely]
        return tuple(likely), tuple(check for finding in about for check in finding.check)
    signs = flight_signs(review.flight, review.measures, list(review.findings))
    for finding in about:
        signs |= finding.signs
    at_low_rpm = [one.within[SymptomCondition.LOW_RPM] for one in occasions if SymptomCondition.LOW_RPM in one.within]
    if at_low_rpm:
        signs["only_at_low_rpm"] = min(at_low_rpm) > 0.5
    return weigh_causes(symptom.causes_of, signs)
