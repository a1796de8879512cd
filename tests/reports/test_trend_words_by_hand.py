"""What is said of trends, forecasts, cold starts and stands, with every number put in by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.quantity import Quantity
from analyzer.reports.fleet_text import limit_words
from analyzer.reports.trend_words import (
    ahead_words,
    change_words,
    cold_air,
    cold_interval,
    cold_volts,
    cold_words,
    flight_of,
    found_words,
    in_ten,
    lapsed_words,
    latest_words,
    outlook_at_words,
    outlook_line,
    outlook_words,
    past_words,
    raised_words,
    reach_words,
    record_words,
    span_words,
    stand_weeks,
    standing_words,
    trend_words,
    unlogged_asks,
    unlogged_rests_on,
    was_words,
)
from analyzer.service.outlook_at import OutlookAt
from analyzer.trends.cold import ColdOutlook, ColdStart, SeenStart, ToldBy, Winter
from analyzer.trends.fleet_result import NextLimit
from analyzer.trends.followed_tail import Began, LevelStep, Projection
from analyzer.trends.foretold import Came, Forecast, ForecastRecord
from analyzer.trends.found_around import FoundAround
from analyzer.trends.history import FlightAt, FlightSpan
from analyzer.trends.open_findings import OfFlight
from analyzer.trends.standing import Standing, StandingLoss
from analyzer.trends.unlogged import Stepped, Unlogged
from tests.made_results import DAY, NEVER, PASSED, compared, present, trend, trend_finding, untold


def reached(likely: float | None, earliest: float, latest: float) -> Projection:
    return Projection(likely, earliest, latest, earliest, likely or latest, latest)


#: When a limit is reached: as it stands in a list, and in a sentence.
REACHED = {
    "many hours": (reached(190.0, 140.0, 300.0), "190 h (140 to 300)", "about 190 h (140 to 300)"),
    "rounded": (reached(49.6, 39.5, 66.4), "50 h (40 to 66)", "about 50 h (40 to 66)"),
    "more than a thousand": (reached(1204.0, 800.0, 1900.0), "1,204 h (800 to 1,900)", "about 1,204 h (800 to 1,900)"),
    "one hour": (reached(1.4, 0.6, 2.0), "1 h (1 to 2)", "about 1 h (1 to 2)"),
    "less than one": (reached(0.4, 0.1, 2.0), "less than 1 h (0 to 2)", "less than 1 h (0 to 2)"),
    "less than one for sure": (reached(0.3, 0.1, 0.4), "less than 1 h", "less than 1 h"),
    "less than one without one number": (reached(None, 0.1, 0.4), "less than 1 h", "less than 1 h"),
    "one hour for sure": (reached(1.2, 0.6, 1.4), "1 h", "about 1 h"),
    "one hour for sure without one number": (reached(None, 0.6, 1.4), "1 h", "about 1 h"),
    "too unsure": (reached(None, 140.0, 300.0), "140 to 300 h", "140 to 300 h, too unsure for one number"),
}


@pytest.mark.parametrize(("when", "listed", "said"), REACHED.values(), ids=REACHED)
def test_when_a_limit_is_reached_is_never_in_no_hours(when: Projection, listed: str, said: str) -> None:
    """ "In about 0 h" would read as a limit that is passed, which is said of a limit that is seen to be."""
    assert (reach_words(when), ahead_words(when)) == (listed, said)


@pytest.mark.parametrize(
    ("likely", "said"),
    [(0.3, "less than 1 engine hour"), (1.0, "about 1 engine hour"), (2.0, "about 2 engine hours")],
)
def test_one_engine_hour_is_no_plural(likely: float, said: str) -> None:
    coming = NextLimit("regulated_voltage", 14.5, reached(likely, 0.0, 5.0))
    assert ahead_words(coming.reached, "engine hour") == f"{said} (0 to 5)"
    assert limit_words(coming) == f"Regulated voltage reaches its limit of 14.50 V in {said} (0 to 5)"
    says = trend_words(trend(ends=(likely, 0.0, 5.0)))
    assert f"Reaches it in {said} (0 to 5): " in says


def test_without_one_number_engine_hours_are_many() -> None:
    assert reach_words(reached(None, 0.0, 1.0), "engine hour") == "0 to 1 engine hours"


TRENDS = {
    "rising towards its limit": (
        trend(),
        "14.20 V now; limit 14.50 V. Rising 0.20 V per 100 engine hours (0.10 to 0.30). Reaches it in about 150 engine "
        "hours (100 to 300): 1 in 10 by 100 h, 1 in 2 by 150 h.",
    ),
    "falling, its ends turned so that the larger fall comes last": (
        trend("cranking_voltage", slope=-0.4, low=-0.55, high=-0.25, level=9.6, limit=8.4),
        "9.60 V now; limit 8.40 V. Falling 0.40 V per 100 engine hours (0.25 to 0.55). Reaches it in about 150 engine "
        "hours (100 to 300): 1 in 10 by 100 h, 1 in 2 by 150 h.",
    ),
    "no clear trend": (
        trend(slope=0.05, low=-0.1, high=0.2, ends=NEVER),
        "14.20 V now; no clear trend (change per 100 engine hours -0.10 to 0.20 V).",
    ),
    "past its limit by level": (
        trend(level=14.6, past=True, ends=PASSED),
        "14.60 V now; limit 14.50 V. Rising 0.20 V per 100 engine hours (0.10 to 0.30). Past its limit.",
    ),
    "past its limit and coming back": (
        trend(level=14.6, past=True, slope=-0.2, low=-0.3, high=-0.1, ends=NEVER),
        "14.60 V now; limit 14.50 V. Falling 0.20 V per 100 engine hours (0.10 to 0.30). Past its limit, moving back.",
    ),
    "towards its limit, nobody knows when": (
        trend(ends=NEVER),
        "14.20 V now; limit 14.50 V. Rising 0.20 V per 100 engine hours (0.10 to 0.30). When it reaches its limit "
        "cannot be told yet.",
    ),
    "away from its limit": (
        trend(slope=-0.2, low=-0.3, high=-0.1, ends=NEVER),
        "14.20 V now; limit 14.50 V. Falling 0.20 V per 100 engine hours (0.10 to 0.30).",
    ),
    "no limit": (
        trend("bus_load", level=12.0, slope=2.0, low=1.0, high=3.0, limit=None, ends=NEVER),
        "12.0 A now. Rising 2.0 A per 100 engine hours (1.0 to 3.0).",
    ),
    "nothing to be told": (untold("only 3 flights carry it"), "No trend: only 3 flights carry it."),
}


@pytest.mark.parametrize(("of", "says"), TRENDS.values(), ids=TRENDS)
def test_a_trend_says_where_it_is_how_it_moves_and_when_it_arrives(of, says: str) -> None:
    assert trend_words(of) == says


def test_a_level_without_a_slope_may_be_past_its_limit() -> None:
    of = replace(trend(level=14.6, past=True), because="too few hours")
    assert of.now is not None
    of = replace(of, now=replace(of.now, slope=None, projection=None, second_opinion=None))
    assert past_words(of) == ", past its limit of 14.50 V"
    assert trend_words(of) == "14.60 V now, past its limit of 14.50 V; too few hours."


def test_what_it_was_is_told_by_month_but_not_behind_a_step() -> None:
    began = replace(trend("recharge_time_constant", level=8.0), began=Began(5.0, datetime(2026, 3, 31, 23, 0)))
    assert was_words(began) == "was 5.0 min in March 2026"
    assert "8.0 min now, was 5.0 min in March 2026; limit" in trend_words(began)
    assert was_words(replace(began, changes=(LevelStep(DAY, 4, 5.0, 8.0, 0.01),))) == ""
    assert was_words(trend()) == ""


@pytest.mark.parametrize(
    ("now", "says"),
    [
        (present(), "reaches 14.50 V in 150 h (100 to 300)"),
        (present(past=True), "past its limit of 14.50 V"),
        (present(past=True, slope=-0.2, low=-0.3, high=-0.1, ends=NEVER), "past its limit of 14.50 V, moving back"),
        (present(ends=PASSED), "past its limit of 14.50 V"),
        (present(slope=0.0, low=-0.1, high=0.1, ends=NEVER), "no clear trend"),
        (present(slope=0.1, low=0.0, high=0.2, ends=NEVER), "no clear trend"),  # zero just within
        (present(ends=NEVER), "heads for 14.50 V; when cannot be told yet"),
        (present(limit=None, ends=NEVER), "moving; no limit foreseen"),
        (present(slope=-0.2, low=-0.3, high=-0.1, ends=NEVER), "moving; no limit foreseen"),  # away from it
    ],
)
def test_the_outlook_in_a_few_words(now, says: str) -> None:
    assert outlook_words(now, "V") == says


def test_the_outlook_after_a_flight_names_each_measure_or_says_why_there_is_none() -> None:
    told = OutlookAt(33, (trend(), trend("cranking_voltage", level=8.3, limit=8.4, past=True, ends=PASSED)))
    assert outlook_at_words(told) == [
        "Regulated voltage 14.20 V: reaches 14.50 V in 150 h (100 to 300)",
        "Lowest cranking voltage 8.30 V: past its limit of 8.40 V",
    ]
    assert outlook_line(OutlookAt(1, (trend(),))) == (
        "Outlook after this flight, by the 1 flight up to it: Regulated voltage 14.20 V: reaches 14.50 V in 150 h (100 "
        "to 300)."
    )
    assert outlook_line(OutlookAt(0, because="no clock")) == (
        "Outlook after this flight: No limit can be foretold: no clock."
    )
    assert outlook_at_words(OutlookAt(3, because="3 flights carry it", of="cranking_voltage")) == [
        "No limit can be foretold yet: 3 flights carry it (lowest cranking voltage)."
    ]
    assert outlook_at_words(OutlookAt(9)) == ["No measure lies past its limit or surely comes to one."]


def forecasts(**counts: int) -> ForecastRecord:
    made = [Came(name) for name, count in counts.items() for _ in range(count)]
    return ForecastRecord(tuple(Forecast(FlightAt(0, DAY), 50.0, 40.0, 66.0, came) for came in made))


@pytest.mark.parametrize(
    ("record", "says"),
    [
        (None, ""),
        (forecasts(held=1), "of 1 earlier forecast 1 held"),
        (forecasts(held=9, later=1, open=2), "of 12 earlier forecasts 9 held, 1 came later, 2 open"),
        (forecasts(sooner=3), "of 3 earlier forecasts 0 held, 3 came sooner"),
    ],
)
def test_earlier_forecasts_are_counted_also_those_that_failed(record: ForecastRecord | None, says: str) -> None:
    assert record_words(record) == says
    assert trend_words(replace(trend(), record=record)).endswith(f" Record: {says}." if says else "by 150 h.")


def test_a_finding_over_many_flights_is_dated_by_day_or_by_flight_from_1() -> None:
    assert raised_words(trend_finding()) == "raised 2026-05-06"
    assert raised_words(trend_finding(raised_at=None, raised_flight=0)) == "raised at flight 1"
    lapsed = trend_finding(lapsed_at=None, lapsed_flight=3)
    assert lapsed_words(lapsed) == "ended at flight 4"
    assert lapsed_words(replace(lapsed, lapsed_at=datetime(2026, 6, 12, 8, 0))) == "ended 2026-06-12"
    assert (flight_of(DAY, 7), flight_of(None, 7)) == ("the flight of 2026-05-06", "flight 8")


def latest(*told: tuple[int, datetime | None, str]) -> list[OfFlight]:
    return [OfFlight(trend_finding(name, "caution"), flight, start) for flight, start, name in told]


AUGUST, JULY = datetime(2026, 8, 30, 9, 0), datetime(2026, 7, 2, 9, 0)
LATEST = {
    "nothing": ((), ""),
    "one": (((9, AUGUST, "regulator_low"),), "in the flight of 2026-08-30: Regulated voltage low (caution)"),
    "the same in two": (
        ((9, AUGUST, "regulator_low"), (8, JULY, "regulator_low")),
        "in the flights of 2026-08-30 and 2026-07-02: Regulated voltage low (caution)",
    ),
    "the same in three, one without a clock": (
        ((9, AUGUST, "regulator_low"), (8, None, "regulator_low"), (7, JULY, "regulator_low")),
        "in the flight of 2026-08-30, flight 9 and the flight of 2026-07-02: Regulated voltage low (caution)",
    ),
    "two in one, one of them in another too": (
        ((9, AUGUST, "regulator_low"), (9, AUGUST, "weak_cranking"), (8, JULY, "weak_cranking")),
        "in the flight of 2026-08-30: Regulated voltage low (caution), Weak cranking (caution); in the flight of "
        "2026-07-02: Weak cranking (caution)",
    ),
}


@pytest.mark.parametrize(("found", "says"), LATEST.values(), ids=LATEST)
def test_what_the_latest_flights_show_stands_together_where_it_is_the_same(found, says: str) -> None:
    assert latest_words(latest(*found)) == says


@pytest.mark.parametrize(
    ("weeks", "said"),
    [
        (0.0, "less than a day"),
        (0.142, "less than a day"),  # a week's seventh is 0.1429
        (1.0 / 7.0, "1 day"),
        (1.99, "13 days"),  # 13.93, rounded down: a start is doubtful from then on
        (2.0, "2 weeks"),
        (2.99, "2 weeks"),
        (25.99, "25 weeks"),
        (26.0, "half a year or more"),
    ],
)
def test_how_long_it_may_stand_is_rounded_down(weeks: float, said: str) -> None:
    assert stand_weeks(weeks) == said


@given(st.integers(1, 13))
def test_a_stand_of_whole_days_is_those_days(days: int) -> None:
    assert stand_weeks(days / 7.0) == ("1 day" if days == 1 else f"{days} days")


LOSS = StandingLoss(3, 41.6, 0.8, 0.46, 1.14, 3.4, (5.4, 13.6))


def test_what_is_lost_while_parked_is_told_a_day_as_a_drain_and_as_a_time() -> None:
    assert standing_words(Standing(LOSS)) == (
        "Charge lost while parked: 0.5 to 1.1 % a day, parked drain and self-discharge together, as much as a steady 5 "
        "to 14 mA (3 parked periods, 42 days, if nobody charged it meanwhile). At the upper end a start is doubtful "
        "after 3 weeks without a flight."
    )
    short = standing_words(Standing(replace(LOSS, stands=1, milliamperes=None, weeks=0.0)))
    assert "together (1 parked period, 42 days" in short
    assert short.endswith("it has rested at 50 % or less, where a start is doubtful already.")  # stand_start_charge
    assert standing_words(Standing(because="it never stood")) == (
        "Charge lost while parked: not measurable, because it never stood."
    )
    assert standing_words(Standing()) == ""


@pytest.mark.parametrize(
    ("degrees", "said"), [(-0.4, "0 °C"), (0.4, "0 °C"), (-0.6, "-1 °C"), (-10.0, "-10 °C"), (21.5, "22 °C")]
)
def test_the_melting_point_has_no_sign(degrees: float, said: str) -> None:
    assert cold_air(degrees) == said


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "fewer than 1 of 10"), (0.04, "fewer than 1 of 10"), (0.06, "1 of 10"), (0.5, "5 of 10"), (0.94, "9 of 10"),
     (0.96, "more than 9 of 10"), (1.0, "more than 9 of 10")],
)  # fmt: skip
def test_a_chance_in_tenths_is_never_none_and_never_all(chance: float, said: str) -> None:
    assert in_ten(chance) == said


def volts(value: float, low: float, high: float) -> Quantity:
    return Quantity(value, "V", low, high)


SEEN = SeenStart(FlightAt(4, datetime(2026, 2, 3, 8, 0)), -3.4, 9.72)
OUTLOOK = ColdOutlook(
    (ColdStart(0.0, volts(9.16, 8.03, 10.01), 0.83), ColdStart(-10.0, volts(8.2, 5.0, 9.6), 0.41)), 8.4, 12, SEEN
)


def test_starts_in_the_cold_are_told_with_their_chances_and_what_they_rest_on() -> None:
    """The limit is 8.4 V, so that an interval of more than half of it, 4.2 V, is too wide (limit cold_widest)."""
    assert cold_words(OUTLOOK) == (
        "Starts in the cold: at 0 °C 9.16 V (8.03 to 10.01 V); at -10 °C too wide to tell (5.00 to 9.60 V). Above 8.40 "
        "V: at 0 °C in 8 of 10; at -10 °C in 4 of 10. An estimate from 12 starts, engine not preheated: the bus while "
        "the starter turns, and in how many starts it stays above 8.40 V. Coldest start so far: 9.72 V at -3 °C, "
        "2026-02-03."
    )
    assert cold_words(None) == ""


@pytest.mark.parametrize(("high", "said"), [(9.24, "9.00 V"), (9.26, "too wide to tell")])
def test_an_interval_of_just_half_the_limit_still_tells(high: float, said: str) -> None:
    """From 5.05 V on, 4.19 V and 4.21 V wide; half of 8.4 V is 4.2 V."""
    one = ColdStart(0.0, volts(9.0, 5.05, high), 0.5)
    assert cold_volts(one, OUTLOOK) == said
    assert cold_interval(one) == f"5.05 to {high:.2f} V"


@pytest.mark.parametrize(
    ("foretold", "says"),
    [
        (volts(9.4, 9.0, 9.72), "The other starts would have made that 9.00 to 9.72 V; it was within that."),
        (volts(9.4, 9.72, 9.9), "The other starts would have made that 9.72 to 9.90 V; it was within that."),
        (volts(10.4, 9.73, 11.0),
         "The other starts would have made that 9.73 to 11.00 V; it was lower: take the estimate as too good."),
        (volts(9.4, 9.0, 9.71),
         "The other starts would have made that 9.00 to 9.71 V; it was higher, as after preheating."),
    ],
)  # fmt: skip
def test_the_coldest_start_itself_says_whether_the_estimate_is_good(foretold: Quantity, says: str) -> None:
    assert cold_words(replace(OUTLOOK, coldest_foretold=foretold)).endswith(says)


def test_a_winter_is_its_coldest_morning_and_its_starts_once_more() -> None:
    winter = Winter(ToldBy.SETTING, ColdStart(-12.0, volts(8.9, 8.1, 9.7), 0.62), 0.96, 14)
    assert (
        "The coldest morning, -12 °C (as set): 8.90 V (8.10 to 9.70 V). Above 8.40 V in 6 of 10. The 14 recorded "
        "starts of its last winter over again: above 8.40 V in more than 9 of 10."
    ) in cold_words(replace(OUTLOOK, winter=winter))
    assert "over again" not in cold_words(replace(OUTLOOK, winter=replace(winter, again=None)))


def test_work_that_nobody_logged_is_asked_about_with_its_days_and_what_stepped() -> None:
    early, late = datetime(2026, 5, 3, 18, 0), datetime(2026, 5, 9, 7, 0)
    asked = Unlogged("battery_replaced", 9, early, late, early, (Stepped("cranking_voltage", 8.912, 10.3),))
    assert unlogged_asks(asked) == "Was the battery replaced between 2026-05-03 and 2026-05-09?"
    assert unlogged_rests_on(asked).startswith(
        "Nothing is logged, but then it stepped: lowest cranking voltage from 8.91 to 10.30 V. A connection that"
    )
    regulator = replace(asked, kind="regulator_replaced", latest=datetime(2026, 5, 3, 23, 59))
    assert unlogged_asks(regulator) == "Was the regulator replaced or adjusted on 2026-05-03?"


def test_a_change_by_work_is_told_in_its_unit_or_as_a_ratio() -> None:
    by_volts = compared("regulated_voltage", "helped", (14.43, 13.97), (-0.46, -0.52, -0.401))
    assert change_words(by_volts) == "-0.46 V (-0.52 to -0.40)"
    assert change_words(compared("recharge_time_constant", "helped", (8.0, 4.0), (0.5, 0.4, 0.634))) == (
        "0.50 times (0.40 to 0.63)"
    )
    assert change_words(compared("regulated_voltage", "too few flights yet")) == ""


def test_flights_before_and_after_are_counted_with_their_first_and_last_day() -> None:
    assert span_words(None) == "no flight"
    assert span_words(FlightSpan(1, DAY, DAY)) == "1 flight, 2026-05-06 to 2026-05-06"
    assert span_words(FlightSpan(10, JULY, AUGUST)) == "10 flights, 2026-07-02 to 2026-08-30"
    around = FoundAround(trend_finding("regulator_low").name, 6, 10, 0, 9)
    assert found_words([around]) == "Regulated voltage low: found in 6 of 10 flights before, in 0 of 9 after."
