"""What waiting costs: the chance of a loss or a stranding before the next visit, beside what a check costs.

From the forecasts of the aircraft and, with enough events in the records, from these. Costs are told in hours only
where the user gave them, and not while anything asks for a check whatever it costs. Overdue work is no visit: nobody
knows when it will be done.
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
from analyzer.records.changing import kept_dispositions, settled_findings
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import fleet_kept, kept_history, tail_reviews, tails
from analyzer.records.store import Store
from analyzer.service.due import due_items
from analyzer.service.due_result import Due, DueKind, ForecastDue
from analyzer.service.flying_rate import day_after, most_hours_a_week
from analyzer.service.follow_tails import check_tails
from analyzer.trends.followed_tail import Projection, Trend
from analyzer.trends.history import FlightFinding
from analyzer.trends.open_findings import NONE_SETTLED, OpenFindings
from analyzer.trends.risk import ONE_IN_TEN, EventRecord, chance_of_an_event, events_of, reached_by, together
from analyzer.trends.tail_result import TailResult


@dataclass(frozen=True, slots=True)
class Visit:
    """The next visit to the shop."""

    on: date
    what: DueKind | None  # what is due then; None where somebody named the day


@dataclass(frozen=True, slots=True)
class Coming:
    """A limit that is passed, or that may be reached."""

    measure: str
    limit: float
    past: bool
    chance: float | None  # by the visit [1]; None where that is not known
    one_in_ten: date | None  # by when the chance is one in ten; None where it is past or no rate of flying is known

    @property
    def unit(self) -> str:
        """Unit of the limit."""
        return MEASURES[self.measure]


@dataclass(frozen=True, slots=True)
class Costs:
    """Hours that waiting may cost beside those of a check; None where the user gave none."""

    check: float | None  # [h]
    stranded: float | None  # [h]
    expected: Quantity | None  # at least: the chance times what being stranded costs [h]


@dataclass(frozen=True, slots=True)
class Waiting:
    """What waiting costs one aircraft, or why that cannot be told."""

    tail: str
    as_of: date
    stands: OpenFindings[FlightFinding]  # to be checked before flight, whatever waiting costs
    overdue: tuple[Visit, ...]  # work of which nobody named the day
    visit: Visit | None
    hours: float | None  # to be flown until then, at the higher rate [h]
    coming: tuple[Coming, ...]  # the likeliest first
    record: EventRecord  # of all kept aircraft
    aircraft: int
    chance: Quantity | None  # of an event before the visit
    because: str | None  # why no chance of an event
    costs: Costs
    urgent: bool  # a finding stands open, or a limit is passed or likelier than one in ten to be reached: no costs
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
    visit : the day of the next visit; the next day after today on which anything is due where None

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
    settled = settled_findings(kept_dispositions(store)).get(tail, NONE_SETTLED)
    last = min(row.last, now) if row.last else None
    asked = _Asked(own, own.stands(settled), known.of(tail), now.date(), last, rate, record, len(kept))
    return _waiting(asked, due, visit)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is known of the aircraft that is asked about."""

    result: TailResult
    stands: OpenFindings[FlightFinding]
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
    work = [Visit(one.on, one.kind) for one in due if one.on and not isinstance(one, ForecastDue)]
    visit = _next_visit(asked.today, work) if named is None else Visit(named, None)
    hours = None if visit is None else asked.hours_by(visit.on)
    coming = _coming(asked, hours)
    chance, because = _chance(asked, visit, hours)
    urgent = bool(asked.stands.every) or any(_urgent(one, asked.today) for one in coming)
    check_by = _check_by(asked.today, coming)
    return Waiting(
        tail=asked.result.tail,
        as_of=asked.today,
        stands=asked.stands,
        overdue=tuple(one for one in work if one.on <= asked.today),
        visit=visit,
        hours=hours,
        coming=coming,
        record=asked.record,
        aircraft=asked.kept,
        chance=chance,
        because=because,
        costs=_costs(asked.aircraft, None if urgent else chance),
        urgent=urgent,
        check_by=check_by,
        with_item=None if check_by is None else _on_the_way(work, check_by),
    )


def _next_visit(today: date, work: Sequence[Visit]) -> Visit | None:
    """The next day ahead on which work is due; None where none is."""
    return min((one for one in work if one.on > today), key=lambda one: one.on, default=None)


def _on_the_way(work: Sequence[Visit], by: date) -> Visit | None:
    """The last work that is due no later than a day, None where none is."""
    return max((one for one in work if one.on <= by), key=lambda one: one.on, default=None)


def _projections(result: TailResult) -> list[Projection]:
    return [trend.projection for trend in result.trends.values() if trend.projection is not None]


def _coming(asked: _Asked, hours: float | None) -> tuple[Coming, ...]:
    """Each limit that is passed or foretold to be reached: those that are passed first, then the likeliest."""
    told = [
        _limit(asked, trend, trend.now.limit, hours)
        for trend in asked.result.trends.values()
        if trend.now is not None and trend.now.limit is not None and (trend.past_limit or trend.projection is not None)
    ]
    return tuple(sorted(told, key=lambda one: (not one.past, -(one.chance or 0.0), one.one_in_ten or date.max)))


def _limit(asked: _Asked, trend: Trend, limit: float, hours: float | None) -> Coming:
    reached = trend.projection
    if trend.past_limit or reached is None:
        return Coming(trend.measure, limit, True, None if hours is None else 1.0, None)
    chance = None if hours is None else reached_by(reached, hours)
    return Coming(trend.measure, limit, False, chance, asked.day(max(0.0, reached.one_in_ten)))


def _urgent(one: Coming, today: date) -> bool:
    """Whether a limit is passed, or likelier than one in ten to be reached by the visit or by today."""
    return one.past or (one.chance or 0.0) > ONE_IN_TEN or (one.one_in_ten is not None and one.one_in_ten <= today)


def _check_by(today: date, coming: Sequence[Coming]) -> date | None:
    """The day by which the chance that a limit is reached is one in ten; today where one is passed, and no earlier."""
    days = [today if one.past else one.one_in_ten for one in coming]
    return max(today, min(known)) if (known := [day for day in days if day is not None]) else None


def _chance(asked: _Asked, visit: Visit | None, hours: float | None) -> tuple[Quantity | None, str | None]:
    """The chance of an event, or why none is told."""
    fewest, shortest = limit_value("waiting_fewest"), limit_value("waiting_shortest")
    record = asked.record
    if visit is None:
        return None, "the next visit has no date"
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
    """How many of the hours ahead are flown with something amiss: all where it is now, else as foretold [h].

    What people have settled counts as well, for it does in the record.
    """
    if asked.result.stands().every or any(trend.past_limit for trend in asked.result.trends.values()):
        return hours
    steps = np.linspace(0.0, hours, 101)
    foretold = _projections(asked.result)
    likeliest = [max((reached_by(one, float(at)) for one in foretold), default=0.0) for at in steps]
    return float(np.trapezoid(likeliest, steps))


def _costs(aircraft: Aircraft, chance: Quantity | None) -> Costs:
    each = aircraft.stranded_hours
    if chance is None or each is None or chance.low is None or chance.high is None:
        return Costs(aircraft.check_hours, each, None)
    return Costs(aircraft.check_hours, each, Quantity(chance.value * each, "h", chance.low * each, chance.high * each))
