"""What changed in one tail since a moment: findings that are new, trends that are worse, what is fixed, what is near.

Two reviews by the contract are compared: the present one, and the one that the same analysis gives of the flights
begun and the entries made before the moment (``as_of``), which is what was known then. New and lapsed findings need
no second review: each carries the flight at which it was raised and lapsed, from that flight and those before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from analyzer.findings.finding import Severity
from analyzer.limits import limit_value
from analyzer.trends.comparison import compare_entries
from analyzer.trends.history import History
from analyzer.trends.judging import OF_THE_VOLTMETER, judge_tail
from analyzer.trends.open_findings import is_open, key_moment
from analyzer.trends.review import TailReview, tail_document
from analyzer.trends.series import BY_MEASURE, KINDS
from analyzer.trends.tail import follow_tail, trends_of

Document = Mapping[str, Any]
#: What the series take out of each other.
COVARIATE_MEASURES = ("regulated_voltage", "bus_load")
#: How a trend can be worse, the worst first.
WAYS = ("past its limit", "now heads for its limit", "steeper", "nearer")


def known_at(history: History, moment: datetime) -> dict[str, Any]:
    """Give the review of what was known at a moment, by the contract: flights begun and entries made up to it.

    Without the odd flights ("unlike itself"), which take longest and which nothing here compares.
    """
    past = history.until(moment)
    tail = follow_tail(past)
    trends = trends_of(tail)
    return tail_document(TailReview(past, trends, judge_tail(tail, trends), compare_entries(tail), ()))


def as_of(history: History, since: datetime, measures: Set[str]) -> dict[str, Any]:
    """Give what was known of some measures just before a moment.

    Of those in which the present review can be worse (see ``telling``): following a measure takes the most time.
    """
    kept = measures | set(COVARIATE_MEASURES)
    flights = tuple(
        replace(flight, readings={name: own for name, own in flight.readings.items() if name in kept})
        for flight in history.flights
    )
    return known_at(replace(history, flights=flights), since - timedelta(microseconds=1))


def telling(review: Document, since: datetime) -> set[str]:
    """Give the measures in which the present review can be worse than an earlier one.

    Those whose slope surely leads the worse way or comes to a limit, those of findings that stood open before, and
    all that raise the same findings or that one voltmeter shows, since these are judged together.
    """
    wanted = {m for m, trend in review["trends"].items() if trend["earliest_h"] is not None or _sure(trend, m)}
    names = {BY_MEASURE[m].finding for m in wanted} | {f["finding"] for f in standing(review, since)}
    return wanted | {kind.measure for kind in KINDS if kind.finding in names} | set(OF_THE_VOLTMETER)


def may_be_worse(review: Document, since: datetime) -> bool:
    """Whether anything in the present review can be worse than it was: an older finding stands open, or a limit nears.

    Where this is not so, nothing need be worked out as of the moment.
    """
    older = any(is_open(f) and not _raised_from(f, since) for f in review["findings"])
    return older or any(trend["earliest_h"] is not None for trend in review["trends"].values())


def raised(review: Document, since: datetime) -> list[dict[str, Any]]:
    """Give the findings over many flights that were raised from the moment on and still stand open."""
    return _once(f for f in review["findings"] if _raised_from(f, since) and is_open(f))


def _raised_from(finding: Document, since: datetime) -> bool:
    """Whether a finding was raised, or came back, from a moment on; not known, and so not told, without a clock."""
    return finding["raised_at"] is not None and key_moment(finding) >= since.isoformat()


def lapsed(review: Document, since: datetime) -> list[dict[str, Any]]:
    """Give the findings over many flights that lapsed from the moment on, whenever they were raised.

    One that lapsed only because work started its measure anew is among them where that work helped.
    """
    ended = (f for f in review["findings"] if f["lapsed_at"] is not None and f["lapsed_at"] >= since.isoformat())
    return _once(f for f in ended if (work := _work(review, f)) is None or work["verdict"] == "helped")


def worked_on(review: Document, since: datetime) -> list[dict[str, Any]]:
    """Give the findings that lapsed because work was done of which it is not known that it helped, each with ``work``.

    Those of work with too few flights yet, and those that lapsed from the moment on.
    """
    found = [f | {"work": work} for f in review["findings"] if (work := _work(review, f)) is not None]
    return _once(
        f
        for f in found
        if f["work"]["verdict"] == "too few flights yet"
        or (f["work"]["verdict"] != "helped" and f["lapsed_at"] >= since.isoformat())
    )


def _work(review: Document, finding: Document) -> dict[str, Any] | None:
    """The entry because of which a finding lapsed: when, kind, words and verdict; the likeliest of one moment."""
    keys = ("when", "kind", "words", "verdict")
    done = [entry for entry in review["entries"] if entry["when"] == finding["lapsed_by"]]
    told = sorted(done, key=lambda entry: entry["verdict"] != "helped")
    return {key: told[0][key] for key in keys} if told else None


def helped_then(history: History, moment: datetime) -> dict[str, list[str]]:
    """Give the entries that were known to have helped just before a moment: when -> kinds of work."""
    known: dict[str, list[str]] = {}
    for one in compare_entries(follow_tail(history.until(moment - timedelta(microseconds=1)))):
        if one.verdict == "helped":
            known.setdefault(one.entry.when.isoformat(), []).append(one.entry.kind)
    return known


def standing(review: Document, since: datetime) -> list[dict[str, Any]]:
    """Give the findings over many flights that were raised before the moment, or without a clock, and stand open."""
    return _once(f for f in review["findings"] if not _raised_from(f, since) and is_open(f))


def _once(findings: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Findings, each name and moment once: two measures may raise the same finding at the same flight."""
    return list({(finding["finding"], key_moment(finding)): finding for finding in findings}.values())


