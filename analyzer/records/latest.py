"""The latest flights of every aircraft: what a page of the whole fleet shows without loading all of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select

from analyzer.findings.finding import Finding
from analyzer.records import codec
from analyzer.records.copies import latest_in_order
from analyzer.records.seals import FLIGHT_COLUMNS, check_flight, checked_findings
from analyzer.records.store import Store
from analyzer.records.stored import KeptFinding, clock_start, finding_of, moment_or_none
from analyzer.records.tables import findings, flights, logs
from analyzer.trends.history import Reading
from analyzer.trends.open_findings import OfFlight, OpenFindings, Settled, flights_that_count, open_findings
from analyzer.trends.tail_result import TailResult


@dataclass(frozen=True, slots=True)
class LatestFlight:
    """One of an aircraft's latest flights; ``findings`` worst first."""

    id: int
    start: datetime | None  # None without a clock
    readings: Mapping[str, Reading]
    findings: tuple[KeptFinding, ...]


def latest_flights(store: Store, tails: Iterable[str], count: int) -> dict[str, list[LatestFlight]]:
    """Give the latest ``count`` flights of each tail, the latest last; no copies.

    In the order of a tail's history: flights without a clock come after those with one, in file order.
    """
    found: dict[str, list[LatestFlight]] = {}
    with store.reading() as connection:
        for tail in tails:
            ids = latest_in_order(connection, tail, count)
            asked = select(
                flights.c.id, flights.c.readings, flights.c.seal, *(flights.c[name] for name in FLIGHT_COLUMNS)
            ).where(flights.c.id.in_(ids))
            rows = sorted(connection.execute(asked).all(), key=lambda row: ids.index(row.id))
            began_at = {row.id: clock_start(row.starts, row.from_s) for row in rows}
            of_these = select(findings).where(findings.c.flight_id.in_([row.id for row in rows]))
            by_flight: dict[int, list[KeptFinding]] = {}
            told = connection.execute(of_these.order_by(findings.c.id)).mappings().all()
            for one in checked_findings(told):
                began = began_at[one["flight_id"]]
                kept = KeptFinding(finding_of(one["document"]), one["flight_id"], tail, began)
                by_flight.setdefault(kept.flight_id, []).append(kept)
            for row in rows:
                names = [(one["name"], one["severity"]) for one in told if one["flight_id"] == row.id]
                check_flight(row._mapping, names)
            readings = codec.decode_all(row.readings for row in rows)
            found[tail] = [
                LatestFlight(row.id, moment_or_none(row.starts), own, tuple(by_flight.get(row.id, ())))
                for row, own in zip(rows, readings, strict=True)
            ]
    return found


def open_of_latest(result: TailResult, latest: Sequence[LatestFlight], settled: Settled) -> OpenFindings[Finding]:
    """Give what stands open of an aircraft, with the whole findings of its latest flights."""
    counted = list(enumerate(latest, result.flights - len(latest)))[-flights_that_count() :]
    of_flights = [
        OfFlight(one.finding, place, flight.start, flight.id)
        for place, flight in reversed(counted)
        for one in flight.findings
    ]
    return open_findings(result.findings, of_flights, settled)


def anything_kept(store: Store) -> bool:
    """Whether any log is kept."""
    with store.reading() as connection:
        return connection.execute(select(logs.c.id).limit(1)).first() is not None


def tail_names(store: Store) -> list[str]:
    """Give every tail that flights are kept of, in order, without counting them."""
    asked = select(flights.c.tail).where(flights.c.tail.is_not(None)).distinct().order_by(flights.c.tail)
    with store.reading() as connection:
        return list(connection.execute(asked).scalars())


def logs_without_tail(store: Store) -> int:
    """Count the logs that name no aircraft."""
    with store.reading() as connection:
        counted = connection.execute(select(func.count()).select_from(logs).where(logs.c.tail.is_(None)))
        return int(counted.scalar_one())
