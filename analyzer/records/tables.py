"""The tables, and the steps that bring an older database forward."""

from __future__ import annotations

import re
from collections.abc import Callable

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    inspect,
)

from analyzer.records.older import keep_results_as_types

#: Version of the tables below. A step in ``STEPS`` brings each earlier version one forward.
SCHEMA = 10

metadata = MetaData()
#: Of any length, and in the order of its letters' numbers whatever language a server is set to.
TEXT = String().with_variant(String(collation="C"), "postgresql")

schema_version = Table("schema_version", metadata, Column("version", Integer, nullable=False))

logs = Table(
    "logs",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("hash", TEXT, nullable=False, unique=True),  # SHA-256 of the log's bytes
    Column("source", TEXT, nullable=False),  # as it was found
    Column("tail", TEXT),  # capitals; null while unknown
    Column("tail_from", TEXT),
    Column("rows", Integer, nullable=False),
    Column("starts", TEXT),  # ISO 8601
    Column("warnings", JSON, nullable=False),
    Column("original_kept", Boolean, nullable=False),
    Column("added_at", TEXT, nullable=False),  # ISO 8601, UTC
    Column("analysis", TEXT, nullable=False),  # what it was judged by: see ``marks``
    Column("columns", JSON(none_as_null=True)),  # role -> header that a person named for this log; null for none
    Column("trace", TEXT),  # seal of the file of its readings; here and below null: kept before there were seals
    Column("seal", TEXT),  # see ``seals``
)
Index("logs_by_tail", logs.c.tail)
Index("logs_by_added", logs.c.added_at)

flights = Table(
    "flights",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("log_id", Integer, ForeignKey("logs.id", ondelete="CASCADE"), nullable=False),
    Column("number", Integer, nullable=False),  # within its log, from 1
    Column("tail", TEXT),
    Column("starts", TEXT),
    Column("ends", TEXT),
    Column("from_s", Float, nullable=False),
    Column("to_s", Float, nullable=False),
    Column("hours", Float, nullable=False),
    Column("nominal_voltage", Integer),  # null where neither a voltmeter nor the fleet file tells
    Column("ammeter", TEXT, nullable=False),
    Column("air_start", Float),
    Column("air_flight", Float),
    Column("drawn_ah", Float),
    Column("readings", LargeBinary, nullable=False),  # value, low, high of each measure: see ``codec``
    Column("document", JSON, nullable=False),  # its result but measures and findings: see ``stored``
    Column("seal", TEXT),  # of all but the document, with names of the findings
    Column("document_seal", TEXT),  # of the document and the measures
)
#: Holds all that is counted of a whole fleet, so that no row is read for it.
Index("flights_by_tail", flights.c.tail, flights.c.starts, flights.c.hours)
Index("flights_by_start", flights.c.starts, flights.c.tail)
Index("flights_by_log", flights.c.log_id)

measures = Table(
    "measures",
    metadata,
    Column("flight_id", Integer, ForeignKey("flights.id", ondelete="CASCADE"), primary_key=True),
    Column("name", TEXT, primary_key=True),
    Column("value", Float),
    Column("low", Float),
    Column("high", Float),
    Column("because", TEXT),
    Column("note", TEXT),
    Column("at_least", Float),  # bounds of what could not be measured
    Column("at_most", Float),
    sqlite_with_rowid=False,
)

findings = Table(
    "findings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("flight_id", Integer, ForeignKey("flights.id", ondelete="CASCADE"), nullable=False),
    Column("name", TEXT, nullable=False),
    Column("severity", TEXT, nullable=False),
    Column("document", JSON, nullable=False),  # the finding: see ``stored``
    Column("seal", TEXT),
)
Index("findings_by_flight", findings.c.flight_id)

entries = Table(
    "entries",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tail", TEXT, nullable=False),
    Column("when", TEXT, nullable=False),
    Column("kind", TEXT, nullable=False),
    Column("words", TEXT, nullable=False),
    Column("made_at", TEXT, nullable=False),
    Column("seal", TEXT),
    Column("capacity", Float),  # of the battery as tested [% of rated]; null where it was not
)
Index("entries_by_tail", entries.c.tail, entries.c.when)

dispositions = Table(
    "dispositions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tail", TEXT, nullable=False),
    Column("finding", TEXT, nullable=False),
    Column("at", TEXT, nullable=False),  # start of the flight, or when a trend finding was raised
    Column("verdict", TEXT, nullable=False),
    Column("who", TEXT, nullable=False),
    Column("words", TEXT, nullable=False),
    Column("entry_id", Integer, ForeignKey("entries.id", ondelete="SET NULL")),
    Column("made_at", TEXT, nullable=False),
    Column("seal", TEXT),
)
Index("dispositions_by_tail", dispositions.c.tail)

tails = Table(
    "tails",
    metadata,
    Column("tail", TEXT, primary_key=True),
    Column("revision", Integer, nullable=False),  # counts changes of its flights and entries
    Column("reviewed", TEXT),  # revision, profile and analysis that ``review`` belongs to
    Column("review", TEXT),  # see ``reviewing``
)


pending_deletes = Table(
    "leaving",
    metadata,
    Column("hash", TEXT, primary_key=True),  # of a log that was forgotten while its files are still there
)

told = Table(
    "told",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("recipient", TEXT, nullable=False),  # by the name that people gave, never by an address
    Column("tail", TEXT),
    Column("key", TEXT, nullable=False),  # of what was told: see ``service/news.py``
    Column("at", TEXT, nullable=False),  # ISO 8601, UTC
)
Index("told_once", told.c.recipient, told.c.key, unique=True)

