"""Which kind an outage is, on courses a row a second whose borders lie where the table of limits puts them.

The limits that the numbers rest on: a loss lasts 8 s at fast engine speed and 5 s after it speeds up, an alternator is
there from 2 A and alike within 12 %, a battery carries from 1 A, an airspeed is held within 12 kt.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.flights.kind_of_outage import _lost_at_power, battery_holds, idled, kind_of
from analyzer.flights.outage_kinds import BRIEF, LOW_RPM, OFFLINE, OUTPUT_LIMITED, VOLTMETER_ONLY, OutageKind
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

#: A battery of 24 Ah: a settled current is at most 0.125 A for each of them, 3 A; what was drawn low lacks 3.6 Ah.
LIMITS = Limits(14, {"battery_capacity": 24.0})
#: First row of an outage of a minute, in a log of six.
FIRST, END, ROWS = 120, 180, 360


def course(inside: float, before: float = 0.0, size: int = ROWS, first: int = FIRST) -> Floats:
    """A level up to the outage, and another from its first row on."""
    return np.where(np.arange(size) < first, before, inside)


def kind(
    first: int = FIRST, end: int = END, fast: slice | None = None, *, rose: bool = False, size: int = ROWS,
    engine: bool = True, bus: Floats | float = 12.3, step_s: float = 1.0, **channels: Any,
) -> OutageKind:  # fmt: skip
    """The kind of a low bus, the engine fast in rows ``fast``, all of them where none are given."""
    quick = np.zeros(size, dtype=np.bool_)
    quick[slice(None) if fast is None else fast] = True
    if engine:
        channels = {"engine_speed": np.where(quick, 2300.0, 900.0)} | channels
    trace = Trace(time=step_s * np.arange(size), bus_voltage=np.full(size, bus), **channels)
    holds = battery_holds(12.5, LIMITS, charged=True)
    every = np.ones(size, dtype=np.bool_)
    return kind_of(trace, first, end, quick, LIMITS, holds, rose=rose, running=every)


@pytest.mark.parametrize(("rows", "told"), [(8, BRIEF), (9, OFFLINE), (60, OFFLINE)])
def test_a_loss_may_have_ended_a_row_sooner(rows: int, told: OutageKind) -> None:
    assert kind(end=FIRST + rows, battery_current=course(-10.0)) == told


@pytest.mark.parametrize(("fast_s", "told"), [(5, LOW_RPM), (12, LOW_RPM), (13, OFFLINE)])
def test_an_alternator_has_five_seconds_after_the_engine_speeds_up_and_is_lost_after_eight_more(
    fast_s: int, told: OutageKind
) -> None:
    assert kind(fast=slice(END - fast_s, None), battery_current=course(-10.0)) == told


def test_those_seconds_are_asked_for_only_where_the_engine_was_slow_before() -> None:
    # nine rows of a fast engine from the first on: all of them count, or four where it turned slowly until then
    flow = course(-10.0)
    assert kind(fast=slice(0, FIRST + 9), battery_current=flow) == OFFLINE
    assert kind(fast=slice(FIRST, FIRST + 9), battery_current=flow) == LOW_RPM
    assert kind(0, 60, slice(0, 9), battery_current=flow - 10.0) == OFFLINE, "nothing is known of before the first row"


@pytest.mark.parametrize(
    ("amps", "told"),
    [(-1.1, OFFLINE), (-0.9, VOLTMETER_ONLY), (2.9, VOLTMETER_ONLY), (3.1, LOW_RPM)],
)
def test_a_battery_that_gives_less_than_an_ampere_is_at_ease_and_one_that_takes_much_was_low(
    amps: float, told: OutageKind
) -> None:
    assert kind(battery_current=course(amps)) == told


@pytest.mark.parametrize(("amp_hours", "told"), [(3.55, VOLTMETER_ONLY), (3.65, OUTPUT_LIMITED)])
@pytest.mark.parametrize("step_s", [0.5, 1.0, 2.0])
def test_a_battery_that_lacks_charge_and_takes_none_shows_a_bus_as_low_as_it_reads(
    amp_hours: float, step_s: float, told: OutageKind
) -> None:
    drawn = course(0.0, before=-amp_hours * 3600.0 / (FIRST * step_s))
    assert kind(battery_current=drawn, step_s=step_s) == told


def test_what_a_battery_was_given_back_it_does_not_lack() -> None:
    flow = course(0.0, before=-200.0)
    flow[60:FIRST] = 100.0  # 3.3 Ah drawn, 1.7 of them back
    assert kind(battery_current=flow) == VOLTMETER_ONLY


@pytest.mark.parametrize(
    ("usual", "output", "told"),
    [
        (30.0, float("nan"), OFFLINE),
        (30.0, 1.9, OFFLINE),
        (30.0, 2.1, OUTPUT_LIMITED),
        (30.0, 26.3, OUTPUT_LIMITED),  # 12 % of 30 A are 3.6 A
        (30.0, 26.5, VOLTMETER_ONLY),
        (30.0, 33.5, VOLTMETER_ONLY),
        (30.0, 33.7, OUTPUT_LIMITED),
        (10.0, 7.9, OUTPUT_LIMITED),  # at a small output the least that tells an alternator, 2 A
        (10.0, 8.1, VOLTMETER_ONLY),
    ],
)
def test_an_output_is_gone_short_or_as_it_was(usual: float, output: float, told: OutageKind) -> None:
    assert kind(alternator_current=course(output, before=usual)) == told


def test_the_output_of_before_is_that_of_twenty_seconds_but_the_last_row() -> None:
    def told(high: int) -> OutageKind:
        """With so many rows of 30 A among the nineteen, the others 20 A; and with 50 A before, and nothing behind."""
        given = course(29.0, before=50.0)
        given[FIRST - 20 : FIRST - 1], given[FIRST - 1] = 20.0, 0.0
        given[FIRST - 20 : FIRST - 20 + high] = 30.0
        return kind(alternator_current=given)

    # a median of 30 A is as 29 A; one of 20 A is not
    assert told(10) == VOLTMETER_ONLY
    assert told(9) == OUTPUT_LIMITED


@pytest.mark.parametrize(
    ("slower", "output", "rows", "told"),
    [
        (0.0, None, 60, OFFLINE),
        (119.0, None, 60, OFFLINE),
        (121.0, None, 60, LOW_RPM),  # a throttle was closed
        (-121.0, None, 60, LOW_RPM),
        (0.0, 1.9, 60, OFFLINE),
        (0.0, 2.1, 60, LOW_RPM),  # it still gives
        (0.0, None, 8, OFFLINE),
        (0.0, None, 7, LOW_RPM),
    ],
)
def test_a_surge_before_it_tells_a_loss_at_any_speed_that_holds(
    slower: float, output: float | None, rows: int, told: OutageKind
) -> None:
    speed = course(1400.0 - slower, before=1400.0)
    speed[: FIRST - 5], speed[FIRST + 6 :] = 2300.0, 900.0  # five seconds to either side tell
    given = {} if output is None else {"alternator_current": np.full(ROWS, output)}
    assert kind(end=FIRST + rows, fast=slice(0, 0), rose=True, engine_speed=speed, **given) == told


@pytest.mark.parametrize(("first", "rows", "told"), [(1000, 239, LOW_RPM), (1000, 240, OFFLINE)])
def test_an_engine_of_unknown_speed_idles_for_less_than_four_minutes(first: int, rows: int, told: OutageKind) -> None:
    assert kind(first, first + rows, size=3000, engine=False) == told


@pytest.mark.parametrize(
    ("first", "end", "told"),
    [
        (600, 900, LOW_RPM),  # over 899 s after the start: it taxies out
        (602, 902, OFFLINE),
        (2100, 2400, LOW_RPM),  # 899 s before the stop: it taxies in
        (2099, 2399, OFFLINE),
        (2500, 3000, OFFLINE),  # low until the engine stops
    ],
)
def test_it_idles_longer_only_about_the_taxi_out_and_in(first: int, end: int, told: OutageKind) -> None:
    every = np.ones(3100, dtype=np.bool_)
    every[3000:] = False
    trace = Trace(time=np.arange(3100.0), bus_voltage=np.full(3100, 12.3))
    holds, fast = battery_holds(12.5, LIMITS, charged=True), np.ones(3100, dtype=np.bool_)
    assert kind_of(trace, first, end, fast, LIMITS, holds, rose=False, running=every) == told
    airspeed = np.full(3100, 20.0)  # one is recorded, and would say so
    flown = trace.with_channels(airspeed=airspeed)
    assert kind_of(flown, first, end, fast, LIMITS, holds, rose=False, running=every) == OFFLINE


@pytest.mark.parametrize(("level_s", "told"), [(86, LOW_RPM), (87, OFFLINE)])
def test_an_altitude_held_for_eighty_seconds_says_that_the_engine_is_at_power(level_s: int, told: OutageKind) -> None:
    # The aircraft sinks by 600 ft/min but for a level piece. Over the 40 s about a row it may sink by 167 ft, at 250
    # ft/min: by 16 rows of 10 ft. So 24 of the 40 are level, which holds at seven rows fewer than the piece has.
    sinks = np.full(1500, 10.0)
    sinks[600 : 600 + level_s] = 0.0
    altitude = 20000.0 - np.cumsum(sinks)
    altitude[:10] = 0.0
    assert kind(500, 1000, size=1500, engine=False, altitude=altitude) == told


def lost(airspeed: Floats, flow: Floats, step_s: float = 1.0) -> bool:
    """Whether it is told for a loss by its airspeed and the way the current left, no altitude recorded."""
    trace = Trace(
        time=step_s * np.arange(ROWS), bus_voltage=np.full(ROWS, 12.3), airspeed=airspeed, alternator_current=flow
    )
    return _lost_at_power(trace, FIRST, END)


@pytest.mark.parametrize(
    ("was", "later", "told"),
    [(100.0, 100.0, True), (100.0, 88.5, True), (100.0, 87.5, False), (100.0, 112.5, False), (46.0, 46.0, True),
     (44.0, 44.0, False), (100.0, float("nan"), False)],
)  # fmt: skip
def test_an_airspeed_that_is_held_after_the_current_has_left_tells_a_loss(was: float, later: float, told: bool) -> None:
    assert lost(course(later, before=was), course(0.0, before=20.0)) is told


def test_the_airspeed_of_before_is_that_of_the_last_minute() -> None:
    for fast_until, told in ((60, True), (31, True), (29, False)):  # or for most of that minute it was 130 kt
        climb = course(92.0, before=100.0)
        climb[: FIRST - fast_until] = 130.0
        assert lost(climb, course(0.0, before=20.0)) is told


@pytest.mark.parametrize(
    ("between", "told"),
    [((), True), ((10.0,), True), ((14.0, 6.0), False), ((16.0, 16.0, 4.0), True), ((12.0, 10.0, 8.0), False)],
)
def test_a_current_that_leaves_within_two_seconds_and_a_half_was_interrupted(
    between: tuple[float, ...], told: bool
) -> None:
    # from three quarters of 20 A to one: a row between is 2 s, two are 3 s; 16 A still count as all, 4 A as none
    flow = course(0.0, before=20.0)
    flow[FIRST : FIRST + len(between)] = between
    assert lost(np.full(ROWS, 100.0), flow) is told


def test_it_may_leave_for_another_level_than_nothing() -> None:
    assert lost(np.full(ROWS, 100.0), course(12.0, before=20.0)), "from 18 A to 14 A at once"


@pytest.mark.parametrize(("beside", "told"), [(-7, False), (-5, True), (5, True), (7, False)])
def test_it_leaves_within_six_seconds_of_where_the_bus_falls(beside: int, told: bool) -> None:
    assert lost(np.full(ROWS, 100.0), course(0.0, before=20.0, first=FIRST + beside)) is told


@pytest.mark.parametrize(("step_s", "told"), [(2.5, True), (3.0, False)])
def test_a_slow_recorder_does_not_show_how_a_current_left(step_s: float, told: bool) -> None:
    assert lost(np.full(ROWS, 100.0), course(0.0, before=20.0), step_s) is told


@pytest.mark.parametrize(
    ("slow", "told"),
    [
        (slice(0, FIRST - 60), False),  # more than a minute ago
        (slice(0, FIRST - 59), True),
        (slice(FIRST, END), True),
        (slice(FIRST, FIRST + 1), False),  # one row that the bus's own fall may have made
        (slice(FIRST + 2, END), False),  # later
        (slice(0, 0), False),
    ],
)
def test_an_engine_has_idled_that_was_slow_in_the_minute_before_or_as_the_bus_fell(slow: slice, told: bool) -> None:
    fast = np.ones(ROWS, dtype=np.bool_)
    fast[slow] = False
    trace = Trace(time=np.arange(float(ROWS)), bus_voltage=np.full(ROWS, 12.3))
    assert idled(trace, FIRST, END, fast) is told


@pytest.mark.parametrize(("rise", "told"), [(0.2, OFFLINE), (0.3, LOW_RPM)])
def test_a_bus_that_climbs_after_idling_is_being_charged(rise: float, told: OutageKind) -> None:
    # a quarter of a volt from the first third to the last; the middle says nothing
    bus = np.full(ROWS, 12.2)
    bus[FIRST + 20 : FIRST + 40], bus[FIRST + 40 : END] = 12.0, 12.2 + rise
    assert kind(fast=slice(FIRST - 30, None), bus=bus) == told


@pytest.mark.parametrize(
    ("step", "falls", "told"),
    [
        (0.01, (13.3, 13.0), VOLTMETER_ONLY),  # a load's step, by more than 0.15 V at once, is no sag
        (0.01, (13.3, 13.2, 13.1, 13.0), OFFLINE),
        (0.01, (13.16, 13.0), VOLTMETER_ONLY),
        (0.01, (13.14, 13.0), OFFLINE),
        (0.2, (13.2, 13.0), OFFLINE),  # of a coarse voltmeter more than one step and a half
        (0.2, (13.4, 13.0), VOLTMETER_ONLY),
    ],
)
def test_a_bus_above_any_battery_that_only_steps_is_a_reading_and_one_that_sags_a_battery(
    step: float, falls: tuple[float, ...], told: OutageKind
) -> None:
    bus = np.full(ROWS, falls[-1])
    bus[:11] += step * np.arange(11)  # the voltmeter's step
    bus[FIRST : FIRST + 30] = falls[0]
    bus[FIRST + 30 : FIRST + 30 + len(falls)] = falls
    assert kind(bus=bus) == told


@pytest.mark.parametrize(
    ("rest", "charged", "holds"),
    [
        # full 12.65 V; it sags by 0.05 V, and surface charge lifts it by 0.25 V
        (12.4, False, (12.65, 12.65, 12.65)),
        (12.4, True, (12.65, 12.70, 12.90)),
        (12.8, True, (12.80, 12.85, 13.05)),
        (12.9, True, (13.30, 13.35, 13.55)),  # above 12.85 V it may be lithium, full at 13.3 V
        (float("nan"), False, (12.65, 12.65, 12.65)),
        (float("nan"), True, (13.15, 13.15, 13.15)),  # what no battery holds on its own
    ],
)
@pytest.mark.parametrize("volts", [14, 28])
def test_what_a_battery_holds_is_its_rest_or_a_full_one_s_with_surface_charge(
    volts: int, rest: float, charged: bool, holds: tuple[float, float, float]
) -> None:
    scale = volts / 14.0
    told = battery_holds(rest * scale, Limits(volts, {}), charged=charged)
    assert (told.rested, told.lastingly, told.at_first) == pytest.approx(tuple(one * scale for one in holds))
