"""The records' folder and its database: opening, versions, transactions, and what can go wrong as sentences."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy
from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import DatabaseError

from analyzer.corrections import CORRECTIONS, Corrections, CorrectionsError, put_in_effect
from analyzer.records.changes import copy_beside, prepare, take_in_changes
from analyzer.records.durable import make_folder
from analyzer.records.people import Person, Role, at_the_machine
from analyzer.records.problems import DamagedError, RecordsError, shown
from analyzer.records.tables import ONLY_ADDED_TO, SCHEMA, STEPS, metadata, schema_version

DATABASE, ORIGINALS, TRACES = "records.sqlite", "originals", "traces"
#: A second program waits this long for the first one's transaction [s].
PATIENCE_S = 60.0


class Store:
    """The records of one folder. Use as a context manager, or call ``close``."""

    def __init__(self, folder: Path, engine: Engine, *, writable: bool, person: Person) -> None:
        self.folder = folder
        self.writable = writable
        self.person = person
        self._engine = engine

    def __reduce__(self) -> tuple[Callable[[Path, Person], Store], tuple[Path, Person]]:
        """A process that is given a store opens the folder for itself."""
        return _open_for, (self.folder, self.person)

    def asked_by(self, person: Person) -> Store:
        """The same records as somebody asks something of them."""
        return Store(self.folder, self._engine, writable=self.writable, person=person)

    def allow(self, role: Role) -> None:
        """Check that who asks may what a role may.

        Raises
        ------
        NotAllowedError
            When they may not.
        """
        self.person.allow(role)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the database; never waits for a writer."""
        with sentences(self.folder), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it is kept, or nothing."""
        if not self.writable:
            raise RecordsError(_not_writable(self.folder))
        with sentences(self.folder), self._engine.connect() as plain:
            connection = plain.execution_options(writes=True, person=self.person)
            with connection.begin():
                yield connection
        self._copy_changes()

    def _copy_changes(self) -> None:
        """Bring the copy of the changes beside the database up to date; what fails is made up for the next time."""
        with contextlib.suppress(OSError, DatabaseError, sqlite3.Error), self._engine.connect() as plain:
            connection = plain.execution_options(writes=True, person=self.person)
            with connection.begin():
                copy_beside(connection, self.folder)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_records(folder: Path, *, create: bool = False, person: Person | None = None) -> Store:
    """Open the records of a folder, bringing an older database forward; the corrections beside them are in effect then.

    Parameters
    ----------
    folder : of the records
    create : make an empty folder and database where there are none
    person : who asks something of them; whoever is at this machine when left out

    Raises
    ------
    RecordsError
        When there are none, or they cannot be used.
    """
    database = folder / DATABASE
    if not database.exists():
        if not create:
            raise RecordsError(
                f"There are no records in {folder}; keep some logs first with: taper add PATH "
                "(--records DIR or TAPER_RECORDS names another folder)."
            )
        with sentences(folder):
            for part in (folder, folder / ORIGINALS, folder / TRACES):
                make_folder(part)
    writable = os.access(folder, os.W_OK) and (not database.exists() or os.access(database, os.W_OK))
    if create and not writable:
        raise RecordsError(_not_writable(folder))
    judge_by_corrections(folder)
    store = Store(folder, _engine(database, writable=writable), writable=writable, person=person or at_the_machine())
    try:
        _check(store)
    except BaseException:
        store.close()
        raise
    return store


def judge_by_corrections(folder: Path) -> None:
    """Put in effect what stands in the file of corrections beside the records, or that there is none.

    Raises
    ------
    RecordsError
        When the file cannot be used.
    """
    corrections = Corrections()
    if (folder / CORRECTIONS).exists():
        from analyzer.corrections_file import corrections_beside  # loads what it corrects

        try:
            corrections = corrections_beside(folder)
        except CorrectionsError as problem:
            raise RecordsError(str(problem)) from problem
    put_in_effect(corrections)


def _open_for(folder: Path, person: Person) -> Store:
    return open_records(folder, person=person)


def _not_writable(folder: Path) -> str:
    return (
        f"The records' folder {folder} cannot be written to; nothing was changed. Correct its permissions, "
        "or name another folder with --records."
    )


def _engine(database: Path, *, writable: bool) -> Engine:
    """An engine whose transactions begin as they are meant: a writer takes its turn at once."""
    address = f"file:{_quoted(database)}?{'mode=rwc' if writable else _read_only(database)}"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            address, uri=True, timeout=PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        connection.execute("PRAGMA foreign_keys = ON")
        if writable:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
        return connection

    engine = sqlalchemy.create_engine("sqlite+pysqlite://", creator=connect, poolclass=sqlalchemy.NullPool)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        asked = connection.get_execution_options()
        writes = asked.get("writes", False)
        raw = connection.connection.driver_connection
        if writes and isinstance(raw, sqlite3.Connection):
            prepare(raw, asked["person"])
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _read_only(database: Path) -> str:
    """How a database in a folder that cannot be written to is opened.

    Beside a writer of another account it is read as always. Only where nobody writes, as on a disk mounted
    read-only, the files beside the database cannot be made that reading needs, and it is taken for unchanging.
    """
    plain, unchanging = "mode=ro", "mode=ro&immutable=1"
    written = database.with_name(f"{database.name}-wal")
    if written.exists() and written.stat().st_size:
        return plain
    try:
        with contextlib.closing(sqlite3.connect(f"file:{_quoted(database)}?{plain}", uri=True)) as tried:
            tried.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        return unchanging
    return plain


def _quoted(path: Path) -> str:
    from urllib.parse import quote

    return quote(str(path.resolve()))


def _check(store: Store) -> None:
    """Make the tables of an empty database, bring an older one forward, refuse a newer one."""
    with store.reading() as connection:
        version = _version(connection)
    if version == SCHEMA:
        return
    if version is not None and version > SCHEMA:
        raise RecordsError(
            f"The records in {store.folder} were written by a newer version of this program (their version is "
            f"{version}, this program knows up to {SCHEMA}). Nothing was changed; update the program."
        )
    with store.writing() as connection:
        version = _version(connection)  # another program may have been first
        if version is None:
            metadata.create_all(connection)
            connection.execute(schema_version.insert().values(version=SCHEMA))
            take_in_changes(connection, store.folder)
            return
        for step in range(version, SCHEMA):
            STEPS[step](connection)
        connection.execute(schema_version.update().values(version=SCHEMA))


def _version(connection: Connection) -> int | None:
    if not sqlalchemy.inspect(connection).has_table(schema_version.name):
        return None
    version = connection.execute(sqlalchemy.select(schema_version.c.version)).scalar()
    return None if version is None else int(version)


@contextmanager
def sentences(folder: Path) -> Iterator[None]:
    """Turn what a disk or a database can do wrong into one sentence."""
    try:
        yield
    except (json.JSONDecodeError, UnicodeDecodeError) as problem:  # of a text in the database
        raise DamagedError("one of its rows in the database") from problem
    except (DatabaseError, sqlite3.DatabaseError) as problem:
        if any(told in str(problem).lower() for told in ("decode to utf-8", "malformed json")):
            raise DamagedError("one of its rows in the database") from problem
        raise RecordsError(_of_database(folder, shown(str(getattr(problem, "orig", problem))))) from problem
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise RecordsError(
            f"The records in {folder} cannot be written or read ({reason}). What was kept before is unharmed; "
            "make room or correct the permissions, and run the same command again."
        ) from problem


def _of_database(folder: Path, reason: str) -> str:
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
        return _not_writable(folder)
    return (
        f"The database {folder / DATABASE} is damaged ({reason}). Nothing was changed. Move that file away (do "
        "not delete it) and run: taper rebuild. It makes a new one from the original logs, the readings of logs kept "
        "without originals, entries, dispositions and assignments in the same folder."
    )
