"""Page /: which aircraft needs attention first, why, and what changed. Layout and wiring only."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlencode

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, callback, dcc, html

from analyzer.phrases import counted
from analyzer.service.periods import USUAL_DAYS, period_words
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.error_notices import in_words
from dashboards.fleet_rows import FLEET_CAPTION, FLEET_HEAD, changes, fleet_cells, matches, matching, rows
from dashboards.flight_words import day_words
from dashboards.kept import FleetView
from dashboards.parts import OnePage, judged_earlier, nothing_here, of_how_many, one_page, page, pager, section, table

DAYS = (USUAL_DAYS, 30, 90)
#: Changes that stand there at once; the rest unfold.
CHANGES_SHOWN, CHANGES_FOLDED = 25, 100
#: Aircraft on a page of the list.
LINES = 50
FLEET_PAGE = {"type": "fleet-page", "of": "fleet"}
CONDITIONS = (
    ("all", "Every condition"),
    ("warning", "Warning"),
    ("caution", "Caution"),
    ("advisory", "Advisory"),
    ("unknown", "Not known"),
    ("good", "Nothing found"),
)


@in_words
def layout(**query: str) -> html.Div:
    """The fleet; with nothing kept yet, how to bring logs in."""
    kept = kept_here()
    if kept.empty:
        return page("fleet", "Fleet", _how_to_begin(), lead="No flight has been imported yet.")
    days = next((one for one in DAYS if str(one) == query.get("days")), USUAL_DAYS)
    view = kept.fleet(days)
    made = rows(view)
    asked = query.get("search", ""), next((one for one, _ in CONDITIONS if one == query.get("condition")), "all")
    return page(
        "fleet",
        "Fleet",
        *judged_earlier(sum(row.result.stale_flights for row in view.fleet.rows)),
        *([_unassigned(view.unassigned)] if view.unassigned else []),
        html.Div(
            [
                section("Most urgent first", *_attention(made, *asked, days), name="fleet-attention"),
                section("What changed", *_changed(view, days), name="fleet-changed"),
            ],
            className="fleet-two",
        ),
        lead=_lead(view, made),
    )


dash.register_page(__name__, path="/", title="taper: the fleet", layout=layout)


def _how_to_begin() -> html.Div:
    return nothing_here(
        "Import the CSV files that your engine monitor writes: one by one, or all of them in a zip archive.",
        html.P(dcc.Link("Import logs", href="/bring-in", className="button")),
    )


def _lead(view: FleetView, made: list[dict[str, Any]]) -> str:
    flights = sum(row.result.flights for row in view.fleet.rows)  # each once, though two files may hold it
    last = max((one.last for one in view.kept.values() if one.last), default=None)
    needing = sum(row["condition"] in ("warning", "caution") for row in made)
    until = f", the last on {day_words(last)}" if last else ""
    words = "none at caution or warning" if not needing else f"{needing} at caution or warning"
    return f"{len(made)} aircraft, {words}. {counted(flights, 'flight')}{until}."


def _attention(made: list[dict[str, Any]], search: str, condition: str, days: int) -> list[Any]:
    shown = one_page([row for row in made if matches(row, search, condition)], 1, LINES)
    return [
        html.Div(
            [
                dmc.TextInput(
                    id="fleet-search",
                    label="Search",
                    placeholder="tail number or words",
                    value=search,
                    debounce=200,
                ),
                dmc.Select(
                    id="fleet-condition",
                    label="Condition",
                    data=[{"value": value, "label": label} for value, label in CONDITIONS],
                    value=condition,
                    allowDeselect=False,
                    comboboxProps={"withinPortal": True},
                ),
            ],
            className="tools",
        ),
        dcc.Store(id="fleet-days", data=days),
        html.Div(_listed(shown, search, condition), id="fleet-list", role="status"),
        pager("fleet", "fleet", shown, "Pages of the fleet"),
    ]


def _listed(shown: OnePage[dict[str, Any]], search: str, condition: str) -> list[Any]:
    """One line an aircraft, of one page of those that match; on a phone a card."""
    if not shown.count:
        return [html.P("Nothing matches.")]
    file = f"/fleet.csv?{urlencode({'search': search, 'condition': condition})}"
    lines = [fleet_cells(row) for row in shown.rows]
    return [*of_how_many(shown), table(FLEET_HEAD, lines, FLEET_CAPTION, "fleet-lines", file=file)]


def _changed(view: FleetView, days: int) -> list[Any]:
    found = changes(view)
    links: Any = html.Nav(
        [
            *(
                dcc.Link(f"{one} days", href=f"/?days={one}#fleet-changed", className="chosen" if one == days else "")
                for one in DAYS
            ),
        ],
        className="days no-print",
        **aria(label="How far back"),
    )
    if view.since is not None:
        words = period_words(view.since, view.newest, datetime.now())
        links = html.Div([links, html.P(f"{words[0].upper()}{words[1:]}.", className="note")])
    if not found:
        return [links, html.P(f"Nothing changed in {days} days.")]
    items = [html.Li(_change(one)) for one in found]
    rest = items[CHANGES_SHOWN:]
    folded: list[Any] = [html.Ul(rest[:CHANGES_FOLDED], className="changes")]
    if len(rest) > CHANGES_FOLDED:
        left, since = len(rest) - CHANGES_FOLDED, f"?since={view.since:%Y-%m-%d}" if view.since else ""
        folded.append(html.P([f"And {left} more: see the ", dcc.Link("digest", href=f"/digest{since}"), "."]))
    more = [html.Details([html.Summary(f"{len(rest)} more"), *folded])] if rest else []
    return [links, html.Ul(items[:CHANGES_SHOWN], className="changes"), *more]


def _change(one: dict[str, str]) -> list[Any]:
    """When, whose, and what, which leads to its flight."""
    day = html.Time(one["when"], dateTime=one["when"])
    return [day, dcc.Link(one["tail"], href=f"/aircraft/{one['tail']}"), _linked(one)]


def _linked(change: dict[str, str]) -> Any:
    if change["href"].startswith("/flight/"):
        return dcc.Link(change["words"], href=change["href"])
    return html.Span(change["words"])


def _unassigned(count: int) -> html.P:
    return html.P(
        [
            f"{counted(count, 'log')} {'has' if count == 1 else 'have'} no tail number and "
            f"{'is' if count == 1 else 'are'} not counted. ",
            dcc.Link("Assign", href="/logs"),
            ".",
        ],
        className="note",
    )


@callback(
    Output("fleet-list", "children"),
    Output(FLEET_PAGE, "total"),
    Output(FLEET_PAGE, "value"),
    Output({"type": "fleet-pager", "of": "fleet"}, "hidden"),
    Input("fleet-search", "value"),
    Input("fleet-condition", "value"),
    Input(FLEET_PAGE, "value"),
    State("fleet-days", "data"),
    prevent_initial_call=True,
)
def narrow(
    search: str | None, condition: str | None, page: int, days: Annotated[int, DAYS.__contains__]
) -> tuple[Any, int, int, bool]:
    """Show only the aircraft that match, or another page of them as they are now."""
    words, chosen = search or "", condition or "all"
    found = matching(kept_here().fleet(days), words, chosen)
    shown = one_page(found, page if dash.ctx.triggered_id == FLEET_PAGE else 1, LINES)
    return _listed(shown, words, chosen), *shown.pager
