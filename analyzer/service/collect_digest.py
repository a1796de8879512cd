"""What a maintenance tracker reads on Monday: what is new, worse, fixed and near in the whole fleet since a date.

What is compared: everything is dated by the flight, in the clock of the logs. Findings over many flights carry the
flight at which they were raised or lapsed, from what was known that day, so that new and lapsed ones are read off
the reviews that are kept. Findings of single flights are those of flights begun since; one that the latest flights
before the date had too is not new, but worse if it is more severe. Only for aircraft that have flown or been worked
on since, and in which something older stands open or a limit nears, is the review as of the date worked out anew;
for all others nothing can be worse. So the work grows with what is wrong in the fleet, not with its size; that of the
usual days is kept until there are new flights.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

from sqlalchemy import Connection

from analyzer.aircraft import Fleet
from analyzer.limits import limit_value
from analyzer.records.changing import Disposition, kept_dispositions
from analyzer.records.copies import flown_between
from analyzer.records.digest_flights import (
    FlightsFound,
    Window,
    added_late,
    dated_later,
    flown,
    found_since,
    newest_start,
    without_clock,
)
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import KeptTail, fleet_kept, kept_history, kept_logs, known_then, tail_reviews, tails
from analyzer.records.refusals import kept_refusals
from analyzer.records.store import Store
from analyzer.records.verdicts import Disposed
from analyzer.service.digest_result import (
    AboutFinding,
    CalledFixed,
    Digest,
    Helped,
    Lapsed,
    LogsToLookAt,
    NewFinding,
    NotFlown,
    OpenFinding,
    Soon,
    WorseFinding,
    WorseTrendOf,
)
from analyzer.service.flying_rate import hours_a_week
from analyzer.service.periods import usual_since
from analyzer.trends import since as changes
from analyzer.trends.comparison import Comparison, WorkVerdict
from analyzer.trends.judging import TrendFinding
from analyzer.trends.tail_result import TailResult


@dataclass(frozen=True, slots=True)
class _Tail:
    """One aircraft's part in the digest."""

    kept: KeptTail
    result: TailResult
    hours_a_week: float | None  # at which it flies, None when it does not

    @property
    def tail(self) -> str:
        return self.kept.tail


def collect_digest(
    store: Store, since: datetime | None, now: datetime, fleet: Fleet | None = None, over: OverTails = one_by_one
) -> Digest:
    """Give the digest.

    Parameters
    ----------
    since : from this moment on, the clock of the logs; the usual days before the last flight by then when None
    now : the moment of the digest. What was flown, done or said after it is left out, so that a past one can be
        written again as it was; that takes longer, since every aircraft flown since is worked out as of then.
    fleet : the fleet file; the one kept with the records when None
    over : works tails out, perhaps on several processors

    Raises
    ------
    RecordsError
        When the records cannot be read.
    """
    known = fleet_kept(store) if fleet is None else fleet
    with store.reading() as connection:
        newest = newest_start(connection, now)
    usual = usual_since(newest, now)
    since = usual if since is None else since
    window = Window(since, now, _utc(since), _utc(now))
    reviewed = _reviewed(store, now, known, over)
    with store.reading() as connection:
        own = [_Tail(tail, result, hours_a_week(connection, tail, now)) for tail, result in reviewed]
        seen = found_since(connection, window)
        helped_then = partial(_helped_then, store=store, since=since)
        helped = _helped(connection, own, window, lambda names: list(over(helped_then, names, known)))
        flights, hours = flown(connection, window)
        late = added_late(connection, window)
        undated, ahead = without_clock(connection, window), dated_later(connection, window)
    disposed = [one for one in kept_dispositions(store) if one.made_at <= window.until_utc]
    doubtful = {tail.tail: tail.result for tail in own if _may_be_worse(tail, since)}
    past = known_then(store, doubtful, since, known, over, keep=since == usual)
    return Digest(
        since=since,
        as_of=now.replace(microsecond=0),
        tails=len(own),
        flights=flights,
        hours=hours,
        added_late=late,
        new=tuple(sorted(_new(own, seen, disposed, since), key=_need)),
        worse=(*sorted(_worse_findings(own, past, seen), key=_need), *_worse_trends(own, past)),
        fixed=_fixed(own, disposed, helped, window),
        soon=_soon(own),
        still_open=tuple(sorted(_still_open(own, since), key=_need)),
        not_flown=_not_flown(own, since, now),
        logs=_logs(store, window, undated, ahead),
        newest=newest,
    )


