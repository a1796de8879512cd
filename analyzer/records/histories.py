"""A tail's flights and entries out of the records, as the trends take them."""

from __future__ import annotations

from sqlalchemy import bindparam, select

from analyzer.aircraft import Fleet, read_fleet
from analyzer.findings.finding import FindingName, Severity
from analyzer.records import codec
from analyzer.records.changing import entries_of
from analyzer.records.holding import check_index
from analyzer.records.place import FLEET
from analyzer.records.seals import FLIGHT_COLUMNS, check_each_flight
from analyzer.records.store import Store
from analyzer.records.stored import moments_or_none
from analyzer.records.tables import findings, flights, logs
from analyzer.trends.history import FlightFinding, History, flights_by_columns, history_of

#: Made once, for it takes as long to put one together as to find its rows: a tail's flights in the order in which their
#: index has them, and their findings.
_FLIGHTS = (
    select(flights.c.id, flights.c.readings, flights.c.seal, *(flights.c[name] for name in FLIGHT_COLUMNS))
    .add_columns(logs.c.source)
    .join(logs, logs.c.id == flights.c.log_id)
    .where(flights.c.tail == bindparam("of"))
    .order_by(flights.c.starts.nulls_first(), flights.c.hours, flights.c.id)
)
_FOUND = (
    select(findings.c.flight_id, findings.c.name, findings.c.severity)
    .join(flights, flights.c.id == findings.c.flight_id)
    .where(flights.c.tail == bindparam("of"))
)


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
    with store.reading() as connection:
        result = connection.execute(_FLIGHTS, {"of": tail})
        names, rows = tuple(result.keys()), result.all()
        columns = dict(zip(names, zip(*rows, strict=True) if rows else [()] * len(names), strict=True))
        told: dict[int, list[tuple[str, str]]] = {}  # as it is kept: what a disk changed may be no name at all
        for flight_id, name, severity in connection.execute(_FOUND, {"of": tail}):
            told.setdefault(flight_id, []).append((name, severity))
        check_index(connection, tail, columns["starts"])
        check_each_flight(columns, told)
        entries = [kept.entry for kept in entries_of(connection, tail)]
    of_flights = {
        flight_id: tuple(FlightFinding(FindingName(name), Severity(severity)) for name, severity in own)
        for flight_id, own in told.items()
    }
    summaries = flights_by_columns(
        columns
        | {
            "start": moments_or_none(columns["starts"]),
            "end": moments_or_none(columns["ends"]),
            "readings": codec.decode_all(columns["readings"]),
            "findings": [of_flights.get(flight_id, ()) for flight_id in columns["id"]],
            "file": columns["source"],
        }
    )
    profile = (fleet_kept(store) if fleet is None else fleet).of(tail)
    return history_of(tail, summaries, entries, profile)
