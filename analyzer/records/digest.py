"""What a maintenance tracker reads on Monday: what is new, worse, fixed and near in the whole fleet since a date.

What is compared: everything is dated by the flight, in the clock of the logs. Findings over many flights carry the
flight at which they were raised or lapsed, from what was known that day, so that new and lapsed ones are read off
the reviews that are kept. Findings of single flights are those of flights begun since; one that the latest flights
before the date had too is not new, but worse if it is more severe. Only for aircraft that have flown or been worked
on since, and in which something older stands open or a limit nears, is the review as of the date worked out anew;
for all others nothing can be worse. So the work grows with what is wrong in the fleet (a tenth of a second or two for
an aircraft of two thousand flights), not with its size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

from sqlalchemy import Connection

from analyzer.aircraft import Fleet
from analyzer.findings.finding import Severity
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
    without_clock,
)
from analyzer.records.kept import KeptTail, fleet_kept, kept_history, kept_logs, tail_reviews, tails
from analyzer.records.refusals import kept_refusals
from analyzer.records.reviewing import OverTails, one_by_one
from analyzer.records.store import Store
from analyzer.records.verdicts import Disposed
from analyzer.trends import since as changes
from analyzer.trends.open_findings import key_moment

CONTRACT = 1
#: The digest looks back this far when no date is named [d].
USUAL_DAYS = 7


@dataclass(frozen=True, slots=True)
class _Tail:
    """One aircraft's part in the digest."""

    kept: KeptTail
    review: Mapping[str, Any]
    hours_a_week: float | None  # at which it flies, None when it does not


def usual_since(now: datetime) -> datetime:
    """The date from which the digest tells when none is named: a week ago, from midnight on."""
    return (now - timedelta(days=USUAL_DAYS)).replace(hour=0, minute=0, second=0, microsecond=0)


def digest(
    store: Store, since: datetime, now: datetime, fleet: Fleet | None = None, over: OverTails = one_by_one
) -> dict[str, Any]:
    """Give the digest as one document.

    Parameters
    ----------
    since : from this moment on, the clock of the logs
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
    window = Window(since.isoformat(), now.isoformat(), _utc(since), _utc(now))
    reviewed = _reviewed(store, now, known, over)
    with store.reading() as connection:
        own = [_Tail(tail, review, _hours_a_week(connection, tail, now)) for tail, review in reviewed]
        seen = found_since(connection, window)
        helped_then = partial(_helped_then, store=store, since=since)
        helped = _helped(connection, own, window, lambda names: list(over(helped_then, names, known)))
        counted = {
            **flown(connection, window),
            "added_late": added_late(connection, window),
        }
        logs = {
            "without_clock": without_clock(connection, window),
            "dated_later": dated_later(connection, window),
        }
    disposed = [one for one in kept_dispositions(store) if one.made_at <= window.until_utc]
    past = _past(store, {tail.kept.tail: tail.review for tail in own if _may_be_worse(tail, since)}, since, known, over)
    return {
        "contract": CONTRACT,
        "since": since.isoformat(),
        "as_of": now.isoformat(timespec="seconds"),
        "tails": len(own),
        **counted,
        "new": changes.by_need(_new(own, seen, disposed, since)),
        "worse": _worse(own, past, seen),
        "fixed": _fixed(own, disposed, helped, window),
        "soon": _soon(own),
        "still_open": changes.by_need(_still_open(own, since)),
        "not_flown": _not_flown(own, since, now),
        "logs": {**_logs(store, window), **logs},
    }


def _past(
    store: Store, reviews: Mapping[str, Mapping[str, Any]], since: datetime, fleet: Fleet, over: OverTails
) -> dict[str, Mapping[str, Any]]:
    """Reviews of some aircraft as of a moment, by tail, of the measures that their present reviews tell of."""
    telling = {tail: changes.telling(review, since) for tail, review in reviews.items()}
    work = partial(_as_of, store=store, since=since, telling=telling)
    return dict(zip(reviews, over(work, list(reviews), fleet), strict=True))


def _as_of(tail: str, fleet: Fleet, store: Store, since: datetime, telling: Mapping[str, Set[str]]) -> dict[str, Any]:
    return changes.as_of(kept_history(store, tail, fleet), since, telling[tail])


def _then(tail: str, fleet: Fleet, store: Store, now: datetime) -> dict[str, Any]:
    """An aircraft as of the digest's own moment: its review, and what of it was kept."""
    history = kept_history(store, tail, fleet).until(now)
    starts = [start.isoformat() for start in history.begun]
    kept = KeptTail(tail, len(starts), history.hours, *((starts[0], starts[-1]) if starts else (None, None)))
    return {"kept": kept, "review": changes.known_at(history, now)}


