"""The tails' reviews, kept from the last time while nothing that they rest on has changed.

Whoever changes a tail works its review out anew at the end (``renew``), so that readers find it. A reader that
comes upon one that is not there, after an interrupt or an update of the program, works it out itself.

What is kept is the review as JSON. Where it was compared with what was known at some moment, two more lines tell of
which moment and which measures, and what was known then: the same is asked for until there are new flights.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import replace
from datetime import datetime
from functools import partial
from itertools import chain, islice
from typing import Any, TypeAlias

import msgspec
from sqlalchemy import Row, select, update

from analyzer import __version__
from analyzer.aircraft import Aircraft, Fleet
from analyzer.records.changing import kept_dispositions, settled_findings
from analyzer.records.databases import as_bytes
from analyzer.records.histories import fleet_kept, kept_history
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.marks import tail_mark
from analyzer.records.problems import RecordsError
from analyzer.records.stale import stale_flights
from analyzer.records.store import Store
from analyzer.records.tables import tails
from analyzer.records.together import kept_together
from analyzer.trends.open_findings import NONE_SETTLED, Settled
from analyzer.trends.since import Then, as_of
from analyzer.trends.since import telling as measures_telling
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail

#: The row of a tail, the mark of its review, and what is kept of that.
_ToKeep: TypeAlias = tuple[Row[Any], str, bytes]
#: Made while this is loaded: see ``stored.PREPARED``.
_KEPT, _KEPT_THEN = msgspec.json.Decoder(TailResult), msgspec.json.Decoder(Then)


def tail_review(store: Store, tail: str, fleet: Fleet | None = None, over: OverTails = one_by_one) -> TailResult:
    """Give a tail's trends and findings.

    Kept from the last time while neither flights, entries, profile nor the analysis have changed.
    """
    return tail_reviews(store, [tail], fleet, over)[0]


def tail_reviews(
    store: Store, wanted: Sequence[str], fleet: Fleet | None = None, over: OverTails = one_by_one
) -> list[TailResult]:
    """Give the reviews of several tails.

    Each one that had to be worked out is soon kept for the next reader, where that can be, also when the work is
    stopped; not where ``fleet`` says something else of the tail than the fleet file kept with the records.
    """
    kept_fleet = fleet_kept(store)
    known = kept_fleet if fleet is None else fleet
    rows = _rows(store)
    found = {
        tail: review
        for tail in wanted
        if (row := rows.get(tail)) is not None and (review := _standing(row, _mark(row, known))) is not None
    }
    stale = [tail for tail in dict.fromkeys(wanted) if tail not in found]
    worked_out = iter(over(worked_out_in(store), stale, known))
    with kept_together(partial(_keep, store)) as keep:
        first = list(islice(worked_out, 1))  # the others are worked out meanwhile, where that is done apart
        settled = settled_findings(kept_dispositions(store))
        stale_now = stale_flights(store, known, set(wanted))
        for tail, review in zip(stale, chain(first, worked_out), strict=True):
            found[tail] = review
            if (row := rows.get(tail)) is not None and known.of(tail) == kept_fleet.of(tail):
                keep((row, _mark(row, known), msgspec.json.encode(review)))
    return [_as_of_today(found[tail], settled.get(tail, NONE_SETTLED), stale_now.get(tail, 0)) for tail in wanted]


def known_then(
    store: Store,
    results: Mapping[str, TailResult],
    since: datetime,
    fleet: Fleet,
    over: OverTails = one_by_one,
    *,
    keep: bool = False,
) -> dict[str, Then]:
    """Give what was known of some tails just before a moment, of the measures in which their results can be worse.

    Of one moment a tail it is kept beside the review, as that is, where ``keep`` says that this is the moment that most
    ask for: two readers who asked for others by turns would write without end.
    """
    kept_fleet, rows = fleet_kept(store), _rows(store)
    telling = {tail: measures_telling(result, since) for tail, result in results.items()}
    keys = {tail: " ".join([since.isoformat(), *sorted(measures)]).encode() for tail, measures in telling.items()}
    found = {}
    for tail, key in keys.items():
        row = rows.get(tail)
        lines = row.review.split(b"\n") if row is not None and _stands(row, _mark(row, fleet)) else []
        if lines[1:2] == [key]:
            found[tail] = _KEPT_THEN.decode(lines[2])
    stale = [tail for tail in results if tail not in found]
    work = partial(_known_then, store=store, since=since, telling=telling)
    told = []
    for tail, then in zip(stale, over(work, stale, fleet), strict=True):
        found[tail] = then
        row = rows.get(tail)
        if keep and row is not None and _stands(row, _mark(row, fleet)) and fleet.of(tail) == kept_fleet.of(tail):
            own = row.review.split(b"\n")[0]
            told.append((row, _mark(row, fleet), b"\n".join([own, keys[tail], msgspec.json.encode(then)])))
    _keep(store, told)
    return found


def _known_then(tail: str, fleet: Fleet, store: Store, since: datetime, telling: Mapping[str, Set[str]]) -> Then:
    return as_of(kept_history(store, tail, fleet), since, telling[tail])


def _rows(store: Store) -> dict[str, Row[Any]]:
    """What is kept of each tail's review."""
    asked = select(tails.c.tail, tails.c.revision, as_bytes(tails.c.reviewed).label("reviewed"),
                   as_bytes(tails.c.review).label("review"))  # fmt: skip
    with store.reading() as connection:
        return {row.tail: row for row in connection.execute(asked)}


