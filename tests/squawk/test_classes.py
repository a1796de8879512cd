"""Classes of words and what belongs to whom: numbers in words, named lamps, other systems, how far a "not" reaches."""

from __future__ import annotations

import pytest

from analyzer.squawk.tokens import parts_of
from analyzer.squawk.understanding import understand
from analyzer.squawk.vocabulary import in_rows


def symptoms(words: str) -> list[str]:
    return [match.symptom for match in understand(words).matches]


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("fifteen", "15"),
        ("twenty eight", "28"),
        ("twenty-eight", "28"),
        ("fifteen point four", "15.4"),
        ("twelve and a half", "12.5"),
        ("thirty", "30"),
    ],
)
def test_numbers_in_words_are_numbers(words: str, number: str) -> None:
    (part,) = parts_of(f"volts {words}")
    assert [(token.written, token.word) for token in part] == [("volts", "volts"), (words, number)]


def test_a_one_by_itself_is_no_number() -> None:
    assert [token.word for token in parts_of("one alternator")[0]] == ["one", "alternator"]


def test_ways_of_writing_are_every_row_that_is_meant() -> None:
    assert set(in_rows("on|at the? stop")) == {
        ("on", "the", "stop"),
        ("on", "stop"),
        ("at", "the", "stop"),
        ("at", "stop"),
    }


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("discharge warning light came on", ["charging_light"]),
        ("battery discharge light on", ["charging_light"]),
        ("ammeter shows discharge", ["ammeter_discharge"]),
        ("overvoltage warning light flashed", ["voltage_high"]),
        ("battery hot light on", ["battery_heat"]),
        ("low volts in red", ["charging_light"]),
        ("fuel gauge left reads full", []),
    ],
)  # fmt: skip
def test_a_name_is_one_thing_and_its_words_no_readings(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("torch battery flat", []),
        ("tug battery dead", []),
        ("discharged fire bottle replaced", []),
        ("fire extinguisher gauge in red, discharged, replace", []),
        ("hydraulic accumulator discharged", []),
        ("the accumulator was empty before start", ["dead_battery"]),
        ("breaker for the flap motor tripped", ["breaker_opened"]),
        ("flap motor tripped", []),
        ("chip light on", []),
        ("red light on", ["charging_light"]),
        ("belt tension too high", []),
        ("bus tension too high", ["voltage_high"]),
        ("handheld radio battery low, alt light on", ["charging_light"]),
    ],
)
def test_what_is_said_of_something_else_is_no_report(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("3.1 volts across the battery terminals", ["dead_battery"]),
        ("12.6 volts across the battery terminals", []),
        ("battery temperature 49 C", []),
        ("battery temperature 50 C", ["battery_heat"]),
        ("battery temperature 122 F", ["battery_heat"]),
        ("battery temperature 121 F", []),
        ("loadmeter at 80 percent", ["ammeter_high"]),
        ("loadmeter at 79 percent", []),
        ("bus volts 30 plus", ["voltage_high"]),
        ("ammeter showed 20 out", ["ammeter_discharge"]),
        ("volts 15.5 and lights pulsing", ["voltage_high", "noise_or_pulsing"]),
        ("volts pulsing around 15.5", ["noise_or_pulsing"]),
    ],
)
def test_readings_by_their_unit_and_where_they_were_taken(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator would not reset after light came on", ["charging_light"]),
        ("amps charge won't go under 20", ["ammeter_high"]),
        ("large charge on the ammeter that never went away", ["ammeter_high"]),
        ("large charge on the ammeter that went away", []),
        ("no alternator noise heard", []),
        ("replaced 5A field fuse, blew again", ["breaker_opened"]),
        ("the needle of the ammeter, when the lights are on, trembles", ["gauge_jumps"]),
    ],
)
def test_how_far_a_denial_reaches_and_what_a_comma_carries_over(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted
