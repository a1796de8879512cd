"""Checking the records: the database, every seal, every file; and making anew what can be made anew."""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Table, delete, func, select, update
from sqlalchemy.exc import DatabaseError

from analyzer.aircraft import Fleet
from analyzer.logs.log import Refusal
from analyzer.logs.source import ENTRIES_FILE, Source
from analyzer.phrases import counted
from analyzer.records.adding import tails_of
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.changes import broken_at
from analyzer.records.changing import (
    DISPOSITIONS_FILE,
    assigned_beside,
    put_words_back,
    said_seal,
)
from analyzer.records.databases import as_bytes
from analyzer.records.files import (
    all_originals,
    all_traces,
    arriving,
    half_written,
    holds_original,
    original_path,
    remove_partial,
    trace_path,
)
from analyzer.records.holding import check_flights
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import Numbers, carry_out_deletes, keep, replace_kept
from analyzer.records.kept import KeptLog, kept_log
from analyzer.records.people import Role
from analyzer.records.preparing import Prepared
from analyzer.records.problems import RecordsError
from analyzer.records.rebuilding import as_said, assign_again, original_of, prepare_original, readings_of
from analyzer.records.seals import (
    hold,
    log_seal,
)
from analyzer.records.sign_ins import SIGN_INS_FILE, broken_line
from analyzer.records.store import Store
from analyzer.records.tables import dispositions, entries, flights, logs, pending_deletes, tails
from analyzer.records.traces import fault_of_trace

#: What a damaged row may raise while it is read.
UNREADABLE = (RecordsError, DatabaseError, sqlite3.DatabaseError, ValueError, TypeError, LookupError)


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that is not as it was written."""

    what: str  # one sentence
    todo: str  # what to do, or what ``--repair`` does
    digest: str | None = None  # the log that would be analysed anew
    #: "results", "trace", "original", "words", "review", "orphan", "arriving", "forgotten", "partial", "database"
    kind: str = ""
    where: tuple[str, int] | None = None  # table and number of a row


@dataclass(slots=True)
class Checked:
    """What a check found; ``repaired`` are sentences of what was made anew."""

    logs: int = 0
    flights: int = 0
    entries: int = 0
    files: int = 0
    unsealed: int = 0  # logs kept before there were seals
    half_written: int = 0  # files that a program is writing, or was until it was stopped just now
    troubles: list[Trouble] = field(default_factory=list)
    repaired: list[str] = field(default_factory=list)


def check(store: Store) -> Checked:
    """Check the database and every file beside it; changes nothing.

    Raises
    ------
    RecordsError
        When the database cannot be read at all.
    """
    found = Checked()
    with store.reading() as connection:
        found.troubles += [Trouble(what, todo, kind="database") for what, todo in store.database.own_check(connection)]
        waiting = set(connection.execute(select(pending_deletes.c.hash)).scalars())
        rows = connection.execute(select(logs.c.id, as_bytes(logs.c.hash).label("hash"))).all()
        known: set[str] = set()
        for row in rows:
            digest = row.hash.decode("latin-1")
            known.add(digest)
            found.logs += 1
            found.troubles += _log(store, connection, row.id, digest, found)
        found.troubles += _said(connection, entries, "maintenance entry", ENTRIES_FILE)
        found.troubles += _said(connection, dispositions, "disposition", DISPOSITIONS_FILE)
        found.entries = int(connection.execute(select(func.count()).select_from(entries)).scalar_one())
        found.troubles += _reviews(connection)
        if (line := broken_at(connection)) is not None:
            todo = "It cannot be made anew; the copy in changes.jsonl beside the database, or a backup, may hold it."
            found.troubles.append(Trouble(f"Line {line} of the log of changes is not what was written.", todo))
    if (line := broken_line(store.folder)) is not None:
        todo = "It cannot be made anew; a backup may hold it. Move the file away so that a new one begins."
        found.troubles.append(Trouble(f"Line {line} of {SIGN_INS_FILE} is not what was written.", todo))
    found.troubles += _files(store, known, waiting, found)
    return found


def _log(store: Store, connection: Connection, log_id: int, digest: str, found: Checked) -> Iterator[Trouble]:
    """A log's row, its flights, and its files."""
    name, sealed, original_kept = f"log {log_id}", None, True
    try:
        with connection.begin_nested():  # what cannot be read leaves the rest to be read
            row = connection.execute(select(logs).where(logs.c.id == log_id)).mappings().one()
            name, sealed, original_kept = f"log {log_id} ({row['source']})", row["trace"], row["original_kept"]
            found.unsealed += row["seal"] is None
            hold(row["seal"], log_seal(row), name)
            found.flights += _flights_hold(connection, row)
    except UNREADABLE:
        todo = "It is analysed anew from its original or its readings."
        yield Trouble(f"What is kept of {name} is not what was written.", todo, digest, "results")
    trace_fault = fault_of_trace(store.folder, digest, sealed)
    found.files += 1 + bool(original_kept)
    if original_kept and not holds_original(path := original_path(store.folder, digest), digest):
        said = "is damaged" if path.exists() else "is missing"
        todo = f"Add the log again from where it came from; its results and readings are kept. ({path})"
        yield Trouble(f"The original of {name} {said}.", todo, digest, "original")
        original_kept = False
    if trace_fault:
        todo = "They are made anew from its original." if original_kept else (
            "Its original is not kept either, so add the log again from where it came from; its results are kept."
        )  # fmt: skip
        yield Trouble(f"The readings of {name} are damaged or missing: {trace_fault}.", todo, digest, "trace")


