"""A report against many flights: verdicts, conditions, causes, what to measure; the shape its readers rely on."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from math import comb
from typing import Any

import numpy as np
import polars as pl
import pytest

from analyzer.aircraft import Aircraft
from analyzer.quantity import Quantity
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.squawk_text import squawk_text
from analyzer.review import review_log
from analyzer.simulator.as_log import as_log
from analyzer.simulator.flight_plan import Starting
from analyzer.simulator.healthy import cold_morning, engine_already_running, healthy, touch_and_goes
from analyzer.simulator.scenarios import (
    alternator_lost,
    left_low,
    regulator_high,
    regulator_hunting,
    trip_with_reset,
    worn_battery,
)
from analyzer.simulator.simulate import Scenario, simulate
from analyzer.squawk.conditions import Circumstances, SymptomCondition
from analyzer.squawk.examine import ExaminedFlight, FlightSymptom, Occasion, SquawkFlight
from analyzer.squawk.report import report_of
from analyzer.squawk.result import SquawkResult, look_through, squawk_result
from analyzer.squawk.symptom_result import State
from analyzer.squawk.weighing import conditions, more_than_chance
from tests.flown import judged, with_table
from tests.squawk.told import TAIL, looked_up, ref_of, result_of, told

CIRCUITS, ORDINARY = (3, 4, 5, 6, 10, 11), (7, 8, 9)


def document_of(words: str | None, scenarios: Iterable[Scenario], picked: tuple[str, ...] = ()) -> dict[str, Any]:
    """The document of a report against flights on days in a row."""
    return told(result_of(words, scenarios, picked))


@pytest.fixture(scope="module")
def circuits() -> SquawkResult:
    """Six flights of circuits in which the bus falls at idle, and three ordinary ones."""
    scenarios = [touch_and_goes(seed) for seed in CIRCUITS] + [healthy(seed) for seed in ORDINARY]
    return result_of("ALT light flickered in the pattern", scenarios)


@pytest.fixture(scope="module")
def in_the_pattern(circuits: SquawkResult) -> dict[str, Any]:
    """The same, as the JSON has it."""
    return told(circuits)


def test_the_document_has_the_shape_that_its_readers_rely_on(in_the_pattern: dict[str, Any]) -> None:
    document = json.loads(json.dumps(in_the_pattern, allow_nan=False))
    assert document["contract"] == 1
    assert document.keys() >= {
        "tail", "report", "since", "until", "flights", "hours", "symptoms", "also_found", "cautions",
    }  # fmt: skip
    assert document["report"]["words"] == "ALT light flickered in the pattern"
    assert document["flights"] == 9
    assert document["hours"] > 9.0
    (symptom,) = document["symptoms"]
    assert symptom.keys() >= {
        "symptom", "title", "verdict", "because", "counts", "for", "against", "not_observable", "conditions",
        "likely", "measure_first", "check",
    }  # fmt: skip
    for occasion in symptom["for"]:
        assert occasion.keys() >= {"flight", "from_s", "to_s", "at", "says", "numbers", "conditions"}
        assert occasion["flight"].keys() == {"id", "source", "number", "start"}
        assert all(number.keys() == {"value", "unit"} for number in occasion["numbers"].values())
    assert sum(cause["weight"] for cause in symptom["likely"]) == pytest.approx(1.0, abs=0.01)


def test_occasions_are_counted_and_the_latest_flight_comes_first(in_the_pattern: dict[str, Any]) -> None:
    (symptom,) = in_the_pattern["symptoms"]
    counts = symptom["counts"]
    assert symptom["verdict"] == "seen at low rpm only, as usual for this aircraft at that rpm"
    assert (counts["seen"], counts["not_seen"], counts["not_observable"]) == (6, 3, 0)
    assert counts["occasions"] == len(symptom["for"])
    assert len(symptom["against"]) == 3
    starts = [occasion["flight"]["start"] for occasion in symptom["for"]]
    assert starts == sorted(starts, reverse=True)


def test_a_light_that_comes_only_at_idle_is_said_to_and_idling_is_the_likeliest_cause(
    in_the_pattern: dict[str, Any],
) -> None:
    (symptom,) = in_the_pattern["symptoms"]
    (low_rpm,) = [one for one in symptom["conditions"] if one["condition"] == "low rpm"]
    assert low_rpm["telling"]
    assert low_rpm["seen"] == low_rpm["of"] == symptom["counts"]["occasions"]
    assert 0.05 < low_rpm["exposure"] < 0.5
    assert symptom["only"] == "outside low rpm: never"
    assert "All of it at low engine speed, in 6 of 9 flights that idled; never in " in symptom["because"]
    assert "Many alternators cannot hold the bus at idle" in symptom["because"]
    assert "Engine too slow" in symptom["likely"][0]["cause"]
    assert any("it came only at low rpm" in why for why in symptom["likely"][0]["why"])


def test_many_occasions_of_one_flight_are_too_few_to_say_when_it_comes() -> None:
    (symptom,) = document_of("ALT light flickered", [touch_and_goes(3), healthy(7), healthy(8)])["symptoms"]
    assert symptom["counts"]["seen"] == 1
    assert symptom["counts"]["occasions"] >= 3
    (low_rpm,) = [one for one in symptom["conditions"] if one["condition"] == "low rpm"]
    assert low_rpm["too_few"]
    assert not low_rpm["telling"]


def test_what_chance_gives_at_low_rpm_is_the_mean_share_of_rows_in_the_flights_with_it(
    in_the_pattern: dict[str, Any],
) -> None:
    shares = []
    for scenario in [touch_and_goes(seed) for seed in CIRCUITS]:
        flight = judged(scenario).flight
        rpm = flight.trace.engine_speed[flight.run.start + 20 : flight.run.stop - 5]
        high = sorted(rpm)[int(0.95 * rpm.size)]
        shares.append(float((rpm < max(1150.0, 0.55 * high)).mean()))
    (low_rpm,) = [one for one in in_the_pattern["symptoms"][0]["conditions"] if one["condition"] == "low rpm"]
    assert low_rpm["exposure"] == pytest.approx(sum(shares) / len(shares), abs=0.01)


def test_a_loss_in_cruise_goes_with_no_condition_that_it_does_not_have() -> None:
    (symptom,) = document_of("ALT light on", [alternator_lost(3)])["symptoms"]
    assert not any(one["telling"] for one in symptom["conditions"])
    assert symptom["only"] is None
    assert "low engine speed" not in symptom["because"]
    assert "Engine too slow" not in symptom["likely"][0]["cause"]


@pytest.mark.parametrize(("seen", "of", "share"), [(5, 7, 0.18), (2, 2, 0.18), (3, 7, 0.18), (7, 7, 0.9)])
def test_a_condition_is_told_by_the_exact_binomial_test(seen: int, of: int, share: float) -> None:
    from analyzer.squawk.weighing import told_by_chance

    # P(X >= seen) for X ~ binomial(of, share), summed by hand
    tail = sum(comb(of, k) * share**k * (1.0 - share) ** (of - k) for k in range(seen, of + 1))
    too_few, telling = told_by_chance(seen, of, share)
    assert too_few == (share**of > 0.01)
    assert telling == (not too_few and tail < 0.01)


def flights_by_chance(random: np.random.Generator, share: float, occasions: int) -> list[ExaminedFlight]:
    """Flights with occasions at any time alike, those of a flight close to each other, some short, some long."""
    return [flight_by_chance(random, share, occasions) for _ in range(12)]


NO_FLIGHT = SquawkFlight(None, "", 1, None)


def flight_by_chance(random: np.random.Generator, share: float, occasions: int) -> ExaminedFlight:
    hour = (np.arange(3600.0) / 3600.0 + random.random()) % 1.0 < share  # one stretch of the flight, anywhere
    begins = (3600.0 * random.random() + random.normal(0.0, 120.0, occasions)) % 3600.0
    spans = [np.arange(at, at + random.choice([3, 60, 900])).astype(int) % 3600 for at in begins]
    seen_at = tuple(
        Occasion(
            NO_FLIGHT, 0.0, float(span.size), None, "", {}, Circumstances({}, "steady"),
            {SymptomCondition.LOW_RPM: float(hour[span].mean())},
        )
        for span in spans
    )  # fmt: skip
    exposure = {SymptomCondition.LOW_RPM: (float(hour.sum()), 3600.0)}
    own = FlightSymptom(State.SEEN, "", None, {}, seen_at, exposure, 1.0, (), ())
    return ExaminedFlight(
        NO_FLIGHT, None, 1.0, 14, "none", (13.4, 14.5), False, {}, 1300.0, (), {"charging_light": own}
    )


@pytest.mark.parametrize("share", [0.2, 0.6, 0.8])
@pytest.mark.parametrize("occasions", [1, 5])
def test_chance_alone_passes_for_a_condition_no_oftener_than_the_limit_says(share: float, occasions: int) -> None:
    random = np.random.default_rng(5)
    by_chance = 0
    for _ in range(400):
        shares = conditions("charging_light", flights_by_chance(random, share, occasions))
        by_chance += any(one.telling for one in shares)
    # 4 of 400 are expected at the limit of 0.01; 12 or more have a chance of one in a thousand (binomial)
    assert by_chance < 12


def test_a_mean_share_is_held_against_hoeffdings_bound() -> None:
    # n = 10, p = 0.5, mean 0.9: D = 0.9 ln(0.9 / 0.5) + 0.1 ln(0.1 / 0.5) = 0.36806, exp(-3.6806) = 0.0252
    assert more_than_chance(0.9, 10, 0.5) == (False, False)
    # n = 13: exp(-4.7848) = 0.00836, below 0.01
    assert more_than_chance(0.9, 13, 0.5) == (False, True)
    # all of it in the condition is p^n, as by the exact test: 0.5^6 = 0.0156, 0.5^7 = 0.0078
    assert more_than_chance(1.0, 6, 0.5) == (True, False)
    assert more_than_chance(1.0, 7, 0.5) == (False, True)
    assert more_than_chance(0.3, 50, 0.5) == (False, False)


def test_a_not_seen_verdict_says_that_it_is_not_never_there() -> None:
    result = result_of("volts high", [healthy(seed) for seed in (3, 4)])
    (symptom,) = told(result)["symptoms"]
    assert symptom["verdict"] == "not seen though it could have been"
    assert "Not recorded does not mean it did not happen" in symptom["because"]
    assert "highest bus voltage 14." in symptom["because"]
    assert "Not recorded does not mean it did not happen" in " ".join(squawk_text(result).split())


def _sagging_to(volts: float, flight: ExaminedFlight) -> ExaminedFlight:
    """The same flight, the lowest reading of its start another."""
    own = flight.symptoms["slow_crank"]
    numbers = {**own.numbers, "cranking_voltage": Quantity(volts, "V")}
    return replace(flight, symptoms={"slow_crank": replace(own, numbers=numbers)})


def test_starts_that_sag_below_the_limit_are_told_though_none_is_slow_by_itself() -> None:
    """A worn battery's starts, read once a second, stay unseen one by one: the trend must not be contradicted."""
    sound = result_of("slow crank", [healthy(seed) for seed in (3, 4)])
    assert sound.symptoms[0].low_starts is None
    assert "But in" not in told(sound)["symptoms"][0]["because"]
    reviews = [judged(healthy(seed)) for seed in (3, 4)]
    examined = look_through([(ref_of(one, at + 1), one) for at, one in enumerate(reviews)], report_of("slow crank"))
    flights = [_sagging_to(volts, flight) for volts, flight in zip((8.39, 8.41), examined, strict=True)]
    (symptom,) = told(squawk_result(TAIL, report_of("slow crank"), flights))["symptoms"]
    assert symptom["verdict"] == "not seen though it could have been"
    assert "But in 1 of them the bus fell below 8.40 V" in symptom["because"]
    assert "look at the trend of the lowest cranking voltage" in symptom["because"]