def _reviewed(store: Store, now: datetime, fleet: Fleet, over: OverTails) -> list[tuple[KeptTail, Mapping[str, Any]]]:
    """Each aircraft that had flown by then, with its review: the one that is kept, or as of then if it flew later."""
    moment, kept = now.isoformat(), tails(store)
    present = [tail for tail in kept if (tail.last or "") <= moment]
    found = dict(zip(present, tail_reviews(store, [tail.tail for tail in present], fleet, over), strict=True))
    later = [
        tail
        for tail in kept
        if (tail.first or "") <= moment
        and (tail not in found or any(entry["when"] > moment for entry in found[tail]["entries"]))
    ]
    for tail in later:
        found.pop(tail, None)
    for then in over(partial(_then, store=store, now=now), [tail.tail for tail in later], fleet):
        found[then["kept"]] = then["review"]
    return sorted(found.items(), key=lambda pair: pair[0].tail)


def _utc(moment: datetime) -> str:
    """A moment of the logs' clock, taken as this machine's, as the records write when something was done."""
    try:
        return moment.astimezone(UTC).isoformat(timespec="seconds")
    except (ValueError, OverflowError):  # at the calendar's ends, where a zone's hours tell nothing
        return moment.isoformat(timespec="seconds")


def _hours_a_week(connection: Connection, tail: KeptTail, now: datetime) -> float | None:
    """Engine hours a week of the latest ``digest_rate_window``, or of the time since its first flight if shorter."""
    if tail.first is None:
        return None
    days = min(limit_value("digest_rate_window"), (now - datetime.fromisoformat(tail.first)) / timedelta(days=1))
    begins = now - timedelta(days=max(days, 7.0))
    hours = sum(row.hours for row in flown_between(connection, begins.isoformat(), now.isoformat(), tail.tail))
    return float(hours) / max(days, 7.0) * 7.0 if hours else None


def _may_be_worse(tail: _Tail, since: datetime) -> bool:
    moment = since.isoformat()
    touched = (tail.kept.last or "") >= moment or any(entry["when"] >= moment for entry in tail.review["entries"])
    return touched and changes.may_be_worse(tail.review, since)


def _about(finding: Mapping[str, Any], tail: str) -> dict[str, Any]:
    """What the digest says of a finding over many flights."""
    keys = ("finding", "severity", "raised_at", "raised_flight", "raised_again", "lapsed_at", "says", "likely", "check")
    return {"tail": tail, "over": "many flights"} | {key: finding[key] for key in keys}


def _new(
    own: Sequence[_Tail], seen: Sequence[FlightsFound], disposed: Sequence[Disposition], since: datetime
) -> list[dict[str, Any]]:
    """Findings over many flights raised since, and findings of flights since that the flights before had not."""
    by_name = {(found.tail, found.finding): found for found in seen}
    items, told = [], set()
    for tail in own:
        for finding in changes.raised(tail.review, since):
            found = by_name.get((tail.kept.tail, finding["finding"]))
            told.add((tail.kept.tail, finding["finding"]))
            items.append(_about(finding, tail.kept.tail) | {"flights": list(found.flights) if found else []})
        told |= {(tail.kept.tail, finding["finding"]) for finding in changes.standing(tail.review, since)}
    items += [found.document() for found in seen if found.before is None and (found.tail, found.finding) not in told]
    return [item | {"disposition": _latest(disposed, item)} for item in items]


def _latest(disposed: Sequence[Disposition], item: Mapping[str, Any]) -> dict[str, Any] | None:
    """The latest thing that a person said of a finding."""
    moments = {key_moment(item) if "raised_flight" in item else None, *(flight["start"] for flight in item["flights"])}
    own = [d for d in disposed if (d.tail, d.finding) == (item["tail"], item["finding"]) and d.at in moments]
    return {"verdict": own[-1].verdict, "who": own[-1].who, "words": own[-1].words} if own else None


def _worse(
    own: Sequence[_Tail], past: Mapping[str, Mapping[str, Any]], seen: Sequence[FlightsFound]
) -> list[dict[str, Any]]:
    """Findings more severe than they were, then trends steeper or nearer their limit."""
    findings_worse = [
        _about(finding, tail.kept.tail) | {"severity_then": finding["severity_then"]}
        for tail in own
        if tail.kept.tail in past
        for finding in changes.risen(tail.review, past[tail.kept.tail])
    ]
    told = {(item["tail"], item["finding"]) for item in findings_worse}
    findings_worse += [
        found.document() | {"severity_then": found.before}
        for found in seen
        if found.before is not None
        and Severity(found.severity).rank > Severity(found.before).rank
        and (found.tail, found.finding) not in told
    ]
    trends = [
        {"tail": tail.kept.tail} | trend
        for tail in own
        if tail.kept.tail in past
        for trend in changes.worse_trends(tail.review, past[tail.kept.tail])
    ]
    trends.sort(key=lambda one: (changes.WAYS.index(one["way"]), one["tail"]))
    return [{"what": "finding"} | item for item in changes.by_need(findings_worse)] + [
        {"what": "trend"} | item for item in trends
    ]


