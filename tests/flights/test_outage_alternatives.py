"""What else an outage may be: the chances hold, the graver explanation stays, and a person reads the nearest other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.contract import log_entry, plain
from analyzer.flights.alternatives import (
    EXPLANATIONS,
    alternatives,
    chances,
    load_evidence,
    settled,
    still_read_low,
    telling,
)
from analyzer.flights.alternator_online import (
    GROUND_CHECK,
    LOW_RPM,
    OFFLINE,
    OUTPUT_LIMITED,
    VOLTMETER_ONLY,
    Alternative,
    AlternatorOutage,
    Clue,
    OutageKind,
)
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import limit_value
from analyzer.phrases import chance
from analyzer.results import log_result
from analyzer.review import review_log
from tests.benchmarks.drawn_flights import drawn
from tests.benchmarks.outage_alternatives import Example, examples
from tests.flown import the

#: Flights drawn for this alone: they were neither learned from nor judged by before.
FRESH = (*range(52000002, 52000040, 5), *range(52000003, 52000040, 5), *range(52000004, 52000040, 5))


def _outage(kind: OutageKind, first: int = 0, end: int = 300, **shares: float) -> AlternatorOutage:
    told = tuple(Alternative(OutageKind(name), share) for name, share in shares.items())
    return AlternatorOutage(first, end, kind, alternatives=tuple(sorted(told, key=lambda one: -one.chance)))


def test_every_class_of_every_observation_scores_every_explanation():
    for name, entry in load_evidence().items():
        assert list(entry.edges) == sorted(entry.edges), name
        assert len(entry.scores) == len(entry.edges) + 1, name
        assert {len(row) for row in entry.scores} == {len(EXPLANATIONS)}, name


def test_scores_become_chances_that_add_up_and_the_likeliest_comes_first():
    told = alternatives([Clue("a", 0.0, (2.0, 0.0, 0.0, 0.0), ""), Clue("b", 0.0, (0.0, 0.0, 0.0, 1.0), "")])
    assert [one.explanation for one in told[:2]] == [OFFLINE, VOLTMETER_ONLY]
    assert sum(one.chance for one in told) == pytest.approx(1.0)
    assert told[0].chance / told[1].chance == pytest.approx(np.e)


@pytest.fixture(scope="module")
def fresh() -> list[Example]:
    return [one for number in FRESH for one in examples(number) if one.kind != LOW_RPM]


def test_what_was_given_a_chance_comes_true_about_as_often_on_flights_that_were_never_learned_from(fresh):
    """Turned about, the scores would give the truth next to no chance."""
    count = {one.number: sum(other.number == one.number for other in fresh) for one in fresh}
    weights = np.array([1.0 / count[one.number] for one in fresh])
    given = {name: np.array([_given(one, name) for one in fresh]) for name in EXPLANATIONS}
    true = {name: np.array([EXPLANATIONS[one.true] == name for one in fresh]) for name in EXPLANATIONS}
    for name in EXPLANATIONS:
        assert np.average(given[name], weights=weights) == pytest.approx(
            np.average(true[name], weights=weights), abs=0.12
        ), name
    of_the_truth = np.array([_given(one, EXPLANATIONS[one.true]) for one in fresh])
    assert np.average(of_the_truth, weights=weights) > 0.8
    assert float(np.average(-np.log(of_the_truth), weights=weights)) < 0.45


def _given(example: Example, name: OutageKind) -> float:
    return next(one.chance for one in example.told if one.explanation == name)


@pytest.mark.parametrize(
    ("kind", "shares", "becomes"),
    [
        (OFFLINE, {"output_limited": 0.95, "offline": 0.05}, OFFLINE),
        (OUTPUT_LIMITED, {"offline": 0.7, "output_limited": 0.3}, OFFLINE),
        (OUTPUT_LIMITED, {"offline": 0.6, "output_limited": 0.4}, OUTPUT_LIMITED),  # less than two to one
        (OFFLINE, {"voltmeter_only": 0.95, "offline": 0.05}, OFFLINE),  # a loss stays one
        (OFFLINE, {"low_rpm": 0.95, "offline": 0.05}, OFFLINE),
        (VOLTMETER_ONLY, {"offline": 0.8, "voltmeter_only": 0.2}, OFFLINE),
        (VOLTMETER_ONLY, {"low_rpm": 0.7, "voltmeter_only": 0.3}, LOW_RPM),
        (OUTPUT_LIMITED, {"low_rpm": 0.8, "output_limited": 0.2}, OUTPUT_LIMITED),
        (OUTPUT_LIMITED, {"low_rpm": 0.95, "output_limited": 0.05}, LOW_RPM),
        (GROUND_CHECK, {"output_limited": 0.95, "offline": 0.05}, GROUND_CHECK),  # known by its time
    ],
)
def test_a_far_likelier_explanation_takes_the_place_of_the_first_only_where_no_fault_is_hidden(kind, shares, becomes):
    assert settled([_outage(kind, **shares)])[0].kind == becomes


def test_an_engine_that_is_shown_to_be_fast_does_not_idle():
    fast = (Clue("speed", 1.0, (0.0, 0.0, 0.0, 0.0), ""),)
    idles = _outage(VOLTMETER_ONLY, low_rpm=0.95, voltmeter_only=0.05)
    assert settled([replace(idles, clues=fast)])[0].kind == VOLTMETER_ONLY
    assert settled([idles])[0].kind == LOW_RPM


def test_an_outage_before_which_the_bus_rose_stays():
    outage = replace(_outage(OUTPUT_LIMITED, low_rpm=0.95, output_limited=0.05), rose=True)
    assert settled([outage])[0].kind == OUTPUT_LIMITED


def test_the_chances_of_several_outages_count_by_how_long_each_lasts():
    long, short = (
        _outage(OFFLINE, 0, 300, offline=1.0, output_limited=0.0, low_rpm=0.0, voltmeter_only=0.0),
        _outage(OFFLINE, 400, 500, offline=0.2, output_limited=0.8, low_rpm=0.0, voltmeter_only=0.0),
    )
    told = chances([long, short], np.ones(600))
    assert told[OFFLINE] == pytest.approx((300 * 1.0 + 100 * 0.2) / 400)
    assert told[OUTPUT_LIMITED] == pytest.approx(0.2)
    assert chances([], np.ones(600)) == {}


def _trace() -> Trace:
    time = np.arange(600.0)
    return Trace(time=time, bus_voltage=np.where(time < 300.0, 12.3, 14.0))


def test_a_fault_of_the_reading_goes_with_the_stretch_that_alone_said_so():
    fault = ReadingFault("path", "bus_voltage", 0.0, 290.0, 1, 12.3, "it stands low", by_stretches=True)
    reads_low = _outage(VOLTMETER_ONLY, voltmeter_only=1.0)
    assert still_read_low([fault], _trace(), [reads_low]) == [fault]
    assert still_read_low([fault], _trace(), [replace(reads_low, kind=LOW_RPM)]) == []
    sure = replace(fault, by_stretches=False)
    assert still_read_low([sure], _trace(), []) == [sure]


def test_what_speaks_most_for_the_likeliest_against_the_second_is_told_first():
    clues = (
        Clue("a", 0.0, (0.5, 0.0, 0.0, 0.0), "a little"),
        Clue("b", 0.0, (2.0, 0.0, 0.0, 0.0), "much"),
        Clue("c", 0.0, (0.0, 1.0, 0.0, 0.0), "against it"),
        Clue("d", 0.0, (3.0, 0.0, 0.0, 0.0), ""),
    )
    outage = AlternatorOutage(0, 9, OFFLINE, clues=clues, alternatives=alternatives(clues))
    assert telling(outage) == ("much", "a little")


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.15, "1 in 7"), (0.19, "1 in 5"), (0.25, "1 in 4"), (0.4, "2 in 5"), (0.5, "1 in 2"), (0.667, "2 in 3"),
     (0.75, "3 in 4"), (0.8, "4 in 5"), (0.9, "9 in 10"), (0.98, "more than 9 in 10")],
)  # fmt: skip
def test_a_chance_is_said_in_small_numbers(share, words):
    assert chance(share) == words


def test_a_loss_that_is_rather_the_meters_path_says_so_and_stays_as_grave():
    log = review_log(drawn(41000609).log)
    loss = the(log.flights[0], "alternator_offline")
    assert loss.says.endswith("Rather the voltmeter's connection: 2 in 3.")
    assert loss.severity == "warning"
    (entry,) = plain(log_entry(log_result(log)))["flights"][0]["outages"]
    assert entry["kind"] == "offline"
    assert sum(one["chance"] for one in entry["alternatives"]) == pytest.approx(1.0, abs=0.002)
    likeliest = entry["alternatives"][0]
    assert likeliest["explanation"] == "voltmeter_only"
    assert likeliest["chance"] == pytest.approx(0.68, abs=0.03)
    assert len(entry["because"]) <= limit_value("alternative_clues")


def test_another_explanation_is_told_where_it_is_near_and_nowhere_else():
    near = review_log(drawn(41000773).log).flights[0].findings
    assert any(one.says.endswith("Or an alternator at its limit: 1 in 6.") for one in near)
    sure = review_log(drawn(41000293).log).flights[0].findings
    losses = [one for one in sure if one.name == "alternator_offline"]
    windows = [(938, 1428), (1658, 1914), (2106, 2206), (2299, 2512), (2610, 2626), (2819, 2844), (2980, 3010)]
    assert [(one.from_s, one.to_s) for one in losses] == [pytest.approx(true, abs=3.0) for true in windows]
    assert losses[0].evidence["restored_s"].value == pytest.approx(490.0, abs=5.0)
    assert not any(" Or " in one.says for one in losses)


def test_where_the_alternator_never_holds_the_bus_no_chance_is_given():
    review = review_log(drawn(42000252).log).flights[0]
    assert not any(one.alternatives for one in review.flight.outages)
    assert the(review, "alternator_offline").says.endswith("down to -2.0 V.")