def test_who_names_no_day_is_told_that_earlier_flights_are_not_searched() -> None:
    result = replace(result_of("volts high", [healthy(3)]), since=datetime(2026, 1, 1))
    assert "Flights before that day are not searched; --since DATE searches more." in squawk_text(
        result, since_named=False
    )
    assert "before that day" not in squawk_text(result, since_named=True)


def test_conditions_are_told_where_no_flight_records_engine_speed() -> None:
    report, scenario = report_of("ALT light on"), healthy(3)
    soon = (pl.col("time_s") - scenario.times.engine_start_s).is_between(60.0, 180.0)
    bare = with_table(
        simulate(scenario),
        bus_voltage=pl.when(soon).then(12.3).otherwise(pl.col("bus_voltage")),
        battery_current=pl.when(soon).then(-9.0).otherwise(pl.col("battery_current")),
        engine_speed=pl.lit(None, dtype=pl.Float64),
    )
    result = looked_up(report, [(SquawkFlight(1, "1.csv", 1, None), judged(bare))])
    (symptom,) = told(result)["symptoms"]
    assert symptom["verdict"] == "seen in the recordings"
    assert "Engine speed is not recorded" in symptom["because"]
    (soon_after,) = symptom["conditions"]
    assert (soon_after["condition"], soon_after["seen"], soon_after["of"]) == ("soon after start", 1, 1)
    assert "soon after start" in squawk_text(result)


