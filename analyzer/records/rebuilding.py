"""Running the present analysis over every original that is kept, and counting what changed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from analyzer.aircraft import Fleet
from analyzer.logs.log import Refusal, RefusedError
from analyzer.logs.source import Source
from analyzer.records.adding import OverLogs, one_by_one, prepare, tails_of
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.changing import take_in_what_people_said
from analyzer.records.files import all_originals, original_path, read_original, remove_partial, trace_path
from analyzer.records.keeping import TOLD, Analysed, Prepared, keep, remove_leaving, replace_kept
from analyzer.records.kept import KeptLog, kept_logs
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store


@dataclass(frozen=True, slots=True)
class Original(Source):
    """The kept original of a log."""

    folder: Path = Path()
    digest: str = ""
    told_tail: str | None = None  # what a person said of whose it is
    told_columns: Mapping[str, str] = field(default_factory=dict)  # and of which column is what

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


def rebuild(store: Store, fleet: Fleet, over: OverLogs = one_by_one, only: Collection[str] | None = None) -> Rebuilt:
    """Analyse every kept original anew, or only those of some hashes; each log is replaced whole or left as it was.

    Originals that the database does not know are taken in, so that a lost database is made again.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    remove_leaving(store)
    remove_partial(store.folder)
    rebuilt = Rebuilt(entries=take_in_what_people_said(store))
    known = {log.hash: log for log in kept_logs(store)}
    rebuilt.without_original = sum(not log.original_kept for log in known.values() if only is None or log.hash in only)
    sources: list[Source | Refusal] = [
        original_of(store.folder, digest, known.get(digest))
        for digest in all_originals(store.folder)
        if only is None or digest in only
    ]
    for prepared in over(prepare_original, sources, fleet):
        if prepared.because is not None:
            rebuilt.failed.append((prepared.source, prepared.because))
        elif prepared.digest not in known:
            if keep(store, prepared):
                rebuilt.taken_in.append(prepared.source)
        elif (both := replace_kept(store, prepared)) is not None:
            rebuilt.logs += 1
            if _count(rebuilt, *both):
                rebuilt.changed.append(prepared.source)
    settle_ammeters(store, tails_of(store, list(only) if only is not None else list(known)), fleet, over)
    return rebuilt


def original_of(folder: Path, digest: str, log: KeptLog | None, columns: Mapping[str, str] | None = None) -> Original:
    """Give a kept original with what people said of its log; of one that the database does not know its readings tell.

    ``columns`` stand in place of those kept with it.
    """
    if log is None:
        name, tail, own = _of_trace(folder, digest)
    else:
        name, tail, own = log.source, log.tail if log.tail_from in TOLD else None, dict(log.columns)
    own = own if columns is None else dict(columns)
    return Original(name, original_path(folder, digest), None, folder, digest, tail, own)


def prepare_original(source: Source | Refusal, fleet: Fleet) -> Prepared:
    """Read and review one original anew, with what people said of it."""
    if not isinstance(source, Original):
        return prepare(source, fleet, tail=None, keep_original=True)
    return prepare(source, fleet, tail=source.told_tail, columns=source.told_columns, keep_original=True)


def _of_trace(folder: Path, digest: str) -> tuple[str, str | None, dict[str, str]]:
    """The source, tail and columns of a log that the database does not know, as its readings' file names them."""
    import polars as pl

    try:
        told = pl.read_parquet_metadata(trace_path(folder, digest))
    except (OSError, pl.exceptions.PolarsError):
        return f"{digest[:12]}.csv", None, {}
    return told.get("source", f"{digest[:12]}.csv"), told.get("tail") or None, json.loads(told.get("columns") or "{}")


def _count(rebuilt: Rebuilt, before: Analysed, after: Analysed) -> bool:
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
