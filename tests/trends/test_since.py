"""New, worse, fixed and near since a moment, on reviews with known answers and on made tails."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from made_histories import made

from analyzer.trends.review import review_tail, tail_document
from analyzer.trends.since import (
    as_of,
    by_need,
    coming_limits,
    known_at,
    lapsed,
    may_be_worse,
    raised,
    risen,
    standing,
    telling,
    worse_trends,
)

SINCE = datetime(2026, 5, 4)


def trend(**more: object) -> dict:
    return {
        "unit": "V", "level": 14.2, "slope_per_100h": 0.2, "low": 0.1, "high": 0.3, "limit": 14.5,
        "reaches_limit_in_h": 150.0, "earliest_h": 100.0, "latest_h": 300.0,
    } | more  # fmt: skip


def review(measure: str = "regulated_voltage", findings: tuple[dict, ...] = (), **more: object) -> dict:
    return {"trends": {measure: trend(**more)}, "findings": list(findings), "entries": []}


def finding(raised_at: str, lapsed_at: str | None = None, severity: str = "caution") -> dict:
    return {
        "finding": "regulator_drift",
        "raised_at": raised_at,
        "lapsed_at": lapsed_at,
        "severity": severity,
        "lapsed_by": None,
    }


NONE = {"reaches_limit_in_h": None, "earliest_h": None, "latest_h": None}


def ways(then: dict, now: dict) -> list[str]:
    return [one["way"] for one in worse_trends(now, then)]


def test_a_limit_that_was_not_passed_and_now_is():
    assert ways(review(), review(level=14.6, **dict.fromkeys(NONE, 0.0))) == ["past its limit"]
    assert ways(review(**NONE), review(level=14.6, **dict.fromkeys(NONE, 0.0))) == ["past its limit"]
    past = review(level=14.6, **dict.fromkeys(NONE, 0.0))
    assert ways(past, past) == []


def test_a_trend_to_the_limit_that_was_not_there():
    assert ways(review(low=-0.1, **NONE), review()) == ["now heads for its limit"]


def test_a_slope_that_has_grown_by_more_than_the_limit_allows():
    assert ways(review(), review(slope_per_100h=0.25, reaches_limit_in_h=120.0)) == ["steeper"]
    assert ways(review(), review(slope_per_100h=0.23, level=14.19)) == []


def test_a_measure_in_logarithms_is_steeper_only_when_its_share_grows():
    then = review("recharge_time_constant", level=4.0, slope_per_100h=1.0, limit=None, **NONE)
    same = review("recharge_time_constant", level=6.0, slope_per_100h=1.5, low=1.0, high=2.0, limit=None, **NONE)
    more = review("recharge_time_constant", level=4.0, slope_per_100h=1.5, low=1.0, high=2.0, limit=None, **NONE)
    assert ways(then, same) == []
    assert ways(then, more) == ["steeper"]


def test_a_slope_that_is_not_sure_or_leads_the_better_way_is_not_steeper():
    assert ways(review(low=-0.1, **NONE), review(low=-0.1, slope_per_100h=0.4, **NONE)) == []
    falling = {"slope_per_100h": -1.0, "low": -1.2, "high": -0.8, "limit": None, **NONE}
    steeper = falling | {"slope_per_100h": -2.0, "low": -2.2, "high": -1.8}
    assert ways(review("maintenance_current", **falling), review("maintenance_current", **steeper)) == []
    assert ways(review("cranking_voltage", **falling), review("cranking_voltage", **steeper)) == ["steeper"]


def test_nearer_needs_a_level_closer_to_the_limit_and_fewer_hours_left():
    assert ways(review(), review(level=14.25, reaches_limit_in_h=125.0)) == ["nearer"]
    assert ways(review(), review(level=14.25, reaches_limit_in_h=160.0)) == []
    assert ways(review(), review(level=14.15, reaches_limit_in_h=140.0)) == []


def test_a_review_without_anything_older_or_near_need_not_be_compared():
    assert not may_be_worse(review(**NONE), SINCE)
    assert not may_be_worse(review(findings=(finding("2026-05-05"),), **NONE), SINCE)
    assert not may_be_worse(review(findings=(finding("2026-04-05", "2026-04-20"),), **NONE), SINCE)
    assert may_be_worse(review(findings=(finding("2026-04-05"),), **NONE), SINCE)
    assert may_be_worse(review(), SINCE)


def test_findings_are_told_apart_by_when_they_were_raised_and_lapsed():
    new, old = finding("2026-05-05T10:00:00"), finding("2026-04-05T10:00:00")
    gone, brief = finding("2026-04-01T10:00:00", "2026-05-06T09:00:00"), finding("2026-05-05", "2026-05-07")
    past = finding("2026-03-01T10:00:00", "2026-04-01T10:00:00")
    told = review(findings=(new, new, old, gone, brief, past))
    assert raised(told, SINCE) == [new]
    assert standing(told, SINCE) == [old]
    assert lapsed(told, SINCE) == [gone, brief]


def test_a_finding_has_risen_when_it_stood_open_with_less_severity():
    then = review(findings=(finding("2026-04-05"), finding("2026-03-01", "2026-03-09")))
    now = review(findings=(finding("2026-04-05", severity="warning"), finding("2026-05-05", severity="warning")))
    assert [(f["raised_at"], f["severity_then"]) for f in risen(now, then)] == [("2026-04-05", "caution")]
    assert risen(then, now) == []


def test_a_limit_is_near_by_engine_hours_or_by_weeks_at_the_own_rate():
    far = review(earliest_h=100.0)
    assert coming_limits(far, None) == []
    assert coming_limits(far, 12.0) == []  # 8.3 weeks
    (near,) = coming_limits(far, 13.0)  # 7.7 weeks
    assert near["weeks"] == {"likely": 11.5, "earliest": 7.7, "latest": 23.1}
    (hours,) = coming_limits(review(earliest_h=50.0), 0.1)
    assert (hours["past"], hours["weeks"]["earliest"]) == (False, 500.0)
    (idle,) = coming_limits(review(earliest_h=50.0), None)
    assert idle["weeks"] is None
    (past,) = coming_limits(review(**dict.fromkeys(NONE, 0.0)), None)
    assert past["past"]


def test_items_stand_by_severity_then_by_tail():
    items = [
        {"severity": severity, "tail": tail, "finding": "x"}
        for severity, tail in (("advisory", "N01"), ("warning", "N03"), ("warning", None), ("caution", "N02"))
    ]
    assert [item["tail"] for item in by_need(items)] == [None, "N03", "N02", "N01"]


@pytest.mark.parametrize(("kind", "seed"), [("drift_up", 7), ("ageing", 7), ("battery_replaced", 6)])
def test_what_was_known_then_is_what_the_analysis_says_of_the_flights_until_then(kind, seed):
    history = made(kind, seed).history
    middle = history.flights[len(history.flights) // 2].start
    whole = tail_document(review_tail(history.until(middle)))
    assert known_at(history, middle) == whole | {"unlike_itself": []}


@pytest.mark.parametrize("kind", ["drift_up", "ageing", "loosening", "resting_down", "instrument", "step"])
@pytest.mark.parametrize("seed", [5, 6, 7])
def test_leaving_out_what_cannot_be_worse_changes_nothing_of_the_rest(kind, seed):
    history = made(kind, seed).history
    now = tail_document(review_tail(history))
    for place in (len(history.flights) // 2, len(history.flights) * 3 // 4, len(history.flights) - 3):
        since = history.flights[place].start
        full = known_at(history, since - timedelta(microseconds=1))
        then = as_of(history, since, telling(now, since))
        assert then["flights"] == full["flights"] == place
        assert {m: then["trends"][m] for m in telling(now, since)} == {
            m: full["trends"][m] for m in telling(now, since)
        }
        assert worse_trends(now, then) == worse_trends(now, full)
        assert risen(now, then) == risen(now, full)
