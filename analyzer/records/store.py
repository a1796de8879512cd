"""The records of a folder and its database: opening, versions, transactions, and what can go wrong as sentences."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from uuid import uuid4

import sqlalchemy
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoneFreeError

from analyzer.corrections import CORRECTIONS, Corrections, CorrectionsError, put_in_effect
from analyzer.records.changes import copy_beside, take_in_changes
from analyzer.records.databases import Database, database_of
from analyzer.records.durable import make_folder
from analyzer.records.on_sqlite import DATABASE
from analyzer.records.people import Person, Role, at_the_machine
from analyzer.records.place import ORIGINALS, TRACES, Place, place_of
from analyzer.records.problems import DamagedError, NoRecordsError, RecordsError, not_writable
from analyzer.records.tables import SCHEMA, STEPS, metadata, schema_version

__all__ = ["DATABASE", "Store", "are_there", "judge_by_corrections", "open_records", "sentences"]


class _OfThread(threading.local):
    """The connection through which a thread writes several times."""

    sharing = False
    connection: Connection | None = None


class Store:
    """The records of one folder. Use as a context manager, or call ``close``."""

    def __init__(self, place: Place, database: Database, person: Person) -> None:
        self.place = place
        self.folder = place.folder
        self.database = database
        self.person = person
        self._own = _OfThread()
        self._name = uuid4().hex  # tells it from every other store, in other processes too

    @property
    def writable(self) -> bool:
        """Whether this account may write here."""
        return self.database.writable

    def __reduce__(self) -> tuple[Callable[[Place, Person, str], Store], tuple[Place, Person, str]]:
        """A process that is given a store opens the records for itself, once for all that it is given with it."""
        return _open_for, (self.place, self.person, self._name)

    def asked_by(self, person: Person) -> Store:
        """The same records as somebody asks something of them."""
        return Store(self.place, self.database, person)

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
        with self._sentences(), self.database.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it is kept, or nothing."""
        if not self.writable:
            raise RecordsError(not_writable(self.place))
        with self._sentences(), self._to_write() as plain:
            connection = plain.execution_options(writes=True, person=self.person)
            with connection.begin():
                yield connection
            self._copy_changes(connection)

    @contextmanager
    def many_writes(self) -> Iterator[None]:
        """Let this thread's transactions share a connection where preparing one takes as long as keeping a log.

        Of a server's database they do not: its pool has connections at hand, and looks whether one still lives.
        """
        own = self._own
        own.sharing = self.database.keeps_open
        try:
            yield
        finally:
            own.sharing = False
            if own.connection is not None:
                own.connection.close()
                own.connection = None

    @contextmanager
    def _to_write(self) -> Iterator[Connection]:
        """A connection to write through; one whose transaction failed is not used again."""
        own = self._own
        connection, own.connection = own.connection or self.database.engine.connect(), None
        try:
            yield connection
        except BaseException:
            connection.close()
            raise
        if own.sharing:
            own.connection = connection
        else:
            connection.close()

    @contextmanager
    def _sentences(self) -> Iterator[None]:
        """Turn what a disk or the database can do wrong into one sentence."""
        with sentences(self.folder):
            try:
                yield
            except (DBAPIError, NoneFreeError, sqlite3.DatabaseError) as problem:
                raise self.database.fault(problem) from problem

    def _copy_changes(self, connection: Connection) -> None:
        """Bring the copy of the changes beside the database up to date; what fails is made up for the next time."""
        with contextlib.suppress(OSError, DBAPIError, NoneFreeError, sqlite3.Error), connection.begin():
            copy_beside(connection, self.folder)

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_records(where: Place | Path, *, create: bool = False, person: Person | None = None) -> Store:
    """Open records, bringing an older database forward; the corrections beside them are in effect then.

    Parameters
    ----------
    where : the place of the records, or their folder
    create : make an empty folder and tables where there are none
    person : who asks something of them; whoever is at this machine when left out

    Raises
    ------
    RecordsError
        When there are none, or they cannot be used.
    """
    place = where if isinstance(where, Place) else place_of(where)
    store = Store(place, database_of(place), person or at_the_machine())
    try:
        _begin(store, create=create)
    except BaseException:
        store.close()
        raise
    return store


def _begin(store: Store, *, create: bool) -> None:
    new = not store.database.there()
    if new:
        if not create:
            raise NoRecordsError(
                f"There are no records in {store.place}; keep some logs first with: taper add PATH "
                "(--records DIR or TAPER_RECORDS names another folder)."
            )
        with sentences(store.folder):
            for part in (store.folder, store.folder / ORIGINALS, store.folder / TRACES):
                make_folder(part)
    if create and not store.writable:
        raise RecordsError(not_writable(store.place))
    judge_by_corrections(store.folder)
    _check(store)
    if new:
        store.database.there()  # another program may have been first, with another folder


def are_there(where: Place | Path) -> bool:
    """Whether there are records.

    Raises
    ------
    RecordsError
        When that cannot be told.
    """
    database = database_of(where if isinstance(where, Place) else place_of(where))
    try:
        return database.there()
    finally:
        database.close()


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


@lru_cache(maxsize=1)
def _open_for(place: Place, person: Person, _name: str) -> Store:
    """Open what another process has open under a name: a fleet's tails are worked out one by one, a task each."""
    return open_records(place, person=person)


def _check(store: Store) -> None:
    """Make the tables of an empty database, bring an older one forward, refuse a newer one."""
    try:
        with store.reading() as connection:
            version = _version(connection)
            damaged = store.database.damaged_tables(connection) if version == SCHEMA else []
    except DamagedError:
        version, damaged = None, ["tables"]
    if damaged:
        raise RecordsError(
            f"The database in {store.place} is damaged: its definition of {', '.join(damaged)} is not what was "
            "written. Move the database away (do not delete it) and run: taper rebuild."
        )
    if version == SCHEMA:
        return
    if version is not None and version > SCHEMA:
        raise RecordsError(
            f"The records in {store.place} were written by a newer version of this program (their version is "
            f"{version}, this program knows up to {SCHEMA}). Nothing was changed; update the program."
        )
    with store.writing() as connection:
        version = _version(connection)  # another program may have been first
        if version is None:
            metadata.create_all(connection)
            connection.execute(schema_version.insert().values(version=SCHEMA))
            store.database.finish(connection)
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
    """Turn what a disk can do wrong into one sentence."""
    try:
        yield
    except (json.JSONDecodeError, UnicodeDecodeError) as problem:  # of a text in the database
        raise DamagedError("one of its rows in the database") from problem
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise RecordsError(
            f"The records in {folder} cannot be written or read ({reason}). What was kept before is unharmed; "
            "make room or correct the permissions, and run the same command again."
        ) from problem
