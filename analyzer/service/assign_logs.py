"""Whose kept logs are: said by a person, or taken back; each log is read anew with what is known of its aircraft."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from analyzer.records.ammeters import settle_ammeters
from analyzer.records.changing import assign, take_back_tail
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import TOLD
from analyzer.records.kept import fleet_kept, kept_logs
from analyzer.records.rebuilding import rebuild
from analyzer.records.store import Store

NOT_KEPT = "its recording was not kept, so whom it names itself is not known; say whose it is"


@dataclass(frozen=True, slots=True)
class Assigned:
    """What came of it."""

    changed: int  # logs whose aircraft is another now
    tails: frozenset[str]  # aircraft that gained or lost one
    failed: tuple[tuple[str, str], ...]  # logs that could not be read anew, and why


def assign_logs(store: Store, tail: str | None, log_ids: Iterable[int], over: OverLogs = one_by_one) -> Assigned:
    """Say whose some kept logs are.

    Parameters
    ----------
    store : open for writing
    tail : the aircraft; None takes back what people said, so that each log counts for whom it names itself, if any
    log_ids : numbers of the logs; those that are not kept are passed over
    over : how reading them anew is spread

    Raises
    ------
    RecordsError
        When the tail is none, who asks may not, or the records cannot be written.
    """
    asked = set(log_ids)
    before = {log.hash: log for log in kept_logs(store) if log.id in asked}
    silent = [log for log in before.values() if tail is None and log.tail_from in TOLD and not log.original_kept]
    before = {digest: log for digest, log in before.items() if log not in silent}
    ids = [log.id for log in before.values()]
    changed = assign(store, tail, ids) if tail is not None else take_back_tail(store, ids)
    rebuilt = rebuild(store, fleet_kept(store), over, only=before.keys())
    after = {log.hash: log.tail for log in kept_logs(store) if log.id in asked}
    tails = frozenset(one for one in (*(log.tail for log in before.values()), *after.values()) if one)
    settle_ammeters(store, tails, fleet_kept(store), over)
    return Assigned(changed, tails, (*rebuilt.failed, *((log.source, NOT_KEPT) for log in silent)))
