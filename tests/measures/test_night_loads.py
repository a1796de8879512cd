"""Every plan has its night case; where the load may hold night lights already, a sentence says so and no more."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from msgspec import structs

from analyzer.aircraft import Aircraft
from analyzer.loads import night_loads
from analyzer.measures.alternator_quit import alternator_quits
from analyzer.measures.battery_life import UNKNOWN_BATTERY
from analyzer.measures.planning import basis_with, plan, preset
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
    return structs.replace(review, flight=structs.replace(flight, clock_start=start))


@pytest.mark.parametrize(
    ("clock", "dark"),
    [("12:00", False), ("17:59", False), ("18:01", True), ("23:30", True), ("05:59", True), ("06:01", False)],
)
def test_the_log_s_clock_says_what_the_load_may_hold_and_leaves_no_case_out(
    by_alternator_ammeter: FlightReview, clock: str, dark: bool
) -> None:
    review = middle_at(by_alternator_ammeter, datetime.fromisoformat(f"2026-09-12T{clock}"))
    given = preset(review.flight, review.measures, UNKNOWN_BATTERY, TODAY)
    assert list(given.night) == night_loads(14)
    assert ("the night case counts them twice" in given.basis.get("night", "")) is dark
    assert given.load is not None
    flown, night = plan(given, given.night)
    usual = sum(one.amps for one in given.loads if one.night)
    assert night.load == pytest.approx(flown.load + usual)
    said = alternator_quits(review.flight, review.measures, UNKNOWN_BATTERY, TODAY, review.flight.to_s / 2.0)
    assert [one.words for one in said.cases] == ["At this load", "Night loads added"]
    assert any("counts them twice" in one for one in said.basis) is dark
    chosen = alternator_quits(
        review.flight, review.measures, UNKNOWN_BATTERY, TODAY, review.flight.to_s / 2.0, ["strobes"]
    )
    assert not any("counts them twice" in one for one in chosen.basis), "a person says what is added"


def test_a_load_that_no_clock_or_no_ammeter_tells_is_not_said_to_hold_night_lights(
    by_alternator_ammeter: FlightReview,
) -> None:
    without_clock = middle_at(by_alternator_ammeter, None)
    given = preset(without_clock.flight, without_clock.measures, UNKNOWN_BATTERY, TODAY)
    assert list(given.night) == night_loads(14)
    assert "night" not in given.basis
    assumed = middle_at(flown("battery"), datetime(2026, 9, 12, 22, 0))
    given = preset(assumed.flight, assumed.measures, UNKNOWN_BATTERY, TODAY)
    assert given.load == 7.0, "the essential load of the settings, which holds no light"
    assert list(given.night) == night_loads(14)
    assert "night" not in given.basis


def test_what_a_person_gives_is_told_of_no_flight() -> None:
    basis = {"load": "Load: steady.", "charge": "At rest.", "night": "Flown late."}
    assert basis_with(basis, {}, night_given=False) == basis
    assert basis_with(basis, {}, night_given=True) == {"load": "Load: steady.", "charge": "At rest."}
    assert basis_with(basis, {"charge": 80.0, "temperature": -5.5}, night_given=False) == {
        "load": "Load: steady.",
        "night": "Flown late.",
        "given": "As given: charge 80 %, temperature -5.5 °C.",
    }
    assert basis_with(basis, {"load": 12.0}, night_given=False) == {
        "charge": "At rest.",
        "given": "As given: load 12 A.",
    }
