"""The fleet: each aircraft's condition, what stands open, what changed, and which needs attention first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from statistics import median
from typing import Any

from analyzer.findings.finding import Severity
from analyzer.limits import limit_value
from analyzer.series import MAD_TO_SIGMA
from analyzer.trends.open_findings import NONE_SETTLED, Settled, key_moment, open_of_review

#: From most to least need. What is not known needs a look before what is well.
CONDITIONS = (*reversed(Severity), "unknown", "good")
NO_AIRCRAFT: Mapping[str, Settled] = {}


def fleet_document(
    reviews: Sequence[Mapping[str, Any]],
    last: Mapping[str, str | None],
    since: datetime | None = None,
    settled: Mapping[str, Settled] = NO_AIRCRAFT,
) -> dict[str, Any]:
    """Give the fleet by need: by condition, then by how soon a limit may be reached, then by tail.

    Parameters
    ----------
    reviews : each tail by the contract of the trends
    last : tail -> start of its last flight
    since : say what changed from this moment on
    settled : tail -> the findings that people have settled
    """
    rows = [
        _row(review, last.get(review["tail"]), since, settled.get(review["tail"], NONE_SETTLED)) for review in reviews
    ]
    rows.sort(
        key=lambda row: (
            CONDITIONS.index(row["condition"]),
            -len(row["open_findings"]),
            row["next_limit"]["earliest_h"] if row["next_limit"] else float("inf"),
            row["tail"],
        )
    )
    return {
        "contract": 1,
        "since": since.isoformat() if since else None,
        "tails": rows,
        "spread": fleet_spread(reviews),
    }


def fleet_spread(reviews: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Give the middle and spread of each measure's present level over aircraft of one system voltage.

    Context only: an aircraft is judged by its own history first. ``apart`` names those whose level lies more
    than three robust standard deviations from the others'.
    """
    levels: dict[tuple[int | None, str], dict[str, float]] = {}
    for review in reviews:
        for measure, trend in review["trends"].items():
            if trend["level"] is not None:
                levels.setdefault((review["nominal_voltage"], measure), {})[review["tail"]] = trend["level"]
    spread = []
    for (nominal, measure), own in sorted(levels.items(), key=lambda one: (one[0][0] or 0, one[0][1])):
        if len(own) < limit_value("fleet_fewest"):
            continue
        middle = median(own.values())
        deviation = MAD_TO_SIGMA * median(abs(level - middle) for level in own.values())
        apart = [tail for tail, level in own.items() if deviation and abs(level - middle) > 3.0 * deviation]
        spread.append(
            {"nominal_voltage": nominal, "measure": measure, "tails": len(own), "median": round(middle, 4),
             "deviation": round(deviation, 4), "apart": sorted(apart)}
        )  # fmt: skip
    return spread


def _row(review: Mapping[str, Any], last: str | None, since: datetime | None, settled: Settled) -> dict[str, Any]:
    stands = open_of_review(review, settled)
    row: dict[str, Any] = {
        "tail": review["tail"],
        "condition": stands.condition(review["flights"]),
        "flights": review["flights"],
        "hours": review["hours"],
        "last_flight": last,
        "worst_finding": stands.worst,
        "open_findings": [finding["finding"] for finding in stands.over_many],
        "in_latest_flights": [one.finding for one in stands.of_flights],
        "next_limit": _next_limit(review["trends"]),
        "stale_flights": review.get("stale_flights", 0),
    }
    return row | ({"changed": _changed(review, since, last)} if since else {})


def _next_limit(trends: Mapping[str, Mapping[str, Any]]) -> dict[str, Any] | None:
    """The limit that may be reached first."""
    coming = [
        {"measure": measure, "limit": trend["limit"], "unit": trend["unit"]}
        | {key: trend[key] for key in ("reaches_limit_in_h", "earliest_h", "latest_h")}
        for measure, trend in trends.items()
        if trend["earliest_h"] is not None
    ]
    return min(coming, key=lambda one: one["earliest_h"], default=None)


def _changed(review: Mapping[str, Any], since: datetime, last: str | None) -> list[dict[str, Any]]:
    """What happened from a moment on: findings raised and lapsed, steps, entries."""
    moment = since.isoformat()
    happened = []
    for finding in review["findings"]:
        if finding["raised_at"] is not None and (raised := key_moment(finding)) >= moment:
            happened.append({"when": raised, "what": "raised", "finding": finding["finding"]})
        if finding["lapsed_at"] is not None and finding["lapsed_at"] >= moment:
            happened.append({"when": finding["lapsed_at"], "what": "lapsed", "finding": finding["finding"]})
    for measure, trend in review["trends"].items():
        happened += [
            {"when": change["start"], "what": "stepped", "measure": measure, "from": change["from"], "to": change["to"]}
            for change in trend["changes"]
            if change["start"] is not None and change["start"] >= moment
        ]
    happened += [
        {"when": entry["when"], "what": "entry", "kind": entry["kind"], "verdict": entry["verdict"]}
        for entry in review["entries"]
        if entry["when"] >= moment
    ]
    return sorted(happened, key=lambda one: str(one["when"]))