def _flights_hold(connection: Connection, log: Any) -> int:
    """Check every flight of a log; how many there are."""
    whose = connection.execute(select(flights.c.tail).where(flights.c.log_id == log["id"])).scalars().all()
    if any(tail != log["tail"] for tail in whose):
        raise RecordsError("a flight is another aircraft's than its log")
    return check_flights(connection, flights.c.log_id == log["id"])


def _said(connection: Connection, table: Table, name: str, file: str) -> Iterator[Trouble]:
    for number in connection.execute(select(table.c.id)).scalars().all():
        try:
            with connection.begin_nested():
                row = connection.execute(select(table).where(table.c.id == number)).mappings().one()
                hold(row["seal"], said_seal(table, row), name)
        except UNREADABLE:
            todo = f"It is taken anew from {file} beside the database."
            yield Trouble(f"The {name} {number} is not what was written.", todo, None, "words", (table.name, number))


def _reviews(connection: Connection) -> Iterator[Trouble]:
    asked = select(as_bytes(tails.c.tail), as_bytes(tails.c.reviewed), as_bytes(tails.c.review))
    for tail, mark, review in connection.execute(asked):
        if review is None or mark is None or mark.count(b"|") != 4:
            continue
        if mark.rsplit(b"|", 1)[1].decode("latin-1") != hashlib.sha256(review).hexdigest()[:16]:
            yield Trouble(
                    f"The trends worked out for {tail.decode('utf-8', 'replace')} are not what was written.",
                    "They are worked out anew when next asked for.", None, "review",
                )  # fmt: skip


def _files(store: Store, known: set[str], waiting: set[str], found: Checked) -> Iterator[Trouble]:
    """Files that no log has."""
    left = arriving(store.folder) - known
    for digest in sorted({*all_originals(store.folder), *all_traces(store.folder)} - known - waiting - left):
        todo = "It is taken in; forget it again if it is not wanted."
        yield Trouble(f"The files of a log {digest[:12]} stand in no row of the database.", todo, digest, "orphan")
    if left:
        todo = "The same call takes it up; if it will not be made again, remove the folder arriving and check again."
        said = f"What an add on a cluster, stopped or at work, put down of {counted(len(left), 'log')} waits for it."
        yield Trouble(said, todo, None, "arriving")
    if waiting:
        todo = "They are removed by the next command that can write."
        yield Trouble(f"Files of {counted(len(waiting), 'forgotten log')} are still there.", todo, None, "forgotten")
    halves = half_written(store.folder).values()
    found.half_written = len(halves) - sum(halves)
    if stopped := sum(halves):
        said = f"Left half written by stopped programs: {counted(stopped, 'file')}."
        yield Trouble(said, "A repair or a rebuild removes what was left so.", None, "partial")


