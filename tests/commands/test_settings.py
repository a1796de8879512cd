"""What is known of an aircraft is shown and changed: by the service, by the command, and in the file that keeps it."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path

import pytest

from analyzer.aircraft import Battery, FleetFileError, Setting, Source, read_fleet
from analyzer.cli import main
from analyzer.fleet_edit import with_columns, with_settings
from analyzer.records.changes import kept_changes
from analyzer.records.correcting import keep_columns_of_tail
from analyzer.records.kept import fleet_kept, kept_logs
from analyzer.records.marks import flight_mark
from analyzer.records.people import NotAllowedError, Person, Role
from analyzer.records.problems import RecordsError
from analyzer.records.store import open_records
from analyzer.reports.setting_words import SETTING_WORDS, choice_words, setting_words
from analyzer.service import aircraft_settings
from analyzer.service.aircraft_settings import CHOICES, KEYS, SettingsError, keep_settings, setting_from, settings_of

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
WRITTEN = """\
# The club's own words.
[aircraft.N012LF]  # two-seat trainer
battery_capacity = 26  # Ah
ammeter = "battery"

[aircraft.N012LF.columns]
bus_voltage = "VOLTS 1"

[aircraft.N037LF]
low_voltage = 26.0
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kept") / "records"
    logs = [str(path) for path in sorted(SAMPLES.glob("N012*.csv"))]
    assert main(["add", *logs, "--fleet", str(SAMPLES / "fleet.toml"), "--records", str(folder)]) == 0
    return folder


@pytest.fixture
def records(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "records"))


def test_only_what_is_set_changes_in_the_file(tmp_path: Path) -> None:
    text = with_settings(
        WRITTEN, "n012lf", {"battery_capacity": 30, "ammeter": None, "regulated_voltage": (13.6, 14.3)}
    )
    assert "# The club's own words." in text
    assert "battery_capacity = 30  # Ah\n" in text
    assert "ammeter" not in text
    path = tmp_path / "fleet.toml"
    path.write_text(text, "utf-8")
    fleet = read_fleet(path)
    assert (fleet.of("N012LF").battery_capacity, fleet.of("N012LF").regulated_voltage) == (30.0, (13.6, 14.3))
    assert fleet.of("N012LF").columns == {"bus_voltage": "VOLTS 1"}
    assert fleet.of("N037LF").low_voltage == 26.0
    back = with_settings(text, "N012LF", {"battery_capacity": 26, "regulated_voltage": None})
    assert back == WRITTEN.replace('ammeter = "battery"\n', "")


@pytest.mark.parametrize("before", ["", WRITTEN, "[aircraft.n077lf]\nessential_load = 8\n"])
def test_an_aircraft_that_is_not_there_gets_a_table_and_one_written_small_keeps_its_own(
    before: str, tmp_path: Path
) -> None:
    path = tmp_path / "fleet.toml"
    path.write_text(with_columns(before, "N077LF", {"bus_voltage": 'A "B"'}), "utf-8")
    assert read_fleet(path).of("N077LF").columns == {"bus_voltage": 'A "B"'}
    path.write_text(with_settings(path.read_text("utf-8"), "N077LF", {"nominal_voltage": 28}), "utf-8")
    assert read_fleet(path).of("N077LF").nominal_voltage == 28
    assert read_fleet(path).aircraft.keys() >= ({"N012LF", "N037LF"} if before == WRITTEN else set())


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("battery_capacity", "26", 26),
        ("battery_capacity", " 26.5 ", 26.5),
        ("battery_capacity", "", None),
        ("nominal_voltage", "28", 28),
        ("battery", "Lithium iron phosphate", "lithium_iron_phosphate"),
        ("regulated_voltage", "13.6-14.3", (13.6, 14.3)),
        ("regulated_voltage", "13.6 to 14.3", (13.6, 14.3)),
        ("battery_fitted", "2 May 2024", date(2024, 5, 2)),
        ("alternator_hours", "0", 0),
        ("aircraft_type", " two-seat  trainer ", "two-seat trainer"),
        ("battery_part", " 24-18 S ", "24-18 S"),
        ("coldest_morning", "-12", -12),
        ("load_landing_light", "3.5", 3.5),
    ],
)
def test_a_setting_is_taken_as_a_person_writes_it(key: str, text: str, value: Setting) -> None:
    assert setting_from(key, text) == value


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("capacity", "26", "did you mean 'battery_capacity'?"),
        ("battery_capacity", "0.5", "a number from 1 to 500, not 0.5"),
        ("battery_capacity", "nan", "a number from 1 to 500, not nan"),
        ("battery_capacity", "big", "a number, not 'big'"),
        ("nominal_voltage", "24", "one of 14, 28, not '24'"),
        ("battery", "flodded", "did you mean 'flooded'?"),
        ("regulated_voltage", "14", "such as 13.6-14.3"),
        ("regulated_voltage", "14.3-13.6", "the lowest below the highest"),
        ("regulated_voltage", "136-143", "two voltages from 10 to 40"),
        ("regulated_voltage", "13.6-inf", "two voltages from 10 to 40"),
        ("regulated_voltage", "13.6-", "give both ends"),
        ("battery_fitted", "2099-01-01", "no later than today"),
        ("battery_fitted", "0202-05-02", "from 1950-01-01 on"),
        ("alternator_fitted", "May", "'May' is not a date"),
        ("aircraft_type", "x" * 41, "at most 40 letters"),
        ("battery_part", "24\x0718", "a few words, at most 40 letters, such as '24-18-S'"),
        ("load_landing_light", "350", "a number from 0.1 to 100, not 350"),
        ("load_landing", "3", "did you mean 'load_landing_light'?"),
        ("coldest_morning", "-80", "a number from -60 to 25, not -80"),
        ("alternator_hours", "-1", "a number from 0 to 50000, not -1"),
    ],
)
def test_what_cannot_be_set_is_said(key: str, text: str, said: str) -> None:
    with pytest.raises(SettingsError) as told:
        setting_from(key, text)
    assert said in told.value.says