def test_what_no_flight_could_show_says_why_and_what_it_needs() -> None:
    (symptom,) = document_of("slow crank", [engine_already_running(seed) for seed in (3, 4)])["symptoms"]
    assert symptom["verdict"] == "could not have been seen"
    assert "already running" in symptom["because"]
    assert "It needs a log that begins before the start" in symptom["because"]


def test_radio_noise_could_not_have_been_seen_and_a_slow_pulsing_could() -> None:
    flights = [healthy(3), healthy(4)]
    (noise,) = document_of("whine in the headset", flights)["symptoms"]
    assert noise["verdict"] == "could not have been seen"
    assert "far faster than any log" in noise["because"]
    (pulsing,) = document_of("ammeter needle pulsing", flights)["symptoms"]
    assert pulsing["verdict"] == "not seen though it could have been"
    (hunting,) = document_of("whine in the headset", [regulator_hunting(3)])["symptoms"]
    assert hunting["verdict"] == "seen in the recordings"


def test_a_start_is_held_against_the_tails_other_starts_at_its_temperature() -> None:
    def cranked(seed: int, turning_ohm: float) -> Scenario:
        scenario = healthy(seed)
        starting = Starting(attempts_s=(2.4,), turning_ohm=turning_ohm)
        return replace(scenario, plan=replace(scenario.plan, starting=starting, outside_c=15.0))

    usual = [cranked(seed, 0.058) for seed in range(11, 19)]
    (symptom,) = document_of("slow crank", [*usual, cranked(11, 0.026)])["symptoms"]
    assert symptom["counts"]["seen"] == 1
    assert "below this tail's other 8 starts" in symptom["for"][0]["says"]
    (symptom,) = document_of("slow crank", usual)["symptoms"]
    assert symptom["counts"]["seen"] == 0


