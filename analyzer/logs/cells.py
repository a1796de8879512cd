"""The cells that matter, parsed: numbers of possible roles, text of the clock; rows that are no readings go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct, field

from analyzer.logs.body import START_MARK, Body, is_start_mark, parse
from analyzer.logs.by_place import cells_by_place
from analyzer.logs.numbers import to_numbers
from analyzer.logs.words import fold, split_words, unit_of, vocabulary
from analyzer.series import percentile

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from analyzer.logs.by_place import Bytes

#: Words that begin a line of sums below the readings.
SUMMARY_WORDS = frozenset(
    {
        "minimum",
        "maximum",
        "average",
        "mean",
        "min",
        "max",
        "avg",
        "total",
        "totals",
        "sum",
        "median",
        "count",
    }
    | {
        "std",
        "stddev",
        "mittelwert",
        "mittel",
        "durchschnitt",
        "moyenne",
        "media",
        "promedio",
        "summe",
        "end",
        "eof",
    }
)

HEADER_AGAIN = "the header is repeated here; left out"


class Texts(Mapping[int, "pl.Series"]):
    """Columns of text as series; of those read by place the letters, made a series where one is asked for."""

    def __init__(self, columns: Mapping[int, pl.Series], letters: Mapping[int, Bytes]) -> None:
        self._columns, self.letters = dict(columns), letters

    def __getitem__(self, column: int) -> pl.Series:
        """A column's texts."""
        if column not in self._columns:
            import polars as pl

            letters = np.ascontiguousarray(self.letters[column].T)
            texts = letters.view(f"S{letters.shape[1]}").ravel().tolist()
            self._columns[column] = pl.Series([text.decode("ascii") for text in texts], dtype=pl.String)
        return self._columns[column]

    def __iter__(self) -> Iterator[int]:
        """The columns' places in the log."""
        return iter({**self._columns, **self.letters})

    def __len__(self) -> int:
        """How many columns there are."""
        return len({**self._columns, **self.letters})

    def keep(self, keep: NDArray[np.bool_]) -> Texts:
        """The same columns with some rows only."""
        columns = {i: column.filter(keep) for i, column in self._columns.items()}
        return Texts(columns, {i: letters[:, keep] for i, letters in self.letters.items()})

    def without(self, forgotten: frozenset[int]) -> Texts:
        """The other columns."""
        columns = {i: column for i, column in self._columns.items() if i not in forgotten}
        return Texts(columns, {i: letters for i, letters in self.letters.items() if i not in forgotten})


class Cells(Struct):
    """Parsed columns of a body, row by row.

    ``numbers`` holds NaN where there is no number; ``bad`` the cells that hold other text instead;
    ``clock`` what the clock reads [s], NaN where unreadable; ``restarts`` rows before which recording
    began anew; ``headers`` those before which the header stands once more; ``clock_alone`` the columns of
    text that are read for the clock and nothing else.
    """

    body: Body
    numbers: dict[int, NDArray[np.float64]]
    texts: Texts
    bad: dict[int, list[tuple[int, str]]]
    clock: NDArray[np.float64] | None = None
    restarts: set[int] = field(default_factory=set)
    headers: set[int] = field(default_factory=set)
    clock_alone: frozenset[int] = frozenset()

    def forget_clock_texts(self) -> None:
        """Let go of what nothing but the clock is read from: the texts take several times the room of its seconds."""
        self.texts = self.texts.without(self.clock_alone)

    def take_numbers_of(self, other: Cells) -> None:
        """Take the numbers that were parsed of the same body by themselves."""
        self.numbers, self.bad = other.numbers, other.bad

    def keep(self, keep: NDArray[np.bool_]) -> None:
        """Go on with some rows only."""
        place = np.cumsum(keep) - 1  # of each row kept, and of the last row kept before each other one
        self.restarts, self.headers = (
            {int(place[row]) + (not keep[row]) for row in rows if row < len(keep)}
            for rows in (self.restarts, self.headers)
        )
        self.numbers = {i: values[keep] for i, values in self.numbers.items()}
        self.texts = self.texts.keep(keep)
        self.bad = {i: [(int(place[r]), t) for r, t in found if keep[r]] for i, found in self.bad.items()}
        if self.clock is not None:
            self.clock = self.clock[keep]
        self.body = self.body.without(~keep)


