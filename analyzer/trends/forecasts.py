"""What earlier forecasts of a limit came to: each made anew from the flights of its day alone, and held to what came.

Nothing is kept for it: a series has nothing in a point that later flights change, so the forecast of any day can be
made again. It is that of the program as it is today, on what was known then.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from analyzer.limits import limit_value
from analyzer.trends.detection import as_known_at
from analyzer.trends.followed_tail import FollowedTail, Projection, Trend, trend_of
from analyzer.trends.foretold import Came, Forecast, ForecastRecord
from analyzer.trends.history import FlightAt
from analyzer.trends.tracked_series import BY_MEASURE, TrackedMeasure, reset_points


def with_records(tail: FollowedTail, trends: Mapping[str, Trend]) -> dict[str, Trend]:
    """Give the trends with the record of those that come to a limit."""
    return {
        measure: replace(trend, record=forecast_record(tail, BY_MEASURE[measure])) if trend.projection else trend
        for measure, trend in trends.items()
    }


@dataclass(frozen=True, slots=True)
class _Then:
    """The trend as it was known at a flight."""

    flight: int
    hours: float  # engine hours flown by then
    trend: Trend


#: What was known once so many flights carried the measure.
_Known = Callable[[int], _Then]


def forecast_record(tail: FollowedTail, kind: TrackedMeasure) -> ForecastRecord | None:
    """Make the earlier forecasts of a measure's limit anew, evenly over its flights; None where there were none.

    A forecast is held to the flights up to the next work that starts the measure anew.
    """
    series, resets = tail.series[kind.measure], reset_points(tail.history, kind, tail.series[kind.measure].flight)
    fewest, most = int(limit_value("trend_fewest_slope")), int(limit_value("forecasts_made_anew"))
    if series.n <= fewest:
        return None
    counts = np.unique(np.linspace(fewest, series.n, most + 1).astype(np.int64)).tolist()
    known: _Known = cache(lambda count: _as_of(tail, kind, count))
    ends = [*resets, series.n]
    made = []
    for place, count in enumerate(counts[:-1]):
        then = known(count)
        ahead, now = then.trend.projection, then.trend.now
        if ahead is None or ahead.past or now is None or now.limit is None:
            continue
        until = next(end for end in ends if end >= count)
        came = _came(ahead, now.limit, known, [one for one in counts[place:] if one <= until])
        at = FlightAt(then.flight, tail.history.flights[then.flight].start)
        made.append(Forecast(at, ahead.likely, ahead.earliest, ahead.latest, came))
    return ForecastRecord(tuple(made)) if made else None


def _as_of(tail: FollowedTail, kind: TrackedMeasure, count: int) -> _Then:
    series = tail.series[kind.measure].upto(count)
    watched, last = as_known_at(series, tail.followed[kind.measure], count), int(series.flight[-1])
    history = replace(tail.history, flights=tail.history.flights[: last + 1])
    then = replace(tail, history=history, series={kind.measure: series}, followed={kind.measure: watched})
    return _Then(last, float(series.hours[-1]), trend_of(then, kind))


def _came(ahead: Projection, limit: float, known: _Known, looks: list[int]) -> Came:
    """What a forecast came to, by the levels that were known at the looks; its own is the first of them.

    The limit came between the last look before it and the first one past it. As long as an end of the forecast lies
    between these two, what was known halfway is looked at as well.
    """

    def below(count: int) -> bool | None:
        now = known(count).trend.now
        return None if now is None else now.level < limit

    def past(count: int) -> bool:
        return below(count) not in (None, below(looks[0]))

    def flown(count: int) -> float:
        return known(count).hours - known(looks[0]).hours

    after = next((count for count in looks if past(count)), None)
    if after is None:
        return _held_to(ahead, flown(looks[-1]), np.inf)
    before = max(count for count in looks if count < after)
    while (came := _held_to(ahead, flown(before), flown(after))) is Came.OPEN and after - before > 1:
        halfway = (before + after) // 2
        before, after = (before, halfway) if past(halfway) else (halfway, after)
    return came


def _held_to(ahead: Projection, before: float, after: float) -> Came:
    """What a forecast came to whose limit came after more than ``before`` engine hours and by ``after`` [h]."""
    if after < ahead.earliest:
        return Came.SOONER
    if before > ahead.latest:
        return Came.LATER
    return Came.HELD if before >= ahead.earliest and after <= ahead.latest else Came.OPEN
