"""The bus against Ohm's and Kirchhoff's laws on paper: a wrong volt here would be taught as truth to every test of it.

A full 34 Ah battery of 12 V stands on a bus whose load, set point and limit are given second by second.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.simulator.alternator import Alternator, OvervoltageProtection
from analyzer.simulator.battery import Battery, BatteryState
from analyzer.simulator.electrical import BATTERY, COASTING, LIMITED, REGULATED, STARTER, Conditions, Course, run

FULL = Battery(capacity_ah=34.0, charge=1.0, surface_charge_v=0.0)


def course(
    rows: int = 10,
    step_s: float = 1.0,
    *,
    volts: int = 14,
    battery: Battery = FULL,
    protection: OvervoltageProtection | None = None,
    droop_ohm: float = 0.0,
    nuisance_s: tuple[float, ...] = (),
    **given: object,
) -> Course:
    """What happens in so many rows; an array or number for any of the conditions, ordinary ones for the rest."""
    usual = {
        "load_a": 20.0, "starter_ohm": 0.0, "limit_a": 60.0, "set_point_v": 14.0 * volts / 14, "field_closed": True,
        "full_field": False, "connected": True, "sense_ohm": 0.0, "around_battery_c": 25.0,
    }  # fmt: skip
    arrays = {
        name: np.full(rows, value) if np.ndim(value) == 0 else np.asarray(value)
        for name, value in (usual | given).items()
    }
    conditions = Conditions(
        time_s=np.round(np.arange(rows) * step_s, 6), droop_ohm=droop_ohm, nuisance_trips_s=list(nuisance_s), **arrays
    )
    state = BatteryState(battery, 12 if volts == 28 else 6, 25.0)
    return run(conditions, state, protection or OvervoltageProtection(), volts)


def steps(*pairs: tuple[int, float]) -> np.ndarray:
    """A value for so many rows, then the next."""
    return np.concatenate([np.full(rows, value) for rows, value in pairs])


def test_a_bus_that_is_regulated_stands_at_its_set_point_and_the_alternator_carries_load_and_charge():
    flown = course()
    assert flown.fed_by.tolist() == [REGULATED] * 10
    assert flown.bus_v == pytest.approx(14.0, abs=1e-6)
    assert flown.alternator_a == pytest.approx(20.0 + flown.battery_a)
    assert np.all(flown.battery_a > 0.0)


@pytest.mark.parametrize("load", [10.0, 40.0])
@pytest.mark.parametrize("droop", [0.004, 0.02])
def test_a_bus_falls_by_the_droop_times_the_alternator_s_current(load, droop):
    flown = course(droop_ohm=droop, load_a=load)
    assert flown.bus_v == pytest.approx(14.0 - droop * (load + flown.battery_a), abs=1e-6)


@pytest.mark.parametrize(
    ("load", "fed_by", "battery_a"),
    [
        pytest.param(30.0, LIMITED, 0.0, id="exactly what it gives: nothing charges"),
        pytest.param(30.5, LIMITED, -0.5, id="half an ampere more: the battery gives it"),
        pytest.param(50.0, LIMITED, -20.0, id="far more"),
        pytest.param(29.5, LIMITED, 0.5, id="half an ampere less: that charges"),
    ],
)
def test_what_a_limited_alternator_cannot_give_comes_out_of_the_battery(load, fed_by, battery_a):
    """The shortfall is the measure's truth; a sign the wrong way round would charge a battery that is drained."""
    flown = course(3, load_a=load, limit_a=30.0, battery=replace(FULL, charge=0.8))
    assert flown.fed_by.tolist() == [fed_by] * 3
    assert flown.alternator_a == pytest.approx(30.0)
    assert flown.battery_a == pytest.approx(battery_a)


def test_what_a_limited_alternator_has_left_keeps_the_bus_below_its_set_point():
    flown = course(3, load_a=25.0, limit_a=30.0, battery=replace(FULL, charge=0.5))
    assert np.all(flown.bus_v < 14.0)
    assert flown.battery_a == pytest.approx(5.0)


