"""Logs without rpm, oil pressure and airspeed: what altitude, starter and ammeters tell of an engine that runs on."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import polars as pl
import pytest

from analyzer.logs.log import Log
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import LeftLow
from analyzer.simulator.healthy import healthy
from analyzer.simulator.instruments import Ammeter
from analyzer.simulator.system_faults import FieldOpen
from tests.flown import judged, names, the
from tests.made import log_from

BLIND = ("engine_speed", "oil_pressure", "airspeed", "ground_speed")


@cache
def lost_for(minutes: float) -> tuple[Log, float]:
    """A blind log without an ammeter whose alternator is lost in level cruise, and when [s]."""
    scenario = healthy(31, 14, "none")
    scenario = replace(scenario, plan=replace(scenario.plan, cruise_min=45.0))
    at = scenario.times.cruise_s + 300.0
    fault = FieldOpen(from_s=at, to_s=at + 60.0 * minutes)
    return as_log(simulate(scenario.with_fault(fault)), without=BLIND), at


def test_a_loss_in_cruise_is_one_flight_where_no_starter_brings_the_charge_back() -> None:
    log, at = lost_for(15.0)
    (review,) = review_log(log).flights
    lost = the(review, "alternator_offline")
    assert names(review) == {"alternator_offline"}
    assert lost.from_s == pytest.approx(at, abs=20.0)
    assert lost.to_s == pytest.approx(at + 900.0, abs=60.0)
    assert lost.severity == "warning"  # a quarter of an hour, though it came back


def test_a_starter_between_two_charges_parts_the_flights_however_high_the_field_lies() -> None:
    log, at = lost_for(15.0)
    seconds = pl.col("time_s")
    cranked = seconds.is_between(at + 890.0, at + 893.0)
    started = log_from(
        log.table.with_columns(
            bus_voltage=pl.when(cranked).then(8.5).otherwise(pl.col("bus_voltage")),
            altitude=pl.when(seconds.is_between(at - 60.0, at + 1000.0)).then(5000.0).otherwise(pl.col("altitude")),
        )
    )
    reviews = review_log(started).flights
    assert len(reviews) == 2
    assert not any("alternator_offline" in names(review) for review in reviews)


def test_an_aircraft_that_comes_down_after_the_last_charge_lost_its_alternator() -> None:
    scenario = healthy(32, 14, "none")
    at = scenario.times.cruise_end_s - 600.0
    log = as_log(simulate(scenario.with_fault(FieldOpen(from_s=at))), without=BLIND)
    (review,) = review_log(log).flights
    assert the(review, "alternator_offline").from_s == pytest.approx(at, abs=20.0)
    level = log_from(log.table.with_columns(altitude=pl.lit(5000.0)))  # nothing tells: the engine may have stopped
    (untold,) = review_log(level).flights
    assert "alternator_offline" not in names(untold)


@pytest.mark.parametrize("kind", ["battery", "alternator"])
def test_a_charge_under_a_low_bus_shows_that_the_engine_runs(kind: str) -> None:
    scenario = healthy(33, 14, "none")
    scenario = replace(
        scenario,
        ammeters=(Ammeter(kind=kind),),  # type: ignore[arg-type]
        plan=replace(scenario.plan, idle_rpm=850.0, taxi_rpm=950.0, warm_up_s=500.0),
    ).with_fault(LeftLow(charge=0.2))
    review: FlightReview = judged(scenario, without=BLIND)
    assert "reading_fault" not in names(review)
    assert review.flight.run.start == pytest.approx(scenario.times.engine_start_s, abs=8.0)


def test_an_ammeter_that_is_off_at_zero_shows_no_source_at_rest() -> None:
    scenario = healthy(34, 14, "battery")
    log = as_log(simulate(scenario), without=BLIND)
    off = log_from(log.table.with_columns(battery_current=pl.col("battery_current") + 9.0))
    (sound,), (review,) = review_log(log).flights, review_log(off).flights
    assert review.flight.run.start == pytest.approx(scenario.times.engine_start_s, abs=8.0)
    assert review.flight.stop_s == sound.flight.stop_s
    assert "offset" in {fault.kind for fault in review.flight.reading_faults}