def parse_cells(body: Body, numeric: Sequence[int], text: Sequence[int], decimal_mark: str) -> Cells:
    """Parse some columns as numbers and some as text."""
    if decimal_mark == "." and (read := cells_by_place(body, numeric, text)) is not None:
        numbers, letters = read
        return Cells(body, numbers, Texts({}, letters), {i: [] for i in numeric})
    fast = frozenset(numeric) if decimal_mark == "." else frozenset()
    numbers = {i: np.full(body.height, np.nan) for i in numeric}
    bad: dict[int, list[tuple[int, str]]] = {i: [] for i in numeric}
    texts: dict[int, list[pl.Series]] = {i: [] for i in text}
    for rows, columns in parse(body, [*numeric, *text], fast):
        for i in numeric:
            numbers[i][rows], found = to_numbers(columns[i], decimal_mark)
            bad[i] += [(row + rows.start, cell) for row, cell in found]
        for i in text:
            texts[i].append(columns[i])
    cells = Cells(body, numbers, Texts({i: _joined(pieces) for i, pieces in texts.items()}, {}), bad)
    if body.marks and body.lines is not None:
        cells.restarts = {int(row) for row in np.searchsorted(body.lines, body.marks)}
    return cells


def _joined(pieces: Sequence[pl.Series]) -> pl.Series:
    """A column of its pieces, which stay where they are."""
    whole = pieces[0]
    for piece in pieces[1:]:
        whole.append(piece)
    return whole


def put_non_readings_aside(cells: Cells, header: Sequence[str], clock_column: int | None) -> None:
    """Take repeated headers, repeated units and footers out, and note each."""
    height = cells.body.height
    wrong = np.zeros(height, dtype=np.int64)
    for found in cells.bad.values():
        np.add.at(wrong, [row for row, _ in found], 1)
    wordy = _wordy_clock(cells, clock_column)
    if not wordy.any() and not wrong.any():
        return
    right = np.zeros(height, dtype=np.int64)
    for values in cells.numbers.values():
        right += np.isfinite(values)
    drop = np.zeros(height, dtype=bool)
    for row in np.flatnonzero((wrong > right) | wordy)[::-1]:
        line = [c.strip().strip('"').strip() for c in cells.body.text(int(row)).split(cells.body.separator)]
        kind = _heading_again(line, header)
        if kind is None and right[row] == 0 and is_start_mark(" ".join(line)):
            kind = START_MARK
        if kind is None and wordy[row] and clock_column is not None:
            at_end = row == height - 1 or bool(drop[row + 1])
            summary = SUMMARY_WORDS & set(split_words(line[clock_column] if clock_column < len(line) else ""))
            if summary or at_end or wrong[row] > right[row]:
                kind = "a footer or summary line, not a reading; left out"
        elif kind is None and wrong[row] > 1:
            kind = "text where readings should be; left out"
        if kind:
            drop[row] = True
            cells.body.faults.add(kind, cells.body.row(int(row)))
            if kind == START_MARK:
                cells.restarts.add(int(row))
            elif kind == HEADER_AGAIN:
                cells.headers.add(int(row))
    if drop.any():
        cells.keep(~drop)


def _wordy_clock(cells: Cells, clock_column: int | None) -> NDArray[np.bool_]:
    """Rows whose clock cell is a word and no time."""
    wordy = np.zeros(cells.body.height, dtype=bool)
    if clock_column is None or cells.clock is None or not np.isnan(cells.clock).any():
        return wordy
    marks = vocabulary().missing
    column = cells.texts[clock_column]
    for row in np.flatnonzero(np.isnan(cells.clock)):
        cell = column[int(row)]
        text = cell.strip().strip('"').strip() if isinstance(cell, str) else ""
        wordy[row] = text.lower() not in marks and not any(c.isdigit() for c in text)
    return wordy


def _heading_again(line: Sequence[str], header: Sequence[str]) -> str | None:
    filled = [cell for cell in line if cell]
    same = sum(1 for a, b in zip(line, header, strict=False) if a and fold(a) == fold(b))
    if filled and same > 0.5 * len(filled):
        return HEADER_AGAIN
    if filled and sum(1 for cell in filled if unit_of(cell)) > 0.6 * len(filled):
        return "the units are repeated here; left out"
    return None


def drop_duplicates(cells: Cells) -> None:
    """Take out rows that are the row before once more, unless the log has that many rows a stamp."""
    clock = cells.clock
    if clock is None or len(clock) < 2:
        return
    same = clock[1:] == clock[:-1]
    if not same.any():
        return
    starts = np.flatnonzero(np.concatenate(([True], ~same)))
    lengths = np.diff(np.append(starts, len(clock)))
    usual = int(percentile(lengths, 90))
    drop = np.zeros(len(clock), dtype=bool)
    for start, length in zip(starts[lengths > usual], lengths[lengths > usual], strict=True):
        if length > max(3 * usual, usual + 10):
            continue  # a clock that stands still tells nothing about its rows
        surplus = length - usual
        for row in range(start + 1, start + length):
            if surplus and cells.body.texts[row] == cells.body.texts[row - 1]:
                drop[row] = True
                surplus -= 1
                cells.body.faults.add("the same as the row before, a duplicate; left out", cells.body.row(row))
    if drop.any():
        cells.keep(~drop)
