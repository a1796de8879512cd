"""Starts in the cold, foretold: the manuals' capacity, the truth of made batteries, and never better than either."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from made_histories import made

from analyzer.aircraft import Aircraft, Battery, Source
from analyzer.reports.trend_words import cold_seen, cold_words, winter_words
from analyzer.trends import cold
from analyzer.trends.cold import ColdOutlook, ToldBy, capacity_to_crank, cold_outlook
from analyzer.trends.followed_tail import follow_tail
from analyzer.trends.history import History, Reading, history_of
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail
from tests.as_json import tail_json

#: The bus above which a start is good, 14 V system [V].
LIMIT = 8.4


def flown(seed: int, power: float = 1.0, warm: float = 2.0, air: tuple[float, float] = (0.0, 28.0)) -> History:
    """Sixteen to forty flights of a 14 V aircraft whose starter pulls the bus down by ``warm`` volts at 80 degF."""
    rng = np.random.default_rng([seed, 77])
    count = int(rng.integers(16, 41))
    flights = []
    for flight in made("plain", seed, count).history.flights:
        degc = float(rng.uniform(*air))
        rest = 12.65 + float(rng.normal(0.0, 0.03))
        fall = fall_at(degc, power, warm) * float(np.exp(rng.normal(0.0, 0.06)))
        readings = {"resting_voltage": rest, "cranking_voltage": rest - fall}
        told = {name: Reading(value, value - 0.05, value + 0.05) for name, value in readings.items()}
        flights.append(replace(flight, nominal_voltage=14, air_start=degc, readings=told))
    return history_of("N0009C", flights)


def fall_at(degc: float, power: float, warm: float) -> float:
    """The bus's fall under the starter by the manuals' capacity to crank, read off again."""
    capacity = np.exp(np.interp(degc, (-17.78, -1.11, 26.67), np.log((0.40, 0.65, 1.00))))
    return float(warm * capacity**-power)


def outlook(history: History) -> ColdOutlook | None:
    return cold_outlook(follow_tail(history))


def test_capacity_to_crank_is_that_of_the_manuals() -> None:
    """US Army manuals: 65 % at 30 degF, 40 % at 0 degF, of that at 80 degF."""
    fahrenheit = np.array([80.0, 30.0, 0.0])
    assert capacity_to_crank((fahrenheit - 32.0) / 1.8) == pytest.approx([1.0, 0.65, 0.40], abs=1e-3)
    assert (np.diff(capacity_to_crank(np.arange(-40.0, 50.0))) > 0.0).all()
    assert capacity_to_crank(np.array([-30.0]))[0] < 0.3


def test_the_interval_of_one_start_holds_nineteen_of_twenty() -> None:
    inside, truth_below = [], 0
    for seed in range(40):
        rng = np.random.default_rng([seed, 3])
        power, warm = float(rng.normal(1.0, 0.25)), float(rng.uniform(1.4, 2.6))
        found = outlook(flown(seed, power, warm))
        for start in found.starts:
            true = 12.65 - fall_at(start.air, power, warm) * np.exp(rng.normal(0.0, 0.06, 50))
            inside += [start.voltage.low <= one <= start.voltage.high for one in true]
            truth_below += float(np.median(true)) < start.voltage.low
    assert 0.92 <= np.mean(inside) <= 0.995
    assert truth_below <= 4  # of 120: seldom better than it is


def test_chances_are_those_of_the_starts_that_follow() -> None:
    """Over many tails as many starts are good as was said, within a tenth."""
    said, came = [], []
    for seed in range(60):
        rng = np.random.default_rng([seed, 5])
        power, warm = float(rng.normal(1.0, 0.25)), float(rng.uniform(1.8, 3.4))
        start = outlook(flown(seed, power, warm)).starts[0]
        true = 12.65 - fall_at(0.0, power, warm) * np.exp(rng.normal(0.0, 0.06, 200))
        said.append(start.good)
        came.append(float((true > LIMIT).mean()))
    assert 0.3 < np.mean(came) < 0.97
    assert np.mean(said) == pytest.approx(np.mean(came), abs=0.05)
    sure = [real for one, real in zip(said, came, strict=True) if one > 0.9]
    assert np.mean(sure) > 0.9


def test_colder_is_worse_and_a_worn_battery_is_worse_still() -> None:
    sound, worn = outlook(flown(4, warm=1.8)), outlook(flown(4, warm=2.8))
    for one in (sound, worn):
        volts = [start.voltage.value for start in one.starts]
        assert volts == sorted(volts, reverse=True)
        chances = [start.good for start in one.starts]
        assert chances == sorted(chances, reverse=True)
    assert all(a.voltage.value > b.voltage.value for a, b in zip(sound.starts, worn.starts, strict=True))
    assert (sound.limit, sound.starts[0].air) == (LIMIT, 0.0)


def test_of_a_battery_that_wears_out_the_present_is_foretold() -> None:
    sound = flown(6, warm=1.5)
    flights = []
    for place, flight in enumerate(sound.flights):
        growth = 1.0 + 0.6 * place / (len(sound.flights) - 1)
        rest, crank = (flight.readings[name].value for name in ("resting_voltage", "cranking_voltage"))
        worn = rest - growth * (rest - crank)
        readings = {**flight.readings, "cranking_voltage": Reading(worn, worn - 0.05, worn + 0.05)}
        flights.append(replace(flight, hours=2.0, readings=readings))
    start = outlook(history_of("N0009C", flights)).starts[0]
    assert start.voltage.value == pytest.approx(12.65 - 1.6 * fall_at(0.0, 1.0, 1.5), abs=0.3)


def test_starts_in_the_cold_narrow_what_is_foretold_of_it() -> None:
    widths = [
        [one.voltage.high - one.voltage.low for one in outlook(flown(9, air=air)).starts]
        for air in ((10.0, 28.0), (-15.0, 28.0))
    ]
    assert all(cold < warm for warm, cold in zip(*widths, strict=True))


def test_beyond_its_coldest_start_no_battery_is_better_than_the_manuals_say() -> None:
    """Starts that the cold hardly tells, as of an engine that is preheated."""
    for seed in range(5):
        found = outlook(flown(seed, power=0.1, air=(2.0, 28.0)))
        falls = [12.65 - start.voltage.value for start in found.starts]
        growth = fall_at(-20.0, 1.0, 1.0) / fall_at(0.0, 1.0, 1.0)
        assert falls[2] / falls[0] >= 0.97 * growth


def test_the_coldest_start_is_told_and_too_few_foretell_nothing() -> None:
    history = flown(11)
    found = outlook(history)
    coldest = min(range(len(history.flights)), key=lambda place: history.flights[place].air_start)
    assert found.coldest.at.flight == coldest
    assert found.coldest.voltage == pytest.approx(history.flights[coldest].readings["cranking_voltage"].value)
    assert outlook(history_of("N0009C", history.flights[:7])) is None
    without = [replace(one, air_start=None) for one in history.flights]
    assert outlook(history_of("N0009C", without)) is None


@pytest.mark.parametrize("known", [Aircraft(battery=Battery.LITHIUM), Aircraft(source=Source.STARTER_GENERATOR)])
def test_the_manuals_do_not_speak_of_lithium_nor_of_a_turbine(known: Aircraft) -> None:
    assert outlook(replace(flown(3), aircraft=known)) is None
    assert outlook(flown(3)) is not None


def over_a_year(seed: int, winter: float, *, warm: float = 2.0, aircraft: Aircraft | None = None) -> History:
    """Thirty-six flights, three a month for a year: 20 degC but from December to February."""
    history = flown(seed)
    flights = []
    rng = np.random.default_rng([seed, 9])
    for place in range(36):
        start = datetime(2025, 1 + place // 3, 5 + 8 * (place % 3), 10)
        air = winter + 2.0 * (place % 3) if start.month in (12, 1, 2) else 20.0
        fall = fall_at(air, 1.0, warm) * float(np.exp(rng.normal(0.0, 0.03)))
        readings = {"resting_voltage": Reading(12.65, 12.6, 12.7)}
        readings["cranking_voltage"] = Reading(12.65 - fall, 12.6 - fall, 12.7 - fall)
        flight = replace(history.flights[0], nominal_voltage=14, air_start=air, readings=readings)
        flights.append(replace(flight, start=start, end=start + timedelta(hours=1)))
    return history_of("N0009C", flights, aircraft=aircraft or Aircraft())


def test_a_winter_is_told_by_the_setting_else_by_the_three_coldest_months() -> None:
    told = outlook(over_a_year(1, -6.0))
    assert told.winter.told_by is ToldBy.LOGS
    assert (told.winter.starts, told.winter.coldest.air) == (9, -6.0)
    known = outlook(over_a_year(1, -6.0, aircraft=Aircraft(coldest_morning=-20.0)))
    assert known.winter.told_by is ToldBy.SETTING
    assert known.winter.coldest == next(one for one in known.starts if one.air == -20.0)
    assert known.winter.again == told.winter.again
    assert known.winter.coldest.good < told.winter.coldest.good <= told.winter.again
    assert "The coldest morning, -20 °C (as set)" in cold_words(known)
    assert "which tell no night" in cold_words(told)
    assert tail_json(tail_result(review_tail(over_a_year(1, -6.0))))["cold_outlook"]["winter"]["starts"] == 9


def test_the_winter_before_last_is_none_of_this_one() -> None:
    history = over_a_year(1, -2.0)
    earlier = [
        replace(one, start=one.start - timedelta(days=400), end=one.end - timedelta(days=400), air_start=-9.0)
        for one in history.flights[:9]
    ]
    assert outlook(replace(history, flights=(*earlier, *history.flights))).winter.coldest.air == -2.0


@pytest.mark.parametrize(("later", "counts"), [(timedelta(0), False), (timedelta(seconds=1), True)])
def test_a_start_to_the_second_a_year_before_the_last_is_of_the_winter_before(later: timedelta, counts: bool) -> None:
    history = over_a_year(1, -2.0)
    first = history.flights[-1].start - timedelta(days=365) + later
    colder = replace(history.flights[0], start=first, end=first + timedelta(hours=1), air_start=-9.0)
    told = outlook(history_of("N0009C", [colder, *history.flights]))
    assert (told.winter.coldest.air, told.winter.starts) == ((-9.0, 10) if counts else (-2.0, 9))


def test_starts_without_a_clock_are_of_no_winter_and_those_without_an_end_of_their_own() -> None:
    history = over_a_year(1, -2.0)
    bare = replace(history.flights[0], end=None, hours=1.25)  # these stand last, in file order, whatever their start
    told = history_of(
        "N0009C",
        [
            *history.flights,
            replace(bare, start=None, air_start=-9.0, file="1.csv"),
            replace(bare, start=datetime(2023, 12, 21, 10), air_start=-8.0, hours=1.5, file="2.csv"),
            replace(bare, start=datetime(2025, 12, 28, 10), air_start=-3.0, hours=1.75, file="3.csv"),
        ],
    )
    assert [one.file for one in told.flights[-3:]] == ["1.csv", "2.csv", "3.csv"]
    winter = outlook(told).winter
    assert (winter.coldest.air, winter.starts) == (-3.0, 10)


def test_the_share_of_good_starts_is_that_of_the_winter_s_air(monkeypatch: pytest.MonkeyPatch) -> None:
    """The mean over its nine starts, by each one's own air."""
    monkeypatch.setattr(cold, "COLD", (-6.0, -4.0, -2.0))
    told = outlook(over_a_year(2, -6.0, warm=2.4))
    by_air = {one.air: one.good for one in told.starts}
    assert told.winter.again == pytest.approx(np.mean(list(by_air.values())))
    assert 0.05 < by_air[-6.0] < by_air[-2.0] < 0.999


