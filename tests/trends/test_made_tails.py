"""Invented tails with known answers: what is found, when, how surely, and how seldom wrongly."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made_histories import FAULTY, HEALTHY, made

from analyzer.contract_tails import trend_entry
from analyzer.limits import limit_value
from analyzer.reports.trend_words import outlook_words, past_words
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import Trend, follow_tail, trend_of, trends_of
from analyzer.trends.history import Reading, history_of
from analyzer.trends.judging import judge_tail
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail
from analyzer.trends.tracked_series import TRACKED
from tests.as_json import tail_json

#: Tails of each kind, and with ``--long``.
TAILS, TAILS_LONG = 6, 12
#: What an odd flight adds to a measure [V, 14 V system] and multiplies it by.
ODD = (("regulated_voltage", -0.2, 1.0), ("cranking_voltage", -1.5, 1.0), ("recharge_time_constant", 0.0, 1.6))


@pytest.fixture(scope="module")
def reviews(request):
    """Every kind of tail, several of each, reviewed."""
    seeds = range(TAILS_LONG if request.config.getoption("--long") else TAILS)
    return {
        kind: [(tail, review_tail(tail.history)) for tail in (made(kind, seed) for seed in seeds)]
        for kind in (*HEALTHY, *FAULTY)
    }


def findings_of(history):
    """What is found in a history, without what else a review tells of it."""
    tail = follow_tail(history)
    return judge_tail(tail, trends_of(tail))


def right(tail, review):
    """Findings that are true of a tail and were not raised before the fault began."""
    return [f for f in review.findings if f.name in tail.names and f.raised_flight >= tail.begins]


def test_nearly_every_fault_is_found(reviews):
    found = [bool(right(tail, review)) for kind in FAULTY for tail, review in reviews[kind]]
    assert sum(found) / len(found) >= 0.95


def test_false_findings_are_rare(reviews):
    false = 0
    for kind, pairs in reviews.items():
        for tail, review in pairs:
            wrong = (
                [f for f in review.findings if f not in right(tail, review)] if tail.names else list(review.findings)
            )
            names = {f.name for f in wrong if f.name not in tail.names or f.raised_flight < tail.begins}
            false += len(names - ({"reading_fault"} if kind == "instrument" else set()))
    assert false / sum(map(len, reviews.values())) <= 0.1


def test_a_fault_is_raised_soon_after_a_careful_person_would_see_it(reviews):
    late = [
        min(f.raised_flight for f in right(tail, review)) - tail.clear
        for kind in FAULTY
        for tail, review in reviews[kind]
        if tail.clear is not None and right(tail, review)
    ]
    assert sorted(late)[len(late) // 2] <= 5


@pytest.mark.parametrize("kind", ["season", "load_change", "battery_replaced", "plain", "drift_up", "drift_down"])
def test_the_interval_of_the_slope_covers_the_truth(reviews, kind):
    covered = []
    for tail, review in reviews[kind]:
        trend = review.trends["regulated_voltage"]
        # A quantised meter and a season leave 0.02 V in 100 h that no interval of a line speaks of.
        slack = 0.02 * tail.history.nominal_voltage / 14
        if tail.slope is not None and trend.now is not None and trend.now.slope is not None:
            covered.append(trend.now.slope.low - slack <= tail.slope <= trend.now.slope.high + slack)
    assert sum(covered) >= len(covered) - 2


def test_a_meter_that_reads_differently_is_told_from_a_regulator(reviews):
    for _, review in reviews["instrument"]:
        assert {f.name for f in review.findings} == {"reading_fault"}
        assert tail_result(review).condition == "advisory"


def test_a_regulator_step_is_no_fault_of_a_reading(reviews):
    for _, review in reviews["step"]:
        assert "regulator_drift" in {f.name for f in review.findings}
        assert "reading_fault" not in {f.name for f in review.findings}


def test_steps_are_kept_apart_from_slopes(reviews):
    for tail, review in reviews["step"]:
        trend = review.trends["regulated_voltage"]
        assert [change.flight for change in trend.changes] == pytest.approx([tail.begins], abs=2)
        assert not trend.now.moves


def test_an_entry_starts_the_series_anew_and_raises_nothing(reviews):
    for _, review in reviews["regulator_adjusted"]:
        trend = review.trends["regulated_voltage"]
        assert not trend.changes
        assert trend.points_since < trend.points
        assert not [f for f in review.findings if f.name == "regulator_drift"]


def test_what_was_raised_stood_that_day_with_only_the_flights_up_to_it(reviews):
    checked = 0
    for kind in (*FAULTY, "instrument"):
        for tail, review in reviews[kind][::2]:
            for finding in review.findings:
                then = findings_of(tail.history.until(finding.raised_at))
                same = [(f.name, f.raised_flight) for f in then]
                assert (finding.name, finding.raised_flight) in same
                before = findings_of(tail.history.until(tail.history.flights[finding.raised_flight - 1].start))
                assert finding.name not in {f.name for f in before if f.open}
                checked += 1
    assert checked > 15


def test_a_projection_is_an_interval_or_nothing(reviews):
    seen = 0
    for kind, pairs in reviews.items():
        for _, review in pairs:
            for trend in review.trends.values():
                if trend.projection is not None:
                    told = trend.projection
                    assert 0.0 <= told.earliest <= told.latest
                    assert told.likely is None or told.earliest <= told.likely <= told.latest
                    seen += kind in FAULTY
                elif trend.now is not None and trend.now.limit is not None and not trend.now.moves:
                    assert trend.projection is None
    assert seen > 10


def test_a_new_battery_after_an_old_one_is_said_to_have_helped(reviews):
    verdicts = [review.comparisons[0].verdict for _, review in reviews["battery_replaced"]]
    assert set(verdicts) <= {"helped", "did not help"}
    assert verdicts.count("helped") >= len(verdicts) * 2 // 3


def test_too_few_flights_after_an_entry_are_not_judged():
    tail = made("regulator_adjusted", 3)
    entry = tail.history.entries[0]
    first = next(i for i, flight in enumerate(tail.history.flights) if flight.start >= entry.when)
    short = replace(tail.history, flights=tail.history.flights[: first + 2])
    assert review_tail(short).comparisons[0].verdict == "too few flights yet"


def test_a_finding_lapses_with_the_first_flight_after_the_work():
    tail = made("ageing", 4)
    assert any(f.name == "recharge_slowing" and f.open for f in review_tail(tail.history).findings)
    done = tail.history.flights[-1].end
    fresh = made("plain", 4).history.flights[:4]
    later = done + timedelta(days=1) - fresh[0].start
    moved = [replace(f, start=f.start + later, end=f.end + later) for f in fresh]
    entry = Entry(tail.history.tail, done, "battery_replaced", "")
    after = replace(tail.history, flights=(*tail.history.flights, *moved), entries=(entry,))
    slowing = [f for f in review_tail(after).findings if f.name == "recharge_slowing"]
    assert slowing[0].lapsed_at == moved[0].start


def test_few_flights_give_no_trend_but_a_reason():
    tail = made("plain", 1)
    review = review_tail(replace(tail.history, flights=tail.history.flights[:4]))
    trend = review.trends["regulated_voltage"]
    assert trend.now is None
    assert "flights" in trend.because
    few = review_tail(replace(tail.history, flights=tail.history.flights[:2]))
    assert tail_result(few).condition == "unknown"
    assert tail_json(replace(tail.history, flights=()))["trends"]["cranking_voltage"]["points"] == 0


def test_healthy_tails_have_no_flight_unlike_themselves_and_an_odd_flight_is_found(reviews):
    cried = sum(len(review.unlike) for kind in HEALTHY for _, review in reviews[kind])
    flown = sum(len(tail.history.flights) for kind in HEALTHY for tail, _ in reviews[kind])
    assert cried / flown <= 0.001
    found = 0
    for tail, _ in reviews["plain"]:
        flights = list(tail.history.flights)
        place, volts = len(flights) * 3 // 4, tail.history.nominal_voltage / 14
        odd = dict(flights[place].readings)
        for name, add, times in (
            ("regulated_voltage", -0.2, 1),
            ("cranking_voltage", -1.5, 1),
            ("recharge_time_constant", 0, 1.6),
        ):
            if name in odd:
                odd[name] = Reading(
                    *(x * times + add * volts for x in (odd[name].value, odd[name].low, odd[name].high))
                )
        flights[place] = replace(flights[place], readings=odd)
        unlike = review_tail(replace(tail.history, flights=tuple(flights))).unlike
        assert all(one.flight == place and one.measures for one in unlike)
        found += bool(unlike)
    assert found >= 2 / 3 * len(reviews["plain"])


def test_nothing_of_a_tail_depends_on_the_order_in_which_its_logs_were_read():
    tail = made("drift_up", 5).history
    shuffled = history_of(tail.tail, reversed(tail.flights), tail.entries)
    assert tail_json(shuffled) == tail_json(tail)


def test_a_flight_that_comes_in_two_files_counts_once():
    flights = made("plain", 6).history.flights
    assert history_of("N0006T", [*flights, *flights[3:9]]).flights == flights


def test_of_a_flight_that_comes_whole_and_cut_short_the_whole_counts_whichever_is_read_first():
    flights = made("plain", 6).history.flights
    cut = [
        replace(flight, end=flight.start + (flight.end - flight.start) / 3, hours=flight.hours / 3, readings={})
        for flight in flights[3:9]
    ]
    assert history_of("N0006T", [*cut, *flights]).flights == flights
    assert history_of("N0006T", [*flights, *cut]).flights == flights


def test_of_two_recordings_of_one_flight_the_one_with_more_readings_counts_whichever_is_read_first():
    flights = made("plain", 6).history.flights
    poor = [replace(flight, readings=dict(list(flight.readings.items())[:2])) for flight in flights]
    assert history_of("N0006T", [*poor, *flights]).flights == flights
    assert history_of("N0006T", [*flights, *poor]).flights == flights


@pytest.mark.parametrize("seed", range(12))
def test_one_shift_of_a_voltmeter_is_one_finding(seed):
    review = review_tail(made("instrument", seed).history)
    assert sum(finding.name == "reading_fault" for finding in review.findings) == 1


def test_a_shift_first_seen_as_a_drift_is_told_from_where_it_stepped():
    (finding,) = [one for one in review_tail(made("instrument", 6).history).findings if one.name == "reading_fault"]
    assert finding.shift.since_flight == 22


@pytest.mark.parametrize("seed", [2, 3])
def test_two_shifts_of_a_voltmeter_are_one_finding_that_tells_both(seed):
    history, flights = made("plain", seed).history, []
    for place, flight in enumerate(history.flights):
        moved = (0.5 * ((place >= 20) + (place >= 40))) * flight.nominal_voltage / 14
        readings = {
            name: replace(own, value=own.value + moved, low=own.low + moved, high=own.high + moved)
            if name in ("regulated_voltage", "resting_voltage")
            else own
            for name, own in flight.readings.items()
        }
        flights.append(replace(flight, readings=readings))
    found = review_tail(replace(history, flights=tuple(flights))).findings
    (fault,) = [one for one in found if one.name == "reading_fault"]
    slack = limit_value("trend_fewest_step")
    assert (fault.began_flight, fault.shift.since_flight) == pytest.approx((20, 40), abs=slack)
    assert len(fault.again) == 1
    assert fault.raised_flight < 40 - slack <= fault.raisings[-1].flight
    assert fault.says.count(" V") == 2
    assert fault.open


def test_a_slope_needs_ten_flights_over_twenty_engine_hours():
    whole = made("plain", 3, 40).history
    told = []
    for count in range(5, 40):
        flights = whole.flights[:count]
        trend = review_tail(history_of("N0009S", flights, [])).trends["regulated_voltage"]
        assert trend.points_since == count
        flown = sum(one.hours for one in flights[:-1])  # from the first flight's begin to the last one's
        assert (trend.now.slope is None) == (count < 10 or flown < 20.0)
        told.append(trend_entry(trend))
    assert {one.state for one in told} == {"measured", "not_measurable"}
    first, last = told[0], told[-1]
    assert first.because.startswith("too few hours for a slope: ")
    assert first.because.endswith(" of 20 since its last step or maintenance")
    assert first.level == pytest.approx(last.level, abs=0.2)
    assert (first.slope_per_100h, first.low, first.high, first.reaches_limit_in_h) == (None,) * 4
    assert last.low < last.slope_per_100h < last.high


@pytest.mark.parametrize(("level", "says"), [(7.9, ", past its limit of 8.40 V"), (8.9, "")])
def test_a_level_past_its_limit_is_said_so_before_there_is_a_slope(level, says):
    flights = [
        replace(flight, readings={"cranking_voltage": Reading(level, level - 0.05, level + 0.05)}, nominal_voltage=14)
        for flight in made("plain", 3, 8).history.flights
    ]
    trend = review_tail(history_of("N0009P", flights, [])).trends["cranking_voltage"]
    assert (trend.now.slope, trend.now.limit) == (None, 8.4)
    assert past_words(trend) == says


def regulated(first: float, per_100_h: float, flights: int = 40) -> Trend:
    """The trend of a 14 V tail's regulated voltage from its first value on, an hour a flight."""
    rng = np.random.default_rng(11)
    told = []
    for place, flight in enumerate(made("plain", 3, flights).history.flights):
        volts = first + per_100_h * place / 100.0 + float(rng.normal(0.0, 0.01))
        readings = {"regulated_voltage": Reading(volts, volts - 0.02, volts + 0.02)}
        told.append(replace(flight, hours=1.0, nominal_voltage=14, readings=readings))
    return review_tail(history_of("N0009B", told, [])).trends["regulated_voltage"]


