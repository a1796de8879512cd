"""The record of earlier forecasts: each from the flights of its day alone, and held to what came."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from analyzer.reports.trend_words import record_words
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import follow_tail, trends_of
from analyzer.trends.forecasts import forecast_record
from analyzer.trends.foretold import Came, Forecast, ForecastRecord
from analyzer.trends.history import FlightAt, FlightSummary, History, Reading, history_of
from analyzer.trends.tracked_series import BY_MEASURE
from tests.as_json import tail_json

KIND = BY_MEASURE["cranking_voltage"]


def flown(worn: np.ndarray, seed: int = 1, entries: tuple[Entry, ...] = ()) -> History:
    """Flights of an hour whose cranking voltage falls from 9.8 V to its limit of 8.4 V as ``worn`` goes from 0 to 1."""
    rng = np.random.default_rng(seed)
    flights = []
    for place, share in enumerate(worn):
        volts = 9.8 - 1.4 * float(share) + float(rng.normal(0.0, 0.06))
        start = datetime(2026, 1, 1, 9) + timedelta(days=3 * place)
        readings = {"cranking_voltage": Reading(volts, volts - 0.05, volts + 0.05)}
        flights.append(FlightSummary(start, start + timedelta(hours=1), 1.0, 14, "battery", 15.0, 10.0, 0.3, readings))
    return history_of("N0001F", flights, list(entries))


def record(history: History) -> ForecastRecord:
    return forecast_record(follow_tail(history), KIND)


EVEN = np.linspace(0.0, 1.15, 116)


def test_even_wear_that_came_to_its_limit_was_foretold() -> None:
    found = record(flown(EVEN))
    assert found.decided >= 8
    assert found.count(Came.HELD) >= found.decided - 1
    assert [one.at.flight for one in found.forecasts] == sorted({one.at.flight for one in found.forecasts})
    for one in found.forecasts:
        assert one.earliest <= one.likely <= one.latest
        if one.came is Came.HELD:
            assert one.earliest - 9.0 <= 100.0 - one.at.flight <= one.latest + 9.0  # between two forecasts, 9 h apart


def test_before_the_limit_comes_nothing_is_decided() -> None:
    found = record(flown(EVEN[:70]))
    assert found.count(Came.OPEN) == len(found.forecasts) > 2


def test_wear_that_stops_proves_forecasts_too_early_and_a_sudden_end_too_late() -> None:
    stopped = record(flown(np.concatenate([np.linspace(0.0, 0.6, 60), np.full(140, 0.6)])))
    assert stopped is not None
    assert stopped.count(Came.LATER) >= 1
    assert stopped.count(Came.SOONER) == 0
    sudden = record(flown(np.concatenate([np.linspace(0.0, 0.4, 120), np.linspace(0.5, 1.6, 14)])))
    assert sudden.count(Came.SOONER) >= 1
    assert sudden.count(Came.LATER) == 0


def test_each_forecast_is_that_of_its_day() -> None:
    history = flown(EVEN)
    found = record(history)
    for one in found.forecasts[::4]:
        then = trends_of(follow_tail(history.until(history.flights[one.at.flight].start)))["cranking_voltage"]
        assert (one.likely, one.earliest, one.latest) == pytest.approx(
            (then.projection.likely, then.projection.earliest, then.projection.latest), rel=1e-9
        )


def test_work_ends_the_wait() -> None:
    """A new battery before the limit: what was foretold of the old one is never decided by the new one's wear."""
    worn = np.concatenate([np.linspace(0.0, 0.8, 80), np.linspace(0.0, 1.15, 116)])
    changed = Entry("N0001F", datetime(2026, 1, 1, 8) + timedelta(days=240), "battery_replaced", "")
    found = record(flown(worn, entries=(changed,)))
    old = [one for one in found.forecasts if one.at.flight < 80]
    assert {one.came for one in old} == {Came.OPEN}
    assert found.count(Came.HELD) >= 2


def test_no_forecast_has_no_record() -> None:
    assert record(flown(np.zeros(60))) is None
    assert record(flown(EVEN[:8])) is None
    assert tail_json(flown(np.zeros(30)))["trends"]["cranking_voltage"]["forecasts"] == []


def test_it_is_told_in_words_and_in_json() -> None:
    made = [
        Forecast(FlightAt(place, None), 10.0, 5.0, 20.0, came)
        for place, came in enumerate([Came.HELD, Came.HELD, Came.LATER, Came.OPEN, Came.SOONER])
    ]
    assert record_words(ForecastRecord(tuple(made))) == (
        "of 5 earlier forecasts 2 held, 1 came sooner, 1 came later, 1 open"
    )
    assert record_words(ForecastRecord(tuple(made[:1]))) == "of 1 earlier forecast 1 held"
    assert record_words(None) == ""
    history = flown(EVEN)
    told = tail_json(history)["trends"]["cranking_voltage"]["forecasts"]
    assert [one["flight"] for one in told] == [one.at.flight for one in record(history).forecasts]
    assert {"held"} <= {one["came"] for one in told} <= {str(came) for came in Came}
