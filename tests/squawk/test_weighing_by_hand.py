"""Flights held against chance, against each other and against what a report names: shares and counts by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.findings.finding import Cause
from analyzer.quantity import Quantity
from analyzer.squawk.across import across_flights, look_back
from analyzer.squawk.circumstances import CircumstanceAnswer, answers
from analyzer.squawk.conditions import SymptomCondition
from analyzer.squawk.examine import ExaminedFlight
from analyzer.squawk.idling import Beside, idling_of
from analyzer.squawk.known import load_symptoms
from analyzer.squawk.sentences import circumstance_words, condition_words
from analyzer.squawk.symptom_result import State
from analyzer.squawk.understanding import Circumstance
from analyzer.squawk.verdict import verdict_of
from analyzer.squawk.weighing import (
    causes,
    checks,
    conditions,
    more_than_chance,
    told_by_chance,
    usual_floor,
)
from tests.squawk.examined import examined

LIGHT, CRANK = "charging_light", "slow_crank"
LOW, SOON, HIGH, COLD, HOT, NEAR = (
    SymptomCondition(name) for name in ("low_rpm", "soon_after_start", "high_load", "cold", "hot", "near_ground")
)


@pytest.mark.parametrize(
    ("count", "of", "share", "too_few", "telling"),
    [
        (3, 3, 0.25, True, False),  # even all three come by chance once in 64, 1.6 %; 1 % is asked for
        (4, 4, 0.25, False, True),  # once in 256
        (3, 4, 0.25, False, False),  # 4 x 1/64 x 3/4 + 1/256 = 13/256, 5.1 %
        (5, 6, 0.25, False, True),  # 6 x 1/1024 x 3/4 + 1/4096 = 19/4096, 0.46 %
        (4, 6, 0.25, False, False),  # 19/4096 + 15 x 1/256 x 9/16 = 154/4096, 3.8 %
        (6, 6, 1.0, True, False),  # always so: nothing could tell
        (0, 5, 0.25, False, False),
    ],
)
def test_flights_in_a_condition_are_held_against_the_binomial_law(count, of, share, too_few, telling) -> None:
    assert told_by_chance(count, of, share) == (too_few, telling)


@pytest.mark.parametrize(
    ("mean", "of", "share", "too_few", "telling"),
    [
        # D = 0.8 ln(0.8/0.25) + 0.2 ln(0.2/0.75) = 0.9305 - 0.2644 = 0.6661: exp(-6 D) is 1.8 %, exp(-7 D) 0.94 %
        (0.8, 6, 0.25, False, False),
        (0.8, 7, 0.25, False, True),
        (1.0, 3, 0.25, True, False),  # 1/64
        (1.0, 4, 0.25, False, True),  # 1/256, as of whole flights
        (0.05, 40, 0.5, False, False),  # far from chance, but less often
        (0.25, 40, 0.25, False, False),  # just what chance gives
    ],
)
def test_parts_of_flights_in_a_condition_are_held_against_hoeffding_s_bound(mean, of, share, too_few, telling) -> None:
    assert more_than_chance(mean, of, share) == (too_few, telling)


@given(st.floats(0.02, 0.98), st.integers(1, 60), st.floats(0.02, 0.98))
def test_the_bound_is_the_relative_entropy_s(mean: float, of: int, share: float) -> None:
    """Never more easily telling than a binomial law whose count is that mean: Hoeffding holds for every law."""
    entropy = mean * log(mean / share) + (1.0 - mean) * log((1.0 - mean) / (1.0 - share))
    chance = exp(-of * entropy)
    if abs(chance - 0.01) > 1e-9 and abs(share**of - 0.01) > 1e-9:
        wanted = share**of <= 0.01 and mean > share and chance < 0.01
        assert more_than_chance(mean, of, share)[1] is wanted


def seen(day: int, *occasions: tuple[float, float], exposure: float = 360.0, **more) -> ExaminedFlight:
    """A flight of 3600 s watched, so many of them at low rpm; each occasion lasts s and lies so far in it."""
    told = [(lasted, {LOW: part}) for lasted, part in occasions]
    return examined(LIGHT, day, State.SEEN, told, exposure={LOW: (exposure, 3600.0)}, **more)


def test_each_flight_counts_once_and_its_occasions_by_their_length() -> None:
    """One: 30 s inside and 10 s outside, 75 %. Two: a single row, which counts a second, inside. Mean 87.5 %."""
    flights = [seen(1, (30.0, 1.0), (10.0, 0.0)), seen(2, (0.0, 1.0), exposure=720.0)]
    (one,) = conditions(LIGHT, flights)
    assert (one.condition, one.seen, one.of) == (LOW, 2, 3)
    assert one.part == pytest.approx(0.875)
    assert one.exposure == pytest.approx((0.1 + 0.2) / 2.0)
    assert (one.too_few, one.telling) == (True, False)  # 0.15 squared is 2.3 %
    assert one.threshold == 1300.0
    assert condition_words(one) == (
        "2 of 3 occasions at under 1,300 rpm, 88 % of their time, where chance alone gives 15 %: too few flights to say"
    )


@pytest.mark.parametrize(("part", "count"), [(0.51, 1), (0.5, None)])
def test_an_occasion_that_lies_half_in_a_condition_lies_in_it_no_more_than_out_of_it(part: float, count) -> None:
    found = conditions(LIGHT, [seen(1, (30.0, part))])
    assert [one.seen for one in found] == ([] if count is None else [count])


def test_flights_that_were_not_watched_in_a_condition_do_not_count_for_it() -> None:
    unwatched = examined(LIGHT, 2, State.SEEN, [(30.0, {LOW: 1.0})], exposure={LOW: (0.0, 0.0)})
    (one,) = conditions(LIGHT, [seen(1, (30.0, 1.0)), unwatched])
    assert (one.of, one.exposure) == (1, pytest.approx(0.1))


def cold(day: int, state: State, is_cold: bool) -> ExaminedFlight:
    return examined(CRANK, day, state, [(3.0, {})] if state == State.SEEN else [], conditions={COLD: is_cold})


def test_flights_in_a_row_are_one_of_the_season() -> None:
    """Six of ten flights were cold. The symptom came in two runs, of which the longer is mostly cold: one of two."""
    days = [
        *((State.SEEN, True), (State.SEEN, True), (State.SEEN, False), (State.NOT_SEEN, True), (State.SEEN, False)),
        *((State.NOT_SEEN, True), (State.NOT_SEEN, True), (State.NOT_SEEN, False), (State.NOT_SEEN, False)),
        *((State.NOT_SEEN, True), (State.NOT_OBSERVABLE, True)),
    ]
    (one,) = conditions(CRANK, [cold(day, *told) for day, told in enumerate(days, 1)])
    assert (one.condition, one.seen, one.of, one.part) == (COLD, 2, 4, None)
    assert one.exposure == pytest.approx(0.6)
    assert (one.too_few, one.telling) == (True, False)  # 0.6 squared is 36 %
    assert condition_words(one) == (
        "2 of 4 flights with it began below 5 °C, as 60 % of all flights did: too few flights to say"
    )


def test_a_run_that_is_half_cold_is_not_mostly_cold() -> None:
    """Five runs apart, each of a cold and a mild flight, among 95 mild ones: half of each is not most of it."""
    days = []
    for _ in range(5):
        days += [(State.SEEN, True), (State.SEEN, False), *[(State.NOT_SEEN, False)] * 9]
    (one,) = conditions(CRANK, [cold(day, *told) for day, told in enumerate(days, 1)])
    assert (one.seen, one.of, one.too_few, one.telling) == (5, 10, False, False)


@pytest.mark.parametrize(
    ("speeds", "floor"), [((1300.0, 1374.0, 1290.0), 1300.0), ((1276.0,), 1300.0), ((1274.0, None), 1250.0)]
)
def test_low_rpm_is_told_to_the_nearest_fifty(speeds: tuple[float | None, ...], floor: float) -> None:
    flights = [examined(LIGHT, day, low_rpm_below=speed) for day, speed in enumerate(speeds, 1)]
    assert usual_floor(flights) == floor


def cause(key: str, weight: float, *why: str) -> Cause:
    return Cause(key, key.replace("_", " "), weight, why, (f"look at {key}",))


def test_causes_are_weighed_by_their_mean_over_the_flights_that_show_it() -> None:
    """Worn brushes 0.6 and 0.2, mean 0.4; a belt 0.4 and 0.8, mean 0.6; of a third flight that does not, nothing."""
    one = seen(
        1, (30.0, 0.0), likely=[cause("worn_brushes", 0.6, "seen: sparks"), cause("belt", 0.4, "not seen: squeal")]
    )
    two = seen(2, (30.0, 0.0), likely=[cause("belt", 0.8, "hot"), cause("worn_brushes", 0.2, "seen: sparks")])
    told = causes(LIGHT, [one, two, examined(LIGHT, 3, likely=[cause("worn_brushes", 1.0)])])
    assert [(found.key, round(found.weight, 9), found.why) for found in told] == [
        ("belt", 0.6, ("hot, in 1 of 2 flights", "not seen: squeal, in 1 of 2 flights")),
        ("worn_brushes", 0.4, ("seen: sparks, in 2 of 2 flights",)),
    ]
    assert causes(LIGHT, [one])[0].why == ("seen: sparks",), "of a single flight nothing is counted"


def test_of_three_causes_the_weights_are_shares_of_a_whole_though_flights_name_different_ones() -> None:
    """Brushes 0.9, 0 and 0, a belt 0.1, 1 and 1: means of 0.3 and 0.7, also where a flight's weights sum to more."""
    one = seen(1, (30.0, 0.0), likely=[cause("brushes", 0.9), cause("belt", 0.1)])
    rest = [seen(day, (30.0, 0.0), likely=[cause("belt", 1.0)]) for day in (2, 3)]
    told = {found.key: found.weight for found in causes(LIGHT, [one, *rest])}
    assert told == pytest.approx({"belt": 0.7, "brushes": 0.3})


