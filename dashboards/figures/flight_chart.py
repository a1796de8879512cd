"""The chart of one flight: phases, volts, amperes, engine speed and temperature on one time axis."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go

from analyzer.flights.flight import Flight
from analyzer.flights.trace import Trace
from analyzer.reports.story import Sentence
from analyzer.reports.wording import FINDING_LABELS
from analyzer.review import FlightReview
from dashboards.figures.figure_style import (
    CHANNEL_LABELS,
    DATES,
    LEGEND_ABOVE,
    LINES,
    PHASES,
    SEVERITY,
    axis,
    base_layout,
    faded,
)
from dashboards.figures.thin_out import kept_rows
from dashboards.figures.time_axis import TimeAxis

#: Points of a channel that travel to the browser at once, whatever is shown: low and high of each second column.
POINTS = 2000
#: A window shorter than this looks at the start itself, so that its amperes set the scale [s].
CLOSE_S = 240.0
#: Panels from top to bottom: channels, axis title, share of the height.
PANELS: tuple[tuple[tuple[str, ...], str, float], ...] = (
    (("bus_voltage", "bus_voltage_2", "backup_voltage"), "V", 0.38),
    (("battery_current", "alternator_current", "alternator_current_2", "ammeter_current"), "A", 0.34),
    (("engine_speed", "engine_speed_2"), "rpm", 0.14),
    (("engine_speed_percent",), "%", 0.14),
    (("outside_air_temperature",), "°C", 0.14),
)
DASHED = frozenset({"bus_voltage_2", "backup_voltage", "alternator_current_2", "engine_speed_2"})
RIBBON = 0.05  # share of the height of the phases' ribbon
MOMENTS = 0.055  # share of the height of the lane with the story's numbers
#: Moments closer together than this stand as one mark, "1-4" [px].
MOMENTS_APART = 30.0
#: How wide the window is drawn before the browser has said so [px].
USUAL_WIDTH = 1000.0


@dataclass(frozen=True, slots=True)
class Line:
    """One channel of a flight as it is drawn."""

    channel: str
    panel: int  # from 1, the topmost
    unit: str


def _recorded(trace: Trace, channel: str) -> bool:
    """Whether a flight shows a channel; a bus voltage that says nothing has no reading left."""
    values = getattr(trace, channel)
    return values is not None and (channel != "bus_voltage" or bool(np.isfinite(values).any()))


def lines_of(trace: Trace) -> list[Line]:
    """The channels that this flight recorded, in the order in which they are drawn."""
    found = []
    panel = 0
    for channels, unit, _ in PANELS:
        recorded = [name for name in channels if _recorded(trace, name)]
        panel += bool(recorded)
        found += [Line(name, panel, unit) for name in recorded]
    return found


def window_of(flight: Flight, from_s: float, to_s: float) -> tuple[float, float]:
    """A window with room to both sides of a stretch, so that what led to it is seen [s]."""
    room = max(45.0, 0.6 * (to_s - from_s))
    return max(flight.from_s, from_s - room), min(flight.to_s, to_s + room)


def points_between(flight: Flight, from_s: float, to_s: float) -> list[dict[str, Any]]:
    """Places and readings of every channel in a window, thinned out to what a screen can show.

    The rows on either side of the window come along, coarsely, so that moving the window shows no blank.
    """
    trace, when = flight.trace, TimeAxis(flight.clock_start)
    first, end = np.searchsorted(trace.time, [from_s, to_s]).tolist()
    found = []
    for line in lines_of(trace):
        values = getattr(trace, line.channel)
        rows = np.concatenate(
            [
                kept_rows(values[:first], POINTS // 6) if first else np.zeros(0, dtype=np.int64),
                first + kept_rows(values[first:end], POINTS),
                end + kept_rows(values[end:], POINTS // 6) if end < values.size else np.zeros(0, dtype=np.int64),
            ]
        )
        found.append({"x": when.place(trace.time[rows]), "y": values[rows].astype(np.float32)})
    return found


def flight_chart(
    review: FlightReview, told: Sequence[Sentence] = (), window: tuple[float, float] | None = None
) -> go.Figure:
    """The whole chart.

    Parameters
    ----------
    review : the flight
    told : sentences of its story; each gets its number at its moment
    window : seconds from and to which are shown at first, all of the flight when None
    """
    flight = review.flight
    when = TimeAxis(flight.clock_start)
    shown = window or (flight.from_s, flight.to_s)
    figure = go.Figure(layout=_layout(flight, when, shown))
    lines = lines_of(flight.trace)
    for line, points in zip(lines, points_between(flight, *shown), strict=True):
        figure.add_trace(_line(line, points))
    figure.add_trace(_moments(moments(told, when, *shown)))
    if (fit := _fit(review, when, lines)) is not None:
        figure.add_trace(fit)
    figure.add_traces(_ribbon(flight, when))
    figure.update_layout(
        shapes=[*_phase_shades(flight, when), *_limits(flight), *_finding_windows(review, when, shown)],
    )
    return figure


def _layout(flight: Flight, when: TimeAxis, shown: tuple[float, float]) -> dict[str, Any]:
    recorded = [(unit, share) for names, unit, share in PANELS if any(_has(flight, name) for name in names)]
    gap = 0.025
    total = sum(share for _, share in recorded)
    room = 1.0 - RIBBON - MOMENTS - gap * len(recorded)
    layout = base_layout(
        height=200 + int(430 * total),
        legend=LEGEND_ABOVE,
        hovermode="x",
        barmode="overlay",
        uniformtext={"mode": "hide", "minsize": 11},
        uirevision="flight",
        meta={"origin": when.place(0.0), "unit": when.unit},
    )
    top = 1.0 - RIBBON - MOMENTS - gap / 2
    for number, (unit, share) in enumerate(recorded, 1):
        height = room * share / total
        name = "yaxis" if number == 1 else f"yaxis{number}"
        layout[name] = axis(unit, domain=[max(0.0, top - height), top], fixedrange=True)
        if unit in ("V", "A"):
            layout[name]["range"] = (volts_shown if unit == "V" else amperes_shown)(flight, *shown)
        top -= height + gap
    lane = [1.0 - RIBBON - MOMENTS, 1.0 - RIBBON]
    bare: dict[str, Any] = {
        "fixedrange": True,
        "showticklabels": False,
        "showgrid": False,
        "ticks": "",
        "linecolor": "rgba(0,0,0,0)",
    }
    layout["yaxis8"] = axis(domain=lane, range=[0.0, 1.0], **bare)
    layout["yaxis9"] = axis(domain=[1.0 - RIBBON, 1.0], **bare)
    layout["xaxis"] = axis(
        when.title,
        type=when.kind,
        range=[when.place(shown[0]), when.place(shown[1])],
        anchor=f"y{len(recorded)}" if len(recorded) > 1 else "y",
        showspikes=True,
        spikemode="across",
        spikethickness=1,
        spikecolor="rgba(128,128,128,0.7)",
        spikedash="dot",
        hoverformat="%H:%M:%S" if when.start else ".1f",
        tickformatstops=DATES if when.start else None,
    )
    return layout


def _has(flight: Flight, channel: str) -> bool:
    return _recorded(flight.trace, channel)


def _axis_name(panel: int) -> str:
    return "y" if panel == 1 else f"y{panel}"


def _line(line: Line, points: dict[str, Any]) -> go.Scatter:
    dashed = "dot" if line.channel in DASHED else "solid"
    return go.Scatter(
        **points,
        name=CHANNEL_LABELS[line.channel],
        yaxis=_axis_name(line.panel),
        mode="lines",
        line={"color": LINES[line.channel], "width": 1.6, "dash": dashed},
        connectgaps=False,
        hovertemplate=f"%{{y:.{0 if line.unit == 'rpm' else 1 if line.unit != 'V' else 2}f}} {line.unit}",
    )


def _fit(review: FlightReview, when: TimeAxis, lines: Iterable[Line]) -> go.Scatter | None:
    """The fitted decay over the charging current, from where it begins until half as long again as it settles."""
    found = review.flight.recharge
    panel = next((line.panel for line in lines if line.channel in ("battery_current", "alternator_current")), None)
    if found is None or found.decay is None or panel is None:
        return None
    seconds = np.linspace(0.0, min(1.5 * (found.settled_s - found.origin_s), found.decay.span), 240)
    return go.Scatter(
        x=when.place(found.origin_s + seconds),
        y=found.decay.curve(seconds).astype(np.float32),
        name="Fitted recharge",
        yaxis=_axis_name(panel),
        mode="lines",
        line={"color": LINES["fit"], "width": 3, "dash": "dash"},
        hovertemplate="%{y:.1f} A fitted",
    )


def amperes_shown(flight: Flight, from_s: float, to_s: float) -> list[float]:
    """Range of the amperes' axis [A]: what is read in the window, cranking left out unless it is what is looked at.

    A starter's hundreds of amperes would press everything else flat.
    """
    trace = flight.trace
    rows = (trace.time >= from_s) & (trace.time <= to_s)
    near = np.convolve(flight.crank, np.ones(2 * trace.rows_in(2.0) + 1), mode="same") > 0.0
    if to_s - from_s > CLOSE_S:
        rows &= ~near
    shown = [getattr(trace, name)[rows] for name in PANELS[1][0] if getattr(trace, name) is not None]
    values = np.concatenate([one[np.isfinite(one)] for one in shown]) if shown else np.zeros(0)
    if not values.size:
        return [0.0, 1.0]
    low, high = float(values.min()), float(values.max())
    room = 0.08 * max(high - low, 2.0)
    return [low - room, high + room]


def moments(
    told: Sequence[Sentence], when: TimeAxis, from_s: float, to_s: float, width: float = USUAL_WIDTH
) -> dict[str, Any]:
    """The story's numbers on their lane; neighbours that would overlap in this window, so wide [px], stand as one."""
    apart = MOMENTS_APART / width * (to_s - from_s)
    groups: list[list[int]] = []
    for place, sentence in enumerate(told):
        last = groups[-1] if groups else None
        if last and sentence.from_s - told[last[0]].from_s < apart:
            last.append(place)
        else:
            groups.append([place])
    return {
        "x": when.place(np.asarray([told[group[0]].from_s for group in groups], dtype=np.float64)),
        "y": [0.5] * len(groups),
        "text": [str(g[0] + 1) if len(g) == 1 else f"{g[0] + 1}–{g[-1] + 1}" for g in groups],
        "customdata": ["<br>".join(f"{place + 1}. {_broken(told[place].says)}" for place in g) for g in groups],
    }


