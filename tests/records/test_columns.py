"""Columns that a person named: kept with a log or with its aircraft, and used whenever the log is read again."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.logs import find_logs
from analyzer.records import kept
from analyzer.records.adding import add_logs
from analyzer.records.correcting import keep_columns_of_tail
from analyzer.records.rebuilding import rebuild
from analyzer.records.renewing import renew_flights
from analyzer.records.store import DATABASE, Store, open_records


@pytest.fixture
def odd_log(tmp_path: Path, logs: Path) -> Path:
    """A log of N0011R with a second voltage, 0.5 V higher, that only a person can know to be the bus."""
    source = sorted(logs.iterdir())[0]
    lines = source.read_text("utf-8-sig").splitlines()
    header = next(place for place, line in enumerate(lines) if "olt" in line)
    at = next(place for place, name in enumerate(lines[header].split(",")) if "olt" in name)
    told = []
    for place, line in enumerate(lines):
        cells = line.split(",")
        if place < header or len(cells) <= at:
            told.append(line)
        elif place == header:
            told.append(f"{line},channel nine")
        else:
            told.append(f"{line},{float(cells[at]) + 0.5:.2f}" if cells[at].strip() else f"{line},")
    path = tmp_path / "N0011R_odd.csv"
    path.write_text("\n".join(told) + "\n", "utf-8")
    return path


MAPPED = {"bus_voltage": "channel nine"}


def volts(store: Store, log_id: int) -> float:
    flight = next(one for one in kept.tail_flights(store, "N0011R") if one.log_id == log_id)
    return kept.flight_record(store, flight.id).result.measures["regulated_voltage"].value


def test_columns_named_at_an_add_are_kept_with_the_log_and_a_rebuild_reads_it_alike(odd_log, tmp_path):
    records = ["--records", str(tmp_path / "r")]
    assert main(["add", str(odd_log), "--tail", "N0011R", *records]) == 0
    with open_records(tmp_path / "r") as store:
        (plain,) = kept.kept_logs(store)
        before = volts(store, plain.id)
    assert main(["add", str(odd_log), "--map", "bus_voltage=channel nine", "--tail", "N0011R", *records]) == 0
    for command in ([], ["rebuild"], ["add", str(odd_log)]):
        if command:
            assert main([*command, *records]) == 0
        with open_records(tmp_path / "r") as store:
            (log,) = kept.kept_logs(store)
            assert log.columns == MAPPED
            assert volts(store, log.id) == pytest.approx(before + 0.5, abs=0.03)


def test_a_lost_database_is_made_again_with_the_columns(odd_log, tmp_path):
    with open_records(tmp_path / "r", create=True) as store:
        add_logs(store, find_logs([odd_log]), Fleet(), tail="N0011R", columns=MAPPED)
        before = volts(store, 1)
    (tmp_path / "r" / DATABASE).unlink()
    with open_records(tmp_path / "r", create=True) as store:
        rebuild(store, Fleet())
        assert kept.kept_logs(store)[0].columns == MAPPED
        assert volts(store, 1) == before


def test_a_wrong_role_or_header_is_said_and_nothing_is_kept(odd_log, tmp_path, capsys):
    records = ["--records", str(tmp_path / "r")]
    assert main(["add", str(odd_log), "--map", "volts=channel nine", *records]) == 2
    assert "knows no role" in capsys.readouterr().err
    assert main(["add", str(odd_log), "--map", "bus_voltage=channel ten", *records]) == 1
    assert "channel ten" in capsys.readouterr().err
    with open_records(tmp_path / "r") as store:
        assert kept.kept_logs(store) == []


def test_a_correction_counts_for_one_log(store, odd_log):
    add_logs(store, find_logs([odd_log]), Fleet(), tail="N0011R")
    log = next(one for one in kept.kept_logs(store) if one.source == str(odd_log))
    before, others = volts(store, log.id), [one for one in kept.tail_flights(store, "N0011R") if one.log_id != log.id]
    assert add_logs(store, find_logs([odd_log]), Fleet(), columns=MAPPED).read_anew == [str(odd_log)]
    assert volts(store, log.id) == pytest.approx(before + 0.5, abs=0.03)
    again = kept.tail_flights(store, "N0011R")
    assert [one for one in again if one.log_id != log.id] == others
    assert log.id in {one.log_id for one in again}, "under the same numbers, which pages link to"


def test_a_correction_that_cannot_be_read_changes_nothing(store, odd_log):
    add_logs(store, find_logs([odd_log]), Fleet(), tail="N0011R")
    flights = kept.tail_flights(store, "N0011R")
    ((_, why),) = add_logs(store, find_logs([odd_log]), Fleet(), columns={"bus_voltage": "channel ten"}).refused
    assert "no column 'channel ten'" in why
    assert kept.kept_logs(store)[-1].columns == {}
    assert kept.tail_flights(store, "N0011R") == flights


def test_a_correction_for_an_aircraft_counts_for_its_logs_and_those_to_come(odd_log, tmp_path):
    with open_records(tmp_path / "r", create=True) as store:
        add_logs(store, find_logs([odd_log]), Fleet(), tail="N0011R")
        before = volts(store, 1)
        keep_columns_of_tail(store, "N0011R", MAPPED)
        assert renew_flights(store, kept.fleet_kept(store)).tails == {"N0011R"}
        assert volts(store, 1) == pytest.approx(before + 0.5, abs=0.03)
        assert kept.kept_logs(store)[0].columns == {}
        assert kept.fleet_kept(store).of("N0011R").columns == MAPPED
