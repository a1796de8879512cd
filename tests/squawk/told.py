"""Squawks looked up in made flights, as results and as the JSON has them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from analyzer.contract import plain
from analyzer.contract_squawk import squawk_entry
from analyzer.reports.cautions import CAUTIONS
from analyzer.results import clock_at
from analyzer.review import FlightReview
from analyzer.simulator.simulate import Scenario
from analyzer.squawk.examine import SquawkFlight
from analyzer.squawk.report import Report, report_of
from analyzer.squawk.result import SquawkResult, look_through, squawk_result
from analyzer.squawk.understanding import understand
from tests.flown import judged

TAIL = "N0033Q"


def symptoms(words: str) -> list[str]:
    """What a report claims, in order of the letters."""
    return sorted(match.symptom for match in understand(words).matches)


def told(result: SquawkResult) -> dict[str, Any]:
    """A result as its JSON has it."""
    document: dict[str, Any] = plain(squawk_entry(result, CAUTIONS))
    return document


def looked_up(report: Report, flights: Iterable[tuple[SquawkFlight, FlightReview]]) -> SquawkResult:
    """A report against some flights."""
    return squawk_result(TAIL, report, look_through(flights, report))


def ref_of(review: FlightReview, number: int, source: str | None = None) -> SquawkFlight:
    """A kept flight by its number."""
    start = clock_at(review.flight.clock_start, review.flight.from_s)
    return SquawkFlight(number, source or f"{number - 1}.csv", 1, start)


def result_of(words: str | None, scenarios: Iterable[Scenario], picked: tuple[str, ...] = ()) -> SquawkResult:
    """A report against flights on days in a row."""
    flights = []
    for number, scenario in enumerate(scenarios):
        begins = datetime(2026, 4, 1, 9, 0) + timedelta(days=number)
        review = judged(replace(scenario, tail=TAIL, begins=begins))
        flights.append((ref_of(review, number + 1), review))
    return looked_up(report_of(words, picked), flights)