changes = Table(
    "changes",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", TEXT, nullable=False),  # ISO 8601, UTC
    Column("who", TEXT, nullable=False),
    Column("role", TEXT, nullable=False),
    Column("by", TEXT, nullable=False),  # the way that they came
    Column("what", TEXT, nullable=False),
    Column("about", TEXT, nullable=False),
    Column("tail", TEXT),
    Column("before", TEXT),  # JSON
    Column("after", TEXT),  # JSON
    Column("seal", TEXT, nullable=False),  # of this line and the seal of the one before it
)
Index("changes_by_tail", changes.c.tail, changes.c.id)
ONLY_ADDED_TO = "the log of changes is only ever added to"


def columns_lost(connection: Connection) -> list[str]:
    """A sentence for each column of the tables that the database does not have, as where its name was damaged."""
    there = inspect(connection).get_multi_columns()
    held = {name: {column["name"] for column in columns} for (_, name), columns in there.items()}
    return [
        f"The database's table {table.name} has no column {column.name}."
        for table in metadata.sorted_tables
        for column in table.columns
        if column.name not in held.get(table.name, ())
    ]


#: How versions before this one wrote what is ``VARCHAR`` now; a database that is brought forward keeps its words.
_TEXTS = re.compile(r"TEXT|VARCHAR\(\d+\)", re.ASCII)


def damaged_tables(connection: Connection) -> list[str]:
    """The names of tables of which a SQLite database tells other columns, kinds or keys than they were made with.

    It keeps their definitions as words; one that a disk changed may still be read, as a key that is none any more.
    """
    told: dict[str, set[tuple[str, str, bool]]] = {}
    for table, column, kind, key in connection.exec_driver_sql(
        "SELECT made.name, its.name, its.type, its.pk FROM sqlite_master AS made, pragma_table_info(made.name) AS its "
        "WHERE made.type = 'table'"
    ):
        told.setdefault(table, set()).add((column, "VARCHAR" if _TEXTS.fullmatch(kind) else kind, bool(key)))
    return [table.name for table in metadata.sorted_tables if told.get(table.name) != _as_made(table, connection)]


def _as_made(table: Table, connection: Connection) -> set[tuple[str, str, bool]]:
    return {(one.name, one.type.compile(connection.dialect), one.primary_key) for one in table.columns}


def _add_tails(connection: Connection) -> None:
    """Version 1 kept no reviews of tails."""
    tails.create(connection)
    names = connection.exec_driver_sql("SELECT DISTINCT tail FROM logs WHERE tail IS NOT NULL")
    for (tail,) in names.all():
        connection.execute(tails.insert().values(tail=tail, revision=1))


def _add_columns_and_pending_deletes(connection: Connection) -> None:
    """Version 2 read every log of a tail alike, and could not tell a forgotten log's files from a lost log's."""
    connection.exec_driver_sql("ALTER TABLE logs ADD COLUMN columns JSON")
    pending_deletes.create(connection)


def _let_the_voltage_be_unknown(connection: Connection) -> None:
    """Version 3 knew no flight without a voltmeter.

    What is stored is the same with and without the constraint, so its words alone are taken out, as SQLite's
    documentation of ALTER TABLE describes ("Making Other Kinds Of Table Schema Changes"); flights are not copied.
    """
    version = connection.exec_driver_sql("PRAGMA schema_version").scalar() or 0
    connection.exec_driver_sql("PRAGMA writable_schema = ON")
    connection.exec_driver_sql(
        "UPDATE sqlite_master SET sql = replace(sql, 'nominal_voltage INTEGER NOT NULL', 'nominal_voltage INTEGER') "
        "WHERE type = 'table' AND name = 'flights'"
    )
    connection.exec_driver_sql(f"PRAGMA schema_version = {version + 1}")
    connection.exec_driver_sql("PRAGMA writable_schema = OFF")


def _add_seals(connection: Connection) -> None:
    """Version 4 did not notice bits that a disk changed."""
    added = {"logs": "trace", "flights": "document_seal"}
    for table in ("logs", "flights", "findings", "entries", "dispositions"):
        for name in filter(None, ("seal", added.get(table))):
            connection.exec_driver_sql(f"ALTER TABLE {table} ADD COLUMN {name} VARCHAR")


def _add_changes(connection: Connection) -> None:
    """Version 6 did not note who changed what."""
    changes.create(connection)


def _add_capacity(connection: Connection) -> None:
    """Version 7 kept no capacity tests."""
    connection.exec_driver_sql("ALTER TABLE entries ADD COLUMN capacity FLOAT")


def _add_told(connection: Connection) -> None:
    """Version 8 sent no messages."""
    told.create(connection)


def _find_by_time(connection: Connection) -> None:
    """Version 9 read every row to count a fleet's flights and to find those of a week."""
    connection.exec_driver_sql("DROP INDEX flights_by_tail")
    for index in (*flights.indexes, *logs.indexes):
        index.create(connection, checkfirst=True)


#: Version -> step to the next one.
STEPS: dict[int, Callable[[Connection], None]] = {
    1: _add_tails,
    2: _add_columns_and_pending_deletes,
    3: _let_the_voltage_be_unknown,
    4: _add_seals,
    5: keep_results_as_types,
    6: _add_changes,
    7: _add_capacity,
    8: _add_told,
    9: _find_by_time,
}
