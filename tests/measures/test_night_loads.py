"""Loads for the night are added to a load that was seen by day, and never to one that may hold them already."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from analyzer.aircraft import Aircraft
from analyzer.loads import night_loads
from analyzer.measures.battery_life import UNKNOWN_BATTERY
from analyzer.measures.planning import night_added, preset
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy

TODAY = datetime(2026, 11, 1)


def flown(ammeter: str) -> FlightReview:
    scenario = healthy(812, 14, ammeter)  # type: ignore[arg-type]
    (review,) = review_log(as_log(simulate(scenario)), Aircraft(battery_capacity=34.0, essential_load=7.0)).flights
    return review


@pytest.fixture(scope="module")
def by_alternator_ammeter() -> FlightReview:
    return flown("alternator")


def middle_at(review: FlightReview, moment: datetime | None) -> FlightReview:
    """The same flight, its middle at a moment of the log's clock."""
    flight = review.flight
    half = (flight.to_s - flight.from_s) / 2.0
    start = None if moment is None else moment - timedelta(seconds=flight.from_s + half)
    return replace(review, flight=replace(flight, clock_start=start))


@pytest.mark.parametrize(
    ("clock", "dark"),
    [("12:00", False), ("17:59", False), ("18:01", True), ("23:30", True), ("05:59", True), ("06:01", False)],
)
def test_the_log_s_clock_tells_whether_the_load_may_hold_night_lights(
    by_alternator_ammeter: FlightReview, clock: str, dark: bool
) -> None:
    review = middle_at(by_alternator_ammeter, datetime.fromisoformat(f"2026-09-12T{clock}"))
    given = preset(review.flight, review.measures, UNKNOWN_BATTERY, TODAY)
    assert list(given.night) == ([] if dark else night_loads(14))
    assert ("by the log's clock" in given.basis.get("night", "")) is dark


def test_a_load_that_no_clock_or_no_ammeter_tells_gets_night_loads(by_alternator_ammeter: FlightReview) -> None:
    without_clock = middle_at(by_alternator_ammeter, None)
    assert night_added(without_clock.flight, without_clock.measures)
    assumed = middle_at(flown("battery"), datetime(2026, 9, 12, 22, 0))
    given = preset(assumed.flight, assumed.measures, UNKNOWN_BATTERY, TODAY)
    assert given.load == 7.0, "the essential load of the settings, which holds no light"
    assert list(given.night) == night_loads(14)
