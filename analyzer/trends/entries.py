"""Maintenance entries: their kinds, what each resets, and the file ``entries.csv`` that lists them."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

from analyzer.aircraft import TailError, tail_name
from analyzer.cells import unguarded
from analyzer.phrases import counted
from analyzer.shipped_tables import read_table
from analyzer.small_files import read_text
from analyzer.trends.dates import date_named

KINDS_FILE = Path(__file__).with_name("entries.toml")
COLUMNS = ("tail", "when", "kind", "words")
#: A column that a file of entries may have beside those.
CAPACITY = "capacity"
#: Kinds of work at which the battery's capacity is tested.
TESTED_AT = ("battery_serviced", "battery_replaced")
#: An entry that tells of no work: an aircraft that would not start.
STRANDED = "stranded"
#: What a test may come to [% of rated]: a new battery gives somewhat more than it is rated for.
LEAST_CAPACITY, MOST_CAPACITY = 1.0, 150.0


class EntriesError(ValueError):
    """Maintenance entries that cannot be used; the message says what is wrong, where, and what to do."""


@dataclass(frozen=True, slots=True)
class WorkKind:
    """One kind of entry."""

    name: str
    words: str
    resets: frozenset[str]  # measures whose trend starts anew
    ends: frozenset[str]  # findings of single flights that it is done to end


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing done to one aircraft."""

    tail: str
    when: datetime  # naive, the clock of the logs
    kind: str  # a key of ``kinds()``
    words: str
    capacity: float | None = None  # of the battery as tested then [% of rated]


@cache
def kinds() -> Mapping[str, WorkKind]:
    """Every kind of ``entries.toml`` by name."""
    document = read_table(KINDS_FILE)
    return {
        name: WorkKind(name, entry["words"], frozenset(entry["resets"]), frozenset(entry["ends"]))
        for name, entry in document.items()
    }


def kinds_reset(entries: Iterable[Entry], measure: str) -> list[Entry]:
    """Give the entries that start a measure's trend anew."""
    return [entry for entry in entries if measure in kinds()[entry.kind].resets]


def make_entry(
    tail: str,
    when: str,
    kind: str,
    words: str,
    capacity: float | str | None = None,
    *,
    today: datetime | None = None,
) -> Entry:
    """Give an entry from what a person wrote; ``today`` lets it be of "yesterday".

    ``capacity`` is what a capacity test came to [% of rated]; None or "" where none was made.

    Raises
    ------
    EntriesError
        When the moment is no date, the kind is not known (the nearest right one is named), or the capacity cannot be.
    """
    name = kind.strip().lower()
    try:
        whose = tail_name(tail)
    except TailError as problem:
        raise EntriesError(f"an entry needs a tail, such as N047KT: {problem}") from problem
    if name not in kinds():
        near = difflib.get_close_matches(name, kinds(), n=1, cutoff=0.4)
        hint = f"did you mean '{near[0]}'?" if near else "kinds: " + ", ".join(kinds())
        raise EntriesError(f"'{kind}' is not a kind of entry; {hint}")
    return Entry(whose, moment(when, today), name, words.strip(), _capacity(capacity, name))


def _capacity(given: float | str | None, kind: str) -> float | None:
    """A capacity as tested [% of rated]; None where none is given."""
    text = str(given).strip().removesuffix("%").strip() if given is not None else ""
    if not text:
        return None
    if kind not in TESTED_AT:
        told = " or ".join(kinds()[name].words for name in TESTED_AT)
        raise EntriesError(f"a capacity is found when the work is {told}; this is {kinds()[kind].words}")
    try:
        percent = float(text)
    except ValueError:
        percent = 0.0  # refused below, with what a capacity is
    if not LEAST_CAPACITY <= percent <= MOST_CAPACITY:
        told = f"{LEAST_CAPACITY:g} to {MOST_CAPACITY:g}"
        raise EntriesError(f"a capacity is given in % of rated, {told}, such as 85, not {text[:30]!r}")
    return percent


def moment(text: str, today: datetime | None = None) -> datetime:
    """Give the moment of a date or time as people write it (``dates``); ``today`` lets it be "yesterday".

    Raises
    ------
    EntriesError
        When it is neither.
    """
    try:
        return date_named(text, today)[0]
    except ValueError as problem:
        raise EntriesError(str(problem)) from None


def last_moment(text: str, today: datetime | None = None) -> datetime:
    """Give the last moment that a date or time means: a day is meant to its end.

    Raises
    ------
    EntriesError
        When it is neither.
    """
    until = moment(text, today)
    return until if date_named(text, today)[1] else until.replace(hour=23, minute=59, second=59)


def kind_of_words(words: str) -> str:
    """Give the kind that a few words mean: the best match with the kinds' own words, or ``other``.

    >>> kind_of_words("battery replaced")
    'battery_replaced'
    """
    told = words.strip().lower().replace(" ", "_")
    if told in kinds():
        return told
    spoken = set(words.lower().replace(",", " ").split())
    scores = {name: len(spoken & set(name.split("_"))) for name in kinds()}
    best = max(scores, key=lambda name: scores[name])
    return best if scores[best] >= 2 else "other"


def parse_entries(text: str, source: str) -> list[Entry]:
    """Read the lines of an ``entries.csv``.

    Raises
    ------
    EntriesError
        Naming all faulty lines at once, the first five in full.
    """
    rows = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    names = [(name or "").strip().lower() for name in rows.fieldnames or ()]
    missing = [column for column in COLUMNS if column not in names]
    if missing:
        raise EntriesError(
            f"{source}: the first line must name the columns tail,when,kind,words; missing: {', '.join(missing)}."
        )
    found, faults = [], []
    for number, row in enumerate(rows, 2):
        cells = {(name or "").strip().lower(): (cell or "") for name, cell in row.items() if isinstance(cell, str)}
        if not any(cell.strip() for cell in cells.values()):
            continue
        try:
            tail, when, kind, words, capacity = (unguarded(cells.get(column, "")) for column in (*COLUMNS, CAPACITY))
            found.append(make_entry(tail, when, kind, words, capacity))
        except EntriesError as fault:
            faults.append(f"  line {number}: {fault}")
    if faults:
        told = counted(len(faults), "entry", "entries")
        shown = "\n".join(faults[:5]) + ("\n  ..." if len(faults) > 5 else "")
        raise EntriesError(f"{source}: {told} cannot be read; nothing was taken\n{shown}")
    return found


def read_entries(path: Path) -> list[Entry]:
    """Read one file of entries.

    Raises
    ------
    EntriesError
        When it cannot be opened or read.
    """
    try:
        return parse_entries(read_text(path), str(path))
    except csv.Error as problem:
        raise EntriesError(f"{path}: the entries are no table that can be read ({problem}).") from problem
    except OSError as problem:
        raise EntriesError(f"{path}: the entries cannot be opened ({problem.strerror or problem}).") from problem
    except UnicodeDecodeError as problem:
        raise EntriesError(f"{path}: the entries are not UTF-8 text; save them as CSV in UTF-8.") from problem


def entries_beside(paths: Iterable[Path], name: str = "entries.csv") -> list[Entry]:
    """Read every file of entries in the folders among some paths, on all levels."""
    files = [file for path in paths if path.is_dir() for file in sorted(path.rglob(name))]
    return [entry for file in files for entry in read_entries(file)]
