"""When the alternator carries the bus and the engine is fast enough for it, at the borders of what tells."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.aircraft import Source
from analyzer.flights.alternator_online import (
    feeds_at_rest_voltage,
    lifted_above_rest,
    online_by_current,
    online_by_voltage,
    online_rows,
    regulated_estimate,
    rpm_sufficient_rows,
    taken_row,
    takeoff_row,
)
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats, Mask

LIMITS = Limits(14, {})
ROWS = 600
EVERY = np.ones(ROWS, dtype=np.bool_)


def trace_of(bus: Floats | float = 14.0, size: int = ROWS, **channels: Any) -> Trace:
    return Trace(time=np.arange(float(size)), bus_voltage=np.full(size, bus), **channels)


def then(before: float, after: float, at: int = ROWS // 2) -> Floats:
    return np.where(np.arange(ROWS) < at, before, after)


@pytest.mark.parametrize(("rows", "held"), [(29, 13.5), (32, 14.1)])
def test_what_the_regulator_holds_is_the_highest_that_lasts_for_most_of_a_minute(rows: int, held: float) -> None:
    bus = np.full(ROWS, 13.5)
    bus[300 : 300 + rows] = 14.1
    assert regulated_estimate(trace_of(bus), EVERY, LIMITS) == held
    assert regulated_estimate(trace_of(15.0), EVERY, LIMITS) == 14.2, "no more than the top of the band"
    assert np.isnan(regulated_estimate(trace_of(np.nan), EVERY, LIMITS))


@pytest.mark.parametrize(("bus", "online"), [(13.15, False), (13.2, True)])
def test_a_bus_above_a_third_of_the_way_from_a_battery_s_rest_to_what_is_held_is_carried(
    bus: float, online: bool
) -> None:
    # 12.65 V and 35 % of the 1.5 V to 14.15 V: 13.175 V
    assert online_by_voltage(trace_of(bus), EVERY, 14.15, LIMITS).all() == online
    assert online_by_voltage(trace_of(14.0), EVERY, 12.91, LIMITS).all()
    assert not online_by_voltage(trace_of(14.0), EVERY, 12.89, LIMITS).any(), "held no higher than a full battery"


@pytest.mark.parametrize(
    ("bus", "amps", "rest", "online"),
    [
        (12.41, -0.9, np.nan, True),  # within a quarter of a volt of a full battery, and giving next to nothing
        (12.39, -0.9, np.nan, False),
        (12.41, -1.1, np.nan, False),
        (12.3, 1.1, 12.0, True),  # it takes an ampere, a quarter of a volt above its own rest
        (12.3, 0.9, 12.0, False),
        (12.2, 1.1, 12.0, False),
        (12.92, 1.1, 13.0, True),  # above a full battery's, however high it rested
    ],
)
def test_a_battery_that_is_not_drained_says_that_the_bus_is_carried(
    bus: float, amps: float, rest: float, online: bool
) -> None:
    trace = trace_of(bus, battery_current=np.full(ROWS, amps))
    assert online_rows(trace, EVERY, ~EVERY, LIMITS, rest).all() == online


@pytest.mark.parametrize(("amps", "online"), [(1.9, False), (2.1, True)])
def test_an_output_of_two_amperes_above_the_battery_s_rest_carries_the_bus(amps: float, online: bool) -> None:
    trace = trace_of(12.4, alternator_current=np.full(ROWS, amps))
    assert online_rows(trace, EVERY, ~EVERY, LIMITS, 12.0).all() == online


def test_an_output_that_usually_stands_high_and_falls_silent_carries_nothing() -> None:
    bus = then(14.0, 13.4)
    carried = online_rows(trace_of(bus, alternator_current=then(20.0, 0.5)), EVERY, EVERY, LIMITS, 12.5)
    assert carried[:299].all()
    assert not carried[301:].any()


@pytest.mark.parametrize(("amps", "online"), [(0.9, False), (1.1, True)])
def test_without_a_voltage_an_output_that_is_not_silent_tells(amps: float, online: bool) -> None:
    trace = trace_of(np.nan, alternator_current=np.full(ROWS, amps))
    assert online_by_current(trace, EVERY, ~EVERY).all() == online


@pytest.mark.parametrize(
    ("stopped", "usual", "falls_to", "online"),
    [
        (-2.0, 0.5, -1.0, True),  # an ampere and a step of the meter, half an ampere here
        (-2.0, 0.5, -1.7, False),
        (-6.0, 0.5, -2.3, True),  # far above what it shows at rest: a fall of less than three amperes is none
        (-6.0, 0.5, -2.7, False),
        (-9.0, -4.0, -6.5, True),  # a meter that is off at zero
        (-9.0, -4.0, -7.5, False),
    ],
)
def test_without_a_voltage_a_battery_s_ammeter_tells_by_what_it_usually_shows(
    stopped: float, usual: float, falls_to: float, online: bool
) -> None:
    flow = then(stopped, usual, 100)
    flow[50:60] += 0.5 * (np.arange(10) % 2)  # the meter's step
    flow[400:450] = falls_to
    running = np.arange(ROWS) >= 100
    told = online_by_current(trace_of(np.nan, battery_current=flow), running, ~running)
    assert told[402:448].all() == online
    assert told[100:398].all()


@pytest.mark.parametrize(
    ("rows", "bus", "sinks", "lifted"),
    [
        (1801, 12.9, 0.0, True),
        (1799, 12.9, 0.0, False),  # half an hour
        (1801, 12.86, 0.0, True),  # a quarter of a volt above its own 12.6 V
        (1801, 12.84, 0.0, False),
        (1801, 13.0, 0.07, True),  # of which two thirds show between the first third and the last
        (1801, 13.0, 0.09, False),
    ],
)
def test_a_bus_that_stands_above_its_battery_s_rest_for_half_an_hour_is_lifted(
    rows: int, bus: float, sinks: float, lifted: bool
) -> None:
    course = np.full(2400, 12.3)
    course[:rows] = bus - sinks * np.arange(rows) / rows
    trace = trace_of(course, 2400)
    assert lifted_above_rest(trace, np.ones(2400, dtype=np.bool_), 12.6, LIMITS).any() == lifted


@pytest.mark.parametrize(
    ("bus", "amps", "feeds"),
    [(12.8, 4.1, True), (12.8, 3.9, False), (12.76, 4.1, False), (12.8, 18.7, True), (12.8, 18.9, False)],
)
def test_an_alternator_feeds_a_bus_that_a_battery_holds_only_at_rest(bus: float, amps: float, feeds: bool) -> None:
    # half of a quarter of a volt above 12.65 V; four amperes, and less than 94 % of the 20 A that it gives at most
    output = then(20.0, amps, 60)
    assert feeds_at_rest_voltage(trace_of(bus, alternator_current=output), LIMITS)[400] == feeds


@pytest.mark.parametrize(
    ("speed", "source", "fast"),
    [
        (1690.0, Source.DC_GENERATOR, False),
        (1690.0, None, True),
        (1670.0, None, False),  # 70 % of 2400 rpm
        (2050.0, Source.DC_GENERATOR, True),  # 85 % of them
        (2030.0, Source.DC_GENERATOR, False),
    ],
)
def test_an_engine_is_fast_from_a_share_of_its_own_high_speed(speed: float, source: Source | None, fast: bool) -> None:
    trace = trace_of(engine_speed=then(2400.0, speed))
    assert rpm_sufficient_rows(trace, EVERY, source)[400] == fast


@pytest.mark.parametrize(
    ("channel", "low", "high"),
    [("engine_speed", 1149.0, 1151.0), ("engine_speed_percent", 49.0, 51.0), ("airspeed", 44.0, 46.0),
     ("ground_speed", 44.0, 46.0)],
)  # fmt: skip
def test_an_engine_is_never_fast_below_what_any_alternator_needs(channel: str, low: float, high: float) -> None:
    for level, fast in ((low, False), (high, True)):
        assert rpm_sufficient_rows(trace_of(**{channel: np.full(ROWS, level)}), EVERY).all() == fast


@pytest.mark.parametrize(("rows", "share", "row"), [(24, 0.9, 400), (26, 0.9, 200), (26, 0.84, 400)])
def test_a_take_off_is_high_power_for_longer_than_a_run_up(rows: int, share: float, row: int) -> None:
    speed = then(1000.0, 2400.0, 400)
    speed[200 : 200 + rows] = 2400.0 * share
    assert takeoff_row(trace_of(engine_speed=speed), EVERY) == row
    assert takeoff_row(trace_of(engine_speed=speed, airspeed=then(0.0, 46.0, 500)), EVERY) == 500


@pytest.mark.parametrize(("rows", "row"), [(2, 300), (3, 100)])
def test_the_alternator_takes_the_bus_for_more_than_a_moment(rows: int, row: int) -> None:
    online: Mask = np.zeros(ROWS, dtype=np.bool_)
    online[100 : 100 + rows] = online[300:] = True
    assert taken_row(trace_of(), online) == row
    assert taken_row(trace_of(), ~EVERY) is None
