"""What earlier forecasts of a limit came to: each made anew from the flights of its day alone, and held to what came.

Nothing is kept for it: a series has nothing in a point that later flights change, so the forecast of any day can be
made again. It is that of the program as it is today, on what was known then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analyzer.limits import limit_value
from analyzer.trends.detection import follow
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


def forecast_record(tail: FollowedTail, kind: TrackedMeasure) -> ForecastRecord | None:
    """Make the earlier forecasts of a measure's limit anew, evenly over its flights; None where there were none.

    A forecast is held to the flights up to the next work that starts the measure anew.
    """
    series, resets = tail.series[kind.measure], reset_points(tail.history, kind, tail.series[kind.measure].flight)
    fewest, most = int(limit_value("trend_fewest_slope")), int(limit_value("forecasts_made_anew"))
    if series.n <= fewest:
        return None
    counts = np.unique(np.linspace(fewest, series.n, most + 1).astype(np.int64)).tolist()
    known = [_as_of(tail, kind, count, resets) for count in counts]
    ends = [*resets, series.n]
    made = []
    for place, (then, count) in enumerate(zip(known, counts, strict=True)):
        ahead, now = then.trend.projection, then.trend.now
        if ahead is None or ahead.past or now is None or now.limit is None or count == series.n:
            continue
        until = next(end for end in ends if end >= count)
        later = [one for one, own in zip(known[place + 1 :], counts[place + 1 :], strict=True) if own <= until]
        came = _came(then.hours, now.level, now.limit, ahead, later)
        at = FlightAt(then.flight, tail.history.flights[then.flight].start)
        made.append(Forecast(at, ahead.likely, ahead.earliest, ahead.latest, came))
    return ForecastRecord(tuple(made)) if made else None


def _as_of(tail: FollowedTail, kind: TrackedMeasure, count: int, resets: list[int]) -> _Then:
    series = tail.series[kind.measure].upto(count)
    watched = follow(series, [place for place in resets if place < count])
    then = replace(tail, series={kind.measure: series}, followed={kind.measure: watched})
    return _Then(int(series.flight[-1]), float(series.hours[-1]), trend_of(then, kind))


def _came(begun: float, level: float, limit: float, ahead: Projection, later: list[_Then]) -> Came:
    """What a forecast came to, by the levels that were known later: the limit came between two of these."""
    towards, before = 1.0 if limit > level else -1.0, 0.0
    for one in later:
        flown = one.hours - begun
        if one.trend.now is not None and towards * (one.trend.now.level - limit) >= 0.0:
            if flown < ahead.earliest:
                return Came.SOONER
            return Came.LATER if before > ahead.latest else Came.HELD
        before = flown
    return Came.LATER if before > ahead.latest else Came.OPEN