@pytest.mark.parametrize(
    ("first", "per_100_h", "flights", "limit", "goes"),
    [
        (13.05, 0.5, 40, 13.4, "past its limit of 13.40 V, moving back"),
        (14.95, -0.5, 40, 14.5, "past its limit of 14.50 V, moving back"),
        (13.05, -0.5, 40, 13.4, "past its limit of 13.40 V"),
        (14.7, 0.5, 40, 14.5, "past its limit of 14.50 V"),
        (13.1, 0.0, 40, 13.4, "past its limit of 13.40 V"),
        (13.1, 0.0, 12, 13.4, None),  # too few engine hours for a slope
    ],
)
def test_a_voltage_outside_its_band_is_past_the_limit_on_that_side_wherever_it_drifts(
    first: float, per_100_h: float, flights: int, limit: float, goes: str | None
) -> None:
    trend = regulated(first, per_100_h, flights)
    assert trend.past_limit
    assert (trend.now.limit, trend.now.past) == (limit, True)
    assert trend.projection is None or trend.projection.past
    assert trend_entry(trend).limit == limit
    assert past_words(trend) == f", past its limit of {limit:.2f} V"
    if goes is None:
        assert trend.now.slope is None
    else:
        assert outlook_words(trend.now, "V") == goes


def test_a_voltage_within_its_band_is_past_no_limit() -> None:
    for per_100_h, limit in ((0.3, 14.5), (-0.3, 13.4)):
        trend = regulated(14.1, per_100_h)
        assert (trend.past_limit, trend.now.limit) == (False, limit)
        assert not trend.projection.past


