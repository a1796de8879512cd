"""Running the present analysis over every original that is kept, and counting what changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from msgspec.structs import replace
from sqlalchemy import select, update

from analyzer.aircraft import Fleet
from analyzer.logs.log import Clock, Log, Refusal, RefusedError
from analyzer.logs.readings import Readings
from analyzer.logs.source import Source
from analyzer.logs.unit import whole_or_refused
from analyzer.records.adding import tails_of
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.changing import assigned_beside, take_in_what_people_said
from analyzer.records.files import (
    all_originals,
    all_traces,
    arriving,
    original_path,
    read_original,
    remove_partial,
    trace_path,
)
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import (
    ASSIGNED,
    TOLD,
    Analysed,
    carry_out_deletes,
    keep,
    replace_kept,
    seal_log,
)
from analyzer.records.kept import KeptLog, kept_logs
from analyzer.records.marks import flight_mark
from analyzer.records.people import Role
from analyzer.records.preparing import Prepared, prepare, prepared_of
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store
from analyzer.records.tables import logs
from analyzer.records.traces import read_trace, told_by
from analyzer.review import review_log


class Original(Source, frozen=True):
    """The kept original of a log."""

    folder: Path = Path()
    digest: str = ""
    told_tail: str | None = None  # what a person said of whose it is
    told_columns: Mapping[str, str] = field(default_factory=dict)  # and of which column is what
    seal: str | None = None  # of its readings, where these stand in for an original that was not kept
    from_readings: bool = False

    def size(self) -> int:
        """How many bytes it holds, unpacked, at most: recordings are packed to a tenth."""
        return 20 * Source.size(self)

    def from_any_folder(self) -> Source:
        """The same log, by a path that leads to it whatever folder a program was started in."""
        return replace(self, path=self.path.absolute(), folder=self.folder.absolute())

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
    taken_in: list[str] = field(default_factory=list)  # originals and readings that the database did not know
    failed: list[tuple[str, str]] = field(default_factory=list)
    without_original: int = 0  # nor readings
    flights_before: int = 0
    flights_after: int = 0
    measures_changed: int = 0
    findings: Counter[str] = field(default_factory=Counter)  # name -> how many more (or fewer) of it
    entries: int = 0  # taken from the files beside a database that had none


def rebuild(store: Store, fleet: Fleet, over: OverLogs = one_by_one, only: Collection[str] | None = None) -> Rebuilt:
    """Analyse every kept original anew, or only those of some hashes; each log is replaced whole or left as it was.

    Originals that the database does not know are taken in, and readings of logs whose original was not kept, so that a
    lost database is made again.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    store.allow(Role.EDITOR)
    return analyse_anew(store, fleet, over, only)


def analyse_anew(
    store: Store, fleet: Fleet, over: OverLogs = one_by_one, only: Collection[str] | None = None
) -> Rebuilt:
    """The same as the program does by itself where its own judgement has changed, whoever asked for something."""
    carry_out_deletes(store)
    rebuilt = Rebuilt(entries=take_in_what_people_said(store))
    known = {log.hash: log for log in kept_logs(store, only=only)}
    if only is None:
        remove_partial(store.folder)
        originals, traces = dict.fromkeys(all_originals(store.folder)), list(all_traces(store.folder))
    else:  # by name, for all files of millions of logs take long to list
        originals = {one: None for one in sorted(only) if original_path(store.folder, one).exists()}
        traces = [one for one in sorted(only) if trace_path(store.folder, one).exists()]
    left = arriving(store.folder) - known.keys()  # to the call that put them down, which knows more of them
    originals = {digest: None for digest in originals if digest not in left}
    unknown = [digest for digest in traces if digest not in known and digest not in originals and digest not in left]
    sources: list[Source | Refusal] = [
        *(original_of(store.folder, digest, known.get(digest)) for digest in originals),
        *(readings_of(store.folder, digest, None) for digest in unknown),
    ]
    asked = [log for log in known.values() if not log.original_kept]
    readings = [log for log in asked if trace_path(store.folder, log.hash).exists()]
    sources += [readings_of(store.folder, log.hash, log) for log in readings if log.hash not in originals]
    rebuilt.without_original = len(asked) - len(readings)
    said = {digest: tail for digest, tail in assigned_beside(store.folder).items() if digest not in known}
    sources = [as_said(source, said) for source in sources]
    read: list[str] = []
    for prepared in over(prepare_original, sources, fleet):
        read += [prepared.digest] if prepared.because is None else []
        if prepared.because is not None:
            rebuilt.failed.append((prepared.source, prepared.because))
        elif prepared.digest not in known:
            if keep(store, prepared):
                rebuilt.taken_in.append(prepared.source)
                assign_again(store, prepared.digest, said)
        elif (both := replace_kept(store, [prepared])[0]) is not None:
            rebuilt.logs += 1
            if _count(rebuilt, *both):
                rebuilt.changed.append(prepared.source)
    settle_ammeters(store, tails_of(store, read), fleet, over)
    return rebuilt