@pytest.mark.parametrize(
    "off",
    [
        pytest.param({"field_closed": False}, id="field open"),
        pytest.param({"connected": False}, id="output lead off"),
        pytest.param({"limit_a": 0.0}, id="engine stopped"),
    ],
)
def test_a_battery_alone_gives_all_of_the_load(off):
    flown = course(600, load_a=12.0, **off)
    assert flown.fed_by.tolist() == [BATTERY] * 600
    assert flown.battery_a == pytest.approx(-12.0)
    assert flown.alternator_a == pytest.approx(0.0)
    # Ten minutes of 12 A are 2 Ah, less what the surface layer gave; each row stands at its beginning.
    drawn = flown.missing_ah[-1] - flown.missing_ah[0] + flown.surface_ah[0] - flown.surface_ah[-1]
    assert drawn == pytest.approx(12.0 * 599 / 3600, rel=0.005)


@pytest.mark.parametrize("load", [0.0, 15.0])
def test_a_starter_is_a_resistance_across_what_the_battery_holds(load):
    # The first instant: 12.64796 V behind plates (7.2 mohm) and reaction (3.6), 0.05 ohm of starter. Without load
    # 12.648 / 0.0608 = 208.0 A and 10.40 V; the surface layer beside the reaction, 144 mohm, lowers its share a little.
    flown = course(1, starter_ohm=0.05, load_a=load)
    taken = -float(flown.battery_a[0]) - load
    assert flown.fed_by[0] == STARTER
    assert flown.bus_v[0] == pytest.approx(taken * 0.05, rel=1e-6)
    if not load:
        assert taken == pytest.approx(208.0, rel=0.005)
        assert flown.bus_v[0] == pytest.approx(10.40, abs=0.05)


def test_a_starter_finds_the_battery_as_a_minute_of_radio_has_left_it():
    # Sixty rows of 10 A polarise the acid by some 37 mV, which the starter lacks: Ohm's law holds at its terminals.
    flown = course(61, field_closed=False, load_a=steps((60, 10.0), (1, 0.0)), starter_ohm=steps((60, 0.0), (1, 0.05)))
    fresh = course(1, field_closed=False, load_a=0.0, starter_ohm=0.05)
    assert flown.bus_v[-1] == pytest.approx(-flown.battery_a[-1] * 0.05, rel=1e-6)
    assert flown.bus_v[-1] < fresh.bus_v[0] - 0.037 * 0.8


@pytest.mark.parametrize(
    ("set_v", "load", "fed_by"),
    [
        pytest.param(12.3, 0.5, COASTING, id="the battery holds more than the set point at this load"),
        pytest.param(12.3, 80.0, REGULATED, id="a load that pulls the battery below it wakes the regulator"),
    ],
)
def test_a_regulator_lets_go_while_the_battery_holds_more_than_it_asks(set_v, load, fed_by):
    flown = course(1, set_point_v=set_v, load_a=load, limit_a=100.0)
    assert flown.fed_by[0] == fed_by
    assert (flown.alternator_a[0] == 0.0) == (fed_by == COASTING)


@pytest.mark.parametrize(("volts", "ohm"), [(14, 0.5), (28, 0.5)])
def test_a_resistance_in_the_field_s_wire_lifts_the_bus_by_the_field_s_current(volts, ohm):
    # At half the output of 60 A the field takes 0.5 + 2.5 x 0.5 = 1.75 A; 0.5 ohm lift the bus by 0.875 V. The field
    # answers to the output of the row before, which has settled by the last rows.
    flown = course(2000, volts=volts, sense_ohm=ohm, load_a=30.0 - 1.0)
    part = 0.5 + 2.5 * flown.alternator_a[-2] / 60.0
    assert part == pytest.approx(1.75, abs=0.1)
    assert flown.bus_v[-1] - volts == pytest.approx(ohm * part, abs=1e-4)


