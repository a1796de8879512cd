"""A bus that falls in cruise and no ammeter to say why: no fall of a volt for minutes goes without a word."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.flights.alternator_online import lifted_above_rest
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.review import FlightReview, review_log
from tests.benchmarks.drawn_flights import drawn
from tests.flown import names, the
from tests.made import log_from

END_S, FALLS_S = 5400, 2400


def fallen(rest: float, to: float, sinks: float, lasts_s: int, begins_s: int = 0) -> FlightReview:
    """14.1 V at a steady engine, then ``to`` [V], sinking by ``sinks`` [V/h]; the log's first rows may be missing."""
    time = np.arange(float(END_S))
    rpm = np.where(time < 60, 0.0, np.where(time < 300, 1100.0, 2400.0))
    volts = np.where(time < 58, rest, 14.1)
    volts[58:60] = rest - 3.0
    low = slice(FALLS_S, FALLS_S + lasts_s)
    since = time[low] - time[FALLS_S]
    volts[low] = to - sinks * since / 3600.0 + 0.15 * np.exp(-since / 20.0)
    rng = np.random.default_rng(1)
    table = pl.DataFrame(
        {
            "time_s": time[: END_S - begins_s],
            "bus_voltage": np.round(volts + rng.normal(0.0, 0.01, END_S), 2)[begins_s:],
            "engine_speed": (rpm + rng.normal(0.0, 8.0, END_S))[begins_s:],
        }
    )
    (review,) = review_log(log_from(table)).flights
    return review


@pytest.mark.parametrize("rest", [12.5, 12.65])
@pytest.mark.parametrize("to", [12.4, 12.7, 12.85, 12.95, 13.1])
@pytest.mark.parametrize("sinks", [0.0, 0.5])
@pytest.mark.parametrize("lasts_s", [120, 1200])
def test_a_bus_that_falls_by_a_volt_for_minutes_is_told_as_a_loss_or_as_short(rest, to, sinks, lasts_s) -> None:
    found = names(fallen(rest, to, sinks, lasts_s))
    assert found in ({"alternator_offline"}, {"output_short"})
    if to < 12.9:  # a charged lead-acid battery stands there under a load
        assert found == {"alternator_offline"}


def test_where_nothing_shows_why_both_are_said_and_when() -> None:
    found = the(fallen(12.5, 13.1, 0.0, 1200), "output_short")
    assert "No ammeter shows whether only the reading is low" in found.says
    assert found.evidence["voltage"].value == pytest.approx(13.1, abs=0.05)
    assert found.from_s == pytest.approx(FALLS_S, abs=60.0)
    assert found.evidence["duration_min"].value == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize("begins_s", [0, 400])
def test_a_level_that_a_lithium_battery_holds_by_itself_says_so(begins_s: int) -> None:
    review = fallen(13.25, 13.25, 0.0, END_S - FALLS_S, begins_s)
    assert any("A lithium battery can hold that on its own" in finding.says for finding in review.findings)
    rested = fallen(12.5, 13.25, 0.0, END_S - FALLS_S)
    assert rested.findings
    assert not any("lithium" in finding.says for finding in rested.findings)


@pytest.mark.parametrize("scale", [1, 2])
@pytest.mark.parametrize(
    ("low_s", "comes_up", "told"),
    [(5000.0, False, True), (2200.0, False, True), (1500.0, False, False), (2200.0, True, False)],
)
def test_a_bus_that_answers_the_throttle_but_never_comes_up_is_short_and_not_idling(
    scale: int, low_s: float, comes_up: bool, told: bool
) -> None:
    # held for a minute after the start; then low, higher with every opening of the throttle, for as long as it flies
    time = np.arange(300.0 + low_s + 600.0)
    fast = ((time >= 400) & (time < 460)) | ((time >= 520) & (time < 520 + low_s))
    rpm = np.where(time < 60, 0.0, np.where(fast, 2400.0, 1100.0))
    volts = np.where(time < 58, 12.6, np.where(time < 120, 14.05, np.where(fast, 12.55, 12.0)))
    volts[58:60] = 9.6
    after = time >= 520 + low_s
    rpm[after], volts[after] = (2400.0, 14.05) if comes_up else (1100.0, 12.0)
    rng = np.random.default_rng(4)
    table = pl.DataFrame(
        {
            "time_s": time,
            "bus_voltage": np.round(scale * (volts + rng.normal(0.0, 0.01, time.size)), 2),
            "engine_speed": rpm + rng.normal(0.0, 8.0, time.size),
        }
    )
    (review,) = review_log(log_from(table)).flights
    found = names(review)
    assert ("output_short" in found) == told, found
    if told:
        one = the(review, "output_short")
        assert one.evidence["voltage"].value == pytest.approx(12.55 * scale, abs=0.05 * scale)
        assert 400.0 <= one.from_s <= 560.0


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(
    ("level", "sinks", "minutes", "lifted"),
    [(12.9, 0.0, 40, True), (12.9, 0.3, 40, False), (12.9, 0.0, 25, False), (12.7, 0.0, 40, False)],
)
def test_a_bus_that_stands_above_its_batterys_rest_for_long_is_lifted_by_an_alternator(
    volts, level, sinks, minutes, lifted
):
    time = np.arange(60.0 * minutes)
    bus = (level - sinks * time / 3600.0) * volts / 14.0
    running = np.ones(time.size, dtype=np.bool_)
    rows = lifted_above_rest(Trace(time=time, bus_voltage=bus), running, 12.5 * volts / 14.0, Limits(volts, {}))
    assert rows.any() == lifted
    assert rows.all() == lifted
    unknown = lifted_above_rest(Trace(time=time, bus_voltage=bus), running, float("nan"), Limits(volts, {}))
    assert not unknown.any()


@pytest.mark.parametrize("number", [46000334, 43000672])
def test_a_regulator_that_holds_hardly_more_than_a_batterys_rest_is_set_low_and_no_alternator_is_lost(number) -> None:
    flown = drawn(number)
    (review,) = review_log(flown.log).flights
    assert names(review) == {"regulator_low"}
    held = flown.flight.truth.measures["regulated_voltage"].value
    measure = review.measures["regulated_voltage"]
    assert measure.low <= held <= measure.high
    assert measure.high - measure.low < 0.2
