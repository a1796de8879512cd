"""The log of changes: who changed what, when, with what stood there before and after. It is only ever added to.

The database itself writes it, by triggers on every table that holds what people said or brought, and refuses to change
or remove a line of it. Each line seals the one before it, so that none can be taken out unseen. A second copy stands in
``changes.jsonl`` beside the database, so that it outlives it.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, insert, select

from analyzer.records.holding import check_tail_index
from analyzer.records.people import Person
from analyzer.records.problems import RecordsError
from analyzer.records.seals import seal
from analyzer.records.tables import changes

CHANGES_FILE = "changes.jsonl"
COLUMNS = ("id", "at", "who", "role", "by", "what", "about", "tail", "before", "after", "seal")
_SEALED = COLUMNS[1:-1]
#: Largest copy beside the database that is read [bytes].
MOST_BESIDE = 1_000_000_000
#: What a line is told by, where a table is written: table -> (what, columns kept, the column that says about what).
NOTED = {
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
    damaged: bool = False  # the line, or the one before it, is not what was written


def changed_columns(table: str) -> tuple[str, ...]:
    """The columns of a table by which a row is changed and not only worked out anew."""
    return _OF_LOGS if table == "logs" else NOTED[table][1]


def who_and_when(person: Person) -> dict[str, str]:
    """Who changes something now, as a line begins."""
    now = datetime.now(UTC).isoformat(timespec="seconds")
    return {"at": now, "who": person.name, "role": person.role.word, "by": person.by}


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
    row: dict[str, Any] = who_and_when(person)
    row |= {"what": what, "about": about, "tail": tail, "before": _text(before), "after": _text(after)}
    last = connection.execute(select(changes.c.id, changes.c.seal).order_by(changes.c.id.desc()).limit(1)).first()
    number, sealed = (last.id + 1, last.seal) if last else (1, None)
    connection.execute(insert(changes).values(id=number, **row, seal=_seal_of(sealed, row)))


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
        When the database finds fewer of a tail than it holds.
    """
    earlier = changes.alias("earlier")
    joined = changes.outerjoin(earlier, earlier.c.id == changes.c.id - 1)
    asked = select(changes, earlier.c.seal.label("last")).select_from(joined).order_by(changes.c.id.desc())
    if tail is not None:
        check_tail_index(connection, changes, tail.upper())
        asked = asked.where(changes.c.tail == tail.upper())
    if before is not None:
        asked = asked.where(changes.c.id < before)
    if newest is not None:
        asked = asked.limit(newest)
    return [_change(row) for row in connection.execute(asked).mappings()]


def _change(row: Mapping[Any, Any]) -> Change:
    """A line as it stands; one that is damaged cannot be made anew, and is marked so that nobody takes it for whole."""
    damaged = row["seal"] != _seal_of(row["last"], row)
    before, after = (_whole(row[name]) for name in ("before", "after"))
    return Change(**{name: row[name] for name in COLUMNS[:8]}, before=before, after=after, damaged=damaged)


def _whole(text: str | None) -> dict[str, Any] | None:
    """What stood there before or after; None where nothing did, or a disk changed it to what cannot be read."""
    try:
        whole = json.loads(text) if text is not None else None
    except ValueError:
        return None
    return whole if isinstance(whole, dict) else None


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
