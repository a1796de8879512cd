"""Keeping logs: each is read, reviewed and kept whole or not at all, and a second time changes nothing."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from typing import Any

from sqlalchemy import Connection, select, update
from sqlalchemy.dialects.sqlite import insert

from analyzer import __version__
from analyzer.aircraft import Fleet
from analyzer.logs import Log, Refusal, Source, read_log
from analyzer.logs.log import RefusedError
from analyzer.records import codec
from analyzer.records.files import Held, original_path, packed, remove_files, trace_path, write_whole
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store, sentences
from analyzer.records.tables import findings, flights, logs, measures, tails
from analyzer.review import FlightReview, LogReview, flight_document, review_log
from analyzer.trends.history import circumstances, flight_hours


@dataclass(frozen=True, slots=True)
class Prepared:
    """A log read and reviewed, ready to be kept; or the sentence that refuses it."""

    source: str
    digest: str = ""
    because: str | None = None
    row: dict[str, Any] = field(default_factory=dict)  # of the table ``logs``
    flights: list[dict[str, Any]] = field(default_factory=list)  # with "measures" and "findings" lists
    original: bytes | None = None  # compressed
    trace: bytes = b""


Work = Callable[[Source | Refusal, Fleet], Prepared]
#: Does some work on every log, in order: in this process, or on all processors with progress.
OverLogs = Callable[[Work, list[Source | Refusal], Fleet], Iterable[Prepared]]


def one_by_one(work: Work, sources: list[Source | Refusal], fleet: Fleet) -> Iterator[Prepared]:
    """Do some work on every log, in order, in this process."""
    return (work(source, fleet) for source in sources)


@dataclass(slots=True)
class Added:
    """What came of an ``add``."""

    new: list[str] = field(default_factory=list)
    kept_before: list[str] = field(default_factory=list)
    refused: list[tuple[str, str]] = field(default_factory=list)
    flights: int = 0
    without_tail: list[str] = field(default_factory=list)
    tails: set[str] = field(default_factory=set)


def add_logs(
    store: Store,
    sources: Iterable[Source | Refusal],
    fleet: Fleet,
    *,
    tail: str | None = None,
    keep_originals: bool = True,
    over: OverLogs = one_by_one,
) -> Added:
    """Keep every log that is not kept yet.

    Parameters
    ----------
    store : open for writing
    sources : from ``find_logs``
    fleet : what is known of each aircraft
    tail : whose logs they are, when the caller knows better than the logs
    keep_originals : keep their bytes, compressed, so that the analysis can be run anew
    over : how the work is spread

    Raises
    ------
    RecordsError
        When the records cannot be written. Logs kept up to then stay kept.
    """
    added = Added()
    fresh = list(_not_kept_yet(store, sources, added))
    work = partial(prepare, tail=tail, keep_original=keep_originals)
    for prepared in over(work, fresh, fleet):
        if prepared.because is not None:
            added.refused.append((prepared.source, prepared.because))
        elif keep(store, prepared):
            added.new.append(prepared.source)
            added.flights += len(prepared.flights)
            named = prepared.row["tail"]
            added.tails |= {named} if named else set()
            added.without_tail += [] if named else [prepared.source]
        else:
            added.kept_before.append(prepared.source)
    return added


def _not_kept_yet(store: Store, sources: Iterable[Source | Refusal], added: Added) -> Iterator[Source | Refusal]:
    """The sources whose bytes are not kept; of two with the same bytes the first."""
    hashed = [(source, _digest_of(source)) for source in sources]
    known = _kept_of(store, [digest for _, digest in hashed if digest])
    for source, digest in hashed:
        if isinstance(source, Source) and digest in known:
            added.kept_before.append(source.name)
            continue
        if digest:
            known.add(digest)
        yield source


def _digest_of(source: Source | Refusal) -> str:
    """SHA-256 of a log's bytes; nothing for one that will be refused, with its sentence, where it is read."""
    try:
        return "" if isinstance(source, Refusal) else hashlib.sha256(source.read()).hexdigest()
    except RefusedError:
        return ""


def _kept_of(store: Store, digests: list[str]) -> set[str]:
    """Those of some logs that are kept; costs as much as there are of these, not of those kept."""
    many, found = 500, set()
    with store.reading() as connection:
        for first in range(0, len(digests), many):
            asked = select(logs.c.hash).where(logs.c.hash.in_(digests[first : first + many]))
            found |= set(connection.execute(asked).scalars())
    return found


def prepare(source: Source | Refusal, fleet: Fleet, *, tail: str | None, keep_original: bool) -> Prepared:
    """Read and review one log, without touching the records."""
    if isinstance(source, Refusal):
        return Prepared(source.source, because=source.because)
    try:
        data = source.read()
    except RefusedError as refused:
        return Prepared(source.name, because=str(refused))
    held = Held(source.name, source.path, source.member, data)
    log = read_log(held)
    if isinstance(log, Refusal):
        return Prepared(source.name, because=log.because)
    whose = (tail or log.tail or "").upper() or None
    if columns := fleet.of(whose).columns:
        log = read_log(held, columns=columns)
        if isinstance(log, Refusal):
            return Prepared(source.name, because=log.because)
    if tail:
        log = replace(log, tail=whose, tail_from="named when added")
    return _prepared(log, review_log(log, fleet.of(whose)), data, keep_original)


