"""The battery model against sums done on paper: what a slip in it would teach every test that flies it.

A 12 V battery of 34 Ah, full and at 25 degC, unless a case says otherwise. Its resistances a cell are 1.2 mohm of
plates and leads, 0.6 of the reaction, 0.8 of the acid.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.simulator.battery import Battery, BatteryState, capacity_temperature_factor, peukert_capacity

FULL = Battery(capacity_ah=34.0, charge=1.0, surface_charge_v=0.0)
#: Conductance of a supply so stiff that it sets the node, whatever it takes [1/ohm].
STIFF = 1e7


def hold_node(state: BatteryState, volts: float) -> None:
    """Hold the electrode itself, behind the plain resistance, at a voltage."""
    state.connect(volts * STIFF, STIFF)


@pytest.mark.parametrize(
    ("changed", "cells", "celsius", "milliohm"),
    [
        pytest.param({}, 6, 25.0, 7.2, id="six cells of 1.2"),
        pytest.param({}, 12, 25.0, 14.4, id="twelve cells"),
        pytest.param({"capacity_ah": 17.0}, 6, 25.0, 14.4, id="half the plates"),
        pytest.param({"resistance_factor": 2.3}, 6, 25.0, 16.56, id="aged by 2.3"),
        pytest.param({}, 6, -10.0, 9.216, id="35 degrees below 25 at 0.8 % each: 1.28"),
        pytest.param({}, 6, 45.0, 6.048, id="20 degrees above: 0.84"),
        pytest.param({}, 6, 95.0, 4.32, id="never under 0.6"),
        pytest.param({"charge": 0.5}, 6, 25.0, 8.64, id="half empty: 1 + 0.4 x 0.5"),
        pytest.param({"shorted_cells": 1.0}, 6, 25.0, 6.0, id="five cells left"),
        pytest.param({"shorted_cells": 0.5}, 12, 25.0, 13.2, id="twice half a cell of twelve gone: 11 left"),
    ],
)
def test_plain_resistance_is_what_the_cells_come_to(changed, cells, celsius, milliohm):
    """A wrong factor would let every sag and every measured resistance be judged against a wrong truth."""
    state = BatteryState(replace(FULL, **changed), cells, celsius)
    assert 1000.0 * state.ohm_plain == pytest.approx(milliohm)
    assert state.ohm_reaction / state.ohm_plain == pytest.approx(0.5)
    assert state.ohm_acid / state.ohm_plain == pytest.approx(2.0 / 3.0)


@pytest.mark.parametrize(
    ("charge", "cells", "shorted", "celsius", "volts"),
    [
        # 12.65 V stands at 26.7 degC; six cells at 0.2 mV a degree lose 2.04 mV on the way down to 25.
        pytest.param(1.0, 6, 0.0, 25.0, 12.64796, id="full"),
        pytest.param(1.0, 12, 0.0, 25.0, 25.29592, id="full, twelve cells"),
        # Between 12.45 at three quarters and 12.65, four tenths of the way: 12.53, less 2.04 mV.
        pytest.param(0.85, 6, 0.0, 25.0, 12.52796, id="85 percent"),
        # Between 12.06 at a quarter and 12.24, a fifth of the way; 26.7 degC is the table's own.
        pytest.param(0.3, 6, 0.0, 26.7, 12.096, id="30 percent"),
        pytest.param(1.0, 6, 1.0, 25.0, 10.53997, id="a whole cell of six gone: 5/6 of 12.64796"),
    ],
)
def test_rested_terminals_show_the_cells_that_are_left(charge, cells, shorted, celsius, volts):
    """A resting charge told from a shifted voltage would be wrong by its shift."""
    state = BatteryState(replace(FULL, charge=charge, shorted_cells=shorted), cells, celsius)
    assert state.emf == pytest.approx(volts, abs=2e-4)


def test_an_empty_battery_has_fallen_over_its_knee():
    # All that its slowest rate can draw is out: 0.42 V a cell below the 11.888 V of the table, 9.37 V. The fit of
    # capacity to temperature gives 1.0005 at 25 degC, a sixtieth of the knee's width: 0.04 V.
    assert BatteryState(replace(FULL, charge=0.0), 6, 25.0).emf == pytest.approx(9.41, abs=0.005)


@pytest.mark.parametrize(
    ("capacity", "amps", "exponent", "charge_ah"),
    [
        pytest.param(34.0, 34.0, 1.10, 34.0, id="at the rated current its rated charge"),
        pytest.param(34.0, 17.0, 1.10, 36.4403, id="half: 34 x 2^0.1"),
        pytest.param(34.0, 1.7, 1.10, 45.8756, id="a twentieth: 34 x 20^0.1"),
        pytest.param(34.0, 68.0, 1.10, 31.7231, id="twice: 34 / 2^0.1"),
        pytest.param(20.0, 5.0, 1.25, 28.2843, id="a quarter: 20 x 4^0.25"),
        pytest.param(20.0, 5.0, 1.0, 20.0, id="no dependence"),
    ],
)
def test_charge_that_a_current_draws(capacity, amps, exponent, charge_ah):
    """Endurance at a load rests on it: the slower, the more comes out."""
    assert peukert_capacity(capacity, amps, exponent) == pytest.approx(charge_ah, rel=1e-5)


def test_full_charge_is_what_comes_out_in_twenty_hours_of_what_age_has_left():
    assert FULL.full_ah == pytest.approx(45.8756, rel=1e-5)  # 34 x 20^0.1
    assert replace(FULL, health=0.45).full_ah == pytest.approx(20.6440, rel=1e-5)


def test_warmer_than_the_table_goes_capacity_is_held():
    # The table ends at 51.7 degC (125 degF).
    assert capacity_temperature_factor(70.0) == capacity_temperature_factor(51.7)
    assert capacity_temperature_factor(51.7) > capacity_temperature_factor(45.0) > 1.0


def test_charge_missing_at_first_is_parted_into_recent_and_old():
    state = BatteryState(replace(FULL, charge=0.9), 6, 25.0)
    # A tenth of 45.876 Ah is missing; three tenths of that went out lately.
    assert state.missing_ah == pytest.approx(4.58756, rel=1e-5)
    assert state.missing_recent_ah == pytest.approx(1.37627, rel=1e-5)
    assert state.missing_old_ah == pytest.approx(3.21129, rel=1e-5)
    assert state.depth_ah == state.missing_recent_ah


@pytest.mark.parametrize(
    ("volts", "celsius", "changed", "cells", "amps"),
    [
        pytest.param(14.1, 25.0, {}, 6, 0.45, id="2.35 V a cell, as stated"),
        pytest.param(14.1, 25.0, {"capacity_ah": 17.0}, 6, 0.225, id="half the plates"),
        pytest.param(28.2, 25.0, {}, 12, 0.45, id="twelve cells in series pass the same current"),
        pytest.param(14.1 + 6 / 11, 25.0, {}, 6, 1.22323, id="an eleventh of a volt a cell higher: e times"),
        pytest.param(14.1, 25.0 + 1 / 0.06, {}, 6, 1.22323, id="16.7 degrees warmer: e times"),
        # Five cells share 14.1 V: 2.82 V, 0.47 V more; e^5.17 = 175.9.
        pytest.param(14.1, 25.0, {"shorted_cells": 1.0}, 6, 79.16, id="a cell shorted"),
    ],
)
def test_gassing_current(volts, celsius, changed, cells, amps):
    """What a sound battery goes on taking is gassing; the maintenance current's truth is this."""
    state = BatteryState(replace(FULL, **changed), cells, celsius)
    hold_node(state, volts)
    assert state.gassing_a == pytest.approx(amps, rel=1e-3)


