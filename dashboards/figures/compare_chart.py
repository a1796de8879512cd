"""The chart of two flights laid over each other, minutes from a moment that both have."""

from __future__ import annotations

from typing import Any

import numpy as np
import plotly.graph_objects as go

from analyzer.flights.flight import Flight
from analyzer.service.compare_flights import TwoFlights
from dashboards.figures.figure_style import CHANNEL_LABELS, LEGEND_ABOVE, LINES, axis, base_layout
from dashboards.figures.flight_chart import POINTS, amperes_shown
from dashboards.figures.thin_out import kept_rows

#: Panels from top to bottom: a channel, its unit, its share of the height.
PANELS = (
    ("bus_voltage", "V", 0.34),
    ("battery_current", "A", 0.28),
    ("alternator_current", "A", 0.28),
    ("ammeter_current", "A", 0.28),
    ("engine_speed", "rpm", 0.16),
)
#: Line of either flight, told apart by dash as well as by colour.
LOOKS = ({"color": LINES["bus_voltage"], "width": 1.6}, {"color": LINES["fit"], "width": 1.6, "dash": "dash"})
GAP = 0.04


def compare_chart(two: TwoFlights, names: tuple[str, str]) -> go.Figure:
    """Lay both flights over each other; ``names`` stand in the legend."""
    flights = (two.first.flight, two.second.flight)
    shown = [panel for panel in PANELS if any(_recorded(flight, panel[0]) for flight in flights)]
    figure = go.Figure(layout=_layout(shown, flights))
    for number, (channel, unit, _) in enumerate(shown, 1):
        for place, flight in enumerate(flights):
            if not _recorded(flight, channel):
                continue
            values = getattr(flight.trace, channel)
            rows = kept_rows(values, POINTS)
            figure.add_trace(
                go.Scatter(
                    x=((flight.trace.time[rows] - two.origins[place]) / 60.0).astype(np.float32),
                    y=values[rows].astype(np.float32),
                    name=names[place],
                    legendgroup=str(place),
                    showlegend=number == 1,
                    yaxis="y" if number == 1 else f"y{number}",
                    mode="lines",
                    line=LOOKS[place],
                    connectgaps=False,
                    hovertemplate=f"%{{y:.{0 if unit == 'rpm' else 1}f}} {unit}",
                )
            )
    return figure


def _recorded(flight: Flight, channel: str) -> bool:
    values = getattr(flight.trace, channel)
    return values is not None and bool(np.isfinite(values).any())


def _layout(shown: list[tuple[str, str, float]], flights: tuple[Flight, Flight]) -> dict[str, Any]:
    total = sum(share for *_, share in shown)
    room, top = 1.0 - GAP * max(0, len(shown) - 1), 1.0
    layout = base_layout(
        height=160 + int(430 * total),
        legend=LEGEND_ABOVE,
        hovermode="x",
    )
    for number, (channel, unit, share) in enumerate(shown, 1):
        height = room * share / max(total, 1e-9)
        title = f"{CHANNEL_LABELS[channel].split(' ')[0]}, {unit}"
        layout["yaxis" if number == 1 else f"yaxis{number}"] = axis(
            title, domain=[max(0.0, top - height), top], fixedrange=True, **_range(channel, unit, flights)
        )
        top -= height + GAP
    layout["xaxis"] = axis("minutes", anchor=f"y{len(shown)}" if len(shown) > 1 else "y", hoverformat=".1f")
    return layout


def _range(channel: str, unit: str, flights: tuple[Flight, Flight]) -> dict[str, Any]:
    """Amperes without the starter's; whatever else there is sets its own scale."""
    if unit != "A":
        return {}
    ends = [amperes_shown(flight, flight.from_s, flight.to_s) for flight in flights if _recorded(flight, channel)]
    return {"range": [min(low for low, _ in ends), max(high for _, high in ends)]}
