"""Records of any size for the benchmarks: flights whose summaries are drawn, sealed and marked as the program does it.

What a flight's row carries beside its readings (its document, and the finding that some have) is that of one simulated
flight. Flights' rows of ``measures`` are left out, which no page of many flights reads, and so are traces and
originals.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from analyzer.aircraft import Fleet
from analyzer.measures.measure import MEASURES
from analyzer.records.marks import flight_mark
from analyzer.records.seals import document_seal, finding_seal, flight_seal, log_seal
from analyzer.records.store import Store, open_records
from analyzer.records.stored import kept_finding, kept_flight
from analyzer.records.tables import tails
from analyzer.results import flight_result

#: Level and spread of each measure that the made flights carry.
LEVELS = {
    "resting_voltage": (12.7, 0.03),
    "cranking_voltage": (9.6, 0.3),
    "recharge_time_constant": (2.8, 0.3),
    "recharge_settling_time": (7.0, 1.0),
    "maintenance_current": (0.8, 0.15),
    "regulated_voltage": (14.05, 0.03),
    "regulation_scatter": (0.02, 0.004),
    "battery_resistance": (9.0, 0.5),
    "bus_load": (9.0, 0.8),
}
#: The last flights of an aircraft that drifts, and how far its volts fall over them.
DRIFTING_FLIGHTS, DRIFT_V = 90, 0.35
#: One flight in so many has a finding.
FOUND_EVERY = 25
INSERTS = {
    "logs": ("id", "hash", "source", "tail", "tail_from", "rows", "starts", "warnings", "original_kept", "added_at",
             "analysis", "trace", "seal"),
    "flights": ("id", "log_id", "number", "tail", "starts", "ends", "from_s", "to_s", "hours", "nominal_voltage",
                "ammeter", "air_start", "air_flight", "drawn_ah", "readings", "document", "seal", "document_seal"),
    "findings": ("flight_id", "name", "severity", "document", "seal"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Like:
    """What the made flights have of a simulated one."""

    document: Any
    finding: Any


def make_records(folder: Path, sizes: Sequence[int], drifting: int = 0, ends: datetime | None = None) -> list[str]:
    """Make records of as many aircraft as there are ``sizes``, which say how many flights each has; gives their tails.

    The first ``drifting`` of them drift. ``ends`` is when the last flights begin, yesterday when None.
    """
    rng, like = np.random.default_rng(1), _like()
    last = ends or datetime.now().replace(hour=9, minute=0, second=0, microsecond=0) - timedelta(days=1)
    names = [f"N0{place:03d}B" for place in range(len(sizes))]
    with open_records(folder, create=True) as store:
        first = 1
        for place, (tail, count) in enumerate(zip(names, sizes, strict=True)):
            begun = last - timedelta(minutes=place)
            _insert(store, tail, list(_rows(tail, first, count, begun, place < drifting, like, rng)))
            first += count
    return names


def _like() -> Like:
    """A simulated flight with a fault, as the records keep it."""
    from analyzer.aircraft import Aircraft
    from analyzer.review import review_log
    from analyzer.simulator.as_log import as_log
    from analyzer.simulator.scenarios import FAULTY
    from analyzer.simulator.simulate import simulate

    makers = iter(FAULTY.values())
    while True:
        flight = review_log(as_log(simulate(next(makers)(3, 14, "battery"))), Aircraft()).flights[0]
        if flight.findings:
            return Like(kept_flight(flight_result(flight)), kept_finding(flight.findings[0]))


def _rows(
    tail: str, first: int, count: int, last: datetime, drifts: bool, like: Like, rng: np.random.Generator
) -> Iterator[dict[str, dict[str, Any]]]:
    """Each flight's rows by table, in order of time, the last begun at ``last``."""
    gaps = np.append(rng.uniform(20.0, 70.0, count - 1), 0.0)[::-1].cumsum()[::-1]  # hours to the last flight
    hours, air = rng.uniform(0.6, 1.8, count), rng.normal(12.0, 8.0, count)
    readings, has_finding = _readings(count, drifts, rng), rng.random(count) < 1.0 / FOUND_EVERY
    mark, document = flight_mark(Fleet().of(tail)), json.dumps(like.document)
    sealed = document_seal(like.document, ())
    for place in range(count):
        number, starts = first + place, last - timedelta(hours=float(gaps[place]))
        log = {
            "id": number, "hash": f"{number:064d}", "source": f"made/{number}.csv", "tail": tail,
            "tail_from": "column", "rows": 4000, "starts": starts.isoformat(), "warnings": [], "original_kept": False,
            "added_at": f"{starts.isoformat(timespec='seconds')}+00:00", "analysis": mark, "trace": None,
        }  # fmt: skip
        flight = {
            "id": number, "log_id": number, "number": 1, "tail": tail, "starts": starts.isoformat(),
            "ends": (starts + timedelta(hours=float(hours[place]))).isoformat(), "from_s": 0.0,
            "to_s": 3600.0 * float(hours[place]), "hours": float(hours[place]), "nominal_voltage": 14,
            "ammeter": "battery", "air_start": float(air[place]), "air_flight": float(air[place]) - 3.0,
            "drawn_ah": 0.2, "readings": readings[place].tobytes(),
        }  # fmt: skip
        found = {"name": like.finding["name"], "severity": like.finding["severity"]}
        has = bool(has_finding[place])
        told = [(found["name"], found["severity"])] if has else []
        rows = {
            "logs": log | {"warnings": "[]", "seal": log_seal(log)},
            "flights": flight | {"document": document, "seal": flight_seal(flight, told), "document_seal": sealed},
        }
        if has:
            of = found | {"flight_id": number, "document": json.dumps(like.finding)}
            rows["findings"] = of | {"seal": finding_seal(found["name"], found["severity"], like.finding)}
        yield rows


def _readings(count: int, drifts: bool, rng: np.random.Generator) -> Any:
    """Value, low and high of every measure of each flight, as ``codec`` encodes them."""
    made = np.full((count, len(MEASURES), 3), np.nan)
    for place, name in enumerate(MEASURES):
        if name in LEVELS:
            level, spread = LEVELS[name]
            values = np.maximum(rng.normal(level, spread, count), 0.001)
            if drifts and name == "regulated_voltage":
                values[-DRIFTING_FLIGHTS:] -= np.linspace(0.0, DRIFT_V, DRIFTING_FLIGHTS)[-count:]
            made[:, place] = values[:, None] + np.array([0.0, -spread, spread])
    return made.astype("<f8")


def _insert(store: Store, tail: str, rows: Sequence[dict[str, dict[str, Any]]]) -> None:
    """Write an aircraft's rows in one transaction, in the database's own words, for the sake of time."""
    with store.writing() as connection:
        for table, names in INSERTS.items():
            values = [tuple(row[table][name] for name in names) for row in rows if table in row]
            words = f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"
            if values:
                connection.exec_driver_sql(words, values)
        connection.execute(tails.insert().values(tail=tail, revision=1))
