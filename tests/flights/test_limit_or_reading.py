"""What speaks for an alternator at its limit and what for a reading that is low, sentence by sentence with its odds.

Courses without noise, a row a second. A running median of five rows and the middle 90 % of the readings are what the
numbers come from: a course that moves evenly by 1 V is told as 0.9 V.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.flights.limit_or_reading import limit_or_reading, odds
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

LIMITS = Limits(14, {})
#: Half of ten minutes the bus is held, then it is low.
ROWS, LOW = 600, 300


def then(before: Floats | float, inside: Floats | float) -> Floats:
    """A course of the first five minutes and one of the next."""
    return np.concatenate([np.full(LOW, before), np.full(ROWS - LOW, inside)])


def evenly(first: float, last: float) -> Floats:
    return np.linspace(first, last, ROWS - LOW)


def told(bus: Floats, output: Floats, low: Any = None, **channels: Floats) -> dict[str, float]:
    """Each sentence with its odds."""
    rows = np.arange(bus.size) >= LOW if low is None else low
    trace = Trace(time=np.arange(float(bus.size)), bus_voltage=bus, alternator_current=output, **channels)
    found = limit_or_reading(trace, rows, np.ones(bus.size, dtype=np.bool_), LIMITS)
    assert odds(found) == sum(one.odds for one in found)
    return {one.words: one.odds for one in found}


def test_an_output_that_stands_still_at_its_highest_while_the_bus_moves_is_at_its_limit() -> None:
    found = told(then(14.0, evenly(13.2, 12.4)), then(30.0, 40.0))
    assert found == {
        "the output was the highest of the flight, 40 A": 1.0,
        "the output stood still at 40 A while the bus moved by 0.7 V": 4.0,  # 90 % of 0.8 V
    }


@pytest.mark.parametrize(("moves", "moved"), [(0.32, False), (0.35, True)])  # 90 % of it against 0.3 V
def test_a_bus_that_hardly_moves_says_nothing_of_an_output_that_stands_still(moves: float, moved: bool) -> None:
    found = told(then(14.0, evenly(12.8, 12.8 - moves)), then(30.0, 40.0))
    assert any(words.startswith("the output stood still") for words in found) is moved


@pytest.mark.parametrize(
    ("output", "words", "odd"),
    [
        (37.7, "the output was the highest of the flight, 38 A", 1.0),  # 94 % of 40 A are 37.6 A
        (37.5, None, 0.0),
        (32.1, None, 0.0),
        (31.9, "the output was 32 A, though the alternator gives 40 A", -3.0),  # 80 % are 32 A
    ],
)
def test_an_output_is_held_against_the_highest_of_the_flight(output: float, words: str | None, odd: float) -> None:
    given = then(35.0, output)
    given[:100] = 40.0
    assert told(then(14.0, 13.0), given) == ({} if words is None else {words: odd})


@pytest.mark.parametrize(
    ("output", "low_s", "sank"),
    [
        (20.9, 0, True),  # 70 % of 30 A
        (21.1, 0, False),
        (21.1, 59, False),
        (26.3, 61, True),  # after a bus that comes down for more than a minute, 88 %
        (26.5, 61, False),
    ],
)
def test_an_output_that_sank_is_told_with_what_it_was(output: float, low_s: int, sank: bool) -> None:
    bus = then(14.0, 13.0)
    bus[LOW - low_s : LOW] = 13.7  # no longer held, and not yet low
    found = told(bus, then(30.0, output))
    words = f"the output sank to {output:.0f} A, from 30 A, as the bus fell"
    assert found.get(words) == (5.0 if sank else None)


@pytest.mark.parametrize(("rows_of_50", "was"), [(449, 30), (451, 50)])
def test_what_it_was_is_what_it_was_for_most_of_a_quarter_of_an_hour(rows_of_50: int, was: int) -> None:
    output = np.full(1600, 15.0)
    output[: 400 + rows_of_50], output[400 + rows_of_50 : 1300] = 50.0, 30.0
    found = told(np.where(np.arange(1600) < 1300, 14.0, 13.0), output, np.arange(1600) >= 1300)
    assert found[f"the output sank to 15 A, from {was} A, as the bus fell"] == 5.0


@pytest.mark.parametrize(("held_s", "sank"), [(59, False), (61, True)])
def test_a_bus_held_for_less_than_a_minute_shows_no_output_of_before(held_s: int, sank: bool) -> None:
    bus = then(13.0, 13.0)
    bus[LOW - held_s : LOW] = 14.0
    low, fast = np.arange(ROWS) >= LOW, np.arange(ROWS) >= LOW - held_s
    trace = Trace(time=np.arange(float(ROWS)), bus_voltage=bus, alternator_current=then(30.0, 15.0))
    found = limit_or_reading(trace, low, fast, LIMITS)
    assert any(one.words.startswith("the output sank") for one in found) is sank


@pytest.mark.parametrize(
    ("amps", "bus", "words", "odd"),
    [
        (-3.1, 12.0, "the battery gave 3 A meanwhile", 5.0),
        (-2.9, 12.0, None, 0.0),
        (-1.1, 12.0, None, 0.0),
        (-0.9, 12.2, "the battery gave 1 A, though the bus read 12.2 V, less than it rests at", -5.0),
        (2.0, 12.2, "the battery gave 0 A, though the bus read 12.2 V, less than it rests at", -5.0),
        (-0.9, 12.3, None, 0.0),  # half charged it rests at 12.24 V
    ],
)
def test_a_battery_gives_to_a_bus_that_is_low_and_rests_on_one_that_only_reads_so(
    amps: float, bus: float, words: str | None, odd: float
) -> None:
    output = then(33.0, 33.0)
    output[:50] = 36.0  # 92 %: it says nothing itself
    found = told(then(14.0, bus), output, battery_current=then(1.0, amps))
    assert found == ({} if words is None else {words: odd})


@pytest.mark.parametrize(
    ("times", "step", "output", "slow", "silent"),
    [
        (3, 0.5, 30.0, 0, True),
        (2, 0.5, 30.0, 0, False),
        (3, 0.31, 30.0, 0, True),
        (3, 0.29, 30.0, 0, False),
        (3, 0.5, 26.5, 0, True),  # 12 % of it are 3.2 A
        (3, 0.5, 26.5 - 0.4, 0, False),
        (3, 0.5, 30.0, 5, False),  # down at once and back over seconds
    ],
)
def test_a_bus_that_steps_down_and_back_while_the_output_does_not_move_is_a_contact_at_the_meter(
    times: int, step: float, output: float, slow: int, silent: bool
) -> None:
    bus, given, low = np.full(ROWS, 14.0), np.full(ROWS, 29.6), np.zeros(ROWS, dtype=np.bool_)
    given[:30] = 40.0  # it could give more
    for first in range(200, 200 + 60 * times, 60):
        bus[first : first + 20], given[first : first + 20], low[first : first + 20] = 14.0 - step, output, True
        bus[first + 20 - slow : first + 20] = np.linspace(14.0 - step, 14.0, slow + 2)[1:-1]
    found = told(bus, given, low)
    words = f"the bus stepped down and back {times} times while the output did not move"
    assert found.get(words) == (-8.0 if silent else None)


@pytest.mark.parametrize(
    ("rpm", "times", "steep", "follows"),
    [
        (400.0, 1.0, 1.0, True),
        (400.0, 1.0, 0.52, True),
        (400.0, 1.0, 0.48, False),  # half as steep at the least, twice at the most
        (400.0, 1.0, 1.9, True),
        (400.0, 1.0, 2.1, False),
        (400.0, -1.0, 1.0, False),
        (124.0, 1.0, 1.0, True),  # 90 % of it are more than 5 % of 2200 rpm
        (120.0, 1.0, 1.0, False),
    ],
)
def test_an_output_that_follows_engine_speed_is_all_that_there_is(
    rpm: float, times: float, steep: float, follows: bool
) -> None:
    speed = evenly(2200.0 - 0.5 * rpm, 2200.0 + 0.5 * rpm)
    amps = 44.0 * (1.0 + times * steep * (speed / 2200.0 - 1.0))
    found = told(then(14.0, 13.0), then(amps[0], amps), engine_speed=then(speed[0], speed))
    words = f"the output followed engine speed, {amps.min():.0f} to {amps.max():.0f} A"
    assert found.get(words) == (4.0 if follows else None)


@pytest.mark.parametrize(("swing", "follows"), [(2.0, True), (6.0, False)])
def test_an_output_that_moves_as_much_by_itself_does_not_follow_engine_speed(swing: float, follows: bool) -> None:
    # 8 A with the speed, of which 90 % are 7.2 A; by itself to and fro by 4 or by 12 A, in minutes
    speed = evenly(2000.0, 2400.0)
    amps = 0.02 * speed + swing * np.where(np.arange(speed.size) // 30 % 2, 1.0, -1.0)
    found = told(then(14.0, 13.0), then(44.0, amps), engine_speed=then(2200.0, speed))
    assert any(words.startswith("the output followed") for words in found) is follows


@pytest.mark.parametrize(
    ("slope", "words", "odd"),
    [
        (0.05, "bus and output sank together, by 0.05 V with every ampere", 7.0),
        (-0.05, "the reading falls by 50 mV with every ampere of output, and with nothing else", -4.0),
    ],
)
def test_a_bus_that_goes_with_the_output_fades_with_it_and_one_that_goes_against_it_is_read_low(
    slope: float, words: str, odd: float
) -> None:
    amps = evenly(40.0, 20.0)
    found = told(then(14.0, 12.5 + slope * (amps - 30.0)), then(40.0, amps))
    assert found[words] == odd
    assert not any("stood still" in one for one in found)


def test_a_bus_that_moves_by_itself_says_by_how_much_the_output_does_not_explain() -> None:
    # to and fro by 0.6 V in minutes, the output up and down once meanwhile: no line goes through both
    amps = np.concatenate([np.linspace(30.0, 40.0, 150), np.linspace(40.0, 30.0, 150)])
    bus = 12.6 + 0.3 * np.where(np.arange(300) // 50 % 2, 1.0, -1.0) + 0.01 * (np.arange(300) % 2)
    found = told(then(14.0, bus), then(35.0, amps))
    assert found["the bus moved by 0.6 V that the output does not explain"] == 2.0


@pytest.mark.parametrize(("rows", "tells"), [(7, False), (8, True)])
def test_eight_readings_of_a_low_bus_are_the_fewest(rows: int, tells: bool) -> None:
    low = np.zeros(ROWS, dtype=np.bool_)
    low[LOW : LOW + rows] = True
    output = np.full(ROWS, 30.0)
    assert bool(told(then(14.0, 13.0), output, low)) is tells
    assert not told(then(14.0, 13.0), np.full(ROWS, np.nan)), "and an output that is recorded"
