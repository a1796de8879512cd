"""Logs reviewed, an aircraft's together: what its other logs tell of its ammeter counts for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source
from analyzer.logs.unit import whole_or_refused
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.service.read_logs import read_with

if TYPE_CHECKING:
    from analyzer.results import LogResult
    from analyzer.review import LogReview

T = TypeVar("T")
NO_COLUMNS: Mapping[str, str] = {}
NOTHING_KNOWN = Fleet()


def review_logs(
    sources: list[Source | Refusal],
    fleet: Fleet = NOTHING_KNOWN,
    mapped: Mapping[str, str] = NO_COLUMNS,
    over: OverLogs = one_by_one,
) -> Iterator[LogResult]:
    """Review some logs; each one's result, a refused log's with the reason.

    Parameters
    ----------
    sources : of ``find_logs``
    fleet : what is known of each aircraft
    mapped : role -> header, before the fleet file's
    over : works on the logs, perhaps on several processors
    """
    return (result for result, _ in review_logs_with(_nothing, sources, fleet, mapped, over))


def _nothing(review: LogReview, result: LogResult) -> None:
    """Nothing beside the result."""


def review_logs_with(
    beside: Callable[[LogReview, LogResult], T],
    sources: list[Source | Refusal],
    fleet: Fleet = NOTHING_KNOWN,
    mapped: Mapping[str, str] = NO_COLUMNS,
    over: OverLogs = one_by_one,
) -> Iterator[tuple[LogResult, T | None]]:
    """Review some logs, and make something else of each while its readings are at hand; None of a refused one.

    What an ammeter senses is summed over all flights of an aircraft in the call, so that the result depends neither
    on the order of the logs nor on the number of processes. A log that no other can change is given at once, up to the
    first that may be judged anew.
    """
    work = partial(review_source, mapped=mapped, beside=beside)
    results = iter(over(work, sources, fleet))
    if len(sources) < 2:
        yield from results
        return
    done: list[tuple[LogResult, T | None]] = []
    for result in results:
        if not done and not _may_be_overturned(result[0], fleet):
            yield result
        else:
            done.append(result)
    sources = sources[len(sources) - len(done) :]
    from analyzer.flights.ammeter import overturned  # after the helpers: what it loads would keep them from forking

    by_tail: dict[str, list[int]] = {}
    for place, (log, _) in enumerate(done):
        if tail := (log.tail or "").upper():
            by_tail.setdefault(tail, []).append(place)
    for tail, places in by_tail.items():
        flights = [(one.ammeter, one.ammeter_log_odds) for place in places for one in done[place][0].flights]
        aircraft = fleet.of(tail)
        if aircraft.ammeter is None and (told := overturned(flights)):
            known = fleet.with_aircraft(tail, aircraft.with_ammeter(*told))
            again = [place for place in places if _judged_otherwise(done[place][0], told[0])]
            for place, result in zip(again, over(work, [sources[p] for p in again], known), strict=True):
                done[place] = result
    yield from done


def review_source(
    source: Source | Refusal,
    fleet: Fleet,
    mapped: Mapping[str, str],
    beside: Callable[[LogReview, LogResult], T],
) -> tuple[LogResult, T | None]:
    """Read and review one log by itself: its result, so that little travels between processes, and what is beside it.

    Whatever is raised on the way, by ``beside`` as well, refuses this log alone.
    """
    from analyzer.results import refused_result

    if isinstance(source, Refusal):
        return refused_result(source), None
    done = whole_or_refused(source.name, lambda: _review(source, fleet, mapped, beside))
    return (refused_result(done), None) if isinstance(done, Refusal) else done


def _review(
    source: Source, fleet: Fleet, mapped: Mapping[str, str], beside: Callable[[LogReview, LogResult], T]
) -> tuple[LogResult, T | None]:
    from analyzer.results import log_result, refused_result
    from analyzer.review import review_log

    log = read_with(source, fleet, mapped)
    if isinstance(log, Refusal):
        return refused_result(log), None
    review = review_log(log, fleet.of(log.tail))
    result = log_result(review)
    return result, beside(review, result)


def _may_be_overturned(log: LogResult, fleet: Fleet) -> bool:
    """Whether other logs of the same aircraft can tell its ammeter's kind: neither header nor fleet file does."""
    return bool(log.tail) and fleet.of(log.tail).ammeter is None and _judged_otherwise(log, "")


def _judged_otherwise(log: LogResult, kind: str) -> bool:
    return any(flight.ammeter_log_odds is not None and flight.ammeter != kind for flight in log.flights)
