"""What the records ask of a database, whatever engine it is of; all else of them is the same statements for each.

``on_sqlite`` is the file in the records' folder, ``on_postgresql`` a database of a server. Whoever writes has the
database to itself until it is done, and whoever reads sees one moment: on this the records rest.
"""

from __future__ import annotations

from collections.abc import Hashable
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import Connection, Engine, LargeBinary, insert, select
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from analyzer.records.place import Place
from analyzer.records.problems import RecordsError
from analyzer.records.tables import metadata

#: A second program waits this long for the first one's transaction [s].
PATIENCE_S = 60.0
#: Rows that are copied at a time.
ROWS = 500


class Database(Protocol):
    """One database, of one engine.

    A transaction begins with the connection's options ``writes`` and ``person``: see ``Store.writing``.
    """

    @property
    def engine(self) -> Engine:
        """Opens connections to it."""

    @property
    def writable(self) -> bool:
        """Whether this account may write to it and to the folder."""

    @property
    def keeps_open(self) -> bool:
        """Whether a connection that nobody uses for a while stays what it was, and a new one takes time."""

    def there(self) -> bool:
        """Whether it holds records.

        Raises
        ------
        RecordsError
            When it cannot be reached, or is not that of the records' folder.
        """

    def finish(self, connection: Connection) -> None:
        """Add, where the tables were just made, what of the engine's own belongs to them."""

    def damaged_tables(self, connection: Connection) -> list[str]:
        """The names of tables whose definition is not what they were made with; none where the engine sees to that."""

    def fault(self, problem: Exception) -> RecordsError:
        """What it could not do, as a sentence that says what to do."""

    def own_check(self, connection: Connection) -> list[tuple[str, str]]:
        """What its own check finds: what is wrong, and what to do."""

    def mend(self, connection: Connection) -> None:
        """Make anew what it can of itself: its indexes."""

    def mark(self) -> Hashable:
        """What differs after every change of what is kept."""

    def copy(self, connection: Connection, to: Path) -> None:
        """Write what a connection sees into a file as the engine of a folder without server keeps it."""

    def close(self) -> None:
        """Let go of it."""


def database_of(place: Place) -> Database:
    """Give the database of some records.

    Raises
    ------
    RecordsError
        When what it needs is not installed, or its address cannot be used.
    """
    if place.server is None:
        from analyzer.records.on_sqlite import OnSqlite

        return OnSqlite(place.folder)
    from analyzer.records.on_postgresql import OnPostgresql  # the library that it needs is an extra

    return OnPostgresql(place.folder, place.server)


class as_bytes(FunctionElement[bytes]):  # noqa: N801 - stands in statements as a function does
    """A text as the bytes that are kept of it, which can be read whatever a disk made of them."""

    type = LargeBinary()
    inherit_cache = True


@compiles(as_bytes)
def _cast(element: as_bytes, compiler: SQLCompiler, **told: Any) -> str:
    return f"CAST({compiler.process(element.clauses, **told)} AS BLOB)"


@compiles(as_bytes, "postgresql")
def _converted(element: as_bytes, compiler: SQLCompiler, **told: Any) -> str:
    return f"convert_to({compiler.process(element.clauses, **told)}, 'UTF8')"


def copy_rows(source: Connection, target: Connection) -> None:
    """Copy every row of every table, numbers and seals with it, into the same tables of another database."""
    for table in metadata.sorted_tables:
        for rows in source.execute(select(table)).mappings().partitions(ROWS):
            target.execute(insert(table), [dict(row) for row in rows])
