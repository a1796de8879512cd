"""Reading one log: bytes, text, layout, cells, clock, roles, table."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct

from analyzer.logs import clock, clock_columns, metadata, moments, roles, tail, timeline
from analyzer.logs.body import Body, located
from analyzer.logs.cells import Cells, drop_duplicates, parse_cells, put_non_readings_aside
from analyzer.logs.clock import ClockReading
from analyzer.logs.clock_columns import ClockPlan
from analyzer.logs.continuity import Continuity
from analyzer.logs.decode import decode
from analyzer.logs.log import CLOCK_ROLES, GIVEN_ROLES, ROLE_UNITS, Clock, Column, Log, Refusal, RefusedError
from analyzer.logs.numbers import to_numbers
from analyzer.logs.readings import Readings
from analyzer.logs.sniff import Sniffed, sniff
from analyzer.logs.source import Source
from analyzer.logs.unit import whole_or_refused
from analyzer.logs.units import QUANTITY_OF_UNIT
from analyzer.logs.words import fold, meaning, split_words, vocabulary
from analyzer.series import middle

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

MINUS_MARKS = frozenset({"-", "−", "d", "dis", "dischg", "discharge", "neg", "dchg", "minus", "disch"})
PLUS_MARKS = frozenset({"+", "c", "chg", "charge", "pos", "plus", "", "chrg", "0", "charging"})
NO_CLOCK = (
    "clock: the log has no clock that tells date or time of day, so its flights have no date and keep their place in "
    "the order of files"
)
#: Dates of a clock that may be wrong but is one: the years 1900 to 2200, in seconds since 1970. And the longest
#: time since the start of a recorder, thirty years [s].
CALENDAR_S, LONGEST_S = (-2208988800.0, 7258118400.0), 9.5e8
#: A clock that moves by more than so many usual steps where the header stands once more began anew.
STEPS_OF_ONE_RECORDING = 2.0
#: A flag or number that changes in more than this share of rows does not count recordings.
MAX_RESTART_SHARE = 0.05


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
    return whole_or_refused(source.name, lambda: read_or_raise(source, columns or {}))


def read_or_raise(source: Source, columns: Mapping[str, str]) -> Log:
    """Read one log, step by step.

    Raises
    ------
    RefusedError
        With the sentence of the refusal.
    """
    rows = _rows(source, columns)
    sniffed, plan, reading, cells = rows.sniffed, rows.plan, rows.reading, rows.cells
    assigned = _assign(sniffed, rows.found, rows.signs, cells)
    axis = _axis(sniffed, reading, cells, _continuity(assigned))
    tail, tail_from = _tail(sniffed, cells, source.name)
    readings = _readings(axis, reading, assigned)
    warnings = [*cells.body.faults.warnings(), *sniffed.warnings, *rows.no_clock]
    warnings += reading.warnings if reading else []
    warnings += [*_axis_warnings(axis, cells), *_column_warnings(sniffed, assigned, cells)]
    return Log(
        source=source.name,
        tail=tail,
        tail_from=tail_from,
        encoding=sniffed.encoding,
        delimiter=sniffed.delimiter,
        decimal_mark=sniffed.decimal_mark,
        header_row=sniffed.heading.header_row,
        units_row=sniffed.heading.units_row,
        rows_dropped=cells.body.faults.dropped,
        clock=_clock_told(sniffed, plan, reading, axis, readings.first_clock),
        columns=tuple(_column(sniffed, one) for one in assigned),
        unused=_unused(sniffed, {one.candidate.index for one in assigned} | set(plan.needed)),
        warnings=tuple(dict.fromkeys(warnings)),
        breaks=tuple(axis.breaks),
        readings=readings,
        break_kinds=tuple(axis.breaks.values()),
    )


class _Rows(Struct, frozen=True):
    """The rows that are readings, parsed, and what was made of the head and the clock."""

    sniffed: Sniffed
    found: Sequence[roles.Candidate]
    signs: Mapping[int, int]
    plan: ClockPlan
    reading: ClockReading | None
    no_clock: Sequence[str]  # why what is called a clock is none
    cells: Cells


def _rows(source: Source, columns: Mapping[str, str]) -> _Rows:
    """Parse a log's rows. Their text takes as much memory as the numbers, so that it is let go of here.

    Raises
    ------
    RefusedError
        With the sentence of the refusal.
    """
    sniffed, body = sniff(decode(source.read()))
    mapped = _mapped_columns(columns, sniffed.names)
    found = _candidates(sniffed, mapped)
    plan = _clock_plan(sniffed, mapped)
    signs = _sign_columns(sniffed, found)
    numeric, cells = _parse(sniffed, body, found, plan, signs)
    plan, reading, no_clock = _clock(sniffed, plan, cells, source.name, named=any(r in CLOCK_ROLES for r in mapped))
    if body.is_long:
        cells.take_numbers_of(parse_cells(body, numeric, [], sniffed.decimal_mark))
    put_non_readings_aside(cells, sniffed.heading.names, plan.columns[0] if plan.columns else None)
    drop_duplicates(cells)
    if not cells.body.height:
        raise RefusedError(
            "None of the rows below the header holds readings, so there is no data; export the log again."
        )
    cells.forget_clock_texts()
    cells.body = cells.body.numbered()
    return _Rows(sniffed, found, signs, plan, reading, no_clock, cells)


def _clock(
    sniffed: Sniffed, plan: ClockPlan, cells: Cells, name: str, *, named: bool
) -> tuple[ClockPlan, ClockReading | None, list[str]]:
    """The clock, with the columns that it is read from; of one that is no clock none, and why it is not used.

    Raises
    ------
    RefusedError
        When no clock can be read from the columns that a person ``named`` for it.
    """
    reading = _read_clock(sniffed, plan, cells, name)
    if reading is None and named:
        raise RefusedError(
            f"No clock can be read from {', '.join(repr(sniffed.label(i)) for i in plan.columns)}, which was named for "
            "it; name a column of times, dates, or seconds since the start."
        )
    if reading is None or not (why := timeline.distrusted(reading)):
        return plan, reading, []
    cells.clock = None
    names = ", ".join(repr(sniffed.label(i)) for i in plan.columns)
    return ClockPlan("none"), None, [f"clock: {names} is called a time, but {why}; it was not used"]


def _clock_told(
    sniffed: Sniffed, plan: ClockPlan, reading: ClockReading | None, axis: timeline.Axis, start: datetime | None
) -> Clock:
    """What a log's clock is, as its reader is told."""
    zone = [plan.zone] if plan.zone is not None else []
    return Clock(
        columns=tuple(sniffed.label(i) for i in (*plan.columns, *zone)),
        basis=reading.basis if reading is not None else f"no clock; rows counted, {axis.step_s:g} s apart",
        start=None if start is None else start.isoformat(),
        utc_offset=_offset_text(reading.offset if reading is not None else None),
        step_s=axis.step_s,
    )


