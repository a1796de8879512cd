"""From what is kept of an aircraft to the points that its charts draw."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from analyzer.findings.finding import SEVERITIES
from analyzer.measures.measure import MEASURES
from analyzer.reports.wording import number, unit_shown
from analyzer.trends.series import BY_MEASURE, series_of
from analyzer.trends.tail import freed
from dashboards.figures.trend_chart import History
from dashboards.fleet_rows import STILL_OPEN, settled_findings
from dashboards.kept import TailView

#: Measures of the table of flights, with the heading of each.
TABLE_MEASURES = (
    ("regulated_voltage", "Regulated, V"),
    ("recharge_settling_time", "Settled after, min"),
    ("cranking_voltage", "Cranking, V"),
    ("resting_voltage", "At rest, V"),
    ("maintenance_current", "Settled, A"),
    ("bus_load", "Load, A"),
)


def points(view: TailView, measure: str) -> History | None:
    """One measure's points, None when no flight carries it."""
    kind = BY_MEASURE[measure]
    series = series_of(view.history, kind)
    if not series.n:
        return None
    flights = [view.history.flights[int(place)] for place in series.flight]
    readings = [flight.readings[measure] for flight in flights]
    ids = {flight.start: flight.id for flight in view.flights}
    adjusted = freed(series)
    return History(
        measure,
        tuple(flight.start for flight in flights),
        series.hours,
        np.array([one.value for one in readings]),
        np.array([one.low for one in readings]),
        np.array([one.high for one in readings]),
        np.exp(adjusted) if kind.logarithmic else adjusted,
        tuple(ids.get(flight.start.isoformat(), 0) for flight in flights),
    )


def standing(view: TailView) -> tuple[dict[str, Any] | None, int]:
    """The worst finding that stands open, and how many more do."""
    settled = settled_findings(view.dispositions)
    latest = {flight.id: flight.start for flight in view.flights[-STILL_OPEN:]}
    found = [
        one
        for one in view.review["findings"]
        if one["lapsed_at"] is None and (one["finding"], one["raised_at"]) not in settled
    ]
    found += [
        one
        for one in view.findings
        if one["flight_id"] in latest and (one["finding"], latest[one["flight_id"]]) not in settled
    ]
    worst = max(found, key=lambda one: SEVERITIES.index(one["severity"]), default=None)
    return worst, max(0, len(found) - 1)


def entry_marks(view: TailView) -> list[tuple[datetime, float, str, str]]:
    """Maintenance done: when, engine hours by then, kind, words."""
    marks = []
    for kept in view.entries:
        entry = kept.entry
        hours = sum(flight.hours for flight in view.history.flights if flight.start < entry.when)
        marks.append((entry.when, hours, entry.kind, entry.words))
    return marks


def flight_rows(view: TailView) -> list[dict[str, Any]]:
    """One row a flight for the table, the latest first."""
    readings = {flight.start.isoformat(): flight.readings for flight in view.history.flights}
    rows = []
    for flight in reversed(view.flights):
        own = readings.get(flight.start or "", {})
        rows.append(
            {
                "href": f"/flight/{flight.id}",
                "start": flight.start.replace("T", " ")[:16] if flight.start else f"flight {flight.id}, no clock",
                "minutes": round(60.0 * flight.hours),
                "worst": flight.worst or "good",
                **{name: round(own[name].value, 2) for name, _ in TABLE_MEASURES if name in own},
            }
        )
    return rows


def compared_words(one: dict[str, Any]) -> str:
    """One measure before and after an entry, in words."""
    unit = MEASURES[one["measure"]]
    if one["before"] is None:
        return f"{one['verdict']} ({one['flights_before']} before, {one['flights_after']} after)"
    ends = f"{number(one['before'], unit)} to {number(one['after'], unit)} {unit_shown(unit)}"
    sure = f"{number(one['low'], unit)} to {number(one['high'], unit)}"
    flights = f"{one['flights_before']} flights before, {one['flights_after']} after"
    return f"{one['verdict']}: {ends} (change {sure}; {flights})"
