"""The writers, and the invented club's logs kept in the project."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from analyzer.simulator import simulate
from analyzer.simulator.__main__ import main
from analyzer.simulator.club import AIRCRAFT, FLIGHTS, file_name, write_club
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY
from analyzer.simulator.writers import ANY_AMMETER, STYLES, csv_text, write_csv

SAMPLE_LOGS = Path(__file__).parents[2] / "sample_logs"
LARGEST_BYTES = 6_000_000


def parsed(text, style):
    """Header and rows of a written log."""
    lines = text.split(style.line_end)[len(style.preamble) :]
    rows = list(csv.reader(lines[:-1], delimiter=style.delimiter))
    return rows[0], rows[2 if style.units_row else 1 :]


@pytest.mark.parametrize("kind", ["battery", "alternator"])
@pytest.mark.parametrize("style", STYLES.values(), ids=STYLES)
def test_what_is_written_reads_back_to_the_places_written(style, kind):
    flight = simulate(healthy(3, 14, kind))
    header, rows = parsed(csv_text(flight, style), style)
    assert len(rows) == flight.table.height
    assert {len(row) for row in rows} == {len(header)}
    for field in style.fields:
        role = f"{kind}_current" if field.role == ANY_AMMETER else field.role
        if role not in flight.table.columns:
            assert field.header not in header
            continue
        place = header.index(field.header)
        written = [float(row[place].replace(style.decimal_mark, ".")) for row in rows]
        meant = (flight.table[role] * field.scale + field.shift).to_list()
        assert written == pytest.approx(meant, abs=0.501 * 10.0**-field.decimals)


@pytest.mark.parametrize("style", STYLES.values(), ids=STYLES)
def test_a_style_writes_only_its_own_line_ends_and_never_a_minus_before_zero(style):
    text = csv_text(simulate(healthy(4, 14, "alternator")), style)
    assert text.endswith(style.line_end)
    assert text.replace(style.line_end, "").count("\n") == 0
    _, rows = parsed(text, style)
    cells = {cell.replace(style.decimal_mark, ".") for row in rows for cell in row}
    assert not cells & {"-0", "-0.0", "-0.00"}


def test_a_missing_reading_is_written_as_a_blank():
    flight = simulate(FAULTY["volts_dropouts"](3, 14, "battery"))
    blanked = flight.table.with_columns(bus_voltage=flight.table["bus_voltage"].replace(0.0, None))
    style = STYLES["comma"]
    header, rows = parsed(csv_text(replace(flight, table=blanked), style), style)
    place = header.index("Bus voltage (V)")
    assert [row[place] == "" for row in rows] == blanked["bus_voltage"].is_null().to_list()
    assert blanked["bus_voltage"].null_count() > 0


def test_clocks_begin_when_the_flight_does():
    flight = simulate(healthy(5))
    begins = flight.scenario.begins
    first = {name: parsed(csv_text(flight, style), style)[1][0] for name, style in STYLES.items()}
    assert datetime.fromisoformat(f"{first['comma'][0]}T{first['comma'][1]}") == begins
    assert datetime.strptime(first["semicolon"][0], "%d.%m.%Y %H:%M:%S") == begins
    assert float(first["tab"][0]) == 0.0
    assert datetime.fromisoformat(first["utc"][0].removesuffix("Z")) == begins
    assert f"Recording began: {begins}" in csv_text(flight, STYLES["tab"])


def test_a_written_file_holds_the_text_in_the_encoding_of_its_style(tmp_path):
    flight, style = simulate(healthy(6)), STYLES["semicolon"]
    write_csv(flight, tmp_path / "log.csv", style)
    assert (tmp_path / "log.csv").read_bytes() == csv_text(flight, style).encode("cp1252")


@pytest.fixture(scope="module")
def made_anew(tmp_path_factory):
    folder = tmp_path_factory.mktemp("club") / "logs"
    write_club(folder)
    return folder


def test_the_sample_logs_are_reproduced_byte_for_byte(made_anew):
    kept = sorted(path.name for path in SAMPLE_LOGS.iterdir())
    assert kept == sorted(path.name for path in made_anew.iterdir())
    for name in kept:
        assert (SAMPLE_LOGS / name).read_bytes() == (made_anew / name).read_bytes(), name


def test_the_sample_logs_stay_small(made_anew):
    assert sum(path.stat().st_size for path in made_anew.iterdir()) <= LARGEST_BYTES


def test_the_club_shows_four_ways_of_writing_both_systems_and_both_ammeters():
    assert len({aircraft.style.name for aircraft in AIRCRAFT.values()}) >= 4
    assert {aircraft.volts for aircraft in AIRCRAFT.values()} == {14, 28}
    assert {aircraft.kind for aircraft in AIRCRAFT.values()} == {"battery", "alternator"}
    assert all(tail.startswith("N0") for tail in AIRCRAFT)
    assert {flight.tail for flight in FLIGHTS} == AIRCRAFT.keys()


def test_the_readme_names_every_log_and_what_is_in_it(made_anew):
    text = (made_anew / "README.md").read_text()
    for flight in FLIGHTS:
        row = next(line for line in text.splitlines() if line.startswith(f"| {file_name(flight)} |"))
        assert flight.words in row
        assert row.endswith("| nothing |") == (flight.scenario not in FAULTY)


def test_the_fleet_file_describes_each_aircraft(made_anew):
    fleet = tomllib.loads((made_anew / "fleet.toml").read_text())["aircraft"]
    assert fleet.keys() == AIRCRAFT.keys()
    for tail, profile in fleet.items():
        low, high = profile["regulated_voltage"]
        factor = AIRCRAFT[tail].volts / 14
        assert low < factor * AIRCRAFT[tail].set_point_v < high < profile["overvoltage"]
        assert profile["nominal_voltage"] == AIRCRAFT[tail].volts
        assert profile["ammeter"] == AIRCRAFT[tail].kind
        assert profile["low_voltage"] == 13.0 * factor  # AC 43.13-1B, par. 11-35b: 13 V and 26 V


def test_the_command_lists_what_it_wrote(tmp_path, capsys):
    assert main([str(tmp_path / "made")]) == 0
    listed = capsys.readouterr().out.splitlines()
    assert len(listed) == len(list((tmp_path / "made").iterdir())) == len(FLIGHTS) + 2


def test_a_folder_that_cannot_be_made_gets_a_message(tmp_path, capsys):
    (tmp_path / "file").write_text("in the way")
    assert main([str(tmp_path / "file")]) == 1
    assert "Cannot write the sample logs" in capsys.readouterr().err
