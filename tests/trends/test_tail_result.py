"""A tail's result: kept whole, written by the contract with its units, told in one order."""

from __future__ import annotations

import json
from datetime import timedelta

import msgspec
import pytest
from made_histories import FAULTY, HEALTHY, made

from analyzer.contract import laid_out, plain
from analyzer.contract_tails import tail_entry, tails_entry, work_entry
from analyzer.measures.measure import MEASURES
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail
from analyzer.trends.tracked_series import BY_MEASURE
from analyzer.trends.work_done import work_of_day


@pytest.fixture(scope="module", params=[*HEALTHY, *FAULTY])
def result(request: pytest.FixtureRequest) -> TailResult:
    return tail_result(review_tail(made(request.param, 8).history))


def test_what_is_kept_reads_back_as_the_same_types(result):
    assert msgspec.json.decode(msgspec.json.encode(result), type=TailResult) == result


def test_numbers_behind_a_finding_carry_the_unit_of_their_measure(result):
    for one, told in zip(result.findings, plain(tail_entry(result))["findings"], strict=True):
        if one.shift is None or one.shift.of is None:
            continue
        measure, levels = one.shift.of.measure, one.shift.of
        moved = "1" if BY_MEASURE[measure].logarithmic else MEASURES[measure]
        units = {"from": MEASURES[measure], "to": MEASURES[measure], "moved": moved, "over_hours": "h"}
        assert {name: quantity["unit"] for name, quantity in told["quantities"].items()} == units
        assert told["quantities"]["moved"]["low"] <= one.shift.moved.value <= told["quantities"]["moved"]["high"]
        assert told["evidence"]["from"] == pytest.approx(levels.start.value, abs=0.0005)
        assert told["evidence"]["to"] == pytest.approx(levels.end.value, abs=0.0005)


def test_open_and_past_findings_are_all_findings_and_the_json_says_which(result):
    assert {*result.open_findings, *result.past_findings} == set(result.findings)
    written = json.loads(laid_out(tails_entry([result])))["tails"][0]["findings"]
    assert [one["lapsed_flight"] is None for one in written] == [one.open for one in result.findings]


def test_work_of_a_day_is_told_by_day_or_by_moment():
    history = made("battery_replaced", 6).history
    result, (entry,) = tail_result(review_tail(history)), history.entries
    midnight = entry.when.replace(hour=0, minute=0, second=0, microsecond=0)
    for when, told in ((entry.when, 1), (midnight, 1), (midnight + timedelta(days=1), 0)):
        work = work_of_day(result, when)
        assert len(work.entries) == told
        assert len(plain(work_entry(work))["entries"]) == told
    if entry.when != midnight:
        assert work_of_day(result, entry.when + timedelta(minutes=1)).entries == ()
