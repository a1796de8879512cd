"""Work that nobody logged is asked about where it was done, hardly ever elsewhere, and nothing rests on it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from made_histories import FAULTY, HEALTHY, made

from analyzer.reports.trend_text import trend_text
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import follow_tail
from analyzer.trends.history import FlightSummary, History, Reading, history_of
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail
from analyzer.trends.unlogged import Unlogged, unlogged_work
from tests.as_json import tail_json
from tests.trends.made_replacements import UNCHANGED, changed

SEEDS = range(700, 708)


def asked_of(history: History) -> tuple[Unlogged, ...]:
    return unlogged_work(follow_tail(history), ())


def stepping(moves: dict[str, tuple[float, float, float]], flights: int = 24, at: int = 12) -> History:
    """Flights of an hour two days apart and a stand of ten days; each measure (before, after, half its interval)."""
    rng = np.random.default_rng(3)
    told, start = [], datetime(2026, 1, 1, 9)
    for place in range(flights):
        start += timedelta(days=10 if place == at else 2)
        readings = {}
        for name, (before, after, half) in moves.items():
            value = (before if place < at else after) + half * float(rng.normal(0.0, 0.2))
            readings[name] = Reading(value, value - half, value + half)
        told.append(FlightSummary(start, start + timedelta(hours=1), 1.0, 14, "battery", 15.0, 10.0, 0.3, readings))
    return history_of("N0001U", told)


CRANKING = {"cranking_voltage": (8.6, 9.8, 0.2)}
RESISTANCE = {"battery_resistance": (18.0, 11.0, 1.0)}
CHARGE = {"resting_voltage": (12.45, 12.75, 0.05), "recharge_settling_time": (20.0, 8.0, 1.0)}


def test_a_new_battery_is_asked_about_with_the_days_and_the_levels() -> None:
    history = stepping({**CRANKING, **RESISTANCE, **CHARGE})
    (one,) = asked_of(history)
    assert (one.kind, one.flight) == ("battery_replaced", 12)
    assert (one.earliest, one.latest) == (history.flights[11].end, history.flights[12].start)
    assert one.earliest < one.when < one.latest
    levels = {own.measure: (own.before, own.after) for own in one.measures}
    assert levels.keys() == CRANKING.keys() | RESISTANCE.keys() | CHARGE.keys()
    assert levels["battery_resistance"] == pytest.approx((18.0, 11.0), rel=0.05)
    assert levels["cranking_voltage"] == pytest.approx((8.6, 9.8), abs=0.1)


@pytest.mark.parametrize(
    "moves",
    [
        CHARGE,  # a charger
        {**CHARGE, "cranking_voltage": (9.0, 9.3, 0.2)},  # which lifts the start a little, too
        {**CRANKING, **RESISTANCE, "resting_voltage": (12.75, 12.45, 0.05)},  # a better lead, a worse battery
        CRANKING,  # a starter
        {**CRANKING, "recharge_settling_time": (8.0, 20.0, 1.0), "resting_voltage": (12.75, 12.45, 0.05)},
        {name: (after, before, half) for name, (before, after, half) in {**CRANKING, **RESISTANCE}.items()},
        {
            "cranking_voltage": (9.0, 10.2, 0.2),
            "resting_voltage": (12.4, 12.8, 0.05),
            "regulated_voltage": (13.8, 14.2, 0.02),  # a voltmeter
        },
    ],
)
def test_what_something_else_explains_is_not_asked_about(moves: dict[str, tuple[float, float, float]]) -> None:
    assert not asked_of(stepping(moves))


def test_a_step_between_two_flights_of_a_day_or_that_few_flights_show_is_not_asked_about() -> None:
    moves = {**CRANKING, **RESISTANCE, **CHARGE}
    assert not asked_of(stepping(moves, flights=16))
    history = stepping(moves)
    late = history.flights[12].start - history.flights[11].end - timedelta(hours=2)
    nearer = [
        replace(one, start=one.start - late, end=one.end - late) if place >= 12 else one
        for place, one in enumerate(history.flights)
    ]
    assert not asked_of(history_of("N0001U", nearer))


@pytest.mark.parametrize("kind", ["battery_replaced", "other"])
def test_any_entry_of_that_time_answers_the_question(kind: str) -> None:
    history = stepping({**CRANKING, **RESISTANCE, **CHARGE})
    when = history.flights[11].end + timedelta(days=4)
    assert not asked_of(replace(history, entries=(Entry("N0001U", when, kind, "nothing done"),)))
    for other in (Entry("N0001U", when - timedelta(days=9), "other", "oil"), Entry("N0001U", when, "stranded", "")):
        assert asked_of(replace(history, entries=(other,))), "tells nothing of what was done then"


def test_a_regulator_is_asked_about_within_its_band_only() -> None:
    for after, kinds in ((14.4, ["regulator_replaced"]), (15.2, [])):
        history = stepping({"regulated_voltage": (14.0, after, 0.02), "resting_voltage": (12.6, 12.6, 0.05)})
        review = review_tail(history)
        assert [one.name for one in review.findings] == ["regulator_drift"], "the finding stands whatever is asked"
        assert review.findings[0].open
        assert [one.kind for one in review.unlogged] == kinds
        alike = stepping({"regulated_voltage": (14.0, after, 0.02), "resting_voltage": (12.6, 12.6 + after - 14, 0.02)})
        assert not review_tail(alike).unlogged


@pytest.fixture(scope="module")
def told() -> TailResult:
    return tail_result(review_tail(stepping({**CRANKING, **RESISTANCE, **CHARGE})))


def test_until_it_is_logged_nothing_rests_on_it(told: TailResult) -> None:
    """All else is what it is where nothing is asked: no forecast, finding or condition is more favourable by it."""
    history = stepping({**CRANKING, **RESISTANCE, **CHARGE})
    silent = replace(review_tail(history), unlogged=())
    assert replace(told, unlogged=()) == tail_result(silent)
    assert told.comparisons == ()


def test_it_is_told_in_words_and_by_the_contract(told: TailResult) -> None:
    text = " ".join(trend_text([told]).split())
    assert "Was the battery replaced between 2026-01-25 and 2026-02-04?" in text
    assert 'taper entry N0001U 2026-01-30T09:30 "battery replaced" --kind battery_replaced' in text
    assert "until then forecasts and findings count as if nothing was" in text
    (entry,) = tail_json(told)["unlogged"]
    assert (entry["kind"], entry["flight"]) == ("battery_replaced", 12)
    assert (entry["earliest"], entry["latest"]) == ("2026-01-25T10:00:00", "2026-02-04T09:00:00")
    assert {"measure", "unit", "from", "to"} == entry["measures"][0].keys()


def test_on_made_tails_most_replacements_are_asked_about_in_their_days() -> None:
    asked = [(tail, asked_of(tail.history)) for tail in (changed("battery", seed) for seed in SEEDS)]
    found = [(tail, one) for tail, told in asked for one in told if one.kind == "battery_replaced"]
    assert len(found) >= 0.75 * len(asked)
    for tail, one in found:
        assert one.earliest <= tail.between[0] < tail.between[1] <= one.latest


def test_on_made_tails_without_unlogged_work_no_battery_is_asked_about() -> None:
    tails = [changed(kind, seed).history for kind in UNCHANGED for seed in SEEDS[:3]]
    tails += [made(kind, seed).history for kind in (*HEALTHY, *FAULTY) for seed in SEEDS[:3]]
    assert not [one.tail for one in tails if asked_of(one)]
