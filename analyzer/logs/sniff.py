"""What the head of a log tells before its readings are parsed: dialect, heading, a sample of cells."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from msgspec import Struct

from analyzer.logs.body import Body, prepare
from analyzer.logs.bounds import MAX_COLUMNS
from analyzer.logs.clock_columns import columns_of_time
from analyzer.logs.decode import Text
from analyzer.logs.dialect import row_width, sniff_decimal_mark, sniff_delimiter
from analyzer.logs.heading import Heading, find_heading
from analyzer.logs.log import RefusedError
from analyzer.logs.numbers import unit_in_cell
from analyzer.logs.tail import tail_columns
from analyzer.logs.words import vocabulary

HEAD_BYTES = 65536
HEAD_LINES = 600
SAMPLE_BYTES = 12000
SAMPLE_ROWS = (10, 5, 5)  # from the beginning, the middle and the end


class Sniffed(Struct, frozen=True, dict=True):
    """A log's layout. ``names``, ``units`` and ``groups`` are as wide as the rows of the body."""

    delimiter: str
    decimal_mark: str
    heading: Heading
    names: tuple[str, ...]
    units: tuple[str, ...]
    groups: tuple[str, ...]
    rows: Sequence[Sequence[str]]  # some rows, as cells
    encoding: str
    warnings: tuple[str, ...]  # of decoding

    def sample(self, index: int) -> list[str]:
        """Cells of one column in some rows."""
        return [row[index].strip().strip('"').strip() for row in self.rows if index < len(row)]

    @cached_property
    def cell_units(self) -> tuple[str | None, ...]:
        """For each column the unit written in its cells, if they agree on one."""
        return tuple(self._cell_unit(i) for i in range(len(self.names)))

    @cached_property
    def sessions(self) -> tuple[int, ...]:
        """Columns that number the recorder's sessions."""
        return tuple(index for index, concepts in columns_of_time(self.names) if "session" in concepts)

    @cached_property
    def tail_columns(self) -> tuple[int, ...]:
        """The first columns called as the aircraft's registration is."""
        return tail_columns(self.names)

    def _cell_unit(self, index: int) -> str | None:
        if self.rows and index < len(self.rows[0]) and self.rows[0][index][-1:].isdigit():
            return None
        filled = [c for c in self.sample(index)[:6] if c and not c[-1].isdigit()]
        units = {unit_in_cell(cell) for cell in filled if cell.lower() not in vocabulary().missing}
        return units.pop() if len(units) == 1 else None

    def label(self, index: int) -> str:
        """A column's name, or its place where it has none."""
        return self.names[index] or f"column {index + 1}"


def sniff(text: Text) -> tuple[Sniffed, Body]:
    """Find a log's layout, and its rows of readings, which take most of the memory and are held by nothing else.

    Raises
    ------
    RefusedError
        When there is no header row, or nothing below it.
    """
    lines = _head_lines(text.data)
    delimiter = sniff_delimiter(lines)
    if (cells := row_width(lines, delimiter)) > MAX_COLUMNS:
        raise RefusedError(
            f"The rows hold {cells:,} cells, more than the {MAX_COLUMNS:,} columns that are read; export fewer columns."
        )
    heading = find_heading(lines, delimiter, cells)
    if heading is None:
        raise RefusedError(
            "No header row was found: no line near the top names columns such as volts, amps or rpm; "
            "add a line with the columns' names above the readings."
        )
    start = _offset_of_line(text.data, heading.body_line)
    body = prepare(text.data, start, heading.body_line, delimiter, len(heading.names))
    if body.height == 0:
        raise RefusedError(
            f"The file holds only a header (row {heading.header_row}) and no readings below it, so there is no data; "
            "export the log again."
        )
    width = max(body.width, len(_without_trailing_blanks(heading.names)))
    rows = _sample_rows(body)
    sniffed = Sniffed(
        delimiter=delimiter,
        decimal_mark=sniff_decimal_mark(rows) if body.separator != "," else ".",
        heading=heading,
        names=_fitted(heading.names, width),
        units=_fitted(heading.units, width),
        groups=_fitted(heading.groups, width),
        rows=rows,
        encoding=text.encoding,
        warnings=text.warnings,
    )
    return sniffed, body


def _head_lines(data: bytes) -> list[str]:
    lines = data[:HEAD_BYTES].decode("utf-8", "replace").split("\n")
    if len(data) > HEAD_BYTES:
        if len(lines) == 1:
            raise RefusedError(
                f"The first line alone is longer than {HEAD_BYTES // 1024} KB, so there is no header row of column "
                "names to be found; check that the file has line ends and a header line."
            )
        lines.pop()
    return [line.removesuffix("\r") for line in lines[:HEAD_LINES]]


def _offset_of_line(data: bytes, line: int) -> int:
    at = 0
    for _ in range(line):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return len(data)
    return at


def _without_trailing_blanks(names: Sequence[str]) -> Sequence[str]:
    used = len(names)
    while used and not names[used - 1]:
        used -= 1
    return names[:used]


def _fitted(cells: Sequence[str], width: int) -> tuple[str, ...]:
    return (tuple(cells) + ("",) * width)[:width]


def _sample_rows(body: Body) -> list[list[str]]:
    """Cells of some rows from the beginning, the middle and the end."""
    data, first, size = body.whole, body.start, len(body.whole) - body.start
    parts = [data[first : first + SAMPLE_BYTES]]
    if size > 3 * SAMPLE_BYTES:
        middle = data.find(b"\n", first + size // 2) + 1
        last = data.find(b"\n", len(data) - SAMPLE_BYTES) + 1
        parts += [data[middle : middle + SAMPLE_BYTES], data[last:]]
    rows: list[list[str]] = []
    for i, part in enumerate(parts):
        lines = part.decode("utf-8", "replace").split("\n")
        if len(lines) > 1 and i < len(parts) - 1:
            lines.pop()
        chosen = lines[-SAMPLE_ROWS[2] :] if i == 2 else lines[: SAMPLE_ROWS[i]]
        if len(parts) == 1:
            chosen = lines[: SAMPLE_ROWS[0]] + lines[SAMPLE_ROWS[0] :][-SAMPLE_ROWS[2] :]
        rows += [line.removesuffix("\r").split(body.separator) for line in chosen if line.strip()]
    return rows
