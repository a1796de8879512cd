"""A log of many flights is reviewed with the readings of one of them at hand, not of all."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable
from dataclasses import replace

import polars as pl
import pytest

from analyzer import review as reviewing
from analyzer.aircraft import UNKNOWN_AIRCRAFT
from analyzer.flights.flight import Flight
from analyzer.logs.log import Log
from analyzer.review import FlightReview, review_each
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy

FLIGHTS = 4


@pytest.fixture(scope="module")
def log() -> Log:
    one = as_log(simulate(healthy(seed=3)))
    later = one.table["time_s"].max() + 900.0  # type: ignore[operator]
    parts = [one.table.with_columns(pl.col("time_s") + number * later) for number in range(FLIGHTS)]
    return replace(one, table=pl.concat(parts))


@pytest.mark.parametrize(
    ("made", "most"), [(lambda review: len(review.findings), 2), (lambda review: review, FLIGHTS)], ids=["few", "all"]
)
def test_a_flight_goes_before_the_one_after_the_next(
    log: Log, made: Callable[[FlightReview], object], most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[weakref.ref[Flight]] = []
    held: list[int] = []
    review_flight = reviewing.review_flight

    def watched(flight: Flight) -> FlightReview:
        gc.collect()
        seen.append(weakref.ref(flight))
        held.append(sum(one() is not None for one in seen))
        return review_flight(flight)

    monkeypatch.setattr(reviewing, "review_flight", watched)
    reviewed, _ = review_each(log, UNKNOWN_AIRCRAFT, made)
    assert len(reviewed) == len(seen) == FLIGHTS
    assert max(held) == most
