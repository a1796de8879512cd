"""Stretches without the alternator, on courses a row a second: where they part and join, and where in a flight."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.flights.alternator_online import taken_row, takeoff_row
from analyzer.flights.outage_kinds import (
    GROUND_CHECK,
    LATE_START,
    LOW_RPM,
    OFFLINE,
    OUTPUT_LIMITED,
    OutageKind,
)
from analyzer.flights.outages import outages
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

LIMITS = Limits(14, {"battery_capacity": 24.0, "alternator_rating": 60.0})
#: The engine runs from START to STOP and takes off at OFF; a loss begins at AT.
ROWS, START, OFF, AT, STOP = 3000, 100, 600, 1200, 2800


def course(usual: float, *parts: tuple[int, int, float]) -> Floats:
    """A level, with others in some rows."""
    values = np.full(ROWS, usual)
    for first, end, level in parts:
        values[first:end] = level
    return values


def told(
    gone: list[tuple[int, int]], slow: list[tuple[int, int]] = [], restarts: tuple[int, ...] = (),  # noqa: B006
    bus: Floats | None = None, **channels: Any,
) -> list[tuple[OutageKind, int, int]]:  # fmt: skip
    """Kind, first row and end of a flight's outages, the alternator gone in some rows and the engine slow in some."""
    running = (np.arange(ROWS) >= START) & (np.arange(ROWS) < STOP)
    online, fast = running.copy(), running.copy()
    for first, end in gone:
        online[first:end] = False
    for first, end in slow:
        fast[first:end] = False
    volts = np.where(online, 14.0, 12.3) if bus is None else bus
    channels = {
        "engine_speed": np.where(fast, 2300.0, np.where(running, 900.0, 0.0)),
        "airspeed": course(0.0, (OFF, 2700, 90.0)),
    } | channels
    trace = Trace(time=np.arange(float(ROWS)), bus_voltage=volts, **channels)
    taken, takeoff = taken_row(trace, online), takeoff_row(trace, running)
    found = outages(trace, running, online, fast, taken, takeoff, 14.0, LIMITS, restarts, 12.5)
    return [(one.kind, one.first, one.end) for one in found]


def drained(*gone: tuple[int, int], amps: float = -10.0) -> Floats:
    return course(1.0, *((first, end, amps) for first, end in gone))


def loss(first: int, end: int, kind: OutageKind = OFFLINE, **more: Any) -> list[tuple[OutageKind, int, int]]:
    gone = [(first, end)]
    return told(gone, battery_current=drained(*gone), **more)


@pytest.mark.parametrize(("rows", "seen"), [(2, False), (3, True)])
def test_an_outage_of_less_than_three_seconds_is_not_counted(rows: int, seen: bool) -> None:
    assert bool(loss(AT, AT + rows)) is seen


@pytest.mark.parametrize(("between", "parts"), [(1, 1), (2, 2)])
def test_a_return_of_less_than_three_seconds_ends_none(between: int, parts: int) -> None:
    gone = [(AT, AT + 60), (AT + 60 + between, AT + 120)]
    assert len(told(gone, battery_current=drained(*gone))) == parts


@pytest.mark.parametrize(
    ("first", "rows", "kind"),
    [
        (400, 31, GROUND_CHECK),  # 30 s from its first row to its last
        (400, 32, OFFLINE),
        (570, 30, GROUND_CHECK),
        (571, 30, OFFLINE),  # it goes on into the take-off
        (1200, 20, OFFLINE),
        (2760, 20, OFFLINE),
        (2780, 20, GROUND_CHECK),  # just before the engine is stopped
        (START, 300, LATE_START),  # before the alternator first takes the bus
    ],
)
def test_a_loss_of_half_a_minute_on_the_ground_is_a_check(first: int, rows: int, kind: OutageKind) -> None:
    (found,) = loss(first, first + rows)
    assert found[0] == kind


def test_an_outage_begins_where_the_battery_began_to_give() -> None:
    for before, first in ((100, AT - 100), (119, AT - 119), (120, AT)):
        flow = drained((AT - before, AT + 60))
        ((_, begins, _),) = told([(AT, AT + 60)], battery_current=flow)
        assert begins == first, "less than two minutes before the bus fell"


def test_an_outage_begins_where_the_output_fell_silent() -> None:
    output = course(20.0, (AT - 50, AT + 60, 0.9))
    assert told([(AT, AT + 60)], alternator_current=output) == [(OFFLINE, AT - 50, AT + 60)]
    output = course(20.0, (AT - 50, AT, 1.1), (AT, AT + 60, 0.5))
    assert told([(AT, AT + 60)], alternator_current=output) == [(OFFLINE, AT, AT + 60)]


def test_no_outage_goes_on_across_a_new_beginning_of_the_recording() -> None:
    gone = [(AT, AT + 100)]
    found = told(gone, restarts=(AT - 300, AT + 40, AT + 300), battery_current=drained(*gone))
    assert found == [(OFFLINE, AT, AT + 40), (OFFLINE, AT + 40, AT + 100)]


