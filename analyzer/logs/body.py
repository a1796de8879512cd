"""The rows of readings: lines that are no readings are put aside, the rest is parsed by column."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from analyzer.logs.bounds import MAX_IRREGULAR_BYTES, MAX_IRREGULAR_ROWS
from analyzer.logs.dialect import BLANKS, LINE_BREAK, split_cells
from analyzer.logs.log import RefusedError
from analyzer.logs.remembered import remembered
from analyzer.logs.words import split_words, vocabulary

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

SEPARATOR = "\x1f"  # between cells once quotes have been taken out
HABIT = 0.02  # share of short rows from which leaving out trailing cells is this recorder's habit
MAX_JOINED = 20  # lines that one quoted cell may span
CHUNK = 1 << 20  # bytes looked at in one go, as many as a processor's cache holds
PIECE = 1 << 25  # bytes parsed in one go, many times what a usual flight takes
ONE = np.uint64(1)
MOST_IN_UINT8 = 255
COMPARED = 20  # rows that an unfinished last line is compared with
CUT_OFF = "the last line is cut off before its end; left out"
START_MARK = "the recorder says that it started, so recording began anew; no reading, left out"
LONGEST_MARK = 200  # characters of a line that says so
SHOWN = 5  # rows named in a warning before the count


class Faults(Struct):
    """Rows put aside, by what is wrong with them; row numbers are lines of the file, from 1."""

    rows: dict[str, list[int]] = field(default_factory=dict)
    dropped: int = 0

    def add(self, kind: str, row: int, *, dropped: bool = True) -> None:
        """Note one row."""
        self.rows.setdefault(kind, []).append(row)
        self.dropped += dropped

    def warnings(self) -> list[str]:
        """One sentence a kind of fault, with the first rows and the count."""
        return [f"{located(rows)}: {kind}" for kind, rows in sorted(self.rows.items(), key=lambda kv: kv[1][0])]


def located(rows: Sequence[int]) -> str:
    """``"row 7"``, ``"rows 7 and 9"`` or ``"rows 7, 8, 9, 12, 13 and 40 more (46 in all)"``."""
    if len(rows) == 1:
        return f"row {rows[0]}"
    if len(rows) <= SHOWN:
        return "rows " + ", ".join(map(str, rows[:-1])) + f" and {rows[-1]}"
    return f"rows {', '.join(map(str, rows[:SHOWN]))} and {len(rows) - SHOWN} more ({len(rows)} in all)"


class Body(Struct, frozen=True, dict=True):
    """Readings as text, one line a row, every line of the same width except where cells are left out.

    ``whole`` is kept with what stands above the readings, for a copy without it would cost as much time as
    parsing a column.
    """

    whole: bytes
    start: int  # where in ``whole`` the readings begin
    skipped: int  # lines above them in ``whole``
    separator: str
    width: int
    height: int
    first_row: int  # line of the file, from 1, of the first row
    lines: NDArray[np.int64] | None  # line of each row; None when they follow one another
    faults: Faults
    starts: NDArray[np.int64] | None = None  # where in ``whole`` each row begins, where all have as many cells
    marks: tuple[int, ...] = ()  # lines that say that the recorder started

    @property
    def is_long(self) -> bool:
        """Whether it is parsed in several pieces."""
        return len(self.whole) - self.start > PIECE

    @cached_property
    def texts(self) -> list[bytes]:
        """Each row as written."""
        texts = self.whole[self.start :].split(b"\n")
        return texts[:-1] if texts and not texts[-1] else texts

    def text(self, index: int) -> str:
        """One row, decoded."""
        return self.texts[index].decode("utf-8", "replace").removesuffix("\r")

    def row(self, index: int) -> int:
        """Line of the file, from 1, of a row of the table."""
        return int(self.lines[index]) if self.lines is not None else self.first_row + index

    def numbered(self) -> Body:
        """The rows' numbers alone, once nobody asks for their text any more."""
        return replace(self, whole=b"", start=0, starts=None)

    def without(self, drop: NDArray[np.bool_]) -> Body:
        """The same body without some rows."""
        keep = np.flatnonzero(~drop)
        texts = self.texts
        lines = np.array([self.row(i) for i in keep.tolist()], dtype=np.int64)
        data = b"\n".join([texts[i] for i in keep])
        return _rebuilt(data, self.separator, self.width, lines, self.first_row, self.faults)


