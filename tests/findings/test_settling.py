"""What a battery has been given, and since when: whether a charging current may still settle."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import polars as pl
import pytest

from analyzer.findings.battery import _drawn_on_until
from analyzer.logs.log import Log
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from tests.flown import names, the
from tests.made import log_from


@cache
def sound() -> tuple[Log, float, float]:
    """A sound aircraft's log with a battery ammeter, and when its alternator takes the bus and its engine stops [s]."""
    scenario = healthy(41, 14, "battery")
    flight = simulate(replace(scenario, plan=replace(scenario.plan, cruise_min=75.0)))
    on_s, stop_s = flight.truth.alternator_on_s, flight.truth.engine_stop_s
    assert on_s is not None
    assert stop_s is not None
    return as_log(flight), on_s, stop_s


def charged(amps: float, falls_to: float) -> FlightReview:
    """The same with a charging current [A] that stands still and falls late in the flight."""
    log, on_s, stop_s = sound()
    late = pl.col("time_s") > on_s + 0.85 * (stop_s - on_s)
    moves = 0.2 * (pl.col("time_s") % 2.0)
    flown = pl.col("time_s").is_between(on_s, stop_s)
    given = pl.when(late).then(falls_to).otherwise(amps) + moves
    table = log.table.with_columns(battery_current=pl.when(flown).then(given).otherwise(pl.col("battery_current")))
    (review,) = review_log(log_from(table)).flights
    return review


def test_a_current_that_falls_is_a_recharge_until_the_battery_has_had_twice_all_it_holds() -> None:
    # 25 Ah are assumed: 22 A fill an empty battery in the time, 45 A twice over (BCI: 110 to 120 % of what was drawn).
    assert "recharge_never_settles" not in names(charged(20.0, 14.0))
    found = the(charged(40.0, 28.0), "recharge_never_settles")
    assert found.severity == "warning"
    assert "falling from 40.1 to 28.1 A" in found.says
    assert not found.signs["current_rises"]
    rising = the(charged(20.0, 27.0), "recharge_never_settles")
    assert "rising from 20.1 to 27.1 A" in rising.says
    assert rising.signs["current_rises"]
    assert found.evidence["settled_a"].value == pytest.approx(40.1, abs=0.2)
    assert "recharge_never_settles" in names(charged(20.0, 19.0))  # one that stands still is told sooner


@pytest.mark.parametrize(("drawn_ah", "anew"), [(0.2, False), (1.0, True)])
def test_a_battery_recharges_anew_from_where_it_last_gave_charge_that_it_lacks(drawn_ah: float, anew: bool) -> None:
    log, on_s, _ = sound()
    lost = pl.col("time_s").is_between(on_s + 3000.0, on_s + 3100.0)
    amps = pl.col("battery_current") - pl.when(lost).then(36.0 * drawn_ah).otherwise(0.0)
    (review,) = review_log(log_from(log.table.with_columns(battery_current=amps))).flights
    rows = review.flight.regulated.nonzero()[0]
    since = _drawn_on_until(review.flight, rows)
    assert since == (pytest.approx(on_s + 3100.0, abs=2.0) if anew else 0.0)
