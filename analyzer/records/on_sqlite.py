"""The tables of records in one file of their folder."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Collection, Hashable, Iterable, Iterator
from contextlib import closing
from functools import cached_property
from pathlib import Path
from urllib.parse import quote

import sqlalchemy
from sqlalchemy import DDL, Connection, Engine, event

from analyzer.records.changes import COLUMNS, NOTED, changed_columns, who_and_when
from analyzer.records.databases import PATIENCE_S
from analyzer.records.people import Person
from analyzer.records.problems import DamagedError, RecordsError, not_writable, shown
from analyzer.records.seals import seal
from analyzer.records.tables import ONLY_ADDED_TO, changes, damaged_tables
from analyzer.small_files import file_marks

DATABASE = "records.sqlite"
#: Of what a connection knows of itself: the tables that were there when it was given its triggers.
_NOTING = "noting"

for _event in ("UPDATE", "DELETE"):
    event.listen(
        changes,
        "after_create",
        DDL(  # type: ignore[no-untyped-call]
            f"CREATE TRIGGER changes_stay_{_event.lower()} BEFORE {_event} ON changes "
            f"BEGIN SELECT RAISE(ABORT, '{ONLY_ADDED_TO}'); END"
        ).execute_if(dialect="sqlite"),
    )


class OnSqlite:
    """The database in a folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._path = folder / DATABASE

    @property
    def keeps_open(self) -> bool:
        """Its file is always there, and a new connection must be told to note changes."""
        return True

    def there(self) -> bool:
        """Whether the file is there."""
        return self._path.exists()

    @cached_property
    def writable(self) -> bool:
        """Whether this account may write to file and folder."""
        return os.access(self._folder, os.W_OK) and (not self._path.exists() or os.access(self._path, os.W_OK))

    @cached_property
    def engine(self) -> Engine:
        """An engine whose transactions begin as they are meant: a writer takes its turn at once."""
        address = f"file:{_quoted(self._path)}?{'mode=rwc' if self.writable else _read_only(self._path)}"

        def connect() -> sqlite3.Connection:
            connection = sqlite3.connect(
                address, uri=True, timeout=PATIENCE_S, isolation_level=None, check_same_thread=False
            )
            connection.execute("PRAGMA foreign_keys = ON")
            if self.writable:
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA synchronous = FULL")
            return connection

        engine = sqlalchemy.create_engine("sqlite+pysqlite://", creator=connect, poolclass=sqlalchemy.NullPool)
        event.listen(engine, "begin", _begin)
        return engine

    def finish(self, connection: Connection) -> None:
        """Add nothing: triggers that note changes are each connection's own."""

    def damaged_tables(self, connection: Connection) -> list[str]:
        """The names of tables whose definition is not what they were made with."""
        return damaged_tables(connection)

    def fault(self, problem: Exception) -> RecordsError:
        """What a disk or the database can do wrong, by its own words."""
        reason = shown(str(getattr(problem, "orig", problem)))
        if any(told in str(problem).lower() for told in ("decode to utf-8", "malformed json")):
            return DamagedError("one of its rows in the database")
        return RecordsError(_said(self._folder, reason))

    def own_check(self, connection: Connection) -> list[tuple[str, str]]:
        """What SQLite's own check says; whoever opens it has looked at the tables' definitions."""
        away = "Move the database away (do not delete it) and run: taper rebuild."
        told = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check(20)")]
        found = [(f"The database's own check says: {one}.", away) for one in told if one != "ok"]
        lost = [row[0] for row in connection.exec_driver_sql("PRAGMA foreign_key_check")]
        return found + [(f"A row of {name} belongs to nothing that is kept.", "Run: taper rebuild.") for name in lost]

    def mend(self, connection: Connection) -> None:
        """Make the indexes anew."""
        connection.exec_driver_sql("REINDEX")

    def mark(self) -> Hashable:
        """Time and size of the files that hold it.

        The second one comes and goes with whoever reads, and is empty then.
        """
        files = (self._path, self._path.with_name(f"{DATABASE}-wal"))
        return tuple((changed, size) for changed, size in file_marks(files) if size)

    def copy(self, connection: Connection, to: Path) -> None:
        """Copy the file as it is at this moment."""
        source = connection.connection.driver_connection
        assert isinstance(source, sqlite3.Connection)
        with closing(sqlite3.connect(to)) as copied:
            source.backup(copied)
            copied.execute("PRAGMA journal_mode = DELETE")

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()