def _need(one: AboutFinding) -> tuple[int, str, str]:
    """Key that puts the worst first, then by tail."""
    return -one.severity.rank, one.tail or "", one.name


def _then(tail: str, fleet: Fleet, store: Store, now: datetime) -> tuple[KeptTail, TailResult]:
    """An aircraft as of the digest's own moment: what of it was kept, and its result."""
    history = kept_history(store, tail, fleet).until(now)
    starts = history.begun
    kept = KeptTail(tail, len(starts), history.hours, *((starts[0], starts[-1]) if starts else (None, None)))
    return kept, changes.known_at(history, now)


def _reviewed(store: Store, now: datetime, fleet: Fleet, over: OverTails) -> list[tuple[KeptTail, TailResult]]:
    """Each aircraft that had flown by then, with its result: the one that is kept, or as of then if it flew later."""
    kept = tails(store)
    present = [tail for tail in kept if tail.last is None or tail.last <= now]
    found = dict(zip(present, tail_reviews(store, [tail.tail for tail in present], fleet, over), strict=True))
    later = [
        tail
        for tail in kept
        if (tail.first is None or tail.first <= now)
        and (tail not in found or any(one.entry.when > now for one in found[tail].comparisons))
    ]
    for tail in later:
        found.pop(tail, None)
    found |= dict(over(partial(_then, store=store, now=now), [tail.tail for tail in later], fleet))
    return sorted(found.items(), key=lambda pair: pair[0].tail)


def _utc(moment: datetime) -> str:
    """A moment of the logs' clock, taken as this machine's, as the records write when something was done."""
    try:
        return moment.astimezone(UTC).isoformat(timespec="seconds")
    except (ValueError, OverflowError):  # at the calendar's ends, where a zone's hours tell nothing
        return moment.isoformat(timespec="seconds")


def _may_be_worse(tail: _Tail, since: datetime) -> bool:
    flown_since = tail.kept.last is not None and tail.kept.last >= since
    touched = flown_since or any(one.entry.when >= since for one in tail.result.comparisons)
    return touched and changes.may_be_worse(tail.result, since)


def _new(
    own: Sequence[_Tail], seen: Sequence[FlightsFound], disposed: Sequence[Disposition], since: datetime
) -> list[NewFinding]:
    """Findings over many flights raised since, and findings of flights since that the flights before had not."""
    by_name = {(found.tail, found.name): found for found in seen}
    items, told = [], set()
    for tail in own:
        for finding in changes.raised(tail.result, since):
            found = by_name.get((tail.tail, finding.name))
            told.add((tail.tail, finding.name))
            items.append(NewFinding(tail.tail, finding, found, _latest(disposed, tail.tail, finding, found)))
        told |= {(tail.tail, finding.name) for finding in changes.still_open(tail.result, since)}
    return items + [
        NewFinding(found.tail, found, found, _latest(disposed, found.tail, None, found))
        for found in seen
        if found.before is None and (found.tail, found.name) not in told
    ]


def _latest(
    disposed: Sequence[Disposition], tail: str | None, finding: TrendFinding | None, found: FlightsFound | None
) -> Disposition | None:
    """The latest thing that a person said of a finding."""
    keys = {flight.start.isoformat() for flight in found.flights} if found else set()
    keys |= {finding.key} if finding else set()
    names = {one.name for one in (finding, found) if one is not None}
    own = [said for said in disposed if said.tail == tail and said.finding in names and said.at in keys]
    return own[-1] if own else None


def _worse_findings(
    own: Sequence[_Tail], past: Mapping[str, changes.Then], seen: Sequence[FlightsFound]
) -> list[WorseFinding]:
    """Findings more severe than they were."""
    worse = [
        WorseFinding(tail.tail, one.finding, one.severity_then)
        for tail in own
        if tail.tail in past
        for one in changes.risen(tail.result.findings, past[tail.tail].findings)
    ]
    told = {(item.tail, item.name) for item in worse}
    return worse + [
        WorseFinding(found.tail, found, found.before)
        for found in seen
        if found.before is not None and found.severity.rank > found.before.rank and (found.tail, found.name) not in told
    ]


def _worse_trends(own: Sequence[_Tail], past: Mapping[str, changes.Then]) -> list[WorseTrendOf]:
    """Trends steeper or nearer their limit, the worst way first."""
    trends = [
        WorseTrendOf(tail.tail, trend)
        for tail in own
        if tail.tail in past
        for trend in changes.worse_trends(tail.result.trends, past[tail.tail].trends)
    ]
    return sorted(trends, key=lambda one: (one.trend.way.place, one.tail))


