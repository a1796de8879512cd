"""Logs reviewed, an aircraft's together: what its other logs tell of its ammeter counts for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Generic, TypeVar

from msgspec import Struct

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
    return (one.told for one in review_logs_with(Made(_nothing, _itself), sources, fleet, mapped, over))


def _nothing(*_: object) -> None:
    """Nothing is made of a flight."""


def _itself(result: LogResult, _: object) -> LogResult:
    """What a log comes to."""
    return result


class Made(Struct, Generic[T, S], frozen=True):
    """What is made of a log where it is read; it can be pickled, as can what it makes."""

    of_flight: Callable[[FlightReview, Log], T]  # while the flight's readings are at hand
    of_log: Callable[[LogResult, tuple[T, ...]], S]  # of what it comes to, and of what was made of each flight


class Reviewed(Struct, Generic[S], frozen=True):
    """What was made of a log, and no more of what it comes to than all commands ask: little travels so."""

    told: S
    refused: bool
    tail: str | None
    ammeters: tuple[tuple[str, float | None], ...]  # of each flight: its kind, and how surely it was told

    @classmethod
    def of(cls, result: LogResult, told: S) -> Reviewed[S]:
        """What was made of a log that comes to this."""
        ammeters = tuple((flight.ammeter, flight.ammeter_log_odds) for flight in result.flights)
        return cls(told, result.refused, result.tail, ammeters)


def refused_with(made: Made[T, S], refusal: Refusal) -> Reviewed[S]:
    """What is made of a log that was refused."""
    from analyzer.results import refused_result

    result = refused_result(refusal)
    return Reviewed.of(result, made.of_log(result, ()))


def review_logs_with(
    made: Made[T, S],
    sources: list[Source | Refusal],
    fleet: Fleet = NOTHING_KNOWN,
    mapped: Mapping[str, str] = NO_COLUMNS,
    over: OverLogs = one_by_one,
) -> Iterator[Reviewed[S]]:
    """Review some logs, and make something of each.

    What an ammeter senses is summed over all flights of an aircraft in the call, so that the result depends neither
    on the order of the logs nor on the number of processes. A log that no other can change is given at once, up to the
    first that may be judged anew.
    """
    work = partial(review_source, mapped=mapped, made=made)
    results = iter(over(work, sources, fleet))
    if len(sources) < 2:
        yield from results
        return
    done: list[Reviewed[S]] = []
    for one in results:
        if not done and not _may_be_overturned(one, fleet):
            yield one
        else:
            done.append(one)
    sources = sources[len(sources) - len(done) :]
    from analyzer.flights.ammeter import overturned  # after the helpers: what it loads would keep them from forking

    by_tail: dict[str, list[int]] = {}
    for place, one in enumerate(done):
        if tail := (one.tail or "").upper():
            by_tail.setdefault(tail, []).append(place)
    for tail, places in by_tail.items():
        flights = [ammeter for place in places for ammeter in done[place].ammeters]
        aircraft = fleet.of(tail)
        if aircraft.ammeter is None and (told := overturned(flights)):
            known = fleet.with_aircraft(tail, aircraft.with_ammeter(*told))
            again = [place for place in places if _judged_otherwise(done[place], told[0])]
            for place, anew in zip(again, over(work, [sources[p] for p in again], known), strict=True):
                done[place] = anew
    yield from done


def review_source(
    source: Source | Refusal,
    fleet: Fleet,
    mapped: Mapping[str, str],
    made: Made[T, S],
) -> Reviewed[S]:
    """Read and review one log by itself, and make something of it.

    Whatever is raised on the way, by ``made`` as well, refuses this log alone.
    """
    if isinstance(source, Refusal):
        return refused_with(made, source)
    done = whole_or_refused(source.name, lambda: _review(source, fleet, mapped, made))
    return refused_with(made, done) if isinstance(done, Refusal) else done


def _review(source: Source, fleet: Fleet, mapped: Mapping[str, str], made: Made[T, S]) -> Reviewed[S] | Refusal:
    from analyzer.results import flight_result, read_result
    from analyzer.review import review_each

    log = read_with(source, fleet, mapped)
    if isinstance(log, Refusal):
        return log

    def both(review: FlightReview) -> tuple[FlightResult, T]:
        return flight_result(review), made.of_flight(review, log)

    reviewed, warnings = review_each(log, fleet.of(log.tail), both)
    result = read_result(log, tuple(flight for flight, _ in reviewed), warnings)
    return Reviewed.of(result, made.of_log(result, tuple(other for _, other in reviewed)))


def _may_be_overturned(log: Reviewed[S], fleet: Fleet) -> bool:
    """Whether other logs of the same aircraft can tell its ammeter's kind: neither header nor fleet file does."""
    return bool(log.tail) and fleet.of(log.tail).ammeter is None and _judged_otherwise(log, "")


def _judged_otherwise(log: Reviewed[S], kind: str) -> bool:
    return any(log_odds is not None and ammeter != kind for ammeter, log_odds in log.ammeters)