def _mapped_columns(wanted: Mapping[str, str], names: Sequence[str]) -> dict[str, int]:
    """Columns that the user gave roles to."""
    mapped = {}
    for role, header in wanted.items():
        if role not in GIVEN_ROLES:
            raise RefusedError(
                f"There is no role {role!r}{_nearest(role, GIVEN_ROLES)}; use one of {', '.join(GIVEN_ROLES)}."
            )
        index = _column_named(header, names)
        if index is None:
            raise RefusedError(
                f"The header has no column {header!r} for {role}{_nearest(header, [n for n in names if n])}; "
                "run `taper columns` on this log to see its headers."
            )
        mapped[role] = index
    return mapped


def _column_named(header: str, names: Sequence[str]) -> int | None:
    for same in (
        lambda n: n == header,
        lambda n: fold(" ".join(n.split())) == fold(" ".join(header.split())),
    ):
        for index, name in enumerate(names):
            if name and same(name):
                return index
    words = split_words(re.sub(r"[\(\[].*?[\)\]]", "", header))
    for index, name in enumerate(names):
        if name and words and split_words(re.sub(r"[\(\[].*?[\)\]]", "", name)) == words:
            return index
    number = re.fullmatch(r"column (\d{1,6})", header.strip().lower())
    return int(number[1]) - 1 if number and 0 < int(number[1]) <= len(names) else None


def _nearest(word: str, known: Sequence[str]) -> str:
    by_fold = {fold(k): k for k in known}
    near = difflib.get_close_matches(fold(word), list(by_fold), n=1, cutoff=0.4)
    return f" (the nearest is {by_fold[near[0]]!r})" if near else ""


def _candidates(sniffed: Sniffed, mapped: Mapping[str, int]) -> list[roles.Candidate]:
    """Candidates by header, and the columns that the user named, which stand alone for their role."""
    used = set(mapped.values())
    called = roles.candidates(sniffed.names, sniffed.units, sniffed.groups, sniffed.cell_units)
    found = [c for c in called if c.role not in mapped and c.index not in used]
    for role, index in mapped.items():
        if role in CLOCK_ROLES:
            continue
        unit = roles.column_unit(sniffed.names[index], sniffed.units[index], sniffed.cell_units[index])
        if unit is not None and QUANTITY_OF_UNIT.get(unit) != vocabulary().roles[role].quantity:
            unit = None
        found.append(roles.Candidate(role, index, 1.0, unit, ("named by the user",), mapped=True))
    if not any(c.role in roles.ELECTRICAL for c in found):
        raise RefusedError(_nothing_electrical(sniffed.names))
    return found


