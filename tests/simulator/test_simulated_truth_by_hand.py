"""What is said to be true of a flight, and how it is written down, against sums on a few rows made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import polars as pl
import pytest

from analyzer.simulator import season
from analyzer.simulator.as_log import as_log
from analyzer.simulator.club import AIRCRAFT
from analyzer.simulator.electrical import BATTERY, LIMITED, REGULATED
from analyzer.simulator.faults import Dropouts, Offset, Spikes, Stuck
from analyzer.simulator.healthy import engine_already_running, healthy, short_hop
from analyzer.simulator.instruments import Ammeter, Voltmeter
from analyzer.simulator.scenarios import HEALTHY
from analyzer.simulator.simulate import SimulatedFlight, simulate
from analyzer.simulator.true_recharge import ranging, steps
from analyzer.simulator.truth import KnownFault, Truth, windows
from analyzer.simulator.writers import COMMA, SEMICOLON, TAB, UTC, csv_text

TIMES = np.array([0.0, 1.0, 2.0, 3.0, 5.0, 6.0])


@pytest.mark.parametrize(
    ("flags", "shortest", "found"),
    [
        pytest.param("011000", 0.0, [(1.0, 3.0)], id="to the first row after it"),
        pytest.param("110011", 0.0, [(0.0, 2.0), (5.0, 6.0)], id="from the first row, and to the last"),
        pytest.param("000000", 0.0, [], id="none"),
        pytest.param("111111", 0.0, [(0.0, 6.0)], id="all"),
        pytest.param("010110", 2.0, [(3.0, 6.0)], id="a second is too short for two"),
        pytest.param("011000", 2.0, [(1.0, 3.0)], id="two seconds are not"),
        pytest.param("000100", 2.0, [(3.0, 5.0)], id="a gap in the rows counts in full"),
    ],
)
def test_runs_of_rows_as_windows(flags, shortest, found):
    """A fault's window that is a row off is one that a right finding misses."""
    assert list(windows(TIMES, np.array([flag == "1" for flag in flags]), shortest)) == found


def test_a_step_lasts_until_the_next_row_and_the_last_one_not_at_all():
    assert steps(TIMES).tolist() == [1.0, 1.0, 1.0, 2.0, 1.0, 0.0]


def test_a_truth_spans_its_honest_definitions_and_some_slack():
    told = ranging(14.1, 14.0, 14.3, slack=0.05)
    assert (told.value, told.low, told.high) == pytest.approx((14.1, 13.95, 14.35))
    alone = ranging(3.0)
    assert (alone.low, alone.high) == (3.0, 3.0)


def fault(finding: str, optional: bool = False) -> KnownFault:
    return KnownFault(
        finding=finding, from_s=0.0, to_s=1.0, accepted=("other",), tolerated=("follows",), optional=optional
    )


def test_what_should_be_found_and_what_is_no_false_alarm():
    truth = Truth(
        nominal_voltage=14, ammeter="battery", sample_period_s=1.0, first_crank_s=None, engine_start_s=None,
        engine_stop_s=None, alternator_on_s=None, trips_s=(), resets_s=(), offline=(), measures={},
        faults=(fault("weak_cranking"), fault("slow_recharge", optional=True)),
    )  # fmt: skip
    assert truth.findings == {"weak_cranking"}
    assert truth.allowed == {"weak_cranking", "slow_recharge", "other", "follows"}


@pytest.fixture(scope="module")
def flown() -> SimulatedFlight:
    """A short flight with both ammeters, without noise or offset."""
    exact = (
        Ammeter(kind="battery", noise_a=0.0, lag_s=0.0, resolution_a=1e-6),
        Ammeter(kind="alternator", noise_a=0.0),
    )
    meter = Voltmeter(noise_v=0.0, resolution_v=1e-6)
    return simulate(replace(short_hop(3), ammeters=exact, voltmeter=meter))


def test_key_times_are_those_of_the_plan(flown):
    times, truth = flown.scenario.times, flown.truth
    assert truth.first_crank_s == pytest.approx(times.cranks[0][0])
    assert truth.engine_start_s == pytest.approx(times.engine_start_s)
    assert truth.engine_stop_s == pytest.approx(times.engine_stop_s)


def test_charge_before_the_start_is_the_sum_of_the_written_amperes(flown):
    """Of a row a second, half of the first and the last step may be missing: half a second of some 3 A."""
    table = flown.table.filter(pl.col("time_s") < flown.truth.first_crank_s)
    summed = -table["battery_current"].sum() / 3600.0
    assert flown.truth.measures["prestart_discharge"].value == pytest.approx(summed, abs=3.0 / 3600.0)


