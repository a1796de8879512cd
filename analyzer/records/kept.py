"""Reading the records: what pages and commands ask for. No caller sees SQL, ids are the only keys.

with open_records(records_folder()) as store:
    for tail in tails(store):
        review = tail_review(store, tail.tail)        # the tail over its flights, worked out anew when needed
    table = measures_table(store, "N047KT")           # one row a flight and measure
    readings = trace(store, flight_id)                # the flight's readings
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import RowMapping, func, select

from analyzer.findings.finding import Severity
from analyzer.records.histories import fleet_kept, kept_history
from analyzer.records.holding import check_flights, check_index
from analyzer.records.problems import RecordsError
from analyzer.records.reviewing import known_then, tail_review, tail_reviews
from analyzer.records.seals import check_flight, checked_findings, document_seal, hold, log_seal
from analyzer.records.store import Store
from analyzer.records.stored import KeptFinding, clock_start, finding_of, flight_of, moment_or_none
from analyzer.records.tables import findings, flights, logs, measures
from analyzer.records.traces import read_trace
from analyzer.results import FlightResult

if TYPE_CHECKING:
    import polars as pl


__all__ = [
    "FlightRecord", "KeptFinding", "KeptFlight", "KeptLog", "KeptTail",
    "fleet_kept", "flight_findings", "flight_record", "kept_history",
    "kept_logs", "known_then", "measures_table", "tail_flights", "tail_review", "tail_reviews",
    "tails", "trace",
]  # fmt: skip


#: Columns of ``flights`` that are read for their seal alone.
#: As many hashes are asked for by name; beyond it all logs are read.
FEW_HASHES = 500
_SEALED = ("from_s", "to_s", "air_start", "air_flight", "drawn_ah", "readings", "seal")


@dataclass(frozen=True, slots=True)
class KeptTail:
    """One aircraft that flights are kept of."""

    tail: str
    flights: int
    hours: float
    first: datetime | None  # start of its first and last flight, None without a clock
    last: datetime | None


@dataclass(frozen=True, slots=True)
class KeptLog:
    """One log that is kept."""

    id: int
    hash: str
    source: str
    tail: str | None
    tail_from: str | None  # what told it: the log, or a person
    rows: int
    start: str | None
    warnings: tuple[str, ...]
    original_kept: bool
    added_at: str
    analysis: str  # what it was judged by: see ``marks``
    columns: Mapping[str, str]  # role -> header that a person named for this log, before those of its aircraft
    trace: str | None = None  # seal of its readings


@dataclass(frozen=True, slots=True)
class KeptFlight:
    """One flight that is kept; ``worst`` is its worst finding's severity."""

    id: int
    log_id: int
    number: int
    tail: str | None
    start: datetime | None  # None without a clock
    end: datetime | None
    hours: float
    nominal_voltage: int | None
    ammeter: str
    findings: int
    worst: Severity | None


@dataclass(frozen=True, slots=True)
class FlightRecord:
    """What one flight came to, and the log that it is of."""

    result: FlightResult
    source: str
    tail: str | None
    log_id: int
    warnings: tuple[str, ...]  # of the log


def tails(store: Store) -> list[KeptTail]:
    """Give every aircraft that flights are kept of, by tail."""
    asked = (
        select(
            flights.c.tail,
            func.count(),
            func.sum(flights.c.hours),
            func.min(flights.c.starts),
            func.max(flights.c.starts),
        )
        .where(flights.c.tail.is_not(None))
        .group_by(flights.c.tail)
        .order_by(flights.c.tail)
    )
    with store.reading() as connection:
        check_index(connection)
        rows = connection.execute(asked).all()
    return [
        KeptTail(tail, count, hours, moment_or_none(first), moment_or_none(last))
        for tail, count, hours, first, last in rows
    ]


def kept_logs(
    store: Store, tail: str | None = None, *, without_tail: bool = False, only: Collection[str] | None = None
) -> list[KeptLog]:
    """Give the logs that are kept, in order of start: all, one tail's, those that name none, those of some hashes."""
    asked = select(logs).order_by(logs.c.starts.nulls_first(), logs.c.id)
    if tail is not None:
        asked = asked.where(logs.c.tail == tail.upper())
    if without_tail:
        asked = asked.where(logs.c.tail.is_(None))
    if only is not None and len(only) <= FEW_HASHES:
        asked = asked.where(logs.c.hash.in_(only))
    with store.reading() as connection:
        if tail is not None:
            check_index(connection, tail.upper())
        rows = [row for row in connection.execute(asked).mappings() if only is None or row["hash"] in only]
    for row in rows:
        hold(row["seal"], log_seal(row), f"log {row['id']} ({row['source']})")
    return [_kept_log(row) for row in rows]


def kept_log(store: Store, digest: str) -> KeptLog | None:
    """Give the log of a hash, None when it is not kept.

    Raises
    ------
    DamagedError
        When its row is not what was written.
    """
    with store.reading() as connection:
        row = connection.execute(select(logs).where(logs.c.hash == digest)).mappings().first()
    if row is None:
        return None
    hold(row["seal"], log_seal(row), f"log {row['id']} ({row['source']})")
    return _kept_log(row)


def _kept_log(row: RowMapping) -> KeptLog:
    return KeptLog(
        id=row["id"],
        hash=row["hash"],
        source=row["source"],
        tail=row["tail"],
        tail_from=row["tail_from"],
        rows=row["rows"],
        start=row["starts"],
        warnings=tuple(row["warnings"]),
        original_kept=row["original_kept"],
        added_at=row["added_at"],
        analysis=row["analysis"],
        columns=row["columns"] or {},
        trace=row["trace"],
    )


def tail_flights(store: Store, tail: str) -> list[KeptFlight]:
    """Give the flights of a tail in order of start."""
    asked = (
        select(
            flights.c.id, flights.c.log_id, flights.c.number, flights.c.tail, flights.c.starts, flights.c.ends,
            flights.c.hours, flights.c.nominal_voltage, flights.c.ammeter, *(flights.c[name] for name in _SEALED),
        )
        .where(flights.c.tail == tail.upper())
        .order_by(flights.c.starts.nulls_first(), flights.c.id)
    )  # fmt: skip
    found = (
        select(findings.c.flight_id, findings.c.name, findings.c.severity)
        .join(flights, flights.c.id == findings.c.flight_id)
        .where(flights.c.tail == tail.upper())
    )
    with store.reading() as connection:
        by_flight: dict[int, list[tuple[str, str]]] = {}
        for flight_id, name, severity in connection.execute(found):
            by_flight.setdefault(flight_id, []).append((name, severity))
        rows = connection.execute(asked).all()
        check_index(connection, tail.upper(), [row.starts for row in rows])
    told = []
    for row in rows:
        own = by_flight.get(row.id, [])
        check_flight(row._mapping, own)
        worst = max((Severity(severity) for _, severity in own), key=lambda one: one.rank, default=None)
        told.append(
            KeptFlight(
                row.id, row.log_id, row.number, row.tail, moment_or_none(row.starts), moment_or_none(row.ends),
                row.hours, row.nominal_voltage, row.ammeter, len(own), worst,
            )
        )  # fmt: skip
    return told


def log_of_flight(store: Store, tail: str | None, log_id: int) -> KeptLog:
    """Give the log that a flight of an aircraft lies in.

    Raises
    ------
    RecordsError
        When it was read anew or forgotten since the flight was looked up.
    """
    found = next((one for one in kept_logs(store, tail) if one.id == log_id), None)
    if found is None:
        raise RecordsError("The log of this flight was read anew just now; look it up once more.")
    return found


def run_down_flights(store: Store, tail: str) -> list[int]:
    """Give the flights of a tail that ran its battery down, in order of start."""
    asked = (
        select(flights.c.id)
        .where(flights.c.tail == tail.upper())
        .where(func.json_extract(flights.c.document, "$.capacity_shown.capacity").is_not(None))
        .order_by(flights.c.starts, flights.c.id)
    )
    with store.reading() as connection:
        return list(connection.execute(asked).scalars())


