"""When an engine ran and where flights part, on courses of which every row is known, mostly a second apart."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.flights.engine import cranking, engine_running, engine_runs
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats, Mask

LIMITS = Limits(14, {})


def stretches(*levels: tuple[float, int]) -> Floats:
    """Levels, each for so many rows."""
    return np.concatenate([np.full(rows, level) for level, rows in levels])


def trace_of(bus: Floats | None = None, time: Floats | None = None, **channels: Any) -> Trace:
    size = next(one.size for one in (bus, *channels.values()) if one is not None)
    return Trace(
        time=np.arange(float(size)) if time is None else time,
        bus_voltage=np.full(size, np.nan) if bus is None else bus,
        **channels,
    )


def none(trace: Trace) -> Mask:
    return np.zeros(trace.time.size, dtype=np.bool_)


def ran(trace: Trace, breaks: tuple[int, ...] = (), dead: Mask | None = None) -> list[tuple[int, int, int, int]]:
    """First row, start, stop and end of each engine run."""
    found = engine_runs(trace, LIMITS, breaks, none(trace) if dead is None else dead)
    return [(one.first, one.start, one.stop, one.end) for one in found]


@pytest.mark.parametrize(
    ("channel", "below", "above"),
    [("engine_speed", 399.0, 401.0), ("engine_speed_percent", 49.0, 51.0), ("oil_pressure", 11.9, 12.1)],
)
def test_an_engine_runs_from_the_speed_or_pressure_that_no_starter_gives(
    channel: str, below: float, above: float
) -> None:
    for level, runs in ((below, False), (above, True)):
        trace = trace_of(**{channel: np.full(100, level)})
        running, _ = engine_running(trace, LIMITS, none(trace))
        assert running.all() if runs else not running.any()


@pytest.mark.parametrize(("stopped", "ran_for", "blip"), [(2, 3, True), (3, 4, False)])
def test_a_stop_or_a_run_of_less_than_four_seconds_is_the_sensor_s(stopped: int, ran_for: int, blip: bool) -> None:
    # a stop lasts from the last running row to the next, a run from its first row to the next that is stopped
    gap = trace_of(oil_pressure=stretches((60.0, 100), (0.0, stopped), (60.0, 100)))
    running, told = engine_running(gap, LIMITS, none(gap))
    assert (running.all(), told) == (blip, "oil pressure")
    burst = trace_of(oil_pressure=stretches((0.0, 100), (60.0, ran_for), (0.0, 100)))
    assert engine_running(burst, LIMITS, none(burst))[0].any() != blip


@pytest.mark.parametrize(("pause", "flights"), [(119, 1), (121, 2)])
@pytest.mark.parametrize("flies", [False, True])
def test_a_stop_of_two_minutes_parts_two_flights_unless_the_aircraft_flies(
    pause: int, flights: int, flies: bool
) -> None:
    speed = stretches((2300.0, 500), (0.0, pause), (2300.0, 500))
    more = {"airspeed": np.full(speed.size, 90.0)} if flies else {}
    assert len(ran(trace_of(engine_speed=speed, **more))) == (1 if flies else flights)


@pytest.mark.parametrize(("first_run", "starts"), [(20, 40), (21, 10)])
def test_a_first_run_of_less_than_twenty_seconds_is_a_start_that_failed(first_run: int, starts: int) -> None:
    # from its first row to its last: 20 rows are 19 s
    speed = stretches((0.0, 10), (2300.0, first_run), (0.0, 30 - first_run), (2300.0, 500))
    ((_, start, _, _),) = ran(trace_of(engine_speed=speed))
    assert start == starts


@pytest.mark.parametrize(
    ("gap", "off", "parts"),
    [
        (1.0, None, 600),  # the middle
        (10.0, None, 600),
        (10.5, None, 550),
        (10.5, (520, 530), 530),  # the last row without power counts before any gap
    ],
)
def test_flights_part_where_power_was_off_at_the_longest_gap_or_in_the_middle(
    gap: float, off: tuple[int, int] | None, parts: int
) -> None:
    time = np.arange(1200.0)
    time[550:] += gap - 1.0
    dead = np.zeros(1200, dtype=np.bool_)
    if off is not None:
        dead[slice(*off)] = True
    found = ran(trace_of(time=time, engine_speed=stretches((2300.0, 500), (0.0, 200), (2300.0, 500))), dead=dead)
    assert [(one[0], one[3]) for one in found] == [(0, parts), (parts, 1200)]


@pytest.mark.parametrize(("gap", "runs"), [(599.0, 1), (602.0, 2)])
def test_no_flight_goes_on_across_a_gap_of_ten_minutes(gap: float, runs: int) -> None:
    time = np.arange(1000.0)
    time[500:] += gap
    found = ran(trace_of(time=time, engine_speed=np.full(1000, 2300.0)))
    assert found == ([(0, 0, 1000, 1000)] if runs == 1 else [(0, 0, 500, 500), (500, 500, 1000, 1000)])


@pytest.mark.parametrize(
    ("gap", "knots", "restarts"), [(590.0, 90.0, (500,)), (590.0, 44.0, None), (602.0, 90.0, None)]
)
def test_a_recorder_that_begins_anew_in_the_air_ends_no_flight(
    gap: float, knots: float, restarts: tuple[int, ...] | None
) -> None:
    time = np.arange(1000.0)
    time[500:] += gap
    trace = trace_of(time=time, engine_speed=np.full(1000, 2300.0), airspeed=np.full(1000, knots))
    found = engine_runs(trace, LIMITS, (500,), none(trace))
    assert [one.restarts for one in found] == ([restarts] if restarts else [(), ()])


@pytest.mark.parametrize(
    ("pause", "turns_at", "fall", "resets"),
    [(5.0, 0, 0.9, True), (5.0, 2, 0.9, True), (5.0, 3, 0.9, False), (5.0, 0, 0.7, False), (122.0, 0, 0.9, False)],
)
def test_a_recorder_that_the_starter_resets_goes_on_with_the_same_flight(
    pause: float, turns_at: int, fall: float, resets: bool
) -> None:
    # from the rest of 12.6 V by 0.8 V within three seconds of its new beginning
    bus = stretches((12.6, 100), (12.6, turns_at), (12.6 - fall, 5), (14.0, 500))
    speed = stretches((0.0, 100 + turns_at + 5), (2300.0, 500))
    time = np.arange(float(bus.size))
    time[100:] += pause
    ((first, *_),) = ran(trace_of(bus, time, engine_speed=speed), (100,))
    assert first == (0 if resets else 100)


def test_cranking_ends_once_the_bus_has_come_half_of_the_way_up() -> None:
    # from 12.6 V to 10.0 V, the middle 11.3 V
    trace = trace_of(stretches((12.6, 100), (10.0, 5), (11.2, 1), (11.4, 1), (14.0, 100)))
    assert np.flatnonzero(cranking(trace, 107, LIMITS, none(trace))).tolist() == [*range(100, 106)]


@pytest.mark.parametrize(("low", "turned"), [(11.7, True), (11.9, False)])
def test_a_starter_pulls_the_bus_down_by_eight_tenths_of_a_volt(low: float, turned: bool) -> None:
    trace = trace_of(stretches((12.6, 100), (low, 5), (14.0, 100)))
    assert cranking(trace, 105, LIMITS, none(trace)).any() == turned


@pytest.mark.parametrize(("speed", "turned"), [(29.0, False), (31.0, True), (399.0, True), (401.0, False)])
def test_where_no_voltage_answers_the_speed_of_a_starter_tells(speed: float, turned: bool) -> None:
    engine_speed = stretches((0.0, 100), (speed, 5), (2300.0, 100))
    trace = trace_of(stretches((12.6, 105), (14.0, 100)), engine_speed=engine_speed)
    assert np.flatnonzero(cranking(trace, 105, LIMITS, none(trace))).tolist() == ([*range(100, 105)] if turned else [])
    assert not cranking(trace, 0, LIMITS, none(trace)).any()


@pytest.mark.parametrize(("rows", "off"), [(2, False), (3, True)])
def test_volts_that_run_down_to_nothing_for_three_seconds_are_power_off_and_no_crank(rows: int, off: bool) -> None:
    bus = stretches((12.6, 100), (11.0, 1), (8.0, 1), (3.0, rows), (12.6, 30), (14.0, 100))
    dead = bus < 4.0
    cranked = np.flatnonzero(cranking(trace_of(bus), 132 + rows, LIMITS, dead))
    assert bool(cranked.size) is not off


@pytest.mark.parametrize(("dip_s", "starts"), [(899.0, 11), (902.0, 901)])
def test_without_an_engine_speed_a_flight_starts_at_a_dip_within_a_quarter_of_an_hour(
    dip_s: float, starts: int
) -> None:
    bus = stretches((12.6, 10), (10.0, 1), (12.4, 890), (14.0, 600))
    time = np.arange(float(bus.size))
    time[11:] += dip_s - 891.0  # from the dip to the first charging row
    ((_, start, _, _),) = ran(trace_of(bus, time))
    assert start == starts


@pytest.mark.parametrize(
    ("left_s", "level", "sinks", "runs_on"),
    [
        (230, 12.2, 0.0, False),  # the master is off within four minutes of the engine
        (300, 12.2, 0.3, True),  # V/h
        (300, 12.2, -0.3, False),  # it climbs: a battery left to itself
        (300, 12.7, 0.3, False),  # as high as it rested before
        (1500, 12.2, 0.05, False),  # in a long time it hardly sinks
        (1500, 12.2, 0.07, True),
        (1100, 12.2, 0.05, True),  # twenty minutes are not over
    ],
)
def test_a_bus_that_stands_lower_and_sinks_after_the_last_charge_carries_an_aircraft(
    left_s: int, level: float, sinks: float, runs_on: bool
) -> None:
    after = level - sinks / 3600.0 * np.arange(left_s)
    bus = np.concatenate([stretches((12.6, 60), (10.0, 2), (14.0, 600)), after])
    ((_, _, stop, end),) = ran(trace_of(bus))
    assert (stop == end) is runs_on
    if not runs_on:
        assert stop == pytest.approx(662, abs=3)


@pytest.mark.parametrize(
    ("rest", "rises", "starts"),
    [
        (-4.0, 3.1, 100),  # by three amperes above what lasts lowest
        (-4.0, 2.9, None),
        (0.0, 20.0, 100),  # an output, which rests on zero
        (6.0, 3.5, 0),  # no meter that stands at zero shows so much: the engine runs all the while
    ],
)
def test_without_speed_and_voltage_a_source_that_gives_shows_the_engine(
    rest: float, rises: float, starts: int | None
) -> None:
    flow = stretches((rest, 100), (rest + rises, 700), (rest, 100))
    running, told = engine_running(trace := trace_of(battery_current=flow), LIMITS, none(trace))
    assert told == "ammeter"
    assert (int(np.argmax(running)) if running.any() else None) == starts


@pytest.mark.parametrize(("after", "drained_s", "stops"), [(-5.5, 250, 1150), (-5.5, 230, 900), (-5.3, 250, 900)])
def test_more_drawn_than_at_rest_for_four_minutes_is_a_lost_alternator(
    after: float, drained_s: int, stops: int
) -> None:
    # by 1.4 A more than the 4 A of the rest
    flow = stretches((-4.0, 100), (5.0, 800), (after, drained_s))
    running, _ = engine_running(trace := trace_of(battery_current=flow), LIMITS, none(trace))
    assert int(np.flatnonzero(running)[-1]) + 1 == pytest.approx(stops, abs=1)


@pytest.mark.parametrize(("cranked", "feet", "flights"), [(False, 600.0, 1), (True, 600.0, 2), (False, 400.0, 2)])
def test_a_bus_that_does_not_charge_high_in_the_air_ends_no_flight(cranked: bool, feet: float, flights: int) -> None:
    # eleven minutes on 12.3 V between two charges, 500 ft above the lowest of the log or lower; a starter between
    low = stretches((12.3, 400), (10.5 if cranked else 12.3, 3), (12.3, 297))
    bus = np.concatenate([stretches((12.6, 60), (10.0, 2), (14.0, 600)), low, np.full(600, 14.0), np.full(60, 12.7)])
    altitude = np.full(bus.size, feet)
    altitude[:62] = altitude[-60:] = 0.0
    assert len(ran(trace_of(bus, altitude=altitude))) == flights


@pytest.mark.parametrize(("a_row", "stops"), [(0.0082, 900), (0.0085, 700)])
def test_an_output_that_goes_on_under_a_bus_that_slides_low_ends_no_run(a_row: float, stops: int) -> None:
    # from the half minute before 13.15 V to the one after by less than a quarter of a volt: 30 rows of 0.0082 V are
    # 0.246 V. Down from 14 V that is after 100 rows of 0.0085 V; the output lasts to row 900.
    slides = np.maximum(14.0 - a_row * np.arange(1, 351), 12.8)
    bus = np.concatenate([stretches((12.6, 60), (10.0, 2), (14.0, 538)), slides])
    trace = trace_of(bus, alternator_current=stretches((0.0, 62), (2.5, 838), (0.0, 50)))
    ((_, _, stop, _),) = ran(trace)
    assert stop == pytest.approx(stops, abs=3)
