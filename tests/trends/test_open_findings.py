"""What stands open of an aircraft, and so its condition."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from analyzer.findings.finding import FindingName, Severity
from analyzer.records.changing import Disposition, settled_findings
from analyzer.records.verdicts import Disposed
from analyzer.reports.trend_words import and_more
from analyzer.trends.fleet_result import fleet_result
from analyzer.trends.history import FlightAt, FlightFinding
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import Condition, OfFlight, OpenFindings, flights_that_count, open_findings
from analyzer.trends.tail_result import TailResult


def raised(name: FindingName, severity: str, at: datetime | None, flight: int = 8) -> TrendFinding:
    return TrendFinding(name, Severity(severity), flight, at, None, None, at, 3, "")


def settled(finding: str, at: str, verdict: str) -> frozenset[tuple[str, str]]:
    said = Disposition(1, "N0", finding, at, Disposed(verdict), "A. Mender", "", None, "2026-06-01")
    return settled_findings([said]).get("N0", frozenset())


DRIFT = raised(FindingName.REGULATOR_DRIFT, "warning", datetime(2026, 5, 1))
WEAKER = raised(FindingName.CRANKING_WEAKENING, "advisory", datetime(2026, 5, 2))
NINTH, EIGHTH = datetime(2026, 5, 9), datetime(2026, 5, 8, 10)


def slow() -> FlightFinding:
    """A finding of a flight; each is one of its own."""
    return FlightFinding(FindingName.SLOW_RECHARGE, Severity.CAUTION)


def test_the_worst_open_finding_stands_first_and_the_other_kinds_are_counted_once() -> None:
    stands = open_findings([WEAKER, DRIFT], [OfFlight(slow(), 8, NINTH, 2), OfFlight(slow(), 7, EIGHTH, 1)])
    assert (stands.worst, stands.shown_by) == (DRIFT, None)
    assert stands.names == ["cranking_weakening", "regulator_drift", "slow_recharge"]
    assert and_more(stands) == "And 2 more."


def test_of_equal_findings_the_latest_flights_is_shown() -> None:
    latest, earlier = OfFlight(slow(), 8, NINTH, 2), OfFlight(slow(), 7, EIGHTH, 1)
    stands = open_findings([], [latest, earlier])
    assert stands.worst is latest.finding
    assert stands.shown_by is latest
    assert and_more(stands) == ""


def test_a_settled_finding_gives_way_to_the_next_and_a_confirmed_one_does_not() -> None:
    def worst(verdict: str, at: str = "2026-05-01T00:00:00") -> object:
        return open_findings([WEAKER, DRIFT], [], settled("regulator_drift", at, verdict)).worst

    assert worst("fixed") == worst("accepted") == worst("not found on inspection") == WEAKER
    assert worst("confirmed") == DRIFT
    assert worst("fixed", "2026-04-30T00:00:00") == DRIFT


def test_a_finding_that_came_back_is_settled_by_when_it_was_raised_last() -> None:
    again = replace(DRIFT, again=(FlightAt(20, datetime(2026, 6, 1)), FlightAt(30, datetime(2026, 7, 1))))
    assert again.key == "2026-07-01T00:00:00"
    assert raised(FindingName.REGULATOR_DRIFT, "warning", None, 3).key == "flight 4"
    for at, left in (("2026-05-01T00:00:00", again), ("2026-07-01T00:00:00", None)):
        assert open_findings([again], [], settled("regulator_drift", at, "fixed")).worst == left


def test_a_flights_finding_is_settled_by_the_start_of_its_flight() -> None:
    one = OfFlight(slow(), 7, EIGHTH, 1)
    assert open_findings([], [one], settled("slow_recharge", "2026-05-08T10:00:00", "fixed")).worst is None
    assert open_findings([], [one], settled("slow_recharge", "2026-05-08T10:20:00", "fixed")).worst is not None


def test_findings_that_lapsed_stand_open_no_more() -> None:
    assert open_findings([replace(DRIFT, lapsed_flight=20)], []) == OpenFindings((), ())


@pytest.mark.parametrize(("flights", "condition"), [(2, "unknown"), (3, "good")])
def test_with_nothing_open_the_condition_is_good_once_enough_flights_tell(flights: int, condition: str) -> None:
    assert flights_that_count() == 3
    assert open_findings([], []).condition(flights) == condition
    assert open_findings([WEAKER], []).condition(flights) == "advisory"


def result(tail: str, *latest: OfFlight[FlightFinding]) -> TailResult:
    condition = open_findings([], latest).condition(9)
    return TailResult(tail, 9, 9.0, 14, condition, 0, (), latest, {}, (), (), ())


def test_the_fleet_puts_an_aircraft_first_for_what_its_last_flight_shows_until_it_is_settled() -> None:
    last = OfFlight(FlightFinding(FindingName.OUTPUT_SHORT, Severity.CAUTION), 8, datetime(2026, 8, 1, 9))
    results = [result("N0"), result("N01", last)]
    rows = fleet_result(results, {}).rows
    assert [(row.tail, row.result.condition) for row in rows] == [("N01", "caution"), ("N0", "good")]
    assert rows[0].stands.shown_by == last
    done = {"N01": frozenset({("output_short", "2026-08-01T09:00:00")})}
    conditions = [row.result.condition for row in fleet_result(results, {}, settled=done).rows]
    assert conditions == [Condition.GOOD, Condition.GOOD]
    assert results[1].stands(done["N01"]).names == []


def test_conditions_stand_from_most_to_least_need() -> None:
    assert [Condition(name).place for name in ("warning", "caution", "advisory", "unknown", "good")] == [0, 1, 2, 3, 4]
