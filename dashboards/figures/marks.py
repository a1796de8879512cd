"""Upright lines over a chart, with words: all set at once, since the time of one by one grows with their square."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import plotly.graph_objects as go

from dashboards.figures.figure_style import LINES

#: A line and its words, as the chart's layout has them.
Mark: TypeAlias = tuple[dict[str, Any], dict[str, Any]]


def upright(at: Any, dash: str) -> dict[str, Any]:
    """An upright line from the foot of a chart to its head."""
    return {
        "type": "line", "x0": at, "x1": at, "yref": "paper", "y0": 0.0, "y1": 1.0,
        "line": {"color": LINES["engine_speed"], "width": 1.4, "dash": dash},
    }  # fmt: skip


def add_marks(figure: go.Figure, marks: Sequence[Mark]) -> None:
    """Add lines with their words to what a chart has already."""
    lines, words = [line for line, _ in marks], [told for _, told in marks]
    figure.update_layout(
        shapes=[*(one.to_plotly_json() for one in figure.layout.shapes), *lines],
        annotations=[*(one.to_plotly_json() for one in figure.layout.annotations), *words],
    )
