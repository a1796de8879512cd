"""What waiting costs: the chance of a loss or a stranding before the next visit, beside what a check costs.

From the forecasts of the aircraft and, with enough events in the records, from these. Costs are told in hours only
where the user gave them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from analyzer.aircraft import Aircraft, Fleet
from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.quantity import Quantity
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import fleet_kept, kept_history, tail_reviews, tails
from analyzer.records.store import Store
from analyzer.service.due import due_items
from analyzer.service.due_result import Due, DueKind, ForecastDue
from analyzer.service.flying_rate import day_after, most_hours_a_week
from analyzer.service.follow_tails import check_tails
from analyzer.trends.followed_tail import Projection
from analyzer.trends.risk import EventRecord, chance_of_an_event, events_of, reached_by, together
from analyzer.trends.tail_result import TailResult


@dataclass(frozen=True, slots=True)
class Visit:
    """The next visit to the shop."""

    on: date
    what: DueKind | None  # what is due then; None where somebody named the day


@dataclass(frozen=True, slots=True)
class Coming:
    """A limit that may be reached before the visit."""

    measure: str
    limit: float
    chance: float  # by the visit [1]
    one_in_ten: date | None  # by when the chance is one in ten

    @property
    def unit(self) -> str:
        """Unit of the limit."""
        return MEASURES[self.measure]


@dataclass(frozen=True, slots=True)
class Costs:
    """Hours that waiting may cost beside those of a check; None where the user gave none."""

    check: float | None  # [h]
    stranded: float | None  # [h]
    expected: Quantity | None  # the chance times what being stranded costs [h]


@dataclass(frozen=True, slots=True)
class Waiting:
    """What waiting costs one aircraft, or why that cannot be told."""

    tail: str
    as_of: date
    visit: Visit | None
    hours: float | None  # to be flown until then, at the higher rate [h]
    coming: tuple[Coming, ...]  # the likeliest first
    record: EventRecord  # of all kept aircraft
    aircraft: int
    chance: Quantity | None  # of an event before the visit
    because: str | None  # why no chance of an event
    costs: Costs
    check_by: date | None  # when a check is best done, None where no forecast asks for one
    with_item: Visit | None  # work that is due by then, to do it together with


def waiting_of(
    store: Store,
    tail: str,
    now: datetime,
    visit: date | None = None,
    fleet: Fleet | None = None,
    over: OverTails = one_by_one,
) -> Waiting:
    """Give what waiting for the next visit costs an aircraft.

    Parameters
    ----------
    now : the moment at which is asked, the clock of the logs
    visit : the day of the next visit; the next day on which anything is due where None

    Raises
    ------
    UnknownTailError
        When no flight of it is kept.
    RecordsError
        When the records cannot be read.
    """
    known = fleet_kept(store) if fleet is None else fleet
    kept = tails(store)
    names = [one.tail for one in kept]
    check_tails([tail], names)
    results = tail_reviews(store, names, known, over)
    own, row = next((result, row) for result, row in zip(results, kept, strict=True) if row.tail == tail)
    record = together([events_of(kept_history(store, one.tail, known), one.findings) for one in results])
    due = due_items(store, now, [row], [own], known)
    with store.reading() as connection:
        rate = most_hours_a_week(connection, row, own, now)
    asked = _Asked(own, known.of(tail), now.date(), min(row.last, now) if row.last else None, rate, record, len(kept))
    return _waiting(asked, due, visit)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is known of the aircraft that is asked about."""

    result: TailResult
    aircraft: Aircraft
    today: date
    last_flight: datetime | None
    hours_a_week: float | None
    record: EventRecord
    kept: int

    def day(self, hours: float) -> date | None:
        """The day by which some engine hours are flown from the last flight on."""
        if not self.hours_a_week or self.last_flight is None:
            return None
        return day_after(self.last_flight, hours, self.hours_a_week)

    def hours_by(self, day: date) -> float | None:
        """Engine hours from the last flight to the end of a day [h]."""
        if not self.hours_a_week or self.last_flight is None:
            return None
        return max(0.0, (day - self.last_flight.date()).days) / 7.0 * self.hours_a_week


