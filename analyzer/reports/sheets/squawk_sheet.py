"""The sheet of a squawk: what the recordings say for and against a report, and what to measure first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.phrases import counted
from analyzer.quantity import Quantity
from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.evidence import quantity_words
from analyzer.reports.sheets.document import (
    Cautions,
    Chart,
    Charts,
    Check,
    Checks,
    Facts,
    Heading,
    Paragraph,
    Part,
    Sheet,
    Table,
)  # fmt: skip
from analyzer.reports.sheets.shop import cause_table, shortened, with_form
from analyzer.reports.sheets.traceability import EXPLAINED
from analyzer.reports.squawk_text import work_side_words
from analyzer.reports.wording import copies_words, finding_label
from analyzer.squawk.around_work import WorkDone
from analyzer.squawk.examine import Occasion, SquawkFlight
from analyzer.squawk.result import AlsoFound, OnTheGround, SquawkResult
from analyzer.squawk.sentences import (
    because_words,
    circumstance_words,
    condition_words,
    only_words,
    reason_words,
    verdict_words,
)
from analyzer.squawk.symptom_result import State
from analyzer.squawk.verdict import Against, NotObservable, SymptomVerdict

if TYPE_CHECKING:
    from analyzer.review import FlightReview

#: Occasions that are drawn of the first symptom that was seen and of a second one; of three or more only the first is.
DRAWN_SHOWN = {1: (2,), 2: (1, 1)}
DRAWN_OF_MORE = (1,)
#: Longest report in a pilot's words that is printed whole, and words listed that were not understood.
WORDS_LENGTH, NOT_UNDERSTOOD_SHOWN = 400, 12
ORIGIN = (
    "Where a number comes from: the flight and the window of it named beside it, by the log's clock, the whole flight "
    "where none is named, and "
    f"{EXPLAINED}. Expected values are the usual ones; the aircraft's maintenance manual comes first. "
    "Weights of causes are judgement, not counted statistics."
)


@dataclass(frozen=True, slots=True)
class Room:
    """How much of each list is shown of one symptom, and of what to do for all together."""

    occasions: int
    against: int
    reasons: int
    causes: int
    measure_first: int
    checks: int


#: What fits two pages with one symptom, with two, with three, and keeps more of them to about half a page each.
ALONE, OF_TWO, OF_MORE = Room(5, 3, 3, 4, 4, 4), Room(2, 1, 1, 2, 3, 2), Room(1, 1, 1, 2, 3, 2)
#: An occasion by flight and beginning: (source, number of the flight, from_s).
Key = tuple[str, int, float]


def drawn_occasions(result: SquawkResult, review_of: Callable[[SquawkFlight], FlightReview | None]) -> dict[Key, str]:
    """Draw the latest occasions of each symptom: key -> SVG.

    Parameters
    ----------
    result : the squawk
    review_of : gives the review of a flight, None where it can no longer be read
    """
    from analyzer.reports.sheets.trace_plot import Window, room_around, trace_svg

    charts: dict[Key, str] = {}
    seen = [symptom.occasions for symptom in result.symptoms if symptom.occasions]
    for occasions, most in zip(seen, DRAWN_SHOWN.get(len(result.symptoms), DRAWN_OF_MORE), strict=False):
        for one in occasions[:most]:
            review = review_of(one.flight)
            if review is not None:
                span = room_around(review.flight, one.from_s, one.to_s)
                windows = [Window(one.from_s, one.to_s, "seen")]
                charts[_key(one)] = trace_svg(review.flight, windows, span, small=True)
    return charts


def _key(occasion: Occasion) -> Key:
    return occasion.flight.source, occasion.flight.number, occasion.from_s


def squawk_sheet(result: SquawkResult, charts: Mapping[Key, str], made: date, unread: Sequence[str] = ()) -> Sheet:
    """The document of one report.

    Parameters
    ----------
    result : the squawk
    charts : of ``drawn_occasions``
    made : the day that the sheet carries
    unread : logs that could not be read again
    """
    parts: list[Part] = [*_report(result, unread)]
    room = {1: ALONE, 2: OF_TWO}.get(len(result.symptoms), OF_MORE)
    told: set[str] = set()
    for symptom in result.symptoms:
        parts += _symptom(symptom, charts, room, told)
        told |= {one.key for one in symptom.likely[: room.causes]}
    parts += _to_measure(result.on_the_ground, room, several=len(result.symptoms) > 1)
    parts += _work(result.work)
    found = _also_found(result.also_found)
    if found:
        parts.append(Paragraph(f"Also found in these flights: {'; '.join(found)}."))
    parts += [Paragraph(ORIGIN, small=True), Cautions(CAUTIONS)]
    titles = ", ".join(one.symptom.title.lower() for one in result.symptoms)
    return Sheet(f"{result.tail}: {titles}", made, with_form(parts))


def _report(result: SquawkResult, unread: Sequence[str]) -> list[Part]:
    report = result.report
    first, last = (f"{one:%Y-%m-%d}" if one else "" for one in (result.since, result.until))
    span = f"{first or 'the first'} to {last or 'the latest'}"
    words = f"“{shortened(report.words, WORDS_LENGTH)}”" if report.words else "picked from the list"
    parts: list[Part] = [
        Facts(
            (
                ("Aircraft", result.tail),
                ("Searched", f"{counted(result.flights, 'flight')}, {result.hours:.1f} h, {span}"),
            )
        ),
        Paragraph(f"Reported: {words}"),
    ]
    if copies := copies_words(len(result.copies)):
        parts.append(Paragraph(f"{copies}.", small=True))
    if unread:
        logs = counted(len(unread), "log")
        parts.append(Paragraph(f"Not searched, since they could not be re-read: {logs}."))
    missed = report.understood.not_understood
    if missed:
        more = len(missed) - NOT_UNDERSTOOD_SHOWN
        told = ", ".join(shortened(word, 30) for word in missed[:NOT_UNDERSTOOD_SHOWN])
        told += f" and {counted(more, 'more word')}" if more > 0 else ""
        parts.append(Paragraph(f"Not understood, so not looked for: {told}.", small=True))
    return parts


def _symptom(symptom: SymptomVerdict, charts: Mapping[Key, str], room: Room, told: set[str]) -> list[Part]:
    """One symptom; ``told`` are causes that stand in the sheet already."""
    verdict, only = verdict_words(symptom), only_words(symptom)
    parts: list[Part] = [
        Heading(symptom.symptom.title, 2, f"{verdict}, {only}" if only else verdict),
        Paragraph(_because(symptom)),
        *(Paragraph(f"As reported: {_ended(circumstance_words(one))}") for one in symptom.circumstances),
        Paragraph(_counts(symptom), small=True),
        *_for(symptom, charts, room.occasions),
        *_against(symptom.against, room.against),
        *_not_observable(symptom.not_observable, room.reasons),
    ]
    conditions = " ".join(_ended(condition_words(one)) for one in symptom.conditions)
    if conditions:
        parts += [Heading("When it comes", 3), Paragraph(conditions)]
    if symptom.likely and all(one.key in told for one in symptom.likely[: room.causes]):
        left = len(symptom.likely) - room.causes
        more = f" Left out here: {counted(left, 'more cause')} of no more weight." if left > 0 else ""
        return [*parts, Paragraph(f"Likely causes: those named above.{more}")]
    if symptom.likely:
        parts += [Heading("Likely causes", 3), *cause_table([("", symptom.likely)], room.causes)]
    return parts


def _work(work: Sequence[WorkDone]) -> list[Part]:
    rows = tuple(
        (f"{one.entry.when:%Y-%m-%d}", one.entry.words or one.entry.kind.replace("_", " "), symptom.symptom.title,
         work_side_words(symptom.before), work_side_words(symptom.after))
        for one in work
        for symptom in one.symptoms
    )  # fmt: skip
    head = ("Done", "Work", "Symptom", "Before the work", "After the work")
    return [Heading("Before and after work"), Table(head, rows, (0, 2, 2, 3, 3))] if rows else []


def _also_found(found: Sequence[AlsoFound]) -> list[str]:
    """Each finding once, with the flights in which it was made."""
    flights: dict[str, list[str]] = {}
    for one in found:
        title = f"{one.finding.severity}: {finding_label(one.finding.name)}"
        flights.setdefault(title, []).append(_flight_words(one.flight))
    return [f"{title} ({named[0]}{_and_more(len(named) - 1)})" for title, named in flights.items()]


def _and_more(flights: int) -> str:
    return f" and {counted(flights, 'more flight')}" if flights else ""


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith(".") else f"{sentence}."


def _because(symptom: SymptomVerdict) -> str:
    """What justifies the verdict; the words for one that was not seen say themselves that it is not gone."""
    says = because_words(symptom)
    return says if symptom.state == State.SEEN or symptom.against or symptom.not_observable else f"{says} {NOT_SEEN}"


def _counts(symptom: SymptomVerdict) -> str:
    hours, name = symptom.hours_observed, symptom.symptom.name
    observed = f"; watched for {hours:.1f} h" if hours >= 1.0 else f"; watched for {60.0 * hours:.0f} min"
    return (
        f"Flights: {len(symptom.seen_in)} with it, {len(symptom.against)} without, {len(symptom.not_observable)} that "
        f"could not show it{observed if hours else ''}. From the flights named below; reference: {name}."
    )


def _flight_words(flight: SquawkFlight) -> str:
    if flight.start:
        return flight.start.isoformat().replace("T", " ")[:16]
    return f"{Path(flight.source).name}, flight {flight.number}"


def _window_words(occasion: Occasion) -> str:
    """The window by the clock, or in minutes into a log without one."""
    if occasion.at is None:
        return f"{occasion.from_s / 60.0:.1f} to {occasion.to_s / 60.0:.1f} min into the log"
    last = occasion.at + timedelta(seconds=occasion.lasted_s)
    return f"{occasion.at:%H:%M:%S} to {last:%H:%M:%S}"


def numbers_words(numbers: Mapping[str, Quantity], phase: str | None = None) -> str:
    """Numbers with their units by name, "lowest voltage 12.4 V, phase low rpm"."""
    said = [f"{name.replace('_', ' ')} {quantity_words(one)}" for name, one in numbers.items()]
    return ", ".join([*said, *([f"phase {phase.replace('_', ' ')}"] if phase else [])])


def _for(symptom: SymptomVerdict, charts: Mapping[Key, str], most: int) -> list[Part]:
    occasions = symptom.occasions
    if not occasions:
        return []
    rows = tuple(
        (_flight_words(one.flight), _window_words(one), one.says,
         numbers_words({**one.numbers, **one.circumstances.numbers}, one.circumstances.phase))
        for one in occasions[:most]
    )  # fmt: skip
    parts: list[Part] = [
        Heading("For it: where it was seen, the latest first", 3),
        Table(("Flight", "Window", "Seen", "Numbers then"), rows, (0, 0, 4, 4)),
    ]
    if (left := len(occasions) - most) > 0:
        parts.append(Paragraph(f"Left out here: {counted(left, 'more earlier occasion')}.", small=True))
    drawn = tuple(
        Chart(charts[_key(one)], f"Flight of {_flight_words(one.flight)}, shaded: {_window_words(one)}")
        for one in occasions
        if _key(one) in charts
    )
    if drawn:
        parts.append(Charts(drawn))
        more = len(occasions) - len(drawn)
        parts += [Paragraph(f"Not drawn here: {counted(more, 'more occasion')}.", small=True)] if more else []
    return parts


def _against(against: Sequence[Against], most: int) -> list[Part]:
    if not against:
        return []
    rows = tuple((_flight_words(one.flight), one.says, numbers_words(one.numbers)) for one in against[:most])
    parts: list[Part] = [
        Heading("Against it: flights in which it would have shown and did not", 3),
        Table(("Flight", "What it showed", "Numbers"), rows, (0, 4, 3)),
    ]
    left = len(against) - most
    return parts + ([Paragraph(f"Left out here: {counted(left, 'more flight')}.", small=True)] if left > 0 else [])


def _not_observable(flights: Sequence[NotObservable], most: int) -> list[Part]:
    """Flights that could not show it, those with the same reason together."""
    reasons: dict[str, list[str]] = {}
    for one in flights:
        reasons.setdefault(reason_words(one.reason), []).append(_flight_words(one.flight))
    if not reasons:
        return []
    told = [
        f"{counted(len(named), 'flight')} ({named[0]}{' and others' * (len(named) > 1)}), "
        f"because {because.removesuffix('.')}"
        for because, named in list(reasons.items())[:most]
    ]
    left = len(reasons) - most
    told += [counted(left, "more reason")] if left > 0 else []
    return [Paragraph(f"Could not have been seen in: {'; '.join(told)}.", small=True)]


def _to_measure(steps: OnTheGround, room: Room, *, several: bool) -> list[Part]:
    first, further = steps.measure_first[: room.measure_first], steps.check[: room.checks]
    if not first and not further:
        return []

    def meant(titles: Sequence[str]) -> str:
        return f" For: {'; '.join(titles).lower()}." if several else ""

    listed = [
        Check(f"{it.what}. {_ended(it.tells)} ({it.source}){meant(one.symptoms)}", it.expected)
        for one in first
        for it in [one.measure]
    ]
    listed += [Check(f"{_ended(one.what)}{meant(one.symptoms)}") for one in further]
    left = len(steps.measure_first) + len(steps.check) - len(listed)
    parts: list[Part] = [
        Heading("What to measure first, then to check on the ground, in order"),
        *(Paragraph(words) for words in steps.before),
        Checks(tuple(listed)),
    ]
    return parts + ([Paragraph(f"Left out here: {counted(left, 'more later check')}.", small=True)] if left else [])
