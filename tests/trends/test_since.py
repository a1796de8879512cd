"""New, worse, fixed and near since a moment, on reviews with known answers and on made tails."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from made_histories import made

from analyzer.trends.fleet_result import next_limit
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import Condition
from analyzer.trends.since import (
    as_of,
    coming_limits,
    helped_then,
    known_at,
    lapsed,
    may_be_worse,
    raised,
    risen,
    still_open,
    telling,
    worse_trends,
)
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail
from tests.made_results import NEVER, PASSED, trend, trend_finding

SINCE = datetime(2026, 5, 4)
NONE, PAST = {"ends": NEVER}, {"ends": PASSED}


def review(measure: str = "regulated_voltage", findings: tuple[TrendFinding, ...] = (), **more: object) -> TailResult:
    trends = {measure: trend(measure, **more)}
    return TailResult("N0", 30, 30.0, 14, Condition.GOOD, 0, (), (), trends, findings, (), ())


def finding(raised_at: str, lapsed_at: str | None = None, severity: str = "caution") -> TrendFinding:
    lapses = None if lapsed_at is None else datetime.fromisoformat(lapsed_at)
    return trend_finding(severity=severity, raised_at=datetime.fromisoformat(raised_at), lapsed_at=lapses)


def ways(then: TailResult, now: TailResult) -> list[str]:
    return [one.way for one in worse_trends(now.trends, then.trends)]


def test_a_limit_that_was_not_passed_and_now_is():
    assert ways(review(), review(level=14.6, **PAST)) == ["past its limit"]
    assert ways(review(**NONE), review(level=14.6, **PAST)) == ["past its limit"]
    past = review(level=14.6, **PAST)
    assert ways(past, past) == []


@pytest.mark.parametrize("slope", [(-0.2, -0.3, -0.1), (0.0, -0.1, 0.1)])
def test_a_level_past_its_limit_counts_as_passed_without_a_forecast(slope):
    """Past by its level, and moving back or nowhere: nothing is foretold, and it is past all the same."""
    outside = review(level=14.6, **dict(zip(("slope", "low", "high"), slope, strict=True)), past=True, **NONE)
    assert ways(review(), outside) == ways(review(**NONE), outside) == ["past its limit"]
    assert ways(outside, outside) == []
    assert may_be_worse(outside, SINCE)
    assert "regulated_voltage" in telling(outside, SINCE)
    (shown,) = coming_limits(outside.trends, 12.0)
    assert (shown.limit.reached.past, shown.level) == (True, 14.6)
    assert next_limit(outside.trends).reached.past


def test_a_trend_to_the_limit_that_was_not_there():
    assert ways(review(low=-0.1, **NONE), review()) == ["now heads for its limit"]


def test_a_slope_that_has_grown_by_more_than_the_limit_allows():
    assert ways(review(), review(slope=0.25, ends=(120.0, 100.0, 300.0))) == ["steeper"]
    assert ways(review(), review(slope=0.23, level=14.19)) == []


def test_a_measure_in_logarithms_is_steeper_only_when_its_share_grows():
    then = review("recharge_time_constant", level=4.0, slope=1.0, limit=None, **NONE)
    same = review("recharge_time_constant", level=6.0, slope=1.5, low=1.0, high=2.0, limit=None, **NONE)
    more = review("recharge_time_constant", level=4.0, slope=1.5, low=1.0, high=2.0, limit=None, **NONE)
    assert ways(then, same) == []
    assert ways(then, more) == ["steeper"]


def test_a_slope_that_is_not_sure_or_leads_the_better_way_is_not_steeper():
    assert ways(review(low=-0.1, **NONE), review(low=-0.1, slope=0.4, **NONE)) == []
    falling = {"slope": -1.0, "low": -1.2, "high": -0.8, "limit": None, **NONE}
    steeper = falling | {"slope": -2.0, "low": -2.2, "high": -1.8}
    assert ways(review("maintenance_current", **falling), review("maintenance_current", **steeper)) == []
    assert ways(review("cranking_voltage", **falling), review("cranking_voltage", **steeper)) == ["steeper"]


def test_nearer_needs_a_level_closer_to_the_limit_and_fewer_hours_left():
    assert ways(review(), review(level=14.25, ends=(125.0, 100.0, 300.0))) == ["nearer"]
    assert ways(review(), review(level=14.25, ends=(160.0, 100.0, 300.0))) == []
    assert ways(review(), review(level=14.15, ends=(140.0, 100.0, 300.0))) == []


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
    assert still_open(told, SINCE) == [old]
    assert lapsed(told, SINCE) == [gone, brief]


def test_a_finding_has_risen_when_it_stood_open_with_less_severity():
    then = review(findings=(finding("2026-04-05"), finding("2026-03-01", "2026-03-09")))
    now = review(findings=(finding("2026-04-05", severity="warning"), finding("2026-05-05", severity="warning")))
    (worse,) = risen(now.findings, then.findings)
    assert (worse.finding.raised_at, worse.severity_then) == (datetime(2026, 4, 5), "caution")
    assert risen(then.findings, now.findings) == []


def test_a_limit_is_near_by_engine_hours_or_by_weeks_at_the_own_rate():
    far = review().trends
    assert coming_limits(far, None) == []
    assert coming_limits(far, 12.0) == []  # 8.3 weeks
    (near,) = coming_limits(far, 13.0)
    assert near.weeks.earliest == pytest.approx(100.0 / 13.0)  # 7.7 weeks
    assert near.weeks.likely == pytest.approx(150.0 / 13.0)
    assert near.weeks.latest == pytest.approx(300.0 / 13.0)
    soon = review(ends=(150.0, 50.0, 300.0)).trends
    (hours,) = coming_limits(soon, 0.1)
    assert (hours.limit.reached.past, hours.weeks.earliest) == (False, pytest.approx(500.0))
    (idle,) = coming_limits(soon, None)
    assert idle.weeks is None
    (past,) = coming_limits(review(**PAST).trends, None)
    assert past.limit.reached.past


@pytest.mark.parametrize(("kind", "seed"), [("drift_up", 7), ("ageing", 7), ("battery_replaced", 6)])
def test_what_was_known_then_is_what_the_analysis_says_of_the_flights_until_then(kind, seed):
    history = made(kind, seed).history
    middle = history.flights[len(history.flights) // 2].start
    whole = tail_result(review_tail(history.until(middle)))
    assert known_at(history, middle) == replace(whole, unlike=())


@pytest.mark.long(keep=7)
@pytest.mark.parametrize("kind", ["drift_up", "ageing", "loosening", "resting_down", "instrument", "step"])
@pytest.mark.parametrize("seed", [5, 6, 7])
def test_leaving_out_what_cannot_be_worse_changes_nothing_of_the_rest(kind, seed):
    history = made(kind, seed).history
    now = tail_result(review_tail(history))
    for place in (len(history.flights) // 2, len(history.flights) * 3 // 4, len(history.flights) - 3):
        since = history.flights[place].start
        full = known_at(history, since - timedelta(microseconds=1))
        then = as_of(history, since, telling(now, since))
        assert full.flights == place
        assert {m: then.trends[m] for m in telling(now, since)} == {m: full.trends[m] for m in telling(now, since)}
        assert worse_trends(now.trends, then.trends) == worse_trends(now.trends, full.trends)
        assert risen(now.findings, then.findings) == risen(now.findings, full.findings)


def test_before_the_calendar_s_first_moment_nothing_was_known():
    history = made("drift_up", 7).history
    assert as_of(history, datetime.min, {"regulated_voltage"}).trends["regulated_voltage"].points == 0
    assert helped_then(history, datetime.min) == {}