def test_volts_and_amperes_of_the_truth_are_those_that_are_written(flown):
    table, measures = flown.table, flown.truth.measures
    stop = flown.truth.engine_stop_s
    assert measures["highest_voltage"].value == pytest.approx(table["bus_voltage"].max(), abs=1e-5)
    cranking = table.filter(
        (pl.col("time_s") >= flown.truth.first_crank_s) & (pl.col("time_s") < flown.truth.engine_start_s)
    )
    assert measures["cranking_voltage"].value == pytest.approx(cranking["bus_voltage"].min(), abs=1e-5)
    resting = table.filter(pl.col("time_s") < flown.truth.first_crank_s)["bus_voltage"].median()
    assert measures["resting_voltage"].low <= resting + 1e-6 <= measures["resting_voltage"].high + 1e-3
    assert table.filter(pl.col("time_s") > stop + 1.0)["alternator_current"].max() == 0.0


def test_each_source_s_share_of_the_bus_is_told_by_its_current(flown):
    course = flown.course
    assert set(np.unique(course.fed_by)) >= {BATTERY, REGULATED}
    fed = np.isin(course.fed_by, (REGULATED, LIMITED))
    assert (course.alternator_a[fed] > 0.0).all()
    assert (course.battery_a[course.fed_by == BATTERY] <= 0.0).all()


NOW = np.arange(0.0, 20.0)


def distorted(one, value: float = 14.0) -> np.ndarray:
    """Twenty rows of a rising reading with a fault in rows 5 to 14."""
    readings = {"bus_voltage": value + 0.01 * NOW}
    replace(one, from_s=5.0, to_s=15.0).distort(readings, "bus_voltage", NOW, np.random.default_rng(1))
    return readings["bus_voltage"]


@pytest.mark.parametrize(
    ("one", "rows", "value"),
    [
        pytest.param(Stuck(), range(6, 15), 14.05, id="stuck at the value of its first row"),
        pytest.param(Offset(amount=-1.3), range(5, 15), None, id="off by an amount"),
    ],
)
def test_a_fault_of_a_whole_window_changes_its_rows_and_no_other(one, rows, value):
    shown, sound = distorted(one), 14.0 + 0.01 * NOW
    assert np.flatnonzero(shown != sound).tolist() == list(rows)
    changed = shown[rows.start : rows.stop]
    assert changed == pytest.approx(sound[rows.start : rows.stop] - 1.3 if value is None else value)


@pytest.mark.parametrize(
    ("one", "most"),
    [
        pytest.param(Spikes(count=4, value=19.4), 4, id="four single rows"),
        pytest.param(Spikes(count=40, value=19.4), 10, id="no more than there are rows"),
        pytest.param(Dropouts(count=2, rows=3, value=0.0), 6, id="two runs of three, or one over the other"),
    ],
)
def test_a_fault_of_single_rows_strikes_within_its_window(one, most):
    shown = distorted(one)
    struck = np.flatnonzero((shown == 19.4) | (shown == 0.0))
    assert 3 <= struck.size <= most
    assert struck.min() >= 5
    assert struck.max() <= 14
    assert np.count_nonzero(shown != 14.0 + 0.01 * NOW) == struck.size


@pytest.fixture
def written() -> SimulatedFlight:
    """Three rows of an alternator aircraft's readings, one of them blank and one a hair below zero."""
    table = pl.DataFrame(
        {
            "time_s": [0.0, 1.0, 62.5], "bus_voltage": [12.64, 14.05, None], "alternator_current": [-0.04, 21.26, 7.0],
            "engine_speed": [0.0, 2399.6, 2400.0], "outside_air_temperature": [15.0, -3.0, -40.0],
            "airspeed": [0.0, 100.0, 54.0], "altitude": [400.0, 1000.0, 4500.0],
        }
    )  # fmt: skip
    scenario = replace(healthy(3, 14, "alternator"), begins=datetime(2026, 12, 31, 23, 59, 0), tail="N0123X")
    course = known = None
    return SimulatedFlight(scenario=scenario, table=table, course=course, log_begins_s=59.6, known=known)


