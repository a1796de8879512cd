"""Maintenance entries, dispositions of findings, and whose log it is: what people tell the records.

What people typed stands a second time in ``entries.csv`` and ``dispositions.csv`` beside the database, so that
it outlives it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from analyzer.aircraft import TailError, tail_name
from analyzer.cells import guarded, unguarded
from analyzer.logs.source import ENTRIES_FILE
from analyzer.records.durable import write_whole
from analyzer.records.holding import check_tail_index
from analyzer.records.keeping import ASSIGNED, TOLD, mark_stale, seal_log
from analyzer.records.people import Role
from analyzer.records.problems import RecordsError
from analyzer.records.seals import hold, seal, words_seal
from analyzer.records.store import Store, sentences
from analyzer.records.tables import dispositions, entries, flights, logs
from analyzer.records.verdicts import Disposed
from analyzer.small_files import read_bytes, read_text
from analyzer.trends.entries import CAPACITY, COLUMNS, Entry, make_entry, read_entries

DISPOSITIONS_FILE = "dispositions.csv"
ASSIGNED_FILE = "assigned.csv"
#: Largest file beside the database that is read [bytes].
MOST_BESIDE = 100_000_000
ENTRY_COLUMNS = (*COLUMNS, CAPACITY, "made_at")
#: Sealed of a disposition; which entry fixed it may go with the entry.
SAID_COLUMNS = ("tail", "finding", "at", "verdict", "who", "words", "made_at")
__all__ = [
    "DISPOSITIONS_FILE", "Disposition", "KeptEntry", "add_entries", "assign", "delete_entry", "dispose",
    "edit_entry", "entries_of", "entry_mark", "kept_dispositions", "kept_entries", "settled_findings",
    "take_in_what_people_said",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class KeptEntry:
    """A maintenance entry with its number."""

    id: int
    entry: Entry
    made_at: str


@dataclass(frozen=True, slots=True)
class Disposition:
    """What a person said of a finding; ``at`` is the start of its flight, or when a trend finding was raised."""

    id: int
    tail: str
    finding: str
    at: str
    verdict: Disposed
    who: str
    words: str
    entry_id: int | None  # the entry that fixed it
    made_at: str


def said_seal(table: Table, row: Mapping[Any, Any]) -> str:
    """The seal of a row of ``entries`` or ``dispositions``.

    What is not there is not sealed, so that entries that were kept before capacity tests were have the same seal.
    """
    columns = ENTRY_COLUMNS if table is entries else SAID_COLUMNS
    return words_seal(row, [name for name in columns if name != CAPACITY or row[CAPACITY] is not None])


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def entries_of(connection: Connection, tail: str | None = None) -> list[KeptEntry]:
    """Give the entries of one tail or of all, in order of time.

    Raises
    ------
    DamagedError
        When one is not what was written, or the database finds fewer of a tail than it holds.
    """
    asked = select(entries).order_by(entries.c.when, entries.c.id)
    if tail is not None:
        check_tail_index(connection, entries, tail.upper())
        asked = asked.where(entries.c.tail == tail.upper())
    rows = connection.execute(asked).mappings().all()
    for row in rows:
        hold(row["seal"], said_seal(entries, row), f"maintenance entry {row['id']}")
    told = (*COLUMNS, CAPACITY)
    return [KeptEntry(row["id"], make_entry(*(row[name] for name in told)), row["made_at"]) for row in rows]


def kept_entries(store: Store, tail: str | None = None) -> list[KeptEntry]:
    """Give the maintenance entries of one tail or of all, in order of time."""
    with store.reading() as connection:
        return entries_of(connection, tail)


def take_in_what_people_said(store: Store) -> int:
    """Take entries and dispositions from the files beside a database that has none, as after it was lost; how many.

    Called before either file is written, so that a new database never writes over what an old one's held.

    Raises
    ------
    RecordsError, EntriesError
        When a file cannot be read; nothing was taken from it.
    """
    taken = 0
    file, said = store.folder / ENTRIES_FILE, store.folder / DISPOSITIONS_FILE
    with store.reading() as connection:
        entered = connection.execute(select(entries.c.id).limit(1)).first()
        disposed = connection.execute(select(dispositions.c.id).limit(1)).first()
    if entered is None and file.exists() and (made := read_entries(file)):
        with store.writing() as connection:
            taken += _insert_entries(connection, made)
    if disposed is None and said.exists() and (rows := _read_dispositions(store, said)):
        with store.writing() as connection:
            sealed = [row | {"seal": said_seal(dispositions, row)} for row in rows]
            connection.execute(insert(dispositions), sealed)
        taken += len(rows)
    return taken


def put_words_back(store: Store, table: Table, damaged: list[int]) -> bool:
    """Put damaged rows of entries or dispositions right by the lines of the file beside the database.

    Rows and lines stand in the same order; where there are not as many of them nothing is done.

    Raises
    ------
    RecordsError, EntriesError
        When the file cannot be read.
    """
    if table is entries:
        path, columns = store.folder / ENTRIES_FILE, list(ENTRY_COLUMNS)
        lines = [_row(one) for one in read_entries(path)] if path.exists() else []
    else:
        path, columns = store.folder / DISPOSITIONS_FILE, list(SAID_COLUMNS)
        lines = _read_dispositions(store, path) if path.exists() else []
    with store.writing() as connection:
        numbers = connection.execute(select(table.c.id).order_by(table.c.id)).scalars().all()
        if len(numbers) != len(lines):
            return False
        for number, line in zip(numbers, lines, strict=True):
            if number not in damaged:
                continue
            row = {"made_at": _now()} | {name: line[name] for name in columns if name in line}
            connection.execute(update(table).where(table.c.id == number).values(**row, seal=said_seal(table, row)))
            mark_stale(connection, row["tail"])
    return True


def _read_dispositions(store: Store, file: Path) -> list[dict[str, Any]]:
    """The rows of a file of dispositions; which entry fixed what is not known any more."""
    names = [column.name for column in dispositions.columns if column.name not in ("id", "entry_id", "seal")]
    try:
        with sentences(store.folder):
            data = read_bytes(file, MOST_BESIDE)
        rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    except (UnicodeDecodeError, csv.Error) as problem:
        raise RecordsError(f"{file} cannot be read ({problem}); correct it, or move it away.") from problem
    if any(row.get(name) is None for row in rows for name in names):
        raise RecordsError(
            f"{file} must have the columns {', '.join(names)} in every line; correct it, or move it away."
        )
    return [{name: unguarded(row[name]) for name in names} | {"entry_id": None} for row in rows]


def _row(entry: Entry) -> dict[str, Any]:
    row = {"tail": entry.tail, "when": entry.when.isoformat(), "kind": entry.kind, "words": entry.words}
    return row | {CAPACITY: entry.capacity}


def add_entries(store: Store, made: Iterable[Entry]) -> int:
    """Keep entries; one that stands there already is left out. Gives how many are new."""
    store.allow(Role.EDITOR)
    made = list(made)
    for entry in made:
        _refuse_ahead(entry)
    take_in_what_people_said(store)
    with store.writing() as connection:
        new = _insert_entries(connection, made)
        _write_beside(store, connection, entries, (*COLUMNS, CAPACITY), ENTRIES_FILE)
    return new


def _refuse_ahead(entry: Entry) -> None:
    """Refuse a capacity test of a day to come: a slip of the pen there would hide all wear until then."""
    if entry.capacity is not None and entry.when > datetime.now() + timedelta(days=1):
        raise RecordsError(f"A capacity test of {entry.when:%Y-%m-%d} lies ahead; give the day on which it was made.")


def _insert_entries(connection: Connection, made: Iterable[Entry]) -> int:
    new = 0
    for entry in made:
        row = _row(entry)
        alike = connection.execute(select(entries).where(*(entries.c[name] == row[name] for name in COLUMNS)))
        there = alike.mappings().all()
        if any(entry.capacity in (None, one[CAPACITY]) for one in there):
            continue
        if there and there[0][CAPACITY] is None:  # the same work, whose test is told only now
            told = {**there[0], CAPACITY: entry.capacity}
            values = {CAPACITY: entry.capacity, "seal": said_seal(entries, told)}
            connection.execute(update(entries).where(entries.c.id == told["id"]).values(**values))
            mark_stale(connection, entry.tail)
            continue
        row |= {"made_at": _now()}
        connection.execute(insert(entries).values(**row, seal=said_seal(entries, row)))
        mark_stale(connection, entry.tail)
        new += 1
    return new


def entry_mark(entry: Entry) -> str:
    """What an entry is told by from what stands under its number once somebody else changed it or it is gone."""
    return seal(entry.tail, entry.when.isoformat(), entry.kind, entry.words, entry.capacity)


def edit_entry(store: Store, number: int, changed: Entry, seen: str | None = None) -> Entry:
    """Put an entry in another's place; gives the one that stood there.

    Parameters
    ----------
    store : open for writing
    number : of the entry
    changed : what it is from now on
    seen : mark of the entry that whoever changes it saw, where it may have been changed since

    Raises
    ------
    RecordsError
        When there is no entry of that number, or it is not the one that was seen.
    """
    store.allow(Role.EDITOR)
    _refuse_ahead(changed)
    with store.writing() as connection:
        before = _entry(connection, number, seen)
        made = select(entries.c.made_at).where(entries.c.id == number)
        row = _row(changed) | {"made_at": connection.execute(made).scalar_one()}
        row["seal"] = said_seal(entries, row)
        connection.execute(update(entries).where(entries.c.id == number).values(**row))
        for tail in {before.tail, changed.tail}:
            mark_stale(connection, tail)
        _write_beside(store, connection, entries, (*COLUMNS, CAPACITY), ENTRIES_FILE)
    return before


def delete_entry(store: Store, number: int, seen: str | None = None) -> Entry:
    """Remove an entry; gives it.

    Parameters
    ----------
    store : open for writing
    number : of the entry
    seen : mark of the entry that whoever removes it saw, where it may have been changed since

    Raises
    ------
    RecordsError
        When there is no entry of that number, or it is not the one that was seen.
    """
    store.allow(Role.EDITOR)
    with store.writing() as connection:
        before = _entry(connection, number, seen)
        fixed_by = update(dispositions).where(dispositions.c.entry_id == number)
        connection.execute(fixed_by.values(entry_id=None))  # told before what it follows from, whatever the engine
        connection.execute(delete(entries).where(entries.c.id == number))
        mark_stale(connection, before.tail)
        _write_beside(store, connection, entries, (*COLUMNS, CAPACITY), ENTRIES_FILE)
    return before


def _entry(connection: Connection, number: int, seen: str | None = None) -> Entry:
    found = next((kept.entry for kept in entries_of(connection) if kept.id == number), None)
    if seen is not None and (found is None or entry_mark(found) != seen):
        raise RecordsError(
            "Somebody else changed or removed that maintenance entry meanwhile, so nothing was done. Reload the page "
            "and look at it again."
        )
    if found is not None:
        return found
    raise RecordsError(f"There is no maintenance entry {number}; list them with: taper entry --list")


def dispose(
    store: Store, tail: str, finding: str, at: str, verdict: str, who: str, words: str = "", entry_id: int | None = None
) -> None:
    """Keep what a person says of a finding; earlier ones stay.

    The same said again on the same day is kept once: it was called again because the first call was stopped.

    Raises
    ------
    RecordsError
        When the verdict is not known, nobody is named, or the entry does not exist.
    """
    store.allow(Role.EDITOR)
    if verdict not in set(Disposed):
        raise RecordsError(f"'{verdict}' is not an outcome; one of: {', '.join(Disposed)}")
    if not who.strip():
        raise RecordsError("An outcome needs the name of who decided it.")
    row = {
        "tail": tail.upper(), "finding": finding, "at": at, "verdict": verdict, "who": who.strip(),
        "words": words.strip(), "entry_id": entry_id, "made_at": _now(),
    }  # fmt: skip
    take_in_what_people_said(store)
    with store.writing() as connection:
        if entry_id is not None:
            _entry(connection, entry_id)
        if _said_today(connection, row):
            return
        connection.execute(insert(dispositions).values(**row, seal=said_seal(dispositions, row)))
        _write_beside(store, connection, dispositions, tuple(row), DISPOSITIONS_FILE)


def _said_today(connection: Connection, row: Mapping[str, Any]) -> bool:
    """Whether the latest that was said of a finding is the same, and of the same day."""
    about = [dispositions.c[name] == row[name] for name in ("tail", "finding", "at")]
    asked = select(dispositions).where(*about).order_by(dispositions.c.id.desc()).limit(1)
    last = connection.execute(asked).mappings().first()
    told = ("verdict", "who", "words", "entry_id")
    return (
        last is not None
        and all(last[name] == row[name] for name in told)
        and last["made_at"][:10] == row["made_at"][:10]
    )


def kept_dispositions(store: Store, tail: str | None = None) -> list[Disposition]:
    """Give the dispositions of one tail or of all, the latest last."""
    asked = select(dispositions).order_by(dispositions.c.id)
    with store.reading() as connection:
        if tail is not None:
            check_tail_index(connection, dispositions, tail.upper())
            asked = asked.where(dispositions.c.tail == tail.upper())
        rows = connection.execute(asked).mappings().all()
    for row in rows:
        hold(row["seal"], said_seal(dispositions, row), f"disposition {row['id']}")
    return [_disposition({name: value for name, value in row.items() if name != "seal"}) for row in rows]


def _disposition(row: dict[str, Any]) -> Disposition:
    return Disposition(**row | {"verdict": Disposed(row["verdict"])})


def settled_findings(dispositions: Iterable[Disposition]) -> dict[str, frozenset[tuple[str, str]]]:
    """Give tail -> the findings that people have settled, by kind and by when they were raised or seen.

    ``dispositions`` with the latest last; of what was said of one finding the latest counts.
    """
    found: dict[str, set[tuple[str, str]]] = {}
    for one in dispositions:
        settled = found.setdefault(one.tail, set())
        (settled.add if one.verdict.settles else settled.discard)((one.finding, one.at))
    return {tail: frozenset(own) for tail, own in found.items() if own}


def _write_beside(store: Store, connection: Connection, table: Table, columns: tuple[str, ...], name: str) -> None:
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(columns)
    for row in connection.execute(select(table).order_by(table.c.id)).mappings():
        hold(row["seal"], said_seal(table, row), f"line {row['id']} of {name}")  # the file may hold it still
        out.writerow([guarded(str(row[column])) if row[column] is not None else "" for column in columns])
    with sentences(store.folder):
        write_whole(store.folder / name, text.getvalue().encode())


def _write_assigned(store: Store, connection: Connection) -> None:
    """Write beside the database whose logs people said these are: hash and tail."""
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(("hash", "tail"))
    told = select(logs.c.hash, logs.c.tail).where(logs.c.tail_from == ASSIGNED).order_by(logs.c.hash)
    out.writerows(connection.execute(told))
    write_whole(store.folder / ASSIGNED_FILE, text.getvalue().encode())


def assigned_beside(folder: Path) -> dict[str, str]:
    """Whose logs people said these are, from the file beside the database: hash -> tail; lines spoilt are left out."""
    path = folder / ASSIGNED_FILE
    try:
        rows = csv.reader(io.StringIO(read_text(path, MOST_BESIDE)))
        return {row[0]: row[1] for row in rows if len(row) == 2 and len(row[0]) == 64 and row[1]}
    except (OSError, UnicodeDecodeError, csv.Error):
        return {}


def assign(store: Store, tail: str, log_ids: Iterable[int]) -> int:
    """Say whose logs these are; gives how many were changed. Their flights join the tail's trends.

    Raises
    ------
    RecordsError
        When the tail is none.
    """
    store.allow(Role.EDITOR)
    try:
        name, changed = tail_name(tail), 0
    except TailError as problem:
        raise RecordsError(str(problem)) from problem
    with store.writing() as connection:
        for log_id in log_ids:
            before = connection.execute(select(logs.c.tail).where(logs.c.id == log_id)).first()
            if before is None or before.tail == name:
                continue
            connection.execute(update(logs).where(logs.c.id == log_id).values(tail=name, tail_from=ASSIGNED))
            connection.execute(update(flights).where(flights.c.log_id == log_id).values(tail=name))
            seal_log(connection, log_id)
            if before.tail:
                mark_stale(connection, before.tail)
            changed += 1
        if changed:
            mark_stale(connection, name)
            _write_assigned(store, connection)
    return changed


def take_back_tail(store: Store, log_ids: Iterable[int]) -> int:
    """Take back what people said of whose these logs are; gives how many there were of that kind.

    They name no aircraft until they are read anew, which tells whom they name themselves.
    """
    store.allow(Role.EDITOR)
    changed = 0
    with store.writing() as connection:
        for log_id in log_ids:
            before = connection.execute(select(logs.c.tail, logs.c.tail_from).where(logs.c.id == log_id)).first()
            if before is None or before.tail_from not in TOLD:
                continue
            connection.execute(update(logs).where(logs.c.id == log_id).values(tail=None, tail_from=None))
            connection.execute(update(flights).where(flights.c.log_id == log_id).values(tail=None))
            seal_log(connection, log_id)
            mark_stale(connection, before.tail)
            changed += 1
        if changed:
            _write_assigned(store, connection)
    return changed
