"""Recorded-like histories with known truth, where the folder of shared cases is there."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.commands.logs import over_logs
from analyzer.service.follow_tails import histories_of
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import TailReview, review_tail


@pytest.fixture(scope="module")
def cases(shared: Path) -> list[tuple[dict, TailReview]]:
    """Each public history's truth and its review."""
    truth = json.loads((shared / "cases" / "truth.json").read_text())["histories"]
    found = histories_of([shared / "cases" / "histories"], Fleet(), over_logs)
    return [(truth[history.tail], review_tail(history)) for history in found.histories]


def test_every_clear_fault_is_raised_and_not_before_it_begins(cases):
    for truth, review in cases:
        for fault in truth["faults"]:
            names = {fault["name"], *fault["accept"]}
            raised = [f.raised_flight for f in review.findings if f.name in names]
            assert raised
            assert min(raised) >= fault["begins_flight"]


def test_nothing_is_raised_that_is_not_true(cases):
    for truth, review in cases:
        allowed = {name for fault in truth["faults"] for name in (fault["name"], *fault["accept"])}
        allowed |= set(truth["tolerated"]) | set(truth["flight_faults"])
        allowed |= {name for name, flights in truth["flight_optional"].items() if len(flights) >= 2}
        assert {finding.name for finding in review.findings} <= allowed
        if truth["healthy"]:
            assert tail_result(review).condition in ("good", "advisory")


def test_the_interval_of_the_slope_holds_the_true_slope(cases):
    for truth, review in cases:
        for measure, slope in truth["slopes"].items():
            trend = review.trends[measure]
            slack = 0.02 * truth["nominal_voltage"] / 14
            assert trend.now.slope.low - slack <= slope["per_100h"] <= trend.now.slope.high + slack
