"""The tables of records in a database of a PostgreSQL server; recordings and readings in a folder beside it.

The folder says which server's database its tables are in, and both hold the same key, so that no program ever joins
the tables of one with the files of another. Passwords are left to the server's own library, which takes them from the
environment, ``~/.pgpass`` or a service file; nothing here ever holds one.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Hashable, Iterable, Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path

import sqlalchemy
from sqlalchemy import JSON, Boolean, Connection, Engine, MetaData, Table, event, inspect, make_url
from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoneFreeError
from sqlalchemy.schema import Column
from sqlalchemy.types import BigInteger, Integer, String

from analyzer.records.changes import CHANGES_FILE, COLUMNS, NOTED, changed_columns, who_and_when
from analyzer.records.databases import PATIENCE_S, copy_rows
from analyzer.records.durable import write_whole
from analyzer.records.on_sqlite import DATABASE
from analyzer.records.people import Role
from analyzer.records.place import FILES, PASSWORD_BELONGS, SERVER_FILE, Belongs, server_of
from analyzer.records.problems import RecordsError, not_writable, shown
from analyzer.records.tables import ONLY_ADDED_TO, columns_lost, logs, metadata

#: A server that does not answer is waited for so long [s].
CONNECT_S = 10
#: What a connection that failed or ended without a code counts as: the server's own code for it.
LOST = "08000"
#: Whoever writes holds this lock, one after the other. The number is any that no other program is likely to use.
TURN = 0x7461706572

_own = MetaData()
#: One row: the key that the folder holds too, and how many transactions have changed anything.
_belonging = Table(
    "belonging", _own, Column("key", String, nullable=False), Column("written", BigInteger, nullable=False)
)


class OtherFolderError(RecordsError):
    """The folder is not the one that belongs to the database."""


class OnPostgresql:
    """The database of a server. ``address`` holds no password."""

    def __init__(self, folder: Path, address: str) -> None:
        try:
            import psycopg  # noqa: F401 - that it is there is all that is asked
        except ImportError as missing:
            raise RecordsError(
                f"Records on a PostgreSQL server need {missing.name or 'psycopg'}, which is not installed. In this "
                "project's checkout: pip install '.[postgresql]'"
            ) from missing
        self._folder = folder
        self._address = address
        self._known = False  # to be there, and to belong to the folder

    @cached_property
    def engine(self) -> Engine:
        """An engine whose transactions begin as they are meant: a writer takes its turn at once."""
        url = make_url(self._address).set(drivername="postgresql+psycopg")
        waits = {} if "connect_timeout" in url.query else {"connect_timeout": CONNECT_S}
        engine = sqlalchemy.create_engine(
            url,
            connect_args=waits,
            pool_pre_ping=True,
            pool_timeout=PATIENCE_S,
            max_overflow=20,
            use_native_hstore=False,
        )
        event.listen(engine, "begin", _begin)
        event.listen(engine, "commit", _count)
        return engine

    @contextmanager
    def _asking(self) -> Iterator[Connection]:
        try:
            with self.engine.connect() as connection, connection.begin():
                yield connection
        except (DBAPIError, NoneFreeError) as problem:
            raise self.fault(problem) from problem

    @property
    def keeps_open(self) -> bool:
        """No: a server may end one."""
        return False

    def there(self) -> bool:
        """Whether the tables are there, and the folder is the one that belongs to them.

        Raises
        ------
        RecordsError
            When the server cannot be reached, or the folder is another's.
        """
        if not self._known:
            try:
                self._known = self._belongs()
            except OtherFolderError:  # or another program is just making them
                with self._asking() as connection:
                    _take_turn(connection)
                self._known = self._belongs()
        return self._known

    def _belongs(self) -> bool:
        with self._asking() as connection:
            if connection.exec_driver_sql("SHOW server_encoding").scalar() != "UTF8":
                raise RecordsError(f"The database {self._address} is not in UTF-8; make one: createdb --encoding UTF8")
            key = None
            if inspect(connection).has_table(_belonging.name):
                key = connection.execute(sqlalchemy.select(_belonging.c.key)).scalar()
        held = server_of(self._folder)
        if key is None:
            self._refuse_used(held)
            return False
        if held is None:
            raise OtherFolderError(
                f"The folder {self._folder} is not the one with the files of the records in {self._address}: "
                f"{SERVER_FILE} is not in it. Mount that folder, or name it as {FILES}=FOLDER in the address. Nothing "
                "was changed."
            )
        if held.key != key:
            raise OtherFolderError(
                f"The folder {self._folder} holds the files of other records, those in {held.address}, and not those "
                f"of {self._address}; every database needs a folder of its own. Nothing was changed."
            )
        return True

    def _refuse_used(self, held: Belongs | None) -> None:
        """Refuse to begin records in a folder that is another's."""
        if (self._folder / DATABASE).exists():
            raise OtherFolderError(
                f"The folder {self._folder} holds records of its own, in {DATABASE}; name another folder. To bring "
                "them over: taper backup FILE, then taper restore FILE --records ADDRESS."
            )
        used = any(next(self._folder.glob(one), None) for one in ("originals/*/*", "traces/*/*", CHANGES_FILE))
        if held is not None and (used or held.address != self._address):
            raise OtherFolderError(
                f"The folder {self._folder} holds the files of the records in {held.address}, and {self._address} "
                f"holds none. If their database is lost, move {SERVER_FILE} in that folder away and run: taper rebuild"
            )

    @cached_property
    def writable(self) -> bool:
        """Whether this account may write to the folder and to the tables."""
        if not os.access(self._folder, os.W_OK):
            return False
        may = f"has_table_privilege('{logs.name}', 'INSERT')"
        with self._asking() as connection:
            if connection.exec_driver_sql("SELECT pg_is_in_recovery()").scalar():
                return False
            there = inspect(connection).has_table(logs.name)
            return not there or bool(connection.exec_driver_sql(f"SELECT {may}").scalar())

    def finish(self, connection: Connection) -> None:
        """Add the triggers that note changes, and the key that folder and database hold."""
        _number_after(connection)
        for statement in _functions_and_triggers():
            connection.exec_driver_sql(statement)
        held = server_of(self._folder)
        key = held.key if held else secrets.token_hex(16)
        _own.create_all(connection)
        connection.execute(_belonging.insert().values(key=key, written=0))
        told = json.dumps({"address": self._address, "key": key}, indent=1)
        write_whole(self._folder / SERVER_FILE, told.encode())

    def damaged_tables(self, connection: Connection) -> list[str]:
        """None: the server looks after its own catalogue."""
        return []

    def fault(self, problem: Exception) -> RecordsError:
        """What the server or the way to it can do wrong, by the code of its answer."""
        told = getattr(problem, "orig", problem)
        code = getattr(told, "sqlstate", None)
        lost = not code and isinstance(problem, OperationalError | InterfaceError | NoneFreeError)
        reason = shown((str(told).strip() or type(told).__name__).splitlines()[0])
        return RecordsError(_said(self._address, LOST if lost else code or "", reason))

    def own_check(self, connection: Connection) -> list[tuple[str, str]]:
        """Columns that are not there, and how many pages do not hold, where the server checks them."""
        asked = "SELECT coalesce(checksum_failures, 0) FROM pg_stat_database WHERE datname = current_database()"
        broken = connection.exec_driver_sql(asked).scalar()
        todo = "Restore a backup of these records, or the server's own, to a sound disk."
        found = [(one, todo) for one in columns_lost(connection)]
        return [*found, (f"The server has found {broken} damaged pages of its database.", todo)] if broken else found

    def mend(self, connection: Connection) -> None:
        """Make the indexes anew."""
        for table in metadata.sorted_tables:
            connection.exec_driver_sql(f"REINDEX TABLE {table.name}")

    def mark(self) -> Hashable:
        """How many transactions have changed anything."""
        with self._asking() as connection:
            return connection.execute(sqlalchemy.select(_belonging.c.written)).scalar()

    def copy(self, connection: Connection, to: Path) -> None:
        """Copy every row into a file."""
        made = sqlalchemy.create_engine(f"sqlite+pysqlite:///{to}")
        with made.begin() as copied:
            metadata.create_all(copied)
            copy_rows(connection, copied)
        made.dispose()

    def close(self) -> None:
        """Let go of the server."""
        if "engine" in self.__dict__:
            self.engine.dispose()


