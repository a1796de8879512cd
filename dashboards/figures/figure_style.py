"""One look for all figures: colours that can be told apart on light and dark paper, marks that do not need them."""

from __future__ import annotations

from typing import Any

#: Lines; each stands at 3:1 or better against both papers (WCAG 2.2, 1.4.11; a test computes it).
LINES = {
    "bus_voltage": "#1c7fc4",
    "bus_voltage_2": "#4c9a2a",
    "battery_current": "#b5652b",
    "alternator_current": "#8a6bd1",
    "alternator_current_2": "#c05a9d",
    "ammeter_current": "#8a8245",
    "backup_voltage": "#a8763e",
    "engine_speed": "#6f7f8c",
    "engine_speed_2": "#8a6bd1",
    "engine_speed_percent": "#6f7f8c",
    "outside_air_temperature": "#2f9488",
    "fit": "#d0468b",
    "limit": "#84858c",
    "trend": "#1c7fc4",
}
#: Papers of the two schemes; look.css uses the same.
PAPERS = {"light": "#fdfcf8", "dark": "#14181b"}
#: Red warning, amber caution, neither for advisory; a mark and a word go with each.
SEVERITY = {
    "warning": {"colour": "#d6322c", "mark": "▲", "symbol": "triangle-up", "word": "Warning"},
    "caution": {"colour": "#b5790a", "mark": "◆", "symbol": "diamond", "word": "Caution"},
    "advisory": {"colour": "#5b7c99", "mark": "●", "symbol": "circle", "word": "Advisory"},
    "good": {"colour": "#3d8a57", "mark": "✓", "symbol": "circle-open", "word": "Nothing found"},
    "unknown": {"colour": "#84858c", "mark": "?", "symbol": "circle-open", "word": "Not known"},
}
#: A legend in a line above the chart.
LEGEND_ABOVE = {"orientation": "h", "y": 1.02, "yanchor": "bottom", "x": 0.0, "font": {"size": 12}}
#: Phases: label, colour and hatching, so that the ribbon reads without colour.
PHASES = {
    "before_start": ("before start", "#9aa3ab", ""),
    "cranking": ("cranking", "#c05a9d", "x"),
    "recharge": ("recharge", "#b5652b", "/"),
    "steady": ("steady", "#4c9a2a", ""),
    "low_rpm": ("engine slow", "#c9a227", "."),
    "alternator_offline": ("alternator off line", "#d6322c", "\\"),
    "shutdown": ("shutdown", "#9aa3ab", "-"),
}
CHANNEL_LABELS = {
    "bus_voltage": "Bus voltage",
    "bus_voltage_2": "Second bus voltage",
    "battery_current": "Battery current",
    "alternator_current": "Alternator current",
    "alternator_current_2": "Second alternator's current",
    "ammeter_current": "Ammeter, kind unknown",
    "backup_voltage": "Backup battery's voltage",
    "engine_speed": "Engine speed",
    "engine_speed_2": "Second engine's speed",
    "engine_speed_percent": "Core speed",
    "outside_air_temperature": "Outside air",
}
FONT = "ui-sans-serif, system-ui, 'Liberation Sans', sans-serif"


def base_layout(**more: Any) -> dict[str, Any]:
    """Layout that every figure shares; papers are transparent and inks come from look.css, in both schemes."""
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": FONT, "size": 12},
        "margin": {"l": 58, "r": 18, "t": 12, "b": 40},
        "hoverlabel": {"align": "left", "namelength": -1},
        "dragmode": "zoom",
        "template": None,
        **more,
    }


#: How days and times stand on an axis: as in the texts beside it.
DATES: list[dict[str, Any]] = [
    {"dtickrange": [None, 59_000], "value": "%H:%M:%S"},
    {"dtickrange": [60_000, 43_200_000], "value": "%H:%M"},
    {"dtickrange": [86_400_000, 2_400_000_000], "value": "%Y-%m-%d"},
    {"dtickrange": ["M1", None], "value": "%b %Y"},
]


def axis(title: str | None = None, **more: Any) -> dict[str, Any]:
    """An axis with a quiet grid."""
    return {
        "title": {"text": title, "standoff": 6} if title else None,
        "gridcolor": "rgba(128,128,128,0.22)",
        "zeroline": False,
        "linecolor": "rgba(128,128,128,0.6)",
        "ticks": "outside",
        "tickcolor": "rgba(128,128,128,0.6)",
        "automargin": True,
        **more,
    }


def faded(colour: str, share: float) -> str:
    """A colour "#rrggbb" at a share of its opacity."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share:g})"
