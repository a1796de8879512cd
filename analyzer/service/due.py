"""What falls due when: the battery's capacity test and age, the alternator's brushes, limits that trends head for.

Intervals are those of ``limits.toml``; the maker's maintenance manual comes before each. Where nothing tells from when
a time counts, that is the answer, and no day is made up. Days are rather early than late: hours are run at the higher
of the aircraft's rates of flying, and a forecast counts with the early end of its interval. Hours flown without a log
are not known of, and bring a day nearer; that is said where it is shown.
"""

from __future__ import annotations

import calendar
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import Connection, func, select

from analyzer.aircraft import Aircraft, Fleet, Source
from analyzer.limits import limit_value
from analyzer.records.changing import kept_entries
from analyzer.records.copies import flown_between
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import KeptTail, fleet_kept, tail_reviews, tails
from analyzer.records.store import Store
from analyzer.records.tables import flights
from analyzer.service.due_result import (
    AskedFirst,
    BatteryAgeDue,
    BrushesDue,
    CapacityTestDue,
    Due,
    DueList,
    DueState,
    ForecastDue,
    Origin,
    Since,
    Unknown,
)
from analyzer.service.flying_rate import day_after, most_hours_a_week
from analyzer.service.follow_tails import check_tails
from analyzer.trends.entries import Entry, kinds_reset
from analyzer.trends.fleet_result import NextLimit
from analyzer.trends.tail_result import TailResult
from analyzer.trends.unlogged import BATTERY

#: Work that gives the alternator new brushes.
NEW_BRUSHES = ("alternator_replaced", "alternator_overhauled")


@dataclass(frozen=True, slots=True)
class _Tail:
    """One aircraft, as far as what is due of it needs."""

    kept: KeptTail
    result: TailResult
    aircraft: Aircraft
    entries: Sequence[Entry]  # made by now, in order of time
    now: datetime
    hours_a_week: float | None

    @property
    def today(self) -> date:
        return self.now.date()

    @property
    def last_flight(self) -> datetime | None:
        return None if self.kept.last is None else min(self.kept.last, self.now)


def due_list(
    store: Store, now: datetime, wanted: Collection[str] = (), fleet: Fleet | None = None, over: OverTails = one_by_one
) -> DueList:
    """Give what falls due of some aircraft, of all when none is named; the most urgent first.

    Parameters
    ----------
    now : the moment at which is asked, the clock of the logs
    wanted : tails
    fleet : what is known of each aircraft; the fleet file kept with the records when None
    over : works tails out, perhaps on several processors

    Raises
    ------
    UnknownTailError
        When no flight of one is kept.
    RecordsError
        When the records cannot be read.
    """
    known = fleet_kept(store) if fleet is None else fleet
    kept = tails(store)
    check_tails(wanted, [one.tail for one in kept])
    chosen = [one for one in kept if not wanted or one.tail in wanted]
    results = tail_reviews(store, [one.tail for one in chosen], known, over)
    items = due_items(store, now, chosen, results, known)
    asked = [AskedFirst(one.tail, work) for one in results for work in one.unlogged if work.kind == BATTERY]
    return DueList(now.replace(microsecond=0), tuple(one.tail for one in chosen), items, tuple(asked))


def due_items(
    store: Store, now: datetime, chosen: Sequence[KeptTail], results: Sequence[TailResult], known: Fleet
) -> tuple[Due, ...]:
    """Give what falls due of aircraft whose results are at hand, one each; the most urgent first."""
    entries = sorted((one.entry for one in kept_entries(store)), key=lambda entry: entry.when)
    items: list[Due] = []
    with store.reading() as connection:
        for one, result in zip(chosen, results, strict=True):
            own = [entry for entry in entries if entry.tail == one.tail and entry.when <= now]
            rate = most_hours_a_week(connection, one, result, now)
            tail = _Tail(one, result, known.of(one.tail), own, now, rate)
            items += [_capacity_test(tail), _battery_age(tail), *_brushes(connection, tail), *_forecasts(tail)]
    return tuple(sorted(items, key=_urgency))


def _urgency(one: Due) -> tuple[int, date, str, str]:
    return one.state.place, one.on or date.max, one.tail, one.kind


def _capacity_test(tail: _Tail) -> Due:
    """The next test: an interval after the last one of this battery, else after it was fitted."""
    name, fitted = tail.kept.tail, _battery_fitted(tail)
    tested = _last_test(tail, fitted)
    since = Since(tested.when.date(), Origin.TESTED) if tested else fitted
    if fitted is Unknown.AHEAD or isinstance(since, Unknown):
        why = Unknown.AHEAD if fitted is Unknown.AHEAD else Unknown.NEITHER_TESTED_NOR_FITTED
        return CapacityTestDue(name, DueState.UNKNOWN, None, why, None, None)
    if tested and tested.capacity is not None and tested.capacity < limit_value("due_capacity_least"):
        return CapacityTestDue(name, DueState.OVERDUE, since.day, None, since, tested.capacity)
    on = months_after(since.day, limit_value("due_capacity_test"))
    return CapacityTestDue(name, _state(on, tail.today), on, None, since, None)


def _last_test(tail: _Tail, fitted: Since | Unknown) -> Entry | None:
    """The last capacity test since the battery was fitted; of any battery where nothing tells when that was."""
    begins = fitted.day if isinstance(fitted, Since) else date.min
    tests = [one for one in tail.entries if one.capacity is not None and one.when.date() >= begins]
    return tests[-1] if tests else None


def _battery_age(tail: _Tail) -> Due:
    fitted = _battery_fitted(tail)
    if isinstance(fitted, Unknown):
        return BatteryAgeDue(tail.kept.tail, DueState.UNKNOWN, None, fitted, None)
    on = months_after(fitted.day, limit_value("due_battery_age"))
    return BatteryAgeDue(tail.kept.tail, _state(on, tail.today), on, None, fitted)


