"""The JSON of the contract for how a log was understood: what ``taper columns`` prints."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from analyzer import CONTRACT
from analyzer.logs import Log, Refusal


class ClockEntry(Struct, frozen=True):
    """A log's clock."""

    columns: tuple[str, ...]
    basis: str
    start: str | None
    utc_offset: str | None
    step_s: float


class ColumnEntry(Struct, frozen=True):
    """One column that has a role."""

    role: str
    name: str
    unit: str
    converted_from: str | None
    confidence: float
    why: str


class RefusedLogEntry(Struct, frozen=True, kw_only=True):
    """A log that was refused."""

    source: str
    state: Literal["refused"] = "refused"
    because: str
    tail: None = None
    warnings: tuple[str, ...] = ()


class UnderstoodEntry(Struct, frozen=True, kw_only=True):
    """A log as it was understood."""

    source: str
    state: Literal["read"] = "read"
    because: None = None
    tail: str | None
    tail_from: str | None
    encoding: str
    delimiter: str
    decimal_mark: str
    header_row: int
    units_row: int | None
    rows: int
    rows_dropped: int
    clock: ClockEntry
    columns: tuple[ColumnEntry, ...]
    unused: tuple[str, ...]
    warnings: tuple[str, ...]
    breaks: tuple[int, ...]
    break_kinds: tuple[str, ...]


class ColumnsEntry(Struct, frozen=True):
    """What ``taper columns --json`` prints."""

    contract: int
    logs: tuple[UnderstoodEntry | RefusedLogEntry, ...]


def columns_entry(answers: list[Log | Refusal]) -> ColumnsEntry:
    """Some logs as the contract has them."""
    return ColumnsEntry(CONTRACT, tuple(understood_entry(one) for one in answers))


def understood_entry(answer: Log | Refusal) -> UnderstoodEntry | RefusedLogEntry:
    """One log as the contract has it."""
    if isinstance(answer, Refusal):
        return RefusedLogEntry(source=answer.source, because=answer.because)
    clock = answer.clock
    return UnderstoodEntry(
        source=answer.source,
        tail=answer.tail,
        tail_from=answer.tail_from,
        encoding=answer.encoding,
        delimiter=answer.delimiter,
        decimal_mark=answer.decimal_mark,
        header_row=answer.header_row,
        units_row=answer.units_row,
        rows=answer.rows,
        rows_dropped=answer.rows_dropped,
        clock=ClockEntry(clock.columns, clock.basis, clock.start, clock.utc_offset, clock.step_s),
        columns=tuple(
            ColumnEntry(one.role, one.name, one.unit, one.converted_from, one.confidence, one.why)
            for one in answer.columns
        ),
        unused=answer.unused,
        warnings=answer.warnings,
        breaks=answer.breaks,
        break_kinds=answer.break_kinds,
    )
