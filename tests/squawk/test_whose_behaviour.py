"""What each thing does is its own, a number belongs to its unit: wider ways to say it, and what each must not take."""

from __future__ import annotations

import pytest

from tests.squawk.told import symptoms


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("amps into battery high for 2 hr, volts normal at 14.1", ["ammeter_high"]),
        ("gen warning comes and goes above 7500", ["charging_light"]),
        ("alternator annunciator flickers above 8000", ["charging_light"]),
        ("charging lamp wakes up on every long descent", ["charging_light"]),
        ("charge rate nil w/ full load", ["ammeter_discharge"]),
        ("lights pulse, ammeter holds still", ["noise_or_pulsing"]),
        ("HI VOLTS amber, came and went", ["voltage_high"]),
        ("bus volts amber, every leg", ["charging_light"]),
        ("beacon inop, lamp burnt", []),
        ("beacon inop, charge lamp burning", ["charging_light"]),
        ("Alternator light on, lamp burns all flight", ["charging_light"]),
        ("alternator brushes inspected, plenty left", []),
        ("ammeter calibrated, zero centred", []),
        ("bus tie CB opened during no 2 start", ["breaker_opened"]),
        ("Battery side of the bus tie is out", []),
        ("charge rate stays high, volts normal at 14.1", ["ammeter_high"]),
        ("prop barely turned, volts normal at 14.1", ["slow_crank"]),
        ("volts 15.2, normal is 14.1", ["voltage_high"]),
    ],
)
def test_what_is_said_belongs_to_the_nearest_thing(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("12.1v at 2400 and -15", ["ammeter_discharge", "charging_light"]),
        ("14.1v at 2400 and -1", []),
        ("amp readout is garbage, +99 to -99", ["gauge_jumps"]),
        ("bus dips to 13 on start (28 V ship), last month it was 20", ["slow_crank"]),
        ("24V ship, cranking volts dip to 13", ["slow_crank"]),
        ("24V ship, cranking volts dip to 20", []),
        ("31.2 on the 28v bus", ["voltage_high"]),
        ("28.2 on the 28v bus", []),
        ("16.1 on a 14 volt bus", ["voltage_high"]),
        ("battery charged on the bench, 12.8 volts", []),
        ("amps in never got under 15 from the coast to home", ["ammeter_high"]),
        ("oil temp in never got under 15 from the coast to home", []),
        ("charge never under 20 A", ["ammeter_high"]),
        ("CHT not under 380 in cruise", []),
        ("oil pressure never under 60", []),
        ("battery amps not less than 25 for the whole leg", ["ammeter_high"]),
    ],
)
def test_a_number_belongs_to_its_sign_its_unit_and_its_aircraft(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("voltmeter needle swings in turbulence", ["gauge_jumps"]),
        ("ammeter wags like a dog tail", ["gauge_jumps"]),
        ("ammeter wags with the beacon", ["noise_or_pulsing"]),
        ("ammeter swings slowly side to side", ["noise_or_pulsing"]),
        ("all the gauges swing in rhythm", ["noise_or_pulsing"]),
        ("tach needle wags", []),
        ("oil pressure needle wanders", []),
        ("panel lights dancing at idle", ["noise_or_pulsing"]),
        ("tach dances", []),
        ("cockpit lighting going brighter then dimmer", ["noise_or_pulsing"]),
        ("strong hum copilot side", ["noise_or_pulsing"]),
        ("loose trim on the copilot side", []),
    ],
)
def test_a_needle_alone_jumps_and_lights_pulse(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("ship is eating its battery in the air", ["ammeter_discharge"]),
        ("Battery running down all through the flight", ["ammeter_discharge"]),
        ("battery ran down over the weekend", ["dead_battery"]),
        ("Battery went down bit by bit in the air", ["ammeter_discharge"]),
        ("oil temp went down bit by bit in the air", []),
        ("ammeter says we use more than we make", ["ammeter_discharge"]),
        ("fuel: we use more than we planned", []),
        ("dead after lunch, radios left on", ["dead_battery"]),
        ("landing lights left on for traffic", []),
        ("acid dripping from the battery drain", ["battery_heat"]),
        ("belly drain dripping", []),
        ("No charge for two flights", ["ammeter_discharge"]),
        ("no charge for landing", []),
        ("had to put it on the charger before the 0800", ["dead_battery"]),
        ("put a charger for the tablet in the bag", []),
        ("third boost this month", ["dead_battery"]),
        ("third boost pump this year", []),
        ("battery gone, door light had stayed on", ["dead_battery"]),
        ("door light had stayed on", []),
        ("drained by morning", ["dead_battery"]),
        ("oil drained by morning", []),
        ("shows 20 amps charge when it ought to be done by now", ["ammeter_high"]),
        ("annual ought to be done by now", []),
        ("charging amps climb and climb", ["ammeter_high"]),
        ("oil temp climbs and climbs", []),
        ("battery case fat", ["battery_heat"]),
        ("seat cushion fat", []),
        ("Battery sides pushed out", ["battery_heat"]),
        ("side panel pushed out", []),
        ("sour smell behind the seats, eyes watering; traced to battery", ["battery_heat"]),
        ("exhaust smell, eyes watering", []),
    ],
)
def test_what_drains_fills_or_swells_is_the_battery(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Alternator did not come on line", ["charging_light"]),
        ("Left gen and right gen both on line, no cautions", []),
        ("the sixty amp one popped when I selected landing light", ["breaker_opened"]),
        ("the sixty amp one is new", []),
        ("new field cb put in, nothing tripped", []),
        ("practiced alt fail checklist with student", []),
        ("Voltmeter jumped last week; ground wire cleaned, steady 14.0 on every flight since", []),
        ("Voltmeter jumped last week; ground wire cleaned, jumps on every flight since", ["gauge_jumps"]),
        ("loadmeter didn't come off the bottom stop", ["ammeter_discharge"]),
    ],
)
def test_what_was_tried_or_cured_is_no_trouble(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("monitor flashing VOLTS 15.7", ["voltage_high"]),
        ("flashing low volts", ["charging_light"]),
        ("engine monitor alarm VOLTS HI", ["voltage_high"]),
        ("volts alarm in cruise", ["charging_light"]),
        ("ALT FAIL message on the big screen, came right back", ["charging_light"]),
        ("amps way to the right on the big screen", ["ammeter_high"]),
        ("voltage dips under 9 when you hit the starter", ["slow_crank"]),
        ("voltage dips under 9 when you hit the bump", ["charging_light"]),
        ("batt was slowly emptying on us in the air", ["ammeter_discharge"]),
        ("emptying the fuel tank for weighing", []),
        ("Bus 2 feeder tripped on touch down", ["breaker_opened"]),
        ("fuel feeder hose chafed", []),
    ],
)
def test_an_alarm_is_of_what_it_shows_and_a_dip_of_what_was_done(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted
