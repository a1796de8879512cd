"""Did it help, by the findings that the work was for: counted on both sides, and called sure only when it is."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from scipy.stats import fisher_exact

from analyzer.findings.finding import OF_ONE_FLIGHT, FindingName, Severity
from analyzer.measures.measure import MEASURES
from analyzer.trends import found_around as around
from analyzer.trends.comparison import compare_entries
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.followed_tail import follow_tail
from analyzer.trends.found_around import SHOWN_BY, FoundAround
from analyzer.trends.history import FlightFinding, FlightSummary, History, Reading, history_of

FIRST = datetime(2026, 3, 1, 10)
SOUND = {"regulated_voltage": 14.1, "cranking_voltage": 10.6, "cranking_time": 2.0, "maintenance_current": 1.0}


def flown(marks: str, finding: str, works: dict[int, str]) -> History:
    """A flight a day; "x" where the finding was made, "?" where it could not have been made.

    Work by the place of the first flight after it.
    """
    found = (FlightFinding(FindingName(finding), Severity.CAUTION),)
    shown = {name: Reading(SOUND[name], SOUND[name] - 0.05, SOUND[name] + 0.05) for name in SHOWN_BY[finding]}
    flights = [
        FlightSummary(
            FIRST + timedelta(days=day), FIRST + timedelta(days=day, hours=1), 1.0, 14, "battery", None, None, None,
            {} if mark == "?" else shown, found if mark == "x" else (),
        )
        for day, mark in enumerate(marks)
    ]  # fmt: skip
    entries = [Entry("N0007E", FIRST + timedelta(days=day, hours=-2), kind, "") for day, kind in works.items()]
    return history_of("N0007E", flights, entries)


def found_around(history: History, entry: Entry) -> tuple[FoundAround, ...]:
    """The counts, whatever was found lately."""
    return tuple(replace(one, lately=1) for one in around.found_around(history, entry))


def verdict(marks: str, at: int, kind: str = "connection_repaired", finding: str = "alternator_offline") -> str:
    return compare_entries(follow_tail(flown(marks, finding, {at: kind})))[0].verdict


@pytest.mark.parametrize(
    ("before", "flights_before", "after", "flights_after"), [(1, 10, 0, 17), (6, 10, 0, 9), (5, 8, 2, 8), (3, 3, 3, 3)]
)
def test_the_chance_is_that_of_fishers_exact_test(
    before: int, flights_before: int, after: int, flights_after: int
) -> None:
    own = FoundAround("alternator_offline", before, flights_before, after, flights_after).chance
    table = [[after, flights_after - after], [before, flights_before - before]]
    assert own == pytest.approx(fisher_exact(table, alternative="less").pvalue, rel=1e-12)


def test_a_finding_made_often_before_and_never_since_was_helped() -> None:
    assert verdict(".xxx.xxxxx" + ".........", 10) == "helped"


def test_a_finding_made_once_before_and_not_since_is_not_surely_gone() -> None:
    assert verdict(".........x" + "." * 17, 10) == "not found again"


def test_a_finding_made_again_since_was_not_helped() -> None:
    assert verdict("..x...x..x" + "..x....", 10) == "did not help"


def test_flights_that_could_not_have_shown_it_do_not_count_as_flights_without_it() -> None:
    history = flown(".xxx.xxxxx" + "??????..", "weak_cranking", {10: "battery_replaced"})
    assert found_around(history, history.entries[0]) == (FoundAround("weak_cranking", 8, 10, 0, 2),)
    assert verdict(".xxx.xxxxx" + "????????????", 10, "battery_replaced", "weak_cranking") == "too few flights yet"


def test_a_flight_too_short_to_settle_in_does_not_count_as_one_that_settled() -> None:
    history = flown(".xxx.xxxxx" + ".........", "recharge_never_settles", {10: "battery_replaced"})
    assert found_around(history, history.entries[0]) == (FoundAround("recharge_never_settles", 8, 10, 0, 9),)
    short = tuple(replace(one, hours=0.4) if place >= 10 else one for place, one in enumerate(history.flights))
    history = replace(history, flights=short)
    assert found_around(history, history.entries[0]) == (FoundAround("recharge_never_settles", 8, 10, 0, 0),)


@pytest.mark.parametrize("hours_apart", [0, 1, 20])
def test_two_jobs_with_no_flight_between_are_one_stop(hours_apart: int) -> None:
    history = flown(".xxx.xxxxx" + ".........", "alternator_offline", {10: "connection_repaired"})
    first = history.entries[0]
    earlier = Entry("N0007E", first.when - timedelta(hours=hours_apart), "alternator_replaced", "")
    both = history_of("N0007E", history.flights, (earlier, first))
    assert [one.verdict for one in compare_entries(follow_tail(both))] == ["helped", "helped"]
    for entry in both.entries:
        assert found_around(both, entry) == (FoundAround("alternator_offline", 8, 10, 0, 9),)


def test_as_many_flights_count_on_each_side_as_for_the_measures() -> None:
    history = flown("x" * 30 + "." * 30, "alternator_offline", {30: "connection_repaired"})
    (one,) = found_around(history, history.entries[0])
    assert (one.flights_before, one.flights_after) == (20, 20)
    history = flown("x" * 10 + "." * 20 + "." * 20 + "x" * 10, "alternator_offline", {30: "connection_repaired"})
    assert found_around(history, history.entries[0]) == ()  # those nearest to the work on both sides


def test_of_two_findings_one_that_goes_on_forbids_help() -> None:
    ended = flown(".xxx.xxxxx" + ".........", "unsteady_connection", {10: "connection_repaired"})
    back = flown("..x...x..x" + "..x..x...", "alternator_offline", {10: "connection_repaired"})
    both = [
        replace(one, findings=one.findings + other.findings)
        for one, other in zip(ended.flights, back.flights, strict=True)
    ]
    history = replace(ended, flights=tuple(both))
    assert [one.verdict for one in compare_entries(follow_tail(history))] == ["changed"]
    assert [one.verdict for one in compare_entries(follow_tail(back))] == ["did not help"]
    assert [one.verdict for one in compare_entries(follow_tail(ended))] == ["helped"]


def test_work_does_not_end_what_had_ended_long_before() -> None:
    assert verdict("x" * 10 + "." * 10 + "." * 10, 20) == "no change"
    assert verdict("x" * 5 + "." * 15 + "." * 20, 20) == "no change"
    assert verdict("." * 10 + "x" * 10 + "." * 10, 20) == "helped"


def test_a_finding_that_is_in_two_of_five_flights_still_has_not_ended() -> None:
    assert verdict("." * 4 + "x" * 16 + "xx...x..x.x....x.xx.", 20) == "did not help"  # surely rarer, and no cure


def test_a_stray_flight_since_is_no_return() -> None:
    assert verdict("." * 4 + "x" * 16 + "." * 9 + "x" + "." * 10, 20) == "helped"


def test_what_was_gone_for_some_flights_and_is_back_is_said_so() -> None:
    assert verdict("." * 4 + "x" * 16 + "......" + "x.xxx" + "xxxxx", 20) == "helped, then came back"
    assert verdict("." * 4 + "x" * 16 + "." * 25 + "x.xxx" + "xxxxx", 20) == "helped, then came back"
    assert verdict("..x...x..x" * 2 + "......" + "..x..x..x.", 20) == "did not help"  # six clean flights are luck


def test_what_such_work_should_end_and_is_there_only_since_is_new() -> None:
    assert verdict("." * 20 + ".x" + "x" * 18, 20) == "new after the work"
    assert verdict("." * 20 + "..x" + "." * 17, 20) == "no change"


def test_two_flights_since_are_too_few() -> None:
    assert verdict(".xxxxxxxxx" + "..", 10) == "too few flights yet"


def test_work_that_cannot_end_the_finding_is_not_judged_by_it() -> None:
    assert verdict(".xxx.xxxxx" + ".........", 10, kind="battery_replaced") == "nothing to compare"


def test_flights_count_up_to_the_next_work_that_can_end_it() -> None:
    works = {5: "connection_repaired", 10: "alternator_replaced", 15: "battery_replaced"}
    history = flown("xxxxx" + "....." + "xxxxxxxxxx", "alternator_offline", works)
    first, second, third = history.entries
    assert found_around(history, first) == (FoundAround("alternator_offline", 5, 5, 0, 5),)
    assert found_around(history, second) == (FoundAround("alternator_offline", 0, 5, 10, 10),)
    assert [found_around(history, one)[0].place for one in (first, second)] == [5, 10]
    assert found_around(history, third) == ()


def test_what_a_flight_must_carry_is_known_of_every_finding_that_work_is_done_to_end() -> None:
    assert set(SHOWN_BY) == set().union(*(kind.ends for kind in kinds().values()))
    assert set().union(*SHOWN_BY.values()) <= set(MEASURES)


def test_every_finding_that_work_is_done_to_end_is_one_of_a_flight() -> None:
    assert set().union(*(kind.ends for kind in kinds().values())) <= set(OF_ONE_FLIGHT)


def test_a_finding_that_had_ended_before_the_work_and_returns_later_did_not_come_back_from_it() -> None:
    assert verdict("x" * 8 + "." * 12 + "." * 14 + "xxxxxx", 20) not in ("helped", "helped, then came back")
