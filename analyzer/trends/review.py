"""The trends' pipeline: a tail's history becomes its review, one step a line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from analyzer.contract import cause_entry, plain
from analyzer.trends.comparison import Comparison, compare_entries
from analyzer.trends.history import History
from analyzer.trends.judging import TrendFinding, judge_tail
from analyzer.trends.open_findings import OfFlight, flights_that_count, open_findings
from analyzer.trends.tail import Trend, follow_tail, trends_of
from analyzer.trends.unlike import Unlike, unlike_itself


@dataclass(frozen=True, slots=True)
class TailReview:
    """Everything that many flights of one tail say."""

    history: History
    trends: Mapping[str, Trend]
    findings: tuple[TrendFinding, ...]
    comparisons: tuple[Comparison, ...]
    unlike: tuple[Unlike, ...]

    @property
    def condition(self) -> str:
        """The worst severity that stands open; "good", or "unknown" with too few flights."""
        shown = [OfFlight(one, one["start"]) for one in _in_latest_flights(self.history)]
        return open_findings([_finding(one) for one in self.findings], shown).condition(len(self.history.flights))


def review_tail(history: History) -> TailReview:
    """Follow a tail's measures, judge them, compare what each entry did, and look for odd flights."""
    tail = follow_tail(history)
    trends = trends_of(tail)
    return TailReview(
        history=history,
        trends=trends,
        findings=judge_tail(tail, trends),
        comparisons=compare_entries(tail),
        unlike=unlike_itself(tail),
    )


def _in_latest_flights(history: History) -> list[dict[str, Any]]:
    """Findings of the latest flights, the latest first: what no trend shows yet and nobody should miss."""
    latest = list(enumerate(history.flights))[-flights_that_count() :]
    return [
        {"start": _iso(flight.start), "flight": place, "finding": one.name, "severity": one.severity}
        for place, flight in reversed(latest)
        for one in flight.findings
    ]


def tail_document(review: TailReview) -> dict[str, Any]:
    """One entry of the result's ``tails``, by the contract."""
    return {
        "tail": review.history.tail,
        "flights": len(review.history.flights),
        "hours": round(review.history.hours, 2),
        "nominal_voltage": review.history.nominal_voltage,
        "condition": review.condition,
        "without_clock": review.history.without_clock,
        "order": order_words(review.history),
        "in_latest_flights": _in_latest_flights(review.history),
        "trends": {measure: _trend(trend) for measure, trend in review.trends.items()},
        "findings": [_finding(finding) for finding in review.findings],
        "entries": [one.document() for one in review.comparisons],
        "unlike_itself": [one.document() for one in review.unlike],
    }


def order_words(history: History) -> list[str]:
    """Sentences on flights without a clock: how they are ordered, and what cannot be told of them; empty without any.

    Flights that were left out because no moment can be set against them are told too.
    """
    bare, count = history.without_clock, len(history.flights)
    told = []
    if bare:
        after = "" if bare == count else " after those with a clock"
        told.append(
            f"{bare} of {count} flights without a clock: taken{after} in file order, by the file's name and the place "
            "in the file; whether they were flown in that order is not known."
        )
        if history.entries:
            told.append("Maintenance entries cannot be set against flights without a clock.")
    if out := history.left_out:
        told.append(f"Flights without a clock, left out because nothing tells when they began: {out}.")
    return told


def _trend(trend: Trend) -> dict[str, Any]:
    measured = trend.slope is not None
    reach = trend.projection
    return {
        "state": "measured" if measured else "not_measurable",
        "because": trend.because,
        "unit": trend.unit,
        "points": trend.points,
        "points_since_anew": trend.points_since,
        "level": _round(trend.level),
        "slope_per_100h": _round(trend.slope),
        "low": _round(trend.low),
        "high": _round(trend.high),
        "limit": trend.limit,
        "reaches_limit_in_h": _round(reach.likely, 1) if reach else None,
        "earliest_h": _round(reach.earliest, 1) if reach else None,
        "latest_h": _round(reach.latest, 1) if reach else None,
        "second_opinion": {
            "mann_kendall_p": float(f"{trend.second_opinion.mann_kendall_p:.2g}"),
            "theil_sen_per_100h": _round(trend.second_opinion.theil_sen_slope),
        }
        if trend.second_opinion
        else None,
        "changes": [
            {
                "start": _iso(change.start),
                "flight": change.flight,
                "from": _round(change.before),
                "to": _round(change.after),
                "pettitt_p": float(f"{change.pettitt_p:.2g}"),
            }
            for change in trend.changes
        ],
    }


def _finding(finding: TrendFinding) -> dict[str, Any]:
    return {
        "finding": finding.name,
        "severity": finding.severity,
        "start": _iso(finding.began),
        "start_flight": finding.began_flight,
        "end": _iso(finding.lapsed_at),
        "evidence": finding.evidence,
        "says": finding.says,
        "likely": [plain(cause_entry(cause)) for cause in finding.likely],
        "check": list(finding.check),
        "raised_at": _iso(finding.raised_at),
        "raised_flight": finding.raised_flight,
        "raised_again": [{"flight": place, "at": _iso(at)} for place, at in finding.again],
        "lapsed_at": _iso(finding.lapsed_at),
        "lapsed_flight": finding.lapsed_flight,
        "lapsed_by": _iso(finding.lapsed_by),
    }


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _round(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else round(value, digits)
