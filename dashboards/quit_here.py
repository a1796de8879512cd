"""What would follow if the alternator quit at the moment that the lesson shows. Wiring only."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from typing import Any

import dash_mantine_components as dmc
from dash import Input, Output, State, callback, html

from analyzer.loads import night_loads
from analyzer.measures.alternator_quit import alternator_quits
from analyzer.reports.quit_words import case_rows, quit_notes, quit_sentences
from analyzer.service.quit_alternator import MASTER_OFF_MOST
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.parts import AS_SEEN, NOT_PRINTED, explained, fold, table
from dashboards.planner import LoadName


def quit_part(query: Mapping[str, str]) -> html.Div:
    """The part of the lesson that answers it; night loads and what is shed are those of the planner on the page."""
    minutes, asked = 0.0, "master_off" in query
    with suppress(KeyError, ValueError):
        minutes = float(query["master_off"])
    return html.Div(
        fold(
            "What if the alternator quit here",
            dmc.NumberInput(
                className=NOT_PRINTED,
                id="quit-master-off",
                label="Master off for part of the way, min",
                description="Night loads and what is switched off: as chosen under Endurance.",
                value=minutes if 0.0 <= minutes <= MASTER_OFF_MOST else 0.0,
                step=5,
                min=0,
                max=MASTER_OFF_MOST,
                clampBehavior="blur",
                debounce=300,
            ),
            html.Div(id="quit-shown", role="status", **aria(live="polite")),
            html.P(explained("How it is worked out", "alternator_quits"), className="note"),
            name="flight-quit",
            opened=asked,
            printed=AS_SEEN,
        ),
        className="quit-here",
    )


@callback(
    Output("quit-shown", "children"),
    Input("flow-at", "data"),
    Input("plan-night", "value"),
    Input("plan-shed", "value"),
    Input("quit-master-off", "value"),
    State("flight-id", "data"),
)
def what_follows(
    at_s: float | None, night: list[LoadName], shed: list[LoadName], master_off: Any, flight_id: str
) -> list[Any]:
    """The bus, the light and the minutes, by day, by night, after shedding and with the master off."""
    kept = kept_here().flight(flight_id)
    if kept is None or at_s is None:
        return []
    off = float(master_off) if isinstance(master_off, int | float) and 0.0 <= master_off <= MASTER_OFF_MOST else 0.0
    review = kept.review
    chosen = None if set(night) == set(night_loads(review.flight.nominal_voltage or 14)) else night
    said = alternator_quits(review.flight, review.measures, kept.battery, datetime.now(), at_s, chosen, shed, off)
    told: list[Any] = [html.P(" ".join(quit_sentences(said)))]
    if said.cases:
        head = ("Case", "Load", "Plan on", "95 % interval")
        told.append(table(head, case_rows(said), "If the alternator quit here", "free"))
    return [*told, *([html.P(" ".join(quit_notes(said)), className="note")] if said.cases else [])]
