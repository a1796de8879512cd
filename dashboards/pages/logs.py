"""Page /logs: the logs of an aircraft or of none, and moving them to the right one. Layout and wiring only."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, callback, dcc, html

from analyzer.aircraft import TailError, tail_name
from analyzer.phrases import counted
from analyzer.records.keeping import TOLD
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from dashboards.app import kept_here
from dashboards.asking import once_answered
from dashboards.attributes import aria
from dashboards.background import StillWorkingError
from dashboards.error_notices import in_words
from dashboards.log_deleting import deletes_here, deleting
from dashboards.log_list import listed, table_of
from dashboards.parts import nothing_here, page, section, sure
from dashboards.signing_in import writes_here

#: How often a page asks how far moving has come [ms].
ASKING_MS = 400


@in_words
def layout(**query: str) -> html.Div:
    """The logs without a tail number, or those of one aircraft; to editors with the way to move them."""
    kept = kept_here()
    if kept.empty:
        link = dcc.Link("import logs", href="/bring-in")
        return page("logs", "Logs", nothing_here("No flights yet; first ", link), results=False)
    tail = query.get("tail", "").strip().upper() or None
    found = kept.logs(tail)  # without any there is nothing to move or to delete
    return page(
        "logs",
        f"Logs of {tail}" if tail else "Logs without a tail number",
        dcc.Store(id="logs-of", data=tail or ""),
        dcc.Store(id="logs-asked"),
        dcc.Store(id="logs-undoing"),
        section("Logs", html.Div(table_of(found, tail), id="logs-list"), name="logs-kept"),
        section("Move to another aircraft", *_form(kept.names(), tail), name="logs-form")
        if found and writes_here()
        else None,
        section("Delete", *deleting(), name="logs-deleting") if found and deletes_here() else None,
        _others(kept.names(), tail),
        lead="A log counts for the aircraft that it names, or for the one that it was moved to.",
        results=False,
    )


dash.register_page(__name__, path="/logs", title="taper: logs", layout=layout)


def _form(names: list[str], tail: str | None) -> list[Any]:
    return [
        html.Div(
            [
                dmc.Autocomplete(id="logs-tail", label="Aircraft", data=[one for one in names if one != tail], w=230),
                dmc.Button("Move the chosen logs", id="logs-move", n_clicks=0),
                dmc.Button("As each log names itself", id="logs-back", n_clicks=0, variant="outline"),
            ],
            className="tools",
        ),
        sure("logs", "Yes, move"),
        dcc.Interval(id="logs-clock", interval=ASKING_MS, disabled=True),
        html.Div(id="logs-moving", role="status", hidden=True),
        html.P(id="logs-said", role="status", className="said"),
        html.Div(dmc.Button("Undo", id="logs-undo", n_clicks=0, variant="outline"), id="logs-undo-place", hidden=True),
    ]


def _others(names: list[str], tail: str | None) -> html.Section:
    links: list[Any] = [] if tail is None else [dcc.Link("Without a tail number", href="/logs", className="show")]
    links += [dcc.Link(one, href=f"/logs?tail={one}", className="show") for one in names if one != tail]
    return section("Other logs", html.P(links, className="sheet-links"), name="logs-others")


@callback(
    Output("logs-asked", "data"),
    Output("logs-question", "children"),
    Output("logs-sure", "hidden"),
    Output("logs-said", "children"),
    Input("logs-move", "n_clicks"),
    Input("logs-back", "n_clicks"),
    Input("logs-no", "n_clicks"),
    State("logs-tail", "value"),
    State({"type": "logs-pick", "log": ALL}, "checked"),
    State({"type": "logs-pick", "log": ALL}, "id"),
    prevent_initial_call=True,
)
def ask(
    _move: int, _back: int, _no: int, tail: str | None, picked: list[bool], ids: list[dict[str, Any]]
) -> tuple[Any, Any, bool, Any]:
    """Say what is about to be done, for a person to confirm."""
    if not dash.ctx.triggered[0]["value"]:
        return dash.no_update, dash.no_update, True, dash.no_update
    if dash.ctx.triggered_id == "logs-no":
        return None, "", True, "Nothing was moved."
    chosen = [one["log"] for one, on in zip(ids, picked, strict=True) if on]
    if not chosen:
        return None, "", True, "Choose one log or more first."
    many = counted(len(chosen), "log")
    if dash.ctx.triggered_id == "logs-back":
        asked = {"tail": "", "logs": chosen}
        return asked, f"Return {many} to the aircraft that each names itself, if any?", False, ""
    try:
        name = tail_name(tail or "")
    except TailError as problem:
        return None, "", True, plainly(problem)
    says = f"Move {many} to {name}? Their flights leave where they are now and join the trends of {name}."
    return {"tail": name, "logs": chosen}, says, False, ""


@callback(
    Output("logs-list", "children"),
    Output("logs-said", "children", allow_duplicate=True),
    Output("logs-sure", "hidden", allow_duplicate=True),
    Output("logs-undoing", "data"),
    Output("logs-undo-place", "hidden"),
    Input("logs-yes", "n_clicks"),
    Input("logs-undo", "n_clicks"),
    State("logs-asked", "data"),
    State("logs-undoing", "data"),
    State("logs-of", "data"),
    running=[
        (Output("logs-yes", "disabled"), True, False),
        (Output("logs-undo", "disabled"), True, False),
        (Output("logs-clock", "disabled"), False, True),
        (Output("logs-moving", "hidden"), False, True),
    ],
    prevent_initial_call=True,
)
def move(
    _yes: int, _undo: int, asked: dict[str, Any] | None, undoing: list[dict[str, Any]] | None, of: str | None
) -> tuple[Any, Any, bool, Any, Any]:
    """Move the chosen logs, or put back those that were moved last."""
    if not dash.ctx.triggered[0]["value"]:
        return dash.no_update, dash.no_update, True, dash.no_update, dash.no_update
    tail = of or None
    undo: list[dict[str, Any]] | None = None
    if dash.ctx.triggered_id == "logs-undo":
        said = "Undone."
        try:
            done = _yet_to_undo(undoing or [])
        except RecordsError as problem:
            return listed(tail), plainly(problem), True, undoing, False
    else:
        done, said = [asked] if asked else [], "Moved."
        undo = [one | {"from": str(to.get("tail") or "")} for to in done for one in _as_they_are(tail, _numbers(to))]
    failed: list[str] = []
    for place, one in enumerate(done):
        try:
            found = kept_here().assign(str(one.get("tail") or "") or None, _numbers(one))
        except RecordsError as problem:  # what is not undone yet can still be
            begun = {"begun": True} if isinstance(problem, StillWorkingError) else {}
            undo = undo or [one | begun, *done[place + 1 :]]
            return listed(tail), plainly(problem), True, undo, False
        failed += [f"{PurePath(source).name}: {because}" for source, because in found.failed]
    if failed:
        said = f"{said} Not re-read: {'; '.join(failed)}"
    return listed(tail), said, True, undo, undo is None


@callback(
    Output("logs-moving", "children"),
    Input("logs-clock", "n_intervals"),
    running=once_answered("logs-clock", ASKING_MS),
)
def come_further(_ticks: int | None) -> list[Any]:
    """How far moving has come, in words and as a bar."""
    done, total = kept_here().read_anew() or (0, 0)
    told = f"Moving: {done} of {counted(total, 'log')} read again." if total else "Moving …"
    return [html.P(told), html.Progress(value=str(done), max=str(max(total, 1)), **aria(label="Logs read again"))]


def _numbers(asked: dict[str, Any]) -> list[int]:
    numbers = asked.get("logs")
    return [one for one in numbers if isinstance(one, int)] if isinstance(numbers, list) else []


def _yet_to_undo(undoing: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is still to be put back: the logs that stand where they were moved to, ``from`` which they go back.

    Those deleted meanwhile are left out, and those that stand where they go back to; where putting back has ``begun``
    and goes on, also those that stand elsewhere, for it may be where they name themselves.

    Raises
    ------
    RecordsError
        When somebody else has moved one on.
    """
    whose = kept_here().whose(number for one in undoing for number in _numbers(one))
    left = []
    for one in undoing:
        where, back = str(one.get("from") or ""), str(one.get("tail") or "")
        own = [number for number in _numbers(one) if number in whose]
        if where and not one.get("begun") and any(whose[number] not in (where, back) for number in own):
            raise RecordsError(
                f"Somebody else moved a log away from {where} meanwhile, so nothing was undone. Reload the page and "
                "look at it again."
            )
        if there := [number for number in own if not where or whose[number] == where]:
            left.append(one | {"logs": there})
    return left


def _as_they_are(tail: str | None, chosen: list[int]) -> list[dict[str, Any]]:
    """What puts logs back as they are now: those that a person gave to this aircraft, and those that name it.

    A log whose recording was not kept cannot be read anew and is given back by a person's word.
    """
    told = {log.id for log in kept_here().logs(tail) if log.tail_from in TOLD or (tail and not log.original_kept)}
    both = (
        (tail or "", [one for one in chosen if one in told]),
        ("", [one for one in chosen if one not in told]),
    )
    return [{"tail": name, "logs": own} for name, own in both if own]
