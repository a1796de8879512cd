"""Keeping logs: each is read, reviewed and kept whole or not at all, and a second time changes nothing."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import select

from analyzer.aircraft import Fleet
from analyzer.logs import Log, Refusal, Source, read_log
from analyzer.logs.unit import content_hash, whole_or_refused
from analyzer.records import codec
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.files import Held, holds_original, original_path, packed
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import NAMED, Prepared, carry_out_deletes, keep, keep_together, replace_kept
from analyzer.records.marks import flight_mark
from analyzer.records.parcels import OverNew
from analyzer.records.people import Role
from analyzer.records.store import Store
from analyzer.records.stored import kept_finding, kept_flight, kept_measures
from analyzer.records.tables import logs
from analyzer.records.traces import fault_of_trace, pack_trace
from analyzer.results import flight_result
from analyzer.review import FlightReview, LogReview, review_log
from analyzer.trends.history import circumstances, flight_hours

#: New logs that are kept in one transaction, which costs as much for one, and the packed bytes of them at most.
TOGETHER, TOGETHER_BYTES = 16, 16_000_000


@dataclass(slots=True)
class Added:
    """What came of an ``add``."""

    new: list[str] = field(default_factory=list)
    kept_before: list[str] = field(default_factory=list)
    read_anew: list[str] = field(default_factory=list)  # kept before, with other columns
    made_whole: list[str] = field(default_factory=list)  # kept before, with files that were damaged since
    refused: list[tuple[str, str]] = field(default_factory=list)
    flights: int = 0
    without_tail: list[str] = field(default_factory=list)
    tails: set[str] = field(default_factory=set)

    def count_in(self, more: Added) -> None:
        """Count in what came of a further ``add``."""
        for each in ("new", "kept_before", "read_anew", "made_whole", "refused", "without_tail"):
            getattr(self, each).extend(getattr(more, each))
        self.flights += more.flights
        self.tails |= more.tails


def add_logs(
    store: Store,
    sources: Iterable[Source | Refusal],
    fleet: Fleet,
    *,
    tail: str | None = None,
    columns: Mapping[str, str] | None = None,
    keep_originals: bool = True,
    over: OverLogs = one_by_one,
    over_new: OverNew | None = None,
) -> Added:
    """Keep every log that is not kept yet, and make whole again what a disk spoilt of one that is.

    Parameters
    ----------
    store : open for writing
    sources : from ``find_logs``
    fleet : what is known of each aircraft
    tail : whose logs they are, when the caller knows better than the logs
    columns : role -> header that a person named for these logs; kept with each, before those of its aircraft. A log
        that is kept already and was read otherwise is read anew
    keep_originals : keep their bytes, compressed, so that the analysis can be run anew
    over : how the work is spread
    over_new : how that of preparing new logs is, where otherwise (``parcels.by_parcels``): what is given together is
        kept in one transaction

    Raises
    ------
    RecordsError
        When the records cannot be written. Logs kept up to then stay kept.
    """
    store.allow(Role.EDITOR)
    carry_out_deletes(store)
    added = Added()
    spoilt: list[tuple[Source, _Known]] = []
    fresh = list(_not_kept_yet(store, sources, dict(columns or {}), added, spoilt))
    work = partial(prepare, tail=tail, columns=columns, keep_original=keep_originals)
    arriving = over_new(work, fresh, fleet) if over_new else _together(over(work, fresh, fleet))
    for together in arriving:
        _keep_new(store, together, columns, added)
    for source, known in spoilt:
        again = partial(prepare, tail=None, columns=known.columns, keep_original=known.original)
        for prepared in over(again, [source], fleet):
            if prepared.because is not None:
                added.refused.append((prepared.source, prepared.because))
                continue
            keep(store, prepared)  # writes its files; its row is there
            replace_kept(store, [prepared])
            added.made_whole.append(prepared.source)
            added.tails |= tails_of(store, [prepared.digest])
    settle_ammeters(store, added.tails, fleet, over)
    return added


def _together(prepared: Iterable[Prepared]) -> Iterator[list[Prepared]]:
    """Prepared logs, in order, as they are kept together; large ones by fewer, so that a stop loses little work."""
    some: list[Prepared] = []
    for one in prepared:
        some.append(one)
        if len(some) == TOGETHER or sum(len(each.original or each.trace) for each in some) > TOGETHER_BYTES:
            yield some
            some = []
    if some:
        yield some


def _keep_new(store: Store, together: list[Prepared], columns: Mapping[str, str] | None, added: Added) -> None:
    """Keep some logs that were not kept when they were prepared, and note what came of each."""
    added.refused += [(one.source, one.because) for one in together if one.because is not None]
    read = [one for one in together if one.because is None]
    for prepared, new in zip(read, keep_together(store, read) if read else [], strict=True):
        if new:
            added.new.append(prepared.source)
            added.flights += len(prepared.flights)
            named = prepared.row["tail"]
            added.tails |= {named} if named else set()
            added.without_tail += [] if named else [prepared.source]
        elif columns and replace_kept(store, [prepared])[0] is not None:
            added.read_anew.append(prepared.source)
            added.tails |= tails_of(store, [prepared.digest])
        else:
            added.kept_before.append(prepared.source)


@dataclass(frozen=True, slots=True)
class _Known:
    """What the records say of a log that is kept."""

    columns: dict[str, str]
    original: bool  # whether its bytes are kept
    trace: str | None  # the seal of its readings

    def holds(self, folder: Path, digest: str) -> bool:
        """Whether its files are what was written."""
        if self.original and not holds_original(original_path(folder, digest), digest):
            return False
        return fault_of_trace(folder, digest, self.trace) is None


def _not_kept_yet(
    store: Store,
    sources: Iterable[Source | Refusal],
    columns: dict[str, str],
    added: Added,
    spoilt: list[tuple[Source, _Known]],
) -> Iterator[Source | Refusal]:
    """The sources whose bytes are not kept, or were read with other columns; of two with the same bytes the first.

    Those that are kept but whose files were spoilt are gathered in ``spoilt``.
    """
    hashed = [(source, content_hash(source)) for source in sources]
    known = _kept_of(store, [digest for _, digest in hashed if digest])
    seen: dict[str, dict[str, str]] = {}
    for source, digest in hashed:
        kept, told = known.get(digest), seen.get(digest)
        own = told if told is not None else kept.columns if kept else None
        if isinstance(source, Source) and own is not None and columns in ({}, own):
            if told is None and kept is not None and not kept.holds(store.folder, digest):
                spoilt.append((source, kept))
            else:
                added.kept_before.append(source.name)
            seen[digest] = own
            continue
        if digest:
            seen[digest] = columns
        yield source


def _kept_of(store: Store, digests: list[str]) -> dict[str, _Known]:
    """Those of some logs that are kept; costs as much as there are of these."""
    found: dict[str, _Known] = {}
    with store.reading() as connection:
        for some in batched(digests):
            asked = select(logs.c.hash, logs.c.columns, logs.c.original_kept, logs.c.trace).where(logs.c.hash.in_(some))
            for row in connection.execute(asked):
                found[row.hash] = _Known(dict(row.columns or {}), bool(row.original_kept), row.trace)
    return found


def tails_of(store: Store, digests: list[str]) -> set[str]:
    """Give the aircraft of some kept logs, by their hashes."""
    found: set[str] = set()
    with store.reading() as connection:
        for some in batched(digests):
            asked = select(logs.c.tail).where(logs.c.hash.in_(some), logs.c.tail.is_not(None))
            found |= set(connection.execute(asked).scalars())
    return found


def batched(digests: list[str], size: int = 500) -> Iterator[list[str]]:
    """Give lists no longer than a database takes in one question."""
    return (digests[first : first + size] for first in range(0, len(digests), size))


def prepare(
    source: Source | Refusal,
    fleet: Fleet,
    *,
    tail: str | None,
    columns: Mapping[str, str] | None = None,
    keep_original: bool,
) -> Prepared:
    """Read and review one log, without touching the records; whatever is raised on the way refuses it alone."""
    if isinstance(source, Refusal):
        return Prepared(source.source, because=source.because)
    done = whole_or_refused(source.name, lambda: _read_and_reviewed(source, fleet, tail, columns, keep_original))
    return Prepared(done.source, because=done.because) if isinstance(done, Refusal) else done


def _read_and_reviewed(
    source: Source, fleet: Fleet, tail: str | None, columns: Mapping[str, str] | None, keep_original: bool
) -> Prepared | Refusal:
    data = source.read()
    own = dict(columns or {})
    held = Held(source.name, source.path, source.member, data)
    log = read_log(held, columns=own)
    if isinstance(log, Refusal):
        return log
    whose = (tail or log.tail or "").upper() or None
    if of_tail := fleet.of(whose).columns:
        log = read_log(held, columns={**of_tail, **own})
        if isinstance(log, Refusal):
            return log
    if tail:
        log = replace(log, tail=whose, tail_from=NAMED)
    review = review_log(log, fleet.of(whose))
    original = packed(data) if keep_original else None
    return prepared_of(log, review, hashlib.sha256(data).hexdigest(), own, original, flight_mark(fleet.of(whose)))


def prepared_of(
    log: Log, review: LogReview, digest: str, own: dict[str, str], original: bytes | None, mark: str
) -> Prepared:
    """A log that was read and reviewed as it is kept.

    ``original`` are its bytes, compressed, to be kept with it; ``mark`` is what it was judged by (``flight_mark``).
    """
    tail = log.tail.upper() if log.tail else None
    row: dict[str, Any] = {
        "hash": digest,
        "source": log.source,
        "tail": tail,
        "tail_from": log.tail_from,
        "rows": log.rows,
        "starts": log.clock.start,
        "warnings": list(review.warnings),
        "original_kept": original is not None,
        "added_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "analysis": mark,
        "columns": own or None,
    }
    trace, row["trace"] = pack_trace(log, digest, own)
    return Prepared(
        source=log.source,
        digest=digest,
        row=row,
        flights=[_flight_row(number, one, tail) for number, one in enumerate(review.flights, 1)],
        original=original,
        trace=trace,
    )


def _flight_row(number: int, review: FlightReview, tail: str | None) -> dict[str, Any]:
    """One flight for the tables ``flights``, ``measures`` and ``findings``."""
    flight, result = review.flight, flight_result(review)
    air_start, air_flight, drawn = circumstances(review)
    return {
        "number": number,
        "tail": tail,
        "starts": None if result.start is None else result.start.isoformat(),
        "ends": None if result.end is None else result.end.isoformat(),
        "from_s": flight.from_s,
        "to_s": flight.to_s,
        "hours": flight_hours(flight),
        "nominal_voltage": flight.nominal_voltage,
        "ammeter": flight.ammeter.kind,
        "air_start": air_start,
        "air_flight": air_flight,
        "drawn_ah": drawn,
        "readings": codec.encode(review.measures),
        "document": kept_flight(result),
        "measures": kept_measures(result),
        "findings": [
            {"name": one.name.value, "severity": one.severity.value, "document": kept_finding(one)}
            for one in result.findings
        ],
    }
