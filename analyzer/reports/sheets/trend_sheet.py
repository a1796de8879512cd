"""The sheet of an aircraft over its flights: what stands open, each measure, what maintenance did."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from analyzer.phrases import counted, signed
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
from analyzer.reports.sheets.shop import MARKS, cause_table, check_list, with_form
from analyzer.reports.sheets.traceability import EXPLAINED
from analyzer.reports.trend_words import (
    at_words,
    cold_words,
    difference_words,
    flight_of,
    lapsed_words,
    latest_words,
    outlook_words,
    past_words,
    raised_words,
    record_words,
    standing_words,
    unlogged_asks,
    unlogged_rests_on,
    work_words,
)
from analyzer.reports.wording import (
    MEASURE_LABELS,
    condition_words,
    finding_label,
    number,
    system_words,
    unit_shown,
    with_unit,
)
from analyzer.trends.judging import TrendFinding
from analyzer.trends.tail_result import TailResult

if TYPE_CHECKING:
    from analyzer.trends.history import History

#: Aircraft that get pages of their own in one document; the index names all.
MOST_TAILS = 40
#: Of one aircraft: open findings told in full, charts, and lines of each list.
FINDINGS_SHOWN, CHARTS_SHOWN, LINES_SHOWN = 3, 6, 8
CAUSES_OF_EACH, CHECKS_OF_EACH = 3, 4
ORIGIN = (
    f"Where a number comes from: the flights between the days named beside it, and {EXPLAINED}. Values in brackets are "
    "95 % intervals; slopes and levels are corrected for weather and load; weights of causes are judgement, not "
    "counted statistics."
)


@dataclass(frozen=True, slots=True)
class DrawnTail:
    """What a sheet shows of a tail beside its result."""

    first: datetime | None  # start of its first and last flight
    last: datetime | None
    charts: Mapping[str, str]  # measure -> SVG
    since: Mapping[str, tuple[datetime | None, datetime | None]]  # measure -> first and last of its flights now


def drawn_tail(history: History, result: TailResult) -> DrawnTail:
    """Draw every measure of a tail that some flight carries."""
    from analyzer.reports.sheets.trend_plot import limits_of, trend_svg
    from analyzer.trends.chart import chart_points
    from analyzer.trends.followed_tail import follow_tail

    tail = follow_tail(history)
    entries = [(entry.when, str(place)) for place, entry in enumerate(history.entries, 1)]
    charts, since = {}, {}
    for measure, trend in result.trends.items():
        points = chart_points(tail, measure)
        if points:
            charts[measure] = trend_svg(measure, points, trend, limits_of(tail, measure), entries)
            since[measure] = _span([point.start for point in points if point.stretch == points[-1].stretch])
    return DrawnTail(*_span(history.begun), charts, since)


def _span(starts: Sequence[datetime | None]) -> tuple[datetime | None, datetime | None]:
    """First and last start of those known."""
    known = [start for start in starts if start is not None]
    return (known[0], known[-1]) if known else (None, None)


def trend_sheet(tails: Sequence[tuple[TailResult, DrawnTail]], made: date) -> Sheet:
    """The document of one aircraft, or of several with an index first.

    Parameters
    ----------
    tails : each tail's result, and its drawings
    made : the day that the sheet carries
    """
    if len(tails) == 1:
        return Sheet(_title(*tails[0]), made, with_form(_tail_parts(*tails[0])))
    parts = _index(tails)
    for one in tails[:MOST_TAILS]:
        parts += [NewPage(), Heading(_title(*one)), *with_form(_tail_parts(*one))]
    return Sheet(f"Trends of {len(tails)} aircraft", made, tuple(parts))


def _title(result: TailResult, drawn: DrawnTail) -> str:
    return f"{result.tail}: trends over {counted(result.flights, 'flight')}, {_days(drawn.first, drawn.last)}"


def _days(first: datetime | None, last: datetime | None) -> str:
    return "none dated" if first is None or last is None else f"{first:%Y-%m-%d} to {last:%Y-%m-%d}"


def _index(tails: Sequence[tuple[TailResult, DrawnTail]]) -> list[Part]:
    rows = [
        (one.tail, condition_words(one.condition), f"{one.flights}, {one.hours:.1f} h", _days(drawn.first, drawn.last),
         ", ".join(finding_label(found.name) for found in one.open_findings) or "none open")
        for one, drawn in tails
    ]  # fmt: skip
    parts: list[Part] = [
        Table(
            ("Aircraft", "Condition", "Flights", "From first to last", "Open findings"), tuple(rows), (0, 0, 0, 0, 1)
        ),
        Cautions(CAUTIONS),
    ]
    if len(tails) > MOST_TAILS:
        parts.insert(1, Paragraph(f"The first {MOST_TAILS} follow with pages of their own; name the tails you want."))
    return parts


def _tail_parts(result: TailResult, drawn: DrawnTail) -> list[Part]:
    return [
        Facts(
            (
                ("Aircraft", result.tail),
                ("Condition", condition_words(result.condition)),
                ("Flights", f"{result.flights}, {result.hours:.1f} engine hours"),
                ("System", system_words(result.nominal_voltage)),
            )
        ),
        *(Paragraph(sentence) for sentence in result.order),
        Heading("Open findings"),
        *_still_open(result),
        Heading("Each measure now, and where it is heading"),
        *_trends(result, drawn),
        *_charts(result, drawn),
        *_steps(result),
        *_entries(result),
        *_past(result),
        Paragraph(ORIGIN, small=True),
        Cautions(CAUTIONS),
    ]


def _latest(result: TailResult) -> list[Part]:
    words = latest_words(result.in_latest_flights)
    return [Paragraph(f"{words[0].upper()}{words[1:]}.")] if words else []


def _still_open(result: TailResult) -> list[Part]:
    found = result.open_findings
    if not found:
        nothing = "No finding is open. Not recorded does not mean it did not happen."
        return _latest(result) or [Paragraph(nothing)]
    parts: list[Part] = _latest(result)
    shown = list(zip(MARKS, found[:FINDINGS_SHOWN], strict=False))
    for mark, one in shown:
        numbers = trend_evidence_words(one) or "in the words above"
        parts += [
            Heading(f"{mark}. {finding_label(one.name)}", 3, one.severity),
            Paragraph(one.says),
            Paragraph(f"Numbers behind it: {numbers}. From {_since(one)}; reference: {one.name}.", small=True),
        ]
    if len(found) > len(shown):
        more = ", ".join(f"{one.severity}: {finding_label(one.name)}" for one in found[FINDINGS_SHOWN:])
        parts.append(Paragraph(f"Also open: {more}."))
    marks = [(mark if len(shown) > 1 else "", one) for mark, one in shown]
    parts += [Heading("Likely causes"), *cause_table([(mark, one.likely) for mark, one in marks], CAUSES_OF_EACH)]
    checks = check_list([(mark, one.check) for mark, one in marks], CHECKS_OF_EACH)
    return [*parts, *([Heading("What to check on the ground, in order"), *checks] if checks else [])]


def _since(finding: TrendFinding) -> str:
    """The flights that a finding rests on, and that at which it was raised."""
    since = f"{finding.began:%Y-%m-%d}" if finding.began else f"flight {finding.began_flight + 1}"
    raised = [
        f"at the flight of {one.start:%Y-%m-%d %H:%M}" if one.start else at_words(None, one.flight)
        for one in finding.raisings
    ]
    return f"the flights since {since}, raised {', again '.join(raised)}"


def _trends(result: TailResult, drawn: DrawnTail) -> list[Part]:
    rows, none = [], []
    for measure, trend in result.trends.items():
        unit, label, now = trend.unit, MEASURE_LABELS[measure], trend.now
        if now is None:
            none.append(f"{label.lower()}: {trend.because}")
            continue
        if (found := now.slope) is None:
            none.append(f"{label.lower()}: {with_unit(now.level, unit)} now{past_words(trend)}, {trend.because}")
            continue
        told, low, high = (signed(round(one, 4)) for one in (found.per_100_h, found.low, found.high))
        slope = f"{told} {unit_shown(unit)} ({low} to {high})"
        origin = f"{trend.points_since} flights, {_days(*drawn.since[measure])}"
        goes = [words for words in (outlook_words(now, unit), record_words(trend.record)) if words]
        rows.append((label, with_unit(now.level, unit), slope, "; ".join(goes), origin, measure))
    head = ("Measure", "Now", "Per 100 h", "Where it is heading", "From", "Reference")
    parts: list[Part] = [Table(head, tuple(rows), (0, 0, 0, 1, 0, 0))] if rows else []
    if cold := cold_words(result.cold):
        parts.append(Paragraph(cold, small=True))
    if result.standing.loss is not None:
        parts.append(Paragraph(standing_words(result.standing), small=True))
    return parts + ([Paragraph(f"No slope can be given: {'; '.join(none)}.", small=True)] if none else [])


def _charts(result: TailResult, drawn: DrawnTail) -> list[Part]:
    """The measures that move first, then the others."""
    from analyzer.reports.sheets.trend_plot import KEY

    def calm(measure: str) -> bool:
        trend = result.trends[measure]
        return not (trend.changes or (trend.now is not None and trend.now.moves))

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


def _steps(result: TailResult) -> list[Part]:
    rows = [
        (at_words(change.start, change.flight), MEASURE_LABELS[measure], number(change.before, trend.unit),
         with_unit(change.after, trend.unit), measure)
        for measure, trend in result.trends.items()
        for change in trend.changes
    ]  # fmt: skip
    if not rows:
        return []
    rows.sort(reverse=True)
    table = Table(
        ("At the flight of", "Measure", "From", "To", "Reference"), tuple(rows[:LINES_SHOWN]), (0, 1, 0, 0, 0)
    )
    return [Heading("Steps"), table, *_more(len(rows), "step")]


def _entries(result: TailResult) -> list[Part]:
    """Maintenance done, the latest first, each with what came of it; its number is its mark on the charts."""
    asked = [Paragraph(f"{unlogged_asks(one)} {unlogged_rests_on(one)}", small=True) for one in result.unlogged]
    rows = []
    for place, comparison in enumerate(result.comparisons, 1):
        told = [
            f"{MEASURE_LABELS[one.measure].lower()} {difference_words(one.difference)} "
            f"({one.verdict}; {counted(one.flights_before, 'flight')} before, {one.flights_after} after)"
            for one in comparison.measures
            if one.difference is not None
        ]
        day, done = f"{comparison.entry.when:%Y-%m-%d}", work_words(comparison.entry)
        rows.append((str(place), day, done, comparison.verdict, "; ".join(told)))
    if not rows:
        return [Heading("Maintenance that nobody logged"), *asked] if asked else []
    shown = tuple(reversed(rows))[:LINES_SHOWN]
    table = Table(("No.", "When", "Done", "Did it help", "Before and after"), shown, (0, 0, 2, 0, 4))
    return [Heading("Maintenance, and whether it helped"), table, *_more(len(rows), "entry"), *asked]


def _past(result: TailResult) -> list[Part]:
    told = [
        f"{finding_label(one.name)}, {raised_words(one)}, {lapsed_words(one)}"
        for one in result.past_findings[-LINES_SHOWN:]
    ]
    odd = [
        f"{flight_of(one.start, one.flight)}: "
        + ", ".join(f"{MEASURE_LABELS[name].lower()} {away:+.1f}" for name, away in one.measures.items())
        for one in result.unlike[-LINES_SHOWN:]
    ]
    parts: list[Part] = [Paragraph(f"Past findings: {'; '.join(told)}.", small=True)] if told else []
    parts += _more(len(result.past_findings), "past finding")
    says = f"Outlier flights, no rule fits; standard deviations off: {'; '.join(odd)}."
    return [*parts, *([Paragraph(says, small=True)] if odd else []), *_more(len(result.unlike), "outlier flight")]


def _more(count: int, thing: str) -> list[Part]:
    left = count - LINES_SHOWN
    return [Paragraph(f"Left out here: {counted(left, f'more earlier {thing}')}.", small=True)] if left > 0 else []
