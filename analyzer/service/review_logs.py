"""Logs reviewed, an aircraft's together: what its other logs tell of its ammeter counts for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Generic, TypeVar

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source
from analyzer.logs.unit import whole_or_refused
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.service.read_logs import read_with

if TYPE_CHECKING:
    from analyzer.logs import Log
    from analyzer.results import FlightResult, LogResult
    from analyzer.review import FlightReview

T = TypeVar("T")
S = TypeVar("S")
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
    return (one.result for one in review_logs_with(Beside(_nothing, _nothing), sources, fleet, mapped, over))


def _nothing(*_: object) -> None:
    """Nothing beside the result."""


@dataclass(frozen=True, slots=True)
class Beside(Generic[T, S]):
    """What else is made of a log, where it is read; it can be pickled."""

    of_flight: Callable[[FlightReview, Log], T]  # while the flight's readings are at hand
    of_log: Callable[[LogResult], S]


@dataclass(frozen=True, slots=True)
class Reviewed(Generic[T, S]):
    """What a log comes to, and what else was made of each of its flights and of itself; nothing of a refused one."""

    result: LogResult
    flights: tuple[T, ...] = ()
    told: S | None = None


def review_logs_with(
    beside: Beside[T, S],
    sources: list[Source | Refusal],
    fleet: Fleet = NOTHING_KNOWN,
    mapped: Mapping[str, str] = NO_COLUMNS,
    over: OverLogs = one_by_one,
) -> Iterator[Reviewed[T, S]]:
    """Review some logs, and make something else of each.

    What an ammeter senses is summed over all flights of an aircraft in the call, so that the result depends neither
    on the order of the logs nor on the number of processes. A log that no other can change is given at once, up to the
    first that may be judged anew.
    """
    work = partial(review_source, mapped=mapped, beside=beside)
    results = iter(over(work, sources, fleet))
    if len(sources) < 2:
        yield from results
        return
    done: list[Reviewed[T, S]] = []
    for one in results:
        if not done and not _may_be_overturned(one.result, fleet):
            yield one
        else:
            done.append(one)
    sources = sources[len(sources) - len(done) :]
    from analyzer.flights.ammeter import overturned  # after the helpers: what it loads would keep them from forking

    by_tail: dict[str, list[int]] = {}
    for place, one in enumerate(done):
        if tail := (one.result.tail or "").upper():
            by_tail.setdefault(tail, []).append(place)
    for tail, places in by_tail.items():
        flights = [(one.ammeter, one.ammeter_log_odds) for place in places for one in done[place].result.flights]
        aircraft = fleet.of(tail)
        if aircraft.ammeter is None and (told := overturned(flights)):
            known = fleet.with_aircraft(tail, aircraft.with_ammeter(*told))
            again = [place for place in places if _judged_otherwise(done[place].result, told[0])]
            for place, anew in zip(again, over(work, [sources[p] for p in again], known), strict=True):
                done[place] = anew
    yield from done


def review_source(
    source: Source | Refusal,
    fleet: Fleet,
    mapped: Mapping[str, str],
    beside: Beside[T, S],
) -> Reviewed[T, S]:
    """Read and review one log by itself: its result, so that little travels between processes, and what is beside it.

    Whatever is raised on the way, by ``beside`` as well, refuses this log alone.
    """
    from analyzer.results import refused_result

    if isinstance(source, Refusal):
        return Reviewed(refused_result(source))
    done = whole_or_refused(source.name, lambda: _review(source, fleet, mapped, beside))
    return Reviewed(refused_result(done)) if isinstance(done, Refusal) else done


def _review(source: Source, fleet: Fleet, mapped: Mapping[str, str], beside: Beside[T, S]) -> Reviewed[T, S]:
    from analyzer.results import flight_result, read_result, refused_result
    from analyzer.review import review_each

    log = read_with(source, fleet, mapped)
    if isinstance(log, Refusal):
        return Reviewed(refused_result(log))

    def made(review: FlightReview) -> tuple[FlightResult, T]:
        return flight_result(review), beside.of_flight(review, log)

    reviewed, warnings = review_each(log, fleet.of(log.tail), made)
    result = read_result(log, tuple(flight for flight, _ in reviewed), warnings)
    return Reviewed(result, tuple(other for _, other in reviewed), beside.of_log(result))


def _may_be_overturned(log: LogResult, fleet: Fleet) -> bool:
    """Whether other logs of the same aircraft can tell its ammeter's kind: neither header nor fleet file does."""
    return bool(log.tail) and fleet.of(log.tail).ammeter is None and _judged_otherwise(log, "")


def _judged_otherwise(log: LogResult, kind: str) -> bool:
    return any(flight.ammeter_log_odds is not None and flight.ammeter != kind for flight in log.flights)