def test_a_cold_start_is_not_held_against_warm_ones() -> None:
    warm = [healthy(seed) for seed in range(11, 19)]
    (symptom,) = document_of("slow crank", [*warm, cold_morning(11)])["symptoms"]
    assert symptom["counts"]["seen"] == 0


def test_starts_that_are_slow_only_in_the_cold_are_said_to_be() -> None:
    cold = [worn_battery(seed) for seed in range(3, 8)]  # at 2 degC
    warm = [healthy(seed) for seed in range(11, 19)]
    mixed = [one for pair in zip(cold, warm, strict=False) for one in pair] + warm[5:]
    (symptom,) = document_of("slow crank", mixed)["symptoms"]
    assert symptom["counts"]["seen"] == 5
    (air,) = [one for one in symptom["conditions"] if one["condition"] == "cold air"]
    assert (air["seen"], air["of"], air["telling"]) == (5, 5, True)
    assert air["exposure"] == pytest.approx(5 / 13, abs=0.001)
    (symptom,) = document_of("slow crank", mixed[8:])["symptoms"]
    (air,) = [one for one in symptom["conditions"] if one["condition"] == "cold air"]
    assert air["telling"] is False


def test_a_fault_of_some_cold_weeks_is_not_said_to_come_with_the_cold() -> None:
    cold = [worn_battery(seed) for seed in range(3, 8)]
    (symptom,) = document_of("slow crank", [*cold, *(healthy(seed) for seed in range(11, 19))])["symptoms"]
    (air,) = [one for one in symptom["conditions"] if one["condition"] == "cold air"]
    assert (air["seen"], air["of"], air["too_few"]) == (5, 5, True)  # in a row, they count once


def test_a_dead_battery_says_how_long_the_aircraft_had_stood() -> None:
    (symptom,) = document_of("battery dead", [healthy(3), left_low(4)])["symptoms"]
    (occasion,) = symptom["for"]
    assert occasion["numbers"]["days_since_last_flight"]["value"] == pytest.approx(0.95, abs=0.05)


def test_causes_of_many_flights_say_in_how_many_each_sign_was_seen() -> None:
    (symptom,) = document_of("slow crank", [worn_battery(3), worn_battery(4)])["symptoms"]
    assert symptom["only"] is None  # every crank is slow
    assert any("in 2 of 2 flights" in why for cause in symptom["likely"] for why in cause["why"])
    assert symptom["check"]


def test_other_findings_of_the_flights_with_it_are_listed_and_its_own_are_not() -> None:
    document = document_of("slow crank", [left_low(3), worn_battery(4)])
    own = ("weak_cranking", "low_resting_voltage")
    assert [(one["finding"], one["flight"]["source"]) for one in document["also_found"] if one["finding"] in own] == [
        ("low_resting_voltage", "0.csv")  # a flight whose crank was not slow
    ]


def test_what_was_found_is_listed_where_the_report_itself_was_not_seen() -> None:
    document = document_of("volts jumping", [worn_battery(4), alternator_lost(5)])
    found = [(one["flight"]["source"], one["finding"], one["with_it"]) for one in document["also_found"]]
    assert ("0.csv", "weak_cranking", False) in found
    assert ("1.csv", "alternator_offline", False) in found
    assert [one[0] for one in found] == sorted((one[0] for one in found), reverse=True)  # the latest first


def test_expected_values_are_those_of_the_aircrafts_system() -> None:
    for volts in (14, 28):
        (symptom,) = document_of("volts high", [healthy(3, volts)])["symptoms"]
        assert all(f"({volts} V system)" in one["expected"] for one in symptom["measure_first"])


def test_an_aircrafts_own_band_is_what_is_expected_of_it() -> None:
    report = report_of("volts high")
    for aircraft, band in (
        (Aircraft(regulated_voltage=(13.6, 13.9)), "13.6 to 13.9 V"),
        (Aircraft(), "13.4 to 14.5 V"),
    ):
        (review,) = review_log(as_log(simulate(healthy(3))), aircraft).flights
        (symptom,) = told(looked_up(report, [(ref_of(review, 1), review)]))["symptoms"]
        assert band in symptom["measure_first"][0]["expected"]
        assert ("from its settings" in symptom["measure_first"][0]["source"]) == (aircraft != Aircraft())


def test_the_system_of_most_flights_counts() -> None:
    flights = [healthy(3, 28), healthy(4, 28), healthy(5, 14)]
    (symptom,) = document_of("volts high", flights)["symptoms"]
    assert "(28 V system)" in symptom["measure_first"][0]["expected"]
    assert "26.8 to 29.0 V" in symptom["measure_first"][0]["expected"]


