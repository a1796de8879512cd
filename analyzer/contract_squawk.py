"""The JSON of ``taper squawk``: its keys as types, and results written as these. Rounded here and only here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import Struct, field

from analyzer import CONTRACT
from analyzer.contract import CauseEntry, QuantityEntry, cause_entry, iso, plain
from analyzer.quantity import Quantity
from analyzer.squawk.around_work import SideOfWork, SymptomAroundWork, WorkDone
from analyzer.squawk.circumstances import CircumstanceAnswer
from analyzer.squawk.conditions import Circumstances
from analyzer.squawk.examine import Occasion, SquawkFlight
from analyzer.squawk.known import load_symptoms
from analyzer.squawk.report import Report
from analyzer.squawk.result import AlsoFound, OnTheGround, SquawkResult
from analyzer.squawk.sentences import (
    CONDITIONS,
    because_words,
    circumstance_words,
    condition_words,
    only_words,
    reason_words,
    verdict_words,
)
from analyzer.squawk.verdict import SymptomVerdict
from analyzer.squawk.weighing import ConditionShare


class SquawkFlightEntry(Struct, frozen=True):
    """Which flight."""

    id: int | None
    source: str
    number: int
    start: str | None


class ReportedEntry(Struct, frozen=True):
    """One symptom that the report names, and how."""

    symptom: str
    title: str
    origin: str = field(name="from")
    matched: tuple[str, ...]


class ReportEntry(Struct, frozen=True):
    """What was reported."""

    words: str | None
    symptoms: tuple[ReportedEntry, ...]
    denied: tuple[str, ...]
    circumstances: tuple[str, ...]
    not_understood: tuple[str, ...]


class CountsEntry(Struct, frozen=True):
    """Flights by what they say, occasions, and hours in which it would have shown."""

    seen: int
    not_seen: int
    not_observable: int
    occasions: int
    hours_observed: float


class OccasionEntry(Struct, frozen=True):
    """One time at which it was seen."""

    flight: SquawkFlightEntry
    from_s: float
    to_s: float
    at: str | None
    says: str
    numbers: Mapping[str, QuantityEntry]
    conditions: Mapping[str, QuantityEntry | str]


class AgainstEntry(Struct, frozen=True):
    """A flight in which it would have shown."""

    flight: SquawkFlightEntry
    says: str
    numbers: Mapping[str, QuantityEntry]


class NotObservableEntry(Struct, frozen=True):
    """A flight that could not show it; ``reason`` names the kind of reason."""

    flight: SquawkFlightEntry
    because: str
    reason: str


class ConditionEntry(Struct, frozen=True):
    """A condition that it was held against."""

    condition: str
    seen: int
    of: int
    exposure: float
    says: str
    telling: bool
    too_few: bool


class CircumstanceEntry(Struct, frozen=True):
    """A circumstance that the report names, answered: occasions in it and elsewhere, and the hours of each."""

    words: str
    condition: str
    recorded: bool
    inside: int
    outside: int
    inside_h: float
    outside_h: float
    says: str


class MeasureFirstEntry(Struct, frozen=True, omit_defaults=True):
    """One thing to measure first."""

    what: str
    expected: str
    tells: str
    source: str
    titles: tuple[str, ...] = field(default=(), name="for")


class CheckForEntry(Struct, frozen=True):
    """One thing to check, and for which symptoms."""

    what: str
    titles: tuple[str, ...] = field(name="for")


class OnTheGroundEntry(Struct, frozen=True):
    """What to do on the ground for all symptoms together."""

    before: tuple[str, ...]
    measure_first: tuple[MeasureFirstEntry, ...]
    check: tuple[CheckForEntry, ...]


class SymptomEntry(Struct, frozen=True):
    """One symptom over the flights."""

    symptom: str
    title: str
    state: str
    verdict: str
    only: str | None
    because: str
    counts: CountsEntry
    occasions: tuple[OccasionEntry, ...] = field(name="for")
    against: tuple[AgainstEntry, ...]
    not_observable: tuple[NotObservableEntry, ...]
    conditions: tuple[ConditionEntry, ...]
    circumstances: tuple[CircumstanceEntry, ...]
    likely: tuple[CauseEntry, ...]
    before: str | None
    measure_first: tuple[MeasureFirstEntry, ...]
    check: tuple[str, ...]
    innocent: tuple[str, ...]
    needs: str


class AlsoFoundEntry(Struct, frozen=True):
    """Another finding of a flight that was looked through."""

    flight: SquawkFlightEntry
    with_it: bool
    finding: str
    severity: str
    says: str


class SideFlightsEntry(Struct, frozen=True):
    """How many flights, and the start of the first and of the last."""

    count: int
    first: str | None
    last: str | None


class SideEntry(Struct, frozen=True):
    """Flights on one side of work."""

    seen: int
    not_seen: int
    not_observable: int
    flights: SideFlightsEntry | None


class AroundWorkEntry(Struct, frozen=True):
    """One symptom before and after work."""

    symptom: str
    title: str
    before: SideEntry
    after: SideEntry


class WorkBetweenEntry(Struct, frozen=True):
    """Maintenance between the flights."""

    when: str
    kind: str
    words: str
    symptoms: tuple[AroundWorkEntry, ...]


class SquawkEntry(Struct, frozen=True):
    """The document."""

    contract: int
    tail: str
    report: ReportEntry
    since: str | None
    until: str | None
    flights: int
    copies_left_out: tuple[SquawkFlightEntry, ...]
    hours: float
    symptoms: tuple[SymptomEntry, ...]
    on_the_ground: OnTheGroundEntry
    also_found: tuple[AlsoFoundEntry, ...]
    cautions: tuple[str, ...]
    work: tuple[WorkBetweenEntry, ...]


def squawk_entry(result: SquawkResult, cautions: Sequence[str] = ()) -> SquawkEntry:
    """A squawk's result as its JSON has it; ``cautions`` are what stands wherever results are read."""
    return SquawkEntry(
        contract=CONTRACT,
        tail=result.tail,
        report=_report(result.report),
        since=iso(result.since),
        until=iso(result.until),
        flights=result.flights,
        copies_left_out=tuple(map(_flight, result.copies)),
        hours=round(result.hours, 2),
        symptoms=tuple(map(_symptom, result.symptoms)),
        on_the_ground=_on_the_ground(result.on_the_ground),
        also_found=tuple(map(_also_found, result.also_found)),
        cautions=tuple(cautions),
        work=tuple(map(_work, result.work)),
    )


