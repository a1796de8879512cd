"""Flights as CSV files, in several invented recorders' ways of writing.

A style fixes every byte: headers, units, delimiter, decimal mark, line ends, clock and encoding.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

from analyzer.simulator.simulate import SimulatedFlight

#: Role of a field that takes whichever ammeter is fitted, under a header that does not say which kind it is.
ANY_AMMETER = "ammeter_current"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One column: role, header and unit as written; value written is ``scale`` * reading + ``shift``."""

    role: str
    header: str
    unit: str = ""
    decimals: int = 0
    scale: float = 1.0
    shift: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """One recorder's way of writing. ``preamble`` lines may hold {tail} and {start}."""

    name: str
    fields: tuple[Field, ...]
    clock: Literal["date and time", "day first", "elapsed", "utc"]
    preamble: tuple[str, ...] = ()
    delimiter: str = ","
    decimal_mark: str = "."
    line_end: str = "\n"
    encoding: str = "utf-8"
    units_row: bool = False


#: Comma, a comment line on top, date and time apart, units in brackets behind the headers.
COMMA = Style(
    name="comma",
    clock="date and time",
    preamble=("# Engine and electrical log, aircraft {tail}",),
    fields=(
        Field(role="engine_speed", header="Engine speed (rpm)"),
        Field(role="oil_pressure", header="Oil pressure (psi)"),
        Field(role="bus_voltage", header="Bus voltage (V)", decimals=1),
        Field(role="bus_voltage_2", header="Essential bus voltage (V)", decimals=1),
        Field(role="battery_current", header="Battery current (A)", decimals=1),
        Field(role="alternator_current", header="Alternator current (A)", decimals=1),
        Field(role="outside_air_temperature", header="Outside air (degC)"),
        Field(role="airspeed", header="Airspeed (kt)"),
        Field(role="altitude", header="Altitude (ft)"),
    ),
)
#: Semicolon and decimal comma, day before month, metric units in a row of their own, carriage returns.
SEMICOLON = Style(
    name="semicolon",
    clock="day first",
    delimiter=";",
    decimal_mark=",",
    line_end="\r\n",
    encoding="cp1252",
    units_row=True,
    fields=(
        Field(role="bus_voltage", header="Main bus", unit="V", decimals=2),
        Field(role=ANY_AMMETER, header="Current", unit="A", decimals=1),
        Field(role="engine_speed", header="Crankshaft", unit="1/min"),
        Field(role="outside_air_temperature", header="Air temperature", unit="°C"),
        Field(role="airspeed", header="Airspeed", unit="km/h", scale=1.852),
        Field(role="altitude", header="Height", unit="m", scale=0.3048),
    ),
)
#: Tabs, some lines about the flight, seconds since the recorder woke, temperature in Fahrenheit.
TAB = Style(
    name="tab",
    clock="elapsed",
    delimiter="\t",
    preamble=("Registration: {tail}", "Recording began: {start}", ""),
    fields=(
        Field(role="engine_speed", header="crankshaft [rpm]"),
        Field(role="bus_voltage", header="volts", decimals=1),
        Field(role=ANY_AMMETER, header="amperes", decimals=1),
        Field(role="oil_pressure", header="oil pressure [psi]"),
        Field(role="outside_air_temperature", header="outside air [degF]", scale=1.8, shift=32.0),
    ),
)
#: Universal time in one field, short headers with units behind an underscore, hundredths of a volt.
UTC = Style(
    name="utc",
    clock="utc",
    preamble=("tail={tail}",),
    fields=(
        Field(role="altitude", header="altitude_ft"),
        Field(role="airspeed", header="airspeed_kt"),
        Field(role="outside_air_temperature", header="outside_air_temp_c"),
        Field(role="engine_speed", header="engine_rpm"),
        Field(role="bus_voltage", header="main_bus_v", decimals=2),
        Field(role="bus_voltage_2", header="essential_bus_v", decimals=2),
        Field(role="alternator_current", header="alternator_a", decimals=1),
        Field(role="battery_current", header="battery_a", decimals=1),
    ),
)
STYLES = {style.name: style for style in (COMMA, SEMICOLON, TAB, UTC)}

_CLOCK_HEADERS = {
    "date and time": ("Date", "Time"),
    "day first": ("Date and time",),
    "elapsed": ("elapsed [s]",),
    "utc": ("time_utc",),
}


def csv_text(flight: SimulatedFlight, style: Style) -> str:
    """The whole file as text, line ends as the style has them."""
    fields = [(field, role) for field in style.fields if (role := _role(flight, field)) is not None]
    header = [*_CLOCK_HEADERS[style.clock], *(field.header for field, _ in fields)]
    start = flight.scenario.begins + timedelta(seconds=round(flight.log_begins_s))
    lines = [line.format(tail=flight.scenario.tail, start=start.isoformat(sep=" ")) for line in style.preamble]
    lines.append(style.delimiter.join(header))
    if style.units_row:
        units = ["" for _ in _CLOCK_HEADERS[style.clock]] + [field.unit for field, _ in fields]
        lines.append(style.delimiter.join(units))
    elapsed = flight.table["time_s"].to_list()
    clock = [_clock(start, second, style) for second in elapsed]
    columns = [_written(flight.table[role].to_list(), field, style) for field, role in fields]
    lines += [style.delimiter.join(row) for row in zip(clock, *columns, strict=True)]
    return style.line_end.join(lines) + style.line_end


def write_csv(flight: SimulatedFlight, path: Path, style: Style) -> None:
    """Write a flight to a file, the same bytes every time.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    path.write_bytes(csv_text(flight, style).encode(style.encoding))


def _role(flight: SimulatedFlight, field: Field) -> str | None:
    if field.role == ANY_AMMETER and flight.scenario.ammeters:
        return f"{flight.scenario.ammeters[0].kind}_current"
    return field.role if field.role in flight.table.columns else None


def _clock(start: datetime, second: float, style: Style) -> str:
    if style.clock == "elapsed":
        return f"{second:.2f}".replace(".", style.decimal_mark)
    now = start + timedelta(seconds=second)
    match style.clock:
        case "date and time":
            return now.isoformat(style.delimiter, "seconds")
        case "day first":
            return f"{now:%d.%m.%Y %H:%M:%S}"
        case _:
            return f"{now.isoformat(timespec='milliseconds')}Z"


def _written(values: list[float | None], field: Field, style: Style) -> list[str]:
    """Numbers as text, blanks where a reading is missing, never a minus before zero."""
    scale, shift, written = field.scale, field.shift, f"%.{field.decimals}f"
    half_step = 10.0**-field.decimals / 2
    numbers = (None if value is None else value * scale + shift for value in values)
    texts = ["" if n is None else written % (0.0 if -half_step < n < half_step else n) for n in numbers]
    return texts if style.decimal_mark == "." else [text.replace(".", style.decimal_mark) for text in texts]
