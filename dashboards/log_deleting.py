"""Deleting logs on their page, after a question that says what goes with them. For managers; wiring only."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, callback, dcc, html

from analyzer.phrases import counted
from analyzer.records.forgetting import Going
from analyzer.records.people import Role
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from dashboards.app import kept_here
from dashboards.log_list import listed
from dashboards.parts import sure
from dashboards.signing_in import person_here

#: As many logs are named in the question.
NAMED = 5


def deletes_here() -> bool:
    """Whether who asks may delete logs, so that the way is shown; the records decide whether they may."""
    return person_here().role >= Role.MANAGER


def deleting() -> list[Any]:
    """The button, and the question before anything goes."""
    return [
        html.P("What is chosen above goes for good, readings and original files too. Make a backup first."),
        dmc.Button("Delete the chosen logs", id="logs-delete", n_clicks=0, variant="outline"),
        dcc.Store(id="logs-going"),
        sure("logs-delete", "Yes, delete for good", color="red"),
        html.P(id="logs-deleted", role="status", className="said"),
    ]


def question(going: Going) -> str:
    """What would go, as a question; a few logs by name."""
    many = counted(len(going.logs), "log")
    if len(going.logs) <= NAMED:
        many += f" ({', '.join(PurePath(log.source).name for log in going.logs)})"
    told = f"Delete {many} with {counted(going.flights, 'flight')} for good?"
    if going.only_copies:
        told += f" {counted(going.only_copies, 'original file')} kept here would go too."
    return f"{told} Maintenance entries and outcomes stay."


@callback(
    Output("logs-going", "data"),
    Output("logs-delete-question", "children"),
    Output("logs-delete-sure", "hidden"),
    Output("logs-deleted", "children"),
    Input("logs-delete", "n_clicks"),
    Input("logs-delete-no", "n_clicks"),
    Input({"type": "logs-pick", "log": ALL}, "checked"),
    State({"type": "logs-pick", "log": ALL}, "id"),
    State("logs-of", "data"),
    prevent_initial_call=True,
)
def ask(
    _delete: int, _no: int, picked: list[bool], ids: list[dict[str, Any]], of: str | None
) -> tuple[Any, Any, bool, Any]:
    """Say what would go, for a person to confirm; whoever chooses others is asked anew."""
    if not dash.ctx.triggered[0]["value"] or isinstance(dash.ctx.triggered_id, dict):
        return None, "", True, dash.no_update
    if dash.ctx.triggered_id == "logs-delete-no":
        return None, "", True, "Nothing was deleted."
    chosen = {one["log"] for one, on in zip(ids, picked, strict=True) if on}
    if not chosen:
        return None, "", True, "Choose one log or more first."
    digests = [log.hash for log in kept_here().logs(of or None) if log.id in chosen]
    try:
        going = kept_here().deleting(digests)
    except RecordsError as problem:
        return None, "", True, plainly(problem)
    return digests, question(going), False, ""


@callback(
    Output("logs-list", "children", allow_duplicate=True),
    Output("logs-deleted", "children", allow_duplicate=True),
    Output("logs-delete-sure", "hidden", allow_duplicate=True),
    Input("logs-delete-yes", "n_clicks"),
    State("logs-going", "data"),
    State("logs-of", "data"),
    running=[(Output("logs-delete-yes", "disabled"), True, False)],
    prevent_initial_call=True,
)
def delete(clicks: int, digests: list[str] | None, of: str | None) -> tuple[Any, Any, bool]:
    """Delete what was asked about."""
    if not clicks or not digests:
        return dash.no_update, dash.no_update, True
    try:
        going = kept_here().deleting(digests)
        kept_here().delete(going)
    except RecordsError as problem:
        return dash.no_update, plainly(problem), True
    told = f"Deleted: {counted(len(going.logs), 'log')} with {counted(going.flights, 'flight')}."
    return listed(of or None), told, True
