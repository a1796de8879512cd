"""What meters and recorder make of the course of things."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analyzer.simulator import Ammeter, Recorder, Voltmeter, simulate
from analyzer.simulator.faults import Dropouts, Offset, PathResistance, Spikes, Stuck
from analyzer.simulator.healthy import healthy
from analyzer.simulator.instruments import lagged

ROOT = Path(__file__).resolve().parents[2]
EXACT = Voltmeter(resolution_v=0.001, noise_v=0.0)


def course_at_rows(flight, name):
    places = np.searchsorted(flight.course.time_s, flight.table["time_s"].to_numpy() + flight.log_begins_s)
    return getattr(flight.course, name)[places]


@pytest.mark.parametrize("resolution", [0.01, 0.05, 0.1])
def test_volts_are_whole_steps_of_the_resolution(resolution):
    flight = simulate(replace(healthy(1), voltmeter=Voltmeter(resolution_v=resolution)))
    steps = flight.table["bus_voltage"].to_numpy() / resolution
    assert steps == pytest.approx(np.round(steps), abs=1e-6)


@pytest.mark.parametrize(("kind", "truth"), [("battery", "battery_a"), ("alternator", "alternator_a")])
def test_each_ammeter_kind_shows_its_own_current_with_offset_and_gain(kind, truth):
    meter = Ammeter(kind=kind, resolution_a=0.01, offset_a=-0.8, gain=1.05, noise_a=0.0, lag_s=0.0)
    flight = simulate(replace(healthy(2), ammeters=(meter,)))
    shown = flight.table[f"{kind}_current"].to_numpy()
    assert shown == pytest.approx(1.05 * course_at_rows(flight, truth) - 0.8, abs=0.006)


def test_before_start_the_battery_kind_is_negative_and_the_alternator_kind_is_zero():
    both = (Ammeter(kind="battery", noise_a=0.0), Ammeter(kind="alternator", noise_a=0.0))
    flight = simulate(replace(healthy(3), ammeters=both))
    before = flight.table.filter(flight.table["time_s"] < flight.truth.first_crank_s - 1.0)
    assert before["battery_current"].max() < -1.0
    assert before["alternator_current"].to_list() == [0.0] * before.height


def test_at_a_load_step_the_alternator_kind_steps_and_the_battery_kind_hardly_moves():
    both = (Ammeter(kind="battery"), Ammeter(kind="alternator"))
    scenario = replace(healthy(4), ammeters=both)
    light = scenario.loads.events[0]
    table = simulate(scenario).table
    after, before = (
        table.filter((table["time_s"] > at) & (table["time_s"] < at + 20.0))
        for at in (light.from_s + 2, light.from_s - 22)
    )
    stepped = after["alternator_current"].median() - before["alternator_current"].median()
    moved = after["battery_current"].median() - before["battery_current"].median()
    assert stepped == pytest.approx(light.amps, abs=0.6)
    assert abs(moved) < 1.0


@pytest.mark.parametrize("period", [0.25, 0.5, 1.0, 2.0, 6.0])
def test_rows_come_at_the_recorder_period_and_show_the_same_flight(period):
    scenario = replace(healthy(5), voltmeter=EXACT, recorder=Recorder(period_s=period))
    flight = simulate(scenario)
    assert np.unique(np.round(np.diff(flight.table["time_s"].to_numpy()), 6)).tolist() == [period]
    assert flight.table["bus_voltage"].to_numpy() == pytest.approx(course_at_rows(flight, "bus_v"), abs=6e-4)


def test_a_slow_recorder_misses_the_deepest_of_the_crank():
    scenario = replace(healthy(6), voltmeter=EXACT)
    lowest = {
        p: simulate(replace(scenario, recorder=Recorder(period_s=p))).table["bus_voltage"].min() for p in (0.25, 6.0)
    }
    assert lowest[0.25] < lowest[6.0]


@pytest.mark.parametrize("begins", ["engine_running", "in_flight"])
def test_a_log_may_begin_late_and_says_so(begins):
    scenario = replace(healthy(7), recorder=Recorder(begins=begins))
    flight = simulate(scenario)
    assert flight.table["engine_speed"][0] > 600.0
    assert flight.truth.first_crank_s is None
    assert flight.truth.engine_start_s is None
    assert flight.truth.measures["resting_voltage"].because is not None
    whole = simulate(healthy(7)).truth
    assert flight.truth.engine_stop_s == pytest.approx(whole.engine_stop_s - flight.log_begins_s)


def test_missing_rows_are_missing_and_nothing_else_changes():
    scenario = healthy(8)
    whole = simulate(scenario).table
    holed = simulate(replace(scenario, recorder=replace(scenario.recorder, rows_missing=((900.0, 960.0),)))).table
    kept = whole.filter((whole["time_s"] < 900.0) | (whole["time_s"] >= 960.0))
    assert holed.equals(kept)
    assert whole.height - holed.height == 60


TWO_AMMETERS = """
from dataclasses import replace
from analyzer.simulator import Ammeter, Recorder, simulate
from analyzer.simulator.healthy import healthy
both = (Ammeter(kind="battery"), Ammeter(kind="alternator"))
table = simulate(replace(healthy(9), ammeters=both, recorder=Recorder(rows_after_power_off=20))).table
print(table.tail(21).rows())
"""


def test_two_ammeters_show_the_same_nonsense_in_every_process():
    """Sets of names are gone through in another order by each process, as its hashes are salted."""
    told = {
        subprocess.run(
            [sys.executable, "-c", TWO_AMMETERS],
            env=os.environ | {"PYTHONHASHSEED": salt},
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for salt in ("1", "2", "3", "4")
    }
    assert len(told) == 1


def test_as_power_goes_off_amperes_are_nonsense_for_two_rows_and_volts_are_zero():
    flight = simulate(replace(healthy(9), recorder=Recorder(rows_after_power_off=20)))
    last = flight.table.tail(20)
    assert last["bus_voltage"].to_list() == [0.0] * 20
    assert last["battery_current"].to_list()[2:] == [0.0] * 18
    assert max(abs(value) for value in last["battery_current"].to_list()[:2]) > 20.0
    assert flight.table.height == simulate(healthy(9)).table.height + 20


def test_a_second_bus_is_a_column_of_its_own():
    flight = simulate(replace(healthy(10), recorder=Recorder(second_bus=Voltmeter(offset_v=-0.5, noise_v=0.0))))
    difference = flight.table["bus_voltage"] - flight.table["bus_voltage_2"]
    assert difference.median() == pytest.approx(0.5, abs=0.11)


@pytest.mark.parametrize("step_s", [0.01, 1.0, 2.0])
def test_a_lagging_meter_follows_a_step_exponentially_on_any_grid(step_s):
    time_s = np.arange(0.0, 20.0, step_s)
    shown = lagged(np.where(time_s > 0.0, 1.0, 0.0), time_s, 2.0)
    assert shown == pytest.approx(1.0 - np.exp(-time_s / 2.0), abs=1e-9)


def window(scenario):
    return {"from_s": scenario.times.cruise_s, "to_s": scenario.times.cruise_end_s}


@pytest.mark.parametrize("channel", ["bus_voltage", "ammeter"])
@pytest.mark.parametrize("kind", [Stuck, Spikes, Dropouts, Offset])
def test_a_reading_fault_changes_its_own_column_within_its_window_and_no_truth(kind, channel):
    scenario = healthy(11)
    fault = kind(channel=channel, **window(scenario))
    sound, faulty = simulate(scenario), simulate(scenario.with_fault(fault))
    column = "bus_voltage" if channel == "bus_voltage" else "battery_current"
    changed = ~(sound.table[column].eq_missing(faulty.table[column])).to_numpy()
    inside = fault.inside(sound.table["time_s"].to_numpy())
    assert changed.any()
    assert not changed[~inside].any()
    assert sound.table.drop(column).equals(faulty.table.drop(column))
    assert np.array_equal(sound.course.bus_v, faulty.course.bus_v)
    assert faulty.truth.findings == {"reading_fault"}


def test_dropouts_may_be_blanks():
    scenario = healthy(12)
    table = simulate(scenario.with_fault(Dropouts(value=None, count=5, rows=4, **window(scenario)))).table
    assert 4 <= table["bus_voltage"].null_count() <= 20


def test_resistance_on_the_way_to_the_voltmeter_reads_low_by_load_times_resistance():
    scenario = replace(healthy(13), voltmeter=EXACT)
    flight = simulate(scenario.with_fault(PathResistance(ohm=0.1)))
    low = course_at_rows(flight, "bus_v") - flight.table["bus_voltage"].to_numpy()
    assert low == pytest.approx(0.1 * course_at_rows(flight, "load_a"), abs=6e-4)