def test_what_a_measure_was_is_what_its_finding_says_that_it_moved_from(reviews):
    checked = 0
    for kind in FAULTY:
        for _, review in reviews[kind]:
            for finding in review.findings:
                if finding.shift is None or finding.shift.of is None or finding.shift.shape != "drift":
                    continue
                trend = review.trends[finding.shift.of.measure]
                if not finding.open or trend.began is None or trend.changes or finding.again:
                    continue
                assert trend.began.level == finding.shift.of.start.value
                assert trend.began.start == finding.began
                checked += 1
    assert checked > 5


def test_an_odd_first_flight_does_not_tell_how_a_measure_was():
    history = made("plain", 4).history
    (kind,) = [one for one in TRACKED if one.measure == "regulated_voltage"]
    first = history.flights[0]
    odd = first.readings["regulated_voltage"].value + 0.3
    readings = {**first.readings, "regulated_voltage": Reading(odd, odd - 0.3, odd + 0.3)}
    tail = follow_tail(replace(history, flights=(replace(first, readings=readings), *history.flights[1:])))
    assert tail.followed["regulated_voltage"].stretches[-1].drift is None, "else its finding tells the level"
    sound, shown = trend_of(follow_tail(history), kind).began, trend_of(tail, kind).began
    assert shown is not None
    assert sound is not None
    assert shown.level == pytest.approx(sound.level, abs=0.05)
    assert shown.start == first.start