@pytest.mark.parametrize(
    ("changed", "cells", "celsius", "milliohm", "charge_ah"),
    [
        # 24 mohm a cell; a layer of 150 s at the rested voltage: 12.648 V x 150 s / 0.144 ohm / 3600 = 3.660 Ah.
        pytest.param({}, 6, 25.0, 144.0, 3.6597, id="six cells"),
        pytest.param({}, 12, 25.0, 288.0, 3.6597, id="twelve cells in series hold as much"),
        pytest.param({"capacity_ah": 17.0}, 6, 25.0, 288.0, 1.8299, id="half the plates hold half"),
        pytest.param({"health": 0.5}, 6, 25.0, 288.0, 1.8299, id="so do plates half worn"),
        pytest.param({"acceptance_s": 300.0}, 6, 25.0, 144.0, 7.3194, id="twice as slow: twice the charge"),
        # Colder by ln 2 / 0.03 degrees twice the ohms and twice the time: the charge is as before, but for the volts.
        pytest.param({}, 6, 25.0 - 23.1049, 288.0, 3.6597 * 12.62023 / 12.64796, id="twice as slow in the cold"),
    ],
)
def test_the_surface_layer_s_resistance_and_charge(changed, cells, celsius, milliohm, charge_ah):
    """A layer of the wrong size would hide the start's discharge from the recharge that answers it."""
    state = BatteryState(replace(FULL, **changed), cells, celsius)
    assert 1000.0 * state.ohm_surface == pytest.approx(milliohm, rel=1e-5)
    assert state.surface_ah == pytest.approx(charge_ah, rel=1e-4)