def _broken(words: str, width: int = 90) -> str:
    return "<br>".join(textwrap.wrap(words, width))


def _moments(points: dict[str, Any]) -> go.Scatter:
    return go.Scatter(
        **points,
        name="Moments of the story",
        yaxis="y8",
        mode="markers+text",
        marker={
            "symbol": "circle",
            "size": 23,
            "color": "rgba(128,128,128,0.16)",
            "line": {"color": "rgba(128,128,128,0.9)", "width": 1},
        },
        textfont={"size": 12},
        hovertemplate="%{customdata}<extra></extra>",
        cliponaxis=False,
        showlegend=False,
    )


def _ribbon(flight: Flight, when: TimeAxis) -> list[go.Bar]:
    bars = []
    for name, (label, colour, hatch) in PHASES.items():
        phases = [phase for phase in flight.phases if phase.name == name]
        if not phases:
            continue
        bars.append(
            go.Bar(
                base=[when.place(phase.from_s) for phase in phases],
                x=[(phase.to_s - phase.from_s) * when.unit for phase in phases],
                y=["phases"] * len(phases),
                orientation="h",
                width=1.0,
                yaxis="y9",
                name=label,
                showlegend=False,
                marker={
                    "color": faded(colour, 0.45),
                    "pattern": {"shape": hatch, "fgcolor": colour, "size": 6},
                    "line": {"color": colour, "width": 0.5},
                },
                text=[label] * len(phases),
                textposition="inside",
                insidetextanchor="middle",
                constraintext="inside",
                hovertemplate=f"{label}<extra></extra>",
            )
        )
    return bars