def test_a_comment_stays_with_what_it_is_about() -> None:
    before = "[aircraft.N0AB]\nammeter = 'battery'\n\n# the tug, 28 V\n[aircraft.N0CD]\nessential_load = 9\n"
    text = with_settings(before, "N0AB", {"battery_capacity": 20})
    assert text == before.replace("'battery'\n", "'battery'\nbattery_capacity = 20\n")


def test_a_file_with_a_byte_order_mark_is_changed_and_a_spoilt_one_is_left(records: Path) -> None:
    path = records / "fleet.toml"
    path.write_text("\ufeff" + WRITTEN, "utf-8")
    with open_records(records) as store:
        keep_settings(store, "N012LF", {"battery_capacity": 31})
        assert fleet_kept(store).of("N012LF").battery_capacity == 31.0
        path.write_text("[aircraft.N012LF\n", "utf-8")
        with pytest.raises(FleetFileError, match="not valid TOML"):
            keep_columns_of_tail(store, "N012LF", {"bus_voltage": "X"})
    assert path.read_text("utf-8") == "[aircraft.N012LF\n"


def test_what_is_saved_makes_its_flights_stale_and_stands_in_the_log_of_changes(records: Path) -> None:
    with open_records(records) as store:
        changed = keep_settings(store, "n012lf", {"battery_capacity": 40, "ammeter": "battery"})
        assert (changed.before, changed.after) == ({"battery_capacity": 26.0}, {"battery_capacity": 40})
        aircraft = fleet_kept(store).of("N012LF")
        assert settings_of(aircraft)["battery_capacity"] == 40.0
        assert all(log.analysis != flight_mark(aircraft) for log in kept_logs(store, "N012LF"))
        with store.reading() as connection:
            last = kept_changes(connection, newest=1)[0]
        assert (last.what, last.tail) == ("fleet file changed", "N012LF")
        assert keep_settings(store, "N012LF", {"battery_capacity": 40.0}).after == {}
        with pytest.raises(SettingsError, match=r"above the regulated voltage, 14\.45 V, not at 14 V"):
            keep_settings(store, "N012LF", {"overvoltage": 14.0})
        reader = store.asked_by(Person("a.reader", Role.READER, "pages"))
        with pytest.raises(NotAllowedError):
            keep_settings(reader, "N012LF", {"battery_capacity": 20})
        assert settings_of(fleet_kept(store).of("N012LF"))["battery_capacity"] == 40.0