def _begin(connection: Connection) -> None:
    asked = connection.get_execution_options()
    if not asked.get("writes"):
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        return
    told = {f"taper.{name}": word for name, word in who_and_when(asked["person"]).items()}
    settings = ", ".join("set_config(%s, %s, true)" for _ in told)
    connection.exec_driver_sql(f"SELECT {settings}", tuple(word for pair in told.items() for word in pair))
    _take_turn(connection)


def _take_turn(connection: Connection) -> None:
    """Wait until nobody writes, and let nobody until this transaction ends."""
    connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{PATIENCE_S:.0f}s'")
    connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({TURN})")


def _count(connection: Connection) -> None:
    """Count a transaction that has changed anything."""
    if connection.get_execution_options().get("writes"):
        changed = "pg_current_xact_id_if_assigned() IS NOT NULL"
        connection.exec_driver_sql(f"UPDATE {_belonging.name} SET written = written + 1 WHERE {changed}")


def _number_after(connection: Connection) -> None:
    """Let new rows be numbered after those that were copied with their numbers."""
    for table in metadata.sorted_tables:
        if isinstance(table.c.get("id", Column(String)).type, Integer):
            counter = f"pg_get_serial_sequence('{table.name}', 'id')"
            connection.exec_driver_sql(
                f"SELECT setval({counter}, max(id)) FROM {table.name} HAVING max(id) IS NOT NULL"
            )


