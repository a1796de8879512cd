"""One measure of one aircraft over its flights: intervals, weather taken out, limits, entries, steps, where it goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from analyzer.measures.measure import MEASURES
from analyzer.reports.wording import number, unit_shown
from analyzer.series import Floats
from analyzer.trends.entries import kinds
from analyzer.trends.followed_tail import LevelStep, Trend
from analyzer.trends.tracked_series import BY_MEASURE
from dashboards.figures.figure_style import DATES, LINES, SEVERITY, axis, base_layout, faded
from dashboards.figures.marks import Mark, add_marks, upright
from dashboards.figures.thin_out import kept_rows
from dashboards.figures.time_axis import EPOCH, TimeAxis

#: Points that are drawn of a measure, about: where there are more, the highest and lowest of each stretch of flights.
MOST_DRAWN = 150
#: Least height of the axis in the measure's unit, so that a meter's own steps do not fill the chart.
LEAST_HEIGHT = {
    "regulated_voltage": 0.8,
    "recharge_time_constant": 3.0,
    "recharge_settling_time": 6.0,
    "cranking_voltage": 2.0,
    "resting_voltage": 0.6,
    "maintenance_current": 2.0,
    "regulation_scatter": 0.12,
    "regulation_droop": 10.0,
    "battery_resistance": 10.0,
}
ALONG = ("date", "hours")
#: Where a flight has no clock the date is no axis: the flights are drawn by their number.
BY_NUMBER = "number"


@dataclass(frozen=True, slots=True)
class ChartSeries:
    """One measure's points; arrays of the same length, one entry a flight that carries the measure."""

    measure: str
    starts: tuple[datetime | None, ...]  # None without a clock
    hours: Floats  # engine hours flown before the flight [h]
    value: Floats
    low: Floats  # 95 % interval
    high: Floats
    adjusted: Floats  # weather taken out, load at its median
    flight_ids: tuple[int, ...]
    limits: tuple[float, ...] = ()  # that the measure may come to
    flights: tuple[int, ...] = ()  # place of each in the aircraft's history, from 0

    def at(self, rows: NDArray[np.int64]) -> ChartSeries:
        """Some of its points."""
        return replace(
            self,
            starts=tuple(self.starts[row] for row in rows),
            hours=self.hours[rows],
            value=self.value[rows],
            low=self.low[rows],
            high=self.high[rows],
            adjusted=self.adjusted[rows],
            flight_ids=tuple(self.flight_ids[row] for row in rows),
            flights=tuple(self.flights[row] for row in rows),
        )

    @property
    def days(self) -> list[str]:
        """Each flight's day, or its number where it has no clock."""
        told = zip(self.starts, self.flights or range(len(self.starts)), strict=True)
        return [f"flight {place + 1}" if start is None else f"{start:%Y-%m-%d}" for start, place in told]


def trend_chart(
    history: ChartSeries,
    trend: Trend,
    entries: Sequence[tuple[datetime, float, str, str]] = (),
    *,
    along: str = "date",
    shown: str = "both",
) -> go.Figure:
    """The chart of one measure.

    Parameters
    ----------
    history : its points
    trend : where it stands and goes, and its steps
    entries : maintenance done: when, engine hours, kind, words
    along : "date" or "hours" (engine hours; only along these the projection is drawn)
    shown : "both", "raw" or "adjusted"
    """
    unit, along = unit_shown(MEASURES[history.measure]), _along(history, along)
    figure = go.Figure(_traces(history, trend, along, shown), _layout(history, along, unit))
    marks = [
        _mark(_place(history, change, along), f"step to {_shown(history, change.after)} {unit}", "dot")
        for change in trend.changes
    ]
    marks += [
        _mark(when if along == "date" else hours, f"▼ {kinds()[kind].words}", "dash", words)
        for when, hours, kind, words in (entries if along != BY_NUMBER else ())
    ]
    add_marks(figure, marks)
    return figure


def shown_points(
    history: ChartSeries, trend: Trend, window: Sequence[float | str] | None, *, along: str, shown: str
) -> list[Any]:
    """The traces of a chart in a window of its axis as the browser reports it: every point where they are few."""
    along = _along(history, along)
    within = None if window is None else _within(history, along, window)
    return [one.to_plotly_json() for one in _traces(history, trend, along, shown, within)]


def is_window(history: ChartSeries, along: str, window: Sequence[float | str]) -> bool:
    """Whether a window is one of a chart's axis: of hours or of flights, dates in words are none."""
    return _along(history, along) == "date" or not any(isinstance(end, str) for end in window)


