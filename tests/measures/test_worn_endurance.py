"""The endurance of batteries that have lost capacity: what flights show of it shortens it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest

from analyzer.aircraft import Aircraft
from analyzer.findings.battery_state import shows_wear
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import (
    UNKNOWN_BATTERY,
    BatteryKnown,
    CapacityTest,
    Share,
    condition_by_test,
    known_condition,
    worn_condition,
)
from analyzer.measures.charge_now import AT_ITS_LIMIT, charge_after
from analyzer.measures.endurance import battery_temperature
from analyzer.measures.planning import Preset, plan, preset
from analyzer.reports.wording import value_words
from analyzer.review import FlightReview, review_log
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import Worn
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY
from analyzer.simulator.system_faults import FieldOpen
from tests.made import log_from

TODAY = datetime(2026, 6, 1)


def reviewed(scenario: Scenario) -> tuple[FlightReview, float]:
    """A flight of an aircraft whose rated capacity is known, and the minutes that its battery would really last."""
    flown = simulate(scenario)
    aircraft = Aircraft(battery_capacity=scenario.battery.capacity_ah)
    (review,) = review_log(as_log(flown), aircraft).flights
    return review, flown.truth.measures["endurance"].value


@pytest.mark.parametrize(("seed", "health"), [(401, 0.35), (402, 0.35), (403, 0.35), (404, 0.45), (405, 0.35)])
def test_a_battery_whose_flight_shows_its_wear_is_not_said_to_last_longer_than_it_does(
    seed: int, health: float
) -> None:
    sound = healthy(seed, 14, "alternator")
    worn = replace(sound, faults=(Worn(health=health, resistance_factor=1.0 / health),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert "weak_cranking" in {finding.name for finding in review.findings}
    assert endurance.value is not None
    assert endurance.low is not None
    assert "this flight shows wear" in (endurance.note or "")
    assert endurance.low < minutes
    assert endurance.value <= 1.3 * minutes, "never above what the truth's own interval allows"
    before, _ = reviewed(sound)
    assert endurance.value < 0.65 * before.measures["endurance"].value


def test_a_sound_battery_keeps_the_usual_condition() -> None:
    review, minutes = reviewed(healthy(411, 14, "alternator"))
    endurance = review.measures["endurance"]
    assert "wear" not in (endurance.note or "")
    assert endurance.low is not None
    assert endurance.value is not None
    assert endurance.low <= endurance.value <= minutes, "a new battery lasts longer than one in service"


def test_wear_is_told_by_the_share_of_all_causes_that_cost_capacity() -> None:
    assert not shows_wear([])
    assert not shows_wear([[("battery_worn", 0.2), ("battery_cell", 0.15), ("lead_cranking", 0.65)]])
    assert shows_wear([[("battery_worn", 0.25), ("battery_cell", 0.2), ("lead_cranking", 0.55)]])
    assert shows_wear([[("brushes", 1.0)], [("battery_worn", 0.5), ("cold", 0.5)]])


def test_wear_that_no_finding_shows_lies_within_the_interval() -> None:
    worn = replace(healthy(403, 14, "alternator"), faults=(Worn(health=0.55, resistance_factor=1.0 / 0.55),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert not review.findings
    assert endurance.low is not None
    assert endurance.high is not None
    assert endurance.low <= minutes <= endurance.high


def at_the_end(name: str, seed: int, nominal: int, ammeter: str) -> tuple[Preset, float]:
    """What a plan begins with after a flight with a fault, and the charge that its battery really had at its end."""
    scenario = FAULTY[name](seed, nominal, ammeter)
    flown = simulate(scenario)
    load = float(np.median(flown.course.load_a))
    aircraft = Aircraft(battery_capacity=scenario.battery.capacity_ah, essential_load=load)
    (review,) = review_log(as_log(flown), aircraft).flights
    given = preset(review.flight, review.measures, UNKNOWN_BATTERY, TODAY)
    return given, float(flown.course.charge[-1])


@pytest.mark.parametrize("nominal", [14, 28])
@pytest.mark.parametrize("seed", range(710, 713))
@pytest.mark.parametrize(
    ("name", "ammeter"),
    [("alternator_lost", "alternator"), ("alternator_lost", "battery"), ("overloaded", "battery")],
)
def test_after_a_loss_a_plan_begins_with_what_is_left(name: str, seed: int, nominal: int, ammeter: str) -> None:
    given, left = at_the_end(name, seed, nominal, ammeter)
    assert given.charge is not None
    assert given.charge.low <= left, "never overstated"
    assert given.charge.value < 0.9
    assert name == "overloaded" or given.charge.high < 1.0, "what was drawn since the alternator was lost is gone"
    assert "what is left at the flight's end" in given.basis["charge"]


@pytest.mark.parametrize("name", ["overloaded", "output_fading"])
@pytest.mark.parametrize("nominal", [14, 28])
def test_what_an_alternator_at_its_limit_left_to_the_battery_is_not_guessed(name: str, nominal: int) -> None:
    """Behind an alternator ammeter: the load may be larger than before, which is why the output fell short."""
    given, _ = at_the_end(name, 714, nominal, "alternator")
    assert given.charge is None
    assert given.basis["charge"] == f"Charge is not known: {AT_ITS_LIMIT}. Enter it from a test."
    (case,) = plan(given)
    assert case.lasts.because == "the charge is not known"


def test_what_was_drawn_is_taken_off_the_charge_each_end_from_its_own() -> None:
    scenario = FAULTY["alternator_lost"](5, 14, "battery")
    review, _ = reviewed(scenario)
    flight = review.flight
    lost = next(outage for outage in flight.outages if outage.kind == "offline")
    rows, flow = slice(lost.first, lost.end), flight.trace.battery_current
    assert flow is not None
    drawn = -float((flow[rows] * flight.trace.seconds[rows]).sum()) / 3600.0
    assert drawn > 1.0
    condition = Share(0.8, 0.5, 1.0)  # what a worn battery gave is the larger share of what it holds
    left, says = charge_after(flight, review.measures, Share(0.9, 0.85, 1.0), condition)
    capacity = scenario.battery.capacity_ah / max(1.0, temperature_factor(battery_temperature(flight)))
    assert left.value == pytest.approx(0.9 - drawn / (0.8 * capacity), abs=0.03)
    assert left.low < 0.85 - drawn / (0.5 * capacity)
    assert left.high == pytest.approx(1.0 - drawn / capacity, abs=0.03)
    assert left.high > 1.0 - drawn / capacity, "the ammeter may err"
    assert " Ah drawn and not put back" in says


def ledgered(amps: dict[tuple[float, float], float], minutes: float, volts: float = 14.1) -> FlightReview:
    """A flight at cruise rpm, 14 V, whose battery ammeter shows some amperes in some minutes, else 0.3 A of charge."""
    time = np.arange(0.0, 60.0 * minutes, 2.0)
    flow, bus = np.full(time.size, 0.3), np.full(time.size, volts)
    for (first, last), shown in amps.items():
        rows = (time >= 60.0 * first) & (time < 60.0 * last)
        flow[rows] = shown
        bus[rows] = 12.4 if shown < -1.0 else volts
    before = time < 120.0
    flow[before], bus[before] = -1.0, 12.65
    table = pl.DataFrame(
        {
            "time_s": time,
            "bus_voltage": np.round(bus + 0.01 * np.sin(time), 2),
            "battery_current": np.round(flow + 0.1 * np.sin(7.0 * time), 1),
            "engine_speed": np.where(before, 0.0, 2350.0),
        }
    )
    (review,) = review_log(log_from(table), Aircraft(battery_capacity=24.0, ammeter="battery")).flights
    return review


@pytest.mark.parametrize(
    ("amps", "missing"),
    [
        ({(60.0, 100.0): -15.0, (100.0, 142.0): 4.0}, 10.0 - 2.8),  # back for 42 min, and far from charged
        ({(60.0, 100.0): -15.0, (100.0, 185.0): 8.0}, None),  # all back
        ({(2.0, 185.0): -0.3}, None),  # 0.9 Ah that an ammeter's error at zero may make
        ({(160.0, 185.0): -12.0}, 5.0),  # at the end
    ],
)
def test_behind_a_battery_ammeter_its_ledger_tells_what_is_missing(
    amps: dict[tuple[float, float], float], missing: float | None
) -> None:
    review = ledgered(amps, max(last for _, last in amps))
    begun, whole = Share(0.95, 0.9, 1.0), Share(1.0, 1.0, 1.0)
    left, says = charge_after(review.flight, review.measures, begun, whole)
    if missing is None:
        assert (left, says) == (begun, "")
        return
    capacity = 24.0 / max(1.0, temperature_factor(battery_temperature(review.flight)))
    assert left.value == pytest.approx(0.95 - missing / capacity, abs=0.03)
    assert left.low < left.value < left.high
    assert f"{missing:.0f}" in says or f"{missing:.1f}" in says


def test_a_charge_that_came_back_before_the_end_is_not_taken_off() -> None:
    full = Share(0.9, 0.85, 1.0)
    sound, _ = reviewed(healthy(411, 14, "battery"))
    assert charge_after(sound.flight, sound.measures, full, full) == (full, "")
    long = healthy(412, 14, "alternator")
    long = replace(long, plan=replace(long.plan, cruise_min=90.0))
    cruise = long.times.cruise_s
    for back_min, owed in ((70.0, False), (20.0, True)):
        gone = FieldOpen(from_s=cruise + 300.0, to_s=long.times.cruise_end_s - 60.0 * back_min)
        review, _ = reviewed(long.with_fault(gone))
        assert any(outage.kind == "offline" for outage in review.flight.outages)
        assert (charge_after(review.flight, review.measures, full, full) != (full, "")) is owed


@pytest.mark.parametrize("seed", range(520, 532))
def test_what_a_worn_battery_is_said_to_last_is_never_longer_than_it_does(seed: int) -> None:
    """Drawn wear, seen by a finding or not: the number that people read stays below the truth."""
    draw = np.random.default_rng(seed)
    health, nominal = float(draw.uniform(0.5, 0.75)), int(draw.choice([14, 28]))
    worn = replace(healthy(seed, nominal, "alternator"), faults=(Worn(health=health, resistance_factor=1.0 / health),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert endurance.low is not None
    assert endurance.high is not None
    assert endurance.low <= minutes <= endurance.high
    read = float(value_words(endurance).split()[0])
    assert read <= minutes + 0.5
    found = BatteryKnown(worn=any("battery" in one.name for one in review.findings))
    given = preset(review.flight, review.measures, found, TODAY)
    as_flown = plan(given)[0].lasts
    assert as_flown.low is not None
    assert as_flown.low <= minutes


def test_what_is_read_would_be_wrong_if_it_were_the_middle() -> None:
    worn = replace(healthy(403, 14, "alternator"), faults=(Worn(health=0.55, resistance_factor=1.0 / 0.55),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert endurance.value is not None
    assert endurance.value > 1.2 * minutes, "the middle overstates a battery whose wear no finding shows"
    assert float(value_words(endurance).split()[0]) < minutes


def made_test(capacity: float, months: float) -> CapacityTest:
    return CapacityTest(TODAY - timedelta(days=months * 365.25 / 12), capacity)


def test_a_capacity_test_counts_with_its_own_error_and_what_may_have_gone_since() -> None:
    """0.80 within 5 % of itself, and 2 % of rated a month: 0.76 - 3 x 0.02 = 0.70 to 0.84."""
    found = condition_by_test(made_test(80.0, 3.0), TODAY)
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((0.80, 0.70, 0.84))


def test_a_battery_that_gives_more_than_its_rating_is_taken_at_its_rating() -> None:
    assert condition_by_test(made_test(110.0, 0.0), TODAY) == Share(1.0, 1.0, 1.0)


@pytest.mark.parametrize(("months", "counts"), [(11.9, True), (12.1, False)])
def test_an_old_test_no_longer_counts(months: float, counts: bool) -> None:
    found = made_test(80.0, months)
    assert (condition_by_test(found, TODAY) is not None) is counts


@pytest.mark.parametrize(("capacity", "months"), [(55.0, 11.9), (55.0, 12.1), (55.0, 40.0), (40.0, 12.1)])
def test_a_low_test_is_no_better_battery_when_it_has_grown_old(capacity: float, months: float) -> None:
    """What a battery has lost does not come back: an old test still bounds it."""
    found = known_condition(BatteryKnown(tested=made_test(capacity, months)), None, TODAY)
    share = capacity / 100.0
    assert found.value <= share
    assert found.low <= 0.95 * share - 0.02 * min(months, 12.0) + 1e-9
    assert found.high <= 1.05 * share + 1e-9


def test_a_test_that_lies_ahead_is_taken_as_of_today() -> None:
    assert condition_by_test(made_test(80.0, -2.0), TODAY) == condition_by_test(made_test(80.0, 0.0), TODAY)


def test_wear_seen_since_a_test_is_believed_over_it_at_each_end() -> None:
    worn, sound = worn_condition(), known_condition(BatteryKnown(tested=made_test(95.0, 1.0)), None, TODAY)
    both = known_condition(BatteryKnown(worn=True, tested=made_test(95.0, 1.0)), None, TODAY)
    assert both == Share(min(worn.value, sound.value), min(worn.low, sound.low), min(worn.high, sound.high))
    assert both.high < sound.low


@pytest.mark.parametrize("seed", range(540, 552))
def test_a_tested_battery_lasts_what_the_plan_says_and_the_plan_says_more_than_without(seed: int) -> None:
    """Drawn capacities, tested within the test's own error some months before."""
    draw = np.random.default_rng(seed)
    health, nominal = float(draw.uniform(0.5, 1.0)), int(draw.choice([14, 28]))
    scenario = replace(healthy(seed, nominal, "alternator"), faults=(Worn(health=health, resistance_factor=1.0),))
    review, minutes = reviewed(scenario)
    months = float(draw.uniform(0.0, 6.0))
    then = health + 0.01 * months  # lost half of what may be lost
    found = CapacityTest(TODAY - timedelta(days=months * 30.4), 100.0 * then * float(draw.uniform(0.97, 1.03)))
    lasts = plan(preset(review.flight, review.measures, BatteryKnown(tested=found), TODAY))[0].lasts
    untested = plan(preset(review.flight, review.measures, BatteryKnown(), TODAY))[0].lasts
    assert lasts.low is not None
    assert lasts.high is not None
    assert untested.low is not None
    assert untested.high is not None
    assert lasts.low <= minutes <= lasts.high
    assert (lasts.high - lasts.low) < (untested.high - untested.low)


@pytest.mark.parametrize(
    ("known", "said"),
    [
        (BatteryKnown(), "half worn before it shows: 50 to 100 % of rated capacity is assumed until a capacity test"),
        (BatteryKnown(worn=True), "shows wear: 30 to 80 % of rated capacity is assumed until a capacity test"),
        (
            BatteryKnown(tested=CapacityTest(datetime(2026, 3, 2), 80.0)),
            "Capacity test of 2026-03-02: 80 % of rated. 70 to 84 % of rated capacity is assumed today.",
        ),
        (
            BatteryKnown(worn=True, tested=CapacityTest(datetime(2026, 3, 2), 80.0)),
            "The battery shows wear since. 30 to 80 % of rated",
        ),
        (
            BatteryKnown(tested=CapacityTest(datetime(2025, 3, 2), 80.0)),
            "It is older than 12 months. A battery can be half worn before it shows: 50 to 84 %",
        ),
    ],
)
def test_the_plan_says_what_its_condition_rests_on(known: BatteryKnown, said: str) -> None:
    review, _ = reviewed(healthy(411, 14, "battery"))
    assert said in preset(review.flight, review.measures, known, TODAY).basis["condition"]
