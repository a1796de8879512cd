"""``taper alarms`` as its users call it."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from analyzer.cli import main
from analyzer.records.changing import add_entries
from analyzer.records.store import open_records
from analyzer.simulator import simulate
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen
from analyzer.simulator.writers import COMMA, write_csv
from analyzer.trends.entries import make_entry


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("alarms")
    own = replace(healthy(871, 28, "battery"), tail="N0871")
    for place in range(11):
        one = replace(own, seed=950 + place, begins=datetime(2026, 3, 1 + place, 9, 0))
        if place == 10:
            one = one.with_fault(FieldOpen(from_s=one.times.cruise_s))
        write_csv(simulate(one), folder / f"{place:02d}.csv", COMMA)
    assert main(["add", str(folder), "--records", str(folder / "records")]) == 0
    return folder / "records"


def told(capsys: pytest.CaptureFixture[str], records: Path, *more: str, status: int = 0) -> str:
    capsys.readouterr()
    assert main(["alarms", *more, "--records", str(records)]) == status
    out = capsys.readouterr()
    return out.err if status else out.out


def test_limits_losses_and_the_manuals_are_told(records: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, records, "n0871")
    assert "N0871  limits for the recorder's alarms" in text
    document = json.loads(told(capsys, records, "N0871", "--json"))
    low = next(one for one in document["alarms"]["alarms"] if one["name"] == "low_voltage")
    assert f"Low voltage   below {low['limit']:.1f} V" in text
    assert low["of_flights"] == 10
    assert "In 1 of 1 recorded loss it would have been on within 60 s" in " ".join(text.split())
    assert "The manuals of aircraft and recorder come first" in " ".join(text.split())
    assert [one["flight"] for one in document["alarms"]["losses"]] == [10]


def test_flights_before_a_new_regulator_are_not_its_usual_ones(
    records: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "records"
    shutil.copytree(records, copy)
    with open_records(copy) as store:
        add_entries(store, [make_entry("N0871", "2026-03-06 12:00", "regulator_replaced", "New one.")])
    text = " ".join(told(capsys, copy, "N0871").split())
    assert "not measurable: 4 flights without a finding showed a bus voltage for long enough; 10 are needed" in text
    assert "since 2026-03-06, when the regulator or an instrument was replaced" in text
    assert "In 1 of 1 recorded loss" in text


def test_an_unknown_tail_is_said(records: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no flight of N099ZZ is kept" in told(capsys, records, "N099ZZ", status=2)


def test_loads_are_told_or_why_they_are_not(records: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert main(["loads", "N0871", "--records", str(records)]) == 0
    assert "Not measurable: no alternator ammeter shows the load." in capsys.readouterr().out
    assert main(["loads", "N0871", "--json", "--records", str(records)]) == 0
    assert json.loads(capsys.readouterr().out)["loads"] == []
    assert main(["loads", "N099ZZ", "--records", str(records)]) == 2
