"""Page /due: what falls due of each aircraft and when, and the same as a calendar. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

import dash
from dash import Input, Output, State, callback, dcc, html

from analyzer.phrases import counted
from analyzer.reports.due_words import DEFERS, asked_words, not_known
from analyzer.reports.waiting_words import CAUTION, waiting_words
from analyzer.service.due_result import Due, DueList, DueState
from dashboards.app import kept_here
from dashboards.background import StillWorkingError
from dashboards.due_rows import DUE_CAPTION, DUE_HEAD, dated, due_cells
from dashboards.error_notices import in_words
from dashboards.parts import (
    OnePage,
    crumbs,
    explained,
    nothing_here,
    of_how_many,
    one_page,
    page,
    pager,
    section,
    table,
)

#: Lines of the list on a page, and aircraft that are linked to by name where something is not known of many.
LINES, LINKS = 50, 20
DUE_PAGE = {"type": "due-page", "of": "due"}
NONE_KNOWN = "No due date is known."


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
    known = dated(due)
    return page(
        "due",
        f"What is due on {tail}" if tail else "What is due",
        crumbs(("Fleet", "/"), (tail, f"/aircraft/{tail}"), ("What is due", None)) if tail else None,
        dcc.Store(id="due-tail", data=tail),
        section("The most urgent first", *_listed(known, tail), _calendar(tail, known), name="due-list"),
        *_asked(due),
        *_not_known(due),
        *_waiting(tail),
        html.P([DEFERS, " ", explained("Which intervals", "due_list"), "."], className="note"),
        lead=_lead(due, known),
    )


dash.register_page(__name__, path="/due", title="taper: what is due", layout=layout)


def _lead(due: DueList, known: Sequence[Due]) -> str:
    now, soon = (sum(one.state is state for one in known) for state in (DueState.OVERDUE, DueState.SOON))
    return f"{now} due now, {soon} soon; {counted(len(due.tails), 'aircraft', 'aircraft')}, as of {due.as_of:%Y-%m-%d}."


def _listed(known: Sequence[Due], tail: str) -> list[Any]:
    if not known:
        return [html.P(NONE_KNOWN)]
    shown = one_page(known, 1, LINES)
    listed = html.Div(_page_of(shown, tail), id="due-lines", role="status")
    return [listed, pager("due", "due", shown, "Pages of what is due")]


def _page_of(shown: OnePage[Due], tail: str) -> list[Any]:
    if not shown.count:
        return [html.P(NONE_KNOWN)]
    rows = [due_cells(one) for one in shown.rows]
    file = f"/due.csv?{urlencode({'tail': tail})}"
    return [*of_how_many(shown), table(DUE_HEAD, rows, DUE_CAPTION, "free", file=file)]


def _calendar(tail: str, known: Sequence[Due]) -> Any:
    if not known:
        return None
    href = f"/due.ics?tail={tail}" if tail else "/due.ics"
    return html.P(html.A("Calendar file", href=href, className="show"), className="sheet-links no-print")


def _asked(due: DueList) -> list[Any]:
    """Batteries that may have been replaced, with the way to log it; nothing where none may."""
    told = [
        html.Li([dcc.Link(one.tail, href=f"/aircraft/{one.tail}#aircraft-entries"), f": {asked_words(one)}"])
        for one in due.asked
    ]
    return [section("To be answered first", html.Ul(told, className="told"), name="due-asked")] if told else []


def _waiting(tail: str) -> list[Any]:
    """What waiting costs the aircraft that is asked about; nothing of the whole fleet."""
    if not tail:
        return []
    try:
        told: Any = html.Ul([html.Li(words) for words in waiting_words(kept_here().waiting(tail))], className="told")
    except StillWorkingError as still:
        told = html.P(str(still), role="status")
    about = html.P([CAUTION, " ", explained("How it is worked out", "waiting"), "."], className="note")
    return [section("What waiting costs", told, about, name="due-waiting")]


def _not_known(due: DueList) -> list[Any]:
    """What is not known and what to enter, with the way there; nothing where all is known."""
    told = [
        html.Li([html.Strong(f"{one.title}: "), f"{one.why} ", *_settings_of(one.tails)])
        for one in not_known(due.items)
    ]
    return [section("Not known", html.Ul(told, className="told"), name="due-unknown")] if told else []


def _settings_of(tails: Sequence[str]) -> list[Any]:
    links: list[Any] = ["Settings of "]
    for place, tail in enumerate(tails[:LINKS]):
        links += [", " if place else "", dcc.Link(tail, href=f"/settings?tail={tail}")]
    more = len(tails) - LINKS
    return [*links, f" and {more} more; each aircraft's own page of what is due tells." if more > 0 else "."]


@callback(
    Output("due-lines", "children"),
    Output(DUE_PAGE, "total"),
    Output(DUE_PAGE, "value"),
    Output({"type": "due-pager", "of": "due"}, "hidden"),
    Input(DUE_PAGE, "value"),
    State("due-tail", "data"),
    prevent_initial_call=True,
)
def turn(page: int, tail: str) -> tuple[Any, int, int, bool]:
    """Show another page of what is due as it is now."""
    shown = one_page(dated(kept_here().due(tail or None)), page, LINES)
    return _page_of(shown, tail), *shown.pager
