"""The main job: one log through every stage. Each line of ``review_log`` is one stage."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import MAXYEAR, datetime
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft
from analyzer.callable_module import make_callable
from analyzer.findings.battery_state import shows_wear
from analyzer.findings.causes import explain
from analyzer.findings.finding import Finding
from analyzer.findings.rules import apply_rules
from analyzer.flights.ammeter import Ammeter, overturned
from analyzer.flights.cut import each_flight
from analyzer.flights.flight import Flight
from analyzer.measures.flight_measures import endurance_worn, measure_flight
from analyzer.measures.measure import Measure

if TYPE_CHECKING:
    from analyzer.logs.log import Log

make_callable(__name__)
T = TypeVar("T")


class FlightReview(Struct, frozen=True):
    """A flight with its measures and findings, the most severe finding first."""

    flight: Flight
    measures: Mapping[str, Measure]
    findings: tuple[Finding, ...]


class LogReview(Struct, frozen=True):
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
    reviews, warnings = review_each(log, aircraft, lambda review: review, ammeter_by_all)
    return LogReview(log, reviews, warnings)


def review_each(
    log: Log, aircraft: Aircraft, made: Callable[[FlightReview], T], ammeter_by_all: tuple[str, str] | None = None
) -> tuple[tuple[T, ...], tuple[str, ...]]:
    """Review a log's flights one after the other: what is ``made`` of each, and the log's warnings.

    What is worked out of a flight's readings is let go of before the next one, where nothing that is made holds it.
    """
    reviewed = _made_of_each(log, aircraft, made)
    seen = [(told.ammeter.kind, told.ammeter.log_odds) for _, told in reviewed]
    if aircraft.ammeter is None and (by_all := overturned(seen, ammeter_by_all)):
        del reviewed  # and with it what was made of them, before the same flights are reviewed again
        reviewed = _made_of_each(log, aircraft.with_ammeter(*by_all), made)
    warnings = (*log.warnings, *_warnings(log, [told for _, told in reviewed]))
    return tuple(one for one, _ in reviewed), warnings


def _made_of_each(log: Log, aircraft: Aircraft, made: Callable[[FlightReview], T]) -> list[tuple[T, _Told]]:
    """What is made of each flight, and what it tells of its log; no name here holds one while the next is reviewed."""

    def both(review: FlightReview) -> tuple[T, _Told]:
        return made(review), _Told.of(review.flight)

    return list(map(both, map(review_flight, each_flight(log, aircraft))))


class _Told(Struct, frozen=True):
    """What a flight tells of its whole log."""

    ammeter: Ammeter
    clock_start: datetime | None

    @classmethod
    def of(cls, flight: Flight) -> _Told:
        return cls(flight.ammeter, flight.clock_start)


def review_flight(flight: Flight) -> FlightReview:
    """Measure and judge one flight."""
    measures = measure_flight(flight)
    findings = explain(flight, measures, apply_rules(flight, measures))
    if shows_wear([(cause.key, cause.weight) for cause in finding.likely] for finding in findings):
        measures |= {"endurance": endurance_worn(flight, measures)}
    return FlightReview(flight, measures, tuple(findings))


def _warnings(log: Log, flights: Sequence[_Told]) -> list[str]:
    """What was done to the readings that a person should know."""
    if not flights:
        return ["no engine run was found in this log, so there is no flight to judge"]
    said = []
    if flights[0].clock_start is None and log.clock.start is not None:
        said.append(
            f"the clock begins at {log.clock.start} and runs beyond the year {MAXYEAR}, so no flight of this log has a "
            "date; set the recorder's clock"
        )
    for number, flight in enumerate(flights, 1):
        ammeter = flight.ammeter
        if ammeter.zero_error:
            which = f"flight {number}: " if len(flights) > 1 else ""
            said.append(
                f"{which}the alternator ammeter shows {ammeter.zero_error:.1f} A with the engine stopped; "
                "this zero error was taken out"
            )
    return said
