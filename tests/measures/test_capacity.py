"""What a stretch on battery alone shows of its capacity: at least, or a value once it was run down; never more."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from analyzer.aircraft import Aircraft, Battery
from analyzer.measures.battery_life import BatteryKnown, CapacityTest, RunDown, Share
from analyzer.measures.capacity import CapacityShown, at_least, capacity_shown, run_down_capacity
from analyzer.measures.planning import preset, shown_words
from analyzer.phrases import day
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen
from tests.benchmarks.capacity import drawn, scenario_of

TODAY = datetime(2026, 6, 1)


def shown_by(review: FlightReview) -> CapacityShown | None:
    return capacity_shown(review.flight, review.measures["resting_charge"])


def without_alternator(
    seed: int,
    capacity: float,
    health: float = 1.0,
    battery: Battery | None = None,
    kind: str = "battery",
    listed: bool = True,
    charge: float | None = None,
    voltmeter: float = 0.0,
) -> FlightReview:
    """A flight whose alternator is lost in cruise and stays away; ``listed``: the fleet file has the capacity."""
    scenario = healthy(seed, 14, kind)
    scenario = replace(scenario, battery=replace(scenario.battery, capacity_ah=capacity, health=health))
    if charge is not None:
        scenario = replace(scenario, battery=replace(scenario.battery, charge=charge))
    scenario = replace(
        scenario, voltmeter=replace(scenario.voltmeter, offset_v=scenario.voltmeter.offset_v + voltmeter)
    )
    flown = simulate(scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 300.0)))
    (review,) = review_log(
        as_log(flown), Aircraft(battery_capacity=capacity if listed else None, battery=battery)
    ).flights
    return review


def test_a_battery_that_was_not_run_down_has_at_least_what_it_gave() -> None:
    review = without_alternator(1, 34.0)
    shown = shown_by(review)
    assert shown.capacity is None
    drawn = review.measures["offline_discharge"]  # whose low end leaves out what was drawn at idle
    assert 0.0 < (drawn.low or 0.0) < shown.given < (drawn.value or 0.0) < 34.0
    words = shown_words(shown, 34.0, assumed=False)
    assert "at least 5.8 Ah at the one-hour rate, 17 % of 34 Ah" in words
    assert "not run down" in words
    assert preset(review.flight, review.measures, BatteryKnown(), TODAY).condition.high == 1.0


def test_a_battery_that_was_run_down_lies_in_its_interval(pytestconfig: pytest.Config) -> None:
    held, drawn_flights = [], 60 if pytestconfig.getoption("--long") else 30
    for seed in range(drawn_flights):
        rng = np.random.default_rng([seed, 9])
        capacity, health = 8.0 / float(rng.uniform(0.4, 1.0)), float(rng.uniform(0.5, 1.0))
        shown = shown_by(without_alternator(100 + seed, capacity, health))
        if shown is None or shown.capacity is None:
            continue
        held.append(shown.capacity.low <= capacity * health <= shown.capacity.high)
        assert shown.capacity.low <= shown.capacity.value <= shown.capacity.high
    assert len(held) >= drawn_flights // 5
    assert np.mean(held) >= 0.95


def test_two_hours_at_four_amperes_by_hand() -> None:
    """Peukert, t = (C / I)^k: C = I t^(1/k) is 6.82, 7.31 and 7.74 Ah for k = 1.3, 1.15 and 1.05."""
    found = run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 10.0, 0.8, 5.0)
    assert found.low == pytest.approx(6.82, abs=0.02)
    assert found.value == pytest.approx(7.31 / 0.9 / 0.925, abs=0.03)  # begun between 80 and 100 %, up to 15 % kept
    assert found.high == pytest.approx(7.74 / 0.8 / 0.85 * 1.1947, abs=0.05)  # by IEEE 485 19 % more at 10 degC
    cold = run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 0.0, 0.8, 5.0)
    assert cold.high == pytest.approx(1.405 / 1.1947 * found.high, rel=0.01)  # 40 % more is needed at 0 degC
    assert (cold.low, cold.value) == pytest.approx((found.low, found.value), rel=0.01)


def test_a_worn_battery_is_tested_at_the_rated_current() -> None:
    """4 A are a fifth of 20 A: by Peukert a test at 20 A has 0.2^0.3 to 0.2^0.05 of what they drew."""
    found = run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 10.0, 0.8, 20.0)
    assert found.low == pytest.approx(8.0 * 0.2**0.3, rel=1e-3)
    assert found.value == pytest.approx(8.0 * 0.2**0.15 / 0.9 / 0.925, rel=1e-3)
    assert found.high == run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 10.0, 0.8, 5.0).high


def test_what_was_given_slowly_or_warm_is_less_at_the_one_hour_rate() -> None:
    assert at_least(8.0, 0.5, 10.0) == pytest.approx(8.0, rel=1e-3)  # faster than that rate: at least what it gave
    assert at_least(8.0, 2.0, 10.0) == pytest.approx(6.82, abs=0.02)
    assert at_least(8.0, 0.5, 25.0) == pytest.approx(0.898 * 8.0, rel=0.002)


def test_heat_gives_what_is_no_capacity() -> None:
    """At 25 degC outside a battery beside the engine is up to 40 degC warm, which by IEEE 485 gives 1 / 0.898."""
    mild, hot = (run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, air, 0.8, 5.0) for air in (10.0, 25.0))
    assert hot.low == pytest.approx(0.898 * mild.low, rel=0.002)
    assert hot.value == mild.value


def test_a_battery_that_was_low_before_may_hold_more_and_is_not_said_to() -> None:
    full, half = (run_down_capacity(Share(8.0, 8.0, 8.0), 2.0, 10.0, begun, 5.0) for begun in (0.8, 0.4))
    assert half.high == pytest.approx(2.0 * full.high)
    assert (half.low, half.value) == (full.low, full.value)


def test_the_rest_before_the_start_tells_how_full_it_was() -> None:
    """Of a battery at half charge twice as much may be hidden."""
    low, sound = (without_alternator(3, 18.0, 0.5, charge=charge) for charge in (0.6, 0.98))
    widths = [shown.high / shown.low for shown in (shown_by(one).capacity for one in (low, sound))]
    assert widths[0] > 1.3 * widths[1]
    assert shown_by(low).capacity.low <= 9.0 <= shown_by(low).capacity.high


def test_a_rest_that_leaves_all_open_still_turned_the_engine() -> None:
    """The voltmeter shows 0.6 V too little: by its rest the battery may be empty, and it started."""
    review = without_alternator(3, 18.0, 0.5, voltmeter=-0.6)
    assert review.measures["resting_charge"].low == 0.0
    sound = shown_by(without_alternator(3, 18.0, 0.5)).capacity
    assert shown_by(review).capacity.high <= 0.8 / 0.25 * 1.02 * sound.high


def test_over_wide_ranges_it_lies_in_its_interval_and_at_least_is_at_least() -> None:
    """Low batteries, any exponent, hot and cold, ammeters off in scale, silent recorders."""
    metered = [seed for seed in range(7000, 7030) if any(m.kind == "battery" for m in scenario_of(seed).ammeters)]
    told = [(one, one.said) for one in map(drawn, metered[:9]) if one.said is not None]
    ran = [(one, said.capacity) for one, said in told if said.capacity is not None]
    assert len(ran) >= 4
    assert all(cap.low <= one.capacity for one, cap in ran)
    # One cold battery is pulled below the knee by its resistance, hardly drained, and holds more than it is said to.
    assert sum(one.capacity > cap.high for one, cap in ran) <= 1
    assert all(said.given <= min(one.given, one.capacity) for one, said in told if said.capacity is None)


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
    assert shown_by(without_alternator(3, 18.0, 0.5, kind="alternator")) is None
    sound = simulate(healthy(3, 14, "battery"))
    (review,) = review_log(as_log(sound), Aircraft(battery_capacity=34.0)).flights
    assert shown_by(review) is None
    lithium = shown_by(without_alternator(3, 18.0, 0.5, Battery.LITHIUM))
    assert lithium.capacity is None


@pytest.mark.parametrize(
    ("low", "high", "stands"), [(8.0, 15.0, "below"), (17.0, 24.0, "above"), (12.0, 20.0, "on either side of")]
)
def test_it_is_set_against_the_usual_end_of_service(low: float, high: float, stands: str) -> None:
    """80 % of 20 Ah is 16 Ah."""
    words = shown_words(CapacityShown(50.0, 7.9, Share(low, low, high)), 20.0, assumed=False)
    assert f"{5.0 * low:.0f} to {5.0 * high:.0f} % of 20 Ah: {stands} the 80 %" in words


def test_an_assumed_capacity_tells_no_wear() -> None:
    """A sound battery of 10 Ah is 40 % of 25 Ah that are assumed."""
    words = shown_words(CapacityShown(50.0, 7.9, Share(9.0, 8.0, 10.0)), 25.0, assumed=True)
    assert "32 to 40 % of the assumed 25 Ah; how worn that makes it is not known" in words
    assert "replaced" not in words
    assert "20 % of the assumed 40 Ah" in shown_words(CapacityShown(50.0, 8.0, None), 40.0, assumed=True)


@pytest.mark.parametrize(("listed", "said"), [(False, "of the assumed"), (True, "usually replaced")])
def test_a_plan_knows_whether_the_capacity_is_assumed(listed: bool, said: str) -> None:
    review = without_alternator(3, 18.0, 0.5, listed=listed)
    told = preset(review.flight, review.measures, BatteryKnown(), TODAY)
    assert told.capacity_assumed is not listed
    assert said in told.basis["capacity_shown"]


@pytest.mark.parametrize(
    ("known", "said"),
    [
        (BatteryKnown(), "A {} showed less: {} until a capacity test says otherwise."),
        (BatteryKnown(worn=True), "The battery shows wear and a {} showed less: {} until"),
        (
            BatteryKnown(tested=CapacityTest(datetime(2026, 3, 2), 95.0)),
            "95 % of rated. A {} showed less: {} today.",
        ),
        (
            BatteryKnown(tested=CapacityTest(datetime(2025, 3, 2), 95.0)),
            "months. A {} showed less: {} until it is tested again.",
        ),
    ],
    ids=["untested", "worn", "tested", "tested long ago"],
)
def test_what_was_shown_is_named_as_the_reason(known: BatteryKnown, said: str) -> None:
    review = without_alternator(3, 28.0, 0.25)
    told = preset(review.flight, review.measures, known, TODAY)
    low, high = 100.0 * told.condition.low, 100.0 * told.condition.high
    stretch = f"stretch on battery alone in the flight of {day(review.flight.start)}"
    assert said.format(stretch, f"{low:.0f} to {high:.0f} % of rated capacity is assumed") in told.basis["condition"]


def test_what_was_shown_is_no_reason_where_the_records_know_as_little() -> None:
    """9 Ah shown of 18 are no worse than the 30 to 80 % of a battery that shows wear."""
    review = without_alternator(3, 18.0, 0.5)
    told = preset(review.flight, review.measures, BatteryKnown(worn=True), TODAY)
    assert told.basis["condition"].startswith("The battery shows wear: 30 to 80 % of rated capacity is assumed")


def test_a_later_test_supersedes_what_a_flight_showed_and_what_was_shown_since_counts_against_it() -> None:
    review = without_alternator(3, 28.0, 0.25)
    flown = review.flight.start
    assert flown is not None
    for days, counts in ((1, False), (0, True), (-1, True)):
        when = flown + timedelta(days=days)
        known = BatteryKnown(tested=CapacityTest(when, 95.0), since=when)
        told = preset(review.flight, review.measures, known, when + timedelta(days=30))
        superseded = "The battery was tested since; that counts instead." in told.basis["capacity_shown"]
        assert superseded is not counts, days
        assert (told.condition.low < 0.5) is counts, days
        assert ("showed less" in told.basis["condition"]) is counts, days
    fitted = BatteryKnown(since=flown + timedelta(days=1))
    told = preset(review.flight, review.measures, fitted, TODAY)
    assert told.condition.low == 0.5
    assert "replaced since" in told.basis["capacity_shown"]


def test_a_plan_from_any_flight_rests_on_the_least_that_one_since_has_shown() -> None:
    sound = simulate(healthy(3, 14, "battery"))
    (review,) = review_log(as_log(sound), Aircraft(battery_capacity=20.0)).flights
    ran = (RunDown(datetime(2026, 5, 3), Share(9.0, 7.0, 11.0)), RunDown(None, Share(8.0, 7.5, 12.0)))
    told = preset(review.flight, review.measures, BatteryKnown(run_down=ran), TODAY)
    assert told.condition == Share(0.4, 0.35, 0.55)
    assert "alone in the flight of 2026-05-03 showed less: 35 to 55 %" in told.basis["condition"]
    more = (RunDown(datetime(2026, 5, 3), Share(30.0, 25.0, 40.0)),)
    untold = preset(review.flight, review.measures, BatteryKnown(), TODAY).condition
    assert preset(review.flight, review.measures, BatteryKnown(run_down=more), TODAY).condition == untold