def _functions_and_triggers() -> Iterator[str]:
    """What notes changes: the seal of a line as ``seals.seal`` makes it, the line, and a trigger on each table."""
    yield JSON_FUNCTION
    yield _note_function()
    for name in NOTED:
        yield from _trigger_on(name)
    yield f"""
    CREATE FUNCTION taper_changes_stay() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN RAISE EXCEPTION '{ONLY_ADDED_TO}'; END $$"""
    yield (
        "CREATE TRIGGER stay BEFORE UPDATE OR DELETE OR TRUNCATE ON changes "
        "FOR EACH STATEMENT EXECUTE FUNCTION taper_changes_stay()"
    )


#: Text as ``json.dumps`` writes it, in ASCII.
JSON_FUNCTION = """
    CREATE FUNCTION taper_json(told text) RETURNS text LANGUAGE sql IMMUTABLE AS $$
      SELECT coalesce(string_agg(CASE
        WHEN ascii(letter) < 127 THEN letter
        WHEN ascii(letter) < 65536 THEN '\\u' || lpad(to_hex(ascii(letter)), 4, '0')
        ELSE '\\u' || to_hex(55296 + (ascii(letter) - 65536) / 1024)
          || '\\u' || to_hex(56320 + (ascii(letter) - 65536) %% 1024) END, '' ORDER BY place), 'null')
      FROM regexp_split_to_table(to_json(told)::text, '') WITH ORDINALITY AS letters (letter, place)
    $$"""