def test_checks_begin_with_the_likeliest_cause_s_and_go_by_how_many_flights_ask_for_them() -> None:
    one = seen(1, (30.0, 0.0), likely=[cause("belt", 1.0)], check=["a", "b"])
    two = seen(2, (30.0, 0.0), likely=[cause("belt", 1.0)], check=["b", "c"])
    assert checks(["own"], LIGHT, [one, two]) == ["look at belt", "own", "b", "a", "c"]


# What a report names


def test_a_circumstance_within_flights_counts_occasions_and_hours_in_it_and_elsewhere() -> None:
    """Three flights of an hour, 6 min each at low rpm: 0.3 h inside and 2.7 h outside; half an occasion is outside."""
    flights = [
        seen(1, (30.0, 1.0), (5.0, 0.5)),
        seen(2, (5.0, 0.0)),
        examined(LIGHT, 3, exposure={LOW: (360.0, 3600.0)}),
    ]
    (answer,) = answers(LIGHT, flights, [Circumstance("on final", ("low_rpm",))])
    assert (answer.inside, answer.outside) == (1, 2)
    assert (answer.inside_h, answer.outside_h) == (pytest.approx(0.3), pytest.approx(2.7))
    assert circumstance_words(answer) == "“on final”, by low rpm: 1 occasion in 18 min, elsewhere 2 in 2.7 h"


