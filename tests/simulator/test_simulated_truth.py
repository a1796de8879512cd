"""What is said to be true of a flight is true of it, and ingredients compose."""

from __future__ import annotations

import ast
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

import analyzer.simulator
from analyzer.simulator import Ammeter, Loads, Recorder, Regulator, Starting, Voltmeter, simulate
from analyzer.simulator.battery import BatteryState
from analyzer.simulator.electrical import COASTING, STARTER
from analyzer.simulator.faults import LeftLow, Spikes, Sulphated, Worn
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from analyzer.simulator.system_faults import (
    Drift,
    FieldOpen,
    Hunting,
    LooseOutput,
    OutputFade,
    Runaway,
    SetPoint,
)
from analyzer.simulator.true_recharge import fit_decay

#: The contract's measures; each is in every flight's truth.
MEASURES = {
    "resting_voltage", "resting_charge", "prestart_discharge", "cranking_voltage", "cranking_time",
    "start_attempts", "recharge_peak_current", "recharge_time_constant", "recharge_settling_time",
    "recharge_returned", "maintenance_current", "regulated_voltage", "regulation_scatter", "regulation_slope",
    "regulation_droop", "highest_voltage", "bus_load", "offline_time", "offline_discharge", "battery_resistance",
    "endurance",
}  # fmt: skip

EXPECTED = {
    "slow_recharge": "slow_recharge", "never_settles": "recharge_never_settles",
    "worn_battery": "weak_cranking", "left_low": "low_resting_voltage", "regulator_high": "regulator_high",
    "regulator_low": "regulator_low", "regulator_drift": "regulator_drift",
    "regulator_hunting": "regulator_hunting", "full_field": "overvoltage", "sense_wire": "regulator_high",
    "trip_with_reset": "overvoltage_trip", "repeated_trips": "overvoltage_trip",
    "unlogged_spike": "overvoltage_trip", "nuisance_trip": "overvoltage_trip",
    "alternator_lost": "alternator_offline", "alternator_never_on": "alternator_offline",
    "alternator_intermittent": "alternator_offline", "output_fading": "output_short",
    "overloaded": "output_short", "loose_output": "unsteady_connection", "volts_stuck": "reading_fault",
    "volts_spikes": "reading_fault", "volts_dropouts": "reading_fault", "volts_path": "reading_fault",
    "volts_offset": "reading_fault",
}  # fmt: skip


#: Faults of the charging current that the ammeter fitted cannot tell from something innocent.
IN_DOUBT = {("never_settles", "alternator"), ("never_settles", "none"), ("slow_recharge", "none")}


def test_the_simulator_knows_nothing_of_the_code_that_judges():
    # Only the bridge into the shape of a read log, which nothing in the simulator uses, may name that shape.
    bridge = "analyzer.simulator.as_log"
    folder = Path(analyzer.simulator.__file__).parent
    allowed = {"numpy", "polars"} | set(sys.stdlib_module_names)
    modules = list(folder.glob("*.py"))
    assert len(modules) > 10
    for module in modules:
        for name in imported(module):
            inside = name == "analyzer.simulator" or name.startswith("analyzer.simulator.")
            bridging = module.stem == "as_log" and name in ("analyzer.logs.log", "analyzer.logs.readings")
            assert name != bridge, f"{module.name} uses the bridge"
            assert inside or bridging or name.split(".")[0] in allowed, f"{module.name} imports {name}"


def imported(module):
    """Full names of all that a module imports, relative imports and packages' parts included."""
    names = []
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, module.name
            names.append(node.module or "")
            names += [f"{node.module}.{part.name}" for part in node.names if node.module == "analyzer.simulator"]
    return names


@pytest.mark.long(keep=40)
@pytest.mark.parametrize("ammeter", ["battery", "alternator", "none"])
@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("name", [*HEALTHY, *FAULTY])
def test_every_named_flight_flies_and_has_the_truth_its_name_promises(name, volts, ammeter):
    scenario = {**HEALTHY, **FAULTY}[name](4, volts, ammeter)
    flight = simulate(scenario)
    assert {fault.finding for fault in flight.truth.faults} == ({EXPECTED[name]} if name in FAULTY else set())
    assert flight.truth.findings == (set() if (name, ammeter) in IN_DOUBT else {f.finding for f in flight.truth.faults})
    assert flight.truth.ammeter == ammeter
    assert flight.truth.nominal_voltage == volts
    assert flight.truth.measures.keys() == MEASURES
    end = flight.table["time_s"][-1]
    for fault in flight.truth.faults:
        assert 0.0 <= fault.from_s < fault.to_s <= end
    for measure, value in flight.truth.measures.items():
        assert (value.value is None) == (value.because is not None), measure
        if value.value is not None:
            assert value.low <= value.value <= value.high, measure
    assert not any(flight.table[column].is_nan().any() for column in flight.table.columns)