def _fixed(
    own: Sequence[_Tail], disposed: Iterable[Disposition], helped: list[dict[str, Any]], window: Window
) -> list[dict[str, Any]]:
    """Findings that lapsed, findings that a person called fixed, and entries that helped; in order of time."""
    items = [
        {"how": "lapsed", "at": finding["lapsed_at"]} | _about(finding, tail.kept.tail)
        for tail in own
        for finding in changes.lapsed(tail.review, datetime.fromisoformat(window.since))
    ]
    latest = {(one.tail, one.finding, one.at): one for one in disposed}  # what a person said last counts
    items += [
        {"how": "called fixed", "at": done.made_at, "tail": done.tail, "finding": done.finding, "raised_at": done.at,
         "who": done.who, "words": done.words}
        for done in latest.values()
        if done.verdict is Disposed.FIXED and done.made_at >= window.since_utc
    ]  # fmt: skip
    return sorted([*items, *helped], key=lambda one: (str(one["at"])[:10], one["tail"]))


def _still_open(own: Sequence[_Tail], since: datetime) -> list[dict[str, Any]]:
    """Findings that stand open from before, and those for which work was done that is not known to have helped."""
    return [
        _about(finding, tail.kept.tail) | {"work": finding.get("work")}
        for tail in own
        for finding in [*changes.standing(tail.review, since), *changes.worked_on(tail.review, since)]
    ]


def _helped(
    connection: Connection,
    own: Sequence[_Tail],
    window: Window,
    then: Callable[[list[str]], list[dict[str, list[str]]]],
) -> list[dict[str, Any]]:
    """Entries that helped, as was not known yet at the date.

    ``then`` gives the entries of some aircraft that were known to have helped by then; few need be asked, for what
    the flights of an entry say is settled after some times ``trend_recent``, and untold with fewer than
    ``trend_fewest_step``.
    """
    found = [(tail, entry) for tail in own for entry in tail.review["entries"] if entry["verdict"] == "helped"]
    flown = [_flown_until(connection, entry["when"], tail.kept.tail, window) for tail, entry in found]
    fewest, most = limit_value("trend_fewest_step"), 4 * limit_value("trend_recent")
    doubtful = list(
        dict.fromkeys(tail.kept.tail for (tail, _), n in zip(found, flown, strict=True) if fewest <= n < most)
    )
    known = dict(zip(doubtful, then(doubtful), strict=True))
    return [
        {"how": "entry helped", "at": entry["when"], "tail": tail.kept.tail, "kind": entry["kind"],
         "words": entry["words"], "findings": entry["findings"],
         "measures": [measure for measure in entry["measures"] if measure["verdict"] == "helped"]}
        for (tail, entry), flights_then in zip(found, flown, strict=True)
        if flights_then < most and entry["kind"] not in known.get(tail.kept.tail, {}).get(entry["when"], ())
    ]  # fmt: skip


def _flown_until(connection: Connection, when: str, tail: str, window: Window) -> int:
    """Flights from an entry on that had begun before the digest's window."""
    between = flown_between(connection, when, window.since, tail) if when < window.since else []
    return sum(row.starts < window.since for row in between)


def _helped_then(tail: str, fleet: Fleet, store: Store, since: datetime) -> dict[str, list[str]]:
    return changes.helped_then(kept_history(store, tail, fleet), since)


def _soon(own: Sequence[_Tail]) -> list[dict[str, Any]]:
    """Limits that may be reached soon, the nearest first."""
    items = [
        {"tail": tail.kept.tail, "hours_a_week": None if tail.hours_a_week is None else round(tail.hours_a_week, 2)}
        | limit
        for tail in own
        for limit in changes.coming_limits(tail.review, tail.hours_a_week)
    ]
    return sorted(items, key=lambda one: (float(one["earliest_h"]), one["tail"]))


def _not_flown(own: Sequence[_Tail], since: datetime, now: datetime) -> list[dict[str, Any]]:
    """Aircraft without a flight since, the longest idle first."""
    idle = [tail.kept for tail in own if (tail.kept.last or "") < since.isoformat()]
    return [
        {"tail": kept.tail, "last_flight": kept.last,
         "days": None if kept.last is None else (now - datetime.fromisoformat(kept.last)).days}
        for kept in sorted(idle, key=lambda one: (one.last or "", one.tail))
    ]  # fmt: skip


def _logs(store: Store, window: Window) -> dict[str, Any]:
    """Logs that name no aircraft, and logs refused since that have not been read meanwhile."""
    nameless = [log for log in kept_logs(store, without_tail=True) if log.added_at <= window.until_utc]
    refused = [one for one in kept_refusals(store, window.since_utc) if one.at <= window.until_utc]
    read = {log.source for log in kept_logs(store)} if refused else set()
    return {
        "without_tail": [
            {"id": log.id, "source": log.source, "start": log.start, "added_at": log.added_at} for log in nameless
        ],
        "refused": [
            {"source": one.source, "because": one.because, "at": one.at} for one in refused if one.source not in read
        ],
    }
