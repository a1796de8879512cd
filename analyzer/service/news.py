"""What is worth a message: findings of caution or warning that stand open, and what is due now or soon.

Each has a key, by which it is told once. A finding of single flights is told once for each time that it comes up: a
flight without it long enough for it to lapse, work that is done to end it, or a person's word that settles it, ends
one such time. What grows graver is told again; what grows milder is not.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from analyzer.aircraft import Fleet
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.records.changing import kept_dispositions, settled_findings
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import fleet_kept, kept_history, tail_reviews, tails
from analyzer.records.latest import latest_flights, open_of_latest
from analyzer.records.store import Store
from analyzer.service.due import due_items
from analyzer.service.due_result import Due, DueState, ForecastDue
from analyzer.trends.entries import kinds
from analyzer.trends.history import History
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import NONE_SETTLED, OfFlight, flights_that_count

#: A limit that is passed, beyond one that may be reached now.
PAST = "past"
#: States of what is due, the nearest last.
NEARER = (str(DueState.SOON), str(DueState.OVERDUE), PAST)


@dataclass(frozen=True, slots=True)
class InFlights:
    """A finding of single flights, as one time that it came up."""

    worst: Finding  # of the latest flight with the worst severity, among those that still count
    flights: int  # with it, since it came up
    first: datetime | None  # start of the first and of the last of them, None without a clock
    last: datetime | None


@dataclass(frozen=True, slots=True)
class News:
    """One thing that is worth a message."""

    tail: str
    key: str
    about: TrendFinding | InFlights | Due
    covered_by: tuple[str, ...] = ()  # keys of which each says as much, when it was told

    @property
    def severity(self) -> Severity | None:
        """How grave a finding is; None for what is due."""
        if isinstance(self.about, TrendFinding):
            return self.about.severity
        return self.about.worst.severity if isinstance(self.about, InFlights) else None


def gather_news(
    store: Store, now: datetime, fleet: Fleet | None = None, over: OverTails = one_by_one
) -> tuple[News, ...]:
    """Give all that is worth a message at a moment, whether it was told or not; the gravest first.

    Parameters
    ----------
    now : the moment, the clock of the logs
    fleet : what is known of each aircraft; the fleet file kept with the records when None
    over : works tails out, perhaps on several processors

    Raises
    ------
    RecordsError
        When the records cannot be read.
    """
    known = fleet_kept(store) if fleet is None else fleet
    kept = tails(store)
    names = [one.tail for one in kept]
    results = tail_reviews(store, names, known, over)
    settled = settled_findings(kept_dispositions(store))
    latest = latest_flights(store, names, flights_that_count())
    found: list[News] = []
    for result in results:
        own = settled.get(result.tail, NONE_SETTLED)
        stands = open_of_latest(result, latest[result.tail], own)
        over_many = [one for one in stands.over_many if _grave(one.severity)]
        found += [_of_trend(result.tail, one) for one in over_many]
        told = {one.name: one.severity.rank for one in over_many}
        flights = [one for one in stands.of_flights if _grave(one.finding.severity)]
        alone = [one for one in flights if one.finding.severity.rank > told.get(one.finding.name, -1)]
        if alone:
            found += _of_flights(kept_history(store, result.tail, known), alone, own)
    moved = {(one.tail, one.about.measure) for one in found if isinstance(one.about, TrendFinding)}
    due = [one for one in due_items(store, now, kept, results, known) if not _said_by_a_finding(one, moved)]
    found += [news for one in due if (news := _of_due(one)) is not None]
    return tuple(sorted(found, key=lambda one: (-(one.severity.rank if one.severity else 0), one.tail, one.key)))


def _grave(severity: Severity) -> bool:
    return severity.rank >= Severity.CAUTION.rank


def _keyed(*parts: object) -> str:
    return "|".join(str(part) for part in parts)


def _with_severity(about: str, severity: Severity) -> tuple[str, tuple[str, ...]]:
    """A finding's key, and the keys under which a graver one was told."""
    graver = tuple(_keyed(about, one) for one in Severity if one.rank > severity.rank)
    return _keyed(about, severity), graver


def _of_trend(tail: str, finding: TrendFinding) -> News:
    key, graver = _with_severity(_keyed(tail, finding.name, "over many flights", finding.key), finding.severity)
    return News(tail, key, finding, graver)


def _of_flights(
    history: History, stands: Sequence[OfFlight[Finding]], settled: Container[tuple[str, str]]
) -> Iterator[News]:
    """One for each kind of finding, the latest flight's first in ``stands``."""
    for name in dict.fromkeys(one.finding.name for one in stands):
        own = [one for one in stands if one.finding.name == name]
        worst = max(own, key=lambda one: one.finding.severity.rank)
        places = _time_that_it_came_up(history, name, own[0].flight, settled)
        first, last = history.flights[places[0]], history.flights[places[-1]]
        came_up = first.start.isoformat() if first.start else f"flight {places[0] + 1}"
        key, graver = _with_severity(_keyed(history.tail, name, "in flights", came_up), worst.finding.severity)
        yield News(history.tail, key, InFlights(worst.finding, len(places), first.start, last.start), graver)


def _time_that_it_came_up(
    history: History, name: FindingName, last: int, settled: Container[tuple[str, str]]
) -> list[int]:
    """Places of the flights that show it, back from the last one to where it came up."""
    work = [entry.when for entry in history.entries if name in kinds()[entry.kind].ends]
    places = [last]
    for place in range(last - 1, -1, -1):
        flight, after = history.flights[place], history.flights[places[-1]]
        if places[-1] - place > flights_that_count():
            break
        if flight.start and after.start and any(flight.start <= when <= after.start for when in work):
            break
        if flight.start and (name, flight.start.isoformat()) in settled:
            break
        if any(one.name == name and _grave(one.severity) for one in flight.findings):
            places.append(place)
    return places[::-1]


def _said_by_a_finding(one: Due, moved: Container[tuple[str, str | None]]) -> bool:
    """Whether a finding that is told says of a limit already that its measure moved, and it is passed."""
    return isinstance(one, ForecastDue) and one.coming.reached.past and (one.tail, one.coming.measure) in moved


def _of_due(one: Due) -> News | None:
    """What is due now or soon; None for what is not, and for a limit that no day can be told of."""
    if one.state not in (DueState.OVERDUE, DueState.SOON) or (one.state is DueState.SOON and one.on is None):
        return None
    if isinstance(one, ForecastDue):
        about = _keyed(one.tail, one.kind, one.coming.measure, one.reset or "")
        state = PAST if one.coming.reached.past else str(one.state)
    else:
        about = _keyed(one.tail, one.kind, one.since.day if one.since else "")
        state = str(one.state)
    graver = tuple(_keyed(about, other) for other in NEARER[NEARER.index(state) + 1 :])
    return News(one.tail, _keyed(about, state), one, graver)
