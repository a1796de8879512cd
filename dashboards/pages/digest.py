"""Page /digest: what is new, worse, fixed and near in the whole fleet since a day. Layout and wiring only."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import MATCH, Input, Output, State, callback, dcc, html

from analyzer.reports.digest_words import REFERENCE, UNKNOWN, Item, Section, headline, nothing_new, sections
from analyzer.reports.wording import finding_label
from analyzer.trends.entries import EntriesError, moment
from dashboards.app import kept_here
from dashboards.error_notices import in_words
from dashboards.parts import OnePage, badge, explained, nothing_here, of_how_many, one_page, page, pager, section

#: Items of a part on a page.
ITEMS = 25


@in_words
def layout(**query: str) -> html.Div:
    """The digest since a day; with nothing kept, how to begin."""
    kept = kept_here()
    if kept.empty:
        return page(
            "digest",
            "Digest",
            nothing_here("No flights yet; first ", dcc.Link("import logs", "/bring-in")),
        )
    digest = kept.digest(_asked(query.get("since")))
    quiet = nothing_new(digest)
    return page(
        "digest",
        "Digest",
        dcc.Store(id="digest-asked", data=query.get("since")),
        html.Div(
            dmc.DateInput(
                id="digest-since",
                label="What happened since",
                value=f"{digest.since:%Y-%m-%d}",
                valueFormat="YYYY-MM-DD",
                w=220,
            ),
            className="tools",
        ),
        html.P(quiet, className="verdict good") if quiet else None,
        *(section(part.title, *_items(part), name=f"digest-{part.name}") for part in sections(digest)),
        lead=headline(digest),
    )


dash.register_page(__name__, path="/digest", title="taper: digest", layout=layout)


def _asked(since: str | None) -> datetime | None:
    """The day that the address asks for, None when it asks for none or for what is no day."""
    try:
        return moment(since) if since else None
    except EntriesError:
        return None


def _items(part: Section) -> list[Any]:
    """A part's items, page by page where there are many."""
    shown = one_page(part.items, 1, ITEMS)
    listed = html.Div(_page_of(shown), id={"type": "digest-list", "of": part.name})
    return [listed, pager("digest", part.name, shown, f"Pages of {part.title}")]


def _page_of(shown: OnePage[Item]) -> list[Any]:
    if not shown.count:
        return [html.P("Nothing any more.")]
    return [*of_how_many(shown), html.Ul([_item(item) for item in shown.rows], className="told")]


def _item(item: Item) -> html.Li:
    nobodys = item.tail in ("", UNKNOWN)
    whose = html.Strong(item.tail) if nobodys else dcc.Link(item.tail, href=f"/aircraft/{item.tail}")
    return html.Li(
        [
            html.P([whose, " ", badge(item.severity) if item.severity else "", " ", html.Strong(item.title)]),
            *(html.P(_linked(line), className="quiet") for line in item.lines),
        ]
    )


def _linked(line: str) -> Any:
    """A line; where it names a topic of the reference, linked to it."""
    if not line.startswith(REFERENCE):
        return line
    name = line.removeprefix(REFERENCE)
    return ["What it means: ", explained(finding_label(name), name)]


@callback(
    Output({"type": "digest-list", "of": MATCH}, "children"),
    Output({"type": "digest-page", "of": MATCH}, "total"),
    Output({"type": "digest-page", "of": MATCH}, "value"),
    Output({"type": "digest-pager", "of": MATCH}, "hidden"),
    Input({"type": "digest-page", "of": MATCH}, "value"),
    State("digest-asked", "data"),
    prevent_initial_call=True,
)
def turn(page: int, since: str | None) -> tuple[Any, int, int, bool]:
    """Show another page of a part as it is now."""
    wanted = dash.ctx.triggered_id["of"]
    parts = sections(kept_here().digest(_asked(since)))
    items: tuple[Item, ...] = next((tuple(part.items) for part in parts if part.name == wanted), ())
    shown = one_page(items, page, ITEMS)
    return _page_of(shown), *shown.pager


@callback(
    Output("_pages_location", "search", allow_duplicate=True),
    Input("digest-since", "value"),
    prevent_initial_call=True,
)
def since_day(day: str | None) -> Any:
    """Ask for the digest since another day."""
    return f"?since={day[:10]}" if day else dash.no_update
