"""Writing a drawn record as a CSV file in one of several habits. Headings are made up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from tests.benchmarks.uncommon_logs.scenes import Draw, Record

Clock = Literal["two", "one", "time", "elapsed", "none"]

#: Headings that say what a column is; the ammeter's are ``amps`` (says nothing of its kind) and two that do.
HEADINGS: dict[str, tuple[str, ...]] = {
    "rpm": ("RPM", "Engine RPM", "Eng rpm", "Engine speed (rpm)"),
    "rpm_2": ("E2 RPM",),
    "percent": ("N2 (%)", "Core speed N2 %"),
    "volts": ("Volts", "Bus volts", "Bus V", "Main bus (V)", "System volts [V]"),
    "volts_2": ("Bus 2 volts", "Bus 2 (V)"),
    "backup": ("Backup battery (V)", "Backup batt volts"),
    "amps": ("Amps", "Ammeter (A)", "Current [A]"),
    "battery_amps": ("Batt amps", "Battery current (A)", "Battery A"),
    "alternator_amps": ("Alt amps", "Alternator current (A)", "Alternator load [A]"),
    "amps_2": ("Alt 2 amps",),
    "air": ("OAT (C)", "Outside air [degC]"),
    "speed": ("IAS (kt)", "Airspeed (kt)"),
    "oil": ("Oil temp (F)",),
    "egt": ("EGT 1 (F)",),
    "cht": ("CHT 1 (F)",),
    "flow": ("Fuel flow (gph)",),
}


@dataclass(slots=True)
class Layout:
    """How a file is written; ``names`` gives the headings by the record's column."""

    names: dict[str, str]
    clock: Clock
    delimiter: str
    comma: bool  # decimal comma
    began: datetime
    above: list[str] = field(default_factory=list)  # lines before the header
    repeat_as_comment: bool = False  # a "#" line that repeats the header, before it
    cells: Mapping[str, str] = field(default_factory=dict)  # column -> what stands in each of its cells
    units: Mapping[str, str] = field(default_factory=dict)  # column -> its unit, in a row below the header
    header_before_rows: tuple[int, ...] = ()  # rows before which the header stands again
    empty: str = ""  # what stands where there is no reading
    clock_form: str = "%H:%M:%S"


def draw_layout(
    rng: Draw, columns: Mapping[str, object], *, told: str | None = None, clock: Clock | None = None
) -> Layout:
    """A layout for some columns; ``told`` names the ammeter's kind in its heading."""
    names = {}
    for role in columns:
        choices = HEADINGS.get(f"{told}_amps" if role == "amps" and told else role, (role,))
        names[role] = str(rng.choice(choices))
    semicolon = rng.random() < 0.25
    kinds: list[Clock] = ["two", "two", "one", "elapsed"]
    return Layout(
        names=names,
        clock=clock or kinds[int(rng.integers(len(kinds)))],
        delimiter=";" if semicolon else ",",
        comma=bool(semicolon and rng.random() < 0.5),
        began=datetime(2026, 1, 4, 7, 30) + timedelta(minutes=int(rng.integers(0, 330 * 24 * 60))),
    )


def draw_tail(rng: Draw) -> str:
    """A registration that cannot exist."""
    return f"N0{rng.integers(100, 999)}{rng.choice(list('ABCDEFGHJKLMNPQRSTUVWXYZ'))}"


def file_name(tail: str, layout: Layout) -> str:
    """Tail and moment, as most recorders name their files."""
    return f"{tail}_{layout.began:%Y-%m-%d_%H%M}.csv"


def _number(value: float, comma: bool, empty: str = "") -> str:
    if not np.isfinite(value):
        return empty
    text = f"{value:.4f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
    return text.replace(".", ",") if comma else text


def _clock_cells(layout: Layout, seconds: float, fine: bool) -> list[str]:
    if layout.clock == "none":
        return []
    if layout.clock == "elapsed":
        return [_number(round(seconds, 2), layout.comma)]
    moment = layout.began + timedelta(seconds=round(seconds, 2))
    clock = moment.strftime(layout.clock_form) + (f".{moment.microsecond // 10000:02d}" if fine else "")
    if layout.clock == "one":
        return [f"{moment:%Y-%m-%d}T{clock}"]
    if layout.clock == "time":
        return [clock]
    return [f"{moment:%Y-%m-%d}", clock]


CLOCK_HEADINGS: dict[Clock, list[str]] = {
    "none": [],
    "elapsed": ["Elapsed (s)"],
    "one": ["Timestamp"],
    "time": ["Time"],
    "two": ["Date", "Time"],
}


def written(record: Record, layout: Layout) -> str:
    """The file's text."""
    header = [*CLOCK_HEADINGS[layout.clock], *(layout.names[role] for role in record.columns)]
    lines = list(layout.above)
    if layout.repeat_as_comment:
        lines.append("# " + layout.delimiter.join(header))
    lines.append(layout.delimiter.join(header))
    if layout.units:
        clock_units = ["" for _ in CLOCK_HEADINGS[layout.clock]]
        lines.append(layout.delimiter.join([*clock_units, *(layout.units.get(role, "") for role in record.columns)]))
    fine = bool(np.any(record.time_s % 1.0))
    columns = []
    for role, values in record.columns.items():
        if role in layout.cells:
            columns.append([layout.cells[role]] * values.size)
        else:
            columns.append([_number(float(value), layout.comma, layout.empty) for value in values])
    first = float(record.time_s[0]) if layout.clock == "elapsed" else 0.0
    for row, cells in enumerate(zip(*columns, strict=True)):
        if row in layout.header_before_rows:
            lines.append(layout.delimiter.join(header))
        clock = _clock_cells(layout, float(record.time_s[row]) - first, fine)
        lines.append(layout.delimiter.join([*clock, *cells]))
    return "\n".join(lines) + "\n"
