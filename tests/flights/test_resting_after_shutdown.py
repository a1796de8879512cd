"""Logs without engine speed and ammeter: a battery left to itself after shutdown carries no aircraft."""

import numpy as np
import polars as pl
import pytest
from msgspec.structs import replace

from analyzer.logs.readings import Readings
from analyzer.review import review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import alternator_lost

BLIND = ("engine_speed", "oil_pressure", "airspeed", "ground_speed", "battery_current", "outside_air_temperature")
BOTH = pytest.mark.parametrize("volts", [14, 28])


def with_an_hour_after(volts, course, begins_running=False):
    """The flight's log, and an hour with the master on after it; ``course`` is the bus for 12 V against minutes."""
    log = as_log(simulate(healthy(5, volts, "battery")), without=BLIND)
    table = log.table.filter(pl.col("time_s") > 600.0) if begins_running else log.table
    last = float(table["time_s"][-1])
    seconds = np.arange(1.0, 3601.0)
    rng = np.random.default_rng(1)
    after = pl.DataFrame(
        {"time_s": last + seconds, "bus_voltage": volts / 14 * (course(seconds / 60.0) + rng.normal(0.0, 0.02, 3600))}
    )
    return replace(log, readings=Readings.of(pl.concat([table, after], how="diagonal")))


def eases(minutes):
    return 12.55 + 0.35 * np.exp(-minutes / 8.0)  # surface charge goes


def climbs(minutes):
    return 12.35 - 0.25 * np.exp(-minutes / 15.0)  # it gave current just before


def sinks(minutes):
    return 12.25 - 0.45 * minutes / 60.0  # ten amperes from twenty-five ampere-hours


@BOTH
@pytest.mark.parametrize("begins_running", [False, True])
@pytest.mark.parametrize("course", [eases, climbs])
def test_a_battery_that_rests_for_an_hour_is_no_outage(volts, begins_running, course):
    (review,) = review_log(with_an_hour_after(volts, course, begins_running)).flights
    assert not [finding.name for finding in review.findings if finding.name == "alternator_offline"]
    assert review.flight.to_s - review.flight.stop_s > 3500.0
    assert review.flight.phases[-1].name == "shutdown"
    assert review.measures["offline_time"].value < 1.0


@BOTH
def test_a_battery_that_sinks_for_an_hour_carries_an_aircraft(volts):
    (review,) = review_log(with_an_hour_after(volts, sinks)).flights
    assert [finding.name for finding in review.findings] == ["alternator_offline"]
    assert review.flight.to_s - review.flight.stop_s < 10.0
    assert review.measures["offline_time"].value == pytest.approx(60.0, abs=3.0)


@BOTH
def test_a_lost_alternator_is_still_found_without_engine_speed_and_ammeter(volts):
    flown = simulate(alternator_lost(5, volts, "battery"))
    (review,) = review_log(as_log(flown, without=BLIND)).flights
    assert "alternator_offline" in [finding.name for finding in review.findings]


def test_a_bus_without_power_is_never_steady():
    log = with_an_hour_after(14, lambda minutes: np.zeros(minutes.size))
    log = replace(log, readings=Readings.of(log.table.with_columns(pl.col("bus_voltage").clip(0.0, None))))
    (review,) = review_log(log).flights
    steady = [phase for phase in review.flight.phases if phase.name in ("steady", "recharge")]
    dead = log.table.filter(pl.col("bus_voltage") < 3.0)["time_s"][0]
    assert all(phase.to_s <= dead + 120.0 for phase in steady)
