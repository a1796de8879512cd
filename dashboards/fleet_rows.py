"""The fleet's rows in words: which aircraft needs attention first, why, and what changed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dash import dcc, html

from analyzer.findings.causes import first_checks
from analyzer.findings.finding import Finding
from analyzer.phrases import counted
from analyzer.records.changing import settled_findings
from analyzer.records.latest import open_of_latest
from analyzer.reports.fleet_text import happening_words
from analyzer.reports.trend_words import some_words
from analyzer.reports.wording import MEASURE_LABELS
from analyzer.trends.fleet_result import FleetRow, NextLimit
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import NONE_SETTLED, Condition, OpenFindings
from dashboards.flight_words import finding_label
from dashboards.kept import FleetView
from dashboards.parts import badge


def rows(view: FleetView) -> list[dict[str, Any]]:
    """One row an aircraft, the one in most need first, for the grid."""
    return [_row(one, view) | {"place": place} for place, one in enumerate(view.fleet.rows, 1)]


FLEET_HEAD = ("Aircraft", "Status", "Why", "Since", "Next", "Last flight")
FLEET_CAPTION = "Aircraft, most urgent first"


def fleet_cells(row: Mapping[str, Any]) -> tuple[Any, ...]:
    """One line of the table, under ``FLEET_HEAD``."""
    return (
        html.Span([f"{row['place']}. ", dcc.Link(row["tail"], href=row["href"])]),
        badge(row["condition"]),
        html.Span(row["why"], title=row["says"], className="clamped") if row["why"] else "",
        row["since"],
        html.Span(row["next"], title=row["next"], className="clamped") if row["next"] else "",
        dcc.Link(row["last_flight"], href=row["last_href"]) if row["last_href"] else row["last_flight"],
    )


def matching(view: FleetView, search: str, condition: str) -> list[dict[str, Any]]:
    """The rows of the aircraft that match."""
    return [row for row in rows(view) if matches(row, search, condition)]


def _row(row: FleetRow, view: FleetView) -> dict[str, Any]:
    tail, condition = row.tail, row.result.condition
    latest = view.latest.get(tail, [])
    stands = open_of_latest(row.result, latest, settled_findings(view.dispositions).get(tail, NONE_SETTLED))
    flown, worst = latest[-1].id if latest else None, stands.worst
    return {
        "tail": tail,
        "href": f"/aircraft/{tail}",
        "condition": condition,
        "why": _why(stands, condition, row.next_limit),
        "says": worst.says if worst else "",
        "since": _since(stands),
        "next": " ".join(first_checks(worst)) if worst else "",
        "last_flight": f"{row.last_flight:%Y-%m-%d}" if row.last_flight else "no date" if flown else "",
        "last_href": f"/flight/{flown}" if flown else "",
    }


def _why(stands: OpenFindings[Finding], condition: Condition, limit: NextLimit | None) -> str:
    """The reason in a few words: what is worst and how much more there is, else what comes next."""
    worst = stands.worst
    if worst is None:
        if condition is Condition.UNKNOWN:
            return "Too few flights"
        return soonest_words(limit) if limit else ""
    more = f", {len(stands.names) - 1} more" if len(stands.names) > 1 else ""
    return finding_label(worst.name, over_many=isinstance(worst, TrendFinding)) + more


def _since(stands: OpenFindings[Finding]) -> str:
    """The day on which the worst finding was raised first, or its flight's; empty where none has a clock."""
    worst, shown = stands.worst, stands.shown_by
    begun = worst.raised_at if isinstance(worst, TrendFinding) else shown.start if shown else None
    return f"{begun:%Y-%m-%d}" if begun else ""


def matches(row: Mapping[str, Any], search: str, condition: str) -> bool:
    """Whether an aircraft's row has every word searched for, and the condition."""
    words = " ".join(str(row[key]) for key in ("tail", "why", "next", "last_flight", "condition")).lower()
    return condition in ("all", row["condition"]) and all(word in words for word in search.lower().split())


def soonest_words(limit: NextLimit) -> str:
    """When the next limit is reached at the earliest."""
    what, reached = MEASURE_LABELS[limit.measure], limit.reached
    return f"{what}: past its limit" if reached.past else f"{what}: limit in {some_words(reached.earliest, 'h')}"


def changes(view: FleetView) -> list[dict[str, str]]:
    """What changed since the view's moment, the latest first: when, tail, words, link.

    A finding of several flights of an aircraft stands there once, at the latest of them.
    """
    since = view.since
    if since is None:
        return []
    found: list[tuple[datetime, str, str, str]] = []
    for row in view.fleet.rows:
        page = f"/aircraft/{row.tail}"
        found += [(one.when, row.tail, happening_words(one), page) for one in row.changed or ()]
        flights: dict[str, list[tuple[datetime, int]]] = {}
        for flight in view.latest.get(row.tail, []):
            if flight.start is not None and flight.start >= since:
                for name in dict.fromkeys(one.finding.name for one in flight.findings):
                    flights.setdefault(name, []).append((flight.start, flight.id))
        found += [
            (seen[-1][0], row.tail, f"{finding_label(name)}, {counted(len(seen), 'flight')}", f"/flight/{seen[-1][1]}")
            for name, seen in flights.items()
        ]
    return [
        {"when": f"{when:%Y-%m-%d}", "tail": tail, "words": words, "href": href}
        for when, tail, words, href in sorted(found, reverse=True)
    ]