@pytest.mark.parametrize("name", FAULTY)
def test_a_fault_taken_out_leaves_a_sound_flight(name):
    scenario = replace(FAULTY[name](6, 14, "battery"), faults=())
    assert simulate(scenario).truth.faults == ()


def test_the_same_scenario_gives_the_same_flight_and_another_seed_another():
    one, again, other = (simulate(HEALTHY["strobes"](seed, 14, "alternator")) for seed in (3, 3, 4))
    assert one.table.equals(again.table)
    assert one.truth == again.truth
    assert not one.table.equals(other.table)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("volts", [14, 28])
def test_the_true_time_constant_is_what_a_direct_fit_of_the_noiseless_current_gives(seed, volts):
    scenario = healthy(seed, volts)
    flight = simulate(scenario)
    since = flight.course.time_s - flight.truth.alternator_on_s
    place = (since >= 0.0) & (since <= 1200.0)
    since, current = since[place], flight.course.battery_a[place]

    def decay(t, level, amplitude, tau):
        return level + amplitude * np.exp(-t / tau)

    weight = np.minimum(np.diff(since, append=since[-1] + 1.0), 2.0)
    fitted, _ = curve_fit(decay, since, current, (0.5, 8.0, 300.0), sigma=1.0 / np.sqrt(np.maximum(weight, 1e-9)))
    measures = flight.truth.measures
    assert measures["recharge_time_constant"].value == pytest.approx(fitted[2] / 60.0, rel=0.01)
    assert measures["recharge_peak_current"].value == pytest.approx(fitted[1], rel=0.01)


