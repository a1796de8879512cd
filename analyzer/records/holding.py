"""Whether flights are still what was written, for those who hand many of them on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table, bindparam, func, select

from analyzer.records.problems import DamagedError
from analyzer.records.seals import check_flight, checked_findings, document_seal, hold
from analyzer.records.tables import findings, flights, logs, measures

_BY_FLIGHT = select(flights.c.tail, func.count()).where(flights.c.tail.is_not(None)).group_by(flights.c.tail)
_BY_LOG = (
    select(logs.c.tail, func.count())
    .join(flights, flights.c.log_id == logs.c.id)
    .where(logs.c.tail.is_not(None))
    .group_by(logs.c.tail)
)
#: How many flights each tail has, found by their own index and by that of the logs.
_OF_ALL = _BY_FLIGHT, _BY_LOG
_OF_A_TAIL = _BY_FLIGHT.where(flights.c.tail == bindparam("of")), _BY_LOG.where(logs.c.tail == bindparam("of"))


def check_index(connection: Connection, tail: str | None = None, starts: Sequence[str | None] = ()) -> None:
    """Check that the flights of a tail, or of all, are found by either way that the database looks for them.

    A damaged index would leave flights out without a word. ``starts`` are those of flights as the database put them in
    order.

    Raises
    ------
    DamagedError
        When the ways do not agree.
    """
    either_way = _OF_ALL if tail is None else _OF_A_TAIL
    found, expected = ({row[0]: row[1] for row in connection.execute(asked, {"of": tail})} for asked in either_way)
    dated = [start for start in starts if start is not None]
    if found != expected or dated != sorted(dated):
        raise DamagedError("the list of flights" if tail is None else f"the list of {tail}'s flights")


def check_tail_index(connection: Connection, table: Table, tail: str) -> None:
    """Check that the index by tail of a table finds as many of a tail's rows as stand in the table itself.

    What people wrote must not be left out because an index is damaged; a damaged row is told by its seal.

    Raises
    ------
    DamagedError
        When it does not.
    """
    by_index = select(func.count()).where(table.c.tail == tail)
    in_table = select(func.count(func.coalesce(table.c.seal, ""))).where(func.coalesce(table.c.tail, "") == tail)
    if connection.execute(by_index).scalar_one() != connection.execute(in_table).scalar_one():
        raise DamagedError(f"the list of {tail}'s {table.name}")


def check_flights(connection: Connection, condition: Any = None) -> int:
    """Check flights with their documents, measures and findings; how many there are.

    ``condition`` is one on ``flights``; all are checked without one.

    Raises
    ------
    DamagedError
        When one is not what was written.
    """
    asked = select(flights)
    of_findings = select(findings).join(flights, flights.c.id == findings.c.flight_id)
    of_measures = select(measures).join(flights, flights.c.id == measures.c.flight_id)
    if condition is not None:
        asked, of_findings, of_measures = (one.where(condition) for one in (asked, of_findings, of_measures))
    found: dict[int, list[tuple[str, str]]] = {}
    for one in checked_findings(connection.execute(of_findings).mappings().all()):
        found.setdefault(one["flight_id"], []).append((one["name"], one["severity"]))
    measured: dict[int, list[Any]] = {}
    for row in connection.execute(of_measures).mappings():
        measured.setdefault(row["flight_id"], []).append(row)
    counted = 0
    for row in connection.execute(asked).mappings():
        check_flight(row, found.get(row["id"], ()))
        hold(row["document_seal"], document_seal(row["document"], measured.get(row["id"], ())), f"flight {row['id']}")
        counted += 1
    return counted