def _nothing_electrical(names: Sequence[str]) -> str:
    shown = [n for n in names if n]
    near = _nearest("bus volts", [n for n in shown if "voltage" in meaning(n).quantities] or shown)
    listed = ", ".join(repr(n) for n in shown[:8]) + (f" and {len(shown) - 8} more" if len(shown) > 8 else "")
    return (
        "No column of bus voltage (volts) or of battery or alternator current (amperes) was found in the header: "
        f"it has {listed or 'no names'}{near}; name one with --map bus_voltage=COLUMN or --map ammeter_current=COLUMN."
    )


def _unlike_volts(called: Sequence[str]) -> str:
    return (
        f"No column reads like a bus voltage (volts) or a current (amperes), though the header calls "
        f"{', '.join(map(repr, called[:4]))} so; look at those columns, or name another with --map bus_voltage=COLUMN."
    )


def _clock_plan(sniffed: Sniffed, mapped: Mapping[str, int]) -> ClockPlan:
    """The clock by the columns that the user named for it and what goes with them, else by headers and cells."""
    named = [(index, CLOCK_ROLES[role]) for role, index in mapped.items() if role in CLOCK_ROLES]
    names, units, sample = sniffed.names, sniffed.units, sniffed.sample
    found = clock_columns.clock_columns(names, units, sample, frozenset(mapped.values()))
    if not named:
        return clock_columns.plan_clock(found)
    called = roles.candidates(names, units, sniffed.groups, sniffed.cell_units)
    channels = {one.index for one in called if one.role in roles.ELECTRICAL}
    if taken := [names[i] for i, _ in named if i in channels]:
        raise RefusedError(
            f"{', '.join(map(repr, taken))} was named for the clock, but its header says volts or amperes; name a "
            "column of times, dates, or seconds since the start."
        )
    given = [clock_columns.named_column(i, concept, names[i], units[i], sample(i)) for i, concept in named]
    plan = clock_columns.plan_clock([*given, *clock_columns.beside(given, found)])
    if plan.kind == "none":
        cells = "; ".join(
            f"{sniffed.label(index)!r} holds {', '.join(map(repr, sample(index)[:2])) or 'nothing'}"
            for index, _ in named
        )
        raise RefusedError(
            f"No clock can be read from what was named for it: {cells}. Name a column of times as clock_time, one of "
            "dates as clock_date beside it, or one of seconds since the start as clock_elapsed."
        )
    return plan


def _sign_columns(sniffed: Sniffed, found: Sequence[roles.Candidate]) -> dict[int, int]:
    """For columns of current, the next column when it holds nothing but signs."""
    signs = {}
    for index in {c.index for c in found if vocabulary().roles[c.role].quantity == "current"}:
        marks = {cell.lower() for cell in sniffed.sample(index + 1)}
        if marks and marks <= MINUS_MARKS | PLUS_MARKS and marks & (MINUS_MARKS | PLUS_MARKS - {"", "0"}):
            signs[index] = index + 1
    return signs


def _parse(
    sniffed: Sniffed, body: Body, found: Sequence[roles.Candidate], plan: ClockPlan, signs: Mapping[int, int]
) -> tuple[list[int], Cells]:
    """The columns of numbers, and the cells; of a long log those of text alone.

    There the clock is read before any number, for its texts take as much room as all numbers.
    """
    beside = [*sniffed.sessions, *sniffed.tail_columns, *signs.values()]
    text = list(dict.fromkeys([*plan.needed, *beside]))
    numeric = [i for i in dict.fromkeys(c.index for c in found) if i not in text]
    cells = parse_cells(body, [] if body.is_long else numeric, text, sniffed.decimal_mark)
    cells.clock_alone = frozenset(plan.needed).difference(beside)
    return numeric, cells


