"""The latest flights of every aircraft: what a page of the whole fleet shows without loading all of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from analyzer.records import codec
from analyzer.records.store import Store
from analyzer.records.tables import findings, flights
from analyzer.trends.history import Reading


@dataclass(frozen=True, slots=True)
class LatestFlight:
    """One of an aircraft's latest flights; ``findings`` by the contract, worst first."""

    id: int
    start: str
    readings: Mapping[str, Reading]
    findings: tuple[dict[str, Any], ...]


def latest_flights(store: Store, tails: Iterable[str], count: int) -> dict[str, list[LatestFlight]]:
    """Give the latest ``count`` flights of each tail, the latest last; flights without a clock are left out."""
    found: dict[str, list[LatestFlight]] = {}
    with store.reading() as connection:
        for tail in tails:
            asked = (
                select(flights.c.id, flights.c.starts, flights.c.readings)
                .where(flights.c.tail == tail, flights.c.starts.is_not(None))
                .order_by(flights.c.starts.desc())
                .limit(count)
            )
            rows = list(reversed(connection.execute(asked).all()))
            of_these = select(findings.c.flight_id, findings.c.document).where(
                findings.c.flight_id.in_([row.id for row in rows])
            )
            by_flight: dict[int, list[dict[str, Any]]] = {}
            for flight_id, document in connection.execute(of_these.order_by(findings.c.id)):
                by_flight.setdefault(flight_id, []).append(document)
            readings = codec.decode_all(row.readings for row in rows)
            found[tail] = [
                LatestFlight(row.id, row.starts, own, tuple(by_flight.get(row.id, ())))
                for row, own in zip(rows, readings, strict=True)
            ]
    return found
