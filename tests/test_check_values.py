"""Published values against what the analysis holds and does. The source stands beside each check."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from analyzer.limits import Limits
from analyzer.measures.battery_facts import peukert_hours, state_of_charge, temperature_factor
from analyzer.measures.load_analysis import form_minutes
from analyzer.review import FlightReview, review_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY
from tests.made import log_of

V14, V28 = Limits(14, {}), Limits(28, {})


@pytest.fixture(scope="module")
def flown() -> Callable[[Any], FlightReview]:
    """The review of a scenario's one flight."""

    def review(scenario: Any) -> FlightReview:
        return review_log(log_of(scenario)).flights[0]

    return review


@pytest.mark.parametrize("volts", [14, 28])
def test_after_thirty_minutes_of_cruise_a_sound_battery_takes_little_charge(
    flown: Callable[[Any], FlightReview], volts: int
) -> None:
    # Pilot's operating handbooks of five single-engine types, section 3, "Excessive rate of charge": after 30 min of
    # cruise the ammeter should show less than two needle widths. No ampere value is given there; two widths of a
    # 60-0-60 A scale are taken as 4 A here (ours).
    review = flown(healthy(seed=11, volts=volts, ammeter="battery"))
    settled = review.measures["maintenance_current"]
    assert settled.value is not None
    assert settled.value < 4.0
    assert "recharge_never_settles" not in {finding.name for finding in review.findings}


def test_the_rule_of_thirty_minutes_is_the_one_that_the_handbooks_give() -> None:
    # Same source: 30 min of cruise.
    assert V14["never_settles_after"] == 30.0
    assert V14["never_settles"] <= 4.0


def test_a_charge_that_stays_high_after_thirty_minutes_is_found(flown: Callable[[Any], FlightReview]) -> None:
    # Same source: staying higher overheats the battery.
    review = flown(FAULTY["never_settles"](5, 14, "battery"))
    assert "recharge_never_settles" in {finding.name for finding in review.findings}


def test_overvoltage_protection_acts_where_the_handbooks_say() -> None:
    # Pilot's operating handbooks, section 3: about 16 V (14 V aircraft), about 31.5 V (28 V aircraft), about 31.75 V
    # (a 2005 28 V type).
    assert V14["overvoltage"] == pytest.approx(16.0, abs=0.1)
    assert 31.4 <= V28["overvoltage"] <= 31.75


@pytest.mark.parametrize("volts", [14, 28])
def test_an_overvoltage_trip_is_a_rise_then_battery_voltage_and_discharge(
    flown: Callable[[Any], FlightReview], volts: int
) -> None:
    # Same sources: after a trip the ammeter shows discharge and the low-voltage light comes on.
    review = flown(FAULTY["trip_with_reset"](3, volts, "battery"))
    trips = [finding for finding in review.findings if finding.name == "overvoltage_trip"]
    assert trips
    evidence = trips[0].evidence
    assert evidence["drawn_a"].value > 3.0
    assert evidence["below_low_voltage_min"].value > 0.2
    assert evidence["lowest_voltage"].value < 13.0 * volts / 14


def test_the_regulator_band_holds_the_handbook_set_points() -> None:
    # FAA-H-8083-31, chapter 9, "Battery charging, constant voltage": about 14.25 V, and 28.0 to 28.5 V.
    assert V14["regulated_low"] < 14.25 < V14["regulated_high"]
    assert V28["regulated_low"] < 28.0 < 28.5 < V28["regulated_high"]


@pytest.mark.parametrize("volts", [14, 28])
def test_a_sound_flight_is_regulated_inside_the_band(flown: Callable[[Any], FlightReview], volts: int) -> None:
    # Same source.
    held = flown(healthy(seed=4, volts=volts, ammeter="battery")).measures["regulated_voltage"]
    assert held.value is not None
    assert 13.4 * volts / 14 < held.value < 14.6 * volts / 14


def test_the_low_voltage_light_comes_on_where_the_advisory_circular_allows() -> None:
    # AC 43.13-1B, par. 11-35b: below 13 V (14 V system), below 26 V (28 V system).
    assert (V14["low_voltage"], V28["low_voltage"]) == (13.0, 26.0)