def test_a_field_fully_on_brings_the_output_up_by_a_fifth_of_what_lacks_every_twenty_milliseconds():
    # The field's time constant is 0.1 s: from 20 A (nothing charges) to 60 A in steps of 20 ms: 28, 34.4, 39.52.
    flown = course(4, 0.02, load_a=20.0, full_field=[False, True, True, True], set_point_v=12.0, limit_a=60.0)
    first = float(flown.alternator_a[0])
    lacks = [60.0 - first]
    for _ in range(3):
        lacks.append(0.8 * lacks[-1])
    assert flown.alternator_a == pytest.approx([60.0 - lack for lack in lacks])


@pytest.mark.parametrize(
    ("volts", "set_v", "limit_v", "trips"),
    [
        pytest.param(14, 15.9, 16.0, 0, id="a tenth below"),
        pytest.param(14, 16.1, 16.0, 1, id="a tenth above"),
        pytest.param(28, 31.9, 16.0, 0, id="28 V: below 32"),
        pytest.param(28, 32.1, 16.0, 1, id="28 V: above 32"),
        pytest.param(14, 15.6, 15.5, 1, id="another limit"),
    ],
)
def test_protection_opens_the_field_above_its_limit(volts, set_v, limit_v, trips):
    unit = OvervoltageProtection(limit_v=limit_v)
    flown = course(20, 0.01, volts=volts, set_point_v=set_v, load_a=5.0, limit_a=400.0, protection=unit)
    assert len(flown.trips_s) == trips
    if trips:
        assert flown.trip_voltages[0] == pytest.approx(set_v, abs=1e-5)
        assert flown.fed_by[-1] == BATTERY


@pytest.mark.parametrize(
    ("delay_s", "rows_over", "tripped_at"),
    [
        pytest.param(0.0, 1, 0.05, id="at once"),
        pytest.param(0.03, 4, 0.08, id="three rows later"),
        pytest.param(0.03, 3, None, id="over for two rows only"),
    ],
)
def test_protection_waits_out_its_delay_and_forgets_what_did_not_last(delay_s, rows_over, tripped_at):
    # Over the limit from 0.05 s on, in rows of 0.01 s.
    held = steps((5, 14.0), (rows_over, 16.4), (5, 14.0), (2, 16.4))
    unit = OvervoltageProtection(delay_s=delay_s)
    flown = course(held.size, 0.01, set_point_v=held, load_a=5.0, limit_a=400.0, protection=unit)
    assert flown.trips_s[:1] == (() if tripped_at is None else (pytest.approx(tripped_at),))


def test_protection_that_is_broken_never_acts_and_the_highest_volts_are_kept():
    unit = OvervoltageProtection(works=False)
    held = steps((5, 14.0), (3, 16.8), (5, 14.0))
    flown = course(held.size, set_point_v=held, load_a=5.0, limit_a=500.0, protection=unit)
    assert flown.trips_s == ()
    assert flown.bus_v[6] == pytest.approx(16.8, abs=1e-5)
    assert flown.highest_v == pytest.approx(16.8, abs=1e-5)


def test_a_surge_between_two_rows_trips_protection_and_stays_the_highest():
    """Protection acts in milliseconds: a log of one row a second shows the trip and not what made it."""
    flown = course(4, set_point_v=14.0, load_a=5.0, limit_a=60.0, full_field=[False, True, True, True])
    assert len(flown.trips_s) == 1
    assert 1.0 < flown.trips_s[0] < 1.5
    assert flown.bus_v.max() < 16.0 < flown.highest_v
    assert flown.trip_voltages[0] == flown.highest_v
    assert flown.fed_by.tolist() == [REGULATED, LIMITED, BATTERY, BATTERY]


