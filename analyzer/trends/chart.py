"""One measure over a tail's flights, point by point, for a chart: as measured, and freed of weather and load."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analyzer.trends.followed_tail import FollowedTail, adjusted, present_line


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One flight's point; values in the unit of the measure."""

    flight: int  # place in the tail's history, from 0
    start: datetime | None  # None without a clock
    hours: float  # engine hours before it [h]
    value: float
    low: float  # 95 % interval of the value
    high: float
    adjusted: float  # brought to the reference temperature and the usual load
    stretch: int  # counts on each time the series starts anew


def limits_of(tail: FollowedTail, measure: str) -> list[float]:
    """Give the limits that a measure may come to, in its unit, the lower one first."""
    kind = tail.series[measure].kind
    return [tail.limits[name] for name in (kind.limit_down, kind.limit_up) if name is not None]


def chart_points(tail: FollowedTail, measure: str) -> list[ChartPoint]:
    """Give the points of a measure in order of flight; none where no flight carries it."""
    series, points = tail.series[measure], []
    back = np.exp if series.kind.logarithmic else np.asarray
    for number, stretch in enumerate(tail.followed[measure].stretches):
        part = stretch.series
        values = back(adjusted(part, present_line(stretch)))
        for place, hours, value in zip(part.flight.tolist(), part.hours.tolist(), values.tolist(), strict=True):
            flight = tail.history.flights[place]
            reading = flight.readings[measure]
            points.append(
                ChartPoint(place, flight.start, hours, reading.value, reading.low, reading.high, value, number)
            )
    return points
