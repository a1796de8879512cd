"""What odd voices say: bare numbers, contrasts, what used to be; beside each what it only resembles."""

from __future__ import annotations

import pytest

from tests.squawk.told import symptoms


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("+25 the entire flight", ["ammeter_high"]),
        ("-15 all the way home", ["ammeter_discharge"]),
        ("OAT -10 all the way home", []),
        ("neg 8 A in the cruise", ["ammeter_discharge"]),
        ("14.2 usual, 15.4 today", ["voltage_high"]),
        ("15.4 usual, 14.2 today", ["charging_light"]),
        ("it goes to 15.8 and stays there", ["voltage_high"]),
        ("it goes to 14.2 and stays there", []),
        ("fifteen eight on the volts", ["voltage_high"]),
        ("fourteen two on the volts", []),
        ("volts went 14.1, 0.0, 14.1, 22, 14.1", ["gauge_jumps"]),
        ("volts went 13.8, 14.0, 14.1, 13.9", []),
        ("voltmeter says 47", ["gauge_jumps"]),
        ("volts 15.6 on the voltmeter", ["voltage_high"]),
        ("Voltmeter reads 1 V lower than my multimeter", ["gauge_jumps"]),
        ("volts agree with my multimeter", []),
    ],
)
def test_numbers_carry_their_sign_and_size(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("low volts light at idle as expected. In cruise it stays on", ["charging_light"]),
        ("low volts light at idle as expected. In cruise it stays out", []),
        ("breaker reset and held twice, popped a third time", ["breaker_opened"]),
        ("breaker reset and held twice, no further trips", []),
        ("overvoltage relay tested and trips every flight", ["voltage_high"]),
        ("overvoltage relay tested and ok", []),
        ("battery not old but dead", ["dead_battery"]),
        ("battery not leaking but swollen", ["battery_heat"]),
        ("starter overhauled, no better, still slow", ["slow_crank"]),
        ("light should go out when running, doesn't", ["charging_light"]),
        ("light should go out when running, does", []),
        ("no breaker popped yet the alternator is off line", ["charging_light"]),
    ],
)
def test_what_goes_on_or_contrasts_is_of_the_thing_named_before(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Used to get ammeter jumps, tightened shunt nut, none in 10 hr", []),
        ("Used to get ammeter jumps, tightened shunt nut, still jumps", ["gauge_jumps"]),
        ("Starter used to groan, new cables, spins like a top", []),
        ("ammeter used to jump, new shunt no help", ["gauge_jumps"]),
        ("Used to trip the alt breaker once a week, now daily, new breaker on order", ["breaker_opened"]),
        ("Battery was hot last year, fixed", []),
        ("Battery was hot last year, fixed the seat", ["battery_heat"]),
    ],
)
def test_only_a_cure_takes_back_what_used_to_be(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("the panel went completely dark in cruise", ["charging_light"]),
        ("alt. bearing seized", ["charging_light"]),
        ("new alt. tested ok, volts 14.1", []),
        ("circuit breaker #4 (alternator) out again", ["breaker_opened"]),
        ("amps 20ish and never settle", ["ammeter_high"]),
        ("something was steaming; the battery was the culprit", ["battery_heat"]),
        ("something was steaming; the heater was the culprit", []),
        ("alternator belt shredded", ["charging_light"]),
        ("seat belt shredded", []),
        ("air conditioning belt slipping", []),
    ],
)
def test_words_between_points_and_brackets_and_belts_are_understood(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted
