"""A log at a glance before it is kept: every role's readings, thinned out, in one panel a unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from analyzer.logs import ROLE_UNITS, Log
from analyzer.series import Floats
from dashboards.figures.figure_style import CHANNEL_LABELS, LINES, axis, base_layout
from dashboards.figures.thin_out import kept_rows

POINTS = 900
SHOWN = tuple(LINES)


@dataclass(frozen=True, slots=True)
class Preview:
    """Readings by role: minutes from the first row, and values."""

    lines: dict[str, tuple[Floats, Floats]]


def preview_of(log: Log) -> Preview:
    """Thin a log out to what a small chart shows."""
    minutes = log.table["time_s"].to_numpy() / 60.0
    lines = {}
    for role in log.table.columns:
        if role in SHOWN and role in CHANNEL_LABELS:
            values = log.table[role].to_numpy().astype(np.float64)
            rows = kept_rows(values, POINTS)
            lines[role] = (minutes[rows], values[rows])
    return Preview(lines)


def preview_chart(preview: Preview) -> go.Figure:
    """The chart."""
    units = list(dict.fromkeys(ROLE_UNITS[role] for role in preview.lines))
    figure = go.Figure(
        layout=base_layout(
            height=120 + 110 * max(1, len(units)),
            legend={"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0.0, "font": {"size": 12}},
            margin={"l": 58, "r": 18, "t": 12, "b": 40},
        )
    )
    for place, unit in enumerate(units):
        top = 1.0 - place / len(units)
        name = "yaxis" if place == 0 else f"yaxis{place + 1}"
        shown = {"degC": "°C"}.get(unit, unit)
        figure.layout[name] = axis(shown, domain=[max(0.0, top - 1.0 / len(units) + 0.05), top])
    last = "y" if len(units) < 2 else f"y{len(units)}"
    figure.update_layout(xaxis=axis("minutes from the start of the log", anchor=last))
    for role, (minutes, values) in preview.lines.items():
        place = units.index(ROLE_UNITS[role])
        figure.add_trace(
            go.Scatter(
                x=minutes,
                y=values.astype(np.float32),
                name=CHANNEL_LABELS[role],
                yaxis="y" if place == 0 else f"y{place + 1}",
                mode="lines",
                line={"color": LINES[role], "width": 1.4},
            )
        )
    return figure