def repair(store: Store, found: Checked, fleet: Fleet, over: OverLogs = one_by_one) -> Checked:
    """Make anew what a check found damaged and what can be made anew; then check again.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    store.allow(Role.MANAGER)
    done: list[str] = []
    carry_out_deletes(store)
    remove_partial(store.folder)
    _let_reviews_go(store, found)
    if any(one.kind == "database" for one in found.troubles):
        with store.writing() as connection:
            store.database.mend(connection)
    done += _put_words_back(store, found)
    kinds = {"results", "trace", "orphan"}
    found = check(store)  # what was damaged may have hidden other things
    todo = list(dict.fromkeys(one.digest for one in found.troubles if one.digest and one.kind in kinds))
    todo = [_true_digest(store, digest) for digest in todo]
    sources = [source for digest in dict.fromkeys(todo) if (source := _source_of(store, digest)) is not None]
    for prepared in over(prepare_original, list(sources), fleet):
        if prepared.because is None:
            done += _made_anew(store, prepared)
    settle_ammeters(store, tails_of(store, todo), fleet, over)
    again = check(store)
    again.repaired = done
    return again


def _source_of(store: Store, digest: str) -> Source | Refusal | None:
    """What a log can be analysed anew from, with what people said of it as far as its row still holds."""
    sound = _row_of(store, digest)
    if holds_original(original_path(store.folder, digest), digest):
        source = original_of(store.folder, digest, sound)
    elif fault_of_trace(store.folder, digest, None) is None:
        source = readings_of(store.folder, digest, sound)
    else:
        return None
    return source if sound is not None else as_said(source, assigned_beside(store.folder))


def _row_of(store: Store, digest: str) -> KeptLog | None:
    """A log's row where it holds, None where it is damaged or not there."""
    with contextlib.suppress(*UNREADABLE):
        return kept_log(store, digest)
    return None


def _made_anew(store: Store, prepared: Prepared) -> list[str]:
    """Put a log that was analysed anew into the records."""
    with contextlib.suppress(*UNREADABLE):
        if _row_of(store, prepared.digest) is not None and replace_kept(store, [prepared])[0] is not None:
            return [f"{prepared.source} was analysed anew."]
    with store.writing() as connection:  # its row itself cannot be relied on: another takes its place and number
        ids = connection.execute(select(logs.c.id).where(logs.c.hash == prepared.digest)).scalars().all()
        flown = connection.execute(select(flights.c.number, flights.c.id).where(flights.c.log_id.in_(ids))).all()
        connection.execute(delete(logs).where(logs.c.id.in_(ids)))
    keep(store, prepared, Numbers(ids[0] if ids else None, {row.number: row.id for row in flown}))
    assign_again(store, prepared.digest, assigned_beside(store.folder))
    return [f"{prepared.source} was {'analysed anew' if ids else 'taken in'}."]


def _true_digest(store: Store, digest: str) -> str:
    """The hash of a log whose hash itself may have been damaged: that of files that differ in a letter or two."""
    if original_path(store.folder, digest).exists() or trace_path(store.folder, digest).exists():
        return digest
    there = {*all_originals(store.folder), *all_traces(store.folder)}
    near = [one for one in there if sum(a != b for a, b in zip(one, digest, strict=False)) <= 2]
    if len(near) != 1:
        return digest
    with store.writing() as connection:
        raw = digest.encode("latin-1")
        taken = connection.execute(select(logs.c.id).where(logs.c.hash == near[0])).first()
        if taken is None:
            connection.execute(update(logs).where(as_bytes(logs.c.hash) == raw).values(hash=near[0]))
    return near[0]


def _let_reviews_go(store: Store, found: Checked) -> None:
    if any(one.kind == "review" for one in found.troubles):
        with store.writing() as connection:
            connection.execute(update(tails).values(reviewed=None, review=None))


def _put_words_back(store: Store, found: Checked) -> list[str]:
    """Entries and dispositions that were damaged, taken anew from the files beside the database."""
    done = []
    for table, file in ((entries, ENTRIES_FILE), (dispositions, DISPOSITIONS_FILE)):
        damaged = [one.where[1] for one in found.troubles if one.where is not None and one.where[0] == table.name]
        if damaged and put_words_back(store, table, damaged):
            done.append(f"Taken anew: {counted(len(damaged), 'line')} of {file}.")
    return done


__all__ = ["Checked", "Trouble", "check", "repair"]
