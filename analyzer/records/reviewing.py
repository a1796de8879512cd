"""The tails' reviews, kept from the last time while nothing that they rest on has changed.

Whoever changes a tail works its review out anew at the end (``renew``), so that readers find it. A reader that
comes upon one that is not there, after an interrupt or an update of the program, works it out itself.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

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
from analyzer.trends.open_findings import NONE_SETTLED, Settled
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail

_KEPT = msgspec.json.Decoder(TailResult)  # made while this is loaded: see stored.PREPARED


def tail_review(store: Store, tail: str, fleet: Fleet | None = None, over: OverTails = one_by_one) -> TailResult:
    """Give a tail's trends and findings.

    Kept from the last time while neither flights, entries, profile nor the analysis have changed.
    """
    return tail_reviews(store, [tail], fleet, over)[0]


def tail_reviews(
    store: Store, wanted: Sequence[str], fleet: Fleet | None = None, over: OverTails = one_by_one
) -> list[TailResult]:
    """Give the reviews of several tails.

    Each one that had to be worked out is kept at once for the next reader, where that can be; not where ``fleet``
    says something else of the tail than the fleet file kept with the records.
    """
    kept_fleet = fleet_kept(store)
    known = kept_fleet if fleet is None else fleet
    with store.reading() as connection:
        asked = select(tails.c.tail, tails.c.revision, as_bytes(tails.c.reviewed).label("reviewed"),
                       as_bytes(tails.c.review).label("review"))  # fmt: skip
        rows = {row.tail: row for row in connection.execute(asked)}
    found = {
        tail: review
        for tail in wanted
        if (row := rows.get(tail)) is not None and (review := _standing(row, _mark(row, known))) is not None
    }
    stale = [tail for tail in dict.fromkeys(wanted) if tail not in found]
    for tail, review in zip(stale, over(worked_out_in(store), stale, known), strict=True):
        found[tail] = review
        if (row := rows.get(tail)) is not None and known.of(tail) == kept_fleet.of(tail):
            _keep(store, row, _mark(row, known), review)
    settled = settled_findings(kept_dispositions(store))
    stale_now = stale_flights(store, known, set(wanted))
    return [_as_of_today(found[tail], settled.get(tail, NONE_SETTLED), stale_now.get(tail, 0)) for tail in wanted]


def _as_of_today(result: TailResult, settled: Settled, stale: int) -> TailResult:
    """A result with the condition left once what people have settled counts no more, and its stale flights counted."""
    return replace(result, condition=result.stands(settled).condition(result.flights), stale_flights=stale)


def _standing(row: Row[Any], mark: str) -> TailResult | None:
    """The review that is kept of a tail, None where something has changed since, or a disk changed it."""
    if row.review is None or row.reviewed != f"{mark}|{_seal(row.review)}".encode():
        return None
    return _KEPT.decode(row.review)


def _seal(review: bytes) -> str:
    return hashlib.sha256(review).hexdigest()[:16]


def renew(store: Store, changed: Iterable[str], over: OverTails = one_by_one) -> int:
    """Work the reviews of some tails out anew where they do not stand; gives of how many.

    Each is kept as soon as it is there, so that nothing is lost by stopping.
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


def _keep(store: Store, row: Row[Any], mark: str, review: TailResult) -> None:
    """Keep a review for the next reader, unless the tail has changed again meanwhile.

    A reader has its answer, so that one which cannot be kept (a full disk, a folder that is read-only) is no fault.
    """
    if not store.writable:
        return
    text = msgspec.json.encode(review).decode()
    with contextlib.suppress(RecordsError), store.writing() as connection:
        connection.execute(
            update(tails)
            .where(tails.c.tail == row.tail, tails.c.revision == row.revision)
            .values(reviewed=f"{mark}|{_seal(text.encode())}", review=text)
        )
