"""Shortened and misspelled words, readings against what was usual, and what takes a report back."""

from __future__ import annotations

import pytest

from analyzer.squawk.known import load_symptoms
from analyzer.squawk.report import report_of
from analyzer.squawk.tokens import parts_of, shorthand
from analyzer.squawk.understanding import understand
from analyzer.squawk.vocabulary import _letters_apart, load_vocabulary


def symptoms(words: str) -> list[str]:
    return [match.symptom for match in understand(words).matches]


@pytest.mark.parametrize(
    ("short", "usual"),
    [
        ("ammtr disch", "ammeter discharge"),
        ("alt bkr popped", "alternator breaker popped"),
        ("alt c.b. popped", "alternator circuit breaker popped"),
        ("alt ann illum", "alternator annunciator illuminated"),
        ("amp guage inop", "ammeter gauge inoperative"),
        ("O/V lt on", "overvoltage light on"),
        ("voltmeter u/s", "voltmeter unserviceable"),
        ("neg 12 amps on ammtr", "negative 12 amps on ammeter"),
        ("no chg", "no charge"),
    ],
)
def test_short_words_mean_what_the_long_ones_mean(short: str, usual: str) -> None:
    assert symptoms(short) == symptoms(usual) != []


def test_the_report_is_given_back_as_it_was_written() -> None:
    (match,) = understand("Alt C.B. popped").matches
    assert "alt c.b popped" in match.matched
    assert [[token.word for token in part] for part in parts_of("c.b. out. amps 4.5")] == [
        ["breaker", "out"], ["amps", "4.5"],
    ]  # fmt: skip


def test_no_usual_word_is_a_short_one_of_another() -> None:
    usual, _ = shorthand()
    assert not [(short, word) for short, word in usual.items() if word in usual]


#: Distances from the definition: one letter put in, left out, changed, or swapped with its neighbour.
@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ("battery", "batery", 1),
        ("breaker", "braeker", 1),
        ("voltage", "voltage", 0),
        ("crackl", "cracke", 1),
        ("flicker", "flikered", 3),
    ],
)
def test_letters_apart(one: str, other: str, apart: int) -> None:
    assert _letters_apart(one, other) == _letters_apart(other, one) == apart


@pytest.mark.parametrize(
    "words",
    [
        "baffle cracked, radio bracket",
        "static port cover, headset",
        "fuselage skin popped",
        "signal light",
        "counter stuck",
    ],
)
def test_plain_words_of_the_trade_are_no_misspellings(words: str) -> None:
    assert symptoms(words) == []


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("normally 14.1, now 15.2", ["voltage_high"]),
        ("14.0 volts, usually 14.1", []),
        ("volts 13.4 in cruise, should be 14", ["charging_light"]),
        ("bus 27.2, normally 28.0", []),  # half the distance of a 14 V aircraft
        ("normally 4 amps, now 19 in cruise", ["ammeter_high"]),
        ("alt load 24 amps, usually 20", []),
        ("usually 20 amps, today 0 amps", ["ammeter_discharge"]),
        ("ammeter +25 the entire flight", ["ammeter_high"]),
        ("ammeter +4 the entire flight", []),
        ("ammeter -25 the entire flight", ["ammeter_discharge"]),
        ("only 9 volts while cranking", ["slow_crank"]),
        ("10.5 volts while cranking", []),
        ("only 18.1 volts while cranking", ["slow_crank"]),
    ],
)  # fmt: skip
def test_readings_are_held_against_sign_size_duration_and_the_usual_one(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator light out, all normal now", []),
        ("ammeter discharge gone", []),
        ("slow crank last week, normal now", []),
        ("low volts light tested ok", []),
        ("volt light no longer comes on", []),
        ("alt light came on and went away", ["charging_light"]),
        ("alt light on, light out after landing", ["charging_light"]),
        ("starter no longer cranks", ["dead_battery"]),
    ],
)
def test_what_is_gone_or_seen_to_is_no_report(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


def test_conditions_of_a_phrase_are_shown_to_a_person() -> None:
    assert any("(not with" in phrase for phrase in load_vocabulary().phrases_of("charging_light"))


@pytest.mark.parametrize("name", load_symptoms())
def test_the_ways_that_pages_show_are_understood_as_their_symptom_and_no_other(name: str) -> None:
    said = load_symptoms()[name].said
    assert len(said) >= 3
    assert {words: report_of(words).symptoms for words in said} == dict.fromkeys(said, (name,))
