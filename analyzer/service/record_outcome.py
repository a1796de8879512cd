"""What became of a finding, said by a person: the finding is looked for by the moment that they name."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import datetime

from analyzer.phrases import not_found
from analyzer.records.changing import dispose
from analyzer.records.kept import flight_findings, tail_flights, tail_review
from analyzer.records.latest import tail_names
from analyzer.records.store import Store
from analyzer.records.verdicts import Disposed
from analyzer.trends.entries import moment

#: Moments that are named where another was asked for.
LATEST_NAMED = 5


class OutcomeError(Exception):
    """The outcome belongs to nothing that was found; the text says what is near."""


def known_tail(store: Store, tail: str) -> None:
    """See that flights of an aircraft are kept.

    Raises
    ------
    OutcomeError
        When none is, naming the nearest that there is.
    """
    known = tail_names(store)
    if tail.upper() not in known:
        raise OutcomeError(not_found([tail.upper()], known))


@dataclass(frozen=True, slots=True)
class _Seen:
    """When a finding was seen: by its key, to the end of its flight."""

    key: str  # start of its flight or when it was raised, by which an outcome is found again
    until: str


def record_outcome(
    store: Store,
    tail: str,
    finding: str,
    at: str,
    verdict: Disposed,
    who: str,
    words: str = "",
    entry: int | None = None,
) -> str:
    """Record what became of a finding; gives the moment that it stands under.

    Parameters
    ----------
    store : open for writing
    at : when it was raised, any moment of its flight, or "flight 4" where flights have no clock
    entry : number of the maintenance entry that fixed it

    Raises
    ------
    OutcomeError
        When the tail has no such finding, or not at that moment.
    EntriesError
        When the moment is none.
    RecordsError
        When who asks may not, or the records cannot be written.
    """
    found = _all_seen(store, tail)
    if finding not in found:
        raise OutcomeError(_unknown(finding, tail.upper(), list(found)))
    named = at in {one.key for one in found[finding]}  # a flight without a clock, by its number
    key = _key_at(at if named else moment(at, datetime.now()).isoformat(), found[finding])
    if key is None:
        latest = ", ".join(sorted({one.key for one in found[finding]}, reverse=True)[:LATEST_NAMED])
        raise OutcomeError(f"{finding} was not found at {at}; it was at: {latest}")
    dispose(store, tail, finding, key, verdict, who, words, entry)
    return key


def _all_seen(store: Store, tail: str) -> dict[str, list[_Seen]]:
    found: dict[str, list[_Seen]] = {}
    for raised in tail_review(store, tail.upper()).findings:
        found.setdefault(raised.name, []).append(_Seen(raised.key, raised.key))
    flown = {flight.id: (flight.start, flight.end) for flight in tail_flights(store, tail)}
    for one in flight_findings(store, tail):
        start, end = flown[one.flight_id]
        if start is not None:
            found.setdefault(one.finding.name, []).append(_Seen(start.isoformat(), (end or start).isoformat()))
    return found


def _key_at(told: str, seen: list[_Seen]) -> str | None:
    """The key of the sighting that a moment lies in."""
    exact = [one.key for one in seen if one.key == told]
    within = [one.key for one in seen if one.key <= told <= one.until]
    return next(iter(exact + within), None)


def _unknown(finding: str, tail: str, names: list[str]) -> str:
    near = difflib.get_close_matches(finding, names, n=1, cutoff=0.4)
    hint = f"did you mean '{near[0]}'?" if near else f"found: {', '.join(sorted(names)) or 'nothing'}"
    return f"no finding '{finding}' of {tail}; {hint}"
