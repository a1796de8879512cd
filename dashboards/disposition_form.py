"""What became of a finding: what was said of it, and a form to say it. Wiring only."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import MATCH, Input, Output, State, callback, html
from flask import request

from analyzer.records.changing import Disposition, dispose
from analyzer.records.problems import RecordsError
from analyzer.records.verdicts import Disposed
from dashboards.app import kept_here
from dashboards.signing_in import COOKIE, person_here, writes_here


def disposition_words(dispositions: Iterable[Disposition], finding: str, *at: str) -> list[html.P]:
    """What people said of a finding, whenever it was raised, the latest last."""
    return [
        html.P([html.Strong(one.verdict), f", says {one.who} on {one.made_at[:10]}. ", one.words], className="disposed")
        for one in dispositions
        if one.finding == finding and one.at in at
    ]


def disposition_form(tail: str, finding: str, at: str) -> html.Details | None:
    """A form that keeps what a person says of one finding; nothing for who may not say it."""
    if not writes_here():
        return None
    key = {"tail": tail, "finding": finding, "at": at}
    return html.Details(
        [
            html.Summary("Say what became of it"),
            html.Div(
                [
                    dmc.Select(
                        id={"type": "dispose-verdict", **key}, label="What became of it", data=list(Disposed),
                        value=Disposed.CONFIRMED, allowDeselect=False,
                    ),
                    dmc.TextInput(id={"type": "dispose-who", **key}, label="Who says so"),
                    dmc.TextInput(id={"type": "dispose-words", **key}, label="In words", style={"flex": 1}),
                    dmc.Button("Keep", id={"type": "dispose-keep", **key}, n_clicks=0),
                ],
                className="tools",
            ),
            html.P(id={"type": "dispose-said", **key}, role="status"),
        ],
        className="no-print",
    )  # fmt: skip


_KEY: dict[str, Any] = {"tail": MATCH, "finding": MATCH, "at": MATCH}


@callback(
    Output({"type": "dispose-said", **_KEY}, "children"),
    Input({"type": "dispose-keep", **_KEY}, "n_clicks"),
    State({"type": "dispose-verdict", **_KEY}, "value"),
    State({"type": "dispose-who", **_KEY}, "value"),
    State({"type": "dispose-words", **_KEY}, "value"),
    prevent_initial_call=True,
)
def keep(clicks: int, verdict: str, who: str | None, words: str | None) -> Any:
    """Keep the disposition; what came of it in words."""
    if not clicks:
        return dash.no_update
    key = dash.ctx.triggered_id
    try:
        who = who or (person_here().name if COOKIE in request.cookies else "")
        dispose(kept_here().store(), key["tail"], key["finding"], key["at"], verdict, who, words or "")
    except RecordsError as problem:
        return str(problem)
    return f"Kept: {verdict}, says {who}. It counts from the next look at the fleet."