def test_without_a_year_of_logs_nothing_tells_a_winter() -> None:
    history = over_a_year(1, -6.0)
    part = replace(history, flights=history.flights[:27])
    assert outlook(part).winter is None
    told = outlook(replace(part, aircraft=Aircraft(coldest_morning=-10.0))).winter
    assert (told.told_by, told.again, told.coldest.air) == (ToldBy.SETTING, None, -10.0)


def test_the_coldest_start_is_held_against_what_the_others_foretell() -> None:
    """A start at -10 degC of a battery that falls twice as far as the manuals say is told as worse than foretold."""
    mild = flown(3, air=(2.0, 28.0))
    last, words = mild.flights[-1], {}
    others = outlook(history_of("N0009C", mild.flights[:-1]))
    without = next(one for one in others.starts if one.air == -10.0)
    usual = np.median([one.readings["resting_voltage"].value for one in mild.flights[-11:-1]])
    for name, times in (("as foretold", 1.0), ("worse", 1.6)):
        fall = fall_at(-10.0, 1.0, 2.0) * times
        low = Reading(12.65 - fall, 12.6 - fall, 12.7 - fall)
        rest = Reading(12.65, 12.6, 12.7)
        cold = replace(last, air_start=-10.0, readings={"resting_voltage": rest, "cranking_voltage": low})
        told = outlook(history_of("N0009C", [*mild.flights[:-1], cold]))
        assert told.coldest_foretold.value - 12.65 == pytest.approx(without.voltage.value - usual)
        assert told.coldest.air == -10.0
        words[name] = cold_seen(told)
    assert words["as foretold"].endswith("; it was within that.")
    assert words["worse"].endswith("; it was lower: take the estimate as too good.")


def test_a_winter_in_which_it_stood_is_told_by_nothing() -> None:
    """Flown from March to October and again from March on: October and March are no winter; nor is a year of eleven."""
    history = over_a_year(1, -6.0)
    summers = [one for one in history.flights if 3 <= one.start.month <= 10]
    again = [replace(one, start=one.start + timedelta(days=365), end=one.end + timedelta(days=365)) for one in summers]
    assert outlook(replace(history, flights=(*summers, *again))).winter is None
    but_january = [one for one in history.flights if one.start.month != 1]
    assert outlook(replace(history, flights=(*but_january[:3], *but_january))).winter is None


def test_a_start_colder_than_the_morning_set_is_taken() -> None:
    told = outlook(over_a_year(1, -6.0, aircraft=Aircraft(coldest_morning=-2.0)))
    assert (told.winter.told_by, told.winter.coldest.air) == (ToldBy.COLDER_LOGS, -6.0)
    says = winter_words(told)
    assert "The coldest morning, -6 °C (its coldest start so far, colder than set)" in says
    assert says.lower().count("above 8.40 v in ") == 2, "how good is good"
    assert "good in" not in says
