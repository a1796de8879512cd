"""What one part of a report means beside another: two meters, a repair and how it went, readings in a row, denials."""

from __future__ import annotations

import pytest

from analyzer.squawk.understanding import understand


def symptoms(words: str) -> list[str]:
    return [match.symptom for match in understand(words).matches]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Panel voltmeter reads 11.5, handheld meter shows 14.2", ["gauge_jumps"]),
        ("Panel voltmeter reads 11.5, handheld meter shows 11.7", ["charging_light"]),
        ("Voltmeter reads 15.5 but multimeter says 14.1", ["gauge_jumps"]),
        ("Voltmeter reads 15.5 but multimeter says 15.4", ["voltage_high"]),
        ("Voltmeter reads 27.1, handheld meter shows 27.9", []),  # less than a volt apart, at 28 V
    ],
)
def test_a_gauge_is_wrong_where_a_second_meter_reads_far_from_it(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Slow cranking last month, new cables fitted, spins fast now", []),
        ("Slow cranking last month, new cables fitted, still slow now", ["slow_crank"]),
        ("Battery swelled, replaced last month, all good", []),
        ("Battery swelled, replaced last month", ["battery_heat"]),
        ("Battery was dead in January. Replaced. No trouble since", []),
        ("Battery was dead in January. Replaced. Dead again", ["dead_battery"]),
        ("Alt light last month, regulator replaced, not good since", ["charging_light"]),
    ],
)
def test_what_was_repaired_is_taken_back_only_with_a_verdict(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Voltmeter says 19 then 6 then 14", ["gauge_jumps"]),
        ("amps jump between -30 & +45", ["gauge_jumps"]),
        ("16 and a bit on the voltmeter", ["voltage_high"]),
        ("14 and a bit on the voltmeter", []),
        ("14 volts normally, 12.6 today", ["charging_light"]),
        ("volts dipped to 13.8 with the landing light", []),
        ("volts dipped to 12.8 with the landing light", ["charging_light"]),
        ("battery was flat, 9 V", ["dead_battery"]),
        ("regulator not regulating, 15.9 volts", ["voltage_high"]),
    ],
)
def test_numbers_are_read_with_what_stands_beside_them(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Amps wont taper and acid is running out the drain", ["ammeter_high", "battery_heat"]),
        ("Ammeter did not drop back to normal after 30 min", ["ammeter_high"]),
        ("Ammeter dropped back to normal after 30 min", []),
        ("No further low voltage warnings since alternator replaced", []),
        ("Cranks well, ALT light goes out, charge tapers in 5 min", []),
        ("ALT light goes out at 1500 rpm", ["charging_light"]),
        ("light tested ok, then came on for real", ["charging_light"]),
        ("no need for a jump last week, needed one today", ["dead_battery"]),
        ("Batt box inspected for acid, nil found", []),
        ("Batt box inspected, acid found", ["battery_heat"]),
        ("battery warm in the sun, ok", []),
        ("battery warm after flight", ["battery_heat"]),
        ("ammeter zero with master off", []),
        ("ammeter zero with everything on", ["ammeter_discharge"]),
    ],
)
def test_a_denial_ends_where_the_next_thing_begins(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Slow cranking gone after cleaning the cables, came back this week", ["slow_crank"]),
        ("Slow cranking fixed, returned to service", []),
        ("Discharge went away after landing, came back next flight", ["ammeter_discharge"]),
        ("Discharge went away when the alternator came back", []),
        ("Ammeter jumps ok after tapping, then starts again", ["gauge_jumps"]),
        ("Ammeter jumps ok after tapping", []),
        ("ALT light went out and came back on", ["charging_light"]),
        ("Alternator light went out once the alternator came back on", []),
        ("Light did go out but came back", ["charging_light"]),
        ("Gear light went out but came back", []),
    ],
)
def test_what_is_back_was_not_gone(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Alternator tested good in the shop, quits in flight", ["charging_light"]),
        ("Alternator tested good in the shop. It quit raining in flight", []),
        ("Ammeter ok on the ground, shows minus 15 once airborne", ["ammeter_discharge"]),
        ("Ammeter ok on the ground, no trouble once airborne", []),
        ("Voltmeter replaced, new one jumps around too", ["gauge_jumps"]),
        ("Tachometer replaced, new one jumps around too", []),
        ("No alternator on the way home", ["charging_light"]),
        ("No alternator light on the way home", []),
        ("Loadmeter never below 70% on a sunny day", ["ammeter_high"]),
        ("Loadmeter never above 70% on a sunny day", []),
    ],
)
def test_what_was_well_on_the_ground_or_is_new_may_fail(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Can't start the engine without the booster", ["dead_battery"]),
        ("No starting without external power", ["dead_battery"]),
        ("Would not start without priming", []),
        ("No start without full throttle", []),
    ],
)
def test_an_engine_that_starts_with_external_power_only_has_a_weak_battery(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted
