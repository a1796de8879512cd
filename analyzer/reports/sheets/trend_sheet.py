"""The sheet of an aircraft over its flights: what stands open, each measure, what maintenance did."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from analyzer.phrases import counted
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.evidence import trend_evidence_words
from analyzer.reports.sheets.document import (
    Cautions,
    Chart,
    Charts,
    Facts,
    Heading,
    NewPage,
    Paragraph,
    Part,
    Sheet,
    Table,
)  # fmt: skip
from analyzer.reports.sheets.shop import FORM, MARKS, cause_table, check_list
from analyzer.reports.sheets.traceability import EXPLAINED
from analyzer.reports.wording import (
    MEASURE_LABELS,
    at_words,
    causes_of,
    finding_label,
    flight_of,
    lapsed_words,
    latest_words,
    number,
    raised_words,
    system_words,
    unit_shown,
)
from analyzer.trends.open_findings import is_open

if TYPE_CHECKING:
    from analyzer.trends.history import History

#: Aircraft that get pages of their own in one document; the index names all.
MOST_TAILS = 40
#: Of one aircraft: open findings told in full, charts, and lines of each list.
FINDINGS_SHOWN, CHARTS_SHOWN, LINES_SHOWN = 3, 6, 8
CAUSES_OF_EACH, CHECKS_OF_EACH = 3, 4
ORIGIN = (
    f"Where a number comes from: the flights between the days named beside it, and {EXPLAINED}. Values in brackets are "
    "95 % intervals; weather and load are taken out of slopes and levels; weights of causes are judgement, not counted "
    "statistics."
)


@dataclass(frozen=True, slots=True)
class DrawnTail:
    """What a sheet shows of a tail and its JSON does not hold."""

    first: datetime | None  # start of its first and last flight
    last: datetime | None
    charts: Mapping[str, str]  # measure -> SVG
    since: Mapping[str, tuple[datetime | None, datetime | None]]  # measure -> first and last of its flights now


def drawn_tail(history: History, document: Mapping[str, Any]) -> DrawnTail:
    """Draw every measure of a tail that some flight carries."""
    from analyzer.reports.sheets.trend_plot import limits_of, trend_svg
    from analyzer.trends.chart import chart_points
    from analyzer.trends.tail import follow_tail

    tail = follow_tail(history)
    entries = [(entry.when, str(place)) for place, entry in enumerate(history.entries, 1)]
    charts, since = {}, {}
    for measure, trend in document["trends"].items():
        points = chart_points(tail, measure)
        if points:
            charts[measure] = trend_svg(measure, points, trend, limits_of(tail, measure), entries)
            since[measure] = _span([point.start for point in points if point.stretch == points[-1].stretch])
    return DrawnTail(*_span(history.begun), charts, since)


def _span(starts: Sequence[datetime | None]) -> tuple[datetime | None, datetime | None]:
    """First and last start of those known."""
    known = [start for start in starts if start is not None]
    return (known[0], known[-1]) if known else (None, None)


def trend_sheet(tails: Sequence[tuple[Mapping[str, Any], DrawnTail]], made: date) -> Sheet:
    """The document of one aircraft, or of several with an index first.

    Parameters
    ----------
    tails : each tail's entry of the JSON of ``taper trend``, and its drawings
    made : the day that the sheet carries
    """
    if len(tails) == 1:
        return Sheet(_title(*tails[0]), made, tuple(_tail_parts(*tails[0])))
    parts = _index(tails)
    for one in tails[:MOST_TAILS]:
        parts += [NewPage(), Heading(_title(*one)), *_tail_parts(*one)]
    return Sheet(f"Trends of {len(tails)} aircraft", made, tuple(parts))


def _title(document: Mapping[str, Any], drawn: DrawnTail) -> str:
    return f"{document['tail']}: trends over {document['flights']} flights, {_days(drawn.first, drawn.last)}"


def _days(first: datetime | None, last: datetime | None) -> str:
    return "none dated" if first is None or last is None else f"{first:%Y-%m-%d} to {last:%Y-%m-%d}"


def _index(tails: Sequence[tuple[Mapping[str, Any], DrawnTail]]) -> list[Part]:
    rows = [
        (one["tail"], one["condition"], f"{one['flights']}, {one['hours']:.1f} h", _days(drawn.first, drawn.last),
         ", ".join(finding_label(found["finding"]) for found in _open(one)) or "nothing stands open")
        for one, drawn in tails
    ]  # fmt: skip
    parts: list[Part] = [
        Table(("Aircraft", "Condition", "Flights", "From first to last", "Stands open"), tuple(rows), (0, 0, 0, 0, 1)),
        Cautions(CAUTIONS),
    ]
    if len(tails) > MOST_TAILS:
        parts.insert(1, Paragraph(f"The first {MOST_TAILS} follow with pages of their own; name the tails you want."))
    return parts


def _open(document: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [finding for finding in document["findings"] if is_open(finding)]


def _tail_parts(document: Mapping[str, Any], drawn: DrawnTail) -> list[Part]:
    return [
        Facts(
            (
                ("Aircraft", document["tail"]),
                ("Condition", document["condition"]),
                ("Flights", f"{document['flights']}, {document['hours']:.1f} engine hours"),
                ("System", system_words(document["nominal_voltage"])),
            )
        ),
        *(Paragraph(sentence) for sentence in document["order"]),
        Heading("What stands open"),
        *_standing(document),
        Heading("Each measure now, and where it goes"),
        *_trends(document, drawn),
        *_charts(document, drawn),
        *_steps(document),
        *_entries(document),
        *_past(document),
        Paragraph(ORIGIN, small=True),
        Heading("For the shop"),
        FORM,
        Cautions(CAUTIONS),
    ]


def _latest(document: Mapping[str, Any]) -> list[Part]:
    words = latest_words(document["in_latest_flights"])
    return [Paragraph(f"Latest flights: {words}.")] if words else []


def _standing(document: Mapping[str, Any]) -> list[Part]:
    found = _open(document)
    if not found:
        nothing = "Nothing stands open over these flights. Not recorded does not mean it did not happen."
        return [Paragraph(nothing), *_latest(document)]
    parts: list[Part] = _latest(document)
    shown = list(zip(MARKS, found[:FINDINGS_SHOWN], strict=False))
    for mark, one in shown:
        numbers = trend_evidence_words(one["evidence"])
        parts += [
            Heading(f"{mark}. {finding_label(one['finding'])}", 3, one["severity"]),
            Paragraph(one["says"]),
            Paragraph(
                f"Numbers behind it: {numbers or 'in the words above'}. From {_since(one)}; "
                f"reference: {one['finding']}.",
                small=True,
            ),
        ]
    if len(found) > len(shown):
        more = ", ".join(f"{one['severity']}: {finding_label(one['finding'])}" for one in found[FINDINGS_SHOWN:])
        parts.append(Paragraph(f"Also open: {more}."))
    marks = [(mark if len(shown) > 1 else "", one) for mark, one in shown]
    causes = [(mark, causes_of(one["likely"])) for mark, one in marks]
    parts += [Heading("Likely causes"), *cause_table(causes, CAUSES_OF_EACH)]
    checks = check_list([(m, one["check"]) for m, one in marks], CHECKS_OF_EACH)
    return [*parts, *([Heading("What to check on the ground, in order"), *checks] if checks else [])]


def _since(finding: Mapping[str, Any]) -> str:
    """The flights that a finding rests on, and that at which it was raised."""
    since = finding["start"][:10] if finding["start"] else f"flight {finding['start_flight'] + 1}"
    raised = [(finding["raised_at"], finding["raised_flight"])]
    raised += [(one["at"], one["flight"]) for one in finding["raised_again"]]
    words = [f"at the flight of {at.replace('T', ' ')[:16]}" if at else at_words(None, place) for at, place in raised]
    return f"the flights since {since}, raised {', again '.join(words)}"


def _trends(document: Mapping[str, Any], drawn: DrawnTail) -> list[Part]:
    rows, none = [], []
    for measure, trend in document["trends"].items():
        unit, label = trend["unit"], MEASURE_LABELS[measure]
        if trend["state"] != "measured":
            none.append(f"{label.lower()}: {trend['because']}")
            continue
        ends = f"({trend['low']:+.3g} to {trend['high']:+.3g})"
        slope = f"{trend['slope_per_100h']:+.3g} {unit_shown(unit)} {ends}"
        first, last = drawn.since[measure]
        origin = f"{trend['points_since_anew']} flights, {_days(first, last)}"
        level = f"{number(trend['level'], unit)} {unit_shown(unit)}".strip()
        rows.append((label, level, slope, outlook(trend), origin, measure))
    head = ("Measure", "Now", "Per 100 h", "Where it goes", "From", "Reference")
    parts: list[Part] = [Table(head, tuple(rows), (0, 0, 0, 1, 0, 0))] if rows else []
    return parts + ([Paragraph(f"No trend can be told. {'. '.join(none).capitalize()}.", small=True)] if none else [])


def outlook(trend: Mapping[str, Any]) -> str:
    """Where a measured trend goes, in a few words."""
    if trend["low"] <= 0.0 <= trend["high"]:
        return "no trend"
    if trend["reaches_limit_in_h"] is None:
        return "moves, away from any limit"
    limit = f"{number(trend['limit'], trend['unit'])} {unit_shown(trend['unit'])}"
    if trend["reaches_limit_in_h"] == 0.0:
        return f"past its limit of {limit}"
    ends = f"{trend['earliest_h']:.0f} to {trend['latest_h']:.0f}"
    return f"reaches {limit} in {trend['reaches_limit_in_h']:.0f} h ({ends})"


def _charts(document: Mapping[str, Any], drawn: DrawnTail) -> list[Part]:
    """The measures that move first, then the others."""
    from analyzer.reports.sheets.trend_plot import KEY

    trends = document["trends"]

    def calm(measure: str) -> bool:
        trend = trends[measure]
        moves = trend["state"] == "measured" and not trend["low"] <= 0.0 <= trend["high"]
        return not (moves or trend["changes"])

    order = sorted(drawn.charts, key=calm)
    if not order:
        return []
    charts = tuple(
        Chart(drawn.charts[name], f"{MEASURE_LABELS[name]} over the flights", captioned=False)
        for name in order[:CHARTS_SHOWN]
    )
    left = [MEASURE_LABELS[name].lower() for name in order[CHARTS_SHOWN:]]
    says = KEY + (f" Not drawn here: {', '.join(left)}." if left else "")
    return [Charts(charts), Paragraph(says, small=True)]


def _steps(document: Mapping[str, Any]) -> list[Part]:
    rows = [
        (at_words(change["start"], change["flight"]), MEASURE_LABELS[measure], number(change["from"], trend["unit"]),
         f"{number(change['to'], trend['unit'])} {unit_shown(trend['unit'])}".strip(), measure)
        for measure, trend in document["trends"].items()
        for change in trend["changes"]
    ]  # fmt: skip
    if not rows:
        return []
    rows.sort(reverse=True)
    table = Table(
        ("At the flight of", "Measure", "From", "To", "Reference"), tuple(rows[:LINES_SHOWN]), (0, 1, 0, 0, 0)
    )
    return [Heading("Steps"), table, *_more(len(rows), "step")]


def _entries(document: Mapping[str, Any]) -> list[Part]:
    """Maintenance done, the latest first, each with what came of it; its number is its mark on the charts."""
    rows = []
    for place, entry in enumerate(document["entries"], 1):
        told = [
            f"{MEASURE_LABELS[one['measure']].lower()} {number(one['before'], one['unit'])} to "
            f"{number(one['after'], one['unit'])} {unit_shown(one['unit'])}".strip()
            + f" ({one['verdict']}; {one['flights_before']} flights before, {one['flights_after']} after)"
            for one in entry["measures"]
            if one["before"] is not None
        ]
        rows.append(
            (str(place), entry["when"][:10], entry["words"] or entry["kind"], entry["verdict"], "; ".join(told))
        )
    if not rows:
        return []
    shown = tuple(reversed(rows))[:LINES_SHOWN]
    table = Table(("No.", "When", "Done", "Did it help", "Before and after"), shown, (0, 0, 2, 0, 4))
    return [Heading("Maintenance, and whether it helped"), table, *_more(len(rows), "entry")]


def _past(document: Mapping[str, Any]) -> list[Part]:
    past = [one for one in document["findings"] if not is_open(one)]
    told = [f"{finding_label(one['finding'])}, {raised_words(one)}, {lapsed_words(one)}" for one in past[-LINES_SHOWN:]]
    odd = [
        f"{flight_of(one['start'], one['flight'])}: "
        + ", ".join(f"{MEASURE_LABELS[m['measure']].lower()} {m['deviations']:+.1f}" for m in one["measures"])
        for one in document["unlike_itself"][-LINES_SHOWN:]
    ]
    parts: list[Part] = [Paragraph(f"Past findings: {'; '.join(told)}.", small=True)] if told else []
    says = f"Outlier flights, no rule fits; standard deviations off: {'; '.join(odd)}."
    return parts + ([Paragraph(says, small=True)] if odd else [])


def _more(count: int, thing: str) -> list[Part]:
    left = count - LINES_SHOWN
    return [Paragraph(f"Left out here: {counted(left, f'more earlier {thing}')}.", small=True)] if left > 0 else []
