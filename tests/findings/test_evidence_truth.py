"""Every number behind a finding against what the simulator knows: course, faults and settings of the same flight."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analyzer.limits import Limits
from analyzer.review import FlightReview
from analyzer.simulator import SimulatedFlight, Voltmeter, simulate
from analyzer.simulator.healthy import Volts, healthy
from analyzer.simulator.scenarios import FAULTY
from analyzer.simulator.system_faults import Hunting
from tests.flown import judged, the

SYSTEMS = pytest.mark.parametrize("volts", [14, 28])
STEP_V = 0.1  # of the scenarios' voltmeter, twice that on 28 V
ROW_MIN = 1.0 / 60.0


@cache
def flown(name: str, volts: Volts) -> tuple[SimulatedFlight, FlightReview]:
    flight = simulate(FAULTY[name](5, volts))
    return flight, judged(flight)


def evidence(review: FlightReview, name: str) -> dict[str, float]:
    return {key: one.value for key, one in the(review, name).evidence.items()}


def course(flight: SimulatedFlight, channel: str, from_s: float, to_s: float) -> np.ndarray:
    """What truly happened, engine times of the log."""
    time = flight.course.time_s - flight.log_begins_s
    return np.asarray(getattr(flight.course, channel)[(time >= from_s) & (time < to_s)])


def logged(flight: SimulatedFlight, channel: str, from_s: float, to_s: float) -> np.ndarray:
    time = flight.table["time_s"].to_numpy()
    return np.asarray(flight.table[channel].to_numpy()[(time >= from_s) & (time <= to_s)])


def grid_s(flight: SimulatedFlight) -> float:
    """Seconds from one moment of the course to the next."""
    return float(flight.course.time_s[1] - flight.course.time_s[0])


@SYSTEMS
@pytest.mark.parametrize(
    ("scenario", "name"),
    [
        ("trip_with_reset", "overvoltage_trip"),
        ("unlogged_spike", "overvoltage_trip"),
        ("nuisance_trip", "alternator_offline"),
        ("alternator_lost", "alternator_offline"),
        ("alternator_never_on", "alternator_offline"),
    ],
)
def test_a_loss_of_the_alternator(scenario: str, name: str, volts: Volts) -> None:
    flight, review = flown(scenario, volts)
    fault, shown = flight.truth.faults[0], evidence(review, name)
    lasts = (fault.to_s - fault.from_s) / 60.0
    assert shown["duration_min"] == pytest.approx(lasts, abs=5 * ROW_MIN)
    assert shown["drawn_a"] == pytest.approx(-np.median(course(flight, "battery_a", fault.from_s, fault.to_s)), abs=0.5)
    inside = logged(flight, "bus_voltage", fault.from_s, fault.to_s)
    assert shown["lowest_voltage"] == pytest.approx(inside.min(), abs=STEP_V / 2)
    low = Limits(volts, {})["low_voltage"]
    below = float((course(flight, "bus_v", fault.from_s, fault.to_s) < low).mean()) * lasts
    assert shown["below_low_voltage_min"] == pytest.approx(below, abs=5 * ROW_MIN)
    assert shown["times"] == sum(1 for one in flight.truth.faults)
    if "restored_s" in shown:
        assert shown["restored_s"] == pytest.approx(fault.to_s - fault.from_s, abs=3.0)
    else:
        assert fault.to_s == pytest.approx(flight.truth.engine_stop_s, abs=1.0)
    if scenario != "alternator_never_on":
        quiet = np.median(course(flight, "bus_v", fault.from_s - 240.0, fault.from_s - 60.0))
        assert shown["voltage_before"] == pytest.approx(quiet, abs=STEP_V * volts / 14)
        before = logged(flight, "bus_voltage", fault.from_s - 15.0, fault.from_s + 1.0)
        assert shown["peak_voltage"] == pytest.approx(before.max(), abs=STEP_V * volts / 14)


@SYSTEMS
def test_an_overvoltage(volts: Volts) -> None:
    flight, review = flown("full_field", volts)
    shown, limit = evidence(review, "overvoltage"), Limits(volts, {})["overvoltage"]
    (fault, *_) = flight.truth.faults
    assert shown["peak_voltage"] == pytest.approx(np.nanmax(logged(flight, "bus_voltage", 0.0, 1e9)), abs=0.01)
    above = float((course(flight, "bus_v", 0.0, 1e9) > limit).sum()) * grid_s(flight) / 60.0
    assert shown["duration_min"] == pytest.approx(above, abs=0.5)
    assert shown["limit"] == limit
    assert the(review, "overvoltage").from_s == pytest.approx(fault.from_s, abs=60.0)


@SYSTEMS
@pytest.mark.parametrize("name", ["regulator_high", "regulator_low"])
def test_a_set_point(name: str, volts: Volts) -> None:
    flight, review = flown(name, volts)
    true = flight.truth.measures["regulated_voltage"].value
    assert evidence(review, name)["regulated_voltage"] == pytest.approx(true, abs=0.6 * STEP_V * volts / 14)


@SYSTEMS
def test_a_drift(volts: Volts) -> None:
    flight, review = flown("regulator_drift", volts)
    shown, found = evidence(review, "regulator_drift"), the(review, "regulator_drift")
    step = STEP_V * volts / 14
    for key, at in (("from_voltage", found.from_s), ("to_voltage", found.to_s)):
        true = np.median(course(flight, "bus_v", at - 150.0, at + 150.0))
        assert shown[key] == pytest.approx(true, abs=step)
    assert shown["minutes"] == pytest.approx((found.to_s - found.from_s) / 60.0, abs=0.06)


def test_hunting_twice_in_a_flight_shows_through_a_coarse_voltmeter() -> None:
    """Three minutes, and three more half an hour later, about a level half way between two steps of 0.2 V."""
    scenario = healthy(5, 14)
    regulator = replace(scenario.regulator, set_point_v=14.12, noise_v=0.01, per_degc_v=0.0)
    scenario = replace(scenario, regulator=regulator, voltmeter=Voltmeter(resolution_v=0.2, noise_v=0.02))
    for after in (60.0, 1860.0):
        from_s = scenario.times.cruise_s + after
        fault = Hunting(from_s=from_s, to_s=from_s + 170.0, volts=0.4, period_s=12.0, restless=False)
        scenario = scenario.with_fault(fault)
    review = judged(scenario)
    found = the(review, "regulator_hunting")
    assert found.evidence["swing"].value == pytest.approx(0.8, abs=0.21)  # to and fro by 0.4 V
    assert found.evidence["period_s"].value == pytest.approx(12.0, abs=1.0)
    assert found.to_s - found.from_s == pytest.approx(1970.0, abs=130.0)


@SYSTEMS
def test_a_hunting_regulator(volts: Volts) -> None:
    flight, review = flown("regulator_hunting", volts)
    shown, found = evidence(review, "regulator_hunting"), the(review, "regulator_hunting")
    (fault,) = flight.scenario.faults
    bus = course(flight, "bus_v", found.from_s, found.to_s)
    around = np.percentile(bus - np.median(bus), [2.5, 97.5])
    assert shown["swing"] == pytest.approx(around[1] - around[0], rel=0.15)
    assert shown["scatter"] == pytest.approx(bus.std(), rel=0.2)
    assert shown["period_s"] == pytest.approx(fault.period_s, rel=0.05)
    assert found.from_s == pytest.approx(fault.from_s, abs=90.0)


@SYSTEMS
def test_a_slow_recharge(volts: Volts) -> None:
    flight, review = flown("slow_recharge", volts)
    shown, truth = evidence(review, "slow_recharge"), flight.truth.measures
    assert shown["low"] < shown["time_constant_min"]
    tau = review.measures["recharge_time_constant"]
    assert shown["time_constant_min"] == pytest.approx(tau.value, abs=0.01)
    assert shown["low"] == pytest.approx(tau.low, abs=0.01)
    assert shown["time_constant_min"] > truth["recharge_time_constant"].value > shown["limit"]
    assert shown["settling_min"] == pytest.approx(review.measures["recharge_settling_time"].value, abs=0.1)
    assert shown["returned_ah"] == pytest.approx(review.measures["recharge_returned"].value, abs=0.01)
    time = flight.course.time_s - flight.log_begins_s
    before = time <= flight.truth.alternator_on_s
    drawn = -float(np.trapezoid(flight.course.battery_a[before], time[before])) / 3600.0
    assert shown["drawn_before_ah"] == pytest.approx(drawn, abs=0.15)
    assert shown["drawn_meanwhile_ah"] == pytest.approx(0.0, abs=0.05)


@SYSTEMS
def test_a_recharge_that_never_settles(volts: Volts) -> None:
    flight, review = flown("never_settles", volts)
    shown = evidence(review, "recharge_never_settles")
    assert shown["settled_a"] == pytest.approx(flight.truth.measures["maintenance_current"].value, abs=0.7)
    on_s, down_s = flight.truth.alternator_on_s, flight.scenario.times.engine_stop_s
    assert shown["after_min"] == pytest.approx((down_s - on_s) / 60.0, abs=6.0)


@SYSTEMS
def test_a_weak_crank(volts: Volts) -> None:
    flight, review = flown("worn_battery", volts)
    shown = evidence(review, "weak_cranking")
    turning = [
        course(flight, "bus_v", a - flight.log_begins_s, b - flight.log_begins_s)
        for a, b in flight.scenario.times.cranks
    ]
    lowest = min(one.min() for one in turning)
    assert shown["lowest_voltage"] >= lowest - STEP_V
    found = the(review, "weak_cranking")
    assert shown["lowest_voltage"] == pytest.approx(
        logged(flight, "bus_voltage", found.from_s, found.to_s).min(), abs=0.01
    )
    middle = float(np.median([np.median(one) for one in turning]))
    assert shown["turning_voltage"] == pytest.approx(middle, abs=0.6 * volts / 14)
    assert shown["cranking_s"] == pytest.approx(flight.truth.measures["cranking_time"].value, abs=4.0)
    assert shown["temperature"] == pytest.approx(flight.scenario.plan.outside_c, abs=1.0)


@SYSTEMS
def test_a_low_rest(volts: Volts) -> None:
    flight, review = flown("left_low", volts)
    shown, truth = evidence(review, "low_resting_voltage"), flight.truth.measures
    rest = review.measures["resting_voltage"]
    true = truth["resting_voltage"]  # with what the instruments leave open
    assert rest.low <= true.high
    assert rest.high >= true.low
    assert shown["resting_voltage"] == pytest.approx(rest.value, abs=0.01)
    charge, true = review.measures["resting_charge"], truth["resting_charge"]
    assert charge.low <= true.high
    assert charge.high >= true.low
    assert shown["charge"] == pytest.approx(charge.value, abs=0.5)


@SYSTEMS
@pytest.mark.parametrize("scenario", ["output_fading", "overloaded"])
def test_an_alternator_short_of_output(scenario: str, volts: Volts) -> None:
    flight, review = flown(scenario, volts)
    shown, found = evidence(review, "output_short"), the(review, "output_short")
    assert shown["output_a"] == pytest.approx(
        np.median(course(flight, "alternator_a", found.from_s, found.to_s)), abs=1.0
    )
    bus = course(flight, "bus_v", found.from_s, found.to_s)
    assert shown["voltage"] == pytest.approx(np.median(bus), abs=STEP_V * volts / 14)
    inside = logged(flight, "bus_voltage", found.from_s, found.to_s)
    assert shown["lowest_voltage"] == pytest.approx(inside.min(), abs=0.01)
    lasts = sum(one.to_s - one.from_s for one in flight.truth.faults if one.finding == "output_short") / 60.0
    assert shown["duration_min"] == pytest.approx(lasts, rel=0.1)


@SYSTEMS
def test_an_arcing_terminal(volts: Volts) -> None:
    flight, review = flown("loose_output", volts)
    shown = evidence(review, "unsteady_connection")
    (fault,) = flight.scenario.faults
    found = the(review, "unsteady_connection")
    expected = (found.to_s - found.from_s) / fault.every_s
    assert shown["drops"] == pytest.approx(expected, rel=0.25)
    assert shown["alternator_gone"] == shown["drops"]
    assert shown["current_silent"] == 0.0
    held = np.median(course(flight, "bus_v", found.from_s, found.to_s))
    open_v = np.percentile(course(flight, "bus_v", found.from_s, found.to_s), 1.0)
    assert shown["depth"] == pytest.approx(held - open_v, abs=0.2 * volts / 14)


@SYSTEMS
@pytest.mark.parametrize("scenario", ["volts_spikes", "volts_dropouts", "volts_offset", "volts_stuck"])
def test_a_reading_that_is_wrong(scenario: str, volts: Volts) -> None:
    flight, review = flown(scenario, volts)
    shown, found = evidence(review, "reading_fault"), the(review, "reading_fault")
    (fault,) = flight.scenario.faults
    readings = logged(flight, "bus_voltage", 0.0, 1e9)
    match scenario:
        case "volts_spikes":
            assert shown["times"] == fault.count
            assert shown["reading"] == pytest.approx(fault.value)
        case "volts_dropouts":
            assert shown["times"] == fault.count
        case "volts_offset":
            assert shown["reading"] == pytest.approx(fault.amount, abs=0.3 * volts / 14)
        case "volts_stuck":
            at = logged(flight, "bus_voltage", found.from_s, found.to_s)
            assert set(at) == {shown["reading"]}
            assert at.size > 0.9 * (min(fault.to_s, readings.size) - fault.from_s)
