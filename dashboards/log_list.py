"""The table of logs of one aircraft, or of none, on their page."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from analyzer.records.keeping import TOLD
from analyzer.records.kept import KeptLog
from dashboards.app import kept_here
from dashboards.flight_words import day_words
from dashboards.parts import table
from dashboards.signing_in import writes_here

#: Logs on one page; of more the latest are shown.
SHOWN = 200
NO_TAIL = "no tail number"


def listed(tail: str | None) -> Any:
    """The table of one aircraft's logs, or of those of none, as they are kept now."""
    return table_of(kept_here().logs(tail), tail)


def table_of(found: list[KeptLog], tail: str | None) -> Any:
    """A table of logs, the latest first, each with a box to choose it for who may move it."""
    writes = writes_here()
    if not found:
        return html.P(f"No log of {tail} has been imported." if tail else "Every log has a tail number.")
    flights = kept_here().flights_of_logs([log.hash for log in found[:SHOWN]])
    rows = [
        (
            _named(log, writes),
            (log.start or "no clock").replace("T", " ")[:16],
            f"{log.rows:,}",
            html.Span(
                [
                    part
                    for one in flights.get(log.hash, [])
                    for part in (dcc.Link(_flight_words(one.start), href=f"/flight/{one.id}"), " ")
                ]
                or "no engine run"
            ),
            "moved by a person" if log.tail_from in TOLD else log.tail_from or "" if log.tail else NO_TAIL,
        )
        for log in found[:SHOWN]
    ]
    more = html.P(f"Of {len(found)} logs the latest {SHOWN} are listed.") if len(found) > SHOWN else None
    head = ("Log", "Begins", "Rows", "Flights", "Aircraft known from")
    return html.Div([table(head, rows, "Logs, the latest first", "free"), more])


def _flight_words(start: Any) -> str:
    return f"{day_words(start)}, {start:%H:%M}" if start else "flight without a clock"


def _named(log: KeptLog, writes: bool) -> Any:
    name = PurePath(log.source).name
    return dmc.Checkbox(id={"type": "logs-pick", "log": log.id}, label=name, checked=False) if writes else name
