"""What words that are not known may mean: choices for a person, never an answer."""

from __future__ import annotations

import pytest

from analyzer.squawk.known import SYMPTOMS
from analyzer.squawk.report import ReportError, report_of
from analyzer.squawk.suggesting import MOST, examples, suggest

#: Reports written apart from the examples; of most nothing is understood by the vocabulary.
UNKNOWN = {
    "the generator has gone on holiday": "charging_light",
    "warning bulb for the charging is burning": "charging_light",
    "battery is being eaten up in flight": "ammeter_discharge",
    "current flows the wrong way": "ammeter_discharge",
    "far too much current into the battery": "ammeter_high",
    "the protector for the alternator jumped": "breaker_opened",
    "it turns like in honey when starting": "slow_crank",
    "key turned and silence": "dead_battery",
    "ramp crew boosted us": "dead_battery",
    "headset full of howling": "noise_or_pulsing",
    "panel lamps breathe in and out": "noise_or_pulsing",
    "way too many volts on the bus": "voltage_high",
    "liquid bubbles out of the battery": "battery_heat",
    "the meter for amps shows nonsense": "gauge_jumps",
    "volt needle dancing like mad": "gauge_jumps",
}


def test_the_right_symptom_stands_among_the_choices_nearly_always() -> None:
    found = {words: suggest(words) for words in UNKNOWN}
    assert all(len(choices) <= MOST and set(choices) <= set(SYMPTOMS) for choices in found.values())
    wrong = [words for words, symptom in UNKNOWN.items() if symptom not in found[words]]
    assert len(wrong) <= 2, wrong


@pytest.mark.parametrize("words", ["", "  ", "oily film on the belly", "seat cushion torn at the seam"])
def test_other_systems_are_offered_no_choice(words: str) -> None:
    assert suggest(words) == ()


def test_every_example_names_a_symptom_or_none() -> None:
    assert {symptom for symptom, _ in examples()} == {*SYMPTOMS, "none"}


def test_a_choice_is_never_taken_by_itself() -> None:
    with pytest.raises(ReportError):
        report_of("the generator has gone on holiday")
