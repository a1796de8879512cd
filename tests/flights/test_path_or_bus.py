"""What tells a resistance before the voltmeter from a bus that really moves, on made courses."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.flights.battery_kind import BatteryKind, Chemistry
from analyzer.flights.reading_faults import clean
from analyzer.flights.trace import Trace
from analyzer.flights.voltmeter import charged_below_rest, follows_load, steps_unanswered, voltage_offset
from analyzer.limits import Limits, limit_value
from analyzer.review import FlightReview, review_log
from tests.flown import names, the
from tests.made import log_from

ROWS = 3600
TIME = np.arange(ROWS, dtype=np.float64)
ALL = np.ones(ROWS, dtype=np.bool_)


def course(volts: int, bus: np.ndarray, **channels: np.ndarray) -> Trace:
    """An hour at a fast engine, a row a second, with a meter's noise on bus and currents; ``bus`` as of 14 V."""
    rng = np.random.default_rng(bus.size)
    noisy = {name: amps + rng.normal(0.0, 0.1, ROWS) for name, amps in channels.items()}
    shown = np.round(bus * volts / 14 + rng.normal(0.0, 0.01 * volts / 14, ROWS), 2)
    return Trace(time=TIME, bus_voltage=shown, engine_speed=np.full(ROWS, 2300.0), **noisy)


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("climbs_s", "path"), [(0, True), (60, True), (240, False)])
def test_a_resistance_explains_every_reading_that_lasts(volts: int, climbs_s: int, path: bool) -> None:
    """A bus that climbs for minutes under an output that stands still is filled, and no reading that follows a load."""
    amps = np.where((TIME // 300) % 2 == 1, 30.0, 18.0)
    bus = 14.6 - 0.06 * amps
    filling = (TIME >= 1500.0) & (climbs_s > TIME - 1500.0)
    bus = np.where(filling, 12.0 + (TIME - 1500.0) / 300.0, bus)
    found = follows_load(course(volts, bus, alternator_current=amps), ALL, Limits(volts, {}))
    assert (found is not None) is path
    if found is not None:
        assert found == pytest.approx(0.06 * volts / 14, rel=0.05)


def stepped(shape: str) -> np.ndarray:
    """A bus that goes down and up four times by 0.6 V: at once, over two minutes, or while it swings to and fro."""
    if shape == "ramp":
        return 14.0 - 0.3 + 0.3 * np.clip(3.0 * np.cos(2.0 * np.pi * TIME / 800.0), -1.0, 1.0)
    low = (TIME > 800.0) & (TIME % 600.0 < 200.0)
    swings = 0.7 * np.sin(2.0 * np.pi * TIME / 13.0) if shape == "swing" else 0.0
    return 14.0 - 0.6 * low + swings


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("shape", "path"), [("step", True), ("ramp", False), ("swing", False)])
def test_only_what_goes_at_once_and_stands_still_on_both_sides_is_a_step(volts: int, shape: str, path: bool) -> None:
    flow = np.interp(TIME, [0.0, 300.0], [9.0, 1.2])
    found = steps_unanswered(course(volts, stepped(shape), battery_current=flow), ALL, Limits(volts, {}))
    assert (found is not None) is path
    if found is not None:
        first, end = found
        assert TIME[first] == pytest.approx(1200.0, abs=15.0)
        assert TIME[end - 1] == pytest.approx(3200.0, abs=15.0)


def test_where_no_engine_turns_fast_enough_nothing_steps() -> None:
    flow = np.interp(TIME, [0.0, 300.0], [9.0, 1.2])
    shown = course(14, stepped("step"), battery_current=flow)
    assert steps_unanswered(shown, ~ALL, Limits(14, {})) is None


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(
    ("reads", "amps", "gave", "told"),
    [
        (12.1, 2.0, 60.0, True),
        (12.4, 2.0, 60.0, False),  # hardly below the rest
        (12.1, 0.2, 60.0, False),  # no charge to speak of
        (12.1, 12.0, 60.0, False),  # a cell that has just failed takes as much
        (12.1, 2.0, 0.0, False),  # an ammeter that never shows the battery give may show something else
        (12.1, 2.0, 1800.0, False),  # much was given, and the battery stands lower by itself
        (12.2, 0.6, 60.0, True),
        (12.2, 0.6, 480.0, False),  # by as much as was given
    ],
)
def test_no_battery_is_charged_from_below_its_rest(
    volts: int, reads: float, amps: float, gave: float, told: bool
) -> None:
    limits = Limits(volts, {"battery_capacity": 30.0})
    flow = np.where(gave > TIME, -20.0, amps)
    found = charged_below_rest(
        course(volts, np.full(ROWS, reads), battery_current=flow), ALL, 12.5 * volts / 14, limits
    )
    assert found.any() == told
    if told:
        assert TIME[found][0] == pytest.approx(gave, abs=40.0)


def started(volts: int, rest: float, crank: float, bus: float, charge: float, idle_s: float = 0.0) -> FlightReview:
    """Reviewed: five minutes of rest at -3 A, a crank, a time without the alternator, a bus that is charged."""
    turns, on_s = (TIME >= 300.0) & (TIME < 305.0), 305.0 + idle_s
    flow = np.where(on_s > TIME, -3.0, charge)
    shown = np.where(turns, crank, np.where(TIME < 300.0, rest, np.where(on_s > TIME, 12.4, bus)))
    trace = course(volts, shown, battery_current=flow)
    speed = np.where(turns, 180.0, np.where(TIME < 300.0, 0.0, 2300.0))
    table = {"time_s": TIME, "bus_voltage": trace.bus_voltage, "engine_speed": speed}
    (review,) = review_log(log_from(pl.DataFrame(table | {"battery_current": trace.battery_current}))).flights
    return review


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(
    ("rest", "crank", "bus", "charge", "idle_s"),
    [
        (13.05, 7.0, 12.7, 2.0, 0.0),  # surface charge
        (12.95, 7.0, 12.6, 2.0, 0.0),
        (13.9, 10.5, 13.2, 2.5, 60.0),  # power from outside
    ],
)
def test_a_rest_that_no_battery_has_by_itself_disproves_no_low_regulator(
    volts: int, rest: float, crank: float, bus: float, charge: float, idle_s: float
) -> None:
    review = started(volts, rest, crank, bus, charge, idle_s)
    assert "regulator_low" in names(review)
    assert ("weak_cranking" in names(review)) == (crank == 7.0)
    assert "reading_fault" not in names(review)


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("rest", [12.5, 13.5])
def test_a_low_bus_that_the_battery_does_not_explain_is_said_to_be_the_meter_or_the_regulator(
    volts: int, rest: float
) -> None:
    """Nothing tells them apart, and neither may be silent: hardly below the rest, or the rest fed from outside."""
    found = the(started(volts, rest, 10.5, 12.3, 2.5), "reading_fault")
    assert "instrument or regulator" in found.says
    assert "not the aircraft" not in found.says


def test_a_reading_that_is_low_later_disproves_no_weak_cranking() -> None:
    review = started(14, 12.6, 7.0, 12.0, 2.0)
    assert {"reading_fault", "weak_cranking"} <= names(review)
    assert "regulator_low" not in names(review)


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("air", "held", "off"), [(20.0, 15.9, False), (20.0, 15.5, True), (-10.0, 15.9, False)])
def test_no_cold_makes_an_overcharge_the_voltmeters_error(volts: int, air: float, held: float, off: bool) -> None:
    """At rest it reads a volt too much, or power from outside held it up before a cold start."""
    trace = course(volts, np.where(TIME < 300.0, 13.65, held))
    trace = trace.with_channels(outside_air_temperature=np.full(ROWS, air))
    battery = BatteryKind(Chemistry.TAKEN_LEAD_ACID, "")
    found = voltage_offset(trace, 300, ~ALL, TIME >= 300.0, Limits(volts, {}), battery)
    assert [fault.kind for fault in found] == (["offset"] if off else [])


@pytest.mark.parametrize(("value", "back", "fault"), [(np.nan, True, True), (0.0, True, True), (np.nan, False, False)])
def test_where_only_the_air_data_go_on_a_channel_that_comes_back_has_dropped_out(
    value: float, back: bool, fault: bool
) -> None:
    bus = np.full(ROWS, 14.0)
    bus[1000 : 1060 if back else ROWS] = value
    trace = Trace(time=TIME, bus_voltage=bus, altitude=np.full(ROWS, 5000.0))
    _, found = clean(trace, Limits(14, {}), np.zeros(ROWS, dtype=np.bool_))
    assert [one.kind for one in found] == (["dropout"] if fault else [])
    assert not found or (found[0].from_s, found[0].to_s) == (1000.0, 1060.0)
    assert limit_value("dropout_shortest") < 60.0
