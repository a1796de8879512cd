"""One measure of two aircraft over their flights, on one chart."""

from __future__ import annotations

import plotly.graph_objects as go

from analyzer.measures.measure import MEASURES
from analyzer.reports.wording import number, unit_shown
from dashboards.figures.compare_chart import LOOKS
from dashboards.figures.figure_style import DATES, LEGEND_ABOVE, axis, base_layout
from dashboards.figures.thin_out import kept_rows
from dashboards.figures.trend_chart import MOST_DRAWN, ChartSeries

#: Mark of either aircraft, told apart by shape as well as by colour.
SHAPES = ("circle", "diamond-open")


def tails_chart(histories: tuple[ChartSeries, ChartSeries], names: tuple[str, str]) -> go.Figure:
    """Draw the flights of both, weather and load taken out; by date, or by engine hours where a flight has no clock.

    Parameters
    ----------
    histories : of the same measure
    names : stand in the legend
    """
    measure = histories[0].measure
    unit, dated = unit_shown(MEASURES[measure]), not any(None in one.starts for one in histories)
    figure = go.Figure(
        layout=base_layout(
            height=320,
            hovermode="closest",
            legend=LEGEND_ABOVE,
            xaxis=axis(None if dated else "engine hours", tickformatstops=DATES if dated else None),
            yaxis=axis(unit, fixedrange=True),
        )
    )
    for history, name, shape, look in zip(histories, names, SHAPES, LOOKS, strict=True):
        shown = history.at(kept_rows(history.adjusted, MOST_DRAWN))
        figure.add_trace(
            go.Scatter(
                x=list(shown.starts) if dated else shown.hours,
                y=shown.adjusted,
                name=name,
                mode="markers",
                marker={"symbol": shape, "size": 7, "color": look["color"]},
                customdata=[
                    [day, number(value, MEASURES[measure])]
                    for day, value in zip(shown.days, shown.adjusted, strict=True)
                ],
                hovertemplate=f"%{{customdata[0]}}: %{{customdata[1]}} {unit}<extra>{name}</extra>",
            )
        )
    return figure