def _read_clock(sniffed: Sniffed, plan: ClockPlan, cells: Cells, source: str) -> ClockReading | None:
    """What the clock reads; also put among the cells, so that it goes where its rows go."""
    if plan.kind == "none":
        return None
    heading = sniffed.heading
    near = [sniffed.names[i] + " " + sniffed.units[i] for i in plan.columns]
    hints = " ".join([*near, *heading.metadata]).lower()
    period = metadata.period(heading.metadata, sniffed.delimiter)
    reading = clock.read_clock(plan, cells.texts, sniffed.decimal_mark, hints, _day_in_name(source), period)
    if not reading.dated:
        start = metadata.start(heading.metadata, sniffed.delimiter, hints)
        clock.date_from_metadata(reading, plan, *start)
    off = _off_the_calendar(reading)
    if off.any():
        reading.seconds = np.where(off, np.nan, reading.seconds)
        rows = located([cells.body.row(row) for row in np.flatnonzero(off).tolist()])
        reading.warnings.append(f"{rows}: the clock reads a time that no flight had; taken as unreadable")
    cells.clock = reading.seconds
    if not np.isnan(reading.seconds).any():  # else it is asked what stands there instead of a time
        cells.forget_clock_texts()
    if not reading.dated and reading.period is None:
        reading.warnings.append(NO_CLOCK)
    if reading.dated and np.nanmax(reading.seconds, initial=0.0) < timeline.NEVER_SET_S:
        reading.warnings.append("clock: its date is that of a clock never set, so the start is not the true one")
    return reading


def _off_the_calendar(reading: ClockReading) -> NDArray[np.bool_]:
    """Rows whose clock reads a date, or a time since the start, at which nobody recorded."""
    first, last = CALENDAR_S if reading.dated else (-LONGEST_S, LONGEST_S)
    with np.errstate(invalid="ignore"):
        return (reading.seconds < first) | (reading.seconds > last)


def _day_in_name(source: str) -> int | None:
    """A date in a file's name, as a day number."""
    found = re.search(r"(?<!\d)(20\d{2})[-_.]?(0[1-9]|1[0-2])[-_.]?([0-3]\d)(?!\d)", source)
    return moments.parse_date("".join(found.groups()), "ymd") if found else None


def _axis(sniffed: Sniffed, reading: ClockReading | None, cells: Cells, readings: Continuity) -> timeline.Axis:
    _note_restarts(sniffed, cells)
    restarts = sorted(cells.restarts | {row for row in cells.headers if not _runs_on(row, cells.clock, readings)})
    if reading is not None and cells.clock is not None:
        reading.seconds = cells.clock
        axis = timeline.build(reading, restarts, readings)
        if axis is not None:
            return axis
    step = metadata.period(sniffed.heading.metadata, sniffed.delimiter)
    axis = timeline.counted(cells.body.height, step or 1.0)
    axis.breaks = {row: "boot" for row in restarts if 0 < row < cells.body.height}
    axis.notes.append((-1, NO_CLOCK))
    if step is None:
        what = "no clock column and no rate" if reading is None else "no clock that can be read"
        axis.notes.append((-1, f"clock: the log has {what}; a step of 1 s from row to row was assumed"))
    return axis


def _continuity(assigned: Sequence[roles.Assigned]) -> Continuity:
    def readings(role_of: Callable[[str], bool]) -> list[NDArray[np.float64]]:
        return [one.values for one in assigned if role_of(one.candidate.role)]

    return Continuity(
        electrical=readings(lambda role: role in roles.ELECTRICAL),
        speeds=readings(lambda role: role in roles.SPEEDS),
        others=readings(lambda role: role not in roles.ELECTRICAL | roles.SPEEDS),
    )


def _note_restarts(sniffed: Sniffed, cells: Cells) -> None:
    """Rows at which a boot flag rises or a session number changes."""
    for i in sniffed.sessions:
        values = np.nan_to_num(to_numbers(cells.texts[i], sniffed.decimal_mark)[0])
        if set(np.unique(values)) <= {0.0, 1.0}:
            changes = np.flatnonzero((values[1:] == 1) & (values[:-1] == 0)) + 1
        else:
            changes = np.flatnonzero(np.diff(values) != 0) + 1
        if len(changes) <= MAX_RESTART_SHARE * len(values):
            cells.restarts |= {int(row) for row in changes}


def _runs_on(row: int, clock: NDArray[np.float64] | None, readings: Continuity) -> bool:
    """Whether the clock, or where it tells nothing the readings, go on from the row before as they always do.

    A header that stands there once more then only parts what was put together again, and no recording.
    """
    if clock is not None and 0 < row < len(clock) and np.isfinite(clock[row - 1 : row + 1]).all():
        moves = np.diff(clock)
        usual = moves[moves > 0]
        return bool(usual.size and 0 <= moves[row - 1] <= STEPS_OF_ONE_RECORDING * middle(usual))
    return readings.runs_on(row)


