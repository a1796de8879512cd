"""The log of changes: who changed what, when, with what stood there before and after. It is only ever added to.

The database itself writes it, by triggers on every table that holds what people said or brought, and refuses to change
or remove a line of it. Each line seals the one before it, so that none can be taken out unseen. A second copy stands in
``changes.jsonl`` beside the database, so that it outlives it.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select

from analyzer.records.people import Person
from analyzer.records.problems import DamagedError, RecordsError
from analyzer.records.seals import seal
from analyzer.records.tables import changes

CHANGES_FILE = "changes.jsonl"
COLUMNS = ("id", "at", "who", "role", "by", "what", "about", "tail", "before", "after", "seal")
_SEALED = COLUMNS[1:-1]
#: Largest copy beside the database that is read [bytes].
MOST_BESIDE = 1_000_000_000
#: What a line is told by, where a table is written: table -> (what, columns kept, the column that says about what).
_TABLES = {
    "entries": ("maintenance entry", ("tail", "when", "kind", "words", "capacity"), "id"),
    "dispositions": ("disposition", ("tail", "finding", "at", "verdict", "who", "words", "entry_id"), "id"),
    "told": ("message", ("recipient", "tail", "key", "at"), "recipient"),
    "logs": ("log", ("source", "hash", "tail", "tail_from", "rows", "starts", "columns", "original_kept"), "id"),
}
#: What of a log people change; all else of it is worked out.
_OF_LOGS = ("tail", "columns")


@dataclass(frozen=True, slots=True)
class Change:
    """One line of the log of changes."""

    id: int
    at: str  # ISO 8601, UTC
    who: str
    role: str
    by: str  # "command line", "pages", ...
    what: str
    about: str
    tail: str | None
    before: dict[str, Any] | None
    after: dict[str, Any] | None


def prepare(raw: sqlite3.Connection, person: Person) -> None:
    """Let a connection that is about to write note what is changed, and by whom.

    The triggers are the connection's own and gone with it; nothing is written through one without them.
    """
    there = {name for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if changes.name not in there:
        return
    now = datetime.now(UTC).isoformat(timespec="seconds")
    told = {"at": now, "who": person.name, "role": person.role.word, "by": person.by}
    raw.create_function("taper_told", 1, told.__getitem__)
    raw.create_function("taper_seal", -1, lambda *values: seal(*values), deterministic=True)
    raw.execute("PRAGMA temp_store = MEMORY")
    for statement in _statements(there):
        raw.execute(statement)


def _statements(there: Collection[str]) -> Iterator[str]:
    """One trigger an event, of the tables that are there: an older database is brought forward by a writer too."""
    for table, (what, kept, about) in _TABLES.items():
        if table not in there:
            continue
        new, old = (_object(kept, row) for row in ("NEW", "OLD"))
        yield _trigger(table, "INSERT", f"{what} added", f"NEW.{about}", "NEW.tail", "NULL", new)
        yield _trigger(table, "DELETE", f"{what} removed", f"OLD.{about}", "OLD.tail", old, "NULL")
        watched = _OF_LOGS if table == "logs" else kept
        differs = " OR ".join(f'OLD."{name}" IS NOT NEW."{name}"' for name in watched)
        yield _trigger(table, "UPDATE", f"{what} changed", f"NEW.{about}", "NEW.tail", old, new, f"WHEN {differs}")


def _object(names: Iterable[str], row: str) -> str:
    return "json_object(" + ", ".join(f"'{name}', {row}.\"{name}\"" for name in names) + ")"


def _trigger(table: str, event: str, what: str, about: str, tail: str, before: str, after: str, when: str = "") -> str:
    values = (
        "taper_told('at')", "taper_told('who')", "taper_told('role')", "taper_told('by')", f"'{what}'",
        f"CAST({about} AS TEXT)", tail, before, after,
    )  # fmt: skip
    last = "(SELECT seal FROM changes ORDER BY id DESC LIMIT 1)"
    names, told = ", ".join(f'"{name}"' for name in COLUMNS[1:]), ", ".join(values)
    return (
        f"CREATE TEMP TRIGGER IF NOT EXISTS note_{table}_{event} AFTER {event} ON main.{table} {when} "
        f"BEGIN INSERT INTO changes ({names}) VALUES ({told}, taper_seal({last}, {told})); END"
    )


def note(
    connection: Connection,
    person: Person,
    what: str,
    about: str,
    *,
    tail: str | None = None,
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
) -> None:
    """Note a change of what stands in no table: the fleet file, an account."""
    row: dict[str, Any] = {
        "at": datetime.now(UTC).isoformat(timespec="seconds"), "who": person.name, "role": person.role.word,
        "by": person.by, "what": what, "about": about, "tail": tail, "before": _text(before), "after": _text(after),
    }  # fmt: skip
    last = connection.execute(select(changes.c.seal).order_by(changes.c.id.desc()).limit(1)).scalar()
    connection.execute(insert(changes).values(**row, seal=_seal_of(last, row)))


def _text(value: Mapping[str, Any] | None) -> str | None:
    return None if value is None else json.dumps(value, ensure_ascii=False)


def _seal_of(last: str | None, row: Mapping[Any, Any]) -> str:
    return seal(last, *(row[name] for name in _SEALED))


def kept_changes(
    connection: Connection, *, tail: str | None = None, newest: int | None = None, before: int | None = None
) -> list[Change]:
    """Give the changes, the newest first: all, or of one tail, at most so many, those before a line's number.

    Raises
    ------
    DamagedError
        When one is not what was written.
    """
    asked = select(changes).order_by(changes.c.id.desc())
    if tail is not None:
        asked = asked.where(changes.c.tail == tail.upper())
    if before is not None:
        asked = asked.where(changes.c.id < before)
    if newest is not None:
        asked = asked.limit(newest)
    return [_change(row) for row in connection.execute(asked).mappings()]


def _change(row: Mapping[Any, Any]) -> Change:
    try:
        told = {name: json.loads(row[name]) if row[name] is not None else None for name in ("before", "after")}
    except ValueError as problem:
        raise DamagedError(f"line {row['id']} of the log of changes") from problem
    return Change(**{name: row[name] for name in COLUMNS[:8]}, before=told["before"], after=told["after"])


def broken_at(connection: Connection) -> int | None:
    """The first line of the log of changes that is not what was written, or before which one is missing."""
    last = None
    rows = connection.execute(select(changes).order_by(changes.c.id)).mappings()
    for number, row in enumerate(rows, 1):
        if row["id"] != number or row["seal"] != _seal_of(last, row):
            return number
        last = row["seal"]
    return None


def copy_beside(connection: Connection, folder: Path) -> None:
    """Add to the copy beside the database what it does not hold yet; nobody writes meanwhile.

    Raises
    ------
    OSError
        When it cannot be written; it is made up for the next time.
    """
    path = folder / CHANGES_FILE
    last = _last_beside(path)
    rows = connection.execute(select(changes).where(changes.c.id > last).order_by(changes.c.id)).mappings().all()
    if not rows:
        return
    lines = b"".join(_line(row) for row in rows)
    with path.open("ab") as file:
        file.write(lines)


def _line(row: Mapping[Any, Any]) -> bytes:
    return json.dumps({name: row[name] for name in COLUMNS}, ensure_ascii=True).encode() + b"\n"


def _last_beside(path: Path) -> int:
    """The number of the last whole line of the copy; what a stopped program left half written is taken away."""
    try:
        with path.open("rb") as file:
            end = file.seek(0, os.SEEK_END)
            whole, line = end, b""
            size = 4096
            while end:
                file.seek(max(0, end - size))
                tail = file.read(end - file.tell())
                cut = tail.rfind(b"\n")
                before = tail.rfind(b"\n", 0, cut) if cut > 0 else -1
                if (cut >= 0 and before >= 0) or size >= end:
                    whole = end - len(tail) + cut + 1
                    line = tail[before + 1 : cut + 1]
                    break
                size *= 8
    except FileNotFoundError:
        return 0
    if whole != end:
        os.truncate(path, whole)
    try:
        return int(json.loads(line)["id"]) if line else 0
    except (ValueError, KeyError, TypeError):
        return 0


def take_in_changes(connection: Connection, folder: Path) -> int:
    """Take the changes from the copy beside a database that has just been made; how many. A spoilt line ends it."""
    path, taken = folder / CHANGES_FILE, 0
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        if path.stat().st_size > MOST_BESIDE:
            raise RecordsError(f"{path} is larger than {MOST_BESIDE / 1e6:,.0f} MB; move it away.")
        with path.open("rb") as lines:
            for line in lines:
                row = json.loads(line)
                values = {name: row[name] for name in COLUMNS}
                if values["id"] != taken + 1:
                    break
                connection.execute(insert(changes).values(**values))
                taken += 1
    return taken
