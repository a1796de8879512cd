"""The fleet file: what is known of each aircraft, and what a person reads when it is wrong."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from analyzer.aircraft import UNJUDGED, UNKNOWN_AIRCRAFT, Battery, FleetFileError, Source, read_fleet

GOOD = """
[aircraft.N047KT]
nominal_voltage = 14
battery_capacity = 34
ammeter = "alternator"
alternator_rating = 60
regulated_voltage = [13.6, 14.3]
overvoltage = 16.0
low_voltage = 13.0
essential_load = 9
battery = "sealed"
source = "dc_generator"
alternators = 2
battery_fitted = 2024-05-02
alternator_fitted = 2023-11-20T08:00:00
alternator_hours = 0
aircraft_type = " two-seat  trainer"
coldest_morning = -12
check_hours = 1.5
stranded_hours = 12
battery_part = "24-18-S"
load_landing_light = 3.5
[aircraft.N047KT.columns]
bus_voltage = "VOLTS 1"
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "fleet.toml"
    path.write_text(text, "utf-8")
    return path


def test_every_key_of_a_fleet_file_reaches_the_profile_and_its_limits(tmp_path: Path) -> None:
    aircraft = read_fleet(written(tmp_path, GOOD)).of("n047kt")
    assert aircraft.ammeter == "alternator"
    assert aircraft.essential_load == 9.0
    assert (aircraft.battery, aircraft.source, aircraft.alternators) == (Battery.SEALED, Source.DC_GENERATOR, 2)
    assert (aircraft.battery_fitted, aircraft.alternator_fitted) == (date(2024, 5, 2), date(2023, 11, 20))
    assert aircraft.alternator_hours == 0.0
    assert (aircraft.aircraft_type, aircraft.coldest_morning) == ("two-seat trainer", -12.0)
    assert (aircraft.check_hours, aircraft.stranded_hours) == (1.5, 12.0)
    assert (aircraft.battery_part, aircraft.loads) == ("24-18-S", {"landing_light": 3.5})
    assert aircraft.judged == replace(aircraft, loads={}, **dict.fromkeys(UNJUDGED)), "these judge no flight"
    assert aircraft.columns == {"bus_voltage": "VOLTS 1"}
    limits = aircraft.limits(14)
    assert (limits["regulated_low"], limits["regulated_high"]) == (13.6, 14.3)
    assert limits["battery_capacity"] == 34.0
    assert limits["alternator_rating"] == 60.0


def test_a_tail_that_the_file_does_not_name_has_the_defaults(tmp_path: Path) -> None:
    assert read_fleet(written(tmp_path, GOOD)).of("N099ZZ") is UNKNOWN_AIRCRAFT
    assert UNKNOWN_AIRCRAFT.limits(28)["overvoltage"] == 31.5


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[aircraft.N01A]\nbatery_capacity = 34\n", ["batery_capacity", "did you mean 'battery_capacity'"]),
        ("[aircrafts.N01A]\nammeter = 'battery'\n", ["'aircrafts'", "did you mean 'aircraft'"]),
        ("[aircraft.N01A.columns]\nbus_volts = 'V'\n", ["bus_volts", "did you mean 'bus_voltage'"]),
        ("[aircraft.N01A]\nnominal_voltage = 12\n", ["nominal_voltage", "14 or 28", "12"]),
        ("[aircraft.N01A]\nammeter = 'load'\n", ["ammeter", "'alternator' or 'battery'"]),
        ("[aircraft.N01A]\nbattery = 'lithium'\n", ["battery", "did you mean 'lithium_iron_phosphate'"]),
        ("[aircraft.N01A]\nbattery = 'Sealed'\n", ["battery", "did you mean 'sealed'"]),
        ("[aircraft.N01A]\nsource = 'dynamo'\n", ["source", "'alternator', 'permanent_magnet'"]),
        ("[aircraft.N01A]\nsource = 'permanent magnet'\n", ["source", "did you mean 'permanent_magnet'"]),
        ("[aircraft.N01A]\nsource = 3\n", ["source", "not 3"]),
        ("[aircraft.N01A]\nalternators = 3\n", ["alternators", "1 or 2", "3"]),
        ("[aircraft.N01A]\nalternators = true\n", ["alternators", "1 or 2", "True"]),
        ("[aircraft.N01A]\nregulated_voltage = [14.3, 13.6]\n", ["regulated_voltage", "[lowest, highest]"]),
        ("[aircraft.N01A]\nbattery_capacity = -3\n", ["battery_capacity", "from 1 to 500", "-3"]),
        ("[aircraft.N01A]\nbattery_fitted = '2024-05-02'\n", ["battery_fitted", "without quotes", "'2024-05-02'"]),
        ("[aircraft.N01A]\nalternator_fitted = 0024-05-02\n", ["alternator_fitted", "a day such as"]),
        ("[aircraft.N01A]\nessential_load = true\n", ["essential_load", "from 0.1 to 500"]),
        ("aircraft = 3\n", ["'aircraft' must be tables"]),
        ("[aircraft]\nN01A = 3\n", ["must be a table"]),
        ("[aircraft.N01A\n", ["not valid TOML"]),
    ],
)
def test_a_wrong_fleet_file_is_answered_with_what_is_wrong_and_what_is_right(
    tmp_path: Path, text: str, says: list[str]
) -> None:
    with pytest.raises(FleetFileError) as problem:
        read_fleet(written(tmp_path, text))
    for words in says:
        assert words in str(problem.value)


def test_a_fleet_file_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(FleetFileError, match="cannot be opened"):
        read_fleet(tmp_path / "none.toml")


def test_a_lithium_battery_brings_its_own_limits_and_the_fleet_file_overrules_them(tmp_path: Path) -> None:
    battery = '[aircraft.N01A]\nbattery = "lithium_iron_phosphate"\n'
    limits = read_fleet(written(tmp_path, battery)).of("N01A").limits(28)
    assert (limits["regulated_high"], limits["overvoltage"]) == (29.2, 30.4)
    own = read_fleet(written(tmp_path, battery + "overvoltage = 15.6\nregulated_voltage = [13.8, 14.4]\n"))
    assert (own.of("N01A").limits(14)["regulated_high"], own.of("N01A").limits(14)["overvoltage"]) == (14.4, 15.6)
