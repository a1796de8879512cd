"""What a squawk comes to: frozen types that texts, sheets, pages and JSON are made from.

report = report_of("ALT light flickered")
since = look_back(newest_flight(store, "N047KT"))        # of across.py and of the records' replay.py
result = squawk_result("N047KT", report, look_through(flights, report), since=since)
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import zip_longest

from analyzer.findings.finding import Finding
from analyzer.review import FlightReview
from analyzer.squawk.across import across_flights
from analyzer.squawk.around_work import WorkDone, around_work
from analyzer.squawk.examine import ExaminedFlight, SquawkFlight, examine
from analyzer.squawk.known import load_symptoms
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.report import Report
from analyzer.squawk.symptom_result import State
from analyzer.squawk.verdict import MeasureFirst, SymptomVerdict, verdict_of
from analyzer.trends.entries import Entry

#: What every measurement on the ground begins with.
ENGINE_RUNNING = (
    "With the engine running: somebody at the controls, brakes and chocks set, and everybody clear of the propeller."
)


@dataclass(frozen=True, slots=True)
class AlsoFound:
    """Another finding of a flight that was looked through."""

    flight: SquawkFlight
    with_it: bool  # whether that flight shows anything of the report
    finding: Finding


@dataclass(frozen=True, slots=True)
class MeasureFor:
    """One thing to measure first, and the symptoms that it is for, by title."""

    measure: MeasureFirst
    symptoms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CheckFor:
    """One thing to check, and the symptoms that it is for, by title."""

    what: str
    symptoms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OnTheGround:
    """What to do on the ground for all symptoms together, each step once."""

    before: tuple[str, ...]  # what to mind before anything is measured
    measure_first: tuple[MeasureFor, ...]
    check: tuple[CheckFor, ...]


@dataclass(frozen=True, slots=True)
class SquawkResult:
    """A report against a tail's flights."""

    tail: str
    report: Report
    since: datetime | None
    until: datetime | None
    flights: int
    hours: float
    copies: tuple[SquawkFlight, ...]  # of flights that came in two files
    symptoms: tuple[SymptomVerdict, ...]
    also_found: tuple[AlsoFound, ...]  # of flights that show anything of the report first, the latest first
    work: tuple[WorkDone, ...]  # maintenance between the flights

    @property
    def on_the_ground(self) -> OnTheGround:
        """What to do on the ground for all symptoms together."""
        return on_the_ground(self.symptoms)

    def __repr__(self) -> str:
        """A line for a person: the aircraft, and each symptom's state."""
        told = ", ".join(f"{one.symptom.name}: {one.state.value}" for one in self.symptoms)
        return f"<squawk of {self.tail}, {self.flights} flights, {told}>"


def look_through(flights: Iterable[tuple[SquawkFlight, FlightReview]], report: Report) -> Iterator[ExaminedFlight]:
    """Look through flights one by one for what was reported."""
    return (examine(ref, review, report.symptoms) for ref, review in flights)


def squawk_result(
    tail: str,
    report: Report,
    examined: Iterable[ExaminedFlight],
    *,
    since: datetime | None = None,
    until: datetime | None = None,
    entries: Iterable[Entry] = (),
) -> SquawkResult:
    """Give what the flights looked through say of a report.

    Parameters
    ----------
    tail : the aircraft
    report : from ``report_of``
    examined : from ``look_through``, in any order; of a flight that came in two files the longer copy counts
    since, until : what flights were asked for
    entries : maintenance work done, for the symptoms before and after it
    """
    flights, copies = across_flights(_told_of_noise(flight, report) for flight in examined)
    known = load_symptoms()
    symptoms = tuple(verdict_of(known[name], flights, report.understood.named) for name in report.symptoms)
    about = {finding for name in report.symptoms for finding in known[name].findings}
    return SquawkResult(
        tail=tail,
        report=report,
        since=since,
        until=until,
        flights=len(flights),
        hours=sum(flight.hours for flight in flights),
        copies=tuple(copy.ref for copy in copies),
        symptoms=symptoms,
        also_found=tuple(
            AlsoFound(flight.ref, with_it, finding)
            for flight, with_it in _with_it_first(flights)
            for finding in flight.findings
            if finding.name not in about or not with_it
        ),
        work=around_work(symptoms, entries),
    )


def _with_it_first(flights: Sequence[ExaminedFlight]) -> list[tuple[ExaminedFlight, bool]]:
    """Flights and whether they show anything of the report: those that do first, the latest first."""
    told = [(flight, any(own.state == State.SEEN for own in flight.symptoms.values())) for flight in reversed(flights)]
    return sorted(told, key=lambda pair: not pair[1])


def _told_of_noise(flight: ExaminedFlight, report: Report) -> ExaminedFlight:
    """Say that no log shows noise or ripple, unless the report speaks only of a slow pulsing."""
    own = flight.symptoms.get("noise_or_pulsing")
    if own is None or own.state != State.NOT_SEEN or report.slow_pulsing_only:
        return flight
    reason = Reason(Unobservable.NOISE_TOO_FAST, more=own.says)
    changed = replace(own, state=State.NOT_OBSERVABLE, says="", reason=reason, watched_h=0.0)
    return replace(flight, symptoms={**flight.symptoms, "noise_or_pulsing": changed})


def on_the_ground(symptoms: Sequence[SymptomVerdict]) -> OnTheGround:
    """What to mind before, what to measure first, then to check, for all symptoms together, and for which.

    Each stands there once. The first of each symptom come before the second ones, those of symptoms that were seen
    before the others'.
    """
    ordered = sorted(symptoms, key=lambda one: one.state != State.SEEN)
    measures: dict[tuple[str, str], tuple[MeasureFirst, list[str]]] = {}
    checks: dict[str, list[str]] = {}
    for row in zip_longest(*(one.measure_first for one in ordered)):
        for one, step in zip(ordered, row, strict=True):
            if step is not None:
                measures.setdefault((step.what, step.expected), (step, []))[1].append(one.symptom.title)
    for line in zip_longest(*(one.check for one in ordered)):
        for one, what in zip(ordered, line, strict=True):
            if what is not None:
                checks.setdefault(what, []).append(one.symptom.title)
    first = dict.fromkeys(one.symptom.before for one in ordered if one.symptom.before)
    return OnTheGround(
        (*first, ENGINE_RUNNING),
        tuple(MeasureFor(step, tuple(titles)) for step, titles in measures.values()),
        tuple(CheckFor(what, tuple(titles)) for what, titles in checks.items()),
    )
