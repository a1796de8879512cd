"""What a battery loses while the aircraft stands: within its interval, from the pessimistic end, or a reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from msgspec import structs

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Battery
from analyzer.measures.battery_facts import CHARGE_OF_VOLTAGE, state_of_charge
from analyzer.reports.trend_words import stand_weeks, standing_words
from analyzer.trends.entries import Entry
from analyzer.trends.history import FlightSummary, History, Reading, history_of
from analyzer.trends.standing import Standing, standing_of
from tests.as_json import tail_json
from tests.benchmarks.standing import tail

BEGINS = datetime(2026, 1, 1, 9)


def flown(charges: list[tuple[float, float, float]], gaps_d: list[float], settles: float | None = 12.0) -> History:
    """Flights of an hour, whose battery rests at (charge, low, high) [%] before each, standing so long between them."""
    flights, start = [], BEGINS
    for charge, gap in zip(charges, [*gaps_d, 1.0], strict=True):
        readings = {"resting_charge": Reading(*charge)}
        if settles is not None:
            readings["recharge_settling_time"] = Reading(settles, settles - 2.0, settles + 2.0)
        end = start + timedelta(hours=1)
        flights.append(FlightSummary(start, end, 1.0, 14, "battery", 15.0, 10.0, 0.3, readings))
        start = end + timedelta(days=gap)
    return history_of("N0001S", flights)


FULL = (98.0, 90.0, 100.0)


def test_one_stand_by_hand() -> None:
    """From 90 to 100 % down to 55 to 75 % in 20 days: 15 to 45 points lost, 0.75 to 2.25 a day."""
    loss = standing_of(flown([FULL, (65.0, 55.0, 75.0)], [20.0])).loss
    assert (loss.stands, loss.days) == (1, pytest.approx(20.0))
    assert (loss.low, loss.per_day, loss.high) == pytest.approx((0.75, 1.5, 2.25))
    assert loss.weeks == pytest.approx((65.0 - 50.0) / 2.25 / 7.0), "the last flight began at 65 %"
    assert loss.milliamperes is None


def test_weeks_run_from_the_least_that_the_battery_was_at_before_any_flight() -> None:
    """A flight may leave as little as there was before it, be it the last one or one that no long stand follows."""
    full = standing_of(flown([FULL, (90.0, 80.0, 100.0)], [20.0])).loss
    assert full.weeks == pytest.approx((90.0 - 50.0) / full.high / 7.0)
    low = (60.0, 50.0, 70.0)
    later = standing_of(flown([FULL, (90.0, 80.0, 100.0), FULL, low, FULL], [20.0, 1.0, 1.0, 1.0])).loss
    assert (later.stands, later.high) == (1, full.high)
    assert later.weeks == pytest.approx((60.0 - 50.0) / full.high / 7.0)
    last = standing_of(flown([FULL, (90.0, 80.0, 100.0), low], [20.0, 1.0])).loss
    assert last.weeks == later.weeks
    empty = standing_of(flown([FULL, (90.0, 80.0, 100.0), (45.0, 35.0, 55.0)], [20.0, 1.0])).loss
    assert empty.weeks == 0.0
    assert standing_words(Standing(empty)).endswith(
        "How long it may stand is not told: before a flight it has rested at 50 % or less, where a start is doubtful "
        "already."
    )


def test_a_stand_behind_a_flight_that_shows_no_rest_tells_nothing() -> None:
    """How empty the battery was before that flight is not known; one such log leaves what the others tell as it was."""
    seen, gaps = [FULL, (80.0, 75.0, 85.0), FULL, (80.0, 75.0, 85.0)], [20.0, 1.0, 20.0]
    known = flown(seen, gaps)
    third = known.flights[2]
    bare = replace(third, readings={name: one for name, one in third.readings.items() if name != "resting_charge"})
    without = replace(known, flights=(*known.flights[:2], bare, known.flights[3]))
    first = standing_of(flown(seen[:2], gaps[:1])).loss
    assert standing_of(known).loss.stands == 2
    assert standing_of(without).loss == first
    assert first.weeks > 1.0


def test_a_drain_of_the_fleet_files_battery_is_told_in_milliamperes() -> None:
    history = replace(
        flown([FULL, (65.0, 55.0, 75.0)], [20.0]), aircraft=structs.replace(UNKNOWN_AIRCRAFT, battery_capacity=24.0)
    )
    low, high = standing_of(history).loss.milliamperes
    # 0.75 and 2.25 % of 24 Ah a day are 7.5 and 22.5 mA; slowly it gives 20^(1 - 1/1.05) to 20^(1 - 1/1.15) times that,
    # half worn half as much.
    assert (low, high) == pytest.approx((7.5 * 1.1533 * 0.5, 22.5 * 1.4781), rel=1e-3)


def test_what_is_lost_lies_in_its_interval() -> None:
    """Made stands: a true loss, a rest that the voltage table tells to within a tenth of a volt and its own spread."""
    volts, charge = zip(*CHARGE_OF_VOLTAGE, strict=True)
    held = []
    for seed in range(200):
        rng = np.random.default_rng([seed, 5])
        rate, count = float(rng.uniform(0.1, 1.5)), int(rng.integers(1, 6))
        gaps = rng.uniform(5.0, 40.0, count).tolist()
        seen = [FULL]
        for gap in gaps:
            left = max(2.0, float(rng.uniform(90.0, 100.0)) - rate * gap)
            shown = float(np.interp(left, charge, volts)) + float(rng.normal(0.0, 0.02))
            low, value, high = (state_of_charge(shown + off, 6) for off in (-0.04, 0.0, 0.04))
            seen.append((value, max(0.0, low - 5.0), min(100.0, high + 5.0)))
        loss = standing_of(flown(seen, gaps)).loss
        if loss is None:
            continue
        held.append(loss.low <= rate <= loss.high)
        assert loss.low <= loss.per_day <= loss.high
    assert np.mean(held) >= 0.95
    assert len(held) >= 120


def test_a_battery_that_was_low_is_not_full_behind_a_flight() -> None:
    """At 60 % before and behind the first stand: its recharge settled, and may have put nothing back."""
    low = standing_of(flown([(60.0, 50.0, 70.0), (60.0, 50.0, 70.0)], [30.0])).loss
    full = standing_of(flown([FULL, (60.0, 50.0, 70.0)], [30.0])).loss
    assert (low.low, full.low) == pytest.approx((0.0, 20.0 / 30.0))
    assert low.high == full.high
    assert full.weeks == low.weeks == pytest.approx(10.0 / (50.0 / 30.0) / 7.0)  # from 60 % before the last flight
    assert low.per_day == pytest.approx(20.0 / 30.0)  # from 60 to 100 % down to 60


def test_over_wide_ranges_the_loss_lies_in_its_interval_and_no_start_is_promised_too_long() -> None:
    told = [(one, one.said) for one in map(tail, range(7000, 7012)) if one.said is not None]
    assert len(told) >= 3
    assert np.mean([said.low <= one.per_day <= said.high for one, said in told]) >= 0.9
    assert all(said.weeks <= one.weeks for one, said in told)


def test_stands_that_differ_are_not_averaged_away() -> None:
    """A switch left on once: 90 to 100 % down to 61 to 71 % in a month, among stands that lose next to nothing."""
    usual = [(96.0, 90.0, 100.0)] * 4
    once = [FULL, *usual, (66.0, 61.0, 71.0)]
    loss = standing_of(flown(once, [20.0, 20.0, 20.0, 20.0, 30.0])).loss
    assert loss.high == pytest.approx(39.0 / 30.0)  # at most 100 - 61 that once
    assert loss.low == pytest.approx(19.0 / 110.0)  # that loss alone, over all days
    assert loss.weeks == pytest.approx((66.0 - 50.0) / 1.3 / 7.0)
    worse = standing_of(flown([*once[:-1], (25.0, 20.0, 30.0)], [20.0, 20.0, 20.0, 20.0, 10.0]))
    assert worse.because == "it may be 0.5 to 8.0 % a day (5 parked periods, 90 days), too wide to tell anything"


@pytest.mark.parametrize("turned", [False, True])
def test_a_stand_on_a_charger_does_not_make_another_look_small(turned: bool) -> None:
    """2 to 5 % a day in ten days tells nothing by itself; 20 days on a charger beside it make it no surer."""
    alone = standing_of(flown([FULL, (60.0, 50.0, 70.0)], [10.0]))
    assert "it may be 2.0 to 5.0 % a day" in alone.because
    ends, gaps = [FULL, (60.0, 50.0, 70.0)], [20.0, 10.0]
    both = standing_of(flown([FULL, *(ends[::-1] if turned else ends)], gaps[::-1] if turned else gaps))
    assert both.because == "it may be 0.5 to 5.0 % a day (2 parked periods, 30 days), too wide to tell anything"


def test_stands_that_may_be_alike_add_up() -> None:
    """0 to 0.5 and 0.4 to 2.4 % a day may be alike: no more than 34 points in 30 days."""
    loss = standing_of(flown([FULL, FULL, (81.0, 76.0, 86.0)], [20.0, 10.0])).loss
    assert loss.high == pytest.approx(34.0 / 30.0)


def test_a_battery_that_is_always_full_is_on_a_charger() -> None:
    """No loss at all would last for ever."""
    assert "on a charger" in standing_of(flown([FULL, (100.0, 100.0, 100.0)], [20.0])).because


def test_a_longer_stand_tells_more() -> None:
    """The same loss a day."""
    short = standing_of(flown([FULL, (80.0, 72.0, 88.0)], [15.0])).loss
    long = standing_of(flown([FULL, (50.0, 42.0, 58.0)], [60.0])).loss
    assert long.high - long.low < short.high - short.low
    assert "too wide to tell anything" in standing_of(flown([FULL, (91.0, 83.0, 99.0)], [6.0])).because


@pytest.mark.parametrize(
    "history",
    [
        flown([FULL, (65.0, 55.0, 75.0)], [4.0]),
        flown([FULL, (65.0, 55.0, 75.0)], [20.0], settles=None),
        flown([FULL, (65.0, 55.0, 75.0)], [20.0], settles=70.0),
        replace(
            flown([FULL, (65.0, 55.0, 75.0)], [20.0]),
            entries=(Entry("N0001S", BEGINS + timedelta(days=30), "battery_replaced", ""),),
        ),
    ],
    ids=["too short", "recharge not seen", "recharge longer than the flight", "another battery now"],
)
def test_what_tells_nothing_is_not_measured(history: History) -> None:
    assert standing_of(history).loss is None
    assert "no time parked of 5 days or more" in standing_of(history).because


def test_lithium_is_not_told_by_its_rest() -> None:
    history = replace(
        flown([FULL, (65.0, 55.0, 75.0)], [20.0]), aircraft=structs.replace(UNKNOWN_AIRCRAFT, battery=Battery.LITHIUM)
    )
    assert "lithium" in standing_of(history).because


def test_words_round_the_time_down() -> None:
    assert [stand_weeks(weeks) for weeks in (0.14, 0.15, 0.99, 1.99, 2.99, 25.9, 26.0)] == [
        "less than a day", "1 day", "6 days", "13 days", "2 weeks", "25 weeks", "half a year or more",
    ]  # fmt: skip
    words = standing_words(standing_of(flown([FULL, (65.0, 55.0, 75.0)], [20.0])))
    assert words.startswith("Charge lost while parked: 0.8 to 2.2 % a day, parked drain and self-discharge together ")
    assert "(1 parked period, 20 days, if nobody charged it meanwhile)" in words
    assert words.endswith("doubtful after 6 days without a flight.")
    assert standing_words(Standing()) == ""


def test_json_says_both_what_is_told_and_why_not() -> None:
    told = tail_json(flown([FULL, (65.0, 55.0, 75.0)], [20.0]))["standing"]
    assert told == {
        "state": "measured", "stands": 1, "days": 20.0, "percent_per_day": 1.5, "low": 0.75, "high": 2.25,
        "weeks_until_doubtful": 1.0,
    }  # fmt: skip
    assert tail_json(flown([FULL, FULL], [4.0]))["standing"]["state"] == "not_measurable"