def _prepared(log: Log, review: LogReview, data: bytes, keep_original: bool) -> Prepared:
    digest = hashlib.sha256(data).hexdigest()
    tail = log.tail.upper() if log.tail else None
    row = {
        "hash": digest,
        "source": log.source,
        "tail": tail,
        "tail_from": log.tail_from,
        "rows": log.rows,
        "starts": log.clock.start,
        "warnings": list(review.warnings),
        "original_kept": keep_original,
        "added_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "analysis": __version__,
    }
    table = io.BytesIO()
    log.table.write_parquet(
        table, compression="zstd", metadata={"source": log.source, "tail": tail or "", "hash": digest}
    )
    return Prepared(
        source=log.source,
        digest=digest,
        row=row,
        flights=[_flight_row(number, one, tail) for number, one in enumerate(review.flights, 1)],
        original=packed(data) if keep_original else None,
        trace=table.getvalue(),
    )


def _flight_row(number: int, review: FlightReview, tail: str | None) -> dict[str, Any]:
    """One flight for the tables ``flights``, ``measures`` and ``findings``."""
    flight, document = review.flight, flight_document(review)
    found = document.pop("findings")
    document.pop("measures")
    air_start, air_flight, drawn = circumstances(review)
    return {
        "number": number,
        "tail": tail,
        "starts": document["start"],
        "ends": document["end"],
        "from_s": flight.from_s,
        "to_s": flight.to_s,
        "hours": flight_hours(flight),
        "nominal_voltage": flight.nominal_voltage,
        "ammeter": flight.ammeter.kind,
        "air_start": air_start,
        "air_flight": air_flight,
        "drawn_ah": drawn,
        "readings": codec.encode(review.measures),
        "document": document,
        "measures": [
            {
                "name": measure.name,
                "value": measure.value,
                "low": measure.low,
                "high": measure.high,
                "because": measure.because,
                "note": measure.note,
            }
            for measure in review.measures.values()
        ],
        "findings": [{"name": one["finding"], "severity": one["severity"], "document": one} for one in found],
    }


def keep(store: Store, prepared: Prepared) -> bool:
    """Keep one prepared log; False when its bytes are kept already.

    The files are written first, each whole under its final name, then everything else in one transaction:
    a log is kept when that transaction is, and files without one are written over by the next attempt.

    Raises
    ------
    RecordsError
        When it cannot be kept; nothing of it is.
    """
    try:
        with sentences(store.folder):
            if prepared.original is not None:
                write_whole(original_path(store.folder, prepared.digest), prepared.original)
            write_whole(trace_path(store.folder, prepared.digest), prepared.trace)
        with store.writing() as connection:
            return _insert(connection, prepared)
    except RecordsError:
        _forget_files(store, prepared.digest)
        raise


def _forget_files(store: Store, digest: str) -> None:
    """After a failed attempt: remove the files unless another program kept the same log meanwhile."""
    try:
        with store.reading() as connection:
            kept = connection.execute(select(logs.c.id).where(logs.c.hash == digest)).scalar()
        if kept is None:
            remove_files(store.folder, digest)
    except (RecordsError, OSError):
        return  # they do no harm: the next attempt writes over them


def _insert(connection: Connection, prepared: Prepared) -> bool:
    wanted = insert(logs).values(**prepared.row).on_conflict_do_nothing(index_elements=["hash"])
    log_id = connection.execute(wanted.returning(logs.c.id)).scalar()
    if log_id is None:
        return False
    insert_flights(connection, log_id, prepared.flights)
    if prepared.row["tail"]:
        touch(connection, prepared.row["tail"])
    return True


def insert_flights(connection: Connection, log_id: int, rows: list[dict[str, Any]]) -> None:
    """Insert a log's flights with their measures and findings."""
    for row in rows:
        own = {name: value for name, value in row.items() if name not in ("measures", "findings")}
        flight_id = connection.execute(
            flights.insert().values(log_id=log_id, **own).returning(flights.c.id)
        ).scalar_one()
        connection.execute(measures.insert(), [{"flight_id": flight_id, **one} for one in row["measures"]])
        if row["findings"]:
            connection.execute(findings.insert(), [{"flight_id": flight_id, **one} for one in row["findings"]])


def touch(connection: Connection, tail: str) -> None:
    """Note that a tail's flights or entries changed, so that its trends are worked out anew when next read."""
    first = insert(tails).values(tail=tail, revision=1).on_conflict_do_nothing(index_elements=["tail"])
    if not connection.execute(first).rowcount:
        connection.execute(update(tails).where(tails.c.tail == tail).values(revision=tails.c.revision + 1))