def _battery_fitted(tail: _Tail) -> Since | Unknown:
    """When the battery was fitted: as set or as entered, whichever is later."""
    return _fitted(tail.aircraft.battery_fitted, [one for one in tail.entries if one.kind == BATTERY], tail)


def _fitted(told: date | None, work: Sequence[Entry], tail: _Tail) -> Since | Unknown:
    if told is not None and told > tail.today:
        return Unknown.AHEAD
    days = [Since(one.when.date(), Origin.ENTERED) for one in work]
    days += [] if told is None else [Since(told, Origin.SET)]
    return max(days, key=lambda one: (one.day, one.origin is Origin.SET), default=Unknown.NOT_FITTED)


def _brushes(connection: Connection, tail: _Tail) -> Iterator[Due]:
    """The alternator's brushes; none for a source that has none."""
    if tail.aircraft.source is Source.PERMANENT_MAGNET:
        return
    logs_begin = None if tail.kept.first is None else tail.kept.first.date()

    def not_known(why: Unknown, since: Since | None = None, run: float | None = None) -> Due:
        return BrushesDue(tail.kept.tail, DueState.UNKNOWN, None, why, since, run, tail.hours_a_week, logs_begin)

    if tail.aircraft.source in (Source.DC_GENERATOR, Source.STARTER_GENERATOR):
        yield not_known(Unknown.NO_INTERVAL)
        return
    since = _alternator_fitted(tail)
    if isinstance(since, Unknown):
        yield not_known(since)
        return
    run, interval = _run_since(connection, tail, since), limit_value("due_brushes")
    if run < interval and logs_begin is None:
        yield not_known(Unknown.WITHOUT_CLOCK, since, run)
    elif run < interval and logs_begin is not None and logs_begin > since.day:
        yield not_known(Unknown.LOGS_BEGIN_LATER, since, run)
    else:
        on = None if run >= interval else _reached(tail, interval - run)
        state = DueState.OVERDUE if run >= interval else _state_after(on, interval - run, tail.today)
        yield BrushesDue(tail.kept.tail, state, on, None, since, run, tail.hours_a_week, logs_begin)


def _alternator_fitted(tail: _Tail) -> Since | Unknown:
    """From when the brushes' hours count. An entry does not say of which of two alternators it is."""
    work = [one for one in tail.entries if one.kind in NEW_BRUSHES]
    if tail.aircraft.alternators == 2:
        found = _fitted(tail.aircraft.alternator_fitted, [], tail)
        return Unknown.WHICH_OF_TWO if found is Unknown.NOT_FITTED and work else found
    return _fitted(tail.aircraft.alternator_fitted, work, tail)


def _run_since(connection: Connection, tail: _Tail, since: Since) -> float:
    """Engine hours since a day that are kept, and those that were run before it [h].

    Flights without a clock count, since they may have been flown since; so do those that a clock puts ahead.
    """
    midnight = datetime(since.day.year, since.day.month, since.day.day)
    dated = sum(row.hours for row in flown_between(connection, midnight, datetime.max, tail.kept.tail))
    bare = select(func.sum(flights.c.hours)).where(flights.c.tail == tail.kept.tail, flights.c.starts.is_(None))
    before = tail.aircraft.alternator_hours if since.origin is Origin.SET else None
    return float(dated) + float(connection.execute(bare).scalar() or 0.0) + (before or 0.0)


def _forecasts(tail: _Tail) -> Iterator[Due]:
    """Each limit that is passed, or may be reached within ``due_forecast_ahead``.

    Where no day can be told, within ``trend_soon``.
    """
    last = tail.last_flight
    for measure, trend in tail.result.trends.items():
        if trend.now is None or trend.now.limit is None or (reached := trend.now.ahead) is None:
            continue
        on = _reached(tail, max(reached.earliest, 0.0))
        past = reached.earliest <= 0.0
        state = DueState.OVERDUE if past else _state_after(on, reached.earliest, tail.today)
        if not past and state is DueState.LATER and not _worth_telling(on, tail.today):
            continue
        coming = NextLimit(measure, trend.now.limit, reached)
        reset = max((one.when.date() for one in kinds_reset(tail.entries, measure)), default=None)
        yield ForecastDue(tail.kept.tail, state, on, None, coming, trend.now.level, tail.hours_a_week, last, reset)


def _worth_telling(on: date | None, today: date) -> bool:
    return on is not None and on <= today + timedelta(days=limit_value("due_forecast_ahead"))


def _reached(tail: _Tail, hours: float) -> date | None:
    """The day by which so many engine hours are run from the last flight on; None where its rate is not known.

    From the last flight, not from now: it may have flown since without a log.
    """
    if not tail.hours_a_week:
        return None
    return day_after(tail.last_flight or tail.now, hours, tail.hours_a_week)


def _state_after(on: date | None, hours: float, today: date) -> DueState:
    """How near so many engine hours are, by the day or, without one, by the hours alone."""
    if on is not None:
        return _state(on, today)
    return DueState.SOON if hours <= limit_value("trend_soon") else DueState.LATER


def _state(on: date, today: date) -> DueState:
    if on <= today:
        return DueState.OVERDUE
    return DueState.SOON if on <= today + timedelta(days=limit_value("due_soon")) else DueState.LATER


def months_after(day: date, months: float) -> date:
    """Give the same day of a later month, or that month's last; a part of a month is left out.

    >>> months_after(date(2024, 1, 31), 13)
    datetime.date(2025, 2, 28)
    """
    years, month = divmod(day.month - 1 + int(months), 12)
    year = day.year + years
    if year > date.max.year:
        return date.max
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