@pytest.mark.parametrize(("level", "amplitude", "tau"), [(1.0, 12.0, 240.0), (0.2, 30.0, 60.0), (3.0, 5.0, 1500.0)])
def test_the_decay_fit_gives_back_an_exact_exponential(level, amplitude, tau):
    since = np.arange(0.0, 1800.0)
    found = fit_decay(since, level + amplitude * np.exp(-since / tau), np.ones_like(since))
    assert (found.level_a, found.amplitude_a, found.time_constant_s) == pytest.approx((level, amplitude, tau), rel=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_charge_returned_is_the_area_above_the_settled_level(seed):
    flight = simulate(healthy(seed))
    since = flight.course.time_s - flight.truth.alternator_on_s
    level = np.median(flight.course.battery_a[(since > 2700.0) & (since < 3600.0)])
    place = (since >= 0.0) & (since < 1500.0)
    current = flight.course.battery_a[place]
    area = np.trapezoid(np.maximum(current - level, 0.0), since[place]) / 3600.0
    value = flight.truth.measures["recharge_returned"]
    assert value.low <= area <= value.high
    assert value.value == pytest.approx(area, rel=0.05)


def test_charge_drawn_before_start_is_load_times_time():
    scenario = healthy(5)
    flight = simulate(scenario)
    hours = scenario.plan.before_start_s / 3600.0
    assert flight.truth.measures["prestart_discharge"].value == pytest.approx(scenario.loads.base_a * hours, rel=0.03)


def test_a_sulphated_battery_decays_slower_and_a_worn_one_sags_deeper():
    sound = simulate(healthy(6)).truth.measures
    slow = simulate(FAULTY["slow_recharge"](6, 14, "battery")).truth.measures
    worn = simulate(FAULTY["worn_battery"](6, 14, "battery")).truth.measures
    assert slow["recharge_time_constant"].value > 2.5 * sound["recharge_time_constant"].value
    assert slow["recharge_settling_time"].value > 2.0 * sound["recharge_settling_time"].value
    assert worn["cranking_voltage"].value < sound["cranking_voltage"].value - 1.0
    assert worn["start_attempts"].value == 3.0


def test_a_never_settling_battery_keeps_taking_current():
    faulty = simulate(FAULTY["never_settles"](6, 14, "battery")).truth.measures["maintenance_current"].value
    assert faulty > 4.0
    assert faulty > 5.0 * simulate(healthy(6)).truth.measures["maintenance_current"].value


def test_a_long_discharge_before_start_is_returned():
    measures = simulate(HEALTHY["ground_radio"](6, 14, "battery")).truth.measures
    drawn = measures["prestart_discharge"].value
    assert drawn > 3.0
    assert measures["recharge_returned"].high > 0.8 * drawn


def test_offline_time_and_discharge_are_those_of_the_fault():
    scenario = healthy(7)
    fault = FieldOpen(from_s=scenario.times.cruise_s + 100.0, to_s=scenario.times.cruise_s + 700.0)
    flight = simulate(scenario.with_fault(fault))
    course = flight.course
    load = np.median(course.load_a[fault.inside(course.time_s)])
    assert flight.truth.measures["offline_time"].value == pytest.approx(10.0, abs=0.05)
    assert flight.truth.measures["offline_discharge"].value == pytest.approx(load / 6.0, rel=0.02)
    assert flight.truth.offline == ((pytest.approx(fault.from_s, abs=1.0), pytest.approx(fault.to_s, abs=1.0)),)


def test_switching_the_alternator_off_for_a_check_is_no_fault():
    truth = simulate(HEALTHY["alternator_check"](7, 14, "battery")).truth
    assert truth.faults == ()
    offline = truth.measures["offline_time"]
    assert offline.value == pytest.approx(20.0 / 60.0, abs=0.05)
    assert offline.low < 0.05


def test_a_regulator_that_waits_for_the_battery_to_come_down_is_not_offline():
    scenario = replace(healthy(7), loads=Loads(base_a=1.0, avionics_a=0.0))
    lower = SetPoint(volts=-0.8, from_s=scenario.times.cruise_s + 300.0)
    flight = simulate(scenario.with_fault(lower))
    assert np.any(flight.course.fed_by == COASTING)
    assert flight.truth.offline == ()
    assert flight.truth.measures["offline_time"].value == 0.0


@pytest.mark.parametrize("charge", [0.95, 0.7, 0.4])
@pytest.mark.parametrize("volts", [14, 28])
def test_true_resting_charge_is_what_the_rested_voltage_implies(volts, charge):
    scenario = healthy(8, volts)
    battery = replace(scenario.battery, charge=charge, surface_charge_v=0.0)
    scenario = replace(scenario, battery=battery, voltmeter=Voltmeter(offset_v=0.0))
    value = simulate(scenario).truth.measures["resting_charge"]
    assert value.value == pytest.approx(100.0 * charge, abs=2.0)


def test_a_late_alternator_is_seen_to_take_the_bus_late():
    truth = simulate(HEALTHY["late_alternator"](7, 14, "battery")).truth
    assert truth.alternator_on_s - truth.engine_start_s == pytest.approx(240.0, abs=2.0)


@pytest.mark.parametrize("attempts", [(2.0,), (3.0, 2.5), (4.0, 4.0, 4.0, 2.0)])
def test_cranking_time_and_attempts_are_those_of_the_plan(attempts):
    scenario = healthy(8)
    scenario = replace(scenario, plan=replace(scenario.plan, starting=Starting(attempts_s=attempts)))
    flight = simulate(scenario)
    assert flight.truth.measures["cranking_time"].value == pytest.approx(sum(attempts))
    assert flight.truth.measures["start_attempts"].value == len(attempts)
    table = simulate(replace(scenario, recorder=Recorder(period_s=0.25))).table
    low = (table["bus_voltage"] < 11.3).to_numpy()
    assert np.sum(np.diff(low.astype(int)) == 1) == len(attempts)
    assert low.sum() * 0.25 == pytest.approx(sum(attempts), abs=0.5 * len(attempts))


@pytest.mark.parametrize("amount", [-0.7, 0.8])
def test_a_shifted_set_point_shifts_the_regulated_voltage_by_as_much(amount):
    sound, shifted = (
        simulate(s).truth.measures["regulated_voltage"].value
        for s in (healthy(9), healthy(9).with_fault(SetPoint(volts=amount)))
    )
    assert shifted - sound == pytest.approx(amount, abs=0.03)


def test_a_drift_shows_as_the_slope_it_was_made_with():
    scenario = healthy(10)
    drift = Drift(volts_per_hour=0.6, from_s=scenario.times.engine_start_s)
    slopes = [simulate(s).truth.measures["regulation_slope"].value for s in (scenario, scenario.with_fault(drift))]
    assert slopes[1] - slopes[0] == pytest.approx(0.6, abs=0.02)


@pytest.mark.parametrize("restless", [False, True])
def test_hunting_widens_the_scatter(restless):
    scenario = healthy(11)
    hunting = scenario.with_fault(Hunting(from_s=scenario.times.take_off_s, restless=restless))
    scatter = [simulate(s).truth.measures["regulation_scatter"].value for s in (scenario, hunting)]
    assert scatter[1] > 5.0 * scatter[0]


@pytest.mark.parametrize("name", ["healthy", "regulator_high", "slow_recharge", "alternator_lost"])
def test_a_28_volt_flight_has_twice_the_volts_of_a_14_volt_flight(name):
    scenario = {**HEALTHY, **FAULTY}[name](12, 14, "battery")
    scenario = replace(scenario, voltmeter=replace(scenario.voltmeter, offset_v=0.0))
    half = replace(scenario.battery, capacity_ah=scenario.battery.capacity_ah / 2)
    small, large = simulate(scenario), simulate(replace(scenario, nominal_voltage=28, battery=half))
    for measure in ("resting_voltage", "regulated_voltage", "cranking_voltage"):
        ratio = large.truth.measures[measure].value / small.truth.measures[measure].value
        assert ratio == pytest.approx(2.0, rel=0.05), measure
    assert large.truth.findings == small.truth.findings


@pytest.mark.parametrize("period", [0.5, 3.0])
def test_truth_does_not_depend_on_how_often_it_was_recorded(period):
    scenario = healthy(13)
    usual = simulate(scenario).truth.measures
    other = simulate(replace(scenario, recorder=Recorder(period_s=period))).truth.measures
    for measure in (
        "recharge_time_constant",
        "regulated_voltage",
        "maintenance_current",
        "recharge_returned",
    ):
        assert other[measure].value == pytest.approx(usual[measure].value, rel=0.02), measure


def test_another_ammeter_changes_no_other_reading():
    scenario = healthy(14)
    battery = simulate(scenario).table.drop("battery_current")
    alternator = simulate(replace(scenario, ammeters=(Ammeter(kind="alternator"),))).table.drop("alternator_current")
    assert battery.equals(alternator)


def test_a_fault_after_the_log_has_ended_or_before_it_began_is_not_claimed():
    scenario = replace(healthy(15), recorder=Recorder(begins="in_flight"))
    fault = FieldOpen(from_s=scenario.times.run_up_s, to_s=scenario.times.run_up_s + 60.0)
    assert simulate(scenario.with_fault(fault)).truth.faults == ()


@pytest.mark.parametrize(("droop_ohm", "path_ohm"), [(0.02, 0.0), (0.005, 0.03)])
def test_true_droop_is_the_fall_of_the_shown_voltage_with_load(droop_ohm, path_ohm):
    scenario = HEALTHY["strobes"](12, 14, "alternator")
    scenario = replace(
        scenario,
        regulator=Regulator(noise_v=0.0, per_degc_v=0.0, droop_ohm=droop_ohm),
        voltmeter=Voltmeter(resolution_v=0.001, noise_v=0.0, path_ohm=path_ohm),
        ammeters=(Ammeter(kind="alternator", resolution_a=0.01, noise_a=0.0, lag_s=0.0),),
    )
    flight = simulate(scenario)
    late = flight.table.filter(flight.table["time_s"].is_between(scenario.times.cruise_s, scenario.times.cruise_end_s))
    measured = -np.polyfit(late["alternator_current"], late["bus_voltage"], 1)[0] * 1000.0
    assert flight.truth.measures["regulation_droop"].value == pytest.approx(1000.0 * (droop_ohm + path_ohm))
    assert measured == pytest.approx(1000.0 * (droop_ohm + path_ohm), rel=0.1)


def test_true_scatter_is_the_standard_deviation_of_normal_noise():
    scenario = replace(healthy(12), regulator=Regulator(noise_v=0.05, per_degc_v=0.0, droop_ohm=0.0))
    assert simulate(scenario).truth.measures["regulation_scatter"].value == pytest.approx(0.05, rel=0.05)


def test_an_engine_too_slow_for_the_alternator_is_not_counted_as_offline():
    scenario = healthy(12)
    scenario = replace(scenario, plan=replace(scenario.plan, idle_rpm=600.0, taxi_rpm=1200.0))
    flight = simulate(scenario.with_fault(FieldOpen()))
    course, times = flight.course, flight.scenario.times
    warm_up = (course.time_s > times.engine_start_s + 10.0) & (course.time_s < times.engine_start_s + 190.0)
    assert np.all(course.battery_a[warm_up] < 0.0)
    assert all(
        begin > times.engine_start_s + 190.0 or end < times.engine_start_s + 10.0 for begin, end in flight.truth.offline
    )
    assert flight.truth.measures["offline_time"].value > 40.0


def test_true_endurance_is_how_long_the_battery_then_lasts():
    # To 10.0 V, 1.67 V a cell, between the 1.75 of the 20-hour and the 1.5 V of the one-hour rating.
    scenario = healthy(12)
    flight = simulate(scenario)
    course, times = flight.course, scenario.times
    flying = (course.time_s > times.take_off_s) & (course.time_s < times.landing_s)
    load, landed = np.median(course.load_a[flying]), np.flatnonzero(flying)[-1]
    state = BatteryState(replace(scenario.battery, charge=course.charge[landed]), 6, scenario.plan.outside_c)
    minutes = 0.0
    while minutes == 0.0 or state.terminal_v > 10.0:
        state.connect(-load, 0.0)
        state.advance(6.0)
        minutes += 0.1
    assert flight.truth.measures["endurance"].value == pytest.approx(minutes, rel=0.05)


def test_noise_of_one_instrument_has_nothing_to_do_with_that_of_another():
    volts, amps = (
        Voltmeter(resolution_v=1e-6, noise_v=0.05),
        Ammeter(resolution_a=1e-6, noise_a=0.5, lag_s=0.0),
    )
    quiet = replace(healthy(12), voltmeter=replace(volts, noise_v=0.0), ammeters=(replace(amps, noise_a=0.0),))
    noisy, still = simulate(replace(quiet, voltmeter=volts, ammeters=(amps,))).table, simulate(quiet).table
    noise = [(noisy[name] - still[name]).to_numpy() for name in ("bus_voltage", "battery_current")]
    assert np.std(noise[0]) == pytest.approx(0.05, rel=0.05)
    assert np.std(noise[1]) == pytest.approx(0.5, rel=0.05)
    assert abs(np.corrcoef(noise)[0, 1]) < 0.05


def test_a_trip_that_another_fault_brings_about_is_known_too():
    scenario = healthy(16)
    high = SetPoint(volts=2.5, from_s=scenario.times.cruise_s)
    truth = simulate(scenario.with_fault(high)).truth
    assert truth.findings == {"regulator_high", "overvoltage_trip"}
    assert len(truth.trips_s) == 1


@pytest.mark.parametrize("channel", ["bus_voltage", "ammeter"])
def test_measures_of_a_misread_voltage_are_called_ambiguous(channel):
    scenario = healthy(17)
    measures = simulate(scenario.with_fault(Spikes(channel=channel))).truth.measures
    assert measures["highest_voltage"].ambiguous == (channel == "bus_voltage")
    assert measures["cranking_voltage"].ambiguous == (channel == "bus_voltage")


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_any_faults_together_still_make_a_flight_whose_currents_balance(data):
    scenario = healthy(data.draw(st.integers(0, 50)), data.draw(st.sampled_from([14, 28])))
    last = scenario.times.master_off_s
    kinds = [
        Sulphated,
        Worn,
        LeftLow,
        FieldOpen,
        Hunting,
        SetPoint,
        Drift,
        OutputFade,
        LooseOutput,
        Runaway,
        Spikes,
    ]
    for kind in data.draw(st.lists(st.sampled_from([*kinds, Spikes]), max_size=4)):
        begin = data.draw(st.floats(0.0, last))
        scenario = scenario.with_fault(kind(from_s=begin, to_s=begin + data.draw(st.floats(1.0, last))))
    flight = simulate(scenario)
    course = flight.course
    running = course.fed_by != STARTER
    difference = course.alternator_a - course.load_a - course.battery_a
    assert np.max(np.abs(difference[running])) < 1e-5
    assert np.all(np.isfinite(course.bus_v))
    assert np.all(np.diff(flight.table["time_s"].to_numpy()) > 0.0)
    assert flight.truth.allowed >= flight.truth.findings