def _as_of_today(result: TailResult, settled: Settled, stale: int) -> TailResult:
    """A result with the condition left once what people have settled counts no more, and its stale flights counted."""
    return replace(result, condition=result.stands(settled).condition(result.flights), stale_flights=stale)


def _standing(row: Row[Any], mark: str) -> TailResult | None:
    """The review that is kept of a tail, None where something has changed since, or a disk changed it."""
    return _KEPT.decode(row.review.split(b"\n")[0]) if _stands(row, mark) else None


def _stands(row: Row[Any], mark: str) -> bool:
    return row.review is not None and row.reviewed == f"{mark}|{_seal(row.review)}".encode()


def _seal(review: bytes) -> str:
    return hashlib.sha256(review).hexdigest()[:16]


def renew(store: Store, changed: Iterable[str], over: OverTails = one_by_one) -> int:
    """Work the reviews of some tails out anew where they do not stand; gives of how many.

    What is there when it is stopped is kept, so that nothing is lost.
    """
    names = sorted(set(changed))
    tail_reviews(store, names, over=over)
    return len(names)


def worked_out_in(store: Store) -> Callable[[str, Fleet], TailResult]:
    """Give what works one tail of a store out, in this process or another."""
    return partial(_worked_out, store=store)


def _worked_out(tail: str, fleet: Fleet, store: Store) -> TailResult:
    return tail_result(review_tail(kept_history(store, tail, fleet)))


def _known(aircraft: Aircraft) -> tuple[Aircraft, float | None]:
    """What the review of a tail rests on of what is known beforehand."""
    return aircraft.judged, aircraft.coldest_morning


def _mark(row: Row[Any], fleet: Fleet) -> str:
    """What a tail's review rests on: its flights and entries, its profile, the analysis and its tables."""
    profile = hashlib.sha256(repr(_known(fleet.of(row.tail))).encode()).hexdigest()[:16]
    return f"{row.revision}|{profile}|{__version__}|{tail_mark()}"


def _keep(store: Store, reviews: Sequence[_ToKeep]) -> None:
    """Keep reviews, and what is told beside them, by their marks for the next reader.

    Not of a tail that has changed again meanwhile. A reader has its answer, so that one which cannot be kept (a full
    disk, a folder that is read-only) is no fault.
    """
    if not reviews or not store.writable:
        return
    with contextlib.suppress(RecordsError), store.writing() as connection:
        for row, mark, told in reviews:
            connection.execute(
                update(tails)
                .where(tails.c.tail == row.tail, tails.c.revision == row.revision)
                .values(reviewed=f"{mark}|{_seal(told)}", review=told.decode())
            )
