"""A small chart of one occasion on which a symptom was seen: volts and amperes around its window."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

from analyzer.review import FlightReview
from dashboards.figures.figure_style import CHANNEL_LABELS, DATES, LINES, SEVERITY, axis, base_layout, faded
from dashboards.figures.flight_chart import amperes_shown, lines_of, points_between, volts_shown, window_of
from dashboards.figures.time_axis import TimeAxis

#: Panels that are drawn: unit, its range, its place.
DOMAINS = {"V": [0.52, 1.0], "A": [0.0, 0.44]}


def occasion_chart(review: FlightReview, from_s: float, to_s: float) -> go.Figure:
    """The chart; the occasion's window is shaded, with room to both sides."""
    flight = review.flight
    when, shown = TimeAxis(flight.clock_start), window_of(flight, from_s, to_s)
    lines = lines_of(flight.trace)
    units = [unit for unit in DOMAINS if any(line.unit == unit for line in lines)]
    ranges = {"V": volts_shown, "A": amperes_shown}
    layout: dict[str, Any] = {
        ("yaxis" if place == 0 else "yaxis2"): axis(
            unit, domain=DOMAINS[unit] if len(units) > 1 else [0.0, 1.0], range=ranges[unit](flight, *shown),
            fixedrange=True, nticks=5,
        )
        for place, unit in enumerate(units)
    }  # fmt: skip
    figure = go.Figure(
        layout=base_layout(
            height=270,
            showlegend=True,
            legend={"orientation": "h", "x": 0.0, "y": 1.02, "yanchor": "bottom"},
            hovermode="x",
            margin={"l": 58, "r": 12, "t": 30, "b": 34},
            dragmode=False,
            xaxis=axis(
                None if when.start else when.title, type=when.kind, range=[when.place(end) for end in shown],
                anchor="y2" if len(units) > 1 else "y", fixedrange=True, nticks=5,
                tickformatstops=DATES if when.start else None,
            ),
            shapes=[_window(when, from_s, to_s)],
            **layout,
        )
    )  # fmt: skip
    for line, points in zip(lines, points_between(flight, *shown), strict=True):
        if line.unit in units:
            figure.add_trace(
                go.Scatter(
                    **points,
                    name=CHANNEL_LABELS[line.channel],
                    yaxis="y" if units.index(line.unit) == 0 else "y2",
                    mode="lines",
                    line={"color": LINES[line.channel], "width": 1.6},
                    hovertemplate=f"%{{y:.2f}} {line.unit}",
                )
            )
    return figure


def _window(when: TimeAxis, from_s: float, to_s: float) -> dict[str, Any]:
    colour = SEVERITY["caution"]["colour"]
    return {
        "type": "rect", "xref": "x", "yref": "paper", "x0": when.place(from_s), "x1": when.place(to_s), "y0": 0.0,
        "y1": 1.0, "fillcolor": faded(colour, 0.12), "line": {"color": colour, "width": 1.2, "dash": "dash"},
    }  # fmt: skip
