"""The flight's electrical story: its sentences say what was put into the simulated flight."""

from __future__ import annotations

from datetime import datetime

import pytest

from analyzer.phrases import duration
from analyzer.reports.story import Sentence, story
from analyzer.review import FlightReview, review_log
from analyzer.simulator import scenarios
from analyzer.simulator.as_log import as_log
from analyzer.simulator.simulate import simulate


def told(name: str, seed: int = 3, kind: str = "battery") -> tuple[FlightReview, list[Sentence]]:
    maker = {**scenarios.HEALTHY, **scenarios.FAULTY}[name]
    (review,) = review_log(as_log(simulate(maker(seed, 14, kind)))).flights
    return review, story(review)


def with_words(sentences: list[Sentence], words: str) -> Sentence:
    found = [sentence for sentence in sentences if words in sentence.says]
    assert len(found) == 1, [sentence.says for sentence in sentences]
    return found[0]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.2, "1 s"),
        (2.4, "2 s"),
        (49, "49 s"),
        (120, "2 min"),
        (144, "2.4 min"),
        (601, "10 min"),
        (5340, "89 min"),
        (4320 * 2, "2 h 24 min"),
    ],
)
def test_lengths_of_time_are_said_as_a_person_says_them(seconds: float, words: str) -> None:
    assert duration(seconds) == words


def test_a_sound_flight_is_told_from_rest_to_shutdown_in_order() -> None:
    _, sentences = told("healthy")
    order = [
        with_words(sentences, words).from_s
        for words in ("Power on", "Engine started", "on line", "the regulator held", "Engine stopped")
    ]
    assert order == sorted(order)
    assert [sentence.from_s for sentence in sentences] == sorted(sentence.from_s for sentence in sentences)


def test_the_crank_tells_the_lowest_voltage_measured() -> None:
    review, sentences = told("healthy")
    lowest = review.measures["cranking_voltage"].value
    assert lowest is not None
    assert f"down to {lowest:.1f} V" in with_words(sentences, "Engine started").says


def test_a_sound_recharge_is_called_as_it_should_be_and_a_slow_one_is_not() -> None:
    _, sound = told("healthy")
    assert ": normal" in with_words(sound, "Charging current ").says
    review, slow = told("slow_recharge")
    assert "slow_recharge" in {finding.name for finding in review.findings}
    (slowly,) = [one.says for one in slow if one.says.startswith("Charging current ")]
    assert "normal" not in slowly


def test_each_finding_is_told_once_with_its_severity_and_window() -> None:
    review, sentences = told("trip_with_reset")
    (finding,) = review.findings
    (sentence,) = [one for one in sentences if one.finding == finding.name]
    assert (sentence.severity, sentence.from_s, sentence.to_s) == (finding.severity, finding.from_s, finding.to_s)
    assert finding.says in sentence.says


def test_a_loss_that_ends_says_that_the_alternator_came_back_and_one_that_does_not_says_that() -> None:
    assert "the alternator came back" in with_words(told("trip_with_reset")[1], "Without the alternator").says
    assert "did not come back" in with_words(told("alternator_lost")[1], "Without the alternator").says


def test_many_sags_at_idle_are_told_in_one_sentence_and_called_no_fault() -> None:
    sentence = with_words(told("touch_and_goes")[1], "times at low rpm")
    assert "not a fault on its own" in sentence.why


def test_a_log_that_begins_with_the_engine_running_says_what_cannot_be_told() -> None:
    _, sentences = told("engine_already_running")
    assert "already running" in sentences[0].says
    assert not [sentence for sentence in sentences if "Engine started" in sentence.says]


def test_an_alternator_that_never_takes_the_bus_is_said_so() -> None:
    _, sentences = told("alternator_never_on")
    with_words(sentences, "The alternator never came on line: ")
    assert not [sentence for sentence in sentences if sentence.says.startswith("Without the alternator")]
    assert not [sentence for sentence in sentences if sentence.says.startswith("Alternator on line")]


@pytest.mark.long(keep=25)
@pytest.mark.parametrize("name", sorted(scenarios.HEALTHY) + sorted(scenarios.FAULTY))
@pytest.mark.parametrize("kind", ["battery", "alternator", "none"])
def test_every_flight_has_a_story_whose_moments_lie_in_it(name: str, kind: str) -> None:
    review, sentences = told(name, kind=kind)
    assert sentences
    for sentence in sentences:
        assert review.flight.from_s <= sentence.from_s <= sentence.to_s <= review.flight.to_s
        assert sentence.says.endswith(".")
        assert "nan" not in sentence.says
        assert "None" not in sentence.says
    assert isinstance(review.flight.clock_start, datetime)


def test_the_time_for_which_the_bus_was_held_is_that_of_its_rows() -> None:
    review, sentences = told("output_fading", kind="alternator")
    rows = review.flight.regulated
    held = duration(float(review.flight.trace.seconds[rows].sum()))
    assert f"For {held} the regulator held" in with_words(sentences, "the regulator held").says


def test_a_charging_current_that_never_settles_is_not_said_to_have_settled() -> None:
    review, sentences = told("never_settles")
    assert "recharge_never_settles" in {finding.name for finding in review.findings}
    assert not any("settled at" in sentence.says or "Recharge done" in sentence.says for sentence in sentences)


def test_after_a_loss_the_battery_is_not_called_freshly_charged() -> None:
    _, sound = told("healthy")
    assert "Freshly charged" in with_words(sound, "Engine stopped").why
    _, lost = told("alternator_lost")
    assert "After a discharge" in with_words(lost, "Engine stopped").why