def test_a_circumstance_of_flights_counts_flights_in_which_it_would_have_shown() -> None:
    flights = [cold(1, State.SEEN, True), cold(2, State.SEEN, False), cold(3, State.NOT_SEEN, True),
               cold(4, State.NOT_OBSERVABLE, True), cold(5, State.NOT_SEEN, True)]  # fmt: skip
    (answer,) = answers(CRANK, flights, [Circumstance("cold morning", ("cold",))])
    assert (answer.inside, answer.inside_h, answer.outside, answer.outside_h) == (1, 3.0, 1, 1.0)
    assert (
        circumstance_words(answer) == "“cold morning”, by cold air: seen in 1 of 3 flights, otherwise in 1 of 1 flight"
    )


def test_a_condition_that_two_words_name_is_answered_once_and_the_first_that_is_told_wins() -> None:
    flights = [seen(1, (30.0, 1.0))]
    named = [Circumstance("on final", ("near_ground", "low_rpm")), Circumstance("idling", ("low_rpm",))]
    assert [(one.words, one.condition) for one in answers(LIGHT, flights, named)] == [("on final", LOW)]


def test_what_no_recording_tells_says_what_it_needs() -> None:
    (answer,) = answers(LIGHT, [seen(1, (30.0, 1.0))], [Circumstance("cold", ("cold",))])
    assert not answer.recorded
    assert circumstance_words(answer) == (
        "“cold”: these recordings do not tell; it needs the outside air's temperature"
    )


@pytest.mark.parametrize(("hours", "said"), [(0.999, "60 min"), (1.0, "1.0 h"), (0.0, "0 min"), (12.34, "12.3 h")])
def test_less_than_an_hour_is_told_in_minutes(hours: float, said: str) -> None:
    answer = CircumstanceAnswer("x", LOW, recorded=True, inside=2, outside=0, inside_h=hours, outside_h=hours)
    assert circumstance_words(answer) == f"“x”, by low rpm: 2 occasions in {said}, elsewhere 0 in {said}"


# A start beside the aircraft's other starts


def start(day: int, volts: float, air: float | None = None, state: State = State.NOT_SEEN) -> ExaminedFlight:
    numbers = {"cranking_voltage": Quantity(volts, "V")}
    if air is not None:
        numbers["outside_air_temperature"] = Quantity(air, "degC")
    return examined(CRANK, day, state, [(3.0, {})], numbers=numbers)


