"""Aircraft beside their peers and repairs from the records: service, command and page say the same."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from analyzer.cli import main
from analyzer.records.changing import add_entries
from analyzer.records.place import FLEET
from analyzer.records.store import Store, open_records
from analyzer.service.beside_peers import repair_record, tail_beside_peers
from analyzer.service.follow_tails import UnknownTailError
from analyzer.trends.entries import Entry
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made

TAILS = [f"N000{place}E" for place in range(1, 8)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Seven aircraft of 14 V, one with hunting that work on the regulator ended."""
    found = tmp_path_factory.mktemp("peers") / "records"
    seeds = (seed for seed in range(100) if made("plain", seed, 36).history.nominal_voltage == 14)
    with open_records(found, create=True) as store:
        for tail in TAILS:
            history = made("plain", next(seeds), 36).history
            hunting = {place: [("regulator_hunting", "caution")] for place in range(4, 18)} if tail == TAILS[0] else {}
            keep_history(store, tail, history, hunting)
            if hunting:
                when = history.flights[18].start - timedelta(hours=1)
                add_entries(store, [Entry(tail, when, "regulator_adjusted", "")])
    lines = [f'[aircraft.{tail}]\naircraft_type = "two-seat trainer"\n' for tail in TAILS]
    (found / FLEET).write_text("\n".join(lines), "utf-8")
    return found


@pytest.fixture(scope="module")
def store(folder: Path) -> Iterator[Store]:
    with open_records(folder) as opened:
        yield opened


def test_each_measure_stands_among_six_peers(store: Store) -> None:
    told = tail_beside_peers(store, TAILS[2])
    assert told.peers == (*TAILS[:2], *TAILS[3:])
    volts = next(one for one in told.measures if one.measure == "regulated_voltage")
    assert len(volts.peers) == 6
    assert volts.percentile == pytest.approx(100.0 * volts.lower / 6)
    assert volts.corrected
    with pytest.raises(UnknownTailError):
        tail_beside_peers(store, "N0NONE")


def test_a_repair_that_ended_a_finding_is_counted(store: Store) -> None:
    record = repair_record(store)
    (one,) = record.outcomes
    assert (one.finding, one.kind, one.ended, one.told) == ("regulator_hunting", "regulator_adjusted", 1, 1)
    assert record.shifted == {}, "one aircraft shifts no weight"


def test_the_commands_print_what_the_service_says(
    store: Store, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = tail_beside_peers(store, TAILS[2])
    assert main(["peers", TAILS[2], "--records", str(folder), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed["peers"] == list(told.peers)
    volts, own = (
        next(one for one in printed["measures"] if one["measure"] == "regulated_voltage"),
        next(one for one in told.measures if one.measure == "regulated_voltage"),
    )
    assert (volts["unit"], volts["level"]) == ("V", round(own.level, 4))
    assert volts["percentile"] == pytest.approx(own.percentile, abs=0.05)
    assert main(["peers", TAILS[2], "--records", str(folder)]) == 0
    assert "Beside 6 other aircraft of its kind (type 'two-seat trainer', 14 V" in " ".join(
        capsys.readouterr().out.split()
    )
    assert main(["repairs", "--records", str(folder)]) == 0
    text = capsys.readouterr().out
    assert "1 of 1" in text
    assert "voltage regulator adjusted" in text
    assert main(["repairs", "--records", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["outcomes"][0]["ended"] == 1
    assert main(["peers", "N0NONE", "--records", str(folder)]) == 2
