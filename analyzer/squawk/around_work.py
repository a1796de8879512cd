"""Did it help, by the report itself: in how many flights a symptom was seen before maintenance work and after it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from analyzer.squawk.known import Symptom, load_symptoms
from analyzer.squawk.verdict import SymptomVerdict
from analyzer.trends.entries import Entry, kinds


@dataclass(frozen=True, slots=True)
class SideOfWork:
    """Flights on one side of work: with a symptom, without it though it would have shown, and those that could not."""

    seen: int
    not_seen: int
    not_observable: int
    starts: tuple[datetime, ...]  # of its flights, in order


@dataclass(frozen=True, slots=True)
class SymptomAroundWork:
    """One symptom before work and after it."""

    symptom: Symptom
    before: SideOfWork
    after: SideOfWork


@dataclass(frozen=True, slots=True)
class WorkDone:
    """One maintenance entry, with the symptoms before it and after it."""

    entry: Entry
    symptoms: tuple[SymptomAroundWork, ...]


def symptoms_of_work(kind: str) -> tuple[str, ...]:
    """Give the symptoms that a kind of work is done for: those that its findings are about."""
    ends = set(kinds()[kind].ends)
    return tuple(name for name, symptom in load_symptoms().items() if symptom.findings & ends)


def around_work(symptoms: Sequence[SymptomVerdict], entries: Iterable[Entry]) -> tuple[WorkDone, ...]:
    """Give the work done between the flights of a squawk, each with its symptoms before and after it."""
    done = list(entries)
    told = [WorkDone(one, symptoms_around(symptoms, one.when, neighbours(one.when, one.kind, done))) for one in done]
    return tuple(work for work in told if any(one.before.starts and one.after.starts for one in work.symptoms))


def neighbours(when: datetime, kind: str, entries: Iterable[Entry]) -> tuple[datetime | None, datetime | None]:
    """Give the work on other days before and after an entry that can end the same findings, None where none was."""
    ends = set(kinds()[kind].ends)
    others = [one.when for one in entries if set(kinds()[one.kind].ends) & ends and one.when.date() != when.date()]
    return max((at for at in others if at < when), default=None), min((at for at in others if at > when), default=None)


def symptoms_around(
    symptoms: Sequence[SymptomVerdict], when: datetime, between: tuple[datetime | None, datetime | None] = (None, None)
) -> tuple[SymptomAroundWork, ...]:
    """In how many flights each symptom was seen before an entry and after it.

    Flights without a clock belong to neither side and are left out, as are those that do not lie ``between`` the
    work next to it.
    """
    return tuple(
        SymptomAroundWork(one.symptom, _side(one, between[0], when), _side(one, when, between[1])) for one in symptoms
    )


def _side(symptom: SymptomVerdict, since: datetime | None, until: datetime | None) -> SideOfWork:
    listed = (symptom.occasions, symptom.against, symptom.not_observable)
    starts = [
        {
            start
            for one in flights
            if (start := one.flight.start) is not None
            and (since is None or start >= since)
            and (until is None or start < until)
        }
        for flights in listed
    ]
    seen, not_seen, not_observable = map(len, starts)
    return SideOfWork(seen, not_seen, not_observable, tuple(sorted(set().union(*starts))))
