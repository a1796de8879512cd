"""Judging kept flights anew that were judged by an earlier version, other limits, or another profile.

All stale flights of an aircraft take the place of the old ones in one transaction, so that nobody sees it judged half
by one and half by the other.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

from analyzer.aircraft import Fleet
from analyzer.logs.log import Refusal
from analyzer.logs.source import Source
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.files import trace_path
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import replace_kept
from analyzer.records.kept import KeptLog, kept_logs
from analyzer.records.marks import flight_mark
from analyzer.records.preparing import Prepared
from analyzer.records.rebuilding import original_of, prepare_original, readings_of
from analyzer.records.stale import stale_flights
from analyzer.records.store import Store


@dataclass(slots=True)
class Renewed:
    """What was judged anew."""

    flights: int = 0
    tails: set[str] = field(default_factory=set)
    failed: list[tuple[str, str]] = field(default_factory=list)  # logs that stay stale, and why


def renew_flights(
    store: Store, fleet: Fleet, over: OverLogs = one_by_one, tails: Collection[str | None] | None = None
) -> Renewed:
    """Judge anew whatever kept flights are stale, of all tails or of some.

    Raises
    ------
    RecordsError
        When the records cannot be written; the tails that were done stay done.
    """
    done = Renewed()
    for tail in stale_flights(store, fleet, tails):
        stale = {
            log.hash: log
            for log in kept_logs(store, tail, without_tail=tail is None)
            if log.analysis != flight_mark(fleet.of(tail))
        }
        ready = []
        for prepared in over(prepare_original, [_source_of(store, log) for log in stale.values()], fleet):
            if prepared.because is not None:
                done.failed.append((prepared.source, prepared.because))
            else:
                ready.append(_without_known_readings(prepared, stale[prepared.digest]))
        replace_kept(store, ready)
        done.flights += sum(len(prepared.flights) for prepared in ready)
        done.tails |= {tail} if tail else set()
    settle_ammeters(store, done.tails, fleet, over)
    return done


def _source_of(store: Store, log: KeptLog) -> Source | Refusal:
    """What a kept log is read from: its original, its readings where that was not kept."""
    if log.original_kept:
        return original_of(store.folder, log.hash, log)
    if not trace_path(store.folder, log.hash).exists():
        return Refusal(log.source, "Neither its original nor its readings are there; add the log again.")
    return readings_of(store.folder, log.hash, log)


def _without_known_readings(prepared: Prepared, log: KeptLog) -> Prepared:
    """A prepared log without the readings where the kept ones are the same, so that many weigh little together."""
    return replace(prepared, trace=b"") if prepared.row["trace"] == log.trace else prepared
