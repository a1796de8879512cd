"""An alternator at its limit, a resistance before the voltmeter, and what only looks like one of them."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from msgspec.structs import replace

from analyzer.logs.readings import Readings
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from tests.flights.test_low_voltmeter import stepping
from tests.flown import names, the
from tests.made import log_from

LOADED_S, SLOW_S, END_S = 1200, 2600, 3600


def cruise(amps: np.ndarray, volts: np.ndarray, rpm: np.ndarray, **more: np.ndarray) -> FlightReview:
    """A log that begins in cruise; some noise on every reading."""
    rng = np.random.default_rng(amps.size)
    table = {
        "time_s": np.arange(amps.size, dtype=np.float64),
        "bus_voltage": np.round(volts + rng.normal(0.0, 0.02, amps.size), 2),
        "alternator_current": np.round(amps + rng.normal(0.0, 0.1, amps.size), 1),
        "engine_speed": np.round(rpm + rng.normal(0.0, 8.0, amps.size), 0),
    }
    (review,) = review_log(log_from(pl.DataFrame(table | more))).flights
    return review


def speeds() -> np.ndarray:
    """A fast engine, throttled back over the last quarter of an hour."""
    return np.interp(np.arange(END_S), [0, SLOW_S, END_S - 1], [4500.0, 4500.0, 3000.0])


def test_an_output_that_follows_the_throttle_under_a_low_bus_is_at_its_limit_and_no_fault_of_the_meter() -> None:
    time, rpm = np.arange(END_S), speeds()
    loaded = time >= LOADED_S
    amps = np.where(loaded, 16.0 * rpm / 4500.0, 10.0)
    volts = np.where(loaded, np.interp(time, [LOADED_S, END_S], [12.65, 12.6]), 14.1)
    review = cruise(amps, volts, rpm)
    assert names(review) == {"output_short"}
    assert "followed engine speed" in the(review, "output_short").says


@pytest.mark.parametrize("mohm", [80.0, 270.0])
def test_a_fall_too_large_for_any_contact_is_not_put_down_to_one(mohm: float) -> None:
    time = np.arange(END_S)
    amps = np.where((time // 300) % 2 == 1, 16.0, 8.0)
    review = cruise(amps, 14.1 - mohm / 1000.0 * (amps - 8.0), np.full(END_S, 4500.0))
    path = [fault for fault in review.flight.reading_faults if fault.kind == "path"]
    assert bool(path) == (mohm < 200.0)


@pytest.mark.parametrize("a_per_v", [0.0, 20.0])
def test_behind_a_resistance_a_low_rest_is_an_advisory_that_names_the_meters_path(a_per_v: float) -> None:
    reviews = [stepping(51, 14, a_per_v)]
    flight = reviews[0].flight
    table = as_log(simulate(healthy(51, 14, "battery"))).table
    assert flight.rows == table.height
    low = pl.when(pl.col("time_s") < flight.trace.time[flight.first_crank]).then(pl.col("bus_voltage") - 0.6)
    log = log_from(
        as_log(simulate(healthy(51, 14, "battery"))).table.with_columns(
            bus_voltage=low.otherwise(pl.Series(flight.trace.bus_voltage)),
            battery_current=pl.Series(flight.trace.battery_current),
        )
    )
    (review,) = review_log(log).flights
    found = the(review, "low_resting_voltage")
    assert found.severity == ("advisory" if a_per_v == 0.0 else "caution")
    assert ("check the voltmeter's wiring first" in found.says) == (a_per_v == 0.0)


def test_a_recharge_that_idling_held_down_is_fitted_to_the_fast_engine_where_no_voltage_tells() -> None:
    time = np.arange(3000.0)
    rpm = np.where(time < 100.0, 0.0, np.where(time < 500.0, 900.0, 2400.0))
    true = 12.0 + 16.0 * np.exp(-(time - 100.0) / 280.0)
    amps = np.where(time < 100.0, 0.0, np.where(time < 500.0, np.minimum(true, 15.0), true))
    rng = np.random.default_rng(1)
    table = pl.DataFrame(
        {"time_s": time, "engine_speed": rpm, "alternator_current": np.round(amps + rng.normal(0.0, 0.1, 3000), 1)}
    )
    (review,) = review_log(log_from(table.with_columns(bus_voltage=pl.lit(None, dtype=pl.Float64)))).flights
    found = review.measures["recharge_time_constant"]
    assert found.low < 280.0 / 60.0 < found.high < 2.5 * found.low
    assert "slow_recharge" not in names(review)


@pytest.mark.parametrize("idles", [True, False])
def test_an_engine_that_idled_as_the_log_began_does_not_show_the_recharge_begin(idles: bool) -> None:
    time = np.arange(3000.0)
    low = time < 60.0
    rpm = np.where(low & idles, 650.0, 2400.0)
    amps = np.where(low, 0.0, 12.0 + 15.0 * np.exp(-(time - 60.0) / 250.0))
    review = cruise(amps, np.where(low, 12.4, 14.1), rpm)
    assert (review.measures["recharge_peak_current"].value is None) == idles


def test_an_ammeter_that_sticks_near_an_ampere_is_found_and_one_at_zero_is_not() -> None:
    log = as_log(simulate(healthy(3, 14, "battery")), without=("bus_voltage", "bus_voltage_2"))
    seconds, amps = log.table["time_s"].to_numpy(), log.table["battery_current"].to_numpy()
    for value in (1.0, 0.0):
        stuck = pl.Series(np.where(seconds > 0.4 * seconds[-1], value, amps))
        (review,) = review_log(
            replace(log, readings=Readings.of(log.table.with_columns(battery_current=stuck)))
        ).flights
        assert ("reading_fault" in names(review)) == (value == 1.0)


def test_a_mark_for_no_reading_far_below_zero_is_a_blank_and_no_dead_bus() -> None:
    log = as_log(simulate(healthy(4, 14, "alternator")))
    volts = log.table["bus_voltage"].to_numpy().copy()
    volts[np.random.default_rng(4).random(volts.size) < 0.05] = -999.9
    (review,) = review_log(
        replace(log, readings=Readings.of(log.table.with_columns(bus_voltage=pl.Series(volts))))
    ).flights
    assert names(review) == set()
    held = review.measures["regulated_voltage"].value
    (whole,) = review_log(log).flights
    assert held == pytest.approx(whole.measures["regulated_voltage"].value, abs=0.02)


@pytest.mark.parametrize(("then_a", "gone"), [(-0.4, True), (0.4, False)])
def test_a_settled_current_that_goes_to_the_meters_own_zero_with_the_bus_is_gone_with_it(
    then_a: float, gone: bool
) -> None:
    log, dice = as_log(simulate(healthy(6, 14, "battery"))), np.random.default_rng(6)
    seconds = log.table["time_s"].to_numpy()
    dead = (seconds > 2000.0) & (seconds < 2200.0)
    amps = np.where(seconds > 1500.0, 0.4, log.table["battery_current"].to_numpy())
    amps = np.where(dead, then_a, amps) + dice.normal(0.0, 0.08, amps.size)
    volts = np.where(dead, 0.0, log.table["bus_voltage"].to_numpy())
    table = log.table.with_columns(bus_voltage=pl.Series(volts), battery_current=pl.Series(amps.round(1)))
    (review,) = review_log(replace(log, readings=Readings.of(table))).flights
    assert ("battery_offline" in names(review)) == gone
    assert ("reading_fault" in names(review)) != gone


def test_a_reading_a_minute_that_jumps_in_a_slow_log_is_no_hunting() -> None:
    seconds = np.arange(0.0, 1800.0, 5.0)
    volts = np.round(14.2 / 0.0625 + 0.7 * np.sin(seconds / 400.0)) * 0.0625
    volts[[198, 210, 222, 234]] += 0.375
    table = pl.DataFrame({"time_s": seconds, "bus_voltage": volts, "airspeed": np.full(seconds.size, 100.0)})
    (review,) = review_log(log_from(table)).flights
    assert "regulator_hunting" not in names(review)


@pytest.mark.parametrize("speed", [True, False])
def test_a_slow_recharge_that_a_limited_alternator_may_explain_is_an_advisory(speed: bool) -> None:
    time = np.arange(6000.0)
    amps = np.where(time < 100.0, -3.0, 1.0 + 18.0 * np.exp(-(time - 100.0) / 1100.0))
    amps += np.random.default_rng(2).normal(0.0, 0.1, time.size)
    table = pl.DataFrame({"time_s": time, "battery_current": amps.round(1)})
    if speed:
        table = table.with_columns(engine_speed=pl.Series(np.where(time < 100.0, 0.0, 2350.0)))
    (review,) = review_log(log_from(table)).flights
    found = the(review, "slow_recharge")
    assert found.severity == ("caution" if speed else "advisory")
    assert ("Neither voltage nor rpm" in found.says) != speed


@pytest.mark.parametrize(
    ("step", "volts", "timed", "counted"),
    [(3, True, True, True), (5, True, True, False), (15, True, False, False), (5, False, False, False)],
)
def test_cranks_are_counted_only_where_rows_can_show_them(step: int, volts: bool, timed: bool, counted: bool) -> None:
    """A crank of 16 s, so that a row falls into it whatever their step."""
    time = np.arange(0.0, 3000.0, step)
    crank = (time >= 120.0) & (time < 136.0)
    running = time >= 136.0
    table = pl.DataFrame(
        {
            "time_s": time,
            "engine_speed": np.where(crank, 180.0, np.where(running, 2300.0, 0.0)),
            "battery_current": np.where(running, 1.0 + 12.0 * np.exp(-(time - 136.0) / 250.0), -4.0).round(1),
        }
    )
    if volts:
        bus = np.where(crank, 10.2, np.where(running, 14.1, 12.6))
        table = table.with_columns(bus_voltage=pl.Series(bus + 0.01 * (np.arange(time.size) % 3)))
    (review,) = review_log(log_from(table)).flights
    found = review.measures["start_attempts"]
    assert (found.value is not None) == counted
    assert (review.measures["cranking_time"].value is not None) == timed
    if not counted:
        assert found.at_least == 1
        assert "fall in between" in (found.because or "")