#: Starts of an aircraft on days in a row: volts and air. Alike, the others set no spread, and 0.4 V apart are asked for
#: (limit trend_cranking_voltage_moved); with air known, they are brought to the start's own by 0.03 V a degree.
STARTS = {
    "far below": ([10.0] * 6 + [9.5], None, [7]),
    "just 0.4 V below": ([10.0] * 6 + [9.6], None, []),
    "too few others": ([10.0] * 5 + [9.0], None, []),
    "a colder day explains it": ([10.0] * 6 + [9.5], [20.0] * 6 + [0.0], []),  # 20 degrees, 0.6 V: 9.4 V expected
    "a warmer day makes it worse": ([9.4] * 6 + [9.5], [0.0] * 6 + [20.0], [7]),  # 10.0 V expected
    "a wide spread": ([9.4, 9.7, 10.0, 10.3, 10.6, 10.0, 9.0], None, []),  # 3 x 1.4826 x 0.3 V = 1.33 V below 10.0 V
    "far below a wide spread": ([9.4, 9.7, 10.0, 10.3, 10.6, 10.0, 8.6], None, [7]),
}  # fmt: skip


@pytest.mark.parametrize(("volts", "air", "slow"), STARTS.values(), ids=STARTS)
def test_a_start_is_slow_where_it_lies_far_below_the_others_brought_to_its_air(volts, air, slow) -> None:
    airs = air or [None] * len(volts)
    flights = [start(day, *told) for day, told in enumerate(zip(volts, airs, strict=True), 1)]
    found = across_flights(flights).kept
    assert [one.ref.number for one in found if one.symptoms[CRANK].state == State.SEEN] == slow
    reversed_order = across_flights(reversed(flights)).kept
    assert [one.ref.number for one in reversed_order] == [one.ref.number for one in found], "in order of time"


def test_how_far_below_the_others_it_lies_is_told() -> None:
    found = across_flights([start(day, 10.0) for day in range(1, 7)] + [start(7, 9.26)]).kept
    assert found[-1].symptoms[CRANK].occasions[0].says == (
        "the bus fell: 0.7 V below this tail's other 6 starts at that temperature"
    )


def test_starts_below_the_limit_are_named_though_none_was_slow() -> None:
    """8.4 V is the least of a warm engine's start at 14 V (limit crank_lowest); at it is not below it."""
    verdict = verdict_of(load_symptoms()[CRANK], [start(1, 8.4), start(2, 8.39), start(3, 8.2)])
    assert verdict.low_starts is not None
    assert (verdict.low_starts.flights, verdict.low_starts.limit) == (2, Quantity(8.4, "V"))
    assert verdict.headline == Quantity(8.2, "V"), "the lowest of them all"


@pytest.mark.parametrize(
    ("hours", "says"), [(35.9, "the bus fell"), (36.1, "the bus fell, 2 days after the flight before")]
)
def test_a_dead_battery_says_how_long_the_aircraft_had_stood(hours: float, says: str) -> None:
    """From the end of one flight to the start of the next; less than a day and a half is no stand."""
    before = examined("dead_battery", 1, hours=24.0 * 3 - hours)
    after = examined("dead_battery", 4, State.SEEN, [(3.0, {})])
    (occasion,) = across_flights([before, after]).kept[1].symptoms["dead_battery"].occasions
    assert occasion.says == says
    assert occasion.numbers["days_since_last_flight"] == Quantity(round(hours / 24.0, 1), "d")


def test_an_ammeter_of_another_kind_than_the_others_denies_nothing() -> None:
    flights = [
        *(examined("ammeter_discharge", day, ammeter="battery") for day in (1, 2)),
        examined("ammeter_discharge", 3, ammeter="alternator"),
        examined("ammeter_discharge", 4, ammeter="unknown"),
    ]
    states = [one.symptoms["ammeter_discharge"].state for one in across_flights(flights).kept]
    assert states == [State.NOT_SEEN, State.NOT_SEEN, State.NOT_OBSERVABLE, State.NOT_SEEN]


NEWEST = datetime(2026, 5, 9, 10, 0)


@pytest.mark.parametrize(
    ("newest", "until", "since"),
    [
        (NEWEST, None, NEWEST - timedelta(days=90)),  # limit squawk_look_back
        (NEWEST, datetime(2026, 3, 1), datetime(2025, 12, 1)),  # 90 days: 31 + 31 + 28
        (NEWEST, datetime(2027, 1, 1), NEWEST - timedelta(days=90)),
        (None, datetime(2026, 3, 1), None),
        (datetime.min + timedelta(days=90), None, datetime.min),
        (datetime.min + timedelta(days=89), None, None),
    ],
)
def test_flights_are_looked_through_from_three_months_before_the_newest(newest, until, since) -> None:
    assert look_back(newest, until) == since