def _traces(
    history: ChartSeries, trend: Trend, along: str, shown: str, within: NDArray[np.bool_] | None = None
) -> list[go.Scatter]:
    drawn, unit = _thinned(history, within), unit_shown(MEASURES[history.measure])
    where: Any = _where(drawn, along)
    traces = [_raw(drawn, where, unit)] if shown in ("both", "raw") else []
    traces += [_adjusted(drawn, where, unit)] if shown in ("both", "adjusted") else []
    return [*traces, *_projection(history, trend, along, unit)]


def is_thinned(flights: int) -> bool:
    """Whether a chart of so many flights leaves points out until it is zoomed into."""
    return flights > MOST_DRAWN


def _thinned(history: ChartSeries, within: NDArray[np.bool_] | None) -> ChartSeries:
    """The points that are drawn: of those in a window as many as can be, of the others the outermost."""
    if not is_thinned(history.value.size):
        return history
    parts = [np.arange(history.value.size)]
    if within is not None and within.any():
        first, last = np.flatnonzero(within)[[0, -1]].tolist()
        parts = np.split(parts[0], [first, last + 1])
    rows = []
    for place, part in enumerate(parts):
        most = MOST_DRAWN if len(parts) == 1 or place == 1 else MOST_DRAWN // 4
        rows += [part[kept_rows(values[part], most)] for values in (history.adjusted, history.value)]
    return history.at(np.unique(np.concatenate(rows)))


def _within(history: ChartSeries, along: str, window: Sequence[float | str]) -> NDArray[np.bool_]:
    """Which points lie in a window."""
    if along == "date":
        first, last = (TimeAxis(EPOCH).seconds(end) for end in window)
        begun = [None if start is None else (start - EPOCH).total_seconds() for start in history.starts]
        return np.array([at is not None and first <= at <= last for at in begun])
    places = np.asarray(_where(history, along), dtype=np.float64)
    return np.asarray((places >= float(window[0])) & (places <= float(window[1])))


def _along(history: ChartSeries, along: str) -> str:
    return BY_NUMBER if along == "date" and None in history.starts else along


def _shown(history: ChartSeries, value: float) -> str:
    return number(value, MEASURES[history.measure])


def _layout(history: ChartSeries, along: str, unit: str) -> dict[str, Any]:
    layout = base_layout(
        height=290,
        showlegend=False,
        hovermode="closest",
        uirevision="trend",
        margin={"l": 58, "r": 86 if history.limits else 18, "t": 26, "b": 42},
        xaxis=axis(
            {"hours": "engine hours", BY_NUMBER: "flight, in file order"}.get(along),
            fixedrange=False,
            tickformatstops=DATES if along == "date" else None,
        ),
        yaxis=axis(unit, range=_range(history)),
    )
    low, high = layout["yaxis"]["range"]
    layout["shapes"] = [_good_band(history, low, high)] if history.limits else []
    layout["annotations"] = []
    for limit in history.limits:
        line = SEVERITY["warning"]["colour"] if _crossed(history, limit) else LINES["limit"]
        layout["shapes"].append(
            {
                "type": "line", "xref": "paper", "x0": 0, "x1": 1, "y0": limit, "y1": limit,
                "line": {"color": line, "width": 1.4, "dash": "dashdot"},
            }
        )  # fmt: skip
        if low <= limit <= high:
            layout["annotations"].append(
                {
                    "xref": "paper", "x": 1.0, "y": limit, "xanchor": "left", "yanchor": "middle", "showarrow": False,
                    "text": f" limit {_shown(history, limit)}", "font": {"size": 12},
                }
            )  # fmt: skip
    return layout


def _good(history: ChartSeries) -> tuple[float, float]:
    """Ends of the band in which the measure is good; infinite where no limit bounds it."""
    if len(history.limits) > 1:
        return history.limits[0], history.limits[-1]
    rises = BY_MEASURE[history.measure].limit_down is None
    return (-np.inf, history.limits[0]) if rises else (history.limits[0], np.inf)


def _good_band(history: ChartSeries, low: float, high: float) -> dict[str, Any]:
    """The band in which the measure is good, as far as the chart shows it."""
    first, last = _good(history)
    return {
        "type": "rect", "xref": "paper", "x0": 0, "x1": 1, "y0": max(first, low), "y1": max(low, min(last, high)),
        "fillcolor": faded(SEVERITY["good"]["colour"], 0.08), "line": {"width": 0}, "layer": "below",
    }  # fmt: skip


def _crossed(history: ChartSeries, limit: float) -> bool:
    """Whether a flight, with weather and load taken out, lies on the far side of a limit."""
    first, _ = _good(history)
    return bool((history.adjusted < limit).any() if limit == first else (history.adjusted > limit).any())


