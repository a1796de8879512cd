"""Moments in which something drops out, on a held bus without noise of which every row is known.

Ten minutes' worth of rows a second. The first rows climb by a hundredth of a volt each, which is the voltmeter's step.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.flights.dips import LEAD, PATH, UNTOLD, DipKind, find_dips
from analyzer.flights.outage_kinds import GROUND_CHECK, LOW_RPM, OFFLINE, OUTPUT_LIMITED, AlternatorOutage, OutageKind
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

#: A battery of 24 Ah, which takes 7.2 A at the most once it is not deeply discharged.
LIMITS = Limits(14, {"battery_capacity": 24.0})
ROWS, AT = 2400, 1200


def level(volts: float = 14.0, rows: int = ROWS) -> Floats:
    course = np.full(rows, volts)
    course[:11] += 0.01 * np.arange(11)
    return course


def moment(course: Floats, value: float, at: int = AT, rows: int = 4) -> Floats:
    """The course with another value for some rows."""
    changed = course.copy()
    changed[at : at + rows] = value
    return changed


def output(amps: float = 20.0) -> Floats:
    """An output that has been twice as high, so that it has amperes to spare."""
    course = np.full(ROWS, amps)
    course[:100] *= 2.0
    return course


def dips(
    bus: Floats, outages: tuple[AlternatorOutage, ...] = (), slow: slice | None = None, *, step_s: float = 1.0,
    engine: bool = True, **channels: Any,
) -> list[tuple[DipKind, int, int]]:  # fmt: skip
    """Kind, first row and end of each dip; the engine slow in rows ``slow``."""
    every, fast = np.ones(bus.size, dtype=np.bool_), np.ones(bus.size, dtype=np.bool_)
    if slow is not None:
        fast[slow] = False
    if engine:
        channels = {"engine_speed": np.full(bus.size, 2300.0)} | channels
    trace = Trace(time=step_s * np.arange(bus.size), bus_voltage=bus, **channels)
    return [(one.kind, one.first, one.end) for one in find_dips(trace, every, fast, 0, list(outages), LIMITS)]


FOUR = (AT, AT + 4)


@pytest.mark.parametrize(("depth", "told"), [(0.29, False), (0.31, True)])
def test_a_step_of_the_reading_that_no_current_answers_is_the_voltmeter_s_path(depth: float, told: bool) -> None:
    found = dips(moment(level(), 14.0 - depth), battery_current=np.full(ROWS, 2.0))
    assert found == ([(PATH, *FOUR)] if told else [])


@pytest.mark.parametrize(("steps", "told"), [(2.0, False), (3.0, True)])
def test_a_coarse_voltmeter_s_own_two_steps_are_none(steps: float, told: bool) -> None:
    bus = np.full(ROWS, 14.0)
    bus[:60] = 14.0 + 0.2 * (np.arange(60) % 2)  # a step of 0.2 V, two and a half of which count
    assert bool(dips(moment(bus, 14.0 - 0.2 * steps), battery_current=np.full(ROWS, 2.0))) is told


@pytest.mark.parametrize(("rows", "told"), [(1, True), (61, True), (62, False)])
def test_a_drop_that_lasts_longer_than_a_minute_is_no_dip(rows: int, told: bool) -> None:
    bus = moment(level(), 13.0, rows=rows)
    assert dips(bus, battery_current=np.full(ROWS, 2.0)) == ([(PATH, AT, AT + rows)] if told else [])


@pytest.mark.parametrize(("amps", "told"), [(7.9, True), (8.1, False)])
def test_a_current_that_moves_by_three_amperes_has_answered(amps: float, told: bool) -> None:
    flow = np.full(ROWS, 5.0)
    flow[:11] += 0.1 * np.arange(11)
    assert dips(moment(level(), 13.0), battery_current=moment(flow, amps)) == ([(PATH, *FOUR)] if told else [])


@pytest.mark.parametrize(("amps", "told"), [(4.95, True), (4.8, False)])
def test_one_that_falls_and_returns_by_more_than_its_meter_s_step_has_answered_too(amps: float, told: bool) -> None:
    flow = np.full(ROWS, 5.0)
    flow[:11] += 0.1 * np.arange(11)
    assert bool(dips(moment(level(), 13.0), battery_current=moment(flow, amps))) is told


@pytest.mark.parametrize(("floor", "told"), [(13.575, False), (13.555, True)])
@pytest.mark.parametrize("back", [False, True])
def test_a_reading_that_slides_down_or_back_is_no_step(floor: float, told: bool, back: bool) -> None:
    # By a hundredth of a volt a row it is low from 13.695 V on. Up to there, by the middle of three rows, it lies at
    # 13.715 V: from that to the floor, as on the other side, must be half of the step of 0.3 V.
    slide = np.arange(13.995, floor - 0.001, -0.01)
    bus = level()
    rows = slice(AT, AT + slide.size) if back else slice(AT - slide.size, AT)
    bus[rows] = slide[::-1] if back else slide
    assert bool(dips(bus, battery_current=np.full(ROWS, 2.0))) is told


@pytest.mark.parametrize(("raised", "told"), [(14, True), (16, False)])
def test_an_alternator_at_its_limit_for_most_of_half_a_minute_lets_a_load_s_pulse_through(
    raised: int, told: bool
) -> None:
    for amps, there in ((38.0, told), (37.0, True)):  # of 40 A; 94 % are 37.6 A
        given = moment(output(), amps, AT - 30, raised)
        assert dips(moment(level(), 13.0), alternator_current=given) == ([(PATH, *FOUR)] if there else [])


@pytest.mark.parametrize(("left", "told"), [(0.0, LEAD), (5.9, LEAD), (6.1, None), (18.0, PATH)])
def test_an_output_below_three_tenths_of_its_own_is_gone(left: float, told: DipKind | None) -> None:
    found = dips(moment(level(), 13.4), alternator_current=moment(output(), left))
    assert found == ([] if told is None else [(told, *FOUR)])


@pytest.mark.parametrize(("depth", "told"), [(0.005, False), (0.02, True)])
def test_the_bus_gives_way_by_a_step_of_its_meter_where_an_output_is_gone(depth: float, told: bool) -> None:
    found = dips(moment(level(), 14.0 - depth), alternator_current=moment(output(), 0.0))
    assert bool(found) is told


@pytest.mark.parametrize(("between", "told"), [(0, True), (2, True), (3, False)])
@pytest.mark.parametrize("behind", [False, True])
def test_an_output_that_leaves_or_returns_over_seconds_follows_a_throttle(
    between: int, behind: bool, told: bool
) -> None:
    given = moment(output(), 0.0)
    rows = slice(AT + 4, AT + 4 + between) if behind else slice(AT - between, AT)
    given[rows] = 8.0  # below half of 20 A, and above three tenths
    assert bool([one for one in dips(moment(level(), 13.4), alternator_current=given) if one[0] == LEAD]) is told


@pytest.mark.parametrize(
    ("usual", "then", "told"),
    [
        (1.0, -2.1, LEAD),  # by three amperes, and so that it gives more than one
        (1.0, -1.9, None),
        (5.0, -1.1, LEAD),
        (5.0, -0.9, None),
        (7.1, -9.0, LEAD),
        (7.3, -9.0, None),  # it takes all that an alternator at its limit gives
    ],
)
def test_a_battery_that_takes_over_says_that_the_alternator_was_gone(
    usual: float, then: float, told: DipKind | None
) -> None:
    flow = np.full(ROWS, usual)
    flow[:11] += 0.1 * np.arange(11)
    found = dips(moment(level(), 13.4), battery_current=moment(flow, then))
    assert found == ([] if told is None else [(told, *FOUR)])


@pytest.mark.parametrize(("between", "told"), [(-0.3, True), (-0.7, False)])
def test_a_battery_takes_over_from_half_of_what_tells_it_on(between: float, told: bool) -> None:
    # from 1 A by 3 A, half of which is -0.5 A: below that for three rows it follows a throttle
    flow = moment(moment(np.full(ROWS, 1.0), -9.0), between, AT - 3, 3)
    assert bool([one for one in dips(moment(level(), 13.4), battery_current=flow) if one[0] == LEAD]) is told


@pytest.mark.parametrize(("usual", "rows", "told"), [(20.0, 60, True), (20.0, 61, False), (38.0, 4, True)])
def test_an_output_is_gone_for_less_than_a_minute_be_it_at_its_limit_or_not(
    usual: float, rows: int, told: bool
) -> None:
    given = moment(np.where(np.arange(ROWS) < 100, 40.0, usual), 0.0, AT, rows)
    found = dips(moment(level(), 13.4, AT, rows), alternator_current=given)
    assert found == ([(LEAD, AT, AT + rows)] if told else [])


@pytest.mark.parametrize(("depth", "told"), [(0.44, False), (0.46, True)])
def test_without_an_ammeter_a_drop_counts_from_what_no_load_makes(depth: float, told: bool) -> None:
    assert dips(moment(level(), 14.0 - depth)) == ([(UNTOLD, *FOUR)] if told else [])


@pytest.mark.parametrize(
    ("apart", "step_s", "told"), [(5, 1.0, 0), (7, 1.0, 6), (11, 0.5, 0), (13, 0.5, 6), (21, 0.25, 0)]
)
def test_drops_that_follow_each_other_within_six_seconds_are_a_flashing_load_s(
    apart: int, step_s: float, told: int
) -> None:
    bus = level()
    for place in range(6):
        bus = moment(bus, 13.0, AT + apart * place, 2)
    assert len(dips(bus, step_s=step_s)) == told


def outage(first: int, end: int, kind: OutageKind = OFFLINE) -> AlternatorOutage:
    return AlternatorOutage(first, end, kind)


@pytest.mark.parametrize(
    ("kind", "lasts", "away", "told"),
    [
        (OFFLINE, 62, 58, False),  # a minute behind a loss that lasts belongs to it
        (OFFLINE, 62, 61, True),
        (OFFLINE, 61, 3, True),  # one of a minute is no loss that lasts
        (OFFLINE, 62, -5, False),  # and five rows before it
        (OFFLINE, 62, -10, True),
        (OFFLINE, 602, -10, False),  # and ten minutes where it lasts for longer than ten
        (OFFLINE, 602, -606, True),
        (OUTPUT_LIMITED, 20, -600, False),
        (OUTPUT_LIMITED, 20, -606, True),
        (OUTPUT_LIMITED, 20, 61, True),
        (LOW_RPM, 200, 3, True),
    ],
)
def test_what_lies_beside_a_loss_is_the_loss_s_own(kind: OutageKind, lasts: int, away: int, told: bool) -> None:
    first = 900
    at = first + lasts + away if away > 0 else first + away
    found = dips(moment(level(), 13.0, at), (outage(first, first + lasts, kind),), battery_current=np.full(ROWS, 2.0))
    assert found == ([(PATH, at, at + 4)] if told else [])


@pytest.mark.parametrize(("back", "away", "told"), [(0, 178, False), (0, 182, True), (60, 182, False), (60, 242, True)])
def test_without_an_ammeter_three_minutes_behind_idling_are_a_recharge_s(back: int, away: int, told: bool) -> None:
    # from where the bus is back at what it held for most of a minute, 60 rows later if it stays low so long
    bus = level()
    bus[700 : 730 + back] = 13.3
    at = 730 + away
    found = dips(moment(bus, 12.5, at), (outage(700, 730, LOW_RPM),), slice(700, 730))
    assert ((UNTOLD, at, at + 4) in found) is told


@pytest.mark.parametrize(
    ("kind", "rows", "told"),
    [(GROUND_CHECK, 5, False), (OFFLINE, 5, True), (LOW_RPM, 61, True), (LOW_RPM, 62, False)],
)
def test_so_are_they_behind_a_check_or_a_low_bus_of_more_than_a_minute(kind: OutageKind, rows: int, told: bool) -> None:
    at = 700 + rows + 100
    assert bool(dips(moment(level(), 12.5, at), (outage(700, 700 + rows, kind),))) is told


@pytest.mark.parametrize(("at", "told"), [(896, False), (901, True), (1494, True), (1500, False)])
def test_an_engine_of_unknown_speed_is_fast_but_for_a_quarter_of_an_hour_at_either_end(at: int, told: bool) -> None:
    assert dips(moment(level(), 13.0, at), engine=False) == ([(UNTOLD, at, at + 4)] if told else [])


@pytest.mark.parametrize(("rows", "away", "told"), [(15, 50, True), (16, 117, False), (16, 121, True)])
def test_and_but_for_two_minutes_beside_a_low_bus_that_may_be_idling(rows: int, away: int, told: bool) -> None:
    at = 1100 + rows + away
    found = dips(
        moment(level(), 13.0, at), (outage(1100, 1100 + rows, LOW_RPM),), engine=False,
        battery_current=np.full(ROWS, 2.0),
    )  # fmt: skip
    assert found == ([(PATH, at, at + 4)] if told else [])


@pytest.mark.parametrize(
    ("changes", "away", "told"),
    [(239.0, 2, True), (241.0, 2, False), (241.0, 8, False), (241.0, 18, True), (-241.0, -8, False),
     (-241.0, -20, True)],
)  # fmt: skip
def test_a_change_of_power_hides_what_lies_within_eleven_seconds_of_it(changes: float, away: int, told: bool) -> None:
    speed = np.where(np.arange(ROWS) < AT, 2300.0, 2300.0 + changes)
    at = AT + away
    found = dips(moment(level(), 13.0, at), battery_current=np.full(ROWS, 2.0), engine_speed=speed)
    assert found == ([(PATH, at, at + 4)] if told else [])


@pytest.mark.parametrize(("blip", "told"), [(119.0, True), (121.0, False)])
def test_a_speed_that_stands_out_of_those_beside_it_is_not_steady(blip: float, told: bool) -> None:
    speed = moment(np.full(ROWS, 2300.0), 2300.0 - blip)
    assert bool(dips(moment(level(), 13.0), battery_current=np.full(ROWS, 2.0), engine_speed=speed)) is told