# At low rpm, beside what is usual there


def idled(day: int, volts: float | None) -> ExaminedFlight:
    state = State.NOT_SEEN if volts is None else State.SEEN
    occasions = [] if volts is None else [(30.0, {LOW: 1.0})]
    numbers = {} if volts is None else {"lowest_voltage": Quantity(volts, "V")}
    return examined(LIGHT, day, state, occasions, exposure={LOW: (360.0, 3600.0)}, numbers=numbers)


#: Lowest volts of flights in a row, None where it did not show. At least six flights must have idled, three in ten of
#: them with it; worse is more than half a volt below the middle of the earlier ones, at 14 V.
IDLING = {
    "five flights": ([12.0] * 5, Beside.TOO_FEW),
    "six": ([12.0] * 6, Beside.USUAL),
    "half a volt below": ([12.0] * 6 + [11.5], Beside.USUAL),
    "more than half a volt below": ([12.0] * 6 + [11.49], Beside.WORSE),
    "half a volt above": ([12.0] * 6 + [12.6], Beside.USUAL),
    "below the middle of levels that wander": ([11.0, 12.4, 12.2, 12.0, 12.2, 13.0, 11.6], Beside.WORSE),
    "half a volt below that middle": ([11.0, 12.4, 12.2, 12.0, 12.2, 13.0, 11.7], Beside.USUAL),
    "worse than the one before": ([12.0] + [None] * 5 + [11.4], Beside.WORSE),
    "three in ten": ([12.0] * 3 + [None] * 7, Beside.USUAL),
    "two in ten": ([12.0] * 2 + [None] * 8, Beside.SELDOM),
    "one, low": ([None] * 3 + [11.0] + [None] * 3, Beside.SELDOM),
}


@pytest.mark.parametrize(("levels", "beside"), IDLING.values(), ids=IDLING)
def test_the_latest_at_low_rpm_stands_beside_the_flights_that_idled(levels, beside: Beside) -> None:
    found = idling_of(load_symptoms()[LIGHT], [idled(day, volts) for day, volts in enumerate(levels, 1)])
    assert found.beside == beside
    assert (found.flights, found.of) == (sum(one is not None for one in levels), len(levels))
    assert found.outside_h == pytest.approx(0.9 * len(levels))  # 54 min of each hour


def test_of_several_occasions_in_a_flight_the_worst_counts_and_flights_that_did_not_idle_do_not() -> None:
    """Seven flights at 12.0 V; in the last one 12.0 V and then 11.4 V. An eighth never idled."""
    last = idled(7, 12.0)
    own = last.symptoms[LIGHT]
    worst = replace(own.occasions[0], numbers={"lowest_voltage": Quantity(11.4, "V")})
    last = replace(last, symptoms={LIGHT: replace(own, occasions=(own.occasions[0], worst))})
    never = examined(LIGHT, 8, exposure={LOW: (0.0, 3600.0)})
    found = idling_of(load_symptoms()[LIGHT], [*(idled(day, 12.0) for day in range(1, 7)), last, never])
    assert (found.beside, found.flights, found.of) == (Beside.WORSE, 7, 7)


@pytest.mark.parametrize(("latest", "beside"), [(15.61, Beside.WORSE), (15.5, Beside.USUAL), (14.0, Beside.USUAL)])
def test_of_a_symptom_that_is_high_the_higher_is_the_worse(latest: float, beside: Beside) -> None:
    """Half a volt above 15.0 V is as usual."""
    flights = [
        examined("voltage_high", day, State.SEEN, [(30.0, {LOW: 1.0})], exposure={LOW: (360.0, 3600.0)},
                 numbers={"highest_voltage": Quantity(volts, "V")})
        for day, volts in enumerate([15.0] * 6 + [latest], 1)
    ]  # fmt: skip
    assert idling_of(load_symptoms()["voltage_high"], flights).beside == beside


def test_a_current_s_own_level_says_nothing_of_worse() -> None:
    """Only volts are held against the earlier ones: what a battery gives depends on the loads that were on."""
    flights = [
        examined("ammeter_discharge", day, State.SEEN, [(30.0, {LOW: 1.0})], exposure={LOW: (360.0, 3600.0)},
                 numbers={"lowest_current": Quantity(amps, "A")})
        for day, amps in enumerate([-3.0] * 6 + [-12.0], 1)
    ]  # fmt: skip
    assert idling_of(load_symptoms()["ammeter_discharge"], flights).beside == Beside.USUAL
