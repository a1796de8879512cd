"""The latest flights of every aircraft: what a page of the whole fleet shows without loading all of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, RowMapping, func, select

from analyzer.findings.finding import Finding
from analyzer.records.copies import latest_in_order
from analyzer.records.seals import FLIGHT_COLUMNS, check_flight, checked_findings
from analyzer.records.store import Store
from analyzer.records.stored import KeptFinding, clock_start, finding_of, moment_or_none
from analyzer.records.tables import findings, flights, logs
from analyzer.trends.open_findings import OfFlight, OpenFindings, Settled, flights_that_count, open_findings
from analyzer.trends.tail_result import TailResult

#: Aircraft whose flights are read at once.
TOGETHER = 20


@dataclass(frozen=True, slots=True)
class LatestFlight:
    """One of an aircraft's latest flights; ``findings`` worst first."""

    id: int
    start: datetime | None  # None without a clock
    findings: tuple[KeptFinding, ...]


def latest_flights(store: Store, tails: Iterable[str], count: int) -> dict[str, list[LatestFlight]]:
    """Give the latest ``count`` flights of each tail, the latest last; no copies.

    In the order of a tail's history: flights without a clock come after those with one, in file order.
    """
    found: dict[str, list[LatestFlight]] = {}
    names = list(tails)
    with store.reading() as connection:
        for first in range(0, len(names), TOGETHER):
            ids = {tail: latest_in_order(connection, tail, count) for tail in names[first : first + TOGETHER]}
            known = _whole(connection, [one for own in ids.values() for one in own])
            found |= {tail: [known[one] for one in own] for tail, own in ids.items()}
    return found


def _whole(connection: Connection, ids: Sequence[int]) -> dict[int, LatestFlight]:
    """Flights by their ids, checked, with their findings."""
    asked = select(
        flights.c.id, flights.c.tail, flights.c.readings, flights.c.seal, *(flights.c[name] for name in FLIGHT_COLUMNS)
    )
    rows = connection.execute(asked.where(flights.c.id.in_(ids))).all()
    of_these = select(findings).where(findings.c.flight_id.in_(ids)).order_by(findings.c.id)
    told: dict[int, list[RowMapping]] = {}
    for one in checked_findings(connection.execute(of_these).mappings().all()):
        told.setdefault(one["flight_id"], []).append(one)
    known = {}
    for row in rows:
        own, began = told.get(row.id, []), clock_start(row.starts, row.from_s)
        check_flight(row._mapping, [(one["name"], one["severity"]) for one in own])
        kept = tuple(KeptFinding(finding_of(one["document"]), row.id, row.tail, began) for one in own)
        known[row.id] = LatestFlight(row.id, moment_or_none(row.starts), kept)
    return known


def open_of_latest(result: TailResult, latest: Sequence[LatestFlight], settled: Settled) -> OpenFindings[Finding]:
    """Give what stands open of an aircraft, with the whole findings of its latest flights."""
    counted = list(enumerate(latest, result.flights - len(latest)))[-flights_that_count() :]
    of_flights = [
        OfFlight(one.finding, place, flight.start, flight.id)
        for place, flight in reversed(counted)
        for one in flight.findings
    ]
    return open_findings(result.findings, of_flights, settled)


def tail_names(store: Store) -> list[str]:
    """Give every tail that flights are kept of, in order, without counting them."""
    asked = select(flights.c.tail).where(flights.c.tail.is_not(None)).distinct().order_by(flights.c.tail)
    with store.reading() as connection:
        return list(connection.execute(asked).scalars())


def tail_kept(store: Store, tail: str) -> bool:
    """Whether flights of an aircraft are kept."""
    with store.reading() as connection:
        return connection.execute(select(flights.c.id).where(flights.c.tail == tail).limit(1)).first() is not None


def logs_without_tail(store: Store) -> int:
    """Count the logs that name no aircraft."""
    with store.reading() as connection:
        counted = connection.execute(select(func.count()).select_from(logs).where(logs.c.tail.is_(None)))
        return int(counted.scalar_one())