def _begin(connection: Connection) -> None:
    asked = connection.get_execution_options()
    writes = asked.get("writes", False)
    raw = connection.connection.driver_connection
    if writes and isinstance(raw, sqlite3.Connection):
        _note_changes(connection, raw, asked["person"])
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _note_changes(connection: Connection, raw: sqlite3.Connection, person: Person) -> None:
    """Let a connection that is about to write note what is changed, and by whom.

    The triggers are the connection's own and gone with it; nothing is written through one without them.
    """
    there = frozenset(name for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'"))
    if "changes" not in there:
        return
    raw.create_function("taper_told", 1, who_and_when(person).__getitem__)
    if connection.info.get(_NOTING) == there:
        return  # it has them from its transaction before
    raw.create_function("taper_seal", -1, lambda *values: seal(*values), deterministic=True)
    raw.execute("PRAGMA temp_store = MEMORY")
    for statement in _triggers(there):
        raw.execute(statement)
    connection.info[_NOTING] = there


def _triggers(there: Collection[str]) -> Iterator[str]:
    """One trigger an event, of the tables that are there: an older database is brought forward by a writer too."""
    for table, (what, kept, about) in NOTED.items():
        if table not in there:
            continue
        new, old = (_object(kept, row) for row in ("NEW", "OLD"))
        yield _trigger(table, "INSERT", f"{what} added", f"NEW.{about}", "NEW.tail", "NULL", new)
        yield _trigger(table, "DELETE", f"{what} removed", f"OLD.{about}", "OLD.tail", old, "NULL")
        differs = " OR ".join(f'OLD."{name}" IS NOT NEW."{name}"' for name in changed_columns(table))
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


def _read_only(database: Path) -> str:
    """How a database in a folder that cannot be written to is opened.

    Beside a writer of another account it is read as always. Only where nobody writes, as on a disk mounted
    read-only, the files beside the database cannot be made that reading needs, and it is taken for unchanging.
    """
    plain, unchanging = "mode=ro", "mode=ro&immutable=1"
    written = database.with_name(f"{database.name}-wal")
    if any(size for _, size in file_marks([written])):
        return plain
    try:
        with contextlib.closing(sqlite3.connect(f"file:{_quoted(database)}?{plain}", uri=True)) as tried:
            tried.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        return unchanging
    return plain


def _quoted(path: Path) -> str:
    return quote(str(path.resolve()))


def _said(folder: Path, reason: str) -> str:
    told = reason.lower()
    if "full" in told:
        return (
            f"The disk with the records in {folder} is full; what was kept before is unharmed. Make room and run "
            "the same command again."
        )
    if "locked" in told or "busy" in told:
        return (
            f"Another program has been writing to the records in {folder} for over {PATIENCE_S:.0f} s; nothing was "
            "changed. Wait for it and run the same command again."
        )
    if "i/o error" in told:
        return (
            f"The disk with the records in {folder} is full or failing ({reason}); what was kept before is unharmed. "
            "Make room, or copy the folder to a sound disk, and run the same command again."
        )
    if ONLY_ADDED_TO in told:
        return f"Nothing was changed: {ONLY_ADDED_TO}."
    if "readonly" in told or "unable to open" in told:
        return not_writable(folder)
    return (
        f"The database {folder / DATABASE} is damaged ({reason}). Nothing was changed. Move that file away (do "
        "not delete it) and run: taper rebuild. It makes a new one from the original logs, the readings of logs kept "
        "without originals, entries, dispositions and assignments in the same folder."
    )
