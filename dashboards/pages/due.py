"""Page /due: what falls due of each aircraft and when, and the same as a calendar. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash
from dash import dcc, html

from analyzer.phrases import counted
from analyzer.reports.due_words import DEFERS, due_words, not_known
from analyzer.service.due_result import Due, DueList, DueState
from dashboards.app import kept_here
from dashboards.error_notices import in_words
from dashboards.parts import crumbs, explained, nothing_here, page, section, table


@in_words
def layout(**query: str) -> html.Div:
    """What falls due in the fleet or of one aircraft; with nothing kept, how to begin."""
    kept, tail = kept_here(), query.get("tail", "").strip().upper()
    if kept.empty:
        return page("due", "What is due", nothing_here("No flights yet; first ", dcc.Link("import", "/bring-in")))
    if tail and tail not in kept.names():
        link = dcc.Link("See all aircraft.", href="/")
        return page("due", "What is due", nothing_here(f"No flight of {tail} is imported.", link))
    due = kept.due(tail or None)
    known = [one for one in due.items if one.state is not DueState.UNKNOWN]
    return page(
        "due",
        f"What is due on {tail}" if tail else "What is due",
        crumbs(("Fleet", "/"), (tail, f"/aircraft/{tail}"), ("What is due", None)) if tail else None,
        section("The most urgent first", *_listed(known), _calendar(tail, known), name="due-list"),
        *_not_known(due),
        html.P([DEFERS, " ", explained("Which intervals", "due_list"), "."], className="note"),
        lead=_lead(due, known),
    )


dash.register_page(__name__, path="/due", title="taper: what is due", layout=layout)


def _lead(due: DueList, known: Sequence[Due]) -> str:
    now, soon = (sum(one.state is state for one in known) for state in (DueState.OVERDUE, DueState.SOON))
    return f"{now} due now, {soon} soon; {counted(len(due.tails), 'aircraft', 'aircraft')}, as of {due.as_of:%Y-%m-%d}."


def _listed(known: Sequence[Due]) -> list[Any]:
    if not known:
        return [html.P("No due date is known.")]
    rows = []
    for one in known:
        told = due_words(one)
        when = html.Strong(told.when) if one.state is not DueState.LATER else told.when
        rows.append((dcc.Link(one.tail, href=f"/aircraft/{one.tail}"), when, told.title, told.why))
    return [table(("Aircraft", "When", "What", "Why then"), rows, "What is due, the most urgent first", "free")]


def _calendar(tail: str, known: Sequence[Due]) -> Any:
    if not known:
        return None
    href = f"/due.ics?tail={tail}" if tail else "/due.ics"
    return html.P(html.A("Calendar file", href=href, className="show"), className="sheet-links no-print")


def _not_known(due: DueList) -> list[Any]:
    """What is not known and what to enter, with the way there; nothing where all is known."""
    told = [
        html.Li([html.Strong(f"{one.title}: "), f"{one.why} ", *_settings_of(one.tails)])
        for one in not_known(due.items)
    ]
    return [section("Not known", html.Ul(told, className="told"), name="due-unknown")] if told else []


def _settings_of(tails: Sequence[str]) -> list[Any]:
    links: list[Any] = ["Settings of "]
    for place, tail in enumerate(tails):
        links += [", " if place else "", dcc.Link(tail, href=f"/settings?tail={tail}")]
    return [*links, "."]