@pytest.mark.parametrize(
    ("volts", "percent"), [(12.65, 100.0), (12.45, 75.0), (12.24, 50.0), (12.06, 25.0), (11.89, 0.0)]
)
def test_charge_of_a_rested_battery_is_the_published_table(volts: float, percent: float) -> None:
    # Battery Council International table, 12 V, 80 degF, as quoted by two battery makers' notes; 24 V is the double.
    assert state_of_charge(volts, 6) == pytest.approx(percent)
    assert state_of_charge(2.0 * volts, 12) == pytest.approx(percent)


def test_charge_between_the_tables_points_and_outside_them_is_sane() -> None:
    assert 75.0 < state_of_charge(12.55, 6) < 100.0
    assert state_of_charge(13.2, 6) == 100.0
    assert state_of_charge(10.5, 6) == 0.0


def test_a_second_published_table_agrees_within_the_spread_that_the_interval_allows() -> None:
    # Inverter owner manual, table B-6, 25 degC, 3 h rest: 12.7 100 %, 12.6 90, 12.5 80, 12.2 60, 12.0 40, 11.8 30 %.
    # The tables differ by 0.14 V at half charge, which is 19 % of charge; the interval adds the spread of 10 % to that
    # of the voltage.
    for volts, percent in ((12.7, 100.0), (12.6, 90.0), (12.5, 80.0), (12.2, 60.0)):
        assert abs(state_of_charge(volts, 6) - percent) < 19.0


def test_peukert_in_the_rated_hours_form_gives_the_worked_numbers() -> None:
    # Encyclopedia article (from memory, recomputed): C = 100 Ah, H = 20 h, I = 10 A, k = 1.2 gives 8.7055 h.
    assert peukert_hours(100.0, 20.0, 10.0, 1.2) == pytest.approx(8.7055, abs=5e-5)
    # One-ampere form T = C / I^n is the same law with H = C hours at one ampere. Engineering calculator tutorial:
    # 250 Ah, 20 A, n = 1.3 gives 5.088631644 h.
    assert peukert_hours(250.0, 250.0, 20.0, 1.3) == pytest.approx(5.088631644, rel=1e-9)


def test_without_a_rate_effect_endurance_is_amperes_times_hours() -> None:
    # Aircraft battery manual, capacity check: 16 Ah to 80 % at 5 A takes 2.56 h.
    assert peukert_hours(16.0 * 0.8, 1.0, 5.0, 1.0) == pytest.approx(2.56)
    # Common practice: 25 Ah carries 25 A for one hour.
    assert peukert_hours(25.0, 1.0, 25.0, 1.25) == pytest.approx(1.0)


def test_the_published_endurance_example_comes_out() -> None:
    # Emergency-power example in two aircraft equipment installation manuals: 75 % of 35 Ah, 5 min at 43.5 A, 10 min at
    # 48.1 A, the rest at 34.0 A: 40.8 min in all.
    left = 0.75 * 35.0 - (5.0 * 43.5 + 10.0 * 48.1) / 60.0
    assert 15.0 + 60.0 * peukert_hours(left, 1.0, 34.0, 1.0) == pytest.approx(40.8, abs=0.05)
    assert form_minutes(0.75 * 35.0, 43.5, 34.0, 48.1) == pytest.approx(40.779, abs=1e-3)


@pytest.mark.parametrize(
    ("degrees", "factor"), [(0, 1.405), (10, 1.195), (20, 1.051), (25, 1.000), (30, 0.958), (40, 0.898)]
)
def test_capacity_falls_with_cold_as_the_sizing_standard_says(degrees: float, factor: float) -> None:
    # Sizing-software note on IEEE 485, table 1.
    assert temperature_factor(degrees) == pytest.approx(factor, abs=0.001)


@pytest.mark.parametrize(("fahrenheit", "factor"), [(25, 1.52), (50, 1.19), (60, 1.11), (77, 1.00), (90, 0.94)])
def test_capacity_against_temperature_is_near_the_table_itself(fahrenheit: float, factor: float) -> None:
    # IEEE 485, table 1 (from memory, so a soft check).
    assert temperature_factor((fahrenheit - 32.0) / 1.8) == pytest.approx(factor, abs=0.03)


def test_a_recharge_in_health_settles_in_five_to_ten_minutes_or_so(flown: Callable[[Any], FlightReview]) -> None:
    # Common practice.
    base = healthy(seed=2, ammeter="battery")
    settling = flown(replace(base, seed=21)).measures["recharge_settling_time"]
    assert settling.value is not None
    assert 3.0 < settling.value < 12.0
