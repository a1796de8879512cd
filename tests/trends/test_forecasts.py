"""The record of earlier forecasts: each from the flights of its day alone, and held to what came."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from analyzer.reports.trend_words import outlook_words, record_words
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import LEAST_LEFT, Present, Projection, follow_tail, trend_of, trends_of
from analyzer.trends.forecasts import forecast_record
from analyzer.trends.foretold import Came, Forecast, ForecastRecord
from analyzer.trends.history import FlightAt, FlightSummary, History, Reading, history_of
from analyzer.trends.tracked_series import BY_MEASURE
from tests.as_json import tail_json

KIND = BY_MEASURE["cranking_voltage"]


def flown(
    worn: np.ndarray, seed: int = 1, entries: tuple[Entry, ...] = (), hours: dict[int, float] | None = None
) -> History:
    """Flights whose cranking voltage falls from 9.8 V to its limit of 8.4 V as ``worn`` goes from 0 to 1.

    Each is of an hour, but for ``hours``: those since the flight before, by its place.
    """
    rng = np.random.default_rng(seed)
    flights = []
    for place, share in enumerate(worn):
        volts = 9.8 - 1.4 * float(share) + float(rng.normal(0.0, 0.06))
        start = datetime(2026, 1, 1, 9) + timedelta(days=3 * place)
        readings = {"cranking_voltage": Reading(volts, volts - 0.05, volts + 0.05)}
        own = (hours or {}).get(place, 1.0)
        flights.append(FlightSummary(start, start + timedelta(hours=1), own, 14, "battery", 15.0, 10.0, 0.3, readings))
    return history_of("N0001F", flights, list(entries))


def record(history: History) -> ForecastRecord:
    return forecast_record(follow_tail(history), KIND)


EVEN = np.linspace(0.0, 1.15, 116)
QUICKENED = np.concatenate([np.linspace(0.0, 0.6, 60), np.linspace(0.7, 1.3, 7)])


@cache
def even() -> tuple[History, ForecastRecord]:
    """A whole life of even wear."""
    history = flown(EVEN)
    return history, record(history)


def test_even_wear_that_came_to_its_limit_was_foretold() -> None:
    _, found = even()
    decided = len(found.forecasts) - found.count(Came.OPEN)
    assert decided >= 8
    assert found.count(Came.HELD) >= decided - 1
    assert [one.at.flight for one in found.forecasts] == sorted({one.at.flight for one in found.forecasts})
    for one in found.forecasts:
        assert one.earliest <= one.latest
        assert one.likely is None or one.earliest <= one.likely <= one.latest
    assert sum(one.likely is not None for one in found.forecasts) >= len(found.forecasts) / 2


def levels(history: History, begins: int) -> list[tuple[float, bool]]:
    """The engine hours at each flight from one on, and whether what was known at it lay past the limit."""
    told = []
    for place, hours in enumerate(hours_at(history)[begins:], begins):
        now = trend_of(follow_tail(history.until(history.flights[place].start), [KIND]), KIND).now
        told.append((hours, now is not None and now.level <= 8.4))
    return told


def hours_at(history: History) -> list[float]:
    hours: list[float] = follow_tail(history, [KIND]).series[KIND.measure].hours.tolist()
    return hours


@pytest.mark.parametrize(
    ("worn", "hours"),
    [(EVEN, {}), (EVEN, {95: 300.0}), (EVEN, {101: 300.0}), (QUICKENED, dict.fromkeys(range(60, 67), 22.0))],
    ids=["close", "gap before", "gap past", "gaps all along"],
)
def test_what_came_was_seen_to_come(worn: np.ndarray, hours: dict[int, float]) -> None:
    """Where the limit came between two flights, however far apart: held only if both lie in the interval."""
    history = flown(worn, hours=hours)
    found, at = record(history), hours_at(history)
    told = levels(history, int(np.argmax(worn >= 0.8)) - 10)
    assert not told[0][1], "the crossing is looked for from before it"
    for one in found.forecasts:
        begun = at[one.at.flight]
        came = [(before[0] - begun, after[0] - begun) for before, after in pairwise(told) if after[1] > before[1]]
        if one.came is Came.HELD:
            assert any(one.earliest <= before and after <= one.latest for before, after in came)
        elif one.came is Came.SOONER:
            assert any(after < one.earliest for _, after in came)
        elif one.came is Came.LATER:
            assert any(before > one.latest for before, _ in came)
        else:
            ends = (one.earliest, one.latest)
            assert any(before <= end < after or before < end <= after for before, after in came for end in ends)


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
    history, found = even()
    for one in found.forecasts[::4]:
        then = trends_of(follow_tail(history.until(history.flights[one.at.flight].start)))["cranking_voltage"]
        assert one.likely == then.projection.likely
        assert (one.earliest, one.latest) == (then.projection.earliest, then.projection.latest)


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
    history, found = even()
    told = tail_json(history)["trends"]["cranking_voltage"]["forecasts"]
    assert [one["flight"] for one in told] == [one.at.flight for one in found.forecasts]
    assert {"held"} <= {one["came"] for one in told} <= {str(came) for came in Came}


def test_hours_flown_since_a_measure_was_last_seen_are_taken_off_its_forecast() -> None:
    """Told from the last flight, whichever flights measured it; what was not seen past its limit is not past."""
    whole = flown(np.linspace(0.0, 0.8, 60), hours=dict.fromkeys(range(60, 65), 1.5))
    seen = trends_of(follow_tail(whole))["cranking_voltage"].now
    assert seen.flown_since == 0.0

    def unseen(hours: float) -> Present:
        """The same after six more flights without a start in their logs."""
        more = [
            replace(whole.flights[-1], start=whole.flights[-1].start + timedelta(days=one), hours=hours, readings={})
            for one in range(1, 7)
        ]
        history = history_of("N0001F", [*whole.flights, *more])
        return trends_of(follow_tail(history))["cranking_voltage"].now

    later = unseen(0.5)
    assert later.flown_since == pytest.approx(1.0 + 5 * 0.5)  # from the start of the last seen to that of the last
    for one in fields(Projection):
        then, now = (getattr(present.projection, one.name) for present in (seen, later))
        assert now == pytest.approx(then - 3.5)
    longest = unseen(seen.projection.latest).projection
    assert {getattr(longest, one.name) for one in fields(Projection)} == {LEAST_LEFT}
    assert not longest.past


def test_earlier_forecasts_count_from_their_own_flights_though_later_ones_do_not_measure() -> None:
    whole, found = even()
    bare = [replace(one, start=one.start + timedelta(days=400), readings={}) for one in whole.flights[:20]]
    assert record(history_of("N0001F", [*whole.flights, *bare])) == found


def test_a_limit_that_is_merely_far_is_not_said_to_be_untold() -> None:
    far = flown(np.linspace(0.0, 0.06, 200), hours=dict.fromkeys(range(200), 8.0))
    now = trends_of(follow_tail(far))["cranking_voltage"].now
    assert now.moves
    assert now.slope.per_100_h < 0.0
    assert now.projection is None
    assert not now.heads_untold
    assert outlook_words(now, "V") == "moving; no limit foreseen"
