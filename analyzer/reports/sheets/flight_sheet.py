"""The sheet of a flight, or of several: what an owner hands to a shop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.findings.finding import Finding
from analyzer.phrases import counted
from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.evidence import evidence_words
from analyzer.reports.plainly import plainly
from analyzer.reports.sheets.document import (
    Cautions,
    Chart,
    Facts,
    Heading,
    NewPage,
    Paragraph,
    Part,
    Sheet,
    Table,
)  # fmt: skip
from analyzer.reports.sheets.shop import MARKS, cause_table, check_list, shortened, with_form
from analyzer.reports.sheets.traceability import REFERENCES, measure_windows, moment_words, origin_words, window_words
from analyzer.reports.wording import (
    ammeter_words,
    clock_words,
    finding_label,
    measure_label,
    measure_words,
    minutes_of,
    notes_of,
    reasons_of,
    system_words,
)
from analyzer.results import FlightResult, LogResult

if TYPE_CHECKING:
    from analyzer.logs.log import Log
    from analyzer.review import FlightReview

#: Flights that get pages of their own in one document; further ones stand in the index only.
MOST_FLIGHTS = 60
#: Findings told in full; those beyond are named.
FINDINGS_SHOWN = 3
#: What fits two pages, by the number of findings: causes and checks of each, sentences of the story.
ROOM = {0: (0, 0, 14), 1: (5, 8, 12), 2: (4, 4, 2), 3: (2, 3, 0)}
WARNINGS_SHOWN, WARNING_LENGTH = 2, 160


@dataclass(frozen=True, slots=True)
class Moment:
    """One sentence of a flight's story."""

    from_s: float
    says: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a sheet shows of a flight and its result does not hold."""

    svg: str
    story: tuple[Moment, ...]
    columns: str  # which column of the log each reading was taken from
    windows: Mapping[str, tuple[float, float]]  # of each measure: the stretch it is worked from [s]
    outlook: str = ""  # what was foretold once it was flown; empty without records of its aircraft


def drawn(review: FlightReview, log: Log) -> Drawn:
    """Draw a flight and tell its story."""
    from analyzer.reports.sheets.trace_plot import Window, trace_svg
    from analyzer.reports.story import story

    windows = [
        Window(finding.from_s, finding.to_s, mark)
        for mark, finding in zip(MARKS, review.findings[:FINDINGS_SHOWN], strict=False)
    ]
    told = tuple(Moment(one.from_s, one.says) for one in story(review) if one.finding is None)
    columns = ", ".join(f"{column.role.replace('_', ' ')} from “{column.name}”" for column in log.columns)
    height = 1.0 - 0.08 * len(windows)  # each finding takes room on the first page
    return Drawn(trace_svg(review.flight, windows, height=height), told, columns, measure_windows(review))


def flight_sheet(logs: Sequence[tuple[LogResult, Sequence[Drawn]]], made: date) -> Sheet:
    """The document of all flights of some logs.

    Parameters
    ----------
    logs : each log's result, with its flights drawn in the same order
    made : the day that the sheet carries

    One flight takes one or two pages; of several an index comes first, in the order of the logs.
    """
    flights = [
        (log, number, flight, picture)
        for log, pictures in logs
        for number, (flight, picture) in enumerate(zip(log.flights, pictures, strict=True), 1)
    ]
    if len(flights) == 1 and len(logs) == 1:
        return one_flight_sheet(flights[0][0], 1, flights[0][3], made)
    parts = _index(logs, len(flights))
    for one in flights[:MOST_FLIGHTS]:
        parts += [NewPage(), Heading(_title(*one[:3])), *with_form(_flight_parts(*one))]
    tails = sorted({log.tail or Path(log.source).name for log, _ in logs})
    named = ", ".join(tails[:4]) + (f" and {len(tails) - 4} more" if len(tails) > 4 else "")
    return Sheet(f"{named}: {counted(len(flights), 'flight')}", made, tuple(parts))


def one_flight_sheet(log: LogResult, number: int, picture: Drawn, made: date) -> Sheet:
    """The document of one flight of a log, by its number from 1; otherwise as ``flight_sheet``."""
    flight = log.flights[number - 1]
    return Sheet(_title(log, number, flight), made, with_form(_flight_parts(log, number, flight, picture)))


def _title(log: LogResult, number: int, flight: FlightResult) -> str:
    whose = log.tail or Path(log.source).name
    if flight.start is None:
        return f"{whose}: flight {number} of a log without a clock"
    return f"{whose}: flight of {flight.start:%Y-%m-%d %H:%M}"


def _index(logs: Sequence[tuple[LogResult, Sequence[Drawn]]], count: int) -> list[Part]:
    rows = []
    for log, _ in logs:
        if log.because is not None:
            rows.append((log.source, "", "", "refused: " + plainly(log.because)))
        elif not log.flights:
            rows.append((log.source, log.tail or "", "", "no engine run in it"))
        for flight in log.flights:
            titles = ", ".join(f"{one.severity}: {finding_label(one.name)}" for one in flight.findings)
            when = f"{clock_words(flight.start, flight.from_s)}, {minutes_of(flight.from_s, flight.to_s)}"
            rows.append((Path(log.source).name, log.tail or "", when, titles or "nothing found"))
    parts: list[Part] = [
        Table(("Log", "Tail", "Flight", "Found"), tuple(rows), (3, 0, 0, 4)),
        Paragraph(NOT_SEEN, small=True),
        Cautions(CAUTIONS),
    ]
    if count > MOST_FLIGHTS:
        more = f"The first {MOST_FLIGHTS} flights follow with pages of their own; name fewer logs for the others."
        parts.insert(1, Paragraph(more))
    return parts


def _flight_parts(log: LogResult, number: int, flight: FlightResult, picture: Drawn) -> list[Part]:
    return [
        _facts(log, number, flight),
        Heading("What was found"),
        *_found(flight),
        Chart(picture.svg, _chart_words(flight)),
        *_to_do(flight),
        *([Paragraph(picture.outlook)] if picture.outlook else []),
        Heading("Measures"),
        *_measures(flight, picture.windows),
        *_unmeasured(flight),
        *_story(flight, picture.story),
        Heading("How the log was read"),
        Paragraph(_reading(log, flight, picture), small=True),
        *_warnings(log.warnings),
        Paragraph(REFERENCES, small=True),
        Cautions(CAUTIONS),
    ]


def _shown(flight: FlightResult) -> list[tuple[str, Finding]]:
    """The findings told in full, each with its letter."""
    return list(zip(MARKS, flight.findings[:FINDINGS_SHOWN], strict=False))


def _room(flight: FlightResult) -> tuple[int, int, int]:
    return ROOM[len(_shown(flight))]


def _facts(log: LogResult, number: int, flight: FlightResult) -> Facts:
    begins = clock_words(flight.start, flight.from_s)
    return Facts(
        (
            ("Aircraft", log.tail or "the log names none"),
            ("System", f"{system_words(flight.nominal_voltage)}, {ammeter_words(flight.ammeter)}"),
            ("Recorded", f"{begins} to {moment_words(flight, flight.to_s)}, {minutes_of(flight.from_s, flight.to_s)}"),
            ("Log", f"{Path(log.source).name}, flight {number} of {len(log.flights)}"),
        )
    )


def _found(flight: FlightResult) -> list[Part]:
    findings = flight.findings
    if not findings:
        measured, every = len(flight.measured), len(flight.measures)
        says = f"Nothing found by the {measured} of {every} measures that could be taken. {NOT_SEEN}"
        return [Paragraph(says)]
    parts: list[Part] = []
    for mark, one in _shown(flight):
        numbers = evidence_words(one.evidence)
        parts += [
            Heading(f"{mark}. {finding_label(one.name)}", 3, one.severity),
            Paragraph(one.says),
            Paragraph(
                f"Numbers behind it: {numbers}. {origin_words(flight, one)}",
                small=True,
            ),
        ]
    more = [f"{one.severity}: {finding_label(one.name)}" for one in findings[FINDINGS_SHOWN:]]
    if more:
        parts.append(Paragraph(f"Also found: {', '.join(more)}. The review's JSON tells all of each."))
    return parts


def _chart_words(flight: FlightResult) -> str:
    marked = [
        f"{mark} {finding_label(one.name).lower()}, {window_words(flight, one.from_s, one.to_s)}"
        for mark, one in _shown(flight)
    ]
    says = "Readings of the whole flight; starter current beyond the scale is cut off."
    return says + (f" Shaded: {'; '.join(marked)}." if marked else "")


def _to_do(flight: FlightResult) -> list[Part]:
    """Likeliest causes and first checks of each finding, as many as there is room for."""
    causes, checks, _ = _room(flight)
    shown = _shown(flight)
    if not shown:
        return []
    if len(shown) == 1:  # no letter is needed to tell whose they are
        shown = [("", shown[0][1])]
    return [
        Heading("Likely causes"),
        *cause_table([(mark, one.likely) for mark, one in shown], causes),
        Heading("What to check on the ground, in order"),
        *check_list([(mark, one.check) for mark, one in shown], checks),
    ]


def _measures(flight: FlightResult, windows: Mapping[str, tuple[float, float]]) -> list[Part]:
    measured = flight.measured
    rows = tuple(
        (measure_label(one), measure_words(one), window_words(flight, *windows[name]), name)
        for name, one in measured.items()
    )
    notes = notes_of(measured.values())
    parts: list[Part] = [Table(("Measure", "Value (95 % interval)", "From", "Reference"), rows, (3, 3, 3, 3))]
    return parts + ([Paragraph(f"Notes. {_grouped(notes)}", small=True)] if notes else [])


def _grouped(said: Mapping[str, Sequence[str]]) -> str:
    """Measures of which the same is said, in one sentence together."""
    return " ".join(f"{_sentence_case(', '.join(names))}: {words}." for words, names in said.items())


def _sentence_case(words: str) -> str:
    """Words that begin a sentence; units in them keep their capitals."""
    return words[:1].upper() + words[1:]


def _unmeasured(flight: FlightResult) -> list[Part]:
    """What has no value and why."""
    reasons = reasons_of(flight.unmeasured.values())
    return [Paragraph(f"What could not be measured. {_grouped(reasons)}", small=True)] if reasons else []


def _story(flight: FlightResult, story: Sequence[Moment]) -> list[Part]:
    shown = _room(flight)[2]
    if not story or not shown:
        return []
    rows = tuple((moment_words(flight, one.from_s), one.says) for one in story[:shown])
    parts: list[Part] = [Heading("What the meters did, in order"), Table(("At", "What happened"), rows, (0, 1))]
    if len(story) > shown:
        parts.append(Paragraph(f"Left out here: what happened later, {len(story) - shown} more.", small=True))
    return parts


def _reading(log: LogResult, flight: FlightResult, picture: Drawn) -> str:
    return (
        f"Source file {log.source}. This flight: {flight.rows} rows, one every {flight.sample_period_s:g} s; "
        f"what is shorter than that cannot be seen. Columns: {picture.columns}. "
        f"Kind of ammeter: {flight.ammeter_basis}."
    )


def _warnings(warnings: Sequence[str]) -> list[Part]:
    shown = [shortened(plainly(warning), WARNING_LENGTH) for warning in warnings[:WARNINGS_SHOWN]]
    more = len(warnings) - len(shown)
    shown += [f"{counted(more, 'more note')} in the review's JSON"] if more > 0 else []
    return [Paragraph(f"Notes: {'; '.join(shown)}.", small=True)] if shown else []
