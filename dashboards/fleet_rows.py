"""The fleet's rows in words: which aircraft needs attention first, why, and what changed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from analyzer.findings.finding import Finding
from analyzer.measures.measure import MEASURES
from analyzer.records.changing import settled_findings
from analyzer.records.latest import LatestFlight, open_of_latest
from analyzer.reports.fleet_text import happening_words
from analyzer.reports.trend_words import and_more
from analyzer.reports.wording import MEASURE_LABELS, number, with_unit
from analyzer.trends.fleet_result import FleetRow, Happened, Happening, NextLimit
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import NONE_SETTLED, Condition, OpenFindings
from dashboards.flight_words import finding_label
from dashboards.kept import FleetView

#: Small lines: measure, label, least height of the line in the measure's unit, so that a meter's steps stay small.
LINES = (
    ("regulated_voltage", "regulated", 0.8),
    ("recharge_settling_time", "settled after", 6.0),
    ("cranking_voltage", "cranking", 2.0),
    ("resting_voltage", "at rest", 0.6),
)
LINES_SHOWN = 3


def rows(view: FleetView) -> list[dict[str, Any]]:
    """One row an aircraft, the one in most need first, for the grid."""
    return [_row(one, view) | {"place": place} for place, one in enumerate(view.fleet.rows, 1)]


def _row(row: FleetRow, view: FleetView) -> dict[str, Any]:
    tail, condition = row.tail, row.result.condition
    latest = view.latest.get(tail, [])
    stands = open_of_latest(row.result, latest, settled_findings(view.dispositions).get(tail, NONE_SETTLED))
    return {
        "tail": tail,
        "href": f"/aircraft/{tail}",
        "condition": condition,
        "why": _why(stands, condition),
        "last_flight": f"{row.last_flight:%Y-%m-%d}" if row.last_flight else "",
        "flights": row.result.flights,
        "hours": round(row.result.hours, 1),
        "limit_h": round(row.next_limit.reached.earliest, 1) if row.next_limit else None,
        "limit": _limit_words(row.next_limit),
        "lines": [line for line in (small_line(latest, *one) for one in LINES) if line["values"]][:LINES_SHOWN],
    }


def _why(stands: OpenFindings[Finding], condition: Condition) -> str:
    worst = stands.worst
    if worst is None:
        few = "Too few flights yet to tell what is usual for this aircraft."
        return few if condition is Condition.UNKNOWN else "Nothing open."
    label = finding_label(worst.name, over_many=isinstance(worst, TrendFinding))
    return f"{label}. {worst.says} {and_more(stands)}".rstrip()


def _limit_words(limit: NextLimit | None) -> str:
    """When the next limit is reached, in engine hours, with its interval."""
    if limit is None:
        return "no trend to a limit"
    what = f"{MEASURE_LABELS[limit.measure].lower()} {with_unit(limit.limit, limit.unit)}"
    reached = limit.reached
    if reached.past:
        return f"past {what}"
    return f"about {reached.likely:.0f} h ({reached.earliest:.0f} h to {reached.latest:.0f} h) to {what}"


def small_line(latest: Iterable[LatestFlight], measure: str, label: str, least: float) -> dict[str, Any]:
    """A small line's values, the range it is drawn in, and how a screen reader says it."""
    values = [round(flight.readings[measure].value, 3) for flight in latest if measure in flight.readings]
    unit = MEASURES[measure]
    if not values:
        return {"label": label, "values": [], "last": "not measured", "says": f"{label}: not measured"}
    low, high = min(values), max(values)
    room = max(0.0, least - (high - low)) / 2.0
    last = with_unit(values[-1], unit)
    says = (
        f"{MEASURE_LABELS[measure]} over the last {len(values)} flights: from {number(values[0], unit)} to {last}, "
        f"between {number(low, unit)} and {number(high, unit)}"
    )
    return {"label": label, "values": values, "range": [low - room, high + room], "last": last, "says": says}


def changes(view: FleetView, days: int) -> list[dict[str, str]]:
    """What changed in the last days before the newest flight kept, the latest first: when, tail, words, link."""
    newest = max((one.last for one in view.kept.values() if one.last), default=None)
    if newest is None:
        return []
    since = newest - timedelta(days=days)
    found: list[tuple[datetime, str, str, str]] = []
    for row in view.fleet.rows:
        page = f"/aircraft/{row.tail}"
        found += [(one.when, row.tail, _change_words(one), page) for one in row.changed or ()]
        for flight in view.latest.get(row.tail, []):
            if flight.start is None or flight.start < since:
                continue
            found += [
                (flight.start, row.tail, f"{finding_label(one.finding.name)} in a flight", f"/flight/{flight.id}")
                for one in flight.findings
            ]
    return [
        {"when": f"{when:%Y-%m-%d}", "tail": tail, "words": words, "href": href}
        for when, tail, words, href in sorted(found, reverse=True)
    ]


def _change_words(one: Happening) -> str:
    if isinstance(one.about, TrendFinding):
        verb = {Happened.RAISED: "raised", Happened.LAPSED: "no longer found"}[one.what]
        return f"{finding_label(one.about.name, over_many=True)}: {verb}"
    return happening_words(one)