def _fixed(
    own: Sequence[_Tail], disposed: Iterable[Disposition], helped: Sequence[Helped], window: Window
) -> tuple[Lapsed | CalledFixed | Helped, ...]:
    """Findings that lapsed, findings that a person called fixed, and entries that helped; in order of time."""
    lapsed = [
        Lapsed(tail.tail, finding, finding.lapsed_at)
        for tail in own
        for finding in changes.lapsed(tail.result, window.since)
        if finding.lapsed_at is not None
    ]
    latest = {(one.tail, one.finding, one.at): one for one in disposed}  # what a person said last counts
    called = [
        CalledFixed(said)
        for said in latest.values()
        if said.verdict is Disposed.FIXED and said.made_at >= window.since_utc
    ]
    items: list[Lapsed | CalledFixed | Helped] = [*lapsed, *called, *helped]
    return tuple(sorted(items, key=lambda one: (one.day, one.tail)))


def _still_open(own: Sequence[_Tail], since: datetime) -> list[OpenFinding]:
    """Findings that stand open from before, and those for which work was done that is not known to have helped."""
    return [
        *(OpenFinding(tail.tail, finding, None) for tail in own for finding in changes.still_open(tail.result, since)),
        *(
            OpenFinding(tail.tail, finding, changes.work_of(tail.result, finding))
            for tail in own
            for finding in changes.worked_on(tail.result, since)
        ),
    ]


def _helped(
    connection: Connection,
    own: Sequence[_Tail],
    window: Window,
    then: Callable[[list[str]], list[dict[datetime, list[str]]]],
) -> list[Helped]:
    """Entries that helped, as was not known yet at the date.

    ``then`` gives the entries of some aircraft that were known to have helped by then; few need be asked, for what
    the flights of an entry say is settled after some times ``trend_recent``, and untold with fewer than
    ``trend_fewest_step``.
    """
    found = [(tail.tail, one) for tail in own for one in tail.result.comparisons if one.verdict is WorkVerdict.HELPED]
    flown = [_flown_until(connection, one.entry.when, tail, window) for tail, one in found]
    fewest, most = limit_value("trend_fewest_step"), 4 * limit_value("trend_recent")
    doubtful = list(dict.fromkeys(tail for (tail, _), n in zip(found, flown, strict=True) if fewest <= n < most))
    known = dict(zip(doubtful, then(doubtful), strict=True))

    def was_known(tail: str, one: Comparison) -> bool:
        return one.entry.kind in known.get(tail, {}).get(one.entry.when, ())

    return [
        Helped(tail, one)
        for (tail, one), flights_then in zip(found, flown, strict=True)
        if flights_then < most and not was_known(tail, one)
    ]


def _flown_until(connection: Connection, when: datetime, tail: str, window: Window) -> int:
    """Flights from an entry on that had begun before the digest's window."""
    between = flown_between(connection, when, window.since, tail) if when < window.since else []
    return sum(row.starts < window.since.isoformat() for row in between)


def _helped_then(tail: str, fleet: Fleet, store: Store, since: datetime) -> dict[datetime, list[str]]:
    return changes.helped_then(kept_history(store, tail, fleet), since)


def _soon(own: Sequence[_Tail]) -> tuple[Soon, ...]:
    """Limits that may be reached soon, the nearest first."""
    items = [
        Soon(tail.tail, tail.hours_a_week, coming)
        for tail in own
        for coming in changes.coming_limits(tail.result.trends, tail.hours_a_week)
    ]
    return tuple(sorted(items, key=lambda one: (one.coming.limit.reached.earliest, one.tail)))


def _not_flown(own: Sequence[_Tail], since: datetime, now: datetime) -> tuple[NotFlown, ...]:
    """Aircraft without a flight since, the longest idle first."""
    idle = [tail.kept for tail in own if tail.kept.last is None or tail.kept.last < since]
    idle.sort(key=lambda one: (one.last or datetime.min, one.tail))
    return tuple(NotFlown(one.tail, one.last, None if one.last is None else (now - one.last).days) for one in idle)


def _logs(store: Store, window: Window, undated: int, ahead: int) -> LogsToLookAt:
    """Logs that name no aircraft, and logs refused since that have not been read meanwhile."""
    nameless = (log for log in kept_logs(store, without_tail=True) if log.added_at <= window.until_utc)
    refused = [one for one in kept_refusals(store, window.since_utc) if one.at <= window.until_utc]
    read = {log.source for log in kept_logs(store)} if refused else set()
    return LogsToLookAt(tuple(nameless), tuple(one for one in refused if one.source not in read), undated, ahead)
