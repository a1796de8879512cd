"""Plan, loads, starter and faults of a flight, second by second on paper: an hour moved is a window misjudged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.simulator.battery import Battery
from analyzer.simulator.electrical import Conditions
from analyzer.simulator.faults import LeftLow, NeverSettles, PathResistance, Sulphated, SystemFault, Worn
from analyzer.simulator.flight_plan import FlightPlan, Starting, profile, starter_ohm, timeline
from analyzer.simulator.healthy import healthy
from analyzer.simulator.instruments import Voltmeter, rounded
from analyzer.simulator.loads import LoadEvent, Loads
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from analyzer.simulator.system_faults import (
    Drift,
    FieldOpen,
    FullField,
    Hunting,
    IntermittentField,
    LooseOutput,
    NuisanceTrip,
    OutputFade,
    RisingTrip,
    Runaway,
    SenseResistance,
    SetPoint,
)

PLAN = FlightPlan()


def test_the_times_of_the_usual_plan():
    # Master to crank 57.3 s, crank 2.2: engine at 59.5. Warm-up 200 and taxi 240: run-up at 499.5. Run-up 75 and
    # line-up 45: take-off at 619.5. Take-off 25 and climb 540: cruise at 1184.5. Cruise 2280: descent at 3464.5.
    # Descent 540 and final 80: landing at 4084.5. Landing 25 and taxi 200: engine off at 4309.5; master 25 s later.
    times = timeline(PLAN)
    told = (times.engine_start_s, times.run_up_s, times.take_off_s, times.cruise_s, times.cruise_end_s)
    assert told == pytest.approx((59.5, 499.5, 619.5, 1184.5, 3464.5))
    assert (times.landing_s, times.engine_stop_s, times.master_off_s) == pytest.approx((4084.5, 4309.5, 4334.5))


def test_attempts_follow_each_other_after_the_pause_and_the_last_starts_the_engine():
    # 10 to 12, eight seconds' pause, 20 to 23, pause, 31 to 32.5.
    times = timeline(replace(PLAN, before_start_s=10.0, starting=Starting(attempts_s=(2.0, 3.0, 1.5), pause_s=8.0)))
    assert times.cranks == ((10.0, 12.0), (20.0, 23.0), (31.0, 32.5))
    assert times.engine_start_s == 32.5


def test_a_circuit_takes_five_minutes_and_a_half_and_leaves_the_first_take_off_where_it_was():
    # Climb 90, downwind 110, final 100, ground roll 14, take-off 20: 334 s each.
    usual, circuits = timeline(PLAN), timeline(replace(PLAN, touch_and_goes=3))
    assert circuits.take_off_s == usual.take_off_s
    assert circuits.engine_stop_s - usual.engine_stop_s == pytest.approx(3 * 334.0)


@pytest.mark.parametrize(
    ("minute", "rpm", "feet", "knots", "celsius"),
    [
        # Heights run straight from leg's end to leg's end; the field lies at 400 ft, air loses 1.98 degC in 1000 ft.
        pytest.param(0.5, 0.0, 400.0, 0.0, 15.0, id="before the start"),
        pytest.param(5.0, 1150.0, 400.0, 0.0, 15.0, id="taxiing"),
        pytest.param(9.0, 1800.0, 400.0, 0.0, 15.0, id="run-up"),
        pytest.param((644.5 + 270.0) / 60, 2500.0, 400.0 + 2050.0, 80.0, 15.0 - 4.059, id="half-way up"),
        pytest.param(30.0, 2400.0, 4500.0, 108.0, 15.0 - 8.118, id="cruise"),
        pytest.param((3464.5 + 270.0) / 60, 2150.0, 400.0 + 2350.0, 100.0, 15.0 - 4.653, id="half-way down"),
        pytest.param(72.2, 0.0, 400.0, 0.0, 15.0, id="engine off"),
    ],
)
def test_engine_and_air_along_the_flight(minute, rpm, feet, knots, celsius):
    time_s = np.arange(0.0, 4336.0, 1.0)
    flown = profile(PLAN, time_s, np.random.default_rng(1))
    row = round(60 * minute)
    # Engine speed wanders by 2.5 % of itself on the ground and 0.4 % in the air, in ordinary deviations: 4 of them.
    assert flown.rpm[row] == pytest.approx(rpm, rel=0.1 if rpm < 2000.0 else 0.016)
    assert flown.altitude_ft[row] == pytest.approx(feet, abs=5.0)
    assert flown.airspeed_kt[row] == pytest.approx(knots, abs=0.01)
    assert flown.outside_c[row] == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize(
    ("at", "rpm", "feet", "knots"),
    [
        # Take-off from 619.5 to 644.5; climb 90 s, downwind 110, final 100, ground roll 14, take-off 20.
        pytest.param(640.0, 2600.0, 400.0, 62.0, id="take-off"),
        pytest.param(734.0, 2550.0, 1394.4, 75.0, id="end of the climb: half a second below 1000 ft"),
        pytest.param(840.0, 2250.0, 1400.0, 90.0, id="downwind"),
        pytest.param(894.0, 1500.0, 905.0, 65.0, id="half-way down the final: 49.5 of 100 s"),
        pytest.param(956.0, 1050.0, 400.0, 46.746, id="ground roll: 20 kt lost in 12.6 s, after 11.5 of them"),
        pytest.param(975.0, 2600.0, 400.0, 62.0, id="take-off again"),
    ],
)
def test_engine_and_air_along_a_circuit(at, rpm, feet, knots):
    time_s = np.arange(0.0, 1100.0, 1.0)
    flown = profile(replace(PLAN, touch_and_goes=1), time_s, np.random.default_rng(1))
    row = round(at)
    assert flown.rpm[row] == pytest.approx(rpm, rel=0.1 if rpm < 2000.0 else 0.016)
    assert flown.altitude_ft[row] == pytest.approx(feet, abs=6.0)
    assert flown.airspeed_kt[row] == pytest.approx(knots, abs=0.01)


@pytest.mark.parametrize(("since", "rpm"), [(0.0, 1150.0), (2.0, 1475.0), (4.0, 1800.0), (10.0, 1800.0)])
def test_the_engine_takes_four_seconds_from_one_speed_to_the_next(since, rpm):
    # From taxiing, 1150, to the run-up, 1800, which begins at 499.5 s; its wander is drawn, so that many are asked.
    at = 499.5 + since
    drawn = [profile(PLAN, np.array([at]), np.random.default_rng(seed)).rpm[0] for seed in range(400)]
    assert np.mean(drawn) == pytest.approx(rpm, rel=0.006)
    assert np.std(drawn) / rpm < 0.03


def test_a_starter_turns_the_engine_at_a_fiftieth_of_its_flying_speed():
    # 150 rpm, reached e-fold in 0.2 s: 94.8 rpm (63.2 %) then, 149.0 a second after (99.3 %).
    begin = PLAN.before_start_s
    time_s = np.array([begin - 0.1, begin, begin + 0.2, begin + 1.0, begin + 5.0])
    assert profile(PLAN, time_s, np.random.default_rng(1)).rpm[:4] == pytest.approx([0.0, 0.0, 94.82, 148.99], abs=0.01)


@pytest.mark.parametrize(("volts", "factor"), [(14, 1.0), (28, 4.0)])
def test_a_starter_s_resistance_grows_from_stalled_to_turning(volts, factor):
    # The same power from twice the volts is half the current: four times the ohms. Whole turns of the piston's 8 a
    # second leave the mean: 30 mohm stalled, 30 + 28 x 0.632 = 47.70 at 0.12 s but for the ripple, 58 in the end.
    starting, window = Starting(), ((10.0, 12.0),)
    time_s = np.array([9.99, 10.0, 10.125, 11.0, 11.5, 12.0])
    ohm = starter_ohm(starting, window, time_s, volts) / factor
    assert ohm[[0, 5]].tolist() == [0.0, 0.0]
    assert 1000.0 * ohm[1] == pytest.approx(30.0)
    assert 1000.0 * ohm[2] == pytest.approx(30.0 + 28.0 * (1.0 - np.exp(-0.125 / 0.12)), abs=0.01)
    assert 1000.0 * ohm[3:5] == pytest.approx([58.0, 58.0], abs=0.02)


def test_pistons_make_the_starter_s_resistance_swing_by_eight_percent_eight_times_a_second():
    time_s = 10.0 + np.arange(1.0, 2.0, 0.001)
    ohm = 1000.0 * starter_ohm(Starting(), ((10.0, 13.0),), time_s, 14)
    assert (ohm.min(), ohm.max()) == pytest.approx((0.92 * 58.0, 1.08 * 58.0), abs=0.05)
    assert np.sum((ohm[1:] >= 58.0) & (ohm[:-1] < 58.0)) in (7, 8)


@pytest.mark.parametrize(
    ("at", "amps"),
    [
        pytest.param(99.9, 3.0, id="before the engine's half minute is over: base load"),
        pytest.param(100.0, 9.0, id="avionics on"),
        pytest.param(499.9, 9.0, id="a row before the light"),
        pytest.param(500.0, 16.0, id="light on"),
        pytest.param(559.9, 16.0, id="its last row"),
        pytest.param(560.0, 9.0, id="light off"),
        pytest.param(969.9, 9.0, id="avionics' last row"),
        pytest.param(970.0, 3.0, id="half a minute before the engine stops"),
    ],
)
def test_load_at_each_switching(at, amps):
    light = LoadEvent(name="light", amps=7.0, from_s=500.0, to_s=560.0)
    loads = Loads(base_a=3.0, avionics_a=6.0, avionics_after_start_s=30.0, events=(light,))
    assert loads.current(np.array([at]), 70.0, 1000.0) == pytest.approx(amps)


@pytest.mark.parametrize(
    ("at", "on"),
    [
        (10.0, True),
        (10.59, True),
        (10.61, False),
        (11.99, False),
        (12.0, True),
        (12.7, False),
        (19.99, False),
        (20.0, False),
    ],
)
def test_a_strobe_draws_current_for_its_share_of_each_period(at, on):
    # Every 2 s from the tenth second for 0.6 s, until the twentieth.
    strobe = LoadEvent(name="strobe", amps=6.0, from_s=10.0, to_s=20.0, period_s=2.0, duty=0.3)
    assert strobe.current(np.array([at])).tolist() == [6.0 if on else 0.0]


@pytest.mark.parametrize(
    ("value", "resolution", "shown"),
    [
        (13.949, 0.1, 13.9), (13.951, 0.1, 14.0), (13.97, 0.05, 13.95), (13.98, 0.05, 14.0), (-3.26, 0.1, -3.3),
        (-3.24, 0.1, -3.2), (7.3, 2.0, 8.0), (6.9, 2.0, 6.0), (0.4, 1.0, 0.0),
    ],
)  # fmt: skip
def test_a_meter_shows_the_nearest_of_its_steps(value, resolution, shown):
    assert float(rounded(np.array([value]), resolution)[0]) == pytest.approx(shown)


def imposed(fault: SystemFault, factor: float = 1.0, rows: int = 100) -> Conditions:
    """The conditions of a hundred rows of a second with a fault written into them."""
    conditions = Conditions(
        time_s=np.arange(float(rows)), load_a=np.full(rows, 20.0), starter_ohm=np.zeros(rows),
        limit_a=np.full(rows, 60.0), set_point_v=np.full(rows, 14.0 * factor), field_closed=np.ones(rows, dtype=bool),
        full_field=np.zeros(rows, dtype=bool), connected=np.ones(rows, dtype=bool), sense_ohm=np.zeros(rows),
        around_battery_c=np.full(rows, 25.0), droop_ohm=0.0,
    )  # fmt: skip
    fault.disturb(conditions, factor, np.random.default_rng(1))
    return conditions


WINDOW = {"from_s": 20.0, "to_s": 40.0}


@pytest.mark.parametrize("factor", [1.0, 2.0])
@pytest.mark.parametrize(
    ("fault", "volts_at"),
    [
        # Volts of a 14 V system, by row; twice as many in one of 28 V.
        pytest.param(SetPoint(volts=0.9, **WINDOW), {19: 0.0, 20: 0.9, 39: 0.9, 40: 0.0}, id="set point high"),
        pytest.param(SetPoint(volts=-0.7, **WINDOW), {19: 0.0, 20: -0.7, 39: -0.7, 40: 0.0}, id="set point low"),
        pytest.param(
            Runaway(volts_per_s=0.3, **WINDOW), {19: 0.0, 20: 0.0, 30: 3.0, 39: 5.7, 40: 0.0}, id="running away"
        ),
        pytest.param(
            Drift(volts_per_hour=360.0, **WINDOW), {20: 0.0, 30: 1.0, 40: 2.0, 90: 2.0}, id="drifts and stays"
        ),
        pytest.param(
            RisingTrip(volts=1.2, **WINDOW), {20: 0.0, 30: 0.6, 39: 1.14, 40: 0.0}, id="rises by 1.2 in twenty"
        ),
        pytest.param(
            Hunting(volts=0.4, period_s=8.0, **WINDOW), {20: 0.0, 22: 0.4, 24: 0.0, 26: -0.4, 40: 0.0}, id="hunts"
        ),
    ],
)
def test_what_a_fault_makes_of_the_set_point(fault, volts_at, factor):
    set_point = imposed(fault, factor).set_point_v
    told = {row: float(set_point[row]) - 14.0 * factor for row in volts_at}
    assert told == pytest.approx({row: factor * volts for row, volts in volts_at.items()}, abs=1e-9)


@pytest.mark.parametrize(
    ("fault", "limit_at"),
    [
        # From 60 A to a fifth within ten seconds: 60 - 4.8 a second.
        (
            OutputFade(to_fraction=0.2, over_s=10.0, **WINDOW),
            {19: 60.0, 20: 60.0, 25: 36.0, 30: 12.0, 39: 12.0, 40: 60.0},
        ),
        (OutputFade(to_fraction=0.5, over_s=0.0, **WINDOW), {19: 60.0, 21: 30.0, 39: 30.0, 40: 60.0}),
    ],
)
def test_what_a_fading_alternator_gives(fault, limit_at):
    limit = imposed(fault).limit_a
    assert {row: float(limit[row]) for row in limit_at} == pytest.approx(limit_at)


@pytest.mark.parametrize(
    ("fault", "column"),
    [(FieldOpen(**WINDOW), "field_closed"), (FullField(**WINDOW), "full_field")],
)
def test_a_field_is_open_or_full_from_the_first_row_of_its_window_to_the_last(fault, column):
    changed = getattr(imposed(fault), column) != getattr(imposed(SetPoint(volts=0.0)), column)
    assert np.flatnonzero(changed).tolist() == list(range(20, 40))


@pytest.mark.parametrize("factor", [1.0, 2.0])
def test_a_sense_wire_s_resistance_is_twice_as_large_in_a_system_of_twice_the_volts(factor):
    ohm = imposed(SenseResistance(ohm=0.45, **WINDOW), factor).sense_ohm
    assert {row: float(ohm[row]) for row in (19, 20, 39, 40)} == pytest.approx(
        {19: 0.0, 20: 0.45 * factor, 39: 0.45 * factor, 40: 0.0}
    )


@pytest.mark.parametrize(("fault", "at"), [(NuisanceTrip(from_s=20.0), 20.0), (RisingTrip(**WINDOW), 40.0)])
def test_a_trip_is_asked_for_at_its_moment(fault, at):
    assert imposed(fault).nuisance_trips_s == [at]


@pytest.mark.parametrize("seed", range(5))
def test_a_brush_that_makes_contact_at_times_is_off_for_a_quarter_minute_and_on_for_half_a_minute_at_least(seed):
    conditions = imposed(IntermittentField(off_s=40.0, on_s=60.0), rows=1).field_closed
    assert conditions.tolist() == [True]  # a flight of no length has no room for it
    rows = 5000
    flown = imposed(SetPoint(volts=0.0), rows=rows)
    IntermittentField(off_s=40.0, on_s=60.0, from_s=100.0, to_s=4500.0).disturb(flown, 1.0, np.random.default_rng(seed))
    edges = np.flatnonzero(np.diff(flown.field_closed.astype(int)))
    assert edges[0] == 99
    lengths = np.diff(edges)
    assert lengths[0::2][:-1].min() >= 15 - 1  # the window's end may cut the last one short
    assert lengths[1::2].min() >= 30 - 1
    assert flown.field_closed[4500:].all()
    assert 0.2 < 1.0 - flown.field_closed[100:4500].mean() < 0.6  # 40 s in 100, give or take chance


@pytest.mark.parametrize("seed", range(5))
def test_a_loose_terminal_is_off_for_moments_and_never_twice_within_three_of_them(seed):
    flown = imposed(SetPoint(volts=0.0), rows=8000)
    LooseOutput(every_s=45.0, open_s=5.0, from_s=1000.0, to_s=7000.0).disturb(flown, 1.0, np.random.default_rng(seed))
    off = np.flatnonzero(~flown.connected)
    begins = off[np.diff(off, prepend=-10) > 1]
    assert begins[0] >= 1000
    assert np.diff(begins).min() >= 15 - 1
    assert off[-1] < 7000 + 8
    # About every 45 s for about 5 s.
    assert 0.06 < off.size / 6000 < 0.18
    assert flown.field_closed.all()


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        pytest.param(
            Sulphated(slower=4.0, charge=0.93),
            {"acceptance_s": 600.0, "charge": 0.93, "recent_fraction": 0.5},
            id="sulphated",
        ),
        pytest.param(NeverSettles(gassing_a=8.0), {"shorted_cells": 0.2, "gassing_a": 8.0}, id="never settles"),
        pytest.param(NeverSettles(gassing_a=0.1), {"gassing_a": 0.45}, id="never gasses less than before"),
        pytest.param(Worn(), {"health": 0.45, "resistance_factor": 2.3}, id="worn"),
        pytest.param(LeftLow(charge=0.3), {"charge": 0.3, "recent_fraction": 0.7}, id="left low"),
    ],
)
def test_what_a_fault_makes_of_the_battery(fault, expected):
    altered = fault.alter(Battery())
    assert {name: getattr(altered, name) for name in expected} == pytest.approx(expected)
    assert altered.capacity_ah == 34.0


def test_a_sulphated_battery_that_was_low_already_stays_as_low():
    assert Sulphated(charge=0.93).alter(Battery(charge=0.6)).charge == 0.6


def test_two_corroded_joints_in_the_same_wire_add_up():
    meter = PathResistance(ohm=0.04).refit(PathResistance(ohm=0.06).refit(Voltmeter()))
    assert meter.path_ohm == pytest.approx(0.1)


@pytest.mark.parametrize("name", sorted({*HEALTHY, *FAULTY}))
def test_every_scenario_gives_the_same_flight_by_the_same_seed_and_keeps_its_aircraft(name):
    """A scenario that draws its numbers in another order would change every flight made from it."""
    maker = {**HEALTHY, **FAULTY}[name]
    one, again = maker(5, 28, "alternator"), maker(5, 28, "alternator")
    assert one == again
    assert one.nominal_voltage == 28
    assert [meter.kind for meter in one.ammeters][:1] == ["alternator"]
    assert one.times.engine_start_s < one.times.take_off_s < one.times.landing_s < one.times.engine_stop_s


@pytest.mark.parametrize("seed", range(12))
def test_a_sound_aircraft_is_drawn_from_what_is_ordinary(seed):
    for volts, sizes in ((14, (26.0, 30.0, 34.0)), (28, (17.0, 24.0))):
        drawn = healthy(seed, volts)
        assert drawn.battery.capacity_ah in sizes
        assert drawn.alternator.rated_a in (60.0, 70.0)
        assert 0.96 <= drawn.battery.charge <= 0.995
        assert 13.95 <= drawn.regulator.set_point_v <= 14.2
        assert abs(drawn.voltmeter.offset_v) <= 0.03
