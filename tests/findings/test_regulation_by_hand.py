"""Numbers of the rules on the regulator, on made courses and readings."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyzer.findings.regulation import (
    _answers_load,
    _around,
    _battery_pulls,
    _beside_the_output,
    _between_steps,
    _climbed_into_band,
    _cold_allowance,
    _drawn_in_scatter,
    _gives_its_most,
    _held_in_recharge,
    _moved_by_air,
    _moved_by_load,
    _overvoltage_rows,
    _peak_to_peak,
    _period,
    _restless,
    _toggles,
    _turns,
    regulator_drift,
)
from analyzer.flights.battery_kind import Chemistry
from analyzer.flights.outage_kinds import OFFLINE, AlternatorOutage
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.measures.measure import around, not_measurable
from analyzer.series import Floats

ROWS = 1800
#: A battery of 20 Ah: a raised settled current is 2 A, one that pulls the bus down 6 A.
LIMITS = Limits(14, {"battery_capacity": 20.0, "alternator_rating": 60.0})


def flight(bus: Floats | None = None, **more: Any) -> Any:
    """A flight of half an hour, a row a second."""
    names = ("battery_current", "alternator_current", "outside_air_temperature")
    channels = {name: more.pop(name) for name in names if name in more}
    volts = np.full(ROWS, 14.0) if bus is None else bus
    told = {
        "trace": Trace(time=np.arange(float(ROWS)), bus_voltage=volts, **channels), "limits": LIMITS, "takeoff": 300,
        "outages": [], "alternator_online": np.ones(ROWS, dtype=np.bool_),
    }  # fmt: skip
    return SimpleNamespace(**told | more)


@pytest.mark.parametrize(
    ("move", "air", "limit", "told"),
    [
        (0.31, 15.0, 0.32, False),
        (0.34, 15.0, 0.32, True),
        (-0.34, 15.0, 0.32, True),
        (0.42, None, 0.42, False),  # and 0.1 V more where no air is recorded
        (0.44, None, 0.42, True),
    ],
)
def test_a_regulator_drifts_by_more_than_air_explains(move: float, air: float | None, limit: float, told: bool) -> None:
    # level for five minutes, twenty minutes of an even climb, and level again for the last five
    bus = 14.0 + np.interp(np.arange(ROWS), [300.0, 1500.0], [0.0, move])
    more = {} if air is None else {"outside_air_temperature": np.full(ROWS, air)}
    every = np.ones(ROWS, dtype=np.bool_)
    shown = flight(
        bus, regulated=every, regulated_rows=~every, dips=[], run=SimpleNamespace(basis="engine speed"),
        battery=SimpleNamespace(chemistry=Chemistry.LEAD_ACID), **more,
    )  # fmt: skip
    shown.trace = shown.trace.with_channels(engine_speed=np.full(ROWS, 2300.0))
    found = regulator_drift(shown, {"resting_voltage": not_measurable("resting_voltage", "not asked for")})
    assert [one.name for one in found] == (["regulator_drift"] if told else [])
    for one in found:
        values = {name: number.value for name, number in one.evidence.items()}
        assert (values["from_voltage"], values["to_voltage"]) == pytest.approx((14.0, 14.0 + move), abs=0.006)
        assert values["limit"] == pytest.approx(limit)
        assert one.signs["rises"] is (move > 0.0)


@pytest.mark.parametrize(
    ("ground", "aloft", "settled", "more"),
    [
        (15.0, -20.0, 1.0, 0.0),  # the engine's compartment is nearer to the air on the ground
        (5.0, -20.0, 1.0, 0.18),  # 18 mV for each degree below 15
        (-5.0, -20.0, 1.0, 0.3),  # and no more than this
        (5.0, -20.0, 2.1, 0.0),  # a battery that still takes a raised current is overcharged in any air
        (5.0, -20.0, None, 0.18),
        (float("nan"), 10.0, 1.0, 0.09),
    ],
)
def test_a_regulator_may_hold_more_in_the_cold(ground: float, aloft: float, settled: float | None, more: float) -> None:
    air = np.concatenate([np.full(300, ground), np.full(ROWS - 300, aloft)])
    name = "maintenance_current"
    measures = {name: not_measurable(name, "no ammeter") if settled is None else around(name, settled, 0.0)}
    assert _cold_allowance(flight(outside_air_temperature=air), measures) == pytest.approx(more)
    assert _cold_allowance(flight(), measures) == 0.0


@pytest.mark.parametrize(
    ("minutes", "reached"),
    [
        ([13.0, 13.5, 13.86, 13.88, 14.0, 14.0, 14.0], 3),  # within an eighth of a volt of what is held later
        ([13.5, 13.6, 14.0, 14.0], 0),  # it begins within the band
        ([13.0, 13.1, 13.2, 13.2], 0),  # and never comes to it
    ],
)
def test_a_bus_that_climbs_into_the_band_is_not_held_before(minutes: list[float], reached: int) -> None:
    assert _climbed_into_band(np.array(minutes), flight()) == reached


def test_a_minute_s_scatter_has_its_extremes_drawn_in() -> None:
    # of 20 readings one at either end: 18 zeros with 5 and -5 scatter by nothing
    minute = np.zeros(20)
    minute[3], minute[9] = 5.0, -5.0
    assert _drawn_in_scatter(minute[None]).tolist() == [0.0]
    swing = np.tile([1.0, -1.0], 10)
    assert _drawn_in_scatter(swing[None]).tolist() == [1.0]


def test_a_swing_turns_as_often_as_it_passes_half_of_its_scatter_on_the_other_side() -> None:
    # 12 readings: up, down, up, and a last one that does not reach half of it
    around = np.array([1.0, 1.0, -1.0, -1.0, 1.0, 1.0, -0.4, 0.4, -0.4, 0.4, -0.4, 1.0, *np.ones(12)])
    assert _turns(around, np.array([1.0, 1.0])).tolist() == [2, 0]


@pytest.mark.parametrize(("every", "step_s"), [(8.0, 1.0), (20.0, 0.5)])
def test_a_period_is_that_of_the_highest_peak(every: float, step_s: float) -> None:
    time = step_s * np.arange(320)
    swing = np.sin(2.0 * np.pi * time / every)
    assert _period(swing, step_s) == pytest.approx(every)
    assert _period(swing[:63], step_s) is None, "64 readings are the fewest"
    assert _period(np.random.default_rng(1).normal(size=320), step_s) is None


@pytest.mark.parametrize(("step", "toggles"), [(0.1, False), (0.14, True)])
def test_a_swing_of_less_than_one_step_and_a_half_is_the_voltmeter_s(step: float, toggles: bool) -> None:
    assert _toggles(14.0 + 0.2 * (np.arange(100) % 2), step) is toggles


def test_a_level_between_two_readings_of_a_coarse_meter_is_their_mean() -> None:
    # three of four readings are 14.0 V and one is 14.2 V; what is further off than a step and a half does not count
    assert _between_steps(np.array([14.0, 14.0, 14.2, 14.0, 13.5]), 0.2) == pytest.approx(14.05)


@pytest.mark.parametrize(("per_degree", "explained"), [(-0.01, 0.1), (-0.018, 0.18), (-0.03, 0.18), (0.01, 0.0)])
def test_air_explains_no_more_than_a_compensated_regulator_moves(per_degree: float, explained: float) -> None:
    # ten degrees colder from one end of the flight to the other, but for the two minutes over which air is smoothed
    air = np.linspace(20.0, 10.0, ROWS)
    minutes = np.arange(180.0, ROWS - 120.0, 60.0)
    volts = 14.0 + per_degree * (np.interp(minutes, np.arange(ROWS), air) - 15.0)
    moved = _moved_by_air(flight(outside_air_temperature=air), minutes, volts)
    share = (minutes[-1] - minutes[0]) / (ROWS - 1.0)
    assert moved[-1] - moved[0] == pytest.approx(explained * share, rel=0.01)


@pytest.mark.parametrize("channel", ["alternator_current", "battery_current"])
def test_every_ampere_more_takes_the_bus_down_by_fifteen_millivolts(channel: str) -> None:
    amps = np.where(np.arange(ROWS) < 900, 10.0, 30.0)
    moved = _moved_by_load(flight(**{channel: amps}), np.array([300.0, 1500.0]))
    assert moved == pytest.approx([0.15, -0.15])
    assert _moved_by_load(flight(), np.array([300.0, 1500.0])).tolist() == [0.0, 0.0]


@pytest.mark.parametrize(("amps", "pulls"), [(5.9, False), (6.1, True)])
def test_a_battery_that_takes_much_for_most_of_ten_minutes_pulls_the_bus_down(amps: float, pulls: bool) -> None:
    flow = np.where(np.abs(np.arange(ROWS) - 900) <= 160, amps, 1.0)
    assert _battery_pulls(flight(battery_current=flow), 900.0) is pulls
    brief = np.where(np.abs(np.arange(ROWS) - 900) <= 140, amps, 1.0)
    assert not _battery_pulls(flight(battery_current=brief), 900.0)


@pytest.mark.parametrize(
    ("was", "then", "most", "so"),
    [
        (20.0, 26.1, 26.1, True),  # by 6 A more, to the highest of the flight
        (20.0, 25.9, 25.9, False),
        (20.0, 30.0, 32.0, False),  # 94 % of which it does not reach
        (45.5, 45.5, 45.5, True),  # or near three quarters of its rating all the while
        (44.5, 44.5, 44.5, False),
    ],
)
def test_an_alternator_gives_its_most(was: float, then: float, most: float, so: bool) -> None:
    output = np.where(np.arange(ROWS) < 900, was, then)
    output[:60] = most
    assert _gives_its_most(flight(alternator_current=output), np.array([450.0, 1350.0])) is so


def test_what_lies_about_an_overvoltage_or_before_a_loss_is_left_to_those_rules() -> None:
    bus = np.full(ROWS, 14.0)
    bus[200:210] = 16.5
    shown = flight(bus, outages=[AlternatorOutage(1500, 1600, OFFLINE)])
    rows = np.flatnonzero(_overvoltage_rows(shown))
    assert rows.tolist() == [*range(170, 240), *range(601, 1501)], "half a minute about it, a quarter of an hour before"


def test_the_bus_about_its_median_does_not_reach_across_a_pause() -> None:
    volts = np.where((np.arange(100) >= 50) & (np.arange(100) < 60), 14.5, 14.0)
    for pause, swing in ((31.0, 0.5), (32.0, 0.0)):
        time = np.arange(100.0) + (pause - 1.0) * (np.arange(100) >= 50) + (pause - 1.0) * (np.arange(100) >= 60)
        assert np.abs(_around(time, volts, 31)).max() == swing


@pytest.mark.parametrize(
    ("swing", "said"),
    [
        (None, "; no ammeter shows the load."),
        (1.9, " with the load steady."),
        (4.0, "; alternator output swung 4 A as well."),
    ],
)
def test_what_the_output_did_meanwhile_is_told(swing: float | None, said: str) -> None:
    # a square wave of a few seconds about 20 A: 95 % of it is all of it
    more: dict[str, Any] = {}
    if swing is not None:
        more["alternator_current"] = 20.0 + 0.5 * swing * np.where(np.arange(ROWS) // 4 % 2, 1.0, -1.0)
    every = np.ones(ROWS, dtype=np.bool_)
    assert _beside_the_output(flight(**more), every, 300, 900) == said


@pytest.mark.parametrize("every", [4.0, 10.0, 14.0, 22.0, 31.0, 40.0])
@pytest.mark.parametrize("square", [False, True])
def test_a_swing_is_as_far_as_it_goes_whatever_its_period_and_shape(every: float, square: bool) -> None:
    swing = np.sin(2.0 * np.pi * np.arange(1240) / (every + 0.13))
    told = _peak_to_peak(20.0 + 0.4 * (np.sign(swing) if square else swing), 31)
    assert told == pytest.approx(0.8, rel=0.02)  # of a sine the middle 95 % are 0.997 of it
    assert _peak_to_peak(np.array([1.0, 2.0, 1.0, 2.0]), 31) == 1.0


@pytest.mark.parametrize("step_s", [6.0, 12.0, 15.0, 20.0])
@pytest.mark.parametrize("every", [8.3, 22.7])
def test_so_it_is_in_a_slow_log_of_which_a_window_holds_two_rows_or_three(step_s: float, every: float) -> None:
    time = np.arange(0.0, 3600.0, step_s)
    told = _peak_to_peak(14.0 + 0.3 * np.sin(2.0 * np.pi * time / every), round(31.0 / step_s))
    assert 0.52 <= told <= 0.6, "of ten readings the middle 95 % fall up to an eighth short"


@pytest.mark.parametrize(("mohm", "so"), [(19.0, True), (21.0, False), (-19.0, False)])
def test_a_bus_that_falls_with_each_pulse_by_a_droop_answers_the_load(mohm: float, so: bool) -> None:
    pulses = 5.0 * np.where(np.arange(ROWS) // 4 % 2, 1.0, -1.0)
    about = _around(np.arange(float(ROWS)), 14.0 - 0.001 * mohm * pulses, 31)
    every = np.ones(ROWS, dtype=np.bool_)
    assert _answers_load(flight(alternator_current=20.0 + pulses), every, about, 300, 900) is so
    assert not _answers_load(flight(alternator_current=20.0 + pulses), every, about, 300, 329), "30 readings tell"


def test_a_bus_is_held_in_the_recharge_by_the_minute_about_each_row_also_at_its_ends() -> None:
    # of the recharge rows 300 to 599 are looked at. The half minute before it is low and so are rows 305 to 319: of the
    # 61 rows about row 300 + k that are 45 - k, fewer than half from row 315 on; and alike at the other end
    bus = np.full(ROWS, 14.0)
    for low in (slice(270, 300), slice(305, 320), slice(580, 595), slice(600, 630)):
        bus[low] = 12.5
    rows, engine = np.arange(ROWS), np.ones(ROWS, dtype=np.bool_)
    shown = flight(
        bus, regulated=rows >= 600, rpm_sufficient=engine, recharge=SimpleNamespace(origin_s=300.0),
        regulated_volts=bus[600:],
    )  # fmt: skip
    assert np.flatnonzero(_held_in_recharge(shown)).tolist() == [*range(315, 585)]


@pytest.mark.parametrize(
    ("times", "minutes", "told"),
    [
        (0.9, slice(10, 20), False),  # below what a sound bus's minutes stay below, 55 mV
        (1.2, slice(10, 20), True),  # above it, and the other minutes are quiet
        (1.2, slice(0, 30), False),  # no minute is quieter by 2.2 times
        (1.8, slice(0, 30), False),
        (2.2, slice(0, 30), True),  # twice the limit is certain, however the other minutes are
        (3.8, slice(10, 20), True),
    ],
)
def test_minutes_are_restless_above_a_limit_and_the_quiet_ones_or_above_twice_it(
    times: float, minutes: slice, told: bool
) -> None:
    time, swing = np.arange(float(ROWS)), np.zeros(ROWS)
    rows = slice(60 * minutes.start, 60 * minutes.stop)
    swing[rows] = np.sqrt(2.0) * times * 0.055 * np.sin(2.0 * np.pi * time[rows] / 8.13)  # a scatter of so much
    restless = _restless(flight(14.0 + swing), time, 14.0 + swing, swing)
    assert (restless is not None) is told
    if restless is not None:
        assert np.flatnonzero(restless.swinging).tolist() == [*range(rows.start, rows.stop)]
        assert restless.limit == pytest.approx(0.055, rel=0.01)
        assert restless.scatter == pytest.approx(times * 0.055, rel=0.05)
        assert restless.begins_later is (minutes.start > 0)
