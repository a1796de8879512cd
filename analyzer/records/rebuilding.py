"""Running the present analysis over every original that is kept, and counting what changed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, delete, insert, select, update

from analyzer.aircraft import Fleet
from analyzer.logs.log import Refusal, RefusedError
from analyzer.logs.source import ENTRIES_FILE, Source
from analyzer.records.adding import OverLogs, Prepared, insert_flights, keep, one_by_one, prepare, touch
from analyzer.records.changing import DISPOSITIONS_FILE, add_entries, kept_dispositions, kept_entries
from analyzer.records.files import all_originals, original_path, read_original, trace_path, write_whole
from analyzer.records.kept import kept_logs
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store, sentences
from analyzer.records.tables import dispositions, findings, flights, logs
from analyzer.trends.entries import read_entries

#: How ``tail_from`` says that a person, not the log, told whose it is.
TOLD = ("assigned", "named when added")


@dataclass(frozen=True, slots=True)
class Original(Source):
    """The kept original of a log."""

    folder: Path = Path()
    digest: str = ""
    told_tail: str | None = None  # what a person said of whose it is

    def read(self) -> bytes:
        """All bytes of the log."""
        try:
            return read_original(self.folder, self.digest)
        except RecordsError as problem:
            raise RefusedError(str(problem)) from problem


@dataclass(slots=True)
class Rebuilt:
    """What a rebuild changed."""

    logs: int = 0
    changed: list[str] = field(default_factory=list)
    taken_in: list[str] = field(default_factory=list)  # originals that the database did not know
    failed: list[tuple[str, str]] = field(default_factory=list)
    without_original: int = 0
    flights_before: int = 0
    flights_after: int = 0
    measures_changed: int = 0
    findings: Counter[str] = field(default_factory=Counter)  # name -> how many more (or fewer) of it
    entries: int = 0  # taken from the files beside a database that had none


def rebuild(store: Store, fleet: Fleet, over: OverLogs = one_by_one) -> Rebuilt:
    """Analyse every kept original anew; each log is replaced whole or left as it was.

    Originals that the database does not know are taken in, so that a lost database is made again.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    rebuilt = Rebuilt()
    rebuilt.entries = _take_in_what_people_said(store)
    known = {log.hash: log for log in kept_logs(store)}
    rebuilt.without_original = sum(not log.original_kept for log in known.values())
    sources: list[Source | Refusal] = []
    for digest in all_originals(store.folder):
        log = known.get(digest)
        told = log.tail if log is not None and log.tail_from in TOLD else None
        name, lost_tail = (log.source, None) if log is not None else _of_trace(store.folder, digest)
        sources.append(
            Original(name, original_path(store.folder, digest), None, store.folder, digest, told or lost_tail)
        )
    for prepared in over(_prepare, sources, fleet):
        if prepared.because is not None:
            rebuilt.failed.append((prepared.source, prepared.because))
        elif prepared.digest in known:
            _replace(store, prepared, rebuilt)
        elif keep(store, prepared):
            rebuilt.taken_in.append(prepared.source)
    return rebuilt


def _prepare(source: Source | Refusal, fleet: Fleet) -> Prepared:
    told = source.told_tail if isinstance(source, Original) else None
    return prepare(source, fleet, tail=told, keep_original=True)


def _of_trace(folder: Path, digest: str) -> tuple[str, str | None]:
    """The source and tail of a log that the database does not know, as its readings' file names them."""
    import polars as pl

    try:
        told = pl.read_parquet_metadata(trace_path(folder, digest))
    except (OSError, pl.exceptions.PolarsError):
        return f"{digest[:12]}.csv", None
    return told.get("source", f"{digest[:12]}.csv"), told.get("tail") or None


def _replace(store: Store, prepared: Prepared, rebuilt: Rebuilt) -> None:
    """Put the new analysis of a log in the old one's place."""
    with sentences(store.folder):
        write_whole(trace_path(store.folder, prepared.digest), prepared.trace)
    with store.writing() as connection:
        row = connection.execute(select(logs.c.id, logs.c.tail).where(logs.c.hash == prepared.digest)).first()
        if row is None:
            return  # forgotten meanwhile
        before = _kept(connection, row.id)
        after = [(one["readings"], [found["name"] for found in one["findings"]]) for one in prepared.flights]
        changed = _count(rebuilt, before, after)
        rebuilt.logs += 1
        connection.execute(delete(flights).where(flights.c.log_id == row.id))
        kept = {k: v for k, v in prepared.row.items() if k not in ("hash", "source", "added_at", "original_kept")}
        if prepared.row["tail"] is None or (row.tail is not None and prepared.row["tail_from"] in TOLD):
            kept.pop("tail_from")
        connection.execute(update(logs).where(logs.c.id == row.id).values(**kept))
        insert_flights(connection, row.id, prepared.flights)
        for tail in {row.tail, prepared.row["tail"]} - {None}:
            touch(connection, tail)
    if changed:
        rebuilt.changed.append(prepared.source)


def _kept(connection: Connection, log_id: int) -> list[tuple[bytes, list[str]]]:
    rows = connection.execute(
        select(flights.c.id, flights.c.readings).where(flights.c.log_id == log_id).order_by(flights.c.number)
    ).all()
    return [
        (
            row.readings,
            list(connection.execute(select(findings.c.name).where(findings.c.flight_id == row.id)).scalars()),
        )
        for row in rows
    ]


def _count(rebuilt: Rebuilt, before: list[tuple[bytes, list[str]]], after: list[tuple[bytes, list[str]]]) -> bool:
    """Count what differs; whether anything does."""
    rebuilt.flights_before += len(before)
    rebuilt.flights_after += len(after)
    changed = len(before) != len(after)
    for (old, old_names), (new, new_names) in zip(before, after, strict=False):
        was, now = (np.frombuffer(data, dtype="<f8") for data in (old, new))
        if was.size == now.size:
            differ = ~np.isclose(was, now, rtol=1e-6, atol=1e-9, equal_nan=True).reshape(-1, 3).all(axis=1)
            rebuilt.measures_changed += int(differ.sum())
            changed |= bool(differ.any())
        changed |= sorted(old_names) != sorted(new_names)
    names = [Counter(name for _, own in side for name in own) for side in (before, after)]
    for name in names[0].keys() | names[1].keys():
        if names[1][name] != names[0][name]:
            rebuilt.findings[name] += names[1][name] - names[0][name]
    return changed


def _take_in_what_people_said(store: Store) -> int:
    """Entries and dispositions from the files beside a database that has none; how many."""
    taken = 0
    file = store.folder / ENTRIES_FILE
    if file.exists() and not kept_entries(store):
        taken += add_entries(store, read_entries(file))
    said = store.folder / DISPOSITIONS_FILE
    if said.exists() and not kept_dispositions(store):
        taken += _take_in_dispositions(store, said)
    return taken


def _take_in_dispositions(store: Store, file: Path) -> int:
    import csv

    with sentences(store.folder), file.open(encoding="utf-8", newline="") as opened:
        rows: list[dict[str, Any]] = [{**row, "entry_id": None} for row in csv.DictReader(opened)]
    if rows:
        with store.writing() as connection:
            connection.execute(insert(dispositions), rows)
    return len(rows)