def test_low_engine_speed_beside_a_loss_belongs_to_it() -> None:
    gone, slow = [(AT, AT + 200)], [(AT + 100, AT + 200)]
    found = told(gone, slow, restarts=(AT + 100,), battery_current=drained(*gone))
    assert [one[0] for one in found] == [OFFLINE, LOW_RPM], "but for one across a new beginning"
    apart = [(AT, AT + 100), (AT + 101, AT + 200)]
    assert told(apart, [(AT + 101, AT + 200)], battery_current=drained((AT, AT + 200))) == [(OFFLINE, AT, AT + 200)]


@pytest.mark.parametrize(("rows", "parts"), [(7, 1), (12, 2)])
def test_an_output_that_falls_silent_under_a_low_bus_begins_another_outage(rows: int, parts: int) -> None:
    """It gave too little for minutes, and the battery the rest, and then nothing: eight seconds of that tell."""
    output = course(30.0, (AT, AT + 120, 10.0), (AT + 120 - rows, AT + 120, 0.5))
    found = told([(AT, AT + 120)], alternator_current=output, battery_current=drained((AT, AT + 120)))
    assert len(found) == parts
    if parts == 2:
        assert found == [(OUTPUT_LIMITED, AT, AT + 120 - rows), (OFFLINE, AT + 120 - rows, AT + 120)]


def limited(
    charge: float = 5.0, for_s: int = 40, held: float = 13.5, drawn: float = -10.0, rows: int = 60
) -> OutageKind:
    """Kind of a loss behind which the battery is charged on a bus that is not yet held."""
    end = AT + rows
    bus = course(14.0, (AT, end, 12.3), (end, end + for_s, held))
    flow = course(1.0, (AT, end, drawn), (end, end + for_s, charge))
    (found,) = told([(AT, end)], bus=bus, battery_current=flow)
    return found[0]


@pytest.mark.parametrize(
    ("how", "kind"),
    [
        ({}, OUTPUT_LIMITED),
        ({"for_s": 23}, OFFLINE),  # 25 s of a battery that is charged below what is held
        ({"for_s": 26}, OUTPUT_LIMITED),
        ({"charge": 0.9}, OFFLINE),
        ({"held": 13.8}, OFFLINE),  # a quarter of a volt below 14 V
        ({"held": 13.7}, OUTPUT_LIMITED),
        ({"charge": 19.0}, OUTPUT_LIMITED),  # a swing of 29 A is a load's, of half the alternator's 60 A and more none
        ({"charge": 21.0}, OFFLINE),
    ],
)
def test_an_alternator_that_comes_back_at_its_limit_was_there(how: dict[str, Any], kind: OutageKind) -> None:
    assert limited(**how) == kind


@pytest.mark.parametrize(("drawn", "kind"), [(-19.0, OUTPUT_LIMITED), (-21.0, OFFLINE)])
def test_what_one_outage_shows_holds_for_others_with_up_to_twice_its_discharge(drawn: float, kind: OutageKind) -> None:
    bus = course(14.0, (AT, AT + 60, 12.3), (AT + 60, AT + 100, 13.5), (2000, 2060, 12.3))
    flow = course(1.0, (AT, AT + 60, -10.0), (AT + 60, AT + 100, 5.0), (2000, 2060, drawn))
    found = told([(AT, AT + 60), (2000, 2060)], bus=bus, battery_current=flow)
    assert [one[0] for one in found] == [OUTPUT_LIMITED, kind]


@pytest.mark.parametrize(("others", "kind"), [(4, OUTPUT_LIMITED), (5, OFFLINE)])
def test_unless_more_than_four_times_as_many_end_with_the_bus_back_at_once(others: int, kind: OutageKind) -> None:
    more = [(1500 + 200 * place, 1520 + 200 * place) for place in range(others)]
    gone = [(AT, AT + 60), *more]
    bus = course(14.0, *((first, end, 12.3) for first, end in gone), (AT + 60, AT + 100, 13.5))
    flow = course(1.0, *((first, end, -10.0) for first, end in gone), (AT + 60, AT + 100, 5.0))
    assert told(gone, bus=bus, battery_current=flow)[0][0] == kind


def test_a_surge_and_an_alternator_s_own_silence_are_losses_whatever_comes_after() -> None:
    end = AT + 60
    bus = course(14.0, (AT, end, 12.3), (end, end + 40, 13.5))
    flow = course(1.0, (AT, end, -10.0), (end, end + 40, 5.0))
    silent = course(20.0, (AT, end, 0.5))
    assert told([(AT, end)], bus=bus, battery_current=flow, alternator_current=silent)[0][0] == OFFLINE
    surge = bus.copy()
    surge[AT - 5 : AT] = 15.9
    assert told([(AT, end)], bus=surge, battery_current=flow)[0][0] == OFFLINE