def as_said(source: Source | Refusal, said: Mapping[str, str]) -> Source | Refusal:
    """A log that is taken in, as the one whose people said it is."""
    if isinstance(source, Original) and source.digest in said:
        return replace(source, told_tail=said[source.digest])
    return source


def assign_again(store: Store, digest: str, said: Mapping[str, str]) -> None:
    """Note that a person said whose log it is, where one did."""
    if digest not in said:
        return
    with store.writing() as connection:
        row = connection.execute(select(logs.c.id).where(logs.c.hash == digest)).first()
        if row is not None:
            connection.execute(update(logs).where(logs.c.id == row.id).values(tail_from=ASSIGNED))
            seal_log(connection, row.id)


def original_of(folder: Path, digest: str, log: KeptLog | None, columns: Mapping[str, str] | None = None) -> Original:
    """Give a kept original with what people said of its log; of one that the database does not know its readings tell.

    ``columns`` stand in place of those kept with it.
    """
    if log is None:
        told = told_by(folder, digest)
        name, tail, own = told.source, told.tail, dict(told.columns)
    else:
        name, tail, own = log.source, log.tail if log.tail_from in TOLD else None, dict(log.columns)
    own = own if columns is None else dict(columns)
    return Original(name, original_path(folder, digest), None, folder, digest, tail, own)


def prepare_original(source: Source | Refusal, fleet: Fleet) -> Prepared:
    """Read and review one original anew, with what people said of it."""
    if not isinstance(source, Original):
        return prepare(source, fleet, tail=None, keep_original=True)
    if source.from_readings:
        done = whole_or_refused(source.name, lambda: _of_readings(source, fleet))
        return Prepared(done.source, because=done.because) if isinstance(done, Refusal) else done
    return prepare(source, fleet, tail=source.told_tail, columns=source.told_columns, keep_original=True)


def readings_of(folder: Path, digest: str, log: KeptLog | None) -> Original:
    """Give what stands in for an original that was not kept: the readings, as the analysis saw them."""
    told = told_by(folder, digest)
    name = told.source if log is None else log.source
    tail = told.tail if log is None else log.tail
    own = told.columns if log is None else log.columns
    return Original(name, trace_path(folder, digest), None, folder, digest, tail, own, from_readings=True)


def _of_readings(source: Original, fleet: Fleet) -> Prepared:
    """Review a log anew from its kept readings.

    Raises
    ------
    RefusedError
        When they are damaged.
    """
    try:
        table = read_trace(source.folder, source.digest, source.seal)
    except RecordsError as problem:
        raise RefusedError(str(problem)) from problem
    told = told_by(source.folder, source.digest)
    if told.digest not in ("", source.digest):
        raise RefusedError("Its readings are those of another log, so they are left alone; add the log again.")
    time = table["time_s"].to_numpy()
    step = float(np.median(np.diff(time))) if time.size > 1 else 1.0
    clock = table["clock"]
    start = told.start or (None if clock.is_null().all() else clock.drop_nulls()[0].isoformat())
    log = Log(
        source=source.name,
        tail=source.told_tail,
        tail_from=told.tail_from or "readings",
        encoding="",
        delimiter="",
        decimal_mark=".",
        header_row=1,
        units_row=None,
        rows_dropped=0,
        clock=Clock((), "readings kept", start, None, step),
        columns=(),
        unused=(),
        warnings=told.warnings,
        breaks=told.breaks,
        readings=Readings.of(table),
    )
    own = dict(source.told_columns)
    aircraft = fleet.of(log.tail)
    return prepared_of(log, review_log(log, aircraft), source.digest, own, None, flight_mark(aircraft))


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
