"""Whole histories flown by the simulator, through reading faults, phases, measures and findings to the trends."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest

from analyzer.logs.log import ROLE_UNITS, Clock, Column, Log
from analyzer.logs.readings import Readings
from analyzer.review import review_log
from analyzer.simulator import SimulatedFlight, simulate
from analyzer.simulator.healthy import healthy
from analyzer.simulator.season import ENTRIES, season
from analyzer.trends.entries import Entry
from analyzer.trends.history import History, history_of, summarize
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import TailReview, review_tail

FLIGHTS = 26


def as_log(flown: SimulatedFlight, start: datetime) -> Log:
    """A simulated flight as a log that was read."""
    table = flown.table.with_columns(pl.lit(None, dtype=pl.Datetime("us")).alias("clock"))
    columns = tuple(Column(c, c, ROLE_UNITS[c], None, 1.0, "made") for c in flown.table.columns if c != "time_s")
    clock = Clock(("time",), "made", start.isoformat(), None, float(table["time_s"][1]))
    return Log(
        "made.csv",
        flown.scenario.tail,
        "column",
        "utf-8",
        ",",
        ".",
        1,
        None,
        0,
        clock,
        columns,
        (),
        (),
        (),
        Readings.of(table),
    )


def history(kind: str, seed: int, volts: int, ammeter: str) -> History:
    """Flights of one tail over months of weather, with one thing wrong from some flight on."""
    rng = np.random.default_rng([seed, *kind.encode()])
    base, start, flown_h, summaries = healthy(seed, volts, ammeter), datetime(2025, 2, 3, 9, 0), 0.0, []
    for i in range(FLIGHTS):
        start += timedelta(days=float(rng.exponential(6.0)) + 0.1)
        season = -np.cos(2 * np.pi * (start.timetuple().tm_yday - 20) / 365.25)
        plan = replace(base.plan, outside_c=float(12 + 10 * season + rng.normal(0, 3.5)), cruise_min=20.0)
        regulator, battery = replace(base.regulator, per_degc_v=-0.008), base.battery.rested(float(rng.exponential(4)))
        voltmeter, loads = replace(base.voltmeter, resolution_v=0.05), base.loads
        if kind == "drift":
            regulator = replace(regulator, set_point_v=regulator.set_point_v + 0.009 * flown_h)
        if kind == "step" and i >= 13:
            regulator = replace(regulator, set_point_v=regulator.set_point_v - 0.35)
        if kind == "ageing":
            age = max(0, i - 5) / 21
            battery = replace(
                battery, health=1 - 0.5 * age, resistance_factor=1 + 2.2 * age,
                acceptance_s=battery.acceptance_s * (1 + 2.5 * age),
            )  # fmt: skip
        if kind == "loads" and i >= 13:
            loads = replace(loads, avionics_a=loads.avionics_a + 5.0)
        if kind == "offset" and i >= 13:
            voltmeter = replace(voltmeter, offset_v=voltmeter.offset_v + 0.3 * volts / 14)
        scenario = replace(
            base, seed=1000 * seed + i, plan=plan, regulator=regulator, battery=battery, voltmeter=voltmeter,
            loads=loads, recorder=replace(base.recorder, period_s=3.0),
        )  # fmt: skip
        for review in review_log(as_log(simulate(scenario), start)).flights:
            summaries.append(summarize(review))
            flown_h += summaries[-1].hours
    return history_of(base.tail, summaries)


@pytest.fixture(scope="module")
def reviews() -> dict[str, TailReview]:
    return {
        kind: review_tail(history(kind, seed, volts, ammeter))
        for seed, (kind, volts, ammeter) in enumerate(
            [("plain", 14, "alternator"), ("drift", 28, "battery"), ("step", 14, "battery"), ("ageing", 28, "battery"),
             ("loads", 14, "alternator"), ("offset", 14, "battery")], 31
        )
    }  # fmt: skip


def test_a_sound_tail_is_good_through_the_seasons(reviews):
    assert tail_result(reviews["plain"]).condition == "good"
    assert not reviews["plain"].findings
    assert not reviews["plain"].unlike


def test_more_load_is_no_fault(reviews):
    assert tail_result(reviews["loads"]).condition == "good"


def test_a_drifting_regulator_is_raised_and_its_rate_is_right(reviews):
    assert next(f.name for f in reviews["drift"].findings if f.open) == "regulator_drift"
    trend = reviews["drift"].trends["regulated_voltage"].now.slope
    assert trend.low <= 1.8 <= trend.high  # 0.9 V in 100 h at 14 V, twice that at 28 V
    assert trend.high - trend.low < 2.0


def test_a_step_of_the_regulator_is_a_step_three_flights_later(reviews):
    review = reviews["step"]
    assert [(f.name, f.raised_flight) for f in review.findings] == [("regulator_drift", 15)]
    (change,) = review.trends["regulated_voltage"].changes
    assert change.flight == 13
    assert change.after - change.before == pytest.approx(-0.35, abs=0.06)


def test_an_ageing_battery_shows_in_recharge_and_crank_long_before_its_end(reviews):
    names = {f.name: f.raised_flight for f in reviews["ageing"].findings}
    assert {"recharge_slowing", "cranking_weakening"} <= names.keys()
    assert min(names["recharge_slowing"], names["cranking_weakening"]) <= FLIGHTS - 6
    assert "regulator_drift" not in names


def test_a_voltmeter_that_reads_higher_is_a_fault_of_the_reading(reviews):
    assert {f.name for f in reviews["offset"].findings if f.open} == {"reading_fault"}


def test_the_demo_clubs_new_regulator_helped_from_what_it_had_crept_up_to():
    # The season's truth: 0.05 V a week from its fourth week on, 0.72 V by 9 June, gone with the new regulator.
    flown = [scenario for _, scenario, _ in season() if scenario.tail == "N058LF"]
    logs = [as_log(simulate(replace(one, recorder=replace(one.recorder, period_s=2.0))), one.begins) for one in flown]
    summaries = [summarize(review) for log in logs for review in review_log(log).flights]
    entries = [Entry(one.tail, one.when, one.kind, one.words) for one in ENTRIES if one.tail == "N058LF"]
    (comparison,) = review_tail(history_of("N058LF", summaries, entries)).comparisons
    volts = next(one for one in comparison.measures if one.measure == "regulated_voltage")
    assert (comparison.verdict, volts.verdict) == ("helped", "helped")
    change = volts.difference.change
    assert change.low < -0.72 < change.high
    assert change.high - change.low < 0.25
    assert volts.difference.after.value < 14.1
