"""The fleet's rows in words: which aircraft needs attention first, why, and what changed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from analyzer.measures.measure import MEASURES
from analyzer.records.changing import settled_findings
from analyzer.records.latest import LatestFlight
from analyzer.reports.wording import MEASURE_LABELS, number, unit_shown
from analyzer.trends.entries import kinds
from analyzer.trends.open_findings import NONE_SETTLED, OfFlight, OpenFindings, flights_that_count, open_findings
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
    return [_row(tail, view) | {"place": place} for place, tail in enumerate(view.document["tails"], 1)]


def _row(document: dict[str, Any], view: FleetView) -> dict[str, Any]:
    tail = document["tail"]
    latest = view.latest.get(tail, [])
    counted = reversed(latest[-flights_that_count() :])
    stands = open_findings(
        view.reviews[tail]["findings"],
        [OfFlight(one.document(), flight.start, flight.id) for flight in counted for one in flight.findings],
        settled_findings(view.dispositions).get(tail, NONE_SETTLED),
    )
    limit = document["next_limit"]
    last = datetime.fromisoformat(document["last_flight"]) if document["last_flight"] else None
    return {
        "tail": tail,
        "href": f"/aircraft/{tail}",
        "condition": document["condition"],
        "why": _why(stands, document["condition"]),
        "last_flight": f"{last:%Y-%m-%d}" if last else "",
        "flights": document["flights"],
        "hours": round(document["hours"], 1),
        "limit_h": limit["earliest_h"] if limit else None,
        "limit": limit_words(limit),
        "lines": [line for line in (small_line(latest, *one) for one in LINES) if line["values"]][:LINES_SHOWN],
    }


def _why(stands: OpenFindings, condition: str) -> str:
    worst = stands.worst
    if worst is None:
        few = "Too few flights yet to tell what is usual for this aircraft."
        return few if condition == "unknown" else "Nothing open."
    says = f"{finding_label(worst['finding'], over_many='raised_at' in worst)}. {worst['says']} {stands.more}"
    return says.rstrip()


def limit_words(limit: dict[str, Any] | None) -> str:
    """When the next limit is reached, in engine hours, with its interval."""
    if limit is None:
        return "no trend to a limit"
    value = f"{number(limit['limit'], limit['unit'])} {unit_shown(limit['unit'])}"
    what = f"{MEASURE_LABELS[limit['measure']].lower()} {value}"
    if limit["reaches_limit_in_h"] is not None and limit["reaches_limit_in_h"] <= 0.0:
        return f"past {what}"
    latest = f"{limit['latest_h']:.0f} h" if limit["latest_h"] is not None else "open"
    likely = f"about {limit['reaches_limit_in_h']:.0f} h" if limit["reaches_limit_in_h"] is not None else "time unsure"
    return f"{likely} ({limit['earliest_h']:.0f} h to {latest}) to {what}"


def small_line(latest: Iterable[LatestFlight], measure: str, label: str, least: float) -> dict[str, Any]:
    """A small line's values, the range it is drawn in, and how a screen reader says it."""
    values = [round(flight.readings[measure].value, 3) for flight in latest if measure in flight.readings]
    unit = MEASURES[measure]
    if not values:
        return {"label": label, "values": [], "last": "not measured", "says": f"{label}: not measured"}
    low, high = min(values), max(values)
    room = max(0.0, least - (high - low)) / 2.0
    last = f"{number(values[-1], unit)} {unit_shown(unit)}"
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
    since = datetime.fromisoformat(newest) - timedelta(days=days)
    found = []
    for tail in view.document["tails"]:
        page = f"/aircraft/{tail['tail']}"
        found += [(what["when"], tail["tail"], _change_words(what), page) for what in tail.get("changed", [])]
        for flight in view.latest.get(tail["tail"], []):
            if flight.start is None or datetime.fromisoformat(flight.start) < since:
                continue
            found += [
                (flight.start, tail["tail"], f"{finding_label(one.finding.name)} in a flight", f"/flight/{flight.id}")
                for one in flight.findings
            ]
    return [
        {"when": when[:10], "tail": tail, "words": words, "href": href}
        for when, tail, words, href in sorted(found, reverse=True)
    ]


def _change_words(what: dict[str, Any]) -> str:
    if what["what"] == "entry":
        return f"{kinds()[what['kind']].words}: {what['verdict']}"
    if what["what"] == "stepped":
        unit = MEASURES[what["measure"]]
        ends = f"{number(what['from'], unit)} to {number(what['to'], unit)} {unit_shown(unit)}"
        return f"{MEASURE_LABELS[what['measure']]} stepped from {ends}"
    verb = {"raised": "raised", "lapsed": "no longer found"}[what["what"]]
    return f"{finding_label(what['finding'], over_many=True)}: {verb}"