@pytest.mark.parametrize(("seconds", "share"), [(40, 0.6276), (80, 0.8613), (400, 0.9999)])
def test_the_acid_s_share_of_the_sag_grows_with_forty_seconds(seconds, share):
    # 10 A through 6 x 0.8 mohm come to 48 mV in the end. In steps of 1 s a share of 1 / 41 is made up each
    # time: (40 / 41)^40 = 0.3724 is left after 40 s.
    state = BatteryState(FULL, 6, 25.0)
    for _ in range(seconds):
        state.connect(-10.0, 0.0)
        state.advance(1.0)
    assert state.acid_v == pytest.approx(-0.048 * share, rel=0.01)


@pytest.mark.parametrize(("amps", "felt"), [(-10.0, 6.291), (-34.0, 21.39), (10.0, 0.0)])
def test_the_rate_that_empties_a_battery_is_that_of_its_last_minute(amps, felt):
    # A share of 1 / 61 a second: 1 - (60 / 61)^60 = 0.6291 of it after a minute. What charges empties nothing.
    state = BatteryState(FULL, 6, 25.0)
    for _ in range(60):
        state.connect(amps, 0.0)
        state.advance(1.0)
    assert state.discharge_a == pytest.approx(felt, rel=1e-3)


@pytest.mark.parametrize(
    ("over_v", "share_of"),
    [
        # 3.6 mohm of reaction: 1 mV over the rested voltage lets 0.278 A in; a volt over it all that the missing
        # charge lets in. Below the rested voltage the same ohms let it out, without bound.
        pytest.param(0.001, "ohm", id="a little over"),
        pytest.param(1.0, "limit", id="far over"),
        pytest.param(-0.05, "ohm", id="below: 13.9 A"),
    ],
)
def test_the_main_reaction_follows_its_ohms_until_no_more_charge_is_missing(over_v, share_of):
    state = BatteryState(replace(FULL, charge=0.9), 6, 25.0)
    hold_node(state, state.emf + over_v)
    surface = (state.node_v - state.surface_v) / state.ohm_surface
    main = state.current_a - surface - state.gassing_a
    ohm = 0.0036 * (1.0 + 0.4 * 0.1)
    assert main == pytest.approx({"ohm": over_v / ohm, "limit": state.limit_a}[share_of], rel=0.02)


@pytest.mark.parametrize("amps", [10.0, 40.0])
def test_charge_drawn_is_current_times_time(amps):
    """Ten minutes of 10 A are 1.667 Ah; the surface layer gives the little by which it sinks."""
    state = BatteryState(FULL, 6, 25.0)
    before = state.surface_ah
    for _ in range(600):
        state.connect(-amps, 0.0)
        state.advance(1.0)
    assert state.missing_ah + (before - state.surface_ah) == pytest.approx(amps / 6.0, rel=0.005)
    assert state.charge == pytest.approx(1.0 - state.missing_ah / 45.8756, abs=1e-6)


def test_recent_discharge_left_standing_hardens_within_three_hours():
    # At rest a share of 1 / (3 h) of what is recent turns old: in steps of 60 s, (1 - 1/180)^60 = 0.7158 after
    # an hour. The surface layer gives a little back meanwhile.
    state = BatteryState(replace(FULL, charge=0.8, recent_fraction=1.0), 6, 25.0)
    recent, whole = state.missing_recent_ah, state.missing_ah
    for _ in range(60):
        state.connect(0.0, 0.0)
        state.advance(60.0)
    assert state.missing_recent_ah == pytest.approx(0.7158 * recent, rel=0.01)
    assert state.missing_ah == pytest.approx(whole, rel=0.01)
    assert state.missing_old_ah == pytest.approx(0.2842 * recent, rel=0.03)


@pytest.mark.parametrize(
    ("charge", "recent", "celsius", "amps"),
    [
        # 1 % of 45.876 Ah is 0.45876 Ah, all recent; 150 s are 0.0416667 h. Its own depth, 0.45876 of the 5.1 Ah
        # that double the time, stretches it by 1.08995: 0.45876 / 0.0416667 / 1.08995.
        pytest.param(0.99, 1.0, 25.0, 10.1015, id="recent"),
        # All old: 0.45876 Ah in two hours.
        pytest.param(0.99, 0.0, 25.0, 0.22938, id="old"),
        # Half as fast 23.105 degrees colder (ln 2 / 0.03); charge and depth are as before.
        pytest.param(0.99, 1.0, 25.0 - 23.1049, 5.05075, id="recent, half as fast in the cold"),
    ],
)
def test_the_current_that_missing_charge_lets_in(charge, recent, celsius, amps):
    """Its wrong size would make sound batteries slow and slow ones sound."""
    state = BatteryState(replace(FULL, charge=charge, recent_fraction=recent), 6, celsius)
    state.advance(1e-6)
    assert state.limit_a == pytest.approx(amps, rel=1e-4)


