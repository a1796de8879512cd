"""The main job: one log through every stage. Each line of ``review_log`` is one stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import MAXYEAR
from typing import TYPE_CHECKING

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft
from analyzer.callable_module import make_callable
from analyzer.findings.battery_state import shows_wear
from analyzer.findings.causes import explain
from analyzer.findings.finding import Finding
from analyzer.findings.rules import apply_rules
from analyzer.flights.ammeter import overturned
from analyzer.flights.cut import cut_flights
from analyzer.flights.flight import Flight
from analyzer.measures.flight_measures import endurance_worn, measure_flight
from analyzer.measures.measure import Measure

if TYPE_CHECKING:
    from analyzer.logs.log import Log

make_callable(__name__)


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
    if shows_wear([(cause.key, cause.weight) for cause in finding.likely] for finding in findings):
        measures |= {"endurance": endurance_worn(flight, measures)}
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
            which = f"flight {number}: " if len(reviews) > 1 else ""
            said.append(
                f"{which}the alternator ammeter shows {ammeter.zero_error:.1f} A with the engine stopped; "
                "this zero error was taken out"
            )
    return said