def _phase_shades(flight: Flight, when: TimeAxis) -> list[dict[str, Any]]:
    """A shade through all panels for every phase but the steady one."""
    return [
        {
            "type": "rect",
            "layer": "below",
            "xref": "x",
            "yref": "paper",
            "x0": when.place(phase.from_s),
            "x1": when.place(phase.to_s),
            "y0": 0.0,
            "y1": 1.0 - RIBBON - MOMENTS,
            "line": {"width": 0},
            "fillcolor": faded(PHASES[phase.name][1], 0.10),
        }
        for phase in flight.phases
        if phase.name != "steady"
    ]


def _limits(flight: Flight) -> list[dict[str, Any]]:
    """Limits worth drawing: the band always, overvoltage only when the bus came near it.

    Their numbers stand in the legend, where no line runs through them.
    """
    if not flight.voltmeter.tells:
        return []
    low, high, over = (flight.limits[name] for name in ("regulated_low", "regulated_high", "overvoltage"))
    band = f"Band for the regulator, {low:.1f} to {high:.1f} V"
    lines = [_limit(low, band, "dot") | {"showlegend": False}, _limit(high, band, "dot")]
    volts = flight.trace.bus_voltage
    highest = float(np.nanmax(volts)) if np.isfinite(volts).any() else 0.0
    near = highest > high + 0.5 * (over - high)
    return [*lines, _limit(over, f"Overvoltage, {over:.1f} V", "dashdot")] if near else lines


