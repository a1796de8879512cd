"""Words that many voices use, and beside each what it only resembles."""

from __future__ import annotations

import pytest

from tests.squawk.told import symptoms


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("starter draggin this morning", ["slow_crank"]),
        ("draggin brake on the left", []),
        ("battery's feeding everything", ["ammeter_discharge"]),
        ("battery's strap tight", []),
        ("ded batt agn", ["dead_battery"]),
        ("charging 20A after 2h flight", ["ammeter_high"]),
        ("15 point 8 on the volts in the climb", ["voltage_high"]),
        ("14 point 1 on the volts in the climb", []),
    ],
)
def test_shortened_and_slurred_words_are_known(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("batt 12.6 at rest, 8.1 with the starter in", ["slow_crank"]),
        ("batt 12.6 at rest, 10.1 with the starter in", []),
        ("started on 8.1 gallons", []),
        ("24v ship sags to 14 while cranking", ["slow_crank"]),
        ("24v ship at 21 while cranking", []),
        ("12.4 and going down at 2400 rpm", ["charging_light"]),
        ("12.4 gph and going down at 2400 rpm", []),
        ("Overcharge. +35 and 30.8 V, cruise", ["ammeter_high", "voltage_high"]),
        ("+35 and 28.1 V", []),
        ("battery hot to the touch after 1.0", ["battery_heat"]),
        ("16 on panel confirmed with DMM", ["voltage_high"]),
        ("14 on panel confirmed with DMM", []),
        ("only 15.6 on the meter", ["voltage_high"]),
        ("only 14.2 on the meter", []),
        ("current reading shows 240", ["gauge_jumps"]),
        ("current reading shows 24", []),
        ("high amps after start I expect, not 90 minutes later", ["ammeter_high"]),
    ],
)
def test_a_number_is_of_what_stands_beside_it(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("no crank no lights no nothing", ["dead_battery"]),
        ("On charger 6 hr, flat again before his flight", ["dead_battery"]),
        ("battery charged, left tire flat", []),
        ("holds maybe three hours after we charge it", ["dead_battery"]),
        ("tablet battery lasts only two hours", []),
        ("sour smell in cabin, night crew traced it to battery", ["battery_heat"]),
        ("sour smell in cabin, night crew traced it to the heater", []),
        ("can't copy anything over the whine", ["noise_or_pulsing"]),
        ("can't hear stall horn over engine noise", []),
        ("alternator whine gone, came back", ["noise_or_pulsing"]),
        ("alternator whine gone", []),
        ("gassing heavily on the bench", ["battery_heat"]),
        ("gassing up at the self serve", []),
        ("ammeter doesn't go back to 0 at shutdown", ["gauge_jumps"]),
        ("alternator placarded INOP", ["charging_light"]),
        ("heater placarded INOP", []),
        ("alternator bearing seized", ["charging_light"]),
        ("alternator brushes replaced", []),
        ("overvolt light came on and alt dropped off", ["voltage_high"]),
        ("student flooded it, started on second try, starter spins nice and fast", []),
    ],
)
def test_what_is_said_without_its_name_is_of_the_thing_that_it_fits(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


COMPLAINTS = {
    "alternator light flickers": "charging_light",
    "bus volts down to 12.2 in cruise": "charging_light",
    "ammeter shows discharge": "ammeter_discharge",
    "charge rate stays high": "ammeter_high",
    "alt cb tripped": "breaker_opened",
    "prop barely turned": "slow_crank",
    "battery dead": "dead_battery",
    "whine in headset": "noise_or_pulsing",
    "bus voltage too high": "voltage_high",
    "acid smell from battery": "battery_heat",
    "ammeter needle jumps": "gauge_jumps",
}
HEALTHY = [
    "no ALT light",
    "alternator light normal",
    "breakers all in",
    "no cb tripped",
    "new alternator",
    "no flicker",
]


@pytest.mark.parametrize("joined", ["{} and {}", "{} with {}", "{}, {}", "{}; {}", "{} but {}"])
@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_what_one_thing_does_is_not_said_of_a_healthy_one_beside_it(complaint: str, joined: str) -> None:
    for healthy in HEALTHY:
        assert symptoms(joined.format(complaint, healthy)) == [COMPLAINTS[complaint]], healthy


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("battery hot and swollen", ["battery_heat"]),
        ("ammeter and voltmeter stuck", ["gauge_jumps"]),
        ("slow crank and voltage at 7", ["slow_crank"]),
        ("light on and amps negative with alternator off, normal", []),
        ("cranks slow and shows no charge", ["ammeter_discharge", "slow_crank"]),
    ],
)
def test_what_is_said_of_both_stays_together(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("ammeter needle hangs on the left", ["ammeter_discharge"]),
        ("ammeter hangs on the high side", ["ammeter_high"]),
        ("the ammeter is stuck on plus five", ["gauge_jumps"]),
        ("voltmeter reads low by two volts", ["gauge_jumps"]),
        ("bus voltage low", ["charging_light"]),
        ("voltmeter needle flutters", ["gauge_jumps"]),
        ("pitot heat breaker pulled for test and reset", []),
        ("pitot heat breaker popped and reset", ["breaker_opened"]),
        ("gear hand cranked", []),
    ],
)
def test_where_a_needle_stays_says_which_way_it_is_wrong(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted
