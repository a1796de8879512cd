"""A tail's flights and entries out of the records, as the trends take them."""

from __future__ import annotations

from sqlalchemy import select

from analyzer.aircraft import Fleet, read_fleet
from analyzer.findings.finding import FindingName, Severity
from analyzer.records import codec
from analyzer.records.changing import entries_of
from analyzer.records.holding import check_index
from analyzer.records.place import FLEET
from analyzer.records.seals import check_flight
from analyzer.records.store import Store
from analyzer.records.stored import moment_or_none
from analyzer.records.tables import findings, flights, logs
from analyzer.trends.history import FlightFinding, FlightSummary, History, history_of


def fleet_kept(store: Store) -> Fleet:
    """Give the fleet file kept with the records, an empty fleet when there is none.

    Raises
    ------
    FleetFileError
        When it was spoilt by hand.
    """
    path = store.folder / FLEET
    return read_fleet(path) if path.exists() else Fleet()


def kept_history(store: Store, tail: str, fleet: Fleet | None = None) -> History:
    """Give a tail's flights and entries for the trends."""
    asked = (
        select(
            flights.c.id, flights.c.starts, flights.c.ends, flights.c.hours, flights.c.nominal_voltage,
            flights.c.ammeter, flights.c.air_start, flights.c.air_flight, flights.c.drawn_ah, flights.c.readings,
            flights.c.number, flights.c.from_s, flights.c.to_s, flights.c.seal, logs.c.source,
        )
        .join(logs, logs.c.id == flights.c.log_id)
        .where(flights.c.tail == tail)
        .order_by(flights.c.starts.nulls_first(), flights.c.id)
    )  # fmt: skip
    found = (
        select(findings.c.flight_id, findings.c.name, findings.c.severity)
        .join(flights, flights.c.id == findings.c.flight_id)
        .where(flights.c.tail == tail)
    )
    with store.reading() as connection:
        result = connection.execute(asked)
        columns = tuple(result.keys())
        rows = [dict(zip(columns, row, strict=True)) for row in result]  # each value is asked for more than once
        told: dict[int, list[tuple[str, str]]] = {}  # as it is kept: what a disk changed may be no name at all
        for flight_id, name, severity in connection.execute(found):
            told.setdefault(flight_id, []).append((name, severity))
        check_index(connection, tail, [row["starts"] for row in rows])
        for row in rows:
            check_flight(row, told.get(row["id"], ()))
        entries = [kept.entry for kept in entries_of(connection, tail)]
    readings = codec.decode_all(row["readings"] for row in rows)
    of_flights = {
        flight_id: tuple(FlightFinding(FindingName(name), Severity(severity)) for name, severity in own)
        for flight_id, own in told.items()
    }
    summaries = [
        FlightSummary(
            moment_or_none(row["starts"]), moment_or_none(row["ends"]), row["hours"], row["nominal_voltage"],
            row["ammeter"], row["air_start"], row["air_flight"], row["drawn_ah"], own,
            of_flights.get(row["id"], ()), row["source"], row["number"], row["id"],
        )
        for row, own in zip(rows, readings, strict=True)
    ]  # fmt: skip
    profile = (fleet_kept(store) if fleet is None else fleet).of(tail)
    return history_of(tail, summaries, entries, profile)