@pytest.mark.parametrize(
    ("style", "first", "rows"),
    [
        # The log begins 60 s (59.6 rounded) after the master: at midnight.
        pytest.param(
            COMMA, "# Engine and electrical log, aircraft N0123X",
            ["2027-01-01,00:00:00,0,12.6,0.0,15,0,400", "2027-01-01,00:00:01,2400,14.1,21.3,-3,100,1000",
             "2027-01-01,00:01:02,2400,,7.0,-40,54,4500"],
            id="comma",
        ),
        # 100 kt are 185.2 km/h, 54 kt 100.0; 1000 ft are 304.8 m, 4500 ft 1371.6.
        pytest.param(
            SEMICOLON, "Date and time;Main bus;Current;Crankshaft;Air temperature;Airspeed;Height",
            ["01.01.2027 00:00:00;12,64;0,0;0;15;0;122", "01.01.2027 00:00:01;14,05;21,3;2400;-3;185;305",
             "01.01.2027 00:01:02;;7,0;2400;-40;100;1372"],
            id="semicolon, decimal comma, metric",
        ),
        # -3 degC are 26.6 degF, -40 degC -40 degF.
        pytest.param(
            TAB, "Registration: N0123X",
            ["0.00\t0\t12.6\t0.0\t59", "1.00\t2400\t14.1\t21.3\t27", "62.50\t2400\t\t7.0\t-40"],
            id="tab, elapsed, Fahrenheit",
        ),
        pytest.param(
            UTC, "tail=N0123X",
            ["2027-01-01T00:00:00.000Z,400,0,15,0,12.64,0.0", "2027-01-01T00:00:01.000Z,1000,100,-3,2400,14.05,21.3",
             "2027-01-01T00:01:02.500Z,4500,54,-40,2400,,7.0"],
            id="universal time",
        ),
    ],
)  # fmt: skip
def test_three_rows_as_each_recorder_writes_them(written, style, first, rows):
    lines = csv_text(written, style).split(style.line_end)
    assert lines[0] == first
    assert lines[-4:-1] == rows
    assert lines[-1] == ""


def test_a_log_made_without_a_file_has_the_flight_s_clock_and_columns():
    """Ninety seconds after the start, to the second; the recorder's rows follow from there."""
    flight = simulate(engine_already_running(3, 14, "battery"))
    log = as_log(flight, without=("altitude",), untyped=True)
    since = timedelta(seconds=round(flight.scenario.times.engine_start_s + 90.0))
    assert log.table["clock"][0] == flight.scenario.begins + since
    assert (log.table["clock"][10] - log.table["clock"][0]).total_seconds() == log.table["time_s"][10]
    assert "ammeter_current" in log.table.columns
    assert not {"battery_current", "altitude"} & set(log.table.columns)


@pytest.mark.parametrize(
    ("lost", "breaks"),
    [
        # A row a second: with the rows of 900 to 957 s lost, 958 follows 899 by 59 s; with that of 958 by a minute.
        ((900.0, 958.0), ()),
        ((900.0, 959.0), (900,)),
    ],
)
def test_a_gap_of_a_minute_is_a_break_and_one_of_fifty_nine_seconds_is_none(lost, breaks):
    scenario = short_hop(3)
    holed = simulate(replace(scenario, recorder=replace(scenario.recorder, rows_missing=(lost,))))
    assert as_log(holed, seamless=False).breaks == breaks
    assert as_log(holed).breaks == ()


@pytest.mark.parametrize(
    ("tail", "day", "expected"),
    [
        # Weeks from 7 February. N058LF's set point creeps 0.05 V a week from the third on; it is mended on 9 June.
        ("N058LF", datetime(2026, 2, 28), 0.0),
        ("N058LF", datetime(2026, 3, 7), 0.05),
        ("N058LF", datetime(2026, 4, 18), 0.35),
        ("N058LF", datetime(2026, 6, 8, 12), 0.05 * (121.5 / 7 - 3)),
        ("N058LF", datetime(2026, 6, 9), 0.0),
    ],
)
def test_a_set_point_creeps_week_by_week_until_it_is_mended(tail, day, expected):
    usual = healthy(1)
    worn = season._worn(usual, tail, day)
    assert worn.regulator.set_point_v - usual.regulator.set_point_v == pytest.approx(expected)


@pytest.mark.parametrize(("weeks", "aged"), [(6, 0.0), (18, 0.5), (30, 1.0), (40, 1.0)])
def test_a_battery_ages_from_the_sixth_to_the_thirtieth_week(weeks, aged):
    usual = healthy(1)
    worn = season._worn(usual, "N074LF", season.BEGINS + timedelta(weeks=weeks))
    assert worn.battery.health == pytest.approx(1.0 - 0.45 * aged)
    assert worn.battery.resistance_factor == pytest.approx(1.0 + aged)
    assert worn.battery.acceptance_s / usual.battery.acceptance_s == pytest.approx(1.0 + 1.6 * aged)


def test_a_season_flies_every_aircraft_each_week_and_the_named_flights_on_their_days():
    logs = list(season.season())
    names = [name for name, *_ in logs]
    assert len(names) == len(set(names))
    for tail in AIRCRAFT:
        own = [scenario.begins for _, scenario, _ in logs if scenario.tail == tail]
        assert own == sorted(own)
        assert len(own) >= season.WEEKS
        ends = season.BEGINS + timedelta(weeks=season.WEEKS)
        weekly = [begins for begins in own if season.BEGINS <= begins < ends]
        assert max((b - a).days for a, b in pairwise(weekly)) <= 8
    assert all(f"{scenario.begins:%Y-%m-%d}" in name for name, scenario, _ in logs)


def test_every_healthy_scenario_is_without_a_fault():
    assert all(maker(2, 14, "battery").faults == () for maker in HEALTHY.values())