@pytest.mark.parametrize(
    ("words", "name", "pick"), [("ALT light", "lowest_voltage", min), ("volts high", "highest_voltage", max)]
)
def test_the_number_that_sums_a_symptom_up_is_the_worst_of_its_flights(words: str, name: str, pick: Any) -> None:
    flown = {
        "ALT light": [alternator_lost(3), touch_and_goes(4)],
        "volts high": [regulator_high(3), trip_with_reset(3)],
    }
    (symptom,) = document_of(words, flown[words])["symptoms"]
    values = [one["numbers"][name]["value"] for one in symptom["for"]]
    assert min(values) < max(values)
    assert f"bus voltage {pick(values):.2f} V" in symptom["because"]


def test_the_same_flight_from_two_files_counts_once() -> None:
    report = report_of("slow crank")
    review = judged(worn_battery(3))
    result = looked_up(report, [(ref_of(review, 1, name), review) for name in ("a.csv", "b.csv")])
    assert result.flights == 1


def test_the_text_shows_verdict_numbers_measurements_and_cautions(
    circuits: SquawkResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    text = " ".join(squawk_text(circuits, CAUTIONS).split())
    assert "Charging light on or flickering: SEEN AT LOW RPM ONLY, AS USUAL FOR THIS AIRCRAFT AT THAT RPM" in text
    assert "AT THAT RPM, outside low rpm: never" in text
    assert "reported: “in the pattern”, by " in text
    assert "Seen in 6 of 9 flights" in text
    assert "more often than by chance" in text
    assert "measure: Bus voltage at the battery's terminals" in text
    assert "maintenance manual has the last word" in text
    assert all(" ".join(caution.split()) in text for caution in CAUTIONS)
    assert len(squawk_text(circuits, CAUTIONS).splitlines()) <= 50


def test_no_flight_at_all_gives_a_document_that_says_so() -> None:
    result = squawk_result(TAIL, report_of("slow crank"), [])
    document = told(result)
    assert document["symptoms"][0]["verdict"] == "could not have been seen"
    assert "no flight" in document["symptoms"][0]["because"]
    assert squawk_text(result)


def copied(*minutes: tuple[float, float]) -> SquawkResult:
    """The document of one flight that came in several files, each from and to so many minutes after nine."""
    report = report_of("slow crank")
    review = judged(replace(healthy(7), tail=TAIL))
    (whole,) = look_through([(SquawkFlight(0, "0.csv", 1, None), review)], report)
    nine = datetime(2026, 4, 1, 9, 0)
    flights = []
    for number, (begin, end) in enumerate(minutes, 1):
        start, stop = (nine + timedelta(minutes=at) for at in (begin, end))
        ref = replace(whole.ref, id=number, start=start)
        flights.append(replace(whole, ref=ref, end=stop, hours=(end - begin) / 60))
    return squawk_result(TAIL, report, flights)


def test_a_cut_copy_that_began_first_is_left_out_and_named() -> None:
    result = copied((-1, 5), (0, 71))
    document = told(result)
    assert (document["flights"], document["hours"]) == (1, 1.18)
    assert [(copy["id"], copy["start"]) for copy in document["copies_left_out"]] == [(1, "2026-04-01T08:59:00")]
    assert "1 flight came in two files; the longer copy counts" in squawk_text(result)


def test_of_a_flight_in_two_layouts_the_first_added_counts() -> None:
    assert [copy.id for copy in copied((0, 71), (0, 71)).copies] == [2]


def test_flights_that_only_touch_are_two_and_no_copy_is_spoken_of() -> None:
    result = copied((0, 71), (71, 90))
    assert (result.flights, result.copies) == (2, ())
    assert "two files" not in squawk_text(result)


def test_several_copies_are_counted_as_copies() -> None:
    result = copied((0, 71), (0, 71), (1, 6))
    assert "2 copies of flights that came in other files too are left out" in squawk_text(result)
