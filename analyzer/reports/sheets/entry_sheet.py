"""The sheet of maintenance done on a day: did it help, measure by measure, with the flights compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.entry_text import SURE, VERDICTS, side_words, symptoms_around
from analyzer.reports.sheets.document import (
    Cautions,
    Chart,
    Charts,
    Facts,
    Heading,
    Paragraph,
    Part,
    Sheet,
    Table,
)  # fmt: skip
from analyzer.reports.sheets.shop import with_form
from analyzer.reports.sheets.traceability import EXPLAINED
from analyzer.reports.trend_words import change_words, found_words, span_words, work_words
from analyzer.reports.wording import MEASURE_LABELS, with_unit
from analyzer.trends.comparison import Compared
from analyzer.trends.work_done import EntryWithSymptoms, WorkOfDay

if TYPE_CHECKING:
    from analyzer.trends.history import History

ORIGIN = f"Where a number comes from: the flights between the days beside it, and {EXPLAINED}."
#: Flights on either side of an entry that its charts show.
FLIGHTS_SHOWN = 25
KEY = (
    "Circles: as recorded, with the 95 % interval; dots: corrected for weather and load; thick lines: the values "
    "before and after that were compared; dashed upright: the work; dotted across: the limit."
)


def drawn_entries(history: History, work: WorkOfDay) -> dict[tuple[datetime, str], str]:
    """Draw each compared measure around each entry: (moment of the entry, measure) -> SVG."""
    from analyzer.reports.sheets.trend_plot import limits_of, trend_svg
    from analyzer.trends.chart import chart_points
    from analyzer.trends.followed_tail import follow_tail

    tail = follow_tail(history)
    charts: dict[tuple[datetime, str], str] = {}
    drawn: set[tuple[str, int]] = set()
    for entry in work.entries:
        when = entry.comparison.entry.when
        for one in entry.comparison.measures:
            points = [point for point in chart_points(tail, one.measure) if point.start is not None]
            at = sum(point.start is not None and point.start < when for point in points)
            if (one.measure, at) in drawn:  # another job of the same stop shows the same flights
                continue
            drawn.add((one.measure, at))
            near = points[max(0, at - FLIGHTS_SHOWN) : at + FLIGHTS_SHOWN]
            if near:
                charts[when, one.measure] = trend_svg(
                    one.measure, near, None, limits_of(tail, one.measure), [(when, "work")], _levels(one)
                )
    return charts


def _levels(one: Compared) -> list[tuple[datetime, datetime, float]]:
    if one.difference is None:
        return []
    sides = ((one.before, one.difference.before), (one.after, one.difference.after))
    return [(span.first, span.last, level.value) for span, level in sides if span is not None]


def entry_sheet(work: WorkOfDay, charts: Mapping[tuple[datetime, str], str], made: date) -> Sheet:
    """The document of one day's entries.

    Parameters
    ----------
    work : what was done that day
    charts : of ``drawn_entries``
    made : the day that the sheet carries
    """
    parts: list[Part] = []
    for entry in work.entries:
        parts += _entry(work.tail, entry, charts)
    parts += [
        Paragraph(f"{SURE} {ORIGIN}", small=True),
        Cautions(CAUTIONS),
    ]
    return Sheet(f"{work.tail}: did the work of {work.when:%Y-%m-%d} help?", made, with_form(parts))


def _entry(tail: str, one: EntryWithSymptoms, charts: Mapping[tuple[datetime, str], str]) -> list[Part]:
    comparison = one.comparison
    when = comparison.entry.when
    drawn = tuple(
        Chart(charts[when, own.measure], f"{MEASURE_LABELS[own.measure]} around the work", captioned=False)
        for own in comparison.measures
        if (when, own.measure) in charts
    )
    parts: list[Part] = [
        Heading(work_words(comparison.entry), 2, comparison.verdict),
        Facts((("Aircraft", tail), ("Done", f"{when:%Y-%m-%d %H:%M}"))),
        Paragraph(VERDICTS[comparison.verdict]),
    ]
    if comparison.measures:
        parts.append(_table(comparison.measures))
    if says := found_words(comparison.findings):
        parts.append(Paragraph(says))
    if one.symptoms:
        parts += _symptoms(one.symptoms)
    return parts + ([Charts(drawn), Paragraph(KEY, small=True)] if drawn else [])


def _table(measures: Sequence[Compared]) -> Table:
    rows = []
    for one in measures:
        before = after = change = "–"
        if told := one.difference:
            before, after = (with_unit(level.value, level.unit) for level in (told.before, told.after))
            change = change_words(one)
        flights = f"before: {span_words(one.before)}; after: {span_words(one.after)}"
        rows.append((MEASURE_LABELS[one.measure], one.verdict, before, after, change, flights, one.measure))
    head = ("Measure", "Verdict", "Before", "After", "Change (95 % interval)", "From", "Reference")
    return Table(head, tuple(rows), (0, 0, 0, 0, 0, 1, 0))


def _symptoms(symptoms: Sequence[Mapping[str, Any]]) -> list[Part]:
    seen, others = symptoms_around(symptoms)
    rows = tuple((one["title"], side_words(one["before"]), side_words(one["after"]), one["symptom"]) for one in seen)
    table = Table(("Symptom", "Before the work", "After the work", "Reference"), rows, (3, 4, 4, 2))
    return [
        Heading("The symptom before and after", 3),
        *([table] if rows else []),
        Paragraph(" ".join([*others, NOT_SEEN]), small=True),
    ]
