"""What stands open of an aircraft, and so its condition."""

from __future__ import annotations

from typing import Any

import pytest

from analyzer.records.changing import Disposition, settled_findings
from analyzer.records.verdicts import Disposed
from analyzer.trends.fleet import fleet_document
from analyzer.trends.open_findings import OfFlight, OpenFindings, flights_that_count, open_findings, open_of_review


def found(name: str, severity: str = "caution", **more: Any) -> dict[str, Any]:
    return {"finding": name, "severity": severity, "lapsed_at": None, **more}


def settled(finding: str, at: str, verdict: str) -> frozenset[tuple[str, str]]:
    said = Disposition(1, "N0", finding, at, Disposed(verdict), "A. Mender", "", None, "2026-06-01")
    return settled_findings([said]).get("N0", frozenset())


DRIFT = found("regulator_drift", "warning", raised_at="2026-05-01")
TIGHTER = found("cranking_weakening", "advisory", raised_at="2026-05-02")


def test_the_worst_open_finding_stands_first_and_the_other_kinds_are_counted_once() -> None:
    slow = found("slow_recharge")
    stands = open_findings([TIGHTER, DRIFT], [OfFlight(slow, "2026-05-09", 2), OfFlight(slow, "2026-05-08", 1)])
    assert (stands.worst, stands.flight_id) == (DRIFT, None)
    assert stands.names == ["cranking_weakening", "regulator_drift", "slow_recharge"]
    assert stands.more == "And 2 more."


def test_of_equal_findings_the_latest_flights_is_shown() -> None:
    first, second = found("slow_recharge", says="first"), found("slow_recharge", says="second")
    stands = open_findings([], [OfFlight(second, "2026-05-09", 2), OfFlight(first, "2026-05-08", 1)])
    assert (stands.worst, stands.flight_id, stands.more) == (second, 2, "")


def test_a_settled_finding_gives_way_to_the_next_and_a_confirmed_one_does_not() -> None:
    def worst(verdict: str, at: str = "2026-05-01") -> object:
        return open_findings([TIGHTER, DRIFT], [], settled("regulator_drift", at, verdict)).worst

    assert worst("fixed") == worst("accepted") == worst("not found on inspection") == TIGHTER
    assert worst("confirmed") == DRIFT
    assert worst("fixed", "2026-04-30") == DRIFT


def test_a_flights_finding_is_settled_by_the_start_of_its_flight() -> None:
    slow = OfFlight(found("slow_recharge", start="2026-05-08T10:20:00"), "2026-05-08T10:00:00", 1)
    assert open_findings([], [slow], settled("slow_recharge", "2026-05-08T10:00:00", "fixed")).worst is None
    assert open_findings([], [slow], settled("slow_recharge", "2026-05-08T10:20:00", "fixed")).worst is not None


def test_findings_that_lapsed_stand_open_no_more() -> None:
    assert open_findings([DRIFT | {"lapsed_at": "2026-05-20"}], []) == OpenFindings((), ())


@pytest.mark.parametrize(("flights", "condition"), [(2, "unknown"), (3, "good")])
def test_with_nothing_open_the_condition_is_good_once_enough_flights_tell(flights: int, condition: str) -> None:
    assert flights_that_count() == 3
    assert open_findings([], []).condition(flights) == condition
    assert open_findings([TIGHTER], []).condition(flights) == "advisory"


def review(**more: Any) -> dict[str, Any]:
    return {"tail": "N0", "flights": 9, "hours": 9.0, "findings": [], "trends": {}, "in_latest_flights": [], **more}


def test_the_fleet_puts_an_aircraft_first_for_what_its_last_flight_shows_until_it_is_settled() -> None:
    last = {"start": "2026-08-01T09:00:00", "finding": "output_short", "severity": "caution"}
    reviews = [review(), review(tail="N01", in_latest_flights=[last])]
    rows = fleet_document(reviews, {})["tails"]
    assert [(row["tail"], row["condition"]) for row in rows] == [("N01", "caution"), ("N0", "good")]
    assert rows[0]["worst_finding"] == last
    done = {"N01": frozenset({("output_short", "2026-08-01T09:00:00")})}
    assert [row["condition"] for row in fleet_document(reviews, {}, settled=done)["tails"]] == ["good", "good"]
    assert open_of_review(reviews[1], done["N01"]).names == []