def risen(review: Document, then: Document) -> list[dict[str, Any]]:
    """Give the findings that stand open, stood open then, and are more severe now: each with ``severity_then``."""
    known = {(f["finding"], f["raised_at"]): f for f in then["findings"] if is_open(f) and f["raised_at"]}
    worse = []
    for finding in review["findings"]:
        before = known.get((finding["finding"], finding["raised_at"]))
        if before is None or not is_open(finding):
            continue
        if Severity(finding["severity"]).rank > Severity(before["severity"]).rank:
            worse.append({**finding, "severity_then": before["severity"]})
    return _once(worse)


def worse_trends(review: Document, then: Document) -> list[dict[str, Any]]:
    """Give the trends that are steeper, or nearer their limit, than they were then; each measure once.

    ``way`` is the worst of ``WAYS`` that holds: the limit is passed that was not; a trend to the limit where there was
    none; a slope, sure both times, that has grown by the share ``digest_steeper``; fewer engine hours left to the
    limit and a level closer to it.
    """
    found = []
    for measure, now in review["trends"].items():
        before = then["trends"].get(measure)
        way = None if before is None else _way(measure, before, now)
        if way is not None:
            keys = ("level", "slope_per_100h", "reaches_limit_in_h")
            found.append(
                {
                    "measure": measure, "way": way, "unit": now["unit"], "limit": now["limit"],
                    "then": {key: before[key] for key in keys}, "now": {key: now[key] for key in keys},
                }
            )  # fmt: skip
    return sorted(found, key=lambda one: WAYS.index(one["way"]))


def _way(measure: str, then: Document, now: Document) -> str | None:
    left, had = now["reaches_limit_in_h"], then["reaches_limit_in_h"]
    if left is not None:
        if had is None:
            return WAYS[0] if left == 0.0 else WAYS[1]
        if left == 0.0 and had > 0.0:
            return WAYS[0]
    if _sure(now, measure) and _sure(then, measure) and now["slope_per_100h"] * then["slope_per_100h"] > 0.0:
        grown = _steepness(now, measure) / _steepness(then, measure)
        if grown > 1.0 + limit_value("digest_steeper"):
            return WAYS[2]
    if left is None or had is None or now["limit"] != then["limit"]:
        return None
    closer = abs(now["limit"] - now["level"]) < abs(then["limit"] - then["level"])
    return WAYS[3] if closer and left < had else None


def _steepness(trend: Document, measure: str) -> float:
    """Size of a slope; of its level where the measure is worked in logarithms, for there a sound line is a curve."""
    size = abs(float(trend["slope_per_100h"]))
    return size / float(trend["level"]) if BY_MEASURE[measure].logarithmic else size


def _sure(trend: Document, measure: str) -> bool:
    """Whether a slope surely leads the way that is worse for its measure."""
    if trend["slope_per_100h"] is None or trend["low"] <= 0.0 <= trend["high"]:
        return False
    worse = BY_MEASURE[measure].worse
    return worse == 0 or trend["slope_per_100h"] * worse > 0.0


def coming_limits(review: Document, hours_a_week: float | None) -> list[dict[str, Any]]:
    """Give the limits that may be reached soon: in engine hours, or in weeks at the tail's own rate of flying.

    Soon is when the earliest end of the projection lies within ``trend_soon`` or ``digest_soon``. ``weeks`` gives
    the projection in weeks, None where the aircraft is not flying.
    """
    found = []
    for measure, trend in review["trends"].items():
        if trend["earliest_h"] is None:
            continue
        ends = {"likely": trend["reaches_limit_in_h"], "earliest": trend["earliest_h"], "latest": trend["latest_h"]}
        weeks = {key: round(hours / hours_a_week, 1) for key, hours in ends.items()} if hours_a_week else None
        near = trend["earliest_h"] <= limit_value("trend_soon")
        if near or (weeks is not None and weeks["earliest"] <= limit_value("digest_soon")):
            found.append(
                {key: trend[key] for key in ("level", "limit", "unit", "reaches_limit_in_h", "earliest_h", "latest_h")}
                | {"measure": measure, "weeks": weeks, "past": trend["reaches_limit_in_h"] == 0.0}
            )
    return sorted(found, key=lambda one: float(one["earliest_h"]))


def by_need(items: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give items with a severity by it, the worst first, then by tail."""
    return sorted(items, key=lambda one: (-Severity(one["severity"]).rank, one["tail"] or "", one["finding"]))
