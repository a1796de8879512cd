"""A pilot's report looked up in an aircraft's flights: of the records, or straight from logs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from analyzer.aircraft import Aircraft, Fleet
from analyzer.logs import Log, Refusal, Source
from analyzer.logs.log import RefusedError
from analyzer.logs.unit import source_name, whole_or_refused
from analyzer.records.changing import kept_entries
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.kept import tails
from analyzer.records.problems import RecordsError
from analyzer.records.replay import KeptReadings, kept_readings, newest_flight, replay_log
from analyzer.records.store import Store
from analyzer.review import review_log
from analyzer.service.read_logs import read_with
from analyzer.squawk.across import look_back
from analyzer.squawk.examine import ExaminedFlight, SquawkFlight, examine, reference_of
from analyzer.squawk.report import Report
from analyzer.squawk.result import SquawkResult, squawk_result
from analyzer.trends.entries import Entry


@dataclass(frozen=True, slots=True)
class SquawkRequest:
    """What is asked: a report, about an aircraft, in a period; without one, some days back from its newest flight."""

    tail: str
    report: Report
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class ExaminedLog:
    """One log looked through: its flights, or why it was refused; of another aircraft, none."""

    source: str
    tail: str | None  # that it names
    because: str | None
    flights: tuple[ExaminedFlight, ...] = ()


@dataclass(frozen=True, slots=True)
class LookedUp:
    """What came of a report."""

    result: SquawkResult | None  # None where no flight was begun in the period
    refused: tuple[ExaminedLog, ...]  # logs that could not be read
    nameless: int  # logs that name no aircraft; they are taken to be of the one asked for
    others: frozenset[str]  # aircraft that there are


def squawk_of_logs(
    sources: list[Source | Refusal],
    asked: SquawkRequest,
    fleet: Fleet,
    over: OverLogs = one_by_one,
) -> LookedUp:
    """Look a report up straight in logs; one that names no aircraft is taken to be of the one asked for.

    Parameters
    ----------
    sources : of ``find_logs``
    asked : the report, the aircraft and the period
    fleet : what is known of each aircraft
    over : works on the logs, perhaps on several processors
    """
    work = partial(examine_log, tail=asked.tail, symptoms=asked.report.symptoms)
    logs = list(over(work, sources, fleet))
    read = [log for log in logs if log.because is None]
    own = [log for log in read if log.tail in (None, asked.tail)]
    return LookedUp(
        _of_period([flight for log in own for flight in log.flights], asked, ()),
        tuple(log for log in logs if log.because is not None),
        sum(log.tail is None for log in own),
        frozenset(log.tail for log in read if log.tail),
    )


def squawk_of_records(store: Store, asked: SquawkRequest, fleet: Fleet, over: OverLogs = one_by_one) -> LookedUp:
    """Look a report up in the kept flights of its aircraft, no more of them read than are looked through.

    Raises
    ------
    RecordsError
        When the records cannot be used.
    """
    since = asked.since or look_back(newest_flight(store, asked.tail), asked.until)
    sources: list[Source | Refusal] = list(kept_readings(store, asked.tail, since, asked.until))
    logs = list(over(partial(examine_kept, symptoms=asked.report.symptoms), sources, fleet))
    entries = [one.entry for one in kept_entries(store, asked.tail)]
    return LookedUp(
        _of_period([flight for log in logs for flight in log.flights], asked, entries),
        tuple(log for log in logs if log.because is not None),
        0,
        frozenset(one.tail for one in tails(store)),
    )


def examine_log(source: Source | Refusal, fleet: Fleet, *, tail: str, symptoms: tuple[str, ...]) -> ExaminedLog:
    """Read, review and look through one log; whatever is raised on the way refuses this log alone."""
    done = whole_or_refused(source_name(source), lambda: _examined(source, fleet, tail, symptoms))
    return ExaminedLog(done.source, None, done.because) if isinstance(done, Refusal) else done


def _examined(source: Source | Refusal, fleet: Fleet, tail: str, symptoms: tuple[str, ...]) -> ExaminedLog:
    log = read_with(source, fleet, {})
    if isinstance(log, Log) and log.tail is None and (columns := fleet.of(tail).columns):
        log = read_with(source, fleet, columns)
    if isinstance(log, Refusal):
        return ExaminedLog(log.source, None, log.because)
    whose = log.tail.upper() if log.tail else None
    if whose not in (None, tail):
        return ExaminedLog(log.source, whose, None)
    return ExaminedLog(log.source, whose, None, _flights(log, fleet.of(tail), symptoms))


def _flights(log: Log, aircraft: Aircraft, symptoms: tuple[str, ...]) -> tuple[ExaminedFlight, ...]:
    reviews = enumerate(review_log(log, aircraft).flights, 1)
    return tuple(examine(reference_of(one, log.source, number), one, symptoms) for number, one in reviews)


def examine_kept(source: Source | Refusal, fleet: Fleet, *, symptoms: tuple[str, ...]) -> ExaminedLog:
    """Look through one kept log; whatever is raised on the way refuses this log alone, as does a refusal given."""
    if isinstance(source, Refusal):
        return ExaminedLog(source.source, None, source.because)
    done = whole_or_refused(source_name(source), lambda: _examined_kept(source, fleet, symptoms))
    if isinstance(done, Refusal):
        return ExaminedLog(done.source, None, done.because)
    return ExaminedLog(source_name(source), None, None, done)


def _examined_kept(source: Source, fleet: Fleet, symptoms: tuple[str, ...]) -> tuple[ExaminedFlight, ...]:
    assert isinstance(source, KeptReadings)  # nothing else is asked for
    try:
        replayed = replay_log(source, fleet.of(source.tail))
    except RecordsError as problem:
        raise RefusedError(str(problem)) from problem
    return tuple(
        examine(SquawkFlight(one.id, one.source, one.number, one.start), one.review, symptoms) for one in replayed
    )


def _of_period(flights: list[ExaminedFlight], asked: SquawkRequest, entries: Iterable[Entry]) -> SquawkResult | None:
    """The result over the flights of the period; those without a clock are kept where no period is named."""
    since = asked.since or look_back(max((one.start for one in flights if one.start), default=None), asked.until)
    named = asked.since is not None or asked.until is not None
    chosen = [one for one in flights if (_within(one.start, since, asked.until) if one.start else not named)]
    if not chosen:
        return None
    return squawk_result(asked.tail, asked.report, chosen, since=since, until=asked.until, entries=entries)


def _within(start: datetime, since: datetime | None, until: datetime | None) -> bool:
    return (since is None or start >= since) and (until is None or start <= until)
