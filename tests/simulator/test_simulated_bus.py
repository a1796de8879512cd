"""Alternator, regulator, protection and starter on one bus."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.simulator import (
    Alternator,
    Battery,
    LoadEvent,
    Loads,
    OvervoltageProtection,
    Regulator,
    simulate,
)
from analyzer.simulator.electrical import BATTERY, LIMITED, REGULATED, STARTER
from analyzer.simulator.flight_plan import starter_ohm
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from analyzer.simulator.system_faults import FullField, OutputFade, Runaway, SenseResistance


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("maker", [*HEALTHY.values(), *FAULTY.values()], ids=lambda maker: maker.__name__)
def test_alternator_current_is_load_plus_battery_current(maker, volts):
    course = simulate(maker(2, volts, "battery")).course
    running = course.fed_by != STARTER
    difference = course.alternator_a - course.load_a - course.battery_a
    assert np.max(np.abs(difference[running])) < 1e-5
    assert course.alternator_a.min() >= 0.0
    assert np.all(course.alternator_a[course.fed_by == BATTERY] == 0.0)


@pytest.mark.parametrize("volts", [14, 28])
def test_the_starter_takes_what_the_battery_gives_beyond_the_load(volts):
    scenario = healthy(3, volts)
    course = simulate(scenario).course
    turning = course.fed_by == STARTER
    ohm = starter_ohm(scenario.plan.starting, scenario.times.cranks, course.time_s, volts)[turning]
    taken = course.bus_v[turning] / ohm
    assert -course.battery_a[turning] - course.load_a[turning] == pytest.approx(taken, rel=1e-5)
    assert turning.sum() > 50


def test_regulated_voltage_falls_with_the_alternator_current_by_the_droop():
    quiet = Regulator(noise_v=0.0, per_degc_v=0.0, set_point_v=14.1, droop_ohm=0.02)
    course = simulate(replace(healthy(4), regulator=quiet)).course
    held = course.fed_by == REGULATED
    assert course.bus_v[held] == pytest.approx(14.1 - 0.02 * course.alternator_a[held], abs=1e-6)


@pytest.mark.parametrize(("volts", "low", "high"), [(14, 13.5, 14.5), (28, 27.0, 29.0)])
@pytest.mark.parametrize("seed", range(6))
def test_a_sound_aircraft_holds_its_bus_in_the_ordinary_band(volts, low, high, seed):
    # Near 14 V in a 12 V system (FAA-H-8083-25, chapter 7, as restated); about 14.25 V, 28.0 to 28.5 V
    # (AMT Handbook Airframe, chapter 9).
    scenario = healthy(seed, volts)
    course = simulate(scenario).course
    cruise = (course.time_s > scenario.times.cruise_s) & (course.time_s < scenario.times.cruise_end_s)
    assert course.bus_v[cruise].min() > low
    assert course.bus_v[cruise].max() < high


@pytest.mark.parametrize("seed", range(6))
def test_half_an_hour_of_cruise_tapers_the_charge(seed):
    # Pilot's operating handbooks, Section 3: after 30 min of cruise under two needle widths of charge. The
    # handbooks give no amperes; 2 A is our reading of it.
    scenario = healthy(seed)
    course = simulate(scenario).course
    late = course.battery_a[np.searchsorted(course.time_s, scenario.times.cruise_s + 1800.0)]
    assert 0.0 < late < 2.0


def test_the_alternator_limit_rises_with_speed_and_levels_off():
    limit = Alternator(rated_a=60.0).output_limit(np.array([0.0, 600.0, 900.0, 1500.0, 2400.0, 2700.0]), 25.0)
    assert limit[0] == limit[1] == 0.0
    assert np.all(np.diff(limit[1:]) > 0.0)
    assert limit[5] - limit[4] < 0.05 * limit[4]
    assert 0.9 * 60.0 < limit[4] <= 60.0
    assert Alternator().output_limit(2400.0, 45.0) < Alternator().output_limit(2400.0, 5.0)


def test_an_idle_too_slow_for_the_load_sags_the_bus_and_no_more():
    scenario = HEALTHY["low_idle"](3, 14, "battery")
    course = simulate(scenario).course
    idle = (course.time_s > scenario.times.engine_start_s + 60.0) & (course.time_s < scenario.times.run_up_s)
    cruise = (course.time_s > scenario.times.cruise_s) & (course.time_s < scenario.times.cruise_end_s)
    assert course.bus_v[idle].min() < 12.9
    assert np.any(course.fed_by[idle] == LIMITED)
    assert course.bus_v[cruise].min() > 13.5


@pytest.mark.parametrize(("volts", "limit_v"), [(14, 16.0), (28, 32.0)])
def test_protection_trips_at_its_limit(volts, limit_v):
    # About 16 V (14 V aircraft), 31.5 to 32 V (28 V aircraft): pilot's operating handbooks, Section 3; a 28 V
    # regulator's component manual.
    flight = simulate(FAULTY["trip_with_reset"](5, volts, "battery"))
    assert len(flight.course.trips_s) == 1
    assert flight.course.trip_voltages[0] == pytest.approx(limit_v, abs=0.02 * limit_v)


@pytest.mark.parametrize(("rise_v", "trips"), [(1.6, 0), (2.4, 1)])
def test_protection_acts_above_its_limit_and_not_below(rise_v, trips):
    scenario = replace(healthy(5), regulator=Regulator(set_point_v=14.0))
    at = scenario.times.cruise_s + 300.0
    course = simulate(scenario.with_fault(Runaway(from_s=at, to_s=at + rise_v / 0.2, volts_per_s=0.2))).course
    assert len(course.trips_s) == trips


def test_after_a_trip_the_bus_is_at_battery_voltage_until_the_reset():
    # Pilot's operating handbooks, Section 3: the ammeter shows discharge, the low-voltage light comes on.
    flight = simulate(FAULTY["trip_with_reset"](6, 14, "battery"))
    course = flight.course
    off = (course.time_s > course.trips_s[0] + 0.1) & (course.time_s < course.resets_s[0] - 0.1)
    assert course.bus_v[off].max() < 13.5
    assert np.all(course.battery_a[off] < 0.0)
    back = (course.time_s > course.resets_s[0] + 1.1) & (course.time_s < course.resets_s[0] + 30.0)
    assert course.bus_v[back].min() > 13.5
    assert course.resets_s[0] - course.trips_s[0] == pytest.approx(50.0, abs=1.0)


def test_a_full_field_trips_protection_between_two_rows():
    flight = simulate(FAULTY["unlogged_spike"](4, 14, "battery"))
    assert flight.course.highest_v > 16.0
    assert flight.table["bus_voltage"].max() < 14.6
    assert len(flight.truth.trips_s) == 1


def test_without_protection_the_voltage_follows_engine_speed():
    scenario = replace(healthy(7), protection=OvervoltageProtection(works=False))
    scenario = scenario.with_fault(FullField(from_s=scenario.times.cruise_end_s - 120.0))
    course = simulate(scenario).course
    cruise = course.bus_v[np.searchsorted(course.time_s, scenario.times.cruise_end_s - 60.0)]
    landed = course.bus_v[np.searchsorted(course.time_s, scenario.times.landing_s + 20.0)]
    assert cruise > 16.0
    assert landed < cruise - 1.0


def test_a_fault_that_stays_trips_again_after_each_reset():
    course = simulate(FAULTY["repeated_trips"](3, 14, "battery")).course
    assert len(course.trips_s) == 3
    assert len(course.resets_s) == 2
    assert course.trips_s[1] - course.resets_s[0] < 2.0


def test_output_below_the_load_drains_the_battery_slowly():
    scenario = replace(healthy(8), alternator=Alternator(rated_a=60.0)).with_fault(
        OutputFade(to_fraction=0.1, over_s=0.0)
    )
    course = simulate(scenario).course
    cruise = (course.time_s > scenario.times.cruise_s) & (course.time_s < scenario.times.cruise_end_s)
    assert np.all(course.fed_by[cruise] == LIMITED)
    assert np.all(course.battery_a[cruise] < 0.0)
    assert course.alternator_a[cruise] == pytest.approx(6.0, rel=0.1)


def test_resistance_in_the_sense_wire_lifts_the_bus_with_load():
    scenario = replace(healthy(9), regulator=Regulator(noise_v=0.0), loads=Loads(events=()))
    at = scenario.times.cruise_s + 900.0
    load = LoadEvent(name="lights", amps=20.0, from_s=at, to_s=at + 600.0)
    scenario = replace(scenario, loads=replace(scenario.loads, events=(load,)))
    sound, faulty = simulate(scenario).course, simulate(scenario.with_fault(SenseResistance(ohm=0.5))).course
    before, during = (np.searchsorted(sound.time_s, moment) for moment in (at - 60.0, at + 60.0))
    assert faulty.bus_v[before] > sound.bus_v[before] + 0.2
    assert faulty.bus_v[during] - faulty.bus_v[before] > 0.2
    assert sound.bus_v[during] < sound.bus_v[before]


def test_a_cold_or_worn_battery_sags_more_when_cranked():
    def lowest(scenario):
        course = simulate(scenario).course
        return course.bus_v[course.fed_by == STARTER].min()

    scenario = replace(healthy(10), battery=Battery(capacity_ah=30.0))
    cold = replace(scenario, plan=replace(scenario.plan, outside_c=-12.0))
    worn = replace(scenario, battery=Battery(capacity_ah=30.0, resistance_factor=2.2))
    assert 8.0 < lowest(scenario) < 10.5
    assert lowest(cold) < lowest(scenario) - 0.3
    assert lowest(worn) < lowest(scenario) - 1.0
