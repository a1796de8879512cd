"""What the review says of recorded flights, beside what a person sees in their traces.

The numbers below were written down from looking at the plotted traces of the public recordings (README there: six
cranking dips to 10.4 V and below, a hard start, 37 A at 14.0 V tapering to 4 A in 22 min; on a second day 35 A down to
9 A in 3 min, 14.2 to 14.4 V after that; no alternator trip; absurd currents and 0 V as power goes off).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.logs import Log, find_logs, read_log
from analyzer.reports.story import story
from analyzer.review import LogReview, review_log

FILES = ("semicolon_14v_raw_download.csv", "semicolon_14v_one_header.csv", "semicolon_14v_one_session.csv")


@pytest.fixture(scope="module", params=FILES)
def recorded(request: pytest.FixtureRequest, shared: Path) -> LogReview:
    (source,) = find_logs([shared / "real_logs" / request.param])
    log = read_log(source)
    assert isinstance(log, Log)
    return review_log(log)


def test_each_engine_run_is_one_flight(recorded: LogReview) -> None:
    assert len(recorded.flights) == (1 if "one_session" in recorded.log.source else 2)


def test_it_is_a_14_volt_system_with_a_battery_ammeter(recorded: LogReview) -> None:
    for review in recorded.flights:
        assert review.flight.nominal_voltage == 14
        assert review.flight.ammeter.kind == "battery"


def test_the_hard_start_is_seen_as_many_tries_and_a_deep_fall(recorded: LogReview) -> None:
    first = recorded.flights[0].measures
    # by eye: six dips to 10.4 V in the minute and a half before power goes off and on; then, between two rows, the
    # crank that starts the engine. The 7 V beside them is the bus on its way down to 0 V as power goes off.
    # With a row every 5 s more may have fallen in between, so that six is the least.
    tries = first["start_attempts"]
    assert (tries.value, tries.at_least) == (None, 6)
    assert "fall in between" in (tries.because or "")
    assert (first["cranking_voltage"].value or 99.0) == pytest.approx(10.4, abs=0.1)
    # the six dips by eye, each from half way between the rows about its first to half way about its last: 4.5, 3.5,
    # 8.5, 10.5, 8 and 4 s
    lasted = first["cranking_time"]
    assert lasted.low is not None
    assert lasted.high is not None
    assert lasted.low <= 39.0 <= lasted.high
    assert lasted.value == pytest.approx(39.0, abs=6.0)


def test_no_start_is_taken_from_another_power_cycle(recorded: LogReview) -> None:
    # by eye: on the second day the bus reads nothing for half a minute, then the recorder begins anew, engine running
    for later in recorded.flights[1:]:
        assert later.flight.begins_running
        assert later.measures["start_attempts"].value is None
        assert later.measures["resting_voltage"].value is None
        assert later.flight.to_s - later.flight.from_s == pytest.approx(1479.0, abs=5.0)  # not the power-off rows


def test_the_story_tells_of_as_many_tries_as_are_measured(recorded: LogReview) -> None:
    for review in recorded.flights:
        told = [one for one in story(review) if "did not start the engine" in one.says or "Engine started" in one.says]
        least = review.measures["start_attempts"].at_least
        assert len(told) == (0 if least is None else least + 1), (
            "those seen, and the one that started the engine unseen"
        )


def test_the_bus_is_held_where_the_trace_shows_it(recorded: LogReview) -> None:
    # by eye: 14.0 V at first, 14.2 V later; on the second day 14.2 to 14.4 V
    held = recorded.flights[0].measures["regulated_voltage"]
    assert held.value == pytest.approx(14.2, abs=0.1)
    for later in recorded.flights[1:]:
        assert later.measures["regulated_voltage"].value == pytest.approx(14.25, abs=0.1)


def test_a_recharge_that_the_engine_stop_cuts_off_is_said_not_to_be_measurable(recorded: LogReview) -> None:
    # by eye: still at 4 A and falling when the engine stops after 22 min
    tau = recorded.flights[0].measures["recharge_time_constant"]
    assert tau.value is None
    assert "ends before" in (tau.because or "")


def test_the_second_days_recharge_settles_within_minutes(recorded: LogReview) -> None:
    for later in recorded.flights[1:]:
        # by eye: 35 A at first, 9 A after 3 min, about 4 to 5 A from 5 min on
        settling = later.measures["recharge_settling_time"]
        assert settling.value is not None
        assert 3.0 < settling.value < 7.0
        assert (later.measures["recharge_peak_current"].value or 0.0) == pytest.approx(29.0, abs=4.0)


def test_power_going_off_is_no_fault_and_no_trip_is_invented(recorded: LogReview) -> None:
    for review in recorded.flights:
        assert {finding.name for finding in review.findings} <= {"weak_cranking"}
        assert (review.measures["highest_voltage"].value or 99.0) < 14.7
        assert review.measures["offline_time"].value == 0.0


def test_the_three_forms_of_one_record_agree(shared: Path) -> None:
    raw, tidy = (
        review_log(log)
        for name in FILES[:2]
        if isinstance(log := read_log(find_logs([shared / "real_logs" / name])[0]), Log)
    )
    assert [dict(review.measures) for review in raw.flights] == [dict(review.measures) for review in tidy.flights]
