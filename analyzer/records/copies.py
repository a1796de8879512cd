"""Flights of the records each once: the same flight may be kept from two files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, select

from analyzer.records.store import Store
from analyzer.records.stored import moment, moment_or_none
from analyzer.records.tables import flights, logs
from analyzer.trends.deduplicate import deduplicate
from analyzer.trends.history import in_file_order


@dataclass(frozen=True, slots=True)
class FlightOfLog:
    """One kept flight, as the link to it needs it."""

    id: int
    tail: str | None
    start: datetime | None  # None without a clock
    source: str  # the log that it is of


def flights_of_logs(store: Store, digests: Iterable[str]) -> dict[str, list[FlightOfLog]]:
    """Give the flights of those of some logs that are kept: SHA-256 of a log -> its flights, none for no engine run."""
    asked = list(digests)
    found: dict[str, list[FlightOfLog]] = {}
    with store.reading() as connection:
        for first in range(0, len(asked), 500):  # no longer than a database takes in one question
            rows = connection.execute(
                select(logs.c.hash, logs.c.source, flights.c.id, flights.c.tail, flights.c.starts)
                .join(flights, flights.c.log_id == logs.c.id, isouter=True)
                .where(logs.c.hash.in_(asked[first : first + 500]))
                .order_by(logs.c.id, flights.c.number)
            )
            for row in rows:
                of_log = found.setdefault(row.hash, [])
                if row.id is not None:
                    of_log.append(FlightOfLog(row.id, row.tail, moment_or_none(row.starts), row.source))
    return found


def flights_at(store: Store, tail: str, start: datetime, end: datetime) -> list[FlightOfLog]:
    """Give an aircraft's kept flights that overlap a time: copies of one flight, for it flies one at a time."""
    asked = (
        select(flights.c.id, flights.c.tail, flights.c.starts, logs.c.source)
        .join(logs, logs.c.id == flights.c.log_id)
        .where(flights.c.tail == tail.upper(), flights.c.starts < end.isoformat(), flights.c.ends > start.isoformat())
        .order_by(flights.c.starts, flights.c.id)
    )
    with store.reading() as connection:
        return [FlightOfLog(row.id, row.tail, moment(row.starts), row.source) for row in connection.execute(asked)]


def rows_once(rows: Iterable[Any]) -> list[Any]:
    """Give rows of one aircraft, with ``starts``, ``ends`` and ``id``, in order of start without copies of a flight."""
    first_added = sorted(rows, key=lambda row: (row.starts, row.id))
    return deduplicate(first_added, lambda row: (moment(row.starts), moment(row.ends))).kept


def flown_between(connection: Connection, since: datetime, until: datetime, tail: str | None = None) -> list[Any]:
    """Give the flights begun in a time, of all aircraft or of one, without copies: id, tail, starts, ends, hours.

    Flights of the day before the time that reach into it tell copies as well, and are not given. Of flights of no
    known aircraft each counts, since two of them may have flown at once.
    """
    asked = select(flights.c.id, flights.c.tail, flights.c.starts, flights.c.ends, flights.c.hours).where(
        flights.c.starts >= _day_before(since), flights.c.starts <= until.isoformat()
    )
    if tail is not None:
        asked = asked.where(flights.c.tail == tail)
    by_tail: dict[str | None, list[Any]] = {}
    for row in connection.execute(asked.order_by(flights.c.starts, flights.c.id)):
        by_tail.setdefault(row.tail, []).append(row)
    told = [row for name, rows in by_tail.items() for row in (rows_once(rows) if name else rows)]
    first = since.isoformat()
    return [row for row in told if row.starts >= first]


def _day_before(then: datetime) -> str:
    day = timedelta(days=1)
    return (then - day if then - datetime.min >= day else datetime.min).isoformat()


def latest_before(connection: Connection, tail: str, before: datetime | None, count: int) -> list[int]:
    """Give the ids of an aircraft's latest flights with a clock, begun before a moment or all, in order, no copies."""
    asked = select(flights.c.id, flights.c.starts, flights.c.ends).where(
        flights.c.tail == tail, flights.c.starts.is_not(None)
    )
    if before is not None:
        asked = asked.where(flights.c.starts < before.isoformat())
    reach = 2 * count
    while True:  # few are copies: look further back only where many are
        rows = connection.execute(asked.order_by(flights.c.starts.desc()).limit(reach)).all()
        once = rows_once(rows)
        if len(once) > count or len(rows) < reach:
            return [row.id for row in once[-count:]]
        reach *= 2


def latest_in_order(connection: Connection, tail: str, count: int) -> list[int]:
    """Give the ids of an aircraft's latest flights in the order of its history: those without a clock come last."""
    asked = (
        select(flights.c.id, flights.c.number, logs.c.source)
        .join(logs, logs.c.id == flights.c.log_id)
        .where(flights.c.tail == tail, flights.c.starts.is_(None))
    )
    bare = sorted(connection.execute(asked), key=lambda row: in_file_order(row.source, row.number))
    last = [row.id for row in bare[-count:]]
    return [*(latest_before(connection, tail, None, count - len(last)) if len(last) < count else []), *last]