def _note_function() -> str:
    """The function that adds a line to the log of changes, sealed on to the line before it."""
    names = ", ".join(f'"{name}"' for name in COLUMNS)
    sealed = " || ',' || ".join(f"taper_json({one})" for one in ("last_seal", *(f"told[{n}]" for n in range(1, 10))))
    values = ", ".join(f"told[{n}]" for n in range(1, 10))
    return f"""
    CREATE FUNCTION taper_note(what text, about text, tail text, before text, after text) RETURNS void
    LANGUAGE plpgsql AS $$
    DECLARE
      last_id int; last_seal text; told text[];
      by_hand boolean := coalesce(current_setting('taper.at', true), '') = '';
    BEGIN
      PERFORM pg_advisory_xact_lock({TURN});
      IF by_hand THEN UPDATE {_belonging.name} SET written = written + 1; END IF;
      SELECT id, seal INTO last_id, last_seal FROM changes ORDER BY id DESC LIMIT 1;
      told := CASE WHEN by_hand
        THEN ARRAY[to_char(now() AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"+00:00"'), session_user::text,
          '{Role.MANAGER.word}', 'database']
        ELSE ARRAY[current_setting('taper.at'), current_setting('taper.who'), current_setting('taper.role'),
          current_setting('taper.by')] END || ARRAY[what, about, tail, before, after];
      INSERT INTO changes ({names}) VALUES (coalesce(last_id, 0) + 1, {values},
        left(encode(sha256(convert_to('[' || {sealed} || ']', 'UTF8')), 'hex'), 32));
    END $$"""


def _trigger_on(name: str) -> Iterator[str]:
    """What notes each change of a table."""
    what, kept, about = NOTED[name]
    table = metadata.tables[name]
    new, old = _object(table, kept, "NEW"), _object(table, kept, "OLD")
    was, now = (", ".join(_plain(table, one, row) for one in changed_columns(name)) for row in ("OLD", "NEW"))
    yield f"""
    CREATE FUNCTION taper_note_{name}() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF TG_OP = 'INSERT' THEN
        PERFORM taper_note('{what} added', NEW."{about}"::text, NEW.tail, NULL, {new});
      ELSIF TG_OP = 'DELETE' THEN
        PERFORM taper_note('{what} removed', OLD."{about}"::text, OLD.tail, {old}, NULL);
      ELSIF ROW({was}) IS DISTINCT FROM ROW({now}) THEN
        PERFORM taper_note('{what} changed', NEW."{about}"::text, NEW.tail, {old}, {new});
      END IF;
      RETURN NULL;
    END $$"""
    yield (
        f"CREATE TRIGGER note AFTER INSERT OR UPDATE OR DELETE ON {name} "
        f"FOR EACH ROW EXECUTE FUNCTION taper_note_{name}()"
    )


def _object(table: Table, names: Iterable[str], row: str) -> str:
    pairs = (f"'{name}', {_plain(table, name, row)}" for name in names)
    return f"json_build_object({', '.join(pairs)})::text"


def _plain(table: Table, name: str, row: str) -> str:
    """A column as the log of changes tells it, whatever engine wrote it."""
    told = f'{row}."{name}"'
    kind = table.c[name].type
    return f"{told}::text" if isinstance(kind, JSON) else f"{told}::int" if isinstance(kind, Boolean) else told


def _said(address: str, code: str, reason: str) -> str:
    """A sentence for an error's code; the codes are those of the server's documentation, appendix A."""
    again = "what was kept before is unharmed; run the same command again"
    if code == "55P03":
        return (
            f"Another program has been writing to the records in {address} for over {PATIENCE_S:.0f} s; nothing was "
            "changed. Wait for it and run the same command again."
        )
    if code == "53100":
        return f"The disk of the server of {address} is full; {again} when there is room."
    if ONLY_ADDED_TO in reason:
        return f"Nothing was changed: {ONLY_ADDED_TO}."
    if code in ("42501", "25006"):
        return f"{not_writable(address)} The server said: {reason}"
    if code.startswith("XX"):
        return (
            f"The database {address} is damaged ({reason}). Nothing was changed. Restore a backup of these records, or "
            "the server's own; taper rebuild makes an empty database anew from the files in the folder."
        )
    if not code.startswith(("08", "28", "3D", "53", "57P")):
        return f"The database {address} did not take that ({reason}). Nothing was changed."
    hint = ""
    if "password" in reason:
        hint = f" A password is taken from {PASSWORD_BELONGS}."
    elif "does not exist" in reason:
        hint = " Its administrator makes it: createdb --encoding UTF8 NAME."
    return f"The database {address} cannot be reached, or the server stopped ({reason}).{hint} Then {again}."
