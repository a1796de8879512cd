"""Made histories put into records as ``taper add`` would, without logs: rows of flights, measures and findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.measures.measure import MEASURES, Measure, not_measurable
from analyzer.quantity import count
from analyzer.records import codec
from analyzer.records.changing import add_entries
from analyzer.records.store import Store
from analyzer.records.stored import kept_finding
from analyzer.records.tables import findings, flights, logs, measures, tails
from analyzer.trends.entries import Entry
from analyzer.trends.history import FlightSummary, History


def keep_history(
    store: Store,
    tail: str,
    history: History,
    found: Mapping[int, Sequence[tuple[str, str]]] | None = None,
    added_at: str = "2020-01-01T00:00:00+00:00",
) -> None:
    """Keep a history's flights and entries under a tail; ``found`` gives findings (name, severity) by flight."""
    with store.writing() as connection:
        base = connection.execute(logs.select()).all()
        numbered = list(enumerate(history.flights, len(base) + 1))
        connection.execute(logs.insert(), [_log(number, tail, flight, added_at) for number, flight in numbered])
        connection.execute(flights.insert(), [_flight(number, tail, flight) for number, flight in numbered])
        connection.execute(measures.insert(), [row for one in numbered for row in _measure_rows(*one)])
        seen = [(len(base) + place + 1, one) for place, own in (found or {}).items() for one in own]
        if seen:
            connection.execute(findings.insert(), [_finding(number, *one) for number, one in seen])
        connection.execute(tails.insert().values(tail=tail, revision=1))
    add_entries(store, [Entry(tail, one.when, one.kind, one.words) for one in history.entries])


def _measures(flight: FlightSummary) -> list[Measure]:
    return [
        Measure(name, reading.value, reading.low, reading.high)
        if (reading := flight.readings.get(name))
        else not_measurable(name, "the history is made")
        for name in MEASURES
    ]


def _measure_rows(number: int, flight: FlightSummary) -> list[dict[str, object]]:
    return [
        {"flight_id": number, "name": one.name, "value": one.value, "low": one.low, "high": one.high,
         "because": one.because}
        for one in _measures(flight)
    ]  # fmt: skip


def _finding(number: int, name: str, severity: str) -> dict[str, object]:
    one = Finding(FindingName(name), Severity(severity), 60.0, 120.0, {"times": count(1)}, f"Seen: {name}.")
    return {"flight_id": number, "name": name, "severity": severity, "document": kept_finding(one)}


def _log(number: int, tail: str, flight: FlightSummary, added_at: str) -> dict[str, object]:
    return {
        "id": number, "hash": f"{number:064d}", "source": flight.file or f"made/{number}.csv", "tail": tail,
        "tail_from": "made", "rows": 4000, "starts": _iso(flight.start), "warnings": [], "original_kept": False,
        "added_at": added_at, "analysis": "made",
    }  # fmt: skip


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _flight(number: int, tail: str, flight: FlightSummary) -> dict[str, object]:
    return {
        "id": number, "log_id": number, "number": 1, "tail": tail, "starts": _iso(flight.start),
        "ends": _iso(flight.end), "from_s": 0.0, "to_s": 3600.0 * flight.hours, "hours": flight.hours,
        "nominal_voltage": flight.nominal_voltage, "ammeter": flight.ammeter, "air_start": flight.air_start,
        "air_flight": flight.air_flight, "drawn_ah": flight.drawn_ah,
        "readings": codec.encode({measure.name: measure for measure in _measures(flight)}), "document": {},
    }  # fmt: skip
