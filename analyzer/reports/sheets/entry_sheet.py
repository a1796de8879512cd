"""The sheet of maintenance done on a day: did it help, measure by measure, with the flights compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.entry_text import (
    SURE,
    VERDICTS,
    change_words,
    flights_words,
    found_words,
    side_words,
    symptoms_around,
)
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
from analyzer.reports.sheets.shop import FORM
from analyzer.reports.sheets.traceability import EXPLAINED
from analyzer.reports.wording import MEASURE_LABELS, number, unit_shown

if TYPE_CHECKING:
    from analyzer.trends.history import History

ORIGIN = f"Where a number comes from: the flights between the days beside it, and {EXPLAINED}."
#: Flights on either side of an entry that its charts show.
FLIGHTS_SHOWN = 25
KEY = (
    "Rings: as measured, with the 95 % interval; dots: weather and load taken out; thick lines: the values before and "
    "after that were compared; dashed upright: the work; dotted across: the limit."
)


def drawn_entries(history: History, document: Mapping[str, Any]) -> dict[tuple[str, str], str]:
    """Draw each compared measure around each entry: (moment of the entry, measure) -> SVG.

    Parameters
    ----------
    history : the tail's flights and entries
    document : of ``trends.entry_document``
    """
    from analyzer.reports.sheets.trend_plot import limits_of, trend_svg
    from analyzer.trends.chart import chart_points
    from analyzer.trends.tail import follow_tail

    tail = follow_tail(history)
    charts: dict[tuple[str, str], str] = {}
    drawn: set[tuple[str, int]] = set()
    for entry in document["entries"]:
        when = datetime.fromisoformat(entry["when"])
        for one in entry["measures"]:
            points = [point for point in chart_points(tail, one["measure"]) if point.start is not None]
            at = sum(point.start is not None and point.start < when for point in points)
            if (one["measure"], at) in drawn:  # another job of the same stop shows the same flights
                continue
            drawn.add((one["measure"], at))
            near = points[max(0, at - FLIGHTS_SHOWN) : at + FLIGHTS_SHOWN]
            plain = {"unit": one["unit"], "state": "not_measurable", "changes": []}
            if near:
                charts[entry["when"], one["measure"]] = trend_svg(
                    one["measure"], near, plain, limits_of(tail, one["measure"]), [(when, "work")], _levels(one)
                )
    return charts


def _levels(one: Mapping[str, Any]) -> list[tuple[datetime, datetime, float]]:
    found = []
    for side in ("before", "after"):
        ends = one["flights"][side]
        if one[side] is not None and ends:
            first, last = (datetime.fromisoformat(ends[name]) for name in ("first", "last"))
            found.append((first, last, one[side]))
    return found


def entry_sheet(document: Mapping[str, Any], charts: Mapping[tuple[str, str], str], made: date) -> Sheet:
    """The document of one day's entries.

    Parameters
    ----------
    document : of ``trends.entry_document``
    charts : of ``drawn_entries``
    made : the day that the sheet carries
    """
    parts: list[Part] = []
    for entry in document["entries"]:
        parts += _entry(document["tail"], entry, charts)
    parts += [
        Paragraph(f"{SURE} {ORIGIN}", small=True),
        Heading("For the shop"),
        FORM,
        Cautions(CAUTIONS),
    ]
    return Sheet(f"{document['tail']}: did the work of {document['when'][:10]} help?", made, tuple(parts))


def _entry(tail: str, entry: Mapping[str, Any], charts: Mapping[tuple[str, str], str]) -> list[Part]:
    drawn = tuple(
        Chart(
            charts[entry["when"], one["measure"]], f"{MEASURE_LABELS[one['measure']]} around the work", captioned=False
        )
        for one in entry["measures"]
        if (entry["when"], one["measure"]) in charts
    )
    parts: list[Part] = [
        Heading(entry["words"] or entry["kind"].replace("_", " "), 2, entry["verdict"]),
        Facts((("Aircraft", tail), ("Done", entry["when"].replace("T", " ")[:16]))),
        Paragraph(VERDICTS[entry["verdict"]]),
    ]
    if entry["measures"]:
        parts.append(_table(entry["measures"]))
    if says := found_words(entry["findings"]):
        parts.append(Paragraph(says))
    if entry.get("symptoms"):
        parts += _symptoms(entry["symptoms"])
    return parts + ([Charts(drawn), Paragraph(KEY, small=True)] if drawn else [])


def _table(measures: Sequence[Mapping[str, Any]]) -> Table:
    rows = []
    for one in measures:
        unit = unit_shown(one["unit"])
        told = one["before"] is not None
        before, after = (
            f"{number(one[side], one['unit'])} {unit}".strip() if told else "–" for side in ("before", "after")
        )
        flights = "; ".join(f"{side}: {flights_words(one['flights'][side])}" for side in ("before", "after"))
        change = change_words(one) if told else "–"
        rows.append((MEASURE_LABELS[one["measure"]], one["verdict"], before, after, change, flights, one["measure"]))
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
