"""Aircraft over their flights, from the records or straight from logs."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source, find_logs
from analyzer.phrases import not_found
from analyzer.records.in_order import OverLogs, OverTails, one_by_one
from analyzer.records.kept import fleet_kept, kept_history, tail_reviews
from analyzer.records.latest import tail_names
from analyzer.records.store import Store
from analyzer.review import review_log
from analyzer.service.read_logs import read_with
from analyzer.trends.entries import entries_beside
from analyzer.trends.history import FlightSummary, History, history_of, summarize
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail


class UnknownTailError(ValueError):
    """An aircraft that was asked for has no flights."""


@dataclass(frozen=True, slots=True)
class FollowedTails:
    """Some aircraft, with a way to the flights of each."""

    results: tuple[TailResult, ...]
    history: Callable[[str], History]  # of a tail among the results; read only when asked for


@dataclass(frozen=True, slots=True)
class SummarizedLog:
    """What one log gives to the trends."""

    source: str
    tail: str | None
    because: str | None  # it was refused
    flights: tuple[FlightSummary, ...]


@dataclass(frozen=True, slots=True)
class LoggedHistories:
    """The histories that some logs give, and the logs that belong to none."""

    histories: tuple[History, ...]  # by tail
    refused: tuple[SummarizedLog, ...]
    nameless: tuple[SummarizedLog, ...]  # name no aircraft


def tails_kept(
    store: Store,
    wanted: Collection[str] = (),
    fleet: Fleet | None = None,
    until: datetime | None = None,
    over: OverTails = one_by_one,
) -> FollowedTails:
    """Give aircraft of the records, all when none is named.

    Parameters
    ----------
    wanted : tails
    fleet : what is known of each aircraft; the fleet file kept with the records when None
    until : leave out flights that began after this moment

    Raises
    ------
    UnknownTailError
        When no flight of one is kept.
    RecordsError
        When the records cannot be read.
    """
    known = fleet_kept(store) if fleet is None else fleet
    names = tail_names(store)
    check_tails(wanted, names)
    chosen = [name for name in names if not wanted or name in wanted]
    if until is None:
        results = tail_reviews(store, chosen, known, over)
    else:
        results = list(over(partial(_until, store=store, until=until), chosen, known))
    return FollowedTails(tuple(results), lambda tail: kept_history(store, tail, known).until(until))


def _until(tail: str, fleet: Fleet, store: Store, until: datetime) -> TailResult:
    return tail_result(review_tail(kept_history(store, tail, fleet).until(until)))


def tails_of(
    histories: Sequence[History], wanted: Collection[str] = (), until: datetime | None = None
) -> FollowedTails:
    """Give aircraft by their histories, all when none is named.

    Raises
    ------
    UnknownTailError
        When there is no history of one.
    """
    check_tails(wanted, [one.tail for one in histories])
    known = {one.tail: one.until(until) for one in histories if not wanted or one.tail in wanted}
    return FollowedTails(tuple(tail_result(review_tail(one)) for one in known.values()), known.__getitem__)


def check_tails(wanted: Collection[str], known: Sequence[str]) -> None:
    """See that every aircraft asked for is there, before anything is worked out.

    Raises
    ------
    UnknownTailError
        Naming those that are not, and those that are.
    """
    unknown = sorted(set(wanted) - set(known))
    if unknown:
        raise UnknownTailError(not_found(unknown, known))


def histories_of(paths: Iterable[Path], fleet: Fleet, over: OverLogs) -> LoggedHistories:
    """Give each tail's history straight from logs, with the maintenance in files ``entries.csv`` among them.

    Raises
    ------
    EntriesError
        When a file of maintenance entries cannot be read.
    """
    given = list(paths)
    entries = entries_beside(given)
    flights: dict[str, list[FlightSummary]] = {}
    refused, nameless = [], []
    for log in over(summarize_source, find_logs(given), fleet):
        if log.because is not None:
            refused.append(log)
        elif log.tail is None:
            nameless.append(log)
        else:
            flights.setdefault(log.tail.upper(), []).extend(log.flights)
    histories = tuple(
        history_of(tail, found, [entry for entry in entries if entry.tail == tail], fleet.of(tail))
        for tail, found in sorted(flights.items())
    )
    return LoggedHistories(histories, tuple(refused), tuple(nameless))


def summarize_source(source: Source | Refusal, fleet: Fleet) -> SummarizedLog:
    """Read and review one log; what the trends need of its flights."""
    log = read_with(source, fleet, {})
    if isinstance(log, Refusal):
        return SummarizedLog(log.source, None, log.because, ())
    reviews = review_log(log, fleet.of(log.tail)).flights
    flights = tuple(summarize(one, log.source, place) for place, one in enumerate(reviews, 1))
    return SummarizedLog(log.source, log.tail, None, flights)
