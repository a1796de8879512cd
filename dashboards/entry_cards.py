"""Did it help: one card an entry, with the verdict, what it rests on, and a name of its own to link to."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from dash import dcc, html

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.reports.entry_text import found_words
from analyzer.reports.wording import MEASURE_LABELS, number, unit_shown
from analyzer.squawk.around_work import symptoms_of_work
from analyzer.trends.entries import kinds
from analyzer.trends.series import BY_MEASURE
from dashboards.flight_words import day_words
from dashboards.kept import TailView
from dashboards.parts import explained, sheet_links, table

#: Verdict on an entry -> look of its badge, its mark, and the answer in words.
ANSWERS = {
    "helped": ("good", "✓", "It helped"),
    "changed": ("advisory", "●", "Something changed, neither better nor worse"),
    "did not help": ("caution", "◆", "It did not help"),
    "not found again": ("advisory", "○", "Not found again so far"),
    "no change": ("advisory", "=", "No change in what is measured"),
    "too few flights yet": ("unknown", "?", "Too few flights yet to tell"),
    "nothing to compare": ("unknown", "?", "Nothing to compare"),
}


def entry_anchor(when: datetime, kind: str) -> str:
    """The name of an entry's card in addresses."""
    return f"entry-{when:%Y-%m-%d-%H%M}-{kind.replace('_', '-')}"


def entry_badge(verdict: str) -> html.Span:
    """The verdict on an entry by mark, words and colour."""
    look, mark, words = ANSWERS[verdict]
    return html.Span([html.Span(mark, **{"aria-hidden": "true"}), " ", words], className=f"badge {look}")


def entry_card(view: TailView, entry: dict[str, Any]) -> html.Article:
    """One entry: what was done, whether it helped, and the flights before and after it."""
    when = datetime.fromisoformat(entry["when"])
    what, says, found = kinds()[entry["kind"]].words, what_it_rests_on(entry), found_words(entry["findings"])
    return html.Article(
        [
            html.H3([entry_badge(entry["verdict"]), html.Span(f"{day_words(when)}: {what}")]),
            html.P(html.Q(entry["words"])) if entry["words"] else None,
            html.P(says, className="answer") if says else None,
            _measures(entry) if entry["measures"] else None,
            html.P(found, className="evidence") if found and found not in says else None,
            _symptoms_link(view.review["tail"], entry, when),
            sheet_links(f"entry/{view.review['tail']}/{entry['when']}"),
        ],
        id=entry_anchor(when, entry["kind"]),
        className="finding entry",
    )


def what_it_rests_on(entry: dict[str, Any]) -> str:
    """The measures that moved, in one sentence; how many flights are missing where it is too early to say."""
    moved = [one for one in entry["measures"] if one["verdict"] in ("helped", "worse", "changed")]
    if moved:
        words = {"helped": "better", "worse": "worse", "changed": "changed"}
        said = [
            f"{MEASURE_LABELS[one['measure']].lower()} went from {ends_words(one)} ({words[one['verdict']]})"
            for one in moved
        ]
        together = "; ".join(said)
        return f"{together[0].upper()}{together[1:]}."
    came_back = entry["verdict"] != "did not help" or any(one["before"] and one["after"] for one in entry["findings"])
    if entry["findings"] and came_back and entry["verdict"] in ("helped", "did not help", "not found again"):
        unsure = " Too few flights to be sure." if entry["verdict"] == "not found again" else ""
        return f"{found_words(entry['findings'])}{unsure}"
    if entry["verdict"] in ("did not help", "no change"):
        return "No measure that this work can change has moved by more than its scatter from flight to flight."
    if entry["verdict"] == "nothing to compare":
        return "No flight carries a measure that this work can change."
    counted = [one["flights_after"] for one in entry["measures"] if one["verdict"] == "too few flights yet"]
    counted += [one["flights_after"] for one in entry["findings"] if one["before"]]
    fewest = min(counted, default=0)
    return f"{fewest} flights since then carry what there is to compare."


def ends_words(one: dict[str, Any]) -> str:
    """A measure before and after, "14.43 to 13.97 V"."""
    unit = MEASURES[one["measure"]]
    return f"{number(one['before'], unit)} to {number(one['after'], unit)} {unit_shown(unit)}".strip()


def change_words(one: dict[str, Any]) -> str:
    """The change with its 95 % interval, in the measure's unit, or in per cent where it is a factor."""
    if BY_MEASURE[one["measure"]].logarithmic:
        change, low, high = (f"{100.0 * (one[key] - 1.0):+.0f}" for key in ("change", "low", "high"))
        return f"{change} % ({low} to {high} %)"
    unit = MEASURES[one["measure"]]
    change, low, high = (number(one[key], unit) for key in ("change", "low", "high"))
    return f"{change} ({low} to {high}) {unit_shown(unit)}".strip()


def _measures(entry: dict[str, Any]) -> html.Div:
    rows = []
    for one in entry["measures"]:
        flights = f"{one['flights_before']} / {one['flights_after']}"
        ends = ("", "") if one["before"] is None else (ends_words(one), change_words(one))
        rows.append(
            (explained(MEASURE_LABELS[one["measure"]], one["measure"]), html.Strong(one["verdict"]), *ends, flights)
        )
    head = ("Measure", "Came of it", "Before to after", "Change (95 % interval)", "Flights before / after")
    return table(head, rows, f"Measures before and after the entry of {entry['when'][:10]}", "free")


def _symptoms_link(tail: str, entry: dict[str, Any], when: datetime) -> html.P | None:
    """To the symptoms that the work was done for, looked up on both sides of it."""
    symptoms = symptoms_of_work(entry["kind"])
    if not symptoms:
        return None
    around = timedelta(days=limit_value("squawk_look_back"))
    period = {"since": f"{when - around:%Y-%m-%d}", "until": f"{when + around:%Y-%m-%d}"}
    query = urlencode({"tail": tail, "symptom": ",".join(symptoms), **period})
    link = dcc.Link("Its symptoms before and after", href=f"/squawk?{query}", className="show")
    return html.P(link, className="sheet-links no-print")
