"""Kept flights once more as the analysis saw them: from their readings, without the recorder's file.

with open_records(records_folder()) as store:
    for kept in kept_readings(store, "N047KT", since):
        for flight in replay_log(kept, aircraft):
            ...
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import select

from analyzer.aircraft import Aircraft
from analyzer.logs import Refusal, Source, read_log
from analyzer.logs.log import Clock, Log
from analyzer.logs.readings import Readings
from analyzer.records.ammeters import kept_ammeter
from analyzer.records.files import Held, original_path, read_original, size_of_log
from analyzer.records.kept import kept_logs
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store
from analyzer.records.stored import moment
from analyzer.records.tables import flights, logs
from analyzer.records.traces import read_trace_and_breaks
from analyzer.results import clock_at
from analyzer.review import FlightReview, review_log

if TYPE_CHECKING:
    import polars as pl


@dataclass(frozen=True, slots=True)
class ReplayedFlight:
    """A flight judged as today, and which of the kept ones it is."""

    id: int | None  # None where none of the kept ones begins in it
    source: str
    number: int  # of its log's flights, from 1
    start: datetime | None
    review: FlightReview


@dataclass(frozen=True, slots=True)
class Cut:
    """Where one kept flight begins in its log, and whether it was asked for."""

    id: int
    number: int
    from_s: float
    wanted: bool


class KeptReadings(Source, frozen=True):
    """The kept readings of a log and its flights, small enough to be sent to another process."""

    folder: Path = Path()
    digest: str = ""
    tail: str = ""
    starts: str | None = None
    cuts: tuple[Cut, ...] = ()
    ammeter: tuple[str, str] | None = None  # its kind by all kept flights of the tail, and the words for it
    trace: str | None = None  # the seal of its readings
    rows: int = 0

    def size(self) -> int:
        """About how many bytes the log has."""
        return size_of_log(self.folder, self.digest, self.rows)

    def read(self) -> bytes:
        """All bytes of the log.

        Raises
        ------
        RecordsError
            When they were not kept or are damaged.
        """
        return read_original(self.folder, self.digest)


def newest_flight(store: Store, tail: str) -> datetime | None:
    """Give the start of a tail's newest flight, None when none has a clock."""
    asked = select(flights.c.starts).where(flights.c.tail == tail.upper(), flights.c.starts.is_not(None))
    with store.reading() as connection:
        start = connection.execute(asked.order_by(flights.c.starts.desc()).limit(1)).scalar()
    return moment(start) if start else None


def kept_readings(
    store: Store, tail: str, since: datetime | None = None, until: datetime | None = None
) -> list[KeptReadings]:
    """Give the logs of a tail that hold a flight begun in a period, in order of time.

    A flight without a clock counts only where no period is named.

    Raises
    ------
    DamagedError
        When a log's row is not what was written.
    """
    kept_logs(store, tail)  # which checks each, for their names stand beside what is found
    asked = (
        select(
            logs.c.hash, logs.c.trace, logs.c.rows, logs.c.source, logs.c.starts.label("log_starts"), flights.c.id,
            flights.c.number, flights.c.from_s, flights.c.starts,
        )
        .join(flights, flights.c.log_id == logs.c.id)
        .where(flights.c.tail == tail.upper())
        .order_by(logs.c.starts.nulls_first(), logs.c.id, flights.c.number)
    )  # fmt: skip
    first = since.isoformat() if since else ""
    last = until.isoformat() if until else "~"
    named = since is not None or until is not None
    by_log: dict[str, tuple[Any, list[Cut]]] = {}
    with store.reading() as connection:
        for row in connection.execute(asked):
            wanted = first <= row.starts <= last if row.starts else not named
            by_log.setdefault(row.hash, (row, []))[1].append(Cut(row.id, row.number, row.from_s, wanted))
    told = kept_ammeter(store, tail.upper())
    return [
        KeptReadings(
            row.source, original_path(store.folder, digest), None, store.folder, digest, tail.upper(), row.log_starts,
            tuple(cuts), told, row.trace, row.rows,
        )
        for digest, (row, cuts) in by_log.items()
        if any(cut.wanted for cut in cuts)
    ]  # fmt: skip


def replay_log(kept: KeptReadings, aircraft: Aircraft) -> list[ReplayedFlight]:
    """Give the flights of one kept log that were asked for, judged as today.

    From the kept readings; where these are lost, from the original.

    Raises
    ------
    RecordsError
        When both are lost.
    """
    try:
        log = log_of_readings(kept, *read_trace_and_breaks(kept.folder, kept.digest, kept.trace))
    except RecordsError as problem:
        log = _log_of_original(kept, aircraft, problem)
    found = []
    for number, review in enumerate(review_log(log, aircraft, kept.ammeter).flights, 1):
        cut = _cut_of(kept, number, review)
        if cut is None or cut.wanted:
            start = clock_at(review.flight.clock_start, review.flight.from_s)
            found.append(ReplayedFlight(None if cut is None else cut.id, kept.name, number, start, review))
    return found


def log_of_readings(kept: KeptReadings, table: pl.DataFrame, breaks: tuple[int, ...] | None) -> Log:
    """Give a log from its kept table; where its breaks are not known they are where its flights begin."""
    time = table["time_s"].to_numpy()
    if breaks is None:
        breaks = tuple(int(np.searchsorted(time, cut.from_s)) for cut in kept.cuts if cut.number > 1)
    step = float(np.median(np.diff(time))) if time.size > 1 else 1.0
    return Log(
        source=kept.name,
        tail=kept.tail,
        tail_from="records",
        encoding="",
        delimiter="",
        decimal_mark=".",
        header_row=1,
        units_row=None,
        rows_dropped=0,
        clock=Clock((), "records", kept.starts, None, step),
        columns=(),
        unused=(),
        warnings=(),
        breaks=breaks,
        readings=Readings.of(table),
    )


def _log_of_original(kept: KeptReadings, aircraft: Aircraft, problem: RecordsError) -> Log:
    try:
        data = kept.read()
    except RecordsError:
        raise problem from None
    log = read_log(Held(kept.name, kept.path, None, data), columns=aircraft.columns)
    if isinstance(log, Refusal):
        raise problem
    return log


def _cut_of(kept: KeptReadings, number: int, review: FlightReview) -> Cut | None:
    """The kept flight that a flight of today's analysis is: the one that begins in it, else that of its number."""
    inside = [cut for cut in kept.cuts if review.flight.from_s - 1e-6 <= cut.from_s <= review.flight.to_s]
    same = [cut for cut in kept.cuts if cut.number == number]
    return next(iter([*inside, *same]), None)
