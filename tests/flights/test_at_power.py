"""What an engine of unknown speed does, told by altitude and airspeed; and who is parked, by any channel."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.flights.at_power import power_held
from analyzer.flights.kind_of_outage import _lost_at_power
from analyzer.flights.outage_kinds import GROUND_CHECK
from analyzer.flights.reading_faults import clean, without_power
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.review import review_log
from analyzer.series import Floats
from analyzer.simulator import simulate
from analyzer.simulator.healthy import Kind, Volts, alternator_check, healthy
from analyzer.simulator.system_faults import FieldOpen
from tests.benchmarks.drawn_flights import drawn
from tests.flown import judged, names, the, with_table

ROWS = 1200


def course(feet_a_minute: float, knots_a_minute: float = 0.0, step_s: float = 1.0, **channels: Floats) -> Trace:
    """Ten minutes level at 6000 ft and 110 kt, then as given; the first rows on the ground at 500 ft."""
    time = np.arange(ROWS) * step_s
    later = np.maximum(0.0, time - 600.0 * step_s) / 60.0
    altitude = 6000.0 + feet_a_minute * later
    altitude[:20] = 500.0
    airspeed = 110.0 + knots_a_minute * later
    airspeed[:20] = 0.0
    bus = np.full(ROWS, 14.0)
    return Trace(time=time, bus_voltage=bus, altitude=altitude, airspeed=airspeed, **channels)


@pytest.mark.parametrize(
    ("feet", "knots", "held"),
    [(0.0, 0.0, True), (700.0, 0.0, True), (-200.0, 0.0, True), (-600.0, 0.0, False), (0.0, -25.0, False)],
)
def test_an_aircraft_that_neither_sinks_nor_slows_has_its_engine(feet, knots, held):
    shown = power_held(course(feet, knots))
    assert shown[100:560].all()  # level before
    assert shown[640:700].all() if held else not shown[640:700].any()
    assert not shown[:20].any()  # parked


def test_no_altitude_tells_nothing_and_an_altitude_alone_tells():
    assert not power_held(course(0.0).with_channels(altitude=None)).any()
    assert power_held(course(0.0).with_channels(airspeed=None))[100:].all()


@pytest.mark.parametrize(
    ("first", "speed", "told"),
    [(570, True, True), (570, False, False), (585, True, False), (600, True, False), (400, False, True)],
)
def test_a_loss_half_a_minute_before_the_descent_is_none_of_a_throttle_that_closes(first, speed, told):
    """The aircraft sinks from row 600 on; height and airspeed were held until then."""
    trace = course(-600.0)
    shown = trace if speed else trace.with_channels(airspeed=None)
    assert _lost_at_power(shown, first, ROWS) is told


@pytest.mark.parametrize("kind", ["none", "battery"])
@pytest.mark.parametrize("volts", [14, 28])
def test_a_minute_without_the_alternator_in_level_flight_is_a_loss_though_no_speed_is_recorded(
    volts: Volts, kind: Kind
) -> None:
    scenario = healthy(3, volts, kind)
    at = scenario.times.cruise_s + 900.0
    lost = scenario.with_fault(FieldOpen(from_s=at, to_s=at + 60.0))
    review = judged(lost, without=("engine_speed",))
    found = the(review, "alternator_offline")
    assert found.from_s == pytest.approx(at, abs=3.0)
    assert found.to_s == pytest.approx(at + 60.0, abs=5.0)
    assert names(judged(scenario, without=("engine_speed",))) == set()


def test_a_bus_at_zero_is_no_power_off_where_oil_or_air_say_that_the_engine_runs():
    flat = course(0.0)
    volts = flat.bus_voltage.copy()
    volts[5:8] = volts[300:305] = 0.0
    flat = flat.with_channels(bus_voltage=volts)
    assert np.flatnonzero(without_power(flat)).tolist() == [5, 6, 7]  # parked, and not the ones in the air
    oil = np.full(ROWS, 60.0)
    assert not without_power(flat.with_channels(oil_pressure=oil)).any()
    assert without_power(flat.with_channels(airspeed=None)).sum() == 3  # the altitude alone tells of the air
    assert without_power(flat.with_channels(airspeed=None, altitude=None)).sum() == 8  # nothing tells


@pytest.mark.parametrize(("blank", "every", "told"), [(8, 1, True), (2, 1, False), (8, 5, False), (60, 5, True)])
def test_a_blank_is_measured_in_the_channels_own_readings(blank, every, told):
    """Five seconds from row to row: 40 s of a channel read each time is a fault, of one read every 25 s is none."""
    trace = course(0.0, step_s=5.0, engine_speed=np.full(ROWS, 2300.0))
    volts = np.full(ROWS, np.nan)
    volts[::every] = 14.0 + np.random.default_rng(1).normal(0.0, 0.02, volts[::every].size)
    volts[400 : 400 + blank] = np.nan
    found = clean(trace.with_channels(bus_voltage=volts), Limits(14, {}), np.zeros(ROWS, dtype=np.bool_))[1]
    assert [(one.kind, one.times) for one in found] == ([("dropout", 1)] if told else [])


def test_a_check_on_the_ground_after_idling_under_load_begins_where_the_output_ends():
    """An alternator that gives what it can for ten minutes at idle, and is then switched off for seconds at run-up."""
    flown = drawn(5000022)
    ((from_s, _),) = flown.flight.scenario.alternator.switched_off
    (review,) = review_log(flown.log).flights
    assert "alternator_offline" not in {finding.name for finding in review.findings}
    time = review.flight.trace.time
    (check,) = (one for one in review.flight.outages if one.kind == GROUND_CHECK)
    assert time[check.first] == pytest.approx(from_s, abs=2.5)  # the ammeter lags


def test_idling_after_a_check_on_the_ground_does_not_make_it_a_loss():
    """A check of twenty seconds, and a minute at an idle too slow for the alternator before it is back."""
    flown = simulate(alternator_check(1))
    check = next(one for one in judged(flown).flight.outages if one.kind == GROUND_CHECK)
    time = flown.table["time_s"].to_numpy()
    idles = (time >= judged(flown).flight.trace.time[check.end]) & (time < time[0] + 604.0)
    slow = pl.Series(idles)
    later = with_table(
        flown,
        engine_speed=pl.when(slow).then(700.0).otherwise(pl.col("engine_speed")),
        bus_voltage=pl.when(slow).then(12.5).otherwise(pl.col("bus_voltage")),
    )
    review = judged(later, without=("battery_current",))
    assert idles.sum() > 55
    assert "alternator_offline" not in names(review)
    assert GROUND_CHECK in {one.kind for one in review.flight.outages}
