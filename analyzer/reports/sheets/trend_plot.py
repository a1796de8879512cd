"""One measure of one aircraft over its flights, for paper."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer.measures.measure import MEASURES
from analyzer.reports.sheets import drawing
from analyzer.reports.wording import MEASURE_LABELS, unit_shown, with_unit
from analyzer.trends import chart
from analyzer.trends.chart import ChartPoint
from analyzer.trends.followed_tail import FollowedTail, Slope, Trend
from analyzer.trends.tracked_series import BY_MEASURE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: How the marks are read, once for all charts of a sheet.
KEY = (
    "Circles: as recorded, with the 95 % interval; dots: corrected for weather and load. Line: the present slope. "
    "Dotted across: the limit. Dashed upright: maintenance, by its number; dotted upright: a step."
)
#: Height of a chart [inch].
HEIGHT = 1.3
#: A limit further from the readings than so many times their spread is named and not drawn.
LIMIT_NEAR = 1.5


def trend_svg(
    measure: str,
    points: Sequence[ChartPoint],
    trend: Trend | None,
    limits: Sequence[tuple[float, str]] = (),
    entries: Sequence[tuple[datetime, str]] = (),
    levels: Sequence[tuple[datetime, datetime, float]] = (),
) -> str:
    """The chart as SVG; along the flights' numbers, and without maintenance, where one of them has no clock.

    Parameters
    ----------
    measure : its name
    points : one a flight, in order
    trend : its present slope and steps; None draws neither
    limits : of ``limits_of``; those near the readings are drawn
    entries : when maintenance was done, and the mark that stands for it
    levels : values that held from one moment to another, drawn instead of the present slope
    """
    with drawing.look():
        figure, (panel,) = drawing.panels([HEIGHT], drawing.HALF)
        timed = all(point.start is not None for point in points)
        days: Any = (
            np.array([point.start for point in points], dtype="datetime64[s]")
            if timed
            else np.array([point.flight + 1 for point in points])
        )
        _points(panel, days, points)
        for first, last, value in levels:
            panel.plot(np.array([first, last], dtype="datetime64[s]"), [value, value], color="black", linewidth=1.6)
        if not levels and trend is not None and trend.now is not None and trend.now.slope is not None:
            _slope(panel, measure, days, points, trend.now.level, trend.now.slope)
        near = _scale(panel, points, limits)
        unit = unit_shown(MEASURES[measure])
        panel.set_title(f"{MEASURE_LABELS[measure]}" + (f" [{unit}]" if unit else ""), loc="left", fontsize=8)
        for change in () if trend is None else trend.changes:
            at: Any = np.datetime64(change.start, "s") if timed else change.flight + 1
            panel.axvline(at, color="0.3", linewidth=0.8, linestyle=":")
        for when, mark in entries if timed else ():
            _upright(panel, np.datetime64(when.replace(tzinfo=None), "s"), mark)
        if timed:
            _days(panel, days)
        else:
            panel.set_xlabel("flight, in file order")
        drawing.limit_lines(panel, near)
        return drawing.as_svg(figure)


def _points(panel: Axes, days: Any, points: Sequence[ChartPoint]) -> None:
    value = np.array([point.value for point in points])
    ends = [
        np.array([max(0.0, p.value - p.low) for p in points]),
        np.array([max(0.0, p.high - p.value) for p in points]),
    ]
    size = 3.2 if len(points) <= 60 else 2.0
    panel.errorbar(
        days, value, yerr=np.array(ends), fmt="o", markersize=size, markerfacecolor="white", markeredgecolor="0.35",
        markeredgewidth=0.6, ecolor="0.7", elinewidth=0.5, zorder=2,
    )  # fmt: skip
    panel.plot(days, [point.adjusted for point in points], ".", color="black", markersize=size, zorder=3)


def _slope(panel: Axes, measure: str, days: Any, points: Sequence[ChartPoint], level: float, slope: Slope) -> None:
    """The present slope through the flights since the series last started anew.

    A measure that is worked in logarithms changes by a share, so its line is bent.
    """
    rows = [place for place, point in enumerate(points) if point.stretch == points[-1].stretch]
    hours = np.array([points[place].hours for place in rows])
    back = slope.per_100_h / 100.0 * (hours - hours[-1])
    line = level * np.exp(back / level) if BY_MEASURE[measure].logarithmic else level + back
    panel.plot(days[rows], line, color="black", linewidth=1.1, zorder=4)


def _scale(panel: Axes, points: Sequence[ChartPoint], limits: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Set the range by the values, and by the limits that are near; give the limits to draw."""
    values = np.array([[point.value, point.adjusted] for point in points])
    low, high = float(values.min()), float(values.max())
    span = max(high - low, 0.02 * abs(high), 1e-3)
    near = [one for one in limits if low - LIMIT_NEAR * span < one[0] < high + LIMIT_NEAR * span]
    low, high = min([low, *(value for value, _ in near)]), max([high, *(value for value, _ in near)])
    panel.set_ylim(low - 0.12 * span, high + 0.12 * span)
    return near


def limits_of(tail: FollowedTail, measure: str) -> list[tuple[float, str]]:
    """The limits that a measure may come to, each with its label."""
    unit = MEASURES[measure]
    return [(value, f"limit {with_unit(value, unit)}") for value in chart.limits_of(tail, measure)]


def _upright(panel: Axes, at: Any, mark: str) -> None:
    panel.axvline(at, color="0.2", linewidth=0.8, linestyle=(0, (4, 2)))
    panel.annotate(
        mark, (at, 1.0), xycoords=("data", "axes fraction"), xytext=(1.5, -1.5), textcoords="offset points", va="top",
        fontsize=6.5, bbox={"facecolor": "white", "edgecolor": "0.2", "linewidth": 0.4, "pad": 0.8},
    )  # fmt: skip


def _days(panel: Axes, days: Any) -> None:
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    locator = AutoDateLocator(minticks=3, maxticks=5)
    panel.xaxis.set_major_locator(locator)
    panel.xaxis.set_major_formatter(ConciseDateFormatter(locator))
    if days.size == 1:
        panel.set_xlim(days[0] - np.timedelta64(15, "D"), days[0] + np.timedelta64(15, "D"))