@remembered(1024)
def is_start_mark(line: str) -> bool:
    """Whether a line among the readings says that the recorder started: few numbers, and words of power-up."""
    words = [word for word in split_words(line) if not word[0].isdigit()]
    said = f" {' '.join(words)} "
    return len(line) < LONGEST_MARK and any(f" {mark} " in said for mark in vocabulary().metadata["power_on"])


def _rebuilt(data: bytes, separator: str, width: int, lines: NDArray[np.int64], first_row: int, faults: Faults) -> Body:
    return Body(data, 0, 0, separator, width, len(lines), first_row, lines, faults)


def prepare(text: bytes, start: int, skipped: int, delimiter: str, header_width: int) -> Body:
    """Sort out a body's lines.

    Parameters
    ----------
    text : the log; without a line end at its end, the last line may be cut off
    start, skipped : where the readings begin, and how many lines stand above them
    header_width : cells of the header
    """
    faults = Faults()
    first_row = skipped + 1
    if delimiter != " " and text.endswith(b"\n") and text.find(b'"', start) < 0:
        regular = _is_regular(text, start, delimiter.encode())
        if regular and abs(regular[0] + 1 - header_width) <= 1:
            width, height, starts = regular[0] + 1, len(regular[1]), regular[1]
            return Body(text, start, skipped, delimiter, width, height, first_row, None, faults, starts)
    data = text[start:].replace(SEPARATOR.encode(), b" ")
    if delimiter == " ":
        data = b"\n".join(_blanks_to_separator(line) for line in data.split(b"\n"))
        delimiter = SEPARATOR
    if not data.endswith(b"\n"):
        data = _mended(data, delimiter.encode(), first_row, faults)
    width = _width(_marks_per_line(data, delimiter), header_width)
    return _sorted_out(data, first_row, delimiter, width, faults)


def _mended(data: bytes, mark: bytes, first_row: int, faults: Faults) -> bytes:
    """A body whose last line has no end: that line as it is, without its last cell, or not at all.

    A line cut off in the middle of a number still parses ("1" of "13.9"), so its last cell only stays when
    it is written like those above it.
    """
    start = data.rfind(b"\n") + 1
    last, before = data[start:], data[:start].rsplit(b"\n", COMPARED + 1)[1:-1]
    row = first_row + data.count(b"\n")
    if not last.strip() or not before:
        return data + b"\n"
    usual = max(before, key=lambda line: line.count(mark)).count(mark)
    if last.count(mark) < usual or last.count(b'"') % 2:
        faults.add(CUT_OFF, row)
        return data[:start]
    cell, cells = last.rsplit(mark, 1)[-1], [line.rsplit(mark, 1)[-1].removesuffix(b"\r") for line in before]
    decimals = {len(c) - max(c.rfind(b"."), c.rfind(b",")) if b"." in c or b"," in c else 0 for c in cells}
    own = len(cell) - max(cell.rfind(b"."), cell.rfind(b",")) if b"." in cell or b"," in cell else 0
    if cell and (len(cell) < min(map(len, cells)) or (len(decimals) == 1 and own not in decimals)):
        faults.add("the last line may be cut off inside its last cell; that cell left blank", row, dropped=False)
        last = last[: len(last) - len(cell)]
    return data[:start] + last + b"\n"


def _blanks_to_separator(line: bytes) -> bytes:
    return SEPARATOR.join(BLANKS.split(line.decode("utf-8", "replace").strip())).encode()


def _is_regular(data: bytes, start: int, mark: bytes) -> tuple[int, NDArray[np.int64]] | None:
    """Marks a line, and where each begins, when every line holds as many marks and none is a comment; else None."""
    array = np.frombuffer(data, dtype=np.uint8)
    usual, begins, at = -1, [], start
    while at < len(array):
        end = len(array) if at + CHUNK >= len(array) else data.rfind(b"\n", at, at + CHUNK) + 1
        if end <= at or data[end - 1] != ord("\n"):
            return None
        chunk = array[at:end]
        starts = np.concatenate(([0], _line_ends(chunk)[:-1] + 1))
        marks = (chunk == ord(mark)).view(np.uint8)
        if usual < 0:
            usual = int(np.count_nonzero(marks[: data.index(b"\n", start) - start]))
        counted = np.uint8 if usual <= MOST_IN_UINT8 else np.uint32
        # modulo 256 many times faster than in full, and with the sum no less sure
        low = np.add.reduceat(marks, starts, dtype=counted)
        if (low != usual).any() or np.count_nonzero(marks) != usual * len(starts):
            return None
        if (chunk[starts] == ord("#")).any():
            return None
        begins.append(starts + at)
        at = end
    return (usual, np.concatenate(begins)) if usual > 0 else None