def _range(history: ChartSeries) -> list[float]:
    """The values, and each limit where it lies near; never so close that the meter's steps fill the chart."""
    low, high = (
        float(min(history.value.min(), history.adjusted.min())),
        float(max(history.value.max(), history.adjusted.max())),
    )
    span = max(high - low, LEAST_HEIGHT[history.measure])
    near = [limit for limit in history.limits if low - 1.5 * span < limit < high + 1.5 * span]
    low, high = min([low, *near]), max([high, *near])
    room = max(0.5 * (span - (high - low)), 0.12 * (high - low))
    return [max(0.0, low - room) if low >= 0.0 else low - room, high + room]


def _raw(history: ChartSeries, where: Any, unit: str) -> go.Scatter:
    return go.Scatter(
        x=where,
        y=history.value,
        error_y={
            "type": "data",
            "symmetric": False,
            "array": history.high - history.value,
            "arrayminus": history.value - history.low,
            "color": faded(LINES["limit"], 0.45),
            "thickness": 1,
            "width": 0,
        },
        mode="markers",
        marker={"symbol": "circle-open", "size": 7, "color": LINES["limit"], "line": {"width": 1.4}},
        customdata=[
            [flight_id, day, _shown(history, value), _shown(history, low), _shown(history, high)]
            for day, value, flight_id, low, high in zip(
                history.days, history.value, history.flight_ids, history.low, history.high, strict=True
            )
        ],
        name="as recorded",
        hovertemplate=(
            f"%{{customdata[1]}}: %{{customdata[2]}} {unit} (%{{customdata[3]}} to %{{customdata[4]}})"
            "<extra>as recorded</extra>"
        ),
    )


def _adjusted(history: ChartSeries, where: Any, unit: str) -> go.Scatter:
    return go.Scatter(
        x=where,
        y=history.adjusted,
        mode="markers",
        marker={"symbol": "circle", "size": 6, "color": LINES["trend"]},
        customdata=[
            [flight_id, day, _shown(history, value)]
            for day, value, flight_id in zip(history.days, history.adjusted, history.flight_ids, strict=True)
        ],
        name="corrected for temperature and load",
        hovertemplate=f"%{{customdata[1]}}: %{{customdata[2]}} {unit}<extra>corrected</extra>",
    )


def _projection(history: ChartSeries, trend: Trend, along: str, unit: str) -> list[go.Scatter]:
    """From the level as last measured to where it may come to its limit, and where it does where one number is told."""
    now, reached = trend.now, trend.projection
    if along != "hours" or now is None or now.limit is None or reached is None or not history.hours.size:
        return []
    start = float(history.hours[-1])
    last = start + now.flown_since  # the aircraft's last flight, from which the hours to the limit count
    band = go.Scatter(
        x=[start, last + reached.earliest, last + reached.latest, start],
        y=[now.level, now.limit, now.limit, now.level],
        mode="lines",
        fill="toself",
        fillcolor=faded(LINES["fit"], 0.13),
        line={"width": 0},
        hoverinfo="skip",
    )
    if reached.likely is None:
        return [band]
    middle = go.Scatter(
        x=[start, last + reached.likely],
        y=[now.level, now.limit],
        mode="lines",
        line={"color": LINES["fit"], "dash": "dash", "width": 2},
        hovertemplate=f"to the limit: %{{y:.2f}} {unit}<extra></extra>",
    )
    return [band, middle]


def _where(history: ChartSeries, along: str) -> Any:
    """Where the points lie: dates, numbers of flights, or engine hours."""
    if along == "date":
        return list(history.starts)
    return [place + 1 for place in history.flights] if along == BY_NUMBER else history.hours


def _place(history: ChartSeries, change: LevelStep, along: str) -> Any:
    """Where a step lies: its flight's date or number, or the engine hours flown by then."""
    if along == BY_NUMBER:
        return change.flight + 1
    if along == "date":
        return change.start
    if change.start is None:
        places = zip(history.flights, history.hours, strict=True)
        later = [hours for place, hours in places if place >= change.flight]
    else:
        told = zip(history.starts, history.hours, strict=True)
        later = [hours for begun, hours in told if begun is None or begun >= change.start]
    return later[0] if later else float(history.hours[-1])


def _mark(at: Any, words: str, dash: str, more: str = "") -> Mark:
    """An upright line with words at its head."""
    told = {
        "x": at, "yref": "paper", "y": 1.0, "yanchor": "bottom", "text": words, "hovertext": more or words,
        "showarrow": False, "font": {"size": 12},
    }  # fmt: skip
    return upright(at, dash), told


def moves(trend: Trend) -> bool:
    """Whether a measure moves for sure, or stepped."""
    return (trend.now is not None and trend.now.moves) or bool(trend.changes)
