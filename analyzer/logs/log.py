"""What reading gives: a table on one time axis, and how the file was understood."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from msgspec import Struct

if TYPE_CHECKING:
    import polars as pl

    from analyzer.logs.readings import Readings

#: Every role a column can play, and the unit the table is brought to.
ROLE_UNITS: dict[str, str] = {
    "bus_voltage": "V",
    "bus_voltage_2": "V",
    "backup_voltage": "V",
    "battery_current": "A",
    "alternator_current": "A",
    "alternator_current_2": "A",
    "ammeter_current": "A",
    "engine_speed": "rpm",
    "engine_speed_2": "rpm",
    "engine_speed_percent": "%",
    "oil_pressure": "psi",
    "outside_air_temperature": "degC",
    "airspeed": "kt",
    "ground_speed": "kt",
    "altitude": "ft",
}

#: What a column of the clock may be called by hand -> what its header would say of it.
CLOCK_ROLES: dict[str, str] = {"clock_date": "date", "clock_time": "time", "clock_elapsed": "elapsed"}
#: All that a column can be called by hand.
GIVEN_ROLES: tuple[str, ...] = (*ROLE_UNITS, *CLOCK_ROLES)

#: Why recording stopped and began anew: the recorder started, its clock went back, or rows are missing.
BreakKind = Literal["boot", "clock back", "gap"]


class Column(Struct, frozen=True):
    """One column of the file that was given a role."""

    role: str  # a key of ROLE_UNITS
    name: str  # the header as written
    unit: str  # the unit of the table, ROLE_UNITS[role]
    converted_from: str | None  # the file's own unit when it differs
    confidence: float  # 0 to 1
    why: str  # what in header, unit or readings decided


class Clock(Struct, frozen=True):
    """Where the time axis comes from."""

    columns: tuple[str, ...]  # headers as written; empty when the axis was counted from rows
    basis: str  # one plain phrase
    start: str | None  # ISO 8601 of the first row, None when no date is known
    utc_offset: str | None  # "+01:00"
    step_s: float  # typical step between rows [s]


class Log(Struct, frozen=True):
    """One recorder file, read.

    ``table`` holds ``time_s`` (Float64, seconds from the first row, strictly increasing), ``clock``
    (naive Datetime in microseconds, null where unknown) and one Float64 column a role, in the units of
    ``ROLE_UNITS``, null where the reading is missing. It never holds NaN or infinity.
    """

    source: str
    tail: str | None
    tail_from: str | None  # "metadata line", "column", "file name", "folder name"
    encoding: str
    delimiter: str
    decimal_mark: str
    header_row: int  # counted from 1
    units_row: int | None
    rows_dropped: int
    clock: Clock
    columns: tuple[Column, ...]
    unused: tuple[str, ...]
    warnings: tuple[str, ...]
    breaks: tuple[int, ...]  # rows of ``table`` before which recording stopped and began anew
    readings: Readings
    break_kinds: tuple[BreakKind, ...] = ()  # of each of ``breaks``; empty when nobody knows

    @property
    def rows(self) -> int:
        """Rows of the table."""
        return self.readings.time_s.size

    @property
    def table(self) -> pl.DataFrame:
        """The readings as a table."""
        return self.readings.table

    @property
    def roles(self) -> frozenset[str]:
        """Roles that some column plays."""
        return frozenset(column.role for column in self.columns)


class Refusal(Struct, frozen=True):
    """A file that could not be read as a log, and the sentence that says why and what to do."""

    source: str
    because: str


class RefusedError(Exception):
    """A log that cannot be read; the text is the sentence of its ``Refusal``."""
