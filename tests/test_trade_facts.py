"""Facts of the trade, "common practice" with no published source, against limits and simulated flights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from analyzer.limits import Limits
from analyzer.measures.battery_facts import peukert_hours, state_of_charge
from analyzer.review import FlightReview, review_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY
from tests.made import log_of

V14 = Limits(14, {})


@pytest.fixture(scope="module")
def flown() -> Callable[[Any], FlightReview]:
    """The review of a scenario's one flight."""
    return lambda scenario: review_log(log_of(scenario)).flights[0]


def test_a_rested_full_battery_reads_about_12_6_volts_near_27_degrees(flown: Callable[[Any], FlightReview]) -> None:
    # common practice
    assert state_of_charge(12.6, 6, 27.0) == pytest.approx(94.0, abs=3.0)
    scenario = healthy(seed=6)
    rest = flown(replace(scenario, plan=replace(scenario.plan, outside_c=27.0))).measures["resting_voltage"]
    assert rest.value == pytest.approx(12.65, abs=0.12)


def test_the_regulator_holds_about_13_5_to_14_volts_and_more_in_range(flown: Callable[[Any], FlightReview]) -> None:
    # common practice
    assert V14["regulated_low"] <= 13.5
    assert V14["regulated_high"] >= 14.0
    held = flown(healthy(seed=7)).measures["regulated_voltage"]
    assert 13.4 < (held.value or 0.0) < 14.5


def test_the_higher_source_feeds_the_bus(flown: Callable[[Any], FlightReview]) -> None:
    # common practice: with the alternator above the battery current flows into it; once it is gone, out of it
    flight = flown(FAULTY["alternator_lost"](2, 14, "battery")).flight
    flow = flight.trace.battery_current
    assert flow is not None
    lost = flight.outages[-1]
    assert np.nanmedian(flow[flight.alternator_online]) > 0.0
    assert np.nanmedian(flow[lost.first : lost.end]) < -3.0
    assert np.nanmedian(flight.trace.bus_voltage[lost.first : lost.end]) < 12.7


def test_overvoltage_protection_acts_near_16_volts() -> None:
    # common practice
    assert V14["overvoltage"] == pytest.approx(16.0, abs=0.3)


def test_the_low_voltage_light_comes_on_just_below_13_volts_and_a_lost_alternator_lights_it(
    flown: Callable[[Any], FlightReview],
) -> None:
    # common practice: 12.5 to 12.8 V, just below 13 V
    assert 12.5 <= V14["low_voltage"] <= 13.0
    findings = flown(FAULTY["alternator_lost"](4, 14, "battery")).findings
    (lost,) = [finding for finding in findings if finding.name == "alternator_offline"]
    assert lost.evidence["below_low_voltage_min"].value > 0.9 * lost.evidence["duration_min"].value - 1.0


def test_charging_current_settles_within_ten_minutes_or_so_and_about_two_amperes_may_remain(
    flown: Callable[[Any], FlightReview],
) -> None:
    # common practice: the first five to ten minutes
    settled = [flown(healthy(seed=seed)).measures for seed in (1, 8, 9)]
    times = [measures["recharge_settling_time"].value or 99.0 for measures in settled]
    assert np.median(times) < 11.0
    assert all(-0.5 < (measures["maintenance_current"].value or 9.0) < 2.5 for measures in settled)
    assert V14["maintenance_raised"] >= 2.0


def test_an_alternator_ammeter_reads_zero_when_the_alternator_gives_nothing(
    flown: Callable[[Any], FlightReview],
) -> None:
    # common practice
    flight = flown(FAULTY["alternator_lost"](3, 14, "alternator")).flight
    output = flight.trace.alternator_current
    assert output is not None
    lost = flight.outages[-1]
    assert abs(float(np.nanmedian(output[lost.first : lost.end]))) < 0.6


def test_25_ampere_hours_carry_25_amperes_for_one_hour_only_when_new_and_full() -> None:
    # common practice
    assert 60.0 * peukert_hours(25.0, 1.0, 25.0, 1.15) == pytest.approx(60.0)
    worn = V14["capacity_typical"] * 25.0
    assert 60.0 * peukert_hours(worn, 1.0, 25.0, 1.15) < 60.0


def test_a_battery_in_service_lasts_roughly_half_an_hour_by_day_and_half_as_much_again_with_loads_shed() -> None:
    # common practice: a 25 Ah battery, some years old (70 %), three quarters charged, a day's load of about 25 A
    usable = 25.0 * 0.75 * 0.7
    by_day = 60.0 * peukert_hours(usable, 1.0, 25.0, V14["peukert_typical"])
    by_night = 60.0 * peukert_hours(usable, 1.0, 33.0, V14["peukert_typical"])
    shed = 60.0 * peukert_hours(usable, 1.0, 17.5, V14["peukert_typical"])
    assert 20.0 < by_day < 40.0
    assert by_night < by_day
    assert 1.35 * by_day < shed < 1.7 * by_day


def test_a_reset_of_the_alternator_switch_brings_a_tripped_alternator_back(
    flown: Callable[[Any], FlightReview],
) -> None:
    # common practice: off for more than a second and on again resets the relay
    findings = flown(FAULTY["trip_with_reset"](6, 14, "battery")).findings
    trips = [finding for finding in findings if finding.name in ("overvoltage_trip", "alternator_offline")]
    assert trips
    assert trips[0].evidence["restored_s"].value > 1.0
