"""A few short logs of two invented aircraft, and records made of them."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.logs import find_logs
from analyzer.records.adding import add_logs
from analyzer.records.changing import add_entries
from analyzer.records.store import Store, open_records
from analyzer.simulator import simulate
from analyzer.simulator.healthy import short_hop
from analyzer.simulator.writers import COMMA, write_csv
from analyzer.trends.entries import make_entry


@pytest.fixture(scope="session")
def logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with five logs of N0011R and N0022R."""
    folder = tmp_path_factory.mktemp("logs")
    for number in range(5):
        tail = "N0011R" if number < 3 else "N0022R"
        begins = datetime(2026, 3, 1, 9, 0) + timedelta(days=number)
        scenario = short_hop(40 + number)
        recorder = replace(scenario.recorder, period_s=2.0)
        flown = simulate(replace(scenario, tail=tail, begins=begins, recorder=recorder))
        write_csv(flown, folder / f"{tail}_{begins:%Y-%m-%d}.csv", COMMA)
    return folder


@pytest.fixture(scope="session")
def five(tmp_path_factory: pytest.TempPathFactory, logs: Path) -> Path:
    """Records with all five logs, as a folder to be copied."""
    folder = tmp_path_factory.mktemp("five") / "records"
    with open_records(folder, create=True) as store:
        add_logs(store, find_logs([logs]), Fleet())
    return folder


@pytest.fixture
def store(tmp_path: Path, five: Path) -> Iterator[Store]:
    """Records of its own with all five logs."""
    with open_records(Path(shutil.copytree(five, tmp_path / "records"))) as opened:
        yield opened


@pytest.fixture(scope="session")
def two(tmp_path_factory: pytest.TempPathFactory, logs: Path) -> Path:
    """Records with two logs and one entry, as a folder to be copied; of the second log no original is kept."""
    folder = tmp_path_factory.mktemp("two") / "records"
    first, second = sorted(logs.glob("*.csv"))[:2]
    with open_records(folder, create=True) as store:
        add_logs(store, find_logs([first]), Fleet())
        add_logs(store, find_logs([second]), Fleet(), keep_originals=False)
        add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
    return folder
