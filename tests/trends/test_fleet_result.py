"""The fleet's order, what changed, the next limit, and the spread over aircraft of one kind."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from made_histories import made

from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.quantity import volts
from analyzer.reports.fleet_text import fleet_text
from analyzer.reports.trend_text import trend_text
from analyzer.reports.wording import condition_words
from analyzer.trends.fleet_result import Happened, fleet_result, fleet_spread
from analyzer.trends.followed_tail import Present, SecondOpinion, Slope, Trend
from analyzer.trends.open_findings import OfFlight
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail


def results(*kinds: str) -> list[TailResult]:
    """A made tail of each kind, each with a name of its own."""
    return [
        replace(tail_result(review_tail(made(kind, 5 + place).history)), tail=f"N01{place:02d}F")
        for place, kind in enumerate(kinds)
    ]


def test_the_aircraft_in_most_need_stands_first():
    rows = fleet_result(results("plain", "drift_up", "ageing", "season"), {}).rows
    assert [row.result.condition for row in rows][-2:] == ["good", "good"]
    assert rows[0].stands.worst.severity == rows[0].result.condition


def test_what_changed_since_a_day_is_told():
    (result,) = results("step")
    raised = result.findings[0].raised_at
    (row,) = fleet_result([result], {}, raised).rows
    assert (raised, Happened.RAISED, result.findings[0]) in [(one.when, one.what, one.about) for one in row.changed]
    (row,) = fleet_result([result], {}, datetime(2090, 1, 1)).rows
    assert row.changed == ()


def test_the_next_limit_is_the_one_reached_first():
    (result,) = results("drift_up")
    (row,) = fleet_result([result], {}).rows
    assert row.next_limit.measure == "regulated_voltage"
    assert row.next_limit.reached == result.trends["regulated_voltage"].projection
    assert row.next_limit.reached.earliest <= row.next_limit.reached.likely <= row.next_limit.reached.latest


def at(tail: str, nominal_voltage: int, level: float) -> TailResult:
    """An aircraft whose regulated voltage stands at a level."""
    now = Present(level, Slope(0.0, -0.1, 0.1), None, None, SecondOpinion(1.0, 0.0))
    (plain,) = results("plain")
    trends = {"regulated_voltage": Trend("regulated_voltage", 30, now=now)}
    return replace(plain, tail=tail, nominal_voltage=nominal_voltage, trends=trends)


def test_the_spread_is_over_aircraft_of_one_voltage_and_names_who_stands_apart():
    levels = [14.0, 14.02, 14.05, 13.98, 14.9]
    (spread,) = fleet_spread([*(at(f"N0{i}F", 14, level) for i, level in enumerate(levels)), at("N09F", 28, 28.0)])
    assert (spread.tails, spread.median, spread.apart) == (5, 14.02, ("N04F",))
    assert spread.deviation == pytest.approx(1.4826 * 0.03)  # the median of 0.00, 0.02, 0.03, 0.04 and 0.88


def test_nothing_open_is_said_only_where_no_flight_shows_anything_either():
    """Beside a caution of the latest flight it would be a contradiction; a finding closes, and is not seen since."""
    (plain,) = results("plain")
    found = Finding(FindingName.OUTPUT_SHORT, Severity.CAUTION, 0.0, 60.0, {"limit": volts(13.0)}, "")
    shown = OfFlight(found, 30, datetime(2026, 9, 12))
    assert "No finding is open." in trend_text([plain])
    text = trend_text([replace(plain, in_latest_flights=(shown,))])
    assert "    In the flight of 2026-09-12: Low alternator output (caution)\n" in text
    assert "No finding is open." not in text


def test_text_says_what_the_results_say():
    told = results("drift_down", "step", "battery_replaced", "instrument")
    text = trend_text(told)
    for one in told:
        assert f"{one.tail}  condition: {condition_words(one.condition)}" in text
        assert all(finding.says.split()[0] in text for finding in one.findings)
    assert "stepped" in text
    assert "flights before" in text
    fleet = fleet_text(fleet_result(told, {}, datetime(2020, 1, 1)))
    assert "reaches its limit of" in fleet
    assert "Regulated voltage drifting: raised" in fleet
    assert "airworthy" in fleet
    assert "airworthy" in text
    assert "taper add" in fleet_text(fleet_result([], {}))
