"""Page /peers: an aircraft beside others of its type, and how repairs turned out. Layout and wiring only."""

from __future__ import annotations

from typing import Any

import dash
from dash import dcc, html

from analyzer.reports.peer_words import (
    CAUSES_HEAD,
    CONTEXT,
    OUTCOMES_HEAD,
    PEERS_HEAD,
    beside_row,
    cause_row,
    first_words,
    outcome_row,
    peers_lead,
    too_few_words,
)
from analyzer.reports.wording import finding_label
from analyzer.service.beside_peers import RepairRecord
from analyzer.trends.peers import Peers
from dashboards.app import kept_here
from dashboards.error_notices import in_words
from dashboards.parts import crumbs, explained, nothing_here, page, section, table


@in_words
def layout(**query: str) -> html.Div:
    """One aircraft beside its peers where one is named, and how repairs turned out."""
    kept, tail = kept_here(), query.get("tail", "").strip().upper()
    if kept.empty:
        link = dcc.Link("import logs", href="/bring-in")
        return page("peers", "Peers and repairs", nothing_here("No flights yet; first ", link))
    if tail and tail not in kept.names():
        link = dcc.Link("See all aircraft.", href="/")
        return page("peers", "Peers and repairs", nothing_here(f"No flight of {tail} is imported.", link))
    record = kept.repairs()
    measures = _peers(kept.peers(tail)) if tail else []
    beside = [section("Its measures beside its peers'", *measures, name="peers-measures")] if tail else []
    return page(
        "peers",
        f"{tail} beside others of its type" if tail else "How repairs turned out",
        crumbs(("Fleet", "/"), (tail, f"/aircraft/{tail}"), ("Peers and repairs", None)) if tail else None,
        *beside,
        section("How repairs turned out", *_repairs(record), name="peers-repairs"),
        *_causes(record),
        results=False,
    )


dash.register_page(__name__, path="/peers", title="taper: peers and repairs", layout=layout)


def _peers(one: Peers) -> list[Any]:
    lead: list[Any] = [html.P(peers_lead(one))]
    if one.kind is None:
        lead.append(html.P(dcc.Link("Its settings", href=f"/settings?tail={one.tail}", className="show")))
    shown = [table(PEERS_HEAD, [beside_row(own) for own in one.measures], "Beside its peers", "free")]
    about = html.P([CONTEXT, " ", explained("How it is worked out", "peers"), "."], className="note")
    return [*lead, *(shown if one.measures else []), about]


def _repairs(record: RepairRecord) -> list[Any]:
    rows = [outcome_row(one) for one in record.outcomes]
    shown = table(OUTCOMES_HEAD, rows, "Work and the findings that it ended", "free")
    about: list[Any] = [first_words(record), " ", too_few_words(), " ", explained("How it is counted", "repairs"), "."]
    return [shown if rows else html.P("No work is logged that a finding came before."), html.P(about, className="note")]


def _causes(record: RepairRecord) -> list[Any]:
    return [
        section(
            f"Causes of: {finding_label(finding)}",
            table(CAUSES_HEAD, [cause_row(one) for one in causes], f"Causes of {finding_label(finding)}", "free"),
            name=f"peers-{finding.replace('_', '-')}",
        )
        for finding, causes in record.shifted.items()
    ]
