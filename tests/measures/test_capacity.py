"""What a stretch on battery alone shows of its capacity: at least, or a value once it was run down; never more."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from analyzer.aircraft import Aircraft, Battery
from analyzer.measures.battery_life import BatteryKnown, Share
from analyzer.measures.capacity import CapacityShown, capacity_shown, run_down_capacity
from analyzer.measures.planning import preset, shown_words
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen

TODAY = datetime(2026, 6, 1)


def without_alternator(
    seed: int, capacity: float, health: float = 1.0, battery: Battery | None = None, kind: str = "battery"
) -> FlightReview:
    """A flight whose alternator is lost in cruise and stays away."""
    scenario = healthy(seed, 14, kind)
    scenario = replace(scenario, battery=replace(scenario.battery, capacity_ah=capacity, health=health))
    flown = simulate(scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 300.0)))
    (review,) = review_log(as_log(flown), Aircraft(battery_capacity=capacity, battery=battery)).flights
    return review


def test_a_battery_that_was_not_run_down_has_at_least_what_it_gave() -> None:
    review = without_alternator(1, 34.0)
    shown = capacity_shown(review.flight)
    assert shown.capacity is None
    assert shown.given == pytest.approx(review.measures["offline_discharge"].low, rel=0.01)
    assert 0.0 < shown.given < 34.0
    words = shown_words(shown, 34.0)
    assert "at least 5.8 Ah, 17 % of 34 Ah" in words
    assert "not run down" in words
    assert preset(review.flight, review.measures, BatteryKnown(), TODAY).condition.high == 1.0


def test_a_battery_that_was_run_down_lies_in_its_interval() -> None:
    held = []
    for seed in range(60):
        rng = np.random.default_rng([seed, 9])
        capacity, health = 8.0 / float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.5, 1.0))
        shown = capacity_shown(without_alternator(100 + seed, capacity, health).flight)
        if shown is None or shown.capacity is None:
            continue
        held.append(shown.capacity.low <= capacity * health <= shown.capacity.high)
        assert shown.capacity.low <= shown.capacity.value <= shown.capacity.high
    assert len(held) >= 12
    assert np.mean(held) >= 0.95


def test_two_hours_at_four_amperes_by_hand() -> None:
    """Peukert, t = (C / I)^k: C = I t^(1/k) is 6.82, 7.31 and 7.74 Ah for k = 1.3, 1.15 and 1.05."""
    found = run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 25.0)
    assert found.low == pytest.approx(6.82, abs=0.02)
    assert found.value == pytest.approx(7.31 / 0.9 / 0.925, abs=0.03)  # begun between 80 and 100 %, up to 15 % kept
    assert found.high == pytest.approx(7.74 / 0.8 / 0.85, abs=0.05)
    cold = run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 0.0)
    assert cold.high == pytest.approx(1.405 * found.high, rel=0.01)  # IEEE 485: 40 % more is needed at 0 degC
    assert (cold.low, cold.value) == pytest.approx((found.low, found.value), rel=0.01)


def test_what_was_shown_shortens_a_plan_and_never_lengthens_it() -> None:
    review = without_alternator(3, 18.0, 0.5)
    found = preset(review.flight, review.measures, BatteryKnown(), TODAY)
    assert found.shown.capacity.value < 0.8 * 18.0
    assert found.condition.value == pytest.approx(found.shown.capacity.value / 18.0)
    assert found.condition.low == pytest.approx(min(0.5, found.shown.capacity.low / 18.0))
    worn = preset(review.flight, review.measures, BatteryKnown(worn=True), TODAY).condition
    assert worn.value <= 0.5
    assert worn.high <= 0.8


def test_what_does_not_tell_says_nothing() -> None:
    assert capacity_shown(without_alternator(3, 18.0, 0.5, kind="alternator").flight) is None
    sound = simulate(healthy(3, 14, "battery"))
    (review,) = review_log(as_log(sound), Aircraft(battery_capacity=34.0)).flights
    assert capacity_shown(review.flight) is None
    lithium = capacity_shown(without_alternator(3, 18.0, 0.5, Battery.LITHIUM).flight)
    assert lithium.capacity is None


@pytest.mark.parametrize(
    ("low", "high", "stands"), [(8.0, 15.0, "below"), (17.0, 24.0, "above"), (12.0, 20.0, "on either side of")]
)
def test_it_is_set_against_the_usual_end_of_service(low: float, high: float, stands: str) -> None:
    """80 % of 20 Ah is 16 Ah."""
    words = shown_words(CapacityShown(50.0, 7.9, Share(low, low, high)), 20.0)
    assert f"{5.0 * low:.0f} to {5.0 * high:.0f} % of 20 Ah: {stands} the 80 %" in words