def test_settings_are_held_to_what_was_seen_while_nobody_else_may_change_them(
    records: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_records(records) as store:
        seen = settings_of(fleet_kept(store).of("N012LF"))
        before = fleet_kept(store)
        keep_settings(store, "N012LF", {"battery_capacity": 30, "overvoltage": 15.2})
        monkeypatch.setattr(aircraft_settings, "fleet_kept", lambda _: before)  # read just before the other wrote
        with pytest.raises(RecordsError, match=r"Somebody else changed the settings of N012LF"):
            keep_settings(store, "N012LF", {"battery_capacity": 28}, seen)
        with pytest.raises(SettingsError, match=r"above the regulated voltage, 15\.6 V, not at 15\.2 V"):
            keep_settings(store, "N012LF", {"regulated_voltage": (13.8, 15.6)}, seen)
        assert keep_settings(store, "N012LF", {"battery_capacity": 30, "alternators": 2}, seen).after == {
            "alternators": 2
        }
        aircraft = fleet_kept(store).of("N012LF")
    assert (aircraft.battery_capacity, aircraft.alternators) == (30.0, 2)


def test_when_a_part_was_fitted_judges_no_flight(records: Path) -> None:
    with open_records(records) as store:
        before = [log.analysis for log in kept_logs(store, "N012LF")]
        changed = keep_settings(
            store, "N012LF", {"battery_fitted": date(2024, 5, 2), "alternator_hours": 120, "load_pitot_heat": 7.0}
        )
        assert not changed.judged_anew
        aircraft = fleet_kept(store).of("N012LF")
        assert (aircraft.battery_fitted, aircraft.alternator_hours) == (date(2024, 5, 2), 120.0)
        assert before == [flight_mark(aircraft)] * len(before), "none is stale"
        assert "battery_fitted = 2024-05-02\n" in (records / "fleet.toml").read_text("utf-8")
        assert keep_settings(store, "N012LF", {"battery_fitted": date(2024, 5, 2)}).after == {}
        assert keep_settings(store, "N012LF", {"battery_capacity": 40}).judged_anew


def test_the_command_shows_sets_and_takes_away_and_the_flights_follow(
    records: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = ["--records", str(records)]
    assert main(["settings", "N012LF", *where]) == 0
    shown = capsys.readouterr().out
    assert [line.split()[0] for line in shown.splitlines()] == list(KEYS)
    assert "26 Ah" in shown
    assert "13.75 to 14.45 V" in shown
    assert main(["settings", "N012LF", "regulated_voltage=12.9-13.4", *where]) == 0
    told = capsys.readouterr().err
    assert "Regulated voltage: 12.9 to 13.4 V (was: 13.75 to 14.45 V)" in told
    assert "judged anew" in told
    with open_records(records) as store:
        (log, *_) = kept_logs(store, "N012LF")
        assert log.analysis == flight_mark(fleet_kept(store).of("N012LF"))
    assert main(["flight", "N012LF", *where]) == 0
    assert "regulated voltage high" in capsys.readouterr().out.lower(), "judged by the new band"
    assert main(["settings", "N012LF", "regulated_voltage=", "--json", *where]) == 0
    assert json.loads(capsys.readouterr().out)["settings"]["regulated_voltage"] is None
    assert main(["settings", "N099ZZ", "ammeter=battery", *where]) == 0
    assert "No flight of N099ZZ is kept yet" in capsys.readouterr().err
    assert main(["settings", "N012LF", "batery=sealed", *where]) == 2
    assert "did you mean 'battery'?" in capsys.readouterr().err
    assert main(["settings", "N012LF", "sealed", *where]) == 2
    assert "say KEY=VALUE" in capsys.readouterr().err


def test_every_setting_has_its_words() -> None:
    assert tuple(SETTING_WORDS) == KEYS
    said = [choice_words(key, value) for key, values in CHOICES.items() for value in values]
    assert len(said) == len(set(said)), "no two choices are called alike"
    assert setting_words("source", Source.ALTERNATOR) == "alternator"
    assert setting_words("ammeter", "alternator") == "alternator output"
    assert setting_words("battery", Battery.SEALED) == "lead-acid, sealed"
    assert setting_words("nominal_voltage", 28) == "28 V"
    assert setting_words("essential_load", None) == "not set"
    assert setting_words("load_pitot_heat", 7.25) == "7.25 A"
    assert SETTING_WORDS["load_pitot_heat"].label == "Pitot heat"
    assert SETTING_WORDS["load_pitot_heat"].about == "measured; usually 8 A at 14 V, 5 A at 28 V"