@pytest.mark.parametrize(
    ("resets_after", "trips", "resets"),
    [
        pytest.param((), (3.0,), (), id="nobody resets"),
        pytest.param((5.0,), (3.0, 9.0), (8.0,), id="once: it trips again a row later"),
        pytest.param((5.0, 2.0), (3.0, 9.0, 12.0), (8.0, 11.0), id="twice, sooner the second time"),
    ],
)
def test_a_pilot_s_reset_comes_so_long_after_the_trip(resets_after, trips, resets):
    # The set point stays over the limit from the third second on; a reset is felt in the row after.
    unit = OvervoltageProtection(delay_s=0.0, resets_after_s=resets_after)
    held = steps((3, 14.0), (17, 16.5))
    flown = course(held.size, set_point_v=held, load_a=5.0, limit_a=400.0, protection=unit)
    assert (flown.trips_s, flown.resets_s) == (trips, resets)


@pytest.mark.parametrize(("at", "trip"), [(4.0, 4.0), (4.2, 5.0)])
def test_a_trip_for_no_reason_comes_with_the_first_row_at_or_after_its_moment(at, trip):
    flown = course(nuisance_s=(at,))
    assert flown.trips_s == (trip,)
    assert flown.trip_voltages == (pytest.approx(14.0, abs=1e-6),)
    last_fed = int(trip)
    assert flown.fed_by.tolist() == [REGULATED] * (last_fed + 1) + [BATTERY] * (9 - last_fed)


@pytest.mark.parametrize("volts", [14, 28])
def test_a_set_point_far_beyond_the_limit_holds_the_field_fully_on(volts):
    # More than a volt (of a 14 V system) above 16 V is no regulation any more: the output grows to what the
    # alternator gives, step by step, and is not the regulator's.
    far, near = (16.0 + over for over in (1.1, 0.9))
    unit = OvervoltageProtection(works=False)
    given = {"volts": volts, "load_a": 5.0, "limit_a": 30.0, "protection": unit}
    assert course(1, 0.02, set_point_v=far * volts / 14, **given).alternator_a[0] == pytest.approx(0.2 * 30.0)
    assert course(1, 0.02, set_point_v=near * volts / 14, **given).alternator_a[0] == pytest.approx(30.0)


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("regulated", {"load_a": 15.0}),
        ("limited", {"load_a": 15.0, "limit_a": 20.0}),
        ("alone", {"load_a": 15.0, "field_closed": False}),
        (
            "coming and going",
            {"load_a": 15.0, "field_closed": steps((300, True), (300, False), (300, True)).astype(bool)},
        ),
        ("strobes", {"load_a": 10.0 + 6.0 * (np.arange(900) % 3 == 0)}),
    ],
)
def test_the_books_of_charge_close_over_the_columns(name, given):
    """What the truth says is missing must be the sum of the amperes that the log shows, less what went as gas."""
    flown = course(900, battery=replace(FULL, charge=0.9), **given)
    into = np.sum((flown.battery_a - flown.gassing_a)[:-1]) / 3600.0
    held = (flown.surface_ah - flown.missing_ah)[-1] - (flown.surface_ah - flown.missing_ah)[0]
    assert held == pytest.approx(into, abs=1e-6), name


@pytest.mark.parametrize(
    ("rpm", "air_c", "amps"),
    [
        pytest.param(620.0, 25.0, 0.0, id="at cut-in"),
        pytest.param(400.0, 25.0, 0.0, id="below it never less than nothing"),
        pytest.param(1240.0, 25.0, 37.9272, id="one rise above: 60 x (1 - 1/e)"),
        pytest.param(1860.0, 25.0, 51.8799, id="two: 60 x (1 - 1/e^2)"),
        pytest.param(1240.0, 45.0, 36.4102, id="20 degrees warmer: 4 % less"),
        pytest.param(1240.0, -5.0, 40.2029, id="30 degrees colder: 6 % more"),
    ],
)
def test_what_an_alternator_can_give(rpm, air_c, amps):
    assert Alternator(rated_a=60.0).output_limit(rpm, air_c) == pytest.approx(amps, rel=1e-5)
