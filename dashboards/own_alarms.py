"""Limits for the recorder's alarms, and the loads, from an aircraft's own flights, on its page. Wiring only."""

from __future__ import annotations

from typing import Any

from dash import Input, Output, State, callback, dcc, html

from analyzer.records.problems import RecordsError
from analyzer.reports.alarm_words import HEAD, LOSS_HEAD, alarm_rows, basis_sentences, light_sentence, loss_rows
from analyzer.reports.load_words import LOAD_HEAD, LOAD_NOTES, load_rows, load_sentence
from analyzer.reports.plainly import plainly
from analyzer.service.own_meters import OwnMeters
from analyzer.trends.load_list import LoadList
from dashboards.app import kept_here
from dashboards.asking import once_answered
from dashboards.attributes import aria
from dashboards.background import StillWorkingError
from dashboards.load_naming import naming
from dashboards.parts import explained, table

#: The page asks again after this time [ms], and waits no longer each time [s].
ASKING_MS, PATIENCE_S = 3000.0, 1.0


def alarms_part() -> list[Any]:
    """Where the limits will stand: the flights are read after the page is shown."""
    return [
        dcc.Interval(id="alarms-clock", interval=ASKING_MS, n_intervals=0),
        html.Div(id="alarms-shown", role="status", **aria(live="polite")),
    ]


def loads_part() -> list[Any]:
    """Where the loads will stand."""
    return [html.Div(id="loads-shown")]


@callback(
    Output("alarms-shown", "children"),
    Output("loads-shown", "children"),
    Output("alarms-clock", "disabled"),
    Input("alarms-clock", "n_intervals"),
    State("aircraft-tail", "data"),
    running=once_answered("alarms-clock", ASKING_MS),
)
def show_alarms(_ticks: int, tail: str) -> tuple[list[Any], list[Any], bool]:
    """Limits and loads with what they rest on, or that the flights are still being read."""
    try:
        own = kept_here().own_meters(tail, PATIENCE_S)
    except StillWorkingError:
        return [html.P("The flights are being read …")], [], False
    except RecordsError as problem:
        return [html.P(plainly(problem))], [], True
    return (*(([], []) if own is None else (limits_shown(own), _loads(own.loads))), True)


def _loads(loads: LoadList) -> list[Any]:
    rows = load_rows(loads)
    listed = [table(LOAD_HEAD, rows, "Loads that came on and went off", "free")] if rows else []
    how = explained("How they are worked out", "own_loads")
    notes = html.P([LOAD_NOTES, " ", how, "."], className="note")
    return [*listed, html.P(load_sentence(loads)), *naming(loads), notes]


def limits_shown(own: OwnMeters) -> list[Any]:
    """The limits, whether they warned in time, and what they rest on."""
    parts: list[Any] = []
    if own.alarms is not None:
        parts.append(table(HEAD, alarm_rows(own.alarms), "Suggested alarm limits", "free"))
    parts.append(html.P(light_sentence(own)))
    if rows := loss_rows(own):
        parts.append(table(LOSS_HEAD, rows, "When light and alarms would have come", "free"))
    how = explained("How they are worked out", "alarm_limits")
    return [*parts, html.P([plainly(" ".join(basis_sentences(own))), " ", how, "."], className="note")]
