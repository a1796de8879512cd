"""Did it help, by the report itself: in how many flights a symptom was seen before maintenance work and after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from analyzer.squawk.known import load_symptoms
from analyzer.trends.entries import Entry, kinds


def symptoms_of_work(kind: str) -> tuple[str, ...]:
    """Give the symptoms that a kind of work is done for: those that its findings are about."""
    ends = set(kinds()[kind].ends)
    return tuple(name for name, symptom in load_symptoms().items() if symptom.findings & ends)


def around_work(squawk: Mapping[str, Any], entries: Iterable[Entry]) -> list[dict[str, Any]]:
    """Give the work done between the flights of a squawk's document, each with its symptoms before and after it."""
    done = list(entries)
    told: list[dict[str, Any]] = [
        {
            "when": one.when.isoformat(),
            "kind": one.kind,
            "words": one.words,
            "symptoms": symptom_counts(squawk, one.when, neighbours(one.when, one.kind, done)),
        }
        for one in done
    ]
    return [
        work for work in told if any(one["before"]["flights"] and one["after"]["flights"] for one in work["symptoms"])
    ]


def neighbours(when: datetime, kind: str, entries: Iterable[Entry]) -> tuple[datetime | None, datetime | None]:
    """Give the work on other days before and after an entry that can end the same findings, None where none was."""
    ends = set(kinds()[kind].ends)
    others = [one.when for one in entries if set(kinds()[one.kind].ends) & ends and one.when.date() != when.date()]
    return max((at for at in others if at < when), default=None), min((at for at in others if at > when), default=None)


def symptom_counts(
    squawk: Mapping[str, Any], when: datetime, between: tuple[datetime | None, datetime | None] = (None, None)
) -> list[dict[str, Any]]:
    """In how many flights each symptom of a squawk's document was seen before an entry and after it.

    Returns
    -------
    Each symptom with its ``title``, and ``before`` and ``after``: flights in which it was ``seen``, ``not_seen``
    though it would have shown, and ``not_observable``; ``flights``: their ``count``, and start of the ``first`` and
    ``last``, or null.
    Flights without a clock belong to neither side and are left out, as are those that do not lie ``between`` the
    work next to it.
    """
    return [
        {
            "symptom": one["symptom"],
            "title": one["title"],
            "before": _side(one, between[0], when),
            "after": _side(one, when, between[1]),
        }
        for one in squawk["symptoms"]
    ]


def _side(symptom: Mapping[str, Any], since: datetime | None, until: datetime | None) -> dict[str, Any]:
    kept: dict[str, set[str]] = {}
    for state, told in (("seen", "for"), ("not_seen", "against"), ("not_observable", "not_observable")):
        starts = {one["flight"]["start"] for one in symptom[told]} - {None}
        kept[state] = {
            start
            for start in starts
            if (since is None or datetime.fromisoformat(start) >= since)
            and (until is None or datetime.fromisoformat(start) < until)
        }
    every = sorted(set().union(*kept.values()))
    counts: dict[str, Any] = {state: len(starts) for state, starts in kept.items()}
    span = {"count": len(every), "first": every[0], "last": every[-1]} if every else None
    return counts | {"flights": span}
