"""The main job: one log through every stage. Each line of ``review_log`` is one stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import MAXYEAR
from typing import TYPE_CHECKING, Any

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft
from analyzer.findings.causes import explain
from analyzer.findings.finding import Cause, Finding
from analyzer.findings.rules import apply_rules
from analyzer.flights.ammeter import overturned
from analyzer.flights.cut import cut_flights
from analyzer.flights.flight import Flight
from analyzer.measures.flight_measures import measure_flight
from analyzer.measures.measure import Measure
from analyzer.quantity import Quantity

if TYPE_CHECKING:
    from analyzer.logs.log import Log, Refusal


@dataclass(frozen=True, slots=True)
class FlightReview:
    """A flight with its measures and findings, the most severe finding first."""

    flight: Flight
    measures: Mapping[str, Measure]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class LogReview:
    """Everything that one log says."""

    log: Log
    flights: tuple[FlightReview, ...]
    warnings: tuple[str, ...]  # of reading, and of what was taken out or found odd since


def review_log(
    log: Log, aircraft: Aircraft = UNKNOWN_AIRCRAFT, ammeter_by_all: tuple[str, str] | None = None
) -> LogReview:
    """Cut a log into flights, measure each, judge each.

    ``ammeter_by_all`` is the ammeter's kind, with words, that all known flights of the aircraft together tell; without
    it those of this log decide. A flight that says otherwise by itself is judged as the others.
    """
    flights = cut_flights(log, aircraft)
    seen = [(flight.ammeter.kind, flight.ammeter.log_odds) for flight in flights]
    if aircraft.ammeter is None and (told := overturned(seen, ammeter_by_all)):
        flights = cut_flights(log, aircraft.with_ammeter(*told))
    reviews = tuple(review_flight(flight) for flight in flights)
    return LogReview(log, reviews, (*log.warnings, *_warnings(log, reviews)))


def review_flight(flight: Flight) -> FlightReview:
    """Measure and judge one flight."""
    measures = measure_flight(flight)
    findings = explain(flight, measures, apply_rules(flight, measures))
    return FlightReview(flight, measures, tuple(findings))


def _warnings(log: Log, reviews: tuple[FlightReview, ...]) -> list[str]:
    """What was done to the readings that a person should know."""
    if not reviews:
        return ["no engine run was found in this log, so there is no flight to judge"]
    said = []
    if reviews[0].flight.clock_start is None and log.clock.start is not None:
        said.append(
            f"the clock begins at {log.clock.start} and runs beyond the year {MAXYEAR}, so no flight of this log has a "
            "date; set the recorder's clock"
        )
    for number, review in enumerate(reviews, 1):
        ammeter = review.flight.ammeter
        if ammeter.zero_error:
            said.append(
                f"flight {number}: the alternator ammeter shows {ammeter.zero_error:.1f} A with the engine stopped; "
                "this zero error was taken out"
            )
    return said


def log_document(review: LogReview) -> dict[str, Any]:
    """One entry of the result's ``logs``, by the contract."""
    return {
        "source": review.log.source,
        "state": "read",
        "because": None,
        "tail": review.log.tail,
        "warnings": list(review.warnings),
        "flights": [flight_document(flight) for flight in review.flights],
    }


def refusal_document(refusal: Refusal) -> dict[str, Any]:
    """The entry of a log that could not be read."""
    return {
        "source": refusal.source,
        "state": "refused",
        "because": refusal.because,
        "tail": None,
        "warnings": [],
        "flights": [],
    }


def flight_document(review: FlightReview) -> dict[str, Any]:
    """One flight, by the contract."""
    flight = review.flight
    return {
        "start": flight.clock(flight.from_s),
        "end": flight.clock(flight.to_s),
        "from_s": flight.from_s,
        "to_s": flight.to_s,
        "rows": flight.rows,
        "start_recorded": not flight.begins_running,
        "sample_period_s": round(flight.trace.step_s, 4),
        "nominal_voltage": flight.nominal_voltage,
        "ammeter": flight.ammeter.kind,
        "ammeter_basis": flight.ammeter.basis,
        "ammeter_log_odds": None if flight.ammeter.log_odds is None else round(flight.ammeter.log_odds, 3),
        "phases": [{"phase": p.name, "from_s": p.from_s, "to_s": p.to_s} for p in flight.phases],
        "measures": {name: measure_document(measure) for name, measure in review.measures.items()},
        "findings": [finding_document(flight, finding) for finding in review.findings],
    }


def measure_document(measure: Measure) -> dict[str, Any]:
    """One measure in one of its two states."""
    if measure.value is None or measure.low is None or measure.high is None:
        missing = {"value": None, "unit": measure.unit, "state": "not_measurable", "because": measure.because}
        bounds = {"at_least": measure.at_least, "at_most": measure.at_most}
        return missing | {name: round(bound, 4) for name, bound in bounds.items() if bound is not None}
    document: dict[str, Any] = {
        "value": round(measure.value, 4),
        "unit": measure.unit,
        "low": round(measure.low, 4),
        "high": round(measure.high, 4),
        "state": "measured",
    }
    return document | ({"note": measure.note} if measure.note else {})


def quantity_document(quantity: Quantity) -> dict[str, Any]:
    """One number behind a finding with its unit; its interval, and that it was assumed, only where it is so."""
    document: dict[str, Any] = {"value": quantity.value, "unit": quantity.unit}
    if quantity.low is not None and quantity.high is not None:
        document |= {"low": quantity.low, "high": quantity.high}
    return document | ({"assumed": True} if quantity.assumed else {})


def cause_document(cause: Cause) -> dict[str, Any]:
    """One likely cause with the words that explain its weight, and its own checks."""
    return {
        "cause": cause.words,
        "key": cause.key,
        "weight": round(cause.weight, 3),
        "why": list(cause.why),
        "check": list(cause.check),
    }


def finding_document(flight: Flight, finding: Finding) -> dict[str, Any]:
    """One finding with its causes and checks."""
    return {
        "finding": finding.name,
        "severity": finding.severity,
        "from_s": finding.from_s,
        "to_s": finding.to_s,
        "start": flight.clock(finding.from_s),
        "end": flight.clock(finding.to_s),
        "evidence": {name: quantity.value for name, quantity in finding.evidence.items()},
        "quantities": {name: quantity_document(quantity) for name, quantity in finding.evidence.items()},
        "says": finding.says,
        "likely": [cause_document(cause) for cause in finding.likely],
        "check": list(finding.check),
    }
