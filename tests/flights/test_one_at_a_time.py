"""A log of many flights is reviewed with the readings of one of them at hand, not of all."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable

import polars as pl
import pytest
from msgspec.structs import replace

from analyzer import review as reviewing
from analyzer.aircraft import UNKNOWN_AIRCRAFT
from analyzer.flights.flight import Flight
from analyzer.logs.log import Log
from analyzer.logs.readings import Readings
from analyzer.review import FlightReview, review_each
from analyzer.series import Floats
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy

FLIGHTS = 4


@pytest.fixture(scope="module")
def log() -> Log:
    one = as_log(simulate(healthy(seed=3)))
    later = one.table["time_s"].max() + 900.0  # type: ignore[operator]
    parts = [one.table.with_columns(pl.col("time_s") + number * later) for number in range(FLIGHTS)]
    return replace(one, readings=Readings.of(pl.concat(parts)))


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many flights are at hand as the review of each begins."""
    seen: list[weakref.ref[Floats]] = []
    counted: list[int] = []
    review_flight = reviewing.review_flight

    def watched(flight: Flight) -> FlightReview:
        gc.collect()
        seen.append(weakref.ref(flight.trace.time))
        counted.append(sum(one() is not None for one in seen))
        return review_flight(flight)

    monkeypatch.setattr(reviewing, "review_flight", watched)
    return counted


@pytest.mark.parametrize(
    ("made", "at_hand"),
    [(lambda review: len(review.findings), [1, 1, 1, 1]), (lambda review: review, [1, 2, 3, 4])],
    ids=["few", "all"],
)
def test_a_flight_goes_before_the_next_is_reviewed(
    log: Log, made: Callable[[FlightReview], object], at_hand: list[int], held: list[int]
) -> None:
    reviewed, _ = review_each(log, UNKNOWN_AIRCRAFT, made)
    assert len(reviewed) == FLIGHTS
    assert held == at_hand


def test_the_first_review_goes_before_the_second_where_the_ammeter_is_another_kind(
    log: Log, held: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reviewing, "overturned", lambda *_: ("battery", "all flights together tell it"))
    reviewed, _ = review_each(log, UNKNOWN_AIRCRAFT, lambda review: review)
    assert len(reviewed) == FLIGHTS
    assert held == [1, 2, 3, 4, 1, 2, 3, 4]
