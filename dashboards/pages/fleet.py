"""Page /: which aircraft needs attention first, why, and what changed. Layout and wiring only."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, callback, dcc, html

from analyzer.phrases import counted
from analyzer.service.periods import USUAL_DAYS, period_words
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.error_notices import in_words
from dashboards.fleet_rows import changes, matches, rows
from dashboards.flight_words import day_words
from dashboards.kept import FleetView
from dashboards.parts import badge, judged_earlier, nothing_here, page, section, table

DAYS = (USUAL_DAYS, 30, 90)
#: Changes that stand there at once; the rest unfold.
CHANGES_SHOWN = 25
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
    return page(
        "fleet",
        "Fleet",
        *judged_earlier(sum(row.result.stale_flights for row in view.fleet.rows)),
        *([_unassigned(view.unassigned)] if view.unassigned else []),
        html.Div(
            [
                section("Most urgent first", *_attention(made, query), name="fleet-attention"),
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
    flights = sum(one.flights for one in view.kept.values())
    last = max((one.last for one in view.kept.values() if one.last), default=None)
    needing = sum(row["condition"] in ("warning", "caution") for row in made)
    until = f", the last on {day_words(last)}" if last else ""
    words = "none at caution or warning" if not needing else f"{needing} at caution or warning"
    return f"{len(made)} aircraft, {words}. {counted(flights, 'flight')}{until}."


def _attention(made: list[dict[str, Any]], query: dict[str, str]) -> list[Any]:
    condition = query.get("condition") if query.get("condition") in dict(CONDITIONS) else "all"
    search = query.get("search", "")
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
        dcc.Store(id="fleet-rows", data=made),
        html.Div(_listed(made, search, str(condition)), id="fleet-list", role="status"),
    ]


def _listed(made: list[dict[str, Any]], search: str, condition: str) -> Any:
    """One line an aircraft that matches; on a phone a card."""
    rows = [
        (
            html.Span([f"{row['place']}. ", dcc.Link(row["tail"], href=row["href"])]),
            badge(row["condition"]),
            html.Span(row["why"], title=row["says"], className="clamped") if row["why"] else "",
            row["since"],
            html.Span(row["next"], title=row["next"], className="clamped") if row["next"] else "",
            dcc.Link(row["last_flight"], href=row["last_href"]) if row["last_href"] else row["last_flight"],
        )
        for row in made
        if matches(row, search, condition)
    ]
    if not rows:
        return html.P("Nothing matches.")
    head = ("Aircraft", "Status", "Why", "Since", "Next", "Last flight")
    return table(head, rows, "Aircraft, most urgent first", "fleet-lines")


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
    more = [html.Details([html.Summary(f"{len(rest)} more"), html.Ul(rest, className="changes")])] if rest else []
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
    Input("fleet-search", "value"),
    Input("fleet-condition", "value"),
    State("fleet-rows", "data"),
    prevent_initial_call=True,
)
def narrow(search: str | None, condition: str | None, made: list[dict[str, Any]]) -> Any:
    """Show only the aircraft that match."""
    return _listed(made, search or "", condition or "all")
