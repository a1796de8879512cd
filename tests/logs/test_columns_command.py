"""``taper columns``: exit status, document, table, and words for people."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import polars as pl
import pytest

from analyzer.cli import main
from analyzer.logs import ROLE_UNITS

KEYS = {
    *("source", "state", "because", "tail", "tail_from", "encoding", "delimiter", "decimal_mark", "header_row"),
    *("units_row", "rows", "rows_dropped", "clock", "columns", "unused", "warnings"),
}


@pytest.fixture
def flight(tmp_path: Path) -> Path:
    path = tmp_path / "N047KT_flight.csv"
    rows = [f"2026-03-04T09:00:{i:02d},{12.4 + i / 100:.2f},{60.0 + i},{i}" for i in range(60)]
    path.write_text("Timestamp,Volts (V),OAT (°F),Depth\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, dict]:
    status = main(["columns", *arguments, "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_the_document_has_every_key_of_the_contract(flight: Path, capsys):
    status, found = document(capsys, str(flight))
    assert status == 0
    assert found["contract"] == 1
    (log,) = found["logs"]
    assert log.keys() >= KEYS
    assert log["clock"].keys() == {"columns", "basis", "start", "utc_offset", "step_s"}
    assert [c["role"] for c in log["columns"]] == ["bus_voltage", "outside_air_temperature"]
    assert all(c.keys() == {"role", "name", "unit", "converted_from", "confidence", "why"} for c in log["columns"])
    assert log["columns"][1]["converted_from"] == "degF"
    assert log["unused"] == ["Depth"]
    assert (log["tail"], log["tail_from"]) == ("N047KT", "file name")


def test_a_refused_log_gives_status_1_and_the_others_are_reported(flight: Path, tmp_path: Path, capsys):
    (tmp_path / "empty.csv").write_bytes(b"")
    status, found = document(capsys, str(flight), str(tmp_path / "empty.csv"))
    assert status == 1
    assert [log["state"] for log in found["logs"]] == ["read", "refused"]
    assert "empty" in found["logs"][1]["because"]


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_the_table_holds_time_clock_and_one_column_a_role(flight: Path, tmp_path: Path, suffix: str, capsys):
    out = tmp_path / f"table.{suffix}"
    assert main(["columns", str(flight), "--table", str(out)]) == 0
    capsys.readouterr()
    table = pl.read_csv(out) if suffix == "csv" else pl.read_parquet(out)
    assert table.columns == ["time_s", "clock", "bus_voltage", "outside_air_temperature"]
    assert str(table["clock"][1]).replace(" ", "T").startswith("2026-03-04T09:00:01")
    assert table["outside_air_temperature"][0] == pytest.approx(15.556, abs=0.001)


def test_a_mapped_column_wins_and_is_sure(flight: Path, capsys):
    _, found = document(capsys, str(flight), "--map", "altitude=depth")
    column = next(c for c in found["logs"][0]["columns"] if c["role"] == "altitude")
    assert (column["name"], column["confidence"]) == ("Depth", 1.0)


def test_a_mapped_column_that_is_not_there_is_refused_with_the_nearest(flight: Path, capsys):
    status, found = document(capsys, str(flight), "--map", "bus_voltage=Vols")
    assert status == 1
    assert "'Volts (V)'" in found["logs"][0]["because"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--map", "bus_volts=Volts"], "bus_volts"),
        (["--map", "bus_voltage"], "ROLE=COLUMN"),
        (["--table", "out.xls"], ".parquet"),
    ],
)
def test_wrong_usage_gives_status_2_and_a_sentence(flight: Path, capsys, arguments: list[str], words: str):
    assert main(["columns", str(flight), *arguments]) == 2
    assert words in capsys.readouterr().err


def test_a_table_of_several_logs_is_wrong_usage(flight: Path, tmp_path: Path, capsys):
    assert main(["columns", str(flight), str(flight), "--table", str(tmp_path / "t.csv")]) == 2
    assert "one log" in capsys.readouterr().err


def test_words_for_people_name_each_role_and_why(flight: Path, capsys):
    assert main(["columns", str(flight)]) == 0
    said = capsys.readouterr().out
    for words in ("60 rows read", "N047KT", "'Volts (V)'", "from degF", "header says", "unused", "every 1 s"):
        assert words in said


def test_help_and_the_package_load_no_heavy_library():
    code = (
        "import sys, analyzer.logs, analyzer.cli\n"
        "try: analyzer.cli.main(['columns', '--help'])\n"
        "except SystemExit: pass\n"
        "print(sorted({'polars', 'numpy', 'scipy', 'dash'} & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    assert all(role in done.stdout for role in ROLE_UNITS)
