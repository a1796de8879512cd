"""What a report takes back of its own words, and what it only seems to."""

from __future__ import annotations

import pytest

from analyzer.squawk.understanding import understand


def symptoms(words: str) -> list[str]:
    return [match.symptom for match in understand(words).matches]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alt light glows before start, goes out at 800 rpm, per the book", []),
        ("alt light glows in cruise, goes out at idle", ["charging_light"]),
        ("low voltage light on at idle, as designed", []),
        ("low voltage light on at idle, fuel gauge reads as it should", ["charging_light"]),
        ("low voltage light on at idle, not as designed", ["charging_light"]),
        ("alternator light on in cruise, belt found loose, voltmeter reads as it should", ["charging_light"]),
        ("alternator light came on when I shut the engine down, expected", []),
    ],
)
def test_what_is_as_it_should_be_is_no_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("switched alternator off on purpose to see the light work, light came on", []),
        ("switched alternator off, light came on", ["charging_light"]),
        ("simulated failure, ammeter showed discharge", []),
        ("ammeter showed discharge on the training flight", ["ammeter_discharge"]),
        ("popped the alt breaker for the emergency drill", []),
        ("alt breaker popped in the emergency descent", ["breaker_opened"]),
        ("simulated failure, slow crank afterwards", ["slow_crank"]),
    ],
)
def test_what_was_brought_about_on_purpose_is_no_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("pressed the annunciator test, ALT light lit", []),
        ("annunciator test ok, ALT light lit in cruise", ["charging_light"]),
        ("annunciator test ok, ALT light flickers", ["charging_light"]),
        ("overvoltage relay tested on bench", []),
        ("overvoltage relay tripped", ["voltage_high"]),
        ("overvoltage on test flight", ["voltage_high"]),
    ],
)
def test_a_light_that_is_tested_is_no_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("charge light on with master on, out as soon as it ran", []),
        ("charge light on with master on, not out in cruise", ["charging_light"]),
        ("charge light on in cruise, out as soon as it was reset", ["charging_light"]),
        ("charge light came on before start and went out at 900 rpm", []),
        ("charge light came on before start and did not go out", ["charging_light"]),
        ("charge light on with master on, breaker out", ["charging_light", "breaker_opened"]),
        ("gen light on until the engine fires", []),
        ("gen light on until the first turn", ["charging_light"]),
        ("breaker popped with master on, out again in cruise", ["breaker_opened"]),
    ],
)
def test_a_light_before_the_engine_runs_is_no_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("big charge right after start, tapered off", []),
        ("big charge right after start, never tapered off", ["ammeter_high"]),
        ("amps tapered to zero", []),
        ("amps fell to zero", ["ammeter_discharge"]),
        ("volts high, amps tapered off", ["voltage_high"]),
    ],
)
def test_a_charge_that_tapers_is_no_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("gpu plugged in for database update", []),
        ("gpu needed for start", ["dead_battery"]),
        ("ground power used for the training class", []),
        ("ground power used at the fuel stop", ["dead_battery"]),
    ],
)
def test_external_power_for_something_else_than_a_start_is_no_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator light never came on and the ammeter was fine", []),
        ("alternator light never went out and the ammeter was fine", ["charging_light"]),
        ("reset breaker not popped", []),
        ("breaker would not reset", ["breaker_opened"]),
        ("wasn't slow to crank", []),
        ("wouldn't crank", ["dead_battery"]),
        ("did the alt light flicker? No, not once.", []),
        ("did the alt light flicker? Yes, once.", ["charging_light"]),
        ("ammeter did not come up after start", ["ammeter_discharge"]),
        ("checked battery after flight, very hot", ["battery_heat"]),
        ("battery checked, very hot", []),
        ("cranks fine cold, slow when hot", ["slow_crank"]),
        ("cranks fine cold, slow traffic", []),
    ],
)
def test_how_far_a_not_and_a_fine_reach(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


def test_what_an_overvoltage_takes_off_the_bus_is_no_second_complaint() -> None:
    assert symptoms("volts way up at 16.2 then alternator kicked off") == ["voltage_high"]
    assert symptoms("volts at 14.2 then alternator kicked off") == ["charging_light"]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("low volts on the ground, 15.2 in cruise", ["charging_light", "voltage_high"]),
        ("low volts on the ground, 14.2 in cruise", ["charging_light"]),
        ("low volts on the ground, 15.2 hours flown", ["charging_light"]),
        ("charged battery overnight because it was flat", ["dead_battery"]),
        ("charged battery overnight because a tire was flat", []),
    ],
)
def test_a_number_or_an_it_goes_on_about_what_was_named(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator not charging as it should", "ammeter_discharge"),
        ("battery does not hold a charge as it should", "dead_battery"),
        ("voltage 15.2, should be 14.2 per the book", "voltage_high"),
        ("volts 15.6 in cruise, max 14.5 per the manual", "voltage_high"),
        ("ammeter shows discharge when it should show charge", "ammeter_discharge"),
        ("ammeter lower than normal for this airplane", "ammeter_discharge"),
        ("low volts light came on as it should not", "charging_light"),
        ("practiced stalls, then the low volts light came on", "charging_light"),
        ("discussed with owner: alternator light on at idle", "charging_light"),
        ("instructor turned on landing light and ammeter showed discharge", "ammeter_discharge"),
        ("please check alternator light, comes on in flight", "charging_light"),
        ("needed a jump for the lesson", "dead_battery"),
        ("jumped it for the training flight", "dead_battery"),
        ("ALT light before start, out; came on again in climb", "charging_light"),
        ("ammeter stayed at 40 for two hours, then tapered", "ammeter_high"),
        ("alternator failed in the practice area", "charging_light"),
    ],
)
def test_words_like_these_leave_a_complaint_as_it_is(words: str, wanted: str) -> None:
    assert symptoms(words) == [wanted]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator light stayed on until engine shutdown", ["charging_light"]),
        ("alternator light stayed on until the engine was shut down", ["charging_light"]),
        ("low volts light on until we started the descent", ["charging_light"]),
        ("low volts light on until the engine is running", []),
        ("alt light on at shutdown only", []),
        ("alt light on at shutdown and in cruise", ["charging_light"]),
        ("alt light on in cruise and at shutdown", ["charging_light"]),
        ("alt light on after shutdown of the second alternator", ["charging_light"]),
        ("alt light came on and stayed on until after shutdown", ["charging_light"]),
        ("charge light on with master on, went out after start, flickered in cruise", ["charging_light"]),
        ("charge light on with master on, out, then on for good", ["charging_light"]),
        ("charge light on before start and went out and came back on in cruise", ["charging_light"]),
        ("low volts with master on, lights went out", ["charging_light"]),
    ],
)
def test_a_light_that_is_lit_again_or_for_longer_is_a_complaint(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("instructor turned off the alternator, discharge seen", []),
        ("instructor turned off the alternator after the ammeter showed discharge", ["ammeter_discharge"]),
        ("ammeter showed discharge so the instructor turned off the alternator", ["ammeter_discharge"]),
        ("volts hit 16 so the examiner turned off the alternator", ["voltage_high"]),
        ("instructor pulled the alternator breaker, volts were at 16", ["voltage_high"]),
        ("practiced emergency descent, ALT light came on", ["charging_light"]),
        ("practiced an electrical emergency, ALT light came on", []),
        ("looked down to see the alternator light on", ["charging_light"]),
        ("switched the alternator off to check the light, alternator light on", []),
        ("ALT light came on in the lesson", ["charging_light"]),
        ("ALT light came on in the drill", []),
        ("alternator light on for the demo", []),
        ("alternator light on for the demo flight", ["charging_light"]),
        ("flew with the examiner, ALT light came on", ["charging_light"]),
        ("discussed alternator light with the shop, comes on in cruise", ["charging_light"]),
    ],
)
def test_what_was_done_about_a_fault_did_not_bring_it_about(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("annunciator test, ALT light steady", []),
        ("annunciator test ok. ALT light steady", ["charging_light"]),
        ("pressed the annunciator test, alternator quit", ["charging_light"]),
        ("checked alternator light works", []),
        ("checked alternator light, it comes on in cruise", ["charging_light"]),
    ],
)
def test_a_test_that_is_over_explains_no_light(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator stopped charging as it should", "ammeter_discharge"),
        ("alternator not working as advertised", "charging_light"),
        ("ammeter doesn't move toward charge as it should", "ammeter_discharge"),
        ("battery barely cranks like it should", "slow_crank"),
        ("battery failed the load test per the manual", "dead_battery"),
        ("alternator light on. Is that as designed?", "charging_light"),
    ],
)
def test_what_fails_to_do_as_it_should_is_a_complaint(words: str, wanted: str) -> None:
    assert symptoms(words) == [wanted]


def test_external_power_that_the_starter_needed_is_a_complaint_whatever_it_was_also_for() -> None:
    assert symptoms("ground power needed to run the starter") == ["dead_battery"]
    assert symptoms("ground power needed to run the radio") == []