def _axis_warnings(axis: timeline.Axis, cells: Cells) -> list[str]:
    by_kind: dict[str, list[int]] = {}
    for row, note in axis.notes:
        by_kind.setdefault(note, []).append(row)
    return [
        note if rows[0] < 0 else f"{located([cells.body.row(r) for r in rows])}: {note}"
        for note, rows in by_kind.items()
    ]


def _assign(
    sniffed: Sniffed, found: Sequence[roles.Candidate], signs: Mapping[int, int], cells: Cells
) -> list[roles.Assigned]:
    readings = dict(cells.numbers)
    for index, sign in signs.items():
        if index in readings and sign in cells.texts:
            marks = cells.texts[sign].fill_null("").str.strip_chars(' "').str.to_lowercase()
            minus = marks.is_in(list(MINUS_MARKS)).to_numpy()
            readings[index] = np.where(minus, -np.abs(readings[index]), readings[index])
    assigned = roles.assign(found, readings)
    if not any(one.candidate.role in roles.ELECTRICAL for one in assigned):
        called = {sniffed.label(c.index): None for c in found if c.role in roles.ELECTRICAL and not c.by_readings}
        raise RefusedError(_unlike_volts(list(called)) if called else _nothing_electrical(sniffed.names))
    return assigned


def _readings(axis: timeline.Axis, reading: ClockReading | None, assigned: Sequence[roles.Assigned]) -> Readings:
    clock_read = None
    if reading is not None and reading.dated:
        first, last = CALENDAR_S  # rows counted on from a clock at odds with itself may leave the calendar
        wall = np.where((axis.wall >= first) & (axis.wall <= last), axis.wall, np.nan)
        wall *= 1e6
        clock_read = np.round(wall, out=wall).astype("datetime64[us]")
    channels = {one.candidate.role: one.values if axis.order is None else one.values[axis.order] for one in assigned}
    return Readings(axis.time_s, clock_read, channels)


def _column(sniffed: Sniffed, one: roles.Assigned) -> Column:
    role = one.candidate.role
    return Column(
        role=role,
        name=sniffed.label(one.candidate.index),
        unit=ROLE_UNITS[role],
        converted_from=one.converted_from,
        confidence=one.confidence,
        why="; ".join(one.candidate.reasons),
    )


def _unused(sniffed: Sniffed, used: set[int]) -> tuple[str, ...]:
    """Columns that have a name or readings, but no role."""
    rest = [i for i in range(len(sniffed.names)) if i not in used]
    return tuple(sniffed.label(i) for i in rest if sniffed.names[i] or any(sniffed.sample(i)))


def _column_warnings(sniffed: Sniffed, assigned: Sequence[roles.Assigned], cells: Cells) -> list[str]:
    warnings = []
    if not any(one.candidate.role == "bus_voltage" for one in assigned):
        warnings.append(
            "no voltmeter is recorded: no column holds the bus voltage, so only what the current tells can be judged; "
            "if one does, name it with --map bus_voltage=COLUMN"
        )
    for one in assigned:
        index = one.candidate.index
        name = repr(sniffed.label(index))
        if bad := cells.bad.get(index):
            rows = located([cells.body.row(row) for row, _ in bad])
            shown = ", ".join(repr(t.strip()[:20]) for t in list(dict.fromkeys(text for _, text in bad))[:4])
            warnings.append(f"{rows}: {shown} in the {name} column is not a number; left blank")
        if one.candidate.by_readings:
            warnings.append(
                f"column {name}: taken as the bus voltage because {one.candidate.reasons[0]}; "
                "if it is not, name the right one with --map bus_voltage=COLUMN"
            )
        if one.candidate.role == "bus_voltage" and one.dead:
            warnings.append(
                f"column {name}: it never shows a voltage, so nothing can be judged by it; "
                "another column can be named with --map bus_voltage=COLUMN"
            )
        if one.not_fitted:
            warnings.append(f"column {name}: it stays where an open probe does; readings left blank")
        elif one.candidate.unit is None and one.converted_from:
            warnings.append(f"column {name}: no unit is given; the readings can only be {one.converted_from}")
    return warnings


def _tail(sniffed: Sniffed, cells: Cells, source: str) -> tuple[str | None, str | None]:
    if found := tail.in_metadata(sniffed.heading.metadata, sniffed.delimiter):
        return found, "metadata line"
    for i in sniffed.tail_columns:
        if found := tail.in_cells(cells.texts[i].drop_nulls().unique().to_list()):
            return found, "column"
    return tail.in_path(str(Path(source).absolute()))


def _offset_text(offset: float | None) -> str | None:
    if offset is None:
        return None
    minutes = round(abs(offset) / 60)
    return f"{'-' if offset < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"