def _line_ends(text: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Where the lines of a text end; eight letters are looked at as one, for few of them hold an end."""
    ends = text == ord("\n")
    whole = len(ends) // 8 * 8
    eights = ends[:whole].view(np.dtype("<u8"))
    holding = np.flatnonzero(eights != 0)
    held = eights[holding]
    if (held & (held - ONE)).any():  # a line of less than eight letters
        return np.flatnonzero(ends)
    return np.concatenate((8 * holding + np.bitwise_count(held - ONE) // 8, whole + np.flatnonzero(ends[whole:])))


def _marks_per_line(data: bytes, delimiter: str) -> NDArray[np.int64]:
    """How often the delimiter divides cells in each line; in some of the lines where quotes may hold it."""
    lines = data.split(b"\n")
    if b'"' not in data:
        return np.array([line.count(delimiter.encode()) for line in lines], dtype=np.int64)
    some = lines[:: max(1, len(lines) // 200)]
    return np.array([len(split_cells(line.decode("utf-8", "replace"), delimiter)) - 1 for line in some], dtype=np.int64)


def _width(counts: NDArray[np.int64], header_width: int) -> int:
    """Cells of the rows: the header's, unless most rows are wider or narrower by a trailing delimiter."""
    used = counts[counts > 0]
    if not len(used):
        return header_width
    most = int(np.bincount(used).argmax()) + 1
    return most if abs(most - header_width) <= 1 or most > header_width else header_width


def _sorted_out(data: bytes, first_row: int, delimiter: str, width: int, faults: Faults) -> Body:
    """Go through the lines one by one, as far as they are not regular."""
    data = data.rstrip(b"\r\n")
    if len(data) > MAX_IRREGULAR_BYTES or data.count(b"\n") > MAX_IRREGULAR_ROWS:
        raise RefusedError(
            f"The rows are not alike (cells missing, quoted or too many), and of such rows at most "
            f"{MAX_IRREGULAR_BYTES / 1e6:,.0f} MB or {MAX_IRREGULAR_ROWS:,} are read; split the file."
        )
    lines = data.replace(b"\r\n", b"\n").split(b"\n")
    mark = delimiter.encode()
    quotes = b'"' in data
    if quotes and _quotes_are_idle(lines, mark, width):
        lines = [line.replace(b'"', b"") for line in lines]
        quotes = False
    separator = SEPARATOR if quotes else delimiter
    out: list[bytes] = []
    rows: list[int] = []
    short: list[int] = []
    marks: list[int] = []
    at = 0
    while at < len(lines):
        row, line, taken = first_row + at, lines[at], 1
        if b'"' in line:
            taken, cells = _quoted_row(lines, at, delimiter, width, faults, row)
            line = separator.join(cells).encode()
            found = len(cells)
        else:
            found = line.count(mark) + 1
            if separator != delimiter:
                line = line.replace(mark, separator.encode())
        at += taken
        comment = line.startswith(b"#")
        if (comment or found < width) and is_start_mark(line.decode("utf-8", "replace")):
            marks.append(row)
            faults.add(START_MARK, row, dropped=not comment)
            continue
        if _passed_over(line, separator):
            if line.strip() and not line.lstrip().startswith(b"#"):
                faults.add("no reading in any cell; left out", row)
            continue
        kept = _fitted(line, found, width, separator.encode())
        if kept is None:
            faults.add(f"more cells than the {width} of the other rows; left out", row)
            continue
        if found < width:
            short.append(len(out))
        out.append(kept)
        rows.append(row)
    _drop_short(out, rows, short, width, separator.encode(), faults)
    numbers = np.array(rows, dtype=np.int64)
    body = _rebuilt(b"\n".join(out), separator, width, numbers, first_row, faults)
    return replace(body, marks=tuple(marks))


def _quotes_are_idle(lines: Sequence[bytes], mark: bytes, width: int) -> bool:
    """Whether no quote protects anything: every line is regular with its quotes taken off."""
    return all(
        line.count(mark) == width - 1 and line.count(b'"') % 2 == 0 for line in lines if line and not line.isspace()
    )


def _passed_over(line: bytes, separator: str) -> bool:
    return line.startswith(b"#") or not line.strip(b" \t\n;,|" + separator.encode())


def _quoted_row(
    lines: Sequence[bytes], at: int, delimiter: str, width: int, faults: Faults, row: int
) -> tuple[int, list[str]]:
    """Lines taken and cells of a row that holds quotes."""
    text = lines[at].decode("utf-8", "replace")
    if text.count('"') % 2 == 0:
        return 1, [_one_line(cell) for cell in split_cells(text, delimiter)]
    joined = text
    for taken in range(2, min(MAX_JOINED, len(lines) - at) + 1):
        following = lines[at + taken - 1].decode("utf-8", "replace")
        if following.count(delimiter) >= width - 1:
            break
        joined += "\n" + following
        if joined.count('"') % 2 == 0:
            cells = split_cells(joined, delimiter)
            if len(cells) == width:
                return taken, [_one_line(cell) for cell in cells]
            break
    faults.add("a quotation mark is never closed; read without it", row, dropped=False)
    return 1, split_cells(text, delimiter)


def _one_line(cell: str) -> str:
    return cell.replace(LINE_BREAK, " ").replace(SEPARATOR, " ")


def _fitted(line: bytes, found: int, width: int, mark: bytes) -> bytes | None:
    """The line in the width of its neighbours, or short; None when it has cells too many."""
    if found <= width:
        return line
    cells = line.split(mark)
    return mark.join(cells[:width]) if not any(cell.strip() for cell in cells[width:]) else None


def _drop_short(
    out: list[bytes], rows: list[int], short: Iterable[int], width: int, mark: bytes, faults: Faults
) -> None:
    """Short rows go, unless leaving out trailing cells is what this recorder does."""
    places = list(short)
    if not places or (len(places) > HABIT * len(out) and len(places) > SHOWN):
        return
    for place in places:
        faults.add(f"fewer cells than the {width} of the other rows; left out", rows[place])
    gone = set(places)
    out[:] = [line for i, line in enumerate(out) if i not in gone]
    rows[:] = [row for i, row in enumerate(rows) if i not in gone]


def parse(body: Body, columns: Sequence[int], numeric: frozenset[int]) -> Iterator[tuple[slice, dict[int, pl.Series]]]:
    """Some columns of a body, piece by piece with its rows: Float64 where they parse at once, String otherwise.

    ``numeric`` are the columns to try as numbers; when one of them holds other text, all come as text. A log of usual
    length is one piece; of a longer one nobody needs to hold the text of a piece together with its numbers.
    """
    wanted = sorted({c for c in columns if c < body.width})
    first = 0
    for text, skipped in _pieces(body) if body.height and wanted else ():
        table = _parsed(text, skipped, body, wanted, numeric)
        rows = slice(first, first := first + table.height)
        yield rows, {c: table[str(c)] if c < body.width else _blank(table.height) for c in columns}
    if not first:
        yield slice(0, body.height), dict.fromkeys(columns, _blank(body.height))


def _blank(rows: int) -> pl.Series:
    """What stands in a column of a header wider than any row."""
    import polars as pl

    return pl.Series("", [None], dtype=pl.String).new_from_index(0, rows)


def _pieces(body: Body) -> Iterator[tuple[bytes, int]]:
    """The text of the readings in pieces that end with a line, and how many lines above them it holds."""
    at, whole = body.start, body.whole
    if not body.is_long:
        yield whole, body.skipped
        return
    while at < len(whole):
        end = len(whole) if at + PIECE >= len(whole) else whole.rfind(b"\n", at, at + PIECE) + 1
        yield whole[at:end], 0
        at = end


def _parsed(text: bytes, skipped: int, body: Body, wanted: Sequence[int], numeric: frozenset[int]) -> pl.DataFrame:
    import polars as pl
    from polars.exceptions import PolarsError

    def read(numbers: frozenset[int]) -> pl.DataFrame:
        return pl.read_csv(
            text,
            skip_lines=skipped,
            has_header=False,
            separator=body.separator,
            quote_char=None,
            columns=list(wanted),
            schema={str(i): pl.Float64 if i in numbers else pl.String for i in range(body.width)},
            missing_columns="insert",
            truncate_ragged_lines=True,
        )

    try:
        return read(numeric)
    except PolarsError:
        return read(frozenset())
