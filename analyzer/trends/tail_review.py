"""The trends' pipeline: a tail's history becomes its review, one step a line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from analyzer.trends.cold import ColdOutlook, cold_outlook
from analyzer.trends.comparison import Comparison, compare_entries
from analyzer.trends.followed_tail import FollowedTail, Trend, follow_tail, trends_of
from analyzer.trends.forecasts import with_records
from analyzer.trends.history import History
from analyzer.trends.judging import TrendFinding, judge_tail
from analyzer.trends.standing import NOT_LOOKED_AT, Standing, standing_of
from analyzer.trends.unlike import Unlike, unlike_itself
from analyzer.trends.unlogged import Unlogged, unlogged_work


@dataclass(frozen=True, slots=True)
class TailReview:
    """Everything that many flights of one tail say."""

    history: History
    trends: Mapping[str, Trend]
    findings: tuple[TrendFinding, ...]
    comparisons: tuple[Comparison, ...]
    unlike: tuple[Unlike, ...]
    cold: ColdOutlook | None = None  # None where too few starts tell
    standing: Standing = NOT_LOOKED_AT
    unlogged: tuple[Unlogged, ...] = ()  # work to ask about


def review_tail(history: History) -> TailReview:
    """Follow a tail's measures, judge them, compare what each entry did, and look for odd flights."""
    tail = follow_tail(history)
    review = review_followed(tail, unlike_itself(tail))
    return replace(review, trends=with_records(tail, review.trends))


def review_followed(tail: FollowedTail, unlike: tuple[Unlike, ...] = ()) -> TailReview:
    """Judge a tail that is followed, with the flights unlike itself that are known."""
    trends = trends_of(tail)
    findings = judge_tail(tail, trends)
    return TailReview(
        tail.history,
        trends,
        findings,
        compare_entries(tail),
        unlike,
        cold_outlook(tail),
        standing_of(tail.history),
        unlogged_work(tail, findings),
    )
