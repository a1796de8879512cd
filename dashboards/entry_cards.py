"""Did it help: one card an entry, with the verdict, what it rests on, and a name of its own to link to."""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import urlencode

from dash import dcc, html

from analyzer.limits import limit_value
from analyzer.phrases import counted
from analyzer.reports.trend_words import change_words, difference_words, found_words
from analyzer.reports.wording import MEASURE_LABELS
from analyzer.squawk.around_work import symptoms_of_work
from analyzer.trends.comparison import Comparison, MeasureVerdict, WorkVerdict
from analyzer.trends.entries import Entry, kinds
from dashboards.attributes import aria
from dashboards.flight_words import day_words
from dashboards.kept import TailView
from dashboards.parts import explained, sheet_links, table

#: Verdict on an entry -> look of its badge, its mark, and the answer in words.
ANSWERS = {
    WorkVerdict.HELPED: ("good", "✓", "It helped"),
    WorkVerdict.CHANGED: ("advisory", "●", "Something changed, not clearly for the better"),
    WorkVerdict.DID_NOT_HELP: ("caution", "◆", "It did not help"),
    WorkVerdict.CAME_BACK: ("caution", "◆", "It helped, then came back"),
    WorkVerdict.NEW: ("caution", "◆", "New after the work"),
    WorkVerdict.NOT_FOUND_AGAIN: ("advisory", "○", "Not found again so far"),
    WorkVerdict.NO_CHANGE: ("advisory", "=", "No change in what is measured"),
    WorkVerdict.TOO_FEW: ("unknown", "?", "Too few flights yet to tell"),
    WorkVerdict.NOTHING_TO_COMPARE: ("unknown", "?", "Nothing to compare"),
}
#: What a measure that moved did.
MOVED = {MeasureVerdict.HELPED: "better", MeasureVerdict.WORSE: "worse", MeasureVerdict.CHANGED: "changed"}
#: Verdicts that the findings around the work may have given.
BY_FINDINGS = (
    WorkVerdict.HELPED,
    WorkVerdict.CAME_BACK,
    WorkVerdict.NEW,
    WorkVerdict.DID_NOT_HELP,
    WorkVerdict.NOT_FOUND_AGAIN,
)


def entry_anchor(when: datetime, kind: str) -> str:
    """The name of an entry's card in addresses."""
    return f"entry-{when:%Y-%m-%d-%H%M}-{kind.replace('_', '-')}"


def entry_badge(verdict: WorkVerdict) -> html.Span:
    """The verdict on an entry by mark, words and colour."""
    look, mark, words = ANSWERS[verdict]
    return html.Span([html.Span(mark, **aria(hidden="true")), " ", words], className=f"badge {look}")


def entry_card(view: TailView, one: Comparison) -> html.Article:
    """One entry: what was done, whether it helped, and the flights before and after it."""
    entry, tail = one.entry, view.result.tail
    what, says, found = kinds()[entry.kind].words, what_it_rests_on(one), found_words(one.findings)
    return html.Article(
        [
            html.H3([entry_badge(one.verdict), html.Span(f"{day_words(entry.when)}: {what}")]),
            html.P(html.Q(entry.words)) if entry.words else None,
            html.P(says, className="answer") if says else None,
            _measures(one) if one.measures else None,
            html.P(found, className="evidence") if found and found not in says else None,
            _symptoms_link(tail, entry),
            sheet_links(f"entry/{tail}/{entry.when.isoformat()}"),
        ],
        id=entry_anchor(entry.when, entry.kind),
        className="finding entry",
    )


def what_it_rests_on(one: Comparison) -> str:
    """The measures that moved, in one sentence; how many flights are missing where it is too early to say."""
    said = [
        f"{MEASURE_LABELS[own.measure].lower()} went from {difference_words(own.difference)} ({MOVED[own.verdict]})"
        for own in one.measures
        if own.verdict.moved and own.difference is not None
    ]
    if said:
        together = "; ".join(said)
        return f"{together[0].upper()}{together[1:]}."
    came_back = one.verdict is not WorkVerdict.DID_NOT_HELP or any(own.before and own.after for own in one.findings)
    if one.findings and came_back and one.verdict in BY_FINDINGS:
        unsure = " Too few flights to be sure." if one.verdict is WorkVerdict.NOT_FOUND_AGAIN else ""
        return f"{found_words(one.findings)}{unsure}"
    if one.verdict in (WorkVerdict.DID_NOT_HELP, WorkVerdict.NO_CHANGE):
        return "No measure that this work can change moved by more than its scatter from flight to flight."
    if one.verdict is WorkVerdict.NOTHING_TO_COMPARE:
        return "No flight measured anything that this work can change."
    after = [own.flights_after for own in one.measures if own.verdict is MeasureVerdict.TOO_FEW]
    after += [own.flights_after for own in one.findings if own.before]
    fewest = min(after, default=0)
    return (
        f"{counted(fewest, 'flight')} since then {'measures' if fewest == 1 else 'measure'} what there is to compare."
    )


def _measures(one: Comparison) -> html.Div:
    rows = []
    for own in one.measures:
        flights = f"{own.flights_before} / {own.flights_after}"
        ends = ("", "") if own.difference is None else (difference_words(own.difference), change_words(own))
        label = explained(MEASURE_LABELS[own.measure], own.measure)
        rows.append((label, html.Strong(own.verdict), *ends, flights))
    head = ("Measure", "Result", "Before to after", "Change (95 % interval)", "Flights before / after")
    return table(head, rows, f"Measures before and after the entry of {one.entry.when:%Y-%m-%d}", "free")


def _symptoms_link(tail: str, entry: Entry) -> html.P | None:
    """To the symptoms that the work was done for, looked up on both sides of it."""
    symptoms = symptoms_of_work(entry.kind)
    if not symptoms:
        return None
    around = timedelta(days=limit_value("squawk_look_back"))
    period = {"since": f"{entry.when - around:%Y-%m-%d}", "until": f"{entry.when + around:%Y-%m-%d}"}
    query = urlencode({"tail": tail, "symptom": ",".join(symptoms), **period})
    link = dcc.Link("Its symptoms before and after", href=f"/squawk?{query}", className="show")
    return html.P(link, className="sheet-links no-print")
