"""Page /: which aircraft needs attention first, why, and what changed. Layout and wiring only."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import Input, Output, callback, dcc, html

from dashboards.app import kept_here
from dashboards.error_notices import in_words
from dashboards.fleet_rows import changes, rows
from dashboards.flight_words import day_words
from dashboards.grid import grid
from dashboards.kept import FleetView
from dashboards.parts import judged_earlier, nothing_here, page, section

DAYS = (7, 30, 90)
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
        return page("fleet", "Fleet", _how_to_begin(), lead="Nothing has been brought in yet.")
    days = next((one for one in DAYS if str(one) == query.get("days")), DAYS[1])
    view = kept.fleet(lambda newest: newest - timedelta(days=days))
    made = rows(view)
    return page(
        "fleet",
        "Fleet",
        *judged_earlier(sum(row.result.stale_flights for row in view.fleet.rows)),
        section("Which aircraft needs attention first", *_attention(made, query), name="fleet-attention"),
        section("What changed", *_changed(view, days), name="fleet-changed"),
        *([_unassigned(view.unassigned)] if view.unassigned else []),
        lead=_lead(view, made),
    )


dash.register_page(__name__, path="/", title="taper: the fleet", layout=layout)


def _how_to_begin() -> html.Div:
    return nothing_here(
        "Bring in the CSV files that your engine monitor writes: one by one, or all of them in a zip archive.",
        html.P(dcc.Link("Bring in logs", href="/bring-in", className="button")),
        html.P(["Or on the command line: ", html.Code("taper add FOLDER"), "."]),
        html.P(["To look around first: ", html.Code("taper demo"), " shows an invented club's season."]),
    )


def _lead(view: FleetView, made: list[dict[str, Any]]) -> str:
    flights = sum(one.flights for one in view.kept.values())
    last = max((one.last for one in view.kept.values() if one.last), default=None)
    needing = sum(row["condition"] in ("warning", "caution") for row in made)
    until = f", the last on {day_words(last)}" if last else ""
    words = "none of them stands at a caution or warning" if not needing else f"{needing} with a caution or warning"
    return f"{len(made)} aircraft, {flights:,} flights{until}; {words}."


def _attention(made: list[dict[str, Any]], query: dict[str, str]) -> list[Any]:
    condition = query.get("condition") if query.get("condition") in dict(CONDITIONS) else "all"
    return [
        html.Div(
            [
                dmc.TextInput(
                    id="fleet-search",
                    label="Search",
                    placeholder="registration or words",
                    value=query.get("search", ""),
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
        grid(
            "fleet-grid",
            made,
            _columns(),
            "Aircraft by need",
            rowHeight=104,
            domLayout="autoHeight" if len(made) <= 30 else "normal",
            quickFilterText=query.get("search", ""),
            filtered=_only(condition),
        ),
        html.P(
            "Small lines: the last 24 flights, the latest at the right; no line is stretched so far that a "
            "meter's own steps would look like trouble.",
            className="note",
        ),
    ]


def _columns() -> list[dict[str, Any]]:
    """Columns of the grid; the small lines have no order, so they neither sort nor filter."""
    words = {"wrapText": True, "autoHeight": True, "cellClass": "words"}
    return [
        {"field": "tail", "headerName": "Aircraft", "cellRenderer": "Aircraft", "minWidth": 140, "maxWidth": 172},
        {"field": "condition", "hide": True},
        {"field": "why", "headerName": "Why", "minWidth": 165, "flex": 3, **words},
        {
            "field": "lines",
            "headerName": "Last flights",
            "cellRenderer": "Lines",
            "cellDataType": False,
            "sortable": False,
            "filter": False,
            "autoHeight": True,
            "minWidth": 222,
            "maxWidth": 256,
        },
        {"field": "limit_h", "headerName": "Engine hours to next limit", "cellRenderer": "Limit", "minWidth": 108,
         "flex": 1, "filter": "agNumberColumnFilter", **words},
        {"field": "last_flight", "headerName": "Last flight", "minWidth": 96, "maxWidth": 125},
    ]  # fmt: skip


def _changed(view: FleetView, days: int) -> list[Any]:
    found = changes(view, days)
    links = html.Nav(
        [
            html.Span("In the last "),
            *(
                dcc.Link(f"{one} days", href=f"/?days={one}#fleet-changed", className="chosen" if one == days else "")
                for one in DAYS
            ),
            html.Span(" before the last flight"),
        ],
        className="days no-print",
        **{"aria-label": "How far back"},
    )
    if not found:
        return [links, html.P(f"Nothing was raised, mended or found in the last {days} days.")]
    items = [
        html.Li([html.Time(one["when"]), dcc.Link(one["tail"], href=f"/aircraft/{one['tail']}"), _linked(one)])
        for one in found
    ]
    rest = items[CHANGES_SHOWN:]
    more = [html.Details([html.Summary(f"{len(rest)} more"), html.Ul(rest, className="changes")])] if rest else []
    return [links, html.Ul(items[:CHANGES_SHOWN], className="changes"), *more]


def _linked(change: dict[str, str]) -> Any:
    if change["href"].startswith("/flight/"):
        return dcc.Link(change["words"], href=change["href"])
    return html.Span(change["words"])


def _unassigned(count: int) -> html.P:
    return html.P(
        [
            f"{count} kept logs name no aircraft, so that they count for none. ",
            html.Code("taper assign"),
            " says whose they are.",
        ],
        className="note",
    )


def _only(condition: str | None) -> dict[str, Any]:
    """The grid's filter for one condition, none for every condition."""
    if condition in (None, "all"):
        return {}
    return {"condition": {"filterType": "text", "type": "equals", "filter": condition}}


@callback(
    Output("fleet-grid", "dashGridOptions"),
    Output("fleet-grid", "filterModel"),
    Input("fleet-search", "value"),
    Input("fleet-condition", "value"),
    prevent_initial_call=True,
)
def narrow(search: str | None, condition: str | None) -> tuple[dash.Patch, dict[str, Any]]:
    """Show only the aircraft that match."""
    patch = dash.Patch()
    patch["quickFilterText"] = search or ""
    return patch, _only(condition)
