"""Page /changes: who changed what, when, and what stood there before. Layout and wiring only."""

from __future__ import annotations

from typing import Any

import dash
from dash import dcc, html

from analyzer.records.changes import Change
from analyzer.records.people import Role
from analyzer.reports.change_words import DAMAGED, about_words, done_words, what_differs
from dashboards.app import kept_here
from dashboards.error_notices import in_words
from dashboards.parts import AS_SEEN, nothing_here, page, section, table
from dashboards.signing_in import person_here

#: Lines on one page.
SHOWN = 40


@in_words
def layout(**query: str) -> html.Div:
    """The newest changes of all aircraft or of one, and the way to older ones and to all of them as a file."""
    kept = kept_here()
    if kept.empty:
        return page("change-log", "Changes", nothing_here("Nothing is imported yet, so nothing was changed."))
    tail, before = query.get("tail", "").upper(), query.get("before", "")
    number = int(before) if before.isdecimal() and len(before) < 18 else None
    found = kept.changes(tail or None, SHOWN + 1, number)
    rows = [(_when(one.at), one.who, one.role, done_words(one), one.tail or "", _differs(one)) for one in found[:SHOWN]]
    of = f"?tail={tail}&" if tail else "?"
    links: list[Any] = [html.A("All of them as a CSV file", href="/changes.csv", className="show")]
    if len(found) > SHOWN:
        links.append(dcc.Link("Older ones", href=f"/changes{of}before={found[SHOWN - 1].id}", className="show"))
    head = ("When (UTC)", "Who", "Role", "What", "Aircraft", "Before and after")
    return page(
        "change-log",
        "Changes" + (f" to {tail}" if tail else ""),
        section(
            "Who changed what",
            table(head, rows, "Changes, the newest first", "free") if rows else html.P("None."),
            html.P(links, className="sheet-links no-print"),
            name="changes-list",
        ),
        *_signed_in(),
        lead="Every change is noted here when it is made; no line is ever changed or removed.",
    )


def _signed_in() -> list[html.Section]:
    """Who signed in or tried to, for a manager; nothing for others, nor where nobody ever did."""
    found = kept_here().sign_ins() if person_here().role >= Role.MANAGER else []
    if not found:
        return []
    rows = [(_when(one.at), one.what, one.who, one.address) for one in found[:SHOWN]]
    return [
        section(
            "Who signed in",
            table(("When (UTC)", "What", "Account", "From"), rows, "Those who signed in or tried to, the newest first"),
            html.P(
                html.A("All of them as a CSV file", href="/sign-ins.csv", className="show"), className="sheet-links"
            ),
            name="changes-sign-ins",
        )
    ]


def _when(at: str) -> html.Time:
    return html.Time(f"{at[:10]} {at[11:16]}", dateTime=at)


def _differs(one: Change) -> Any:
    """What differs; of what was added or removed whole the parts are folded."""
    told: Any = _lines(one)
    if one.damaged:
        told = html.Div([html.Strong(DAMAGED), told])
    if one.before and one.after:
        return told
    return html.Details([html.Summary(about_words(one)), told], className=AS_SEEN)


def _lines(one: Change) -> html.Ul:
    return html.Ul(
        [
            html.Li([f"{part.label}: ", html.Del(part.before) if part.before else None, " ", part.after])
            for part in what_differs(one)
        ],
        className="plain",
    )


dash.register_page(__name__, path="/changes", title="taper: changes", layout=layout)
