"""What became of a finding: what was said of it, and a form to say it. Wiring only."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import MATCH, Input, Output, State, callback, html
from flask import request

from analyzer.records.changing import Disposition, dispose, kept_dispositions
from analyzer.records.problems import RecordsError
from analyzer.records.verdicts import Disposed
from analyzer.reports.plainly import plainly
from dashboards.app import kept_here
from dashboards.signing_in import COOKIE, person_here, writes_here


def disposition_words(dispositions: Iterable[Disposition], finding: str, *at: str) -> list[html.P]:
    """What people said of a finding, whenever it was raised, the latest last."""
    said = [one for one in dispositions if one.finding == finding and one.at in at]
    return [
        html.P(
            [html.Strong(one.verdict.capitalize()), f" ({one.who}, {one.made_at[:10]}). ", one.words],
            className="disposed" if one is said[-1] else "earlier outcomes",
        )
        for one in said
    ]


def disposition_form(tail: str, finding: str, at: str) -> html.Details | None:
    """A form that keeps what a person says of one finding; nothing for who may not say it."""
    if not writes_here():
        return None
    key = {"tail": tail, "finding": finding, "at": at}
    return html.Details(
        [
            html.Summary("Record the outcome"),
            html.Div(
                [
                    dmc.Select(
                        id={"type": "dispose-verdict", **key}, label="Outcome", data=list(Disposed),
                        placeholder="choose",
                    ),
                    dmc.TextInput(id={"type": "dispose-who", **key}, label="Who", debounce=True),
                    dmc.TextInput(id={"type": "dispose-words", **key}, label="Notes", debounce=True, style={"flex": 1}),
                    dmc.Button("Save", id={"type": "dispose-keep", **key}, n_clicks=0),
                    dmc.Button("Undo", id={"type": "dispose-undo", **key}, n_clicks=0, variant="outline"),
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
    Input({"type": "dispose-undo", **_KEY}, "n_clicks"),
    State({"type": "dispose-verdict", **_KEY}, "value"),
    State({"type": "dispose-who", **_KEY}, "value"),
    State({"type": "dispose-words", **_KEY}, "value"),
    prevent_initial_call=True,
)
def keep(clicks: int, undone: int, verdict: str | None, who: str | None, words: str | None) -> Any:
    """Save the outcome, or take back what was said last; what came of it in words."""
    if not clicks and not undone:
        return dash.no_update
    key = dash.ctx.triggered_id
    store = kept_here().store()
    undo = key["type"] == "dispose-undo"
    if undo:
        said = [
            one for one in kept_dispositions(store, key["tail"]) if (one.finding, one.at) == (key["finding"], key["at"])
        ]
        if not said or said[-1].verdict is Disposed.REOPENED:
            return "Nothing to undo."
        verdict, words = Disposed.REOPENED, f"undid: {said[-1].verdict}"
    if not verdict:
        return "Choose an outcome first."
    try:
        who = who or (person_here().name if COOKIE in request.cookies else "")
        dispose(store, key["tail"], key["finding"], key["at"], verdict, who, words or "")
    except RecordsError as problem:
        return plainly(problem)
    return f"{'Undone' if undo else 'Saved'}: {verdict}, by {who}."