def _limit(value: float, name: str, dash: str) -> dict[str, Any]:
    """A line across the volts panel, named in the legend."""
    return {
        "type": "line",
        "xref": "paper",
        "yref": "y",
        "x0": 0.0,
        "x1": 1.0,
        "y0": value,
        "y1": value,
        "name": name,
        "legendgroup": name,
        "showlegend": True,
        "line": {"color": LINES["limit"], "width": 1, "dash": dash},
    }


def _finding_windows(review: FlightReview, when: TimeAxis, shown: tuple[float, float]) -> list[dict[str, Any]]:
    """A framed window through the volts panel for every finding, its words on the side that has more room for them."""
    found = []
    for place, finding in enumerate(review.findings):
        side = "left" if shown[1] - finding.from_s >= finding.to_s - shown[0] else "right"
        severity = SEVERITY[finding.severity]
        found.append(
            {
                "type": "rect",
                "xref": "x",
                "yref": "y domain",
                "x0": when.place(finding.from_s),
                "x1": when.place(finding.to_s),
                "y0": 0.0,
                "y1": 1.0,
                "fillcolor": faded(severity["colour"], 0.06),
                "line": {"color": severity["colour"], "width": 1.5, "dash": "dash"},
                "label": {
                    "text": f"{severity['mark']} {FINDING_LABELS[finding.name]}",
                    "textposition": f"bottom {side}",
                    "font": {"color": severity["colour"], "size": 12},
                    "padding": 4 + 18 * place,
                },
            }
        )
    return found


def volts_shown(flight: Flight, from_s: float, to_s: float) -> list[float]:
    """Range of the volts' axis [V]: what is read in the window, and the band where the regulator belongs."""
    trace = flight.trace
    rows = (trace.time >= from_s) & (trace.time <= to_s)
    shown = [getattr(trace, name)[rows] for name in PANELS[0][0] if getattr(trace, name) is not None]
    values = np.concatenate([one[np.isfinite(one)] for one in shown])
    band = [flight.limits["regulated_low"], flight.limits["regulated_high"]]
    low, high = np.append(values, band).min(), np.append(values, band).max()
    room = 0.08 * (high - low)
    return [float(low - room), float(high + room)]


def axes_between(flight: Flight, from_s: float, to_s: float) -> dict[str, list[float]]:
    """Ranges of the vertical axes that follow the window, by the layout's name of the axis."""
    found = {"yaxis": volts_shown(flight, from_s, to_s)}
    panels = {line.unit: line.panel for line in lines_of(flight.trace)}
    if "A" in panels:
        found[f"yaxis{panels['A']}"] = amperes_shown(flight, from_s, to_s)
    return found
