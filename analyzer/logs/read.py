"""Reading one log: bytes, text, heading, columns, clock, table."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analyzer.logs import moments, roles, tail, timeline
from analyzer.logs.body import Body, located, parse, prepare
from analyzer.logs.clock import (
    ClockPlan,
    ClockReading,
    clock_columns,
    clock_concepts,
    metadata_period,
    metadata_start,
    plan_clock,
    read_clock,
)
from analyzer.logs.decode import NotTextError, Text, decode
from analyzer.logs.dialect import row_width, sniff_decimal_mark, sniff_delimiter, split_cells
from analyzer.logs.heading import Heading, find_heading
from analyzer.logs.log import ROLE_UNITS, Clock, Column, Log, Refusal
from analyzer.logs.numbers import to_numbers, unit_in_cell
from analyzer.logs.source import Source, UnreadableSourceError
from analyzer.logs.words import fold, meaning, split_words, unit_of, vocabulary

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

HEAD_BYTES = 65536
HEAD_LINES = 600
SUMMARY_WORDS = frozenset(
    {"minimum", "maximum", "average", "mean", "min", "max", "avg", "total", "totals", "sum", "median", "count"}
    | {"std", "stddev", "mittelwert", "mittel", "durchschnitt", "moyenne", "media", "promedio", "summe", "end", "eof"}
)
MINUS_MARKS = frozenset({"-", "−", "d", "dis", "dischg", "discharge", "neg", "dchg", "minus", "disch"})
PLUS_MARKS = frozenset({"+", "c", "chg", "charge", "pos", "plus", "", "chrg", "0", "charging"})


class _Refused(Exception):  # noqa: N818 - an answer, not a failure
    """A log that cannot be read; the text is the sentence to show."""


def read_log(source: Source | Refusal, *, columns: Mapping[str, str] | None = None) -> Log | Refusal:
    """Read one log.

    Parameters
    ----------
    source : from ``find_logs``; a refusal is handed through
    columns : role -> header, as the user wrote it; wins over everything found by reading

    Returns
    -------
    Log, or Refusal with one sentence. Bad input never raises; a fault of the reader itself becomes a
    refusal too, so that one strange log does not stop the reading of a hundred others.
    """
    if isinstance(source, Refusal):
        return source
    try:
        return _read(source, columns or {})
    except (_Refused, NotTextError, UnreadableSourceError) as refused:
        return Refusal(source.name, str(refused))
    except Exception as fault:
        because = f"The reader met something in this log that it was not made for ({fault!r}); please report it."
        return Refusal(source.name, " ".join(because.split()))


@dataclass(frozen=True)
class _Sniffed:
    """What the head of a log tells before its readings are parsed."""

    delimiter: str
    decimal_mark: str
    heading: Heading
    names: tuple[str, ...]
    units: tuple[str, ...]
    groups: tuple[str, ...]
    body: Body
    samples: dict[int, list[str]]


def _read(source: Source, wanted: Mapping[str, str]) -> Log:
    text = decode(source.read())
    sniffed = _sniff(text)
    mapped = _mapped_columns(wanted, sniffed.names)
    found = _candidates(sniffed, mapped)
    plan = _clock_plan(sniffed, mapped)
    return _Assembly(source, text, sniffed, found, plan).log()


def _sniff(text: Text) -> _Sniffed:
    """Delimiter, heading, decimal mark, body and a sample of its cells."""
    lines = text.data[:HEAD_BYTES].decode("utf-8", "replace").split("\n")
    if len(text.data) > HEAD_BYTES:
        if len(lines) == 1:
            raise _Refused(
                f"The first line alone is longer than {HEAD_BYTES // 1024} KB, so there is no header row of column "
                "names to be found; check that the file has line ends and a header line."
            )
        lines.pop()
    lines = lines[:HEAD_LINES]
    delimiter = sniff_delimiter(lines)
    width = row_width(lines, delimiter)
    heading = find_heading(lines, delimiter, width)
    if heading is None:
        raise _Refused(
            "No header row was found: no line near the top names columns such as volts, amps or rpm; "
            "add a line with the columns' names above the readings."
        )
    start = _offset_of_line(text.data, heading.body_line)
    complete = text.data.endswith(b"\n")
    body = prepare(text.data[start:], heading.body_line + 1, delimiter, len(heading.names), complete)
    if body.height == 0:
        raise _Refused(
            f"The file holds only a header (row {heading.header_row}) and no readings below it, so there is no data; "
            "export the log again."
        )
    names = _names(heading.names, body.width)
    cells = _sample_rows(body)
    decimal = sniff_decimal_mark(cells) if delimiter != "," or '"' in lines[-2 if len(lines) > 1 else -1] else "."
    samples = {i: [row[i].strip() for row in cells if i < len(row)] for i in range(len(names))}
    fill = ("",) * len(names)
    units, groups = (heading.units + fill)[: len(names)], (heading.groups + fill)[: len(names)]
    return _Sniffed(delimiter, decimal, heading, names, units, groups, body, samples)


def _offset_of_line(data: bytes, line: int) -> int:
    at = 0
    for _ in range(line):
        at = data.find(b"\n", at) + 1
        if at == 0:
            return len(data)
    return at


def _names(names: Sequence[str], width: int) -> tuple[str, ...]:
    fitted = list(names)[:width] if not any(names[width:]) else list(names)
    fitted += [""] * (width - len(fitted))
    return tuple(fitted)


def _sample_rows(body: Body) -> list[list[str]]:
    """Cells of some rows from the beginning, the middle and the end."""
    data, size = body.data, 12000
    parts = [data[:size]]
    if len(data) > 3 * size:
        middle = data.find(b"\n", len(data) // 2) + 1
        parts += [data[middle : middle + size // 2], data[data.find(b"\n", len(data) - size // 2) + 1 :]]
    rows = []
    for i, part in enumerate(parts):
        lines = part.decode("utf-8", "replace").split("\n")
        if len(lines) > 1 and i < len(parts) - 1:
            lines.pop()
        rows += [line.split(body.separator) for line in (lines[:12] if i == 0 else lines[-6:]) if line]
    return rows


def _mapped_columns(wanted: Mapping[str, str], names: Sequence[str]) -> dict[str, int]:
    """Columns that the user gave roles to."""
    mapped = {}
    for role, header in wanted.items():
        if role not in ROLE_UNITS:
            raise _Refused(f"There is no role {role!r}{_nearest(role, list(ROLE_UNITS))}; use one of {', '.join(ROLE_UNITS)}.")
        index = _column_named(header, names)
        if index is None:
            raise _Refused(
                f"The header has no column {header!r} for {role}{_nearest(header, [n for n in names if n])}; "
                "run `taper columns` on this log to see its headers."
            )
        mapped[role] = index
    return mapped


def _column_named(header: str, names: Sequence[str]) -> int | None:
    for same in (lambda n: n == header, lambda n: fold(" ".join(n.split())) == fold(" ".join(header.split()))):
        for index, name in enumerate(names):
            if name and same(name):
                return index
    words = split_words(re.sub(r"[\(\[].*?[\)\]]", "", header))
    for index, name in enumerate(names):
        if name and words and split_words(re.sub(r"[\(\[].*?[\)\]]", "", name)) == words:
            return index
    number = re.fullmatch(r"column (\d+)", header.strip().lower())
    return int(number[1]) - 1 if number and 0 < int(number[1]) <= len(names) else None


def _nearest(word: str, known: Sequence[str]) -> str:
    by_fold = {fold(k): k for k in known}
    near = difflib.get_close_matches(fold(word), list(by_fold), n=1, cutoff=0.4)
    return f" (the nearest is {by_fold[near[0]]!r})" if near else ""


def _candidates(sniffed: _Sniffed, mapped: Mapping[str, int]) -> list[roles.Candidate]:
    """Candidates by header, and the columns that the user named, which stand alone for their role."""
    cell_units: dict[int, str] = {}
    for index, cells in sniffed.samples.items():
        units = {unit_in_cell(cell) for cell in cells if cell.lower() not in vocabulary().missing}
        if len(units) == 1 and (unit := units.pop()):
            cell_units[index] = unit
    found = roles.candidates(sniffed.names, sniffed.units, sniffed.groups, cell_units)
    used = set(mapped.values())
    found = [c for c in found if c.role not in mapped and c.index not in used]
    for role, index in mapped.items():
        unit = roles.column_unit(sniffed.names[index], sniffed.units[index], cell_units.get(index))
        quantity = vocabulary().roles[role].quantity
        if unit is not None and roles.QUANTITY_OF_UNIT.get(unit) != quantity:
            unit = None
        found.append(roles.Candidate(role, index, 1.0, unit, ("named by the user",), mapped=True))
    if not any(c.role in ("bus_voltage", "bus_voltage_2") for c in found):
        raise _Refused(_no_voltage(sniffed.names))
    return found


def _no_voltage(names: Sequence[str]) -> str:
    shown = [n for n in names if n]
    near = _nearest("bus volts", [n for n in shown if "voltage" in meaning(n).quantities] or shown)
    listed = ", ".join(repr(n) for n in shown[:8]) + (f" and {len(shown) - 8} more" if len(shown) > 8 else "")
    return (
        f"No column of bus voltage (volts) was found in the header: it has {listed or 'no names'}{near}; "
        "name it with --map bus_voltage=COLUMN."
    )


def _clock_plan(sniffed: _Sniffed, mapped: Mapping[str, int]) -> ClockPlan:
    found = clock_columns(sniffed.names, sniffed.units, sniffed.samples, frozenset(mapped.values()))
    return plan_clock(found)


class _Assembly:
    """Puts a log together from its parts; each method is one step."""

    def __init__(
        self, source: Source, text: Text, sniffed: _Sniffed, found: list[roles.Candidate], plan: ClockPlan
    ) -> None:
        self.source, self.text, self.sniffed, self.found, self.plan = source, text, sniffed, found, plan
        self.body = sniffed.body
        self.warnings: list[str] = list(text.warnings)
        self.restarts: set[int] = set()  # rows before which recording began anew
        self.numbers: dict[int, pl.Series] = {}
        self.texts: dict[int, pl.Series] = {}
        self.bad: dict[int, list[tuple[int, str]]] = {}

    def log(self) -> Log:
        """All steps in order."""
        self._parse()
        self._put_non_readings_aside()
        self._drop_duplicates()
        reading = self._read_clock()
        axis = self._axis(reading)
        assigned = self._assign()
        table = self._table(axis, reading, assigned)
        return self._log(axis, reading, assigned, table)

    # -- cells

    def _indexes(self) -> tuple[list[int], list[int]]:
        """Columns to read as numbers and as text."""
        text = [*self.plan.needed, *self._sessions(), *self._tail_columns(), *self._sign_columns().values()]
        text = list(dict.fromkeys(text))
        numeric = [i for i in dict.fromkeys(c.index for c in self.found) if i not in text]
        return numeric, text

    def _parse(self) -> None:
        numeric, text = self._indexes()
        fast = frozenset(numeric) if self.sniffed.decimal_mark == "." else frozenset()
        cells = parse(self.body, [*numeric, *text], fast)
        self.texts = {i: cells[i] for i in text if i in cells}
        for i in numeric:
            if i in cells:
                self.numbers[i], self.bad[i] = to_numbers(cells[i], self.sniffed.decimal_mark)

    def _sessions(self) -> list[int]:
        return [i for i, name in enumerate(self.sniffed.names) if name and "session" in clock_concepts(name)]

    def _tail_columns(self) -> list[int]:
        return [i for i, name in enumerate(self.sniffed.names) if name and tail.is_tail_name(name)][:3]

    def _sign_columns(self) -> dict[int, int]:
        """For columns of current, the next column when it holds nothing but signs."""
        signs = {}
        for candidate in self.found:
            if vocabulary().roles[candidate.role].quantity != "current":
                continue
            cells = {c.lower() for c in self.sniffed.samples.get(candidate.index + 1, [])}
            if cells and cells <= MINUS_MARKS | PLUS_MARKS and cells & (MINUS_MARKS | {"+", "c", "chg", "pos"}):
                signs[candidate.index] = candidate.index + 1
        return signs

    # -- rows

    def _put_non_readings_aside(self) -> None:
        """Repeated headers, units and footers among the readings."""
        height = self.body.height
        wrong = np.zeros(height, dtype=np.int64)
        right = np.zeros(height, dtype=np.int64)
        for i, series in self.numbers.items():
            right += series.is_not_null().to_numpy()
            for row, _ in self.bad[i]:
                wrong[row] += 1
        word_clock = self._wordy_clock(height)
        suspects = np.flatnonzero((wrong > right) | word_clock)
        if not len(suspects):
            return
        drop = np.zeros(height, dtype=bool)
        for row in suspects[::-1]:
            kind = self._what_it_is(int(row), wrong, right, word_clock, drop)
            if kind:
                drop[row] = True
                self.body.faults.add(kind, self.body.row(int(row)))
                if kind.startswith("the header"):
                    self.restarts.add(int(row))
        self._keep(~drop)

    def _wordy_clock(self, height: int) -> NDArray[np.bool_]:
        """Rows whose first clock cell is a word and no time."""
        if not self.plan.columns:
            return np.zeros(height, dtype=bool)
        first = self.texts[self.plan.columns[0]]
        marks = vocabulary().missing
        odd = first.is_not_null() & ~first.str.contains(r"\d").fill_null(True)
        rows = odd.to_numpy().copy()
        for row in np.flatnonzero(rows):
            rows[row] = str(first[int(row)]).strip().lower() not in marks
        return np.asarray(rows, dtype=bool)

    def _what_it_is(
        self, row: int, wrong: NDArray[np.int64], right: NDArray[np.int64], word_clock: NDArray[np.bool_], drop: NDArray[np.bool_]
    ) -> str | None:
        cells = [c.strip().strip('"').strip() for c in self.body.texts[row].decode("utf-8", "replace").split(self.body.separator)]
        names = self.sniffed.heading.names
        same = sum(1 for a, b in zip(cells, names, strict=False) if a and fold(a) == fold(b))
        filled = [c for c in cells if c]
        if same > 0.5 * max(1, len(filled)):
            return "the header is repeated here; left out"
        if filled and sum(1 for c in filled if unit_of(c)) > 0.6 * len(filled):
            return "the units are repeated here; left out"
        if word_clock[row]:
            word = str(self.texts[self.plan.columns[0]][row]).strip().strip('"').lower()
            at_end = row == len(drop) - 1 or bool(drop[row + 1])
            known = bool(set(split_words(word)) & SUMMARY_WORDS)
            if known or at_end or wrong[row] > right[row]:
                return "a footer or summary line, not a reading; left out"
            return None
        if self.plan.columns and wrong[row] + right[row] < 2:
            return None
        return "text where readings should be; left out" if wrong[row] > 1 else None

    def _keep(self, keep: NDArray[np.bool_]) -> None:
        """Go on with some rows only."""
        if keep.all():
            return
        import polars as pl

        mask = pl.Series(keep)
        new_place = np.cumsum(keep)
        self.restarts = {int(new_place[r - 1]) if r > 0 else 0 for r in self.restarts}
        self.numbers = {i: s.filter(mask) for i, s in self.numbers.items()}
        self.texts = {i: s.filter(mask) for i, s in self.texts.items()}
        self.bad = {
            i: [(int(new_place[row]) - 1, text) for row, text in cells if keep[row]] for i, cells in self.bad.items()
        }
        self.body = self.body.without(~keep)

    def _drop_duplicates(self) -> None:
        """Rows that are the row before once more, unless the log has that many rows a stamp."""
        if not self.plan.columns or self.body.height < 2:
            return
        same = np.ones(self.body.height - 1, dtype=bool)
        for i in self.plan.needed:
            same &= (self.texts[i][1:] == self.texts[i][:-1]).fill_null(True).to_numpy()
        if not same.any():
            return
        texts = self.body.texts
        starts = np.flatnonzero(np.concatenate(([True], ~same)))
        lengths = np.diff(np.append(starts, self.body.height))
        usual = int(np.percentile(lengths, 90))
        drop = np.zeros(self.body.height, dtype=bool)
        for start, length in zip(starts[lengths > usual], lengths[lengths > usual], strict=True):
            if length > max(3 * usual, usual + 10):
                continue  # a clock that stands still tells nothing about its rows
            surplus = length - usual
            for row in range(start + 1, start + length):
                if surplus and texts[row] == texts[row - 1]:
                    drop[row] = True
                    surplus -= 1
                    self.body.faults.add("the same as the row before, a duplicate; left out", self.body.row(int(row)))
        if drop.any():
            self._keep(~drop)

    # -- time

    def _hints(self) -> str:
        heading = self.sniffed.heading
        near = [self.sniffed.names[i] + " " + self.sniffed.units[i] for i in self.plan.columns]
        return " ".join([*near, *heading.metadata]).lower()

    def _known_day(self) -> int | None:
        found = re.search(r"(?<!\d)(20\d{2})[-_.]?(0[1-9]|1[0-2])[-_.]?([0-3]\d)(?!\d)", self.source.name)
        return moments.parse_date("".join(found.groups()), "ymd") if found else None

    def _period(self) -> float | None:
        return metadata_period(self.sniffed.heading.metadata, self.sniffed.delimiter)

    def _read_clock(self) -> ClockReading | None:
        if self.plan.kind == "none":
            return None
        day = self._known_day()
        reading = read_clock(
            self.plan, self.texts, self.sniffed.decimal_mark, self._hints(), day, self._period()
        )
        if not reading.dated:
            self._date_from_metadata(reading)
        self.warnings += reading.warnings
        return reading

    def _date_from_metadata(self, reading: ClockReading) -> None:
        day, clock = metadata_start(self.sniffed.heading.metadata, self.sniffed.delimiter, self._hints())
        known = np.flatnonzero(np.isfinite(reading.seconds))
        if day is None or not len(known):
            return
        if reading.period:
            reading.seconds = timeline.over_midnight(reading.seconds, reading.period) + day * moments.DAY
            reading.dated, reading.period = True, None
            reading.basis += "; the date is in a line above the header"
        elif clock is not None and self.plan.kind in ("elapsed", "number", "counter"):
            first = reading.seconds[known[0]] if self.plan.kind == "counter" else 0.0
            reading.seconds = reading.seconds - first + day * moments.DAY + clock
            reading.dated = True
            reading.basis += "; the start is in a line above the header"

    def _axis(self, reading: ClockReading | None) -> timeline.Axis:
        self._session_restarts()
        axis = timeline.build(reading, sorted(self.restarts)) if reading is not None else None
        if axis is None:
            step = self._period()
            if step is None:
                what = "no readable clock" if reading is not None else "no clock column and no rate"
                self.warnings.append(f"clock: the log has {what}; a step of 1 s from row to row was assumed")
            axis = timeline.counted(self.body.height, step or 1.0)
            axis.breaks = sorted(r for r in self.restarts if 0 < r < self.body.height)
        by_kind: dict[str, list[int]] = {}
        for row, note in axis.notes:
            by_kind.setdefault(note, []).append(self.body.row(row))
        self.warnings += [f"{located(rows)}: {note}" for note, rows in by_kind.items()]
        return axis

    def _session_restarts(self) -> None:
        """Rows at which a boot flag rises or a session number changes."""
        for i in self._sessions():
            values = to_numbers(self.texts[i], self.sniffed.decimal_mark)[0].fill_null(strategy="forward").to_numpy()
            values = np.nan_to_num(values.astype(np.float64))
            if set(np.unique(values)) <= {0.0, 1.0}:
                rises = np.flatnonzero((values[1:] == 1) & (values[:-1] == 0)) + 1
                if len(rises) > 0.05 * len(values):
                    continue
            else:
                rises = np.flatnonzero(np.diff(values) != 0) + 1
                if len(rises) > 0.01 * len(values) + 5:
                    continue
            self.restarts |= {int(r) for r in rises}

    # -- columns

    def _assign(self) -> list[roles.Assigned]:
        readings = {i: s.to_numpy().astype(np.float64) for i, s in self.numbers.items()}
        for index, sign in self._sign_columns().items():
            if index in readings and sign in self.texts:
                marks = self.texts[sign].fill_null("").str.strip_chars().str.to_lowercase()
                minus = marks.is_in(list(MINUS_MARKS)).to_numpy()
                readings[index] = np.where(minus, -np.abs(readings[index]), readings[index])
        assigned = roles.assign(self.found, readings)
        if not any(a.candidate.role == "bus_voltage" for a in assigned):
            raise _Refused(_no_voltage(self.sniffed.names))
        return assigned

    def _table(
        self, axis: timeline.Axis, reading: ClockReading | None, assigned: Sequence[roles.Assigned]
    ) -> pl.DataFrame:
        import polars as pl

        columns: dict[str, pl.Series] = {"time_s": pl.Series("time_s", axis.time_s, dtype=pl.Float64)}
        if reading is not None and reading.dated and len(axis.wall):
            micros = np.round(axis.wall * 1e6)
            good = np.isfinite(micros)
            whole = pl.Series("clock", np.where(good, micros, 0).astype(np.int64)).cast(pl.Datetime("us"))
            columns["clock"] = whole.set(pl.Series(~good), None)
        else:
            columns["clock"] = pl.Series("clock", [None] * len(axis.time_s), dtype=pl.Datetime("us"))
        for one in assigned:
            values = one.values if axis.order is None else one.values[axis.order]
            columns[one.candidate.role] = pl.Series(one.candidate.role, values, nan_to_null=True)
        return pl.DataFrame(columns)

    def _log(
        self, axis: timeline.Axis, reading: ClockReading | None, assigned: list[roles.Assigned], table: pl.DataFrame
    ) -> Log:
        names = self.sniffed.names
        used = {a.candidate.index for a in assigned} | set(self.plan.needed)
        self._cell_warnings(assigned)
        self._column_warnings(assigned)
        found_tail, tail_from = self._tail()
        columns = tuple(
            Column(
                a.candidate.role,
                names[a.candidate.index] or f"column {a.candidate.index + 1}",
                ROLE_UNITS[a.candidate.role],
                a.converted_from,
                a.confidence,
                "; ".join(a.candidate.reasons),
            )
            for a in assigned
        )
        clock_names = [names[i] or f"column {i + 1}" for i in self.plan.columns]
        if self.plan.zone is not None:
            clock_names.append(names[self.plan.zone])
        start = table["clock"][0]
        return Log(
            source=self.source.name,
            tail=found_tail,
            tail_from=tail_from,
            encoding=self.text.encoding,
            delimiter=self.sniffed.delimiter,
            decimal_mark=self.sniffed.decimal_mark,
            header_row=self.sniffed.heading.header_row,
            units_row=self.sniffed.heading.units_row,
            rows_dropped=self.body.faults.dropped,
            clock=Clock(
                columns=tuple(clock_names),
                basis=reading.basis if reading is not None else f"no clock; rows counted, {axis.step_s:g} s apart",
                start=None if start is None else start.isoformat(timespec="auto"),
                utc_offset=_offset_text(reading.offset if reading is not None else None),
                step_s=axis.step_s,
            ),
            columns=columns,
            unused=tuple(n or f"column {i + 1}" for i, n in enumerate(names) if i not in used and (n or self._filled(i))),
            warnings=tuple([*self.body.faults.warnings(), *self.warnings]),
            breaks=tuple(axis.breaks),
            table=table,
        )

    def _filled(self, index: int) -> bool:
        return any(self.sniffed.samples.get(index, []))

    def _cell_warnings(self, assigned: Sequence[roles.Assigned]) -> None:
        for one in assigned:
            cells = self.bad.get(one.candidate.index, [])
            if cells:
                rows = [self.body.row(row) for row, _ in cells]
                what = ", ".join(repr(t.strip()[:20]) for t in dict.fromkeys(text for _, text in cells[:50]))[:80]
                name = self.sniffed.names[one.candidate.index]
                self.warnings.append(f"{located(rows)}: {what} in the {name!r} column is not a number; left blank")

    def _column_warnings(self, assigned: Sequence[roles.Assigned]) -> None:
        for one in assigned:
            name = self.sniffed.names[one.candidate.index]
            if one.candidate.role == "bus_voltage" and one.dead:
                self.warnings.append(
                    f"column {name!r}: it never shows a voltage, so nothing can be judged by it; "
                    "another column can be named with --map bus_voltage=COLUMN"
                )
            if one.not_fitted:
                self.warnings.append(f"column {name!r}: it stays where an open probe does; readings left blank")
            elif one.candidate.unit is None and one.converted_from:
                self.warnings.append(f"column {name!r}: no unit is given; read as {one.converted_from}, for its readings can be nothing else")

    def _tail(self) -> tuple[str | None, str | None]:
        heading = self.sniffed.heading
        if found := tail.in_metadata(heading.metadata, self.sniffed.delimiter):
            return found, "metadata line"
        for i in self._tail_columns():
            if found := tail.in_cells(self.texts[i].drop_nulls().unique().to_list()):
                return found, "column"
        return tail.in_path(self.source.name)


def _offset_text(offset: float | None) -> str | None:
    if offset is None:
        return None
    minutes = round(abs(offset) / 60)
    return f"{'-' if offset < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"