@pytest.mark.parametrize(
    ("days", "charge", "surface"), [(0.0, 0.98, 0.02), (1.0, 0.97804, 0.0073576), (10.0, 0.96058, 9.08e-7)]
)
def test_standing_takes_a_five_hundredth_of_the_charge_a_day(days, charge, surface):
    # 0.98 x 0.998^10 = 0.98 x 0.980179; what lies on the surface fades e-fold a day.
    stood = Battery().rested(days)
    assert stood.charge == pytest.approx(charge, abs=1e-5)
    assert stood.surface_charge_v == pytest.approx(surface, rel=1e-3)


@pytest.mark.parametrize(
    ("start_c", "around_c", "seconds", "rise"),
    [
        # Heat goes at 0.05 W/K an Ah into 320 J/K an Ah: 1/6400 of the difference a second.
        pytest.param(25.0, 35.0, 64.0, 0.1, id="ten degrees colder than its bay"),
        pytest.param(25.0, 15.0, 64.0, -0.1, id="ten degrees warmer"),
        pytest.param(25.0, 25.0, 64.0, 0.0, id="as warm as its bay"),
    ],
)
def test_an_idle_battery_follows_its_bay(start_c, around_c, seconds, rise):
    state = BatteryState(FULL, 6, start_c)
    hold_node(state, 6 * 1.48)  # at which gassing leaves no heat; the plates carry what the supply draws
    state.current_a = 0.0
    state.warm(seconds, around_c)
    assert state.temperature_c - start_c == pytest.approx(rise, abs=1e-6)


@pytest.mark.parametrize("cells", [6, 12])
def test_current_through_the_plates_heats_them(cells):
    # 100 A through 7.2 mohm are 72 W; 34 Ah of six cells hold 10 880 J/K: 0.0662 K in 10 s. Twice the cells,
    # twice the power, twice the mass.
    state = BatteryState(FULL, cells, 25.0)
    state.current_a, state.gassing_a = -100.0, 0.0
    state.warm(10.0, 25.0)
    assert state.temperature_c - 25.0 == pytest.approx(0.066176, rel=1e-4)


def test_gassing_below_the_voltage_that_splits_water_does_not_cool():
    state = BatteryState(FULL, 6, 25.0)
    state.node_v, state.current_a, state.gassing_a = 8.0, 0.0, 10.0
    state.warm(60.0, 25.0)
    assert state.temperature_c == 25.0


def test_a_battery_that_boils_gets_no_hotter_than_its_vents_allow():
    state = BatteryState(FULL, 6, 59.9)
    state.current_a, state.gassing_a = 500.0, 100.0
    state.warm(600.0, 30.0)
    assert state.temperature_c == 60.0


@settings(max_examples=30)
@given(load=st.floats(0.5, 60.0), charge=st.floats(0.3, 1.0), cells=st.sampled_from([6, 12]))
def test_terminals_are_node_and_acid_and_ohm(load, charge, cells):
    """Kirchhoff around the loop: what the terminals lack against the cells lies across the three resistances."""
    state = BatteryState(replace(FULL, charge=charge), cells, 25.0)
    state.connect(-load, 0.0)
    assert state.current_a == -load
    assert state.terminal_v == pytest.approx(state.node_v - load * state.ohm_plain)
    assert state.node_v < state.emf
    # The reaction carries load and gassing, less what the surface layer gives beside it.
    assert state.emf - state.node_v <= (load + state.gassing_a) * state.ohm_reaction + 1e-6


@settings(max_examples=30)
@given(volts=st.floats(12.9, 15.5), ohm=st.floats(0.002, 0.05))
def test_a_supply_behind_a_resistance_gives_what_ohm_s_law_leaves(volts, ohm):
    """(E - node) / R is the current, whichever way the node is solved."""
    state = BatteryState(replace(FULL, charge=0.95), 6, 25.0)
    amps = state.connect(volts / ohm, 1.0 / ohm)
    assert amps == pytest.approx((volts - state.node_v) / ohm, abs=1e-4)
    assert amps > 0.0
