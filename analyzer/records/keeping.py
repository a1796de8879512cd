"""Putting a log that was read and reviewed into the records, whole or not at all, and taking its files away."""

from __future__ import annotations

import contextlib
import errno
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from itertools import compress, groupby
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from analyzer.phrases import counted
from analyzer.records.durable import write_each_whole, write_whole
from analyzer.records.files import holds_original, original_path, remove_files, trace_path
from analyzer.records.preparing import NAMED, Prepared
from analyzer.records.problems import RecordsError
from analyzer.records.seals import document_seal, finding_seal, flight_seal, log_seal
from analyzer.records.store import Store, sentences
from analyzer.records.tables import findings, flights, logs, measures, pending_deletes, tails

#: How ``tail_from`` says that a person, not the log, told whose it is.
ASSIGNED = "assigned"
TOLD = (ASSIGNED, NAMED)
#: Readings and names of the findings of each flight of a log, in order.
Analysed = list[tuple[bytes, list[str]]]


_NEW_LOGS = insert(logs).returning(logs.c.id, sort_by_parameter_order=True)
_NEW_FLIGHTS = insert(flights).returning(flights.c.id, sort_by_parameter_order=True)
_NO_NUMBERS: Mapping[int, int] = {}


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers that a log and its flights had before, for those that take their place."""

    log_id: int | None = None
    flights: Mapping[int, int] = field(default_factory=dict)  # number within the log -> number in the records


def keep(store: Store, prepared: Prepared, numbers: Numbers = Numbers()) -> bool:
    """Keep one prepared log; False when its bytes are kept already.

    The files are written first, each whole under its final name, then everything else in one transaction:
    a log is kept when that transaction is, and files without one are written over by the next attempt.

    Raises
    ------
    RecordsError
        When it cannot be kept; nothing of it is, and what was there before stays.
    """
    return keep_together(store, [prepared], numbers)[0]


def keep_together(store: Store, some: Sequence[Prepared], numbers: Numbers = Numbers()) -> list[bool]:
    """Keep some prepared logs as ``keep`` does one, in one transaction for all; of each whether it is new.

    Raises
    ------
    RecordsError
        When one cannot be kept; nothing of any is.
    """
    made: list[Path] = []
    try:
        with sentences(store.folder):
            wanted = {path: data for prepared in some for path, data in _not_there(store, prepared)}
            made += [path for path in wanted if not path.exists()]
            write_each_whole(wanted)
            with store.writing() as connection:
                new = _insert(connection, some, numbers)
                for prepared in some:
                    _write_missing(store, prepared, made)  # the same log was just being forgotten
                return new
    except RecordsError:
        _without(store, [prepared.digest for prepared in some], made)
        raise


def _not_there(store: Store, prepared: Prepared) -> Iterator[tuple[Path, bytes]]:
    """A log's files that are to be written, and where.

    The original that is there is not touched: it may be the only copy of the log.
    """
    original = original_path(store.folder, prepared.digest)
    if prepared.original is not None and not holds_original(original, prepared.digest):
        yield original, prepared.original
    if prepared.trace:
        yield trace_path(store.folder, prepared.digest), prepared.trace


def _write_missing(store: Store, prepared: Prepared, made: list[Path]) -> None:
    wanted = {trace_path(store.folder, prepared.digest): prepared.trace}
    if prepared.row["original_kept"]:
        wanted[original_path(store.folder, prepared.digest)] = prepared.original or b""
    for path, data in wanted.items():
        if not path.exists():
            if not data:
                raise FileNotFoundError(errno.ENOENT, f"{path.name} was taken away while its log was being kept")
            made.append(path)
            write_whole(path, data)


def _without(store: Store, digests: list[str], made: list[Path]) -> None:
    """After a failed attempt: remove the files that it made, unless another program kept the same log meanwhile."""
    with contextlib.suppress(RecordsError, OSError), store.writing() as connection:
        kept = set(connection.execute(select(logs.c.hash).where(logs.c.hash.in_(digests))).scalars())
        for path in made:
            if path.name.partition(".")[0] not in kept:
                path.unlink(missing_ok=True)


def _insert(connection: Connection, some: Sequence[Prepared], numbers: Numbers) -> list[bool]:
    """Insert those logs that are not kept, of the same bytes once; of each whether it is new."""
    digests = [prepared.digest for prepared in some]
    connection.execute(delete(pending_deletes).where(pending_deletes.c.hash.in_(digests)))
    kept = set(connection.execute(select(logs.c.hash).where(logs.c.hash.in_(digests))).scalars())
    new = [digest not in kept and digest not in digests[:place] for place, digest in enumerate(digests)]
    fresh = list(compress(some, new))
    if fresh:
        own = {"id": numbers.log_id} if numbers.log_id else {}
        rows = [{**prepared.row, "seal": log_seal(prepared.row), **own} for prepared in fresh]
        log_ids = connection.execute(_NEW_LOGS, rows).scalars().all()
        numbered = zip(log_ids, fresh, strict=True)
        insert_flights(connection, [(log_id, row) for log_id, one in numbered for row in one.flights], numbers.flights)
        for tail, times in Counter(prepared.row["tail"] for prepared in fresh).items():
            if tail:
                mark_stale(connection, tail, times)
    return new


def anything_kept(store: Store) -> bool:
    """Whether any log is kept."""
    with store.reading() as connection:
        return connection.execute(select(logs.c.id).limit(1)).first() is not None


def replace_kept(store: Store, prepared: Sequence[Prepared]) -> list[tuple[Analysed, Analysed] | None]:
    """Put new analyses of kept logs in the old ones' places, all or none; what both say of each, None when it is gone.

    Flights keep their numbers in the records, so that what points to them stays right. Whose log a person said it
    is stays, also when that was said while the log was being analysed; where it was taken back meanwhile, the analysis
    is of another aircraft and is not put in: None.

    Raises
    ------
    RecordsError
        When it cannot be done; all is as before then.
    """
    paths = {one.digest: trace_path(store.folder, one.digest) for one in prepared if one.trace}
    with ExitStack() as undone, sentences(store.folder):
        for path in paths.values():
            undone.enter_context(_put_back_if_undone(path))
        with store.writing() as connection:
            both = [_replace(connection, one) for one in prepared]
            for one, said in zip(prepared, both, strict=True):
                if said is not None and one.trace:
                    write_whole(paths[one.digest], one.trace)
            return both


def _replace(connection: Connection, prepared: Prepared) -> tuple[Analysed, Analysed] | None:
    asked = select(logs.c.id, logs.c.tail, logs.c.tail_from).where(logs.c.hash == prepared.digest)
    row = connection.execute(asked).first()
    if row is None or (prepared.row["tail_from"] in TOLD and row.tail_from not in TOLD):
        return None
    whose = {"tail": row.tail, "tail_from": row.tail_from} if row.tail_from in TOLD else {}
    before = _analysed(connection, row.id)
    numbers = select(flights.c.number, flights.c.id).where(flights.c.log_id == row.id)
    ids = {row.number: row.id for row in connection.execute(numbers)}
    connection.execute(delete(flights).where(flights.c.log_id == row.id))
    renewed = {k: v for k, v in prepared.row.items() if k not in ("hash", "source", "added_at", "original_kept")}
    renewed |= whose
    connection.execute(update(logs).where(logs.c.id == row.id).values(**renewed))
    seal_log(connection, row.id)
    insert_flights(connection, [(row.id, {**one, "tail": renewed["tail"]}) for one in prepared.flights], ids)
    for tail in {row.tail, renewed["tail"]} - {None}:
        mark_stale(connection, tail)
    return before, [(one["readings"], [found["name"] for found in one["findings"]]) for one in prepared.flights]


@contextmanager
def _put_back_if_undone(path: Path) -> Iterator[None]:
    """Put a file back as it was when what is done with it is undone."""
    before = path.read_bytes() if path.exists() else None
    try:
        yield
    except BaseException:
        if before is not None:
            with contextlib.suppress(OSError):
                if not path.exists() or path.read_bytes() != before:
                    write_whole(path, before)
        raise


def _analysed(connection: Connection, log_id: int) -> Analysed:
    rows = connection.execute(
        select(flights.c.id, flights.c.readings).where(flights.c.log_id == log_id).order_by(flights.c.number)
    ).all()
    names = select(findings.c.name).order_by(findings.c.id)
    return [
        (row.readings, list(connection.execute(names.where(findings.c.flight_id == row.id)).scalars())) for row in rows
    ]


def carry_out_deletes(store: Store) -> None:
    """Remove the files of logs that were forgotten, unless one was added again meanwhile.

    Raises
    ------
    RecordsError
        When the records cannot be written; the rest is removed by the next call.
    """
    with store.reading() as connection:
        if connection.execute(select(pending_deletes.c.hash).limit(1)).first() is None:
            return
    with sentences(store.folder), store.writing() as connection:
        for digest in connection.execute(select(pending_deletes.c.hash)).scalars().all():
            if connection.execute(select(logs.c.id).where(logs.c.hash == digest)).first() is None:
                remove_files(store.folder, digest)
            connection.execute(delete(pending_deletes).where(pending_deletes.c.hash == digest))


def finish_forgetting(store: Store) -> str | None:
    """Remove the files of logs that were forgotten by a command that was stopped; a sentence where that must wait.

    Nothing of such logs is shown meanwhile: the database let go of them at once.
    """
    with store.reading() as connection:
        waiting = connection.execute(select(func.count()).select_from(pending_deletes)).scalar_one()
    if not waiting:
        return None
    if store.writable:
        with contextlib.suppress(RecordsError):
            carry_out_deletes(store)
            return None
    left = counted(waiting, "forgotten log")
    return f"the files of {left} are still to be deleted; the next command that can write here does it"


def insert_flights(
    connection: Connection, flown: Sequence[tuple[int, dict[str, Any]]], ids: Mapping[int, int] = _NO_NUMBERS
) -> None:
    """Insert flights, each given with the number of its log, and their measures and findings.

    ``ids`` are the numbers in the records that flights of one log had before, by their numbers within it.
    """
    flight_ids = [
        flight_id
        for _, alike in groupby((_flight(log_id, row, ids) for log_id, row in flown), key=lambda row: "id" in row)
        for flight_id in connection.execute(_NEW_FLIGHTS, list(alike)).scalars()
    ]
    numbered = list(zip(flight_ids, (row for _, row in flown), strict=True))
    measured = [{"flight_id": flight_id, **one} for flight_id, row in numbered for one in row["measures"]]
    found = [_finding(flight_id, one) for flight_id, row in numbered for one in row["findings"]]
    for table, rows in ((measures, measured), (findings, found)):
        if rows:
            connection.execute(table.insert(), rows)


def _flight(log_id: int, row: dict[str, Any], ids: Mapping[int, int]) -> dict[str, Any]:
    own = {name: value for name, value in row.items() if name not in ("measures", "findings")}
    own["log_id"] = log_id
    own["seal"] = flight_seal(row, [(one["name"], one["severity"]) for one in row["findings"]])
    own["document_seal"] = document_seal(row["document"], row["measures"])
    return own | ({"id": ids[row["number"]]} if row["number"] in ids else {})


def _finding(flight_id: int, one: dict[str, Any]) -> dict[str, Any]:
    return {"flight_id": flight_id, **one, "seal": finding_seal(one["name"], one["severity"], one["document"])}


def seal_log(connection: Connection, log_id: int) -> None:
    """Seal a log anew after its row was changed."""
    row = connection.execute(select(logs).where(logs.c.id == log_id)).mappings().one()
    connection.execute(update(logs).where(logs.c.id == log_id).values(seal=log_seal(row)))


def mark_stale(connection: Connection, tail: str, times: int = 1) -> None:
    """Note changes of a tail's flights or entries, so that its trends are worked out anew when next read."""
    counted = update(tails).where(tails.c.tail == tail).values(revision=tails.c.revision + times)
    if connection.execute(counted.returning(tails.c.tail)).first() is None:
        connection.execute(insert(tails).values(tail=tail, revision=times))
