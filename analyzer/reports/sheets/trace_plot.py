"""Volts, amperes and engine speed of a flight, or of a window of it, for paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.reports.sheets import drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Panels from the top: unit, channels with label, dash and width, height [inch].
PANELS: tuple[tuple[str, tuple[tuple[str, str, Any, float], ...], float], ...] = (
    (
        "V",
        (
            ("bus_voltage", "bus", "-", 0.9),
            ("bus_voltage_2", "second bus", (0, (4, 2)), 0.8),
            ("backup_voltage", "backup battery", (0, (1, 1)), 0.8),
        ),
        1.15,
    ),
    (
        "A",
        (
            ("battery_current", "battery, charge +", "-", 0.9),
            ("alternator_current", "alternator", "-", 0.9),
            ("alternator_current_2", "second alternator", (0, (4, 2)), 0.8),
            ("ammeter_current", "ammeter of unknown kind", "-", 0.9),
        ),
        0.95,
    ),
    ("rpm", (("engine_speed", "engine", "-", 0.8), ("engine_speed_2", "second engine", (0, (4, 2)), 0.8)), 0.42),
    ("%", (("engine_speed_percent", "core speed", "-", 0.8),), 0.42),
)
#: A window shorter than this looks at the start itself, so that a starter's amperes set the scale [s].
CLOSE_S = 240.0


@dataclass(frozen=True, slots=True)
class Window:
    """A stretch marked on the chart."""

    from_s: float
    to_s: float
    mark: str  # "A"


def trace_svg(
    flight: Flight,
    windows: Sequence[Window] = (),
    span: tuple[float, float] | None = None,
    *,
    small: bool = False,
    height: float = 1.0,
) -> str:
    """The chart as SVG.

    Parameters
    ----------
    flight : the flight
    windows : stretches to mark, each with its letter
    span : seconds of the log from and to which are drawn, the whole flight when None
    small : half the sheet's width
    height : share of the usual height of the panels
    """
    from_s, to_s = span or (flight.from_s, flight.to_s)
    shown = [(unit, [line for line in lines if _recorded(flight, line[0])], height) for unit, lines, height in PANELS]
    shown = [one for one in shown if one[1]]
    shrink = 0.75 * height if small else height
    with drawing.look():
        figure, axes = drawing.panels(
            [shrink * inches for *_, inches in shown], drawing.HALF if small else drawing.WIDE
        )
        for panel, (unit, lines, _) in zip(axes, shown, strict=True):
            _draw(panel, flight, unit, lines, (from_s, to_s))
            _mark(panel, flight, windows, (from_s, to_s), named=panel is axes[0])
        axes[-1].set_xlim(*drawing.places(np.array([from_s, max(to_s, from_s + 1.0)]), flight.clock_start))
        drawing.label_times(axes[-1], flight.clock_start, to_s - from_s, 4 if small else 9)
        figure.align_ylabels(axes)
        return drawing.as_svg(figure)


def room_around(flight: Flight, from_s: float, to_s: float) -> tuple[float, float]:
    """A span with room to both sides of a stretch, so that what led to it is seen [s]."""
    room = max(60.0, 0.6 * (to_s - from_s))
    return max(flight.from_s, from_s - room), min(flight.to_s, to_s + room)


def _recorded(flight: Flight, channel: str) -> bool:
    values = getattr(flight.trace, channel)
    return values is not None and bool(np.isfinite(values).any())


def _draw(panel: Axes, flight: Flight, unit: str, lines: list[Any], span: tuple[float, float]) -> None:
    trace = flight.trace
    rows = (trace.time >= span[0]) & (trace.time <= span[1])
    where = drawing.places(trace.time[rows], flight.clock_start)
    for channel, label, dash, width in lines:
        values = getattr(trace, channel)[rows]
        panel.plot(where, values, color="0.0" if dash == "-" else "0.35", linestyle=dash, linewidth=width, label=label)
    panel.set_ylabel(unit, rotation=0, ha="right", va="center")
    if unit == "V":
        _limits(panel, flight)
    if unit == "A":
        panel.axhline(0.0, color="0.5", linewidth=0.5)
        _leave_cranking_out(panel, flight, lines, rows, span)
    if unit != "rpm" or len(lines) > 1:
        panel.legend(loc="lower left", bbox_to_anchor=(0.0, 0.98), ncols=4, borderaxespad=0.0)


def _limits(panel: Axes, flight: Flight) -> None:
    """The band of the regulator, the low-voltage light, and overvoltage where the bus came near it."""
    limits, volts = flight.limits, flight.trace.bus_voltage
    words = {"regulated_high": "top of band", "regulated_low": "foot of band", "low_voltage": "low-volt light"}
    highest = float(np.nanmax(volts)) if np.isfinite(volts).any() else 0.0
    if highest > 0.5 * (limits["regulated_high"] + limits["overvoltage"]):
        words["overvoltage"] = "overvoltage"
    shown = [(limits[name], f"{limits[name]:g} V, {label}") for name, label in words.items()]
    panel.set_ylim(min(panel.get_ylim()[0], *(limit for limit, _ in shown)), None)
    panel.set_ylim(None, max(panel.get_ylim()[1], *(limit for limit, _ in shown)))
    drawing.limit_lines(panel, shown)


def _leave_cranking_out(panel: Axes, flight: Flight, lines: list[Any], rows: Any, span: tuple[float, float]) -> None:
    """Scale the amperes by what is read outside cranking, whose hundreds would press all else flat."""
    near = np.convolve(flight.crank, np.ones(2 * flight.trace.rows_in(2.0) + 1), mode="same") > 0.0
    kept = rows & ~near if span[1] - span[0] > CLOSE_S else rows
    values = np.concatenate([getattr(flight.trace, channel)[kept] for channel, *_ in lines])
    values = values[np.isfinite(values)]
    if values.size:
        low, high = min(0.0, float(values.min())), max(0.0, float(values.max()))
        room = 0.08 * max(high - low, 2.0)
        panel.set_ylim(low - room, high + room)


def _mark(panel: Axes, flight: Flight, windows: Sequence[Window], span: tuple[float, float], *, named: bool) -> None:
    """Shade each window, and write its letter at the top of the first panel."""
    least = 0.004 * (span[1] - span[0])  # or an event of a second would be thinner than a line
    for place, window in enumerate(windows):
        if window.to_s < span[0] or window.from_s > span[1]:
            continue
        wide = max(0.0, least - (window.to_s - window.from_s)) / 2.0
        ends = np.clip([window.from_s - wide, window.to_s + wide], *span)
        first, last = drawing.places(ends, flight.clock_start)
        panel.axvspan(first, last, facecolor="0.9", edgecolor="0.3", linewidth=0.7, zorder=0.5)
        if named:
            panel.annotate(
                window.mark, (first, 1.0), xycoords=("data", "axes fraction"), xytext=(1.5, -2 - 9 * place),
                textcoords="offset points", va="top", fontsize=8, fontweight="bold",
                bbox={"facecolor": "white", "edgecolor": "black", "linewidth": 0.5, "pad": 1.0},
            )  # fmt: skip
