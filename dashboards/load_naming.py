"""Naming a measured load on an aircraft's page: its amperes go into the settings. Wiring only."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import Input, Output, State, callback, dcc, html, no_update

from analyzer.aircraft import LOADS, FleetFileError, TailError
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from analyzer.reports.setting_words import SETTING_WORDS, setting_words
from analyzer.service.aircraft_settings import SettingsError, keep_settings, setting_from
from analyzer.trends.load_list import LoadList
from dashboards.app import kept_here
from dashboards.signing_in import writes_here


def naming(loads: LoadList) -> list[Any]:
    """Fields to say which load a measured one is; none for who may only read, nor where none was measured."""
    if not loads.loads or not writes_here():
        return []
    sizes = [{"value": f"{one.amps.value:g}", "label": f"{one.amps.value:.1f} A"} for one in loads.loads]
    return [
        html.Div(
            [
                dmc.Select(id="load-amps", label="The load of", data=sizes, placeholder="pick its amperes"),
                dmc.Select(
                    id="load-is",
                    label="is",
                    data=[{"value": key, "label": SETTING_WORDS[key].label} for key in LOADS],
                    placeholder="pick which load",
                ),
                dmc.Button("Save its amperes", id="load-save", n_clicks=0),
            ],
            className="tools",
        ),
        html.P(id="load-said", role="status", className="said"),
    ]


@callback(
    Output("load-said", "children"),
    Input("load-save", "n_clicks"),
    State("load-amps", "value"),
    State("load-is", "value"),
    State("aircraft-tail", "data"),
    prevent_initial_call=True,
)
def name_load(clicks: int, amps: str | None, key: str | None, tail: str) -> Any:
    """Save what a load of the aircraft draws."""
    if not clicks:
        return no_update
    if not amps or key not in LOADS:
        return "Pick the amperes, and which load that is."
    try:
        given = setting_from(key, amps)
        changed = keep_settings(kept_here().store(), tail, {key: given})
    except (SettingsError, TailError, FleetFileError, RecordsError) as problem:
        return plainly(problem)
    told = f"{SETTING_WORDS[key].label}: {setting_words(key, given)}"
    if not changed.after:
        return f"{told}, as it was already."
    link = dcc.Link("Change or remove it under Settings", href=f"/settings?tail={changed.tail}")
    return [f"Saved: {told} (was: {setting_words(key, changed.before[key])}). ", link, "."]