def around_entries(symptoms: Sequence[SymptomAroundWork]) -> list[dict[str, Any]]:
    """Symptoms around work as plain mappings, for the document of a maintenance entry."""
    return [plain(around_entry(one)) for one in symptoms]


def around_entry(one: SymptomAroundWork) -> AroundWorkEntry:
    """One symptom before and after work."""
    return AroundWorkEntry(one.symptom.name, one.symptom.title, side_entry(one.before), side_entry(one.after))


def side_entry(side: SideOfWork) -> SideEntry:
    """Flights on one side of work."""
    span = SideFlightsEntry(len(side.starts), iso(side.starts[0]), iso(side.starts[-1])) if side.starts else None
    return SideEntry(side.seen, side.not_seen, side.not_observable, span)


def _flight(ref: SquawkFlight) -> SquawkFlightEntry:
    return SquawkFlightEntry(ref.id, ref.source, ref.number, iso(ref.start))


def _numbers(numbers: Mapping[str, Quantity]) -> dict[str, QuantityEntry]:
    return {name: QuantityEntry(one.value, one.unit) for name, one in numbers.items()}


def _report(report: Report) -> ReportEntry:
    matched = {match.symptom: match.matched for match in report.understood.matches}
    symptoms = tuple(
        ReportedEntry(
            name, load_symptoms()[name].title, "words" if name in matched else "picked", matched.get(name, ())
        )
        for name in report.symptoms
    )
    told = report.understood
    return ReportEntry(report.words, symptoms, told.denied, told.circumstances, told.not_understood)


def _symptom(one: SymptomVerdict) -> SymptomEntry:
    return SymptomEntry(
        symptom=one.symptom.name,
        title=one.symptom.title,
        state=one.state,
        verdict=verdict_words(one),
        only=only_words(one),
        because=because_words(one),
        counts=CountsEntry(
            len(one.seen_in),
            len(one.against),
            len(one.not_observable),
            len(one.occasions),
            round(one.hours_observed, 2),
        ),
        occasions=tuple(map(_occasion, one.occasions)),
        against=tuple(AgainstEntry(_flight(it.flight), it.says, _numbers(it.numbers)) for it in one.against),
        not_observable=tuple(
            NotObservableEntry(_flight(it.flight), reason_words(it.reason), it.reason.kind) for it in one.not_observable
        ),
        conditions=tuple(map(_condition, one.conditions)),
        circumstances=tuple(map(_circumstance, one.circumstances)),
        likely=tuple(map(cause_entry, one.likely)),
        before=one.symptom.before,
        measure_first=tuple(MeasureFirstEntry(it.what, it.expected, it.tells, it.source) for it in one.measure_first),
        check=one.check,
        innocent=one.symptom.innocent,
        needs=one.symptom.needs,
    )


def _occasion(one: Occasion) -> OccasionEntry:
    return OccasionEntry(
        _flight(one.flight), one.from_s, one.to_s, iso(one.at), one.says, _numbers(one.numbers),
        _at_occasion(one.circumstances),
    )  # fmt: skip


def _at_occasion(found: Circumstances) -> dict[str, QuantityEntry | str]:
    return {**_numbers(found.numbers), "phase": found.phase}


def _condition(one: ConditionShare) -> ConditionEntry:
    return ConditionEntry(
        CONDITIONS[one.condition], one.seen, one.of, round(one.exposure, 3), condition_words(one), one.telling,
        one.too_few,
    )  # fmt: skip


def _circumstance(one: CircumstanceAnswer) -> CircumstanceEntry:
    return CircumstanceEntry(
        one.words, one.condition, one.recorded, one.inside, one.outside, round(one.inside_h, 2),
        round(one.outside_h, 2), circumstance_words(one),
    )  # fmt: skip


def _on_the_ground(steps: OnTheGround) -> OnTheGroundEntry:
    measures = tuple(
        MeasureFirstEntry(it.what, it.expected, it.tells, it.source, one.symptoms)
        for one in steps.measure_first
        for it in [one.measure]
    )
    return OnTheGroundEntry(steps.before, measures, tuple(CheckForEntry(one.what, one.symptoms) for one in steps.check))


def _also_found(one: AlsoFound) -> AlsoFoundEntry:
    finding = one.finding
    return AlsoFoundEntry(_flight(one.flight), one.with_it, finding.name, finding.severity, finding.says)


def _work(work: WorkDone) -> WorkBetweenEntry:
    entry = work.entry
    return WorkBetweenEntry(entry.when.isoformat(), entry.kind, entry.words, tuple(map(around_entry, work.symptoms)))
