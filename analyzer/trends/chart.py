"""One measure over a tail's flights, point by point, for a chart: as measured, freed of weather, and averaged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analyzer.limits import limit_value
from analyzer.trends.followed_tail import FollowedTail, adjusted, present_line
from analyzer.trends.statistics import cusum, ewma


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
    average: float  # exponentially weighted, since the series last started anew
    average_low: float  # control limits of the average, from the stretch's first flights
    average_high: float
    strayed_up: float  # cumulative sums of what goes beyond the allowance [standard deviations]
    strayed_down: float
    stretch: int  # counts on each time the series starts anew


def limits_of(tail: FollowedTail, measure: str) -> list[float]:
    """Give the limits that a measure may come to, in its unit, the lower one first."""
    kind = tail.series[measure].kind
    return [tail.limits[name] for name in (kind.limit_down, kind.limit_up) if name is not None]


def chart_points(tail: FollowedTail, measure: str) -> list[ChartPoint]:
    """Give the points of a measure in order of flight; none where no flight carries it.

    The control chart of each stretch is set up on its first flights, as a shop would: their mean is the target.
    """
    series, points = tail.series[measure], []
    back = np.exp if series.kind.logarithmic else np.asarray
    for number, stretch in enumerate(tail.followed[measure].stretches):
        part = stretch.series
        values = adjusted(part, present_line(stretch))
        first = values[: int(limit_value("trend_fewest"))]
        target = float(first.mean())
        sigma = float(np.sqrt(part.variance.mean()))
        average = ewma(values, target, sigma, limit_value("chart_weight"))
        strayed = cusum((values - target) / sigma, 0.0, limit_value("chart_allowance"), limit_value("chart_decision"))
        for i in range(part.n):
            flight = tail.history.flights[int(part.flight[i])]
            reading = flight.readings[measure]
            points.append(
                ChartPoint(
                    int(part.flight[i]), flight.start, float(part.hours[i]), reading.value, reading.low, reading.high,
                    float(back(values[i])), float(back(average.average[i])), float(back(average.low)),
                    float(back(average.high)), float(strayed.high[i]), float(strayed.low[i]), number,
                )
            )  # fmt: skip
    return points