def flight_record(store: Store, flight_id: int) -> FlightRecord:
    """Give what one flight came to, with the log that it is of.

    Raises
    ------
    RecordsError
        When no such flight is kept.
    """
    with store.reading() as connection:
        row = connection.execute(
            select(
                flights.c.document,
                flights.c.document_seal,
                flights.c.log_id,
                logs.c.source,
                logs.c.tail,
                logs.c.warnings,
            )
            .join(logs, logs.c.id == flights.c.log_id)
            .where(flights.c.id == flight_id)
        ).first()
        if row is None:
            raise RecordsError(f"No flight {flight_id} is kept; it may have been forgotten or rebuilt.")
        own = connection.execute(select(measures).where(measures.c.flight_id == flight_id)).mappings().all()
        found = checked_findings(
            connection.execute(select(findings).where(findings.c.flight_id == flight_id).order_by(findings.c.id))
            .mappings().all()
        )  # fmt: skip
        hold(row.document_seal, document_seal(row.document, own), f"flight {flight_id} of {row.source}")
    result = flight_of(row.document, own, [one["document"] for one in found])
    return FlightRecord(result, row.source, row.tail, row.log_id, tuple(row.warnings))


def measures_table(store: Store, tail: str) -> pl.DataFrame:
    """Give a tail's measures: flight_id, start, name, value, low, high, because; a row a flight and measure."""
    import polars as pl

    asked = (
        select(
            flights.c.id, flights.c.starts, measures.c.name, measures.c.value, measures.c.low,
            measures.c.high, measures.c.because,
        )
        .join(measures, measures.c.flight_id == flights.c.id)
        .where(flights.c.tail == tail.upper())
        .order_by(flights.c.starts.nulls_first(), flights.c.id)
    )  # fmt: skip
    kinds = {"flight_id": pl.Int64, "start": pl.String, "name": pl.String} | dict.fromkeys(
        ("value", "low", "high"), pl.Float64
    )
    with store.reading() as connection:
        check_index(connection, tail.upper())
        check_flights(connection, flights.c.tail == tail.upper())
        rows = [tuple(row) for row in connection.execute(asked)]
    return pl.DataFrame(rows, schema={**kinds, "because": pl.String}, orient="row")


def flight_findings(store: Store, tail: str | None = None, since: datetime | None = None) -> list[KeptFinding]:
    """Give findings of flights, those of the latest flight first."""
    asked = (
        select(findings, flights.c.tail, flights.c.starts, flights.c.from_s)
        .join(flights, flights.c.id == findings.c.flight_id)
        .order_by(flights.c.starts.desc().nulls_last(), findings.c.id)
    )
    if tail is not None:
        asked = asked.where(flights.c.tail == tail.upper())
    if since is not None:
        asked = asked.where(flights.c.starts >= since.isoformat())
    with store.reading() as connection:
        rows = checked_findings(connection.execute(asked).mappings().all())
    return [
        KeptFinding(
            finding_of(row["document"]), row["flight_id"], row["tail"], clock_start(row["starts"], row["from_s"])
        )
        for row in rows
    ]


def trace(store: Store, flight_id: int) -> pl.DataFrame:
    """Give the readings of one flight: ``time_s`` from the log's first row, ``clock``, one column a role.

    Raises
    ------
    RecordsError
        When no such flight is kept, or its readings are missing or damaged.
    """
    import polars as pl

    with store.reading() as connection:
        row = connection.execute(
            select(logs.c.hash, logs.c.trace, flights.c.from_s, flights.c.to_s)
            .join(logs, logs.c.id == flights.c.log_id)
            .where(flights.c.id == flight_id)
        ).first()
    if row is None:
        raise RecordsError(f"No flight {flight_id} is kept; it may have been forgotten or rebuilt.")
    return read_trace(store.folder, row.hash, row.trace).filter(pl.col("time_s").is_between(row.from_s, row.to_s))