def _waiting(asked: _Asked, due: Sequence[Due], named: date | None) -> Waiting:
    visit = _next_visit(asked.today, due) if named is None else Visit(named, None)
    hours = None if visit is None else asked.hours_by(visit.on)
    coming = () if hours is None else _coming(asked, hours)
    chance, because = _chance(asked, visit, hours)
    check_by = _check_by(asked)
    return Waiting(
        tail=asked.result.tail,
        as_of=asked.today,
        visit=visit,
        hours=hours,
        coming=coming,
        record=asked.record,
        aircraft=asked.kept,
        chance=chance,
        because=because,
        costs=_costs(asked.aircraft, chance),
        check_by=check_by,
        with_item=None if check_by is None else _on_the_way(due, check_by),
    )


def _next_visit(today: date, due: Sequence[Due]) -> Visit | None:
    """The next day on which work is due that is no forecast; today where some is overdue."""
    days = [Visit(max(one.on, today), one.kind) for one in due if one.on and not isinstance(one, ForecastDue)]
    return min(days, key=lambda one: one.on, default=None)


def _on_the_way(due: Sequence[Due], by: date) -> Visit | None:
    """The last work that is due no later than a day, None where none is."""
    days = [Visit(one.on, one.kind) for one in due if one.on and one.on <= by and not isinstance(one, ForecastDue)]
    return max(days, key=lambda one: one.on, default=None)


def _projections(result: TailResult) -> list[tuple[str, float, Projection]]:
    return [
        (measure, trend.now.limit, trend.now.projection)
        for measure, trend in result.trends.items()
        if trend.now is not None and trend.now.limit is not None and trend.now.projection is not None
    ]


def _coming(asked: _Asked, hours: float) -> tuple[Coming, ...]:
    told = [
        Coming(measure, limit, reached_by(reached, hours), asked.day(max(0.0, reached.one_in_ten)))
        for measure, limit, reached in _projections(asked.result)
    ]
    return tuple(sorted(told, key=lambda one: -one.chance))


def _check_by(asked: _Asked) -> date | None:
    """The day by which the chance that a limit is reached is one in ten; no earlier than today."""
    days = [asked.day(max(0.0, reached.one_in_ten)) for _, _, reached in _projections(asked.result)]
    return max(asked.today, min(known)) if (known := [day for day in days if day is not None]) else None


def _chance(asked: _Asked, visit: Visit | None, hours: float | None) -> tuple[Quantity | None, str | None]:
    """The chance of an event, or why none is told."""
    fewest, shortest = limit_value("waiting_fewest"), limit_value("waiting_shortest")
    record = asked.record
    if visit is None:
        return None, "nothing tells when the next visit is: no work that is due has a day"
    if hours is None:
        return None, "nothing tells how much the aircraft flies"
    if record.events < fewest:
        return None, (
            f"the records hold {record.events} losses and strandings, too few to tell how often they come; "
            f"{fewest:.0f} are needed"
        )
    warned_h = _warned_hours(asked, hours)
    states = (("nothing", record.calm, hours - warned_h), ("something", record.warned, warned_h))
    for words, state, ahead in states:
        if ahead > 0.0 and state.hours < shortest:
            flown = f"only {state.hours:.0f} h of these records were flown while {words} stood open"
            return None, f"{flown}; {shortest:.0f} are needed"
    return chance_of_an_event(record, hours - warned_h, warned_h), None


def _warned_hours(asked: _Asked, hours: float) -> float:
    """How many of the hours ahead are flown with something amiss: all where it stands open, else as foretold [h]."""
    if asked.result.open_findings:
        return hours
    steps = np.linspace(0.0, hours, 101)
    likeliest = [
        max((reached_by(reached, float(at)) for _, _, reached in _projections(asked.result)), default=0.0)
        for at in steps
    ]
    return float(np.trapezoid(likeliest, steps))


def _costs(aircraft: Aircraft, chance: Quantity | None) -> Costs:
    each = aircraft.stranded_hours
    if chance is None or each is None or chance.low is None or chance.high is None:
        return Costs(aircraft.check_hours, each, None)
    return Costs(aircraft.check_hours, each, Quantity(chance.value * each, "h", chance.low * each, chance.high * each))
