"""A few short logs of two invented aircraft, and records made of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.logs import find_logs
from analyzer.records.adding import add_logs
from analyzer.records.store import Store, open_records
from analyzer.simulator import simulate
from analyzer.simulator.healthy import short_hop
from analyzer.simulator.writers import COMMA, write_csv


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


@pytest.fixture
def store(tmp_path: Path, logs: Path) -> Iterator[Store]:
    """Records with all five logs."""
    with open_records(tmp_path / "records", create=True) as opened:
        add_logs(opened, find_logs([logs]), Fleet())
        yield opened
