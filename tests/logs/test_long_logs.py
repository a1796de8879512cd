"""A long log is parsed in pieces and its readings are held once: nothing of what is read changes by that."""

from pathlib import Path

import numpy as np
import pytest

from analyzer.flights.trace import trace_of
from analyzer.logs import body, find_logs, read_log
from analyzer.logs.log import Log

ROWS = 400


@pytest.fixture
def log_file(tmp_path: Path) -> Path:
    """A log in which blanks, other text and a time that cannot be read stand in the middle."""
    lines = ["time,bus volts [V],battery amps [A],rpm"]
    for row in range(ROWS):
        volts, amps = f"{12.5 + row % 7 * 0.1:.1f}", "ERR" if row == 250 else f"{row % 11 - 4}.2"
        clock = "--:--:--" if row == 300 else f"10:{row // 60:02d}:{row % 60:02d}"
        lines.append(f"2026-05-01T{clock},{'' if row in (3, 260) else volts},{amps},{'' if row == 399 else 2300}")
    path = tmp_path / "N000XX.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def read(path: Path) -> Log:
    log = read_log(find_logs([path])[0])
    assert isinstance(log, Log)
    return log


@pytest.mark.parametrize("piece", [64, 1000, 5000, 11_000])
def test_pieces_read_as_the_whole(log_file: Path, monkeypatch: pytest.MonkeyPatch, piece: int) -> None:
    whole = read(log_file)
    monkeypatch.setattr(body, "PIECE", piece)
    parsed: list[int] = []
    parse_one = body._parsed
    monkeypatch.setattr(body, "_parsed", lambda text, *rest: parsed.append(len(text)) or parse_one(text, *rest))
    in_pieces = read(log_file)
    assert len(parsed) > (log_file.stat().st_size - 1) // piece > 0
    assert max(parsed) <= piece
    assert in_pieces.table.equals(whole.table)
    assert (in_pieces.warnings, in_pieces.breaks, in_pieces.clock) == (whole.warnings, whole.breaks, whole.clock)
    assert any("row 252: 'ERR'" in warning for warning in in_pieces.warnings)
    assert whole.table["battery_current"].null_count() == 1
    assert whole.table["bus_voltage"].null_count() == 2


def test_a_trace_takes_no_memory_beside_its_table(log_file: Path) -> None:
    log = read(log_file)
    trace = trace_of(log)
    assert trace.battery_current is not None
    assert np.shares_memory(trace.time, log.table["time_s"].to_numpy())
    assert not np.shares_memory(trace.battery_current, log.table["battery_current"].to_numpy())  # one is missing
    assert np.isnan(trace.battery_current[250])
    assert not np.isnan(np.delete(trace.battery_current, 250)).any()


def test_absurd_readings_are_blanked_in_the_trace_alone(log_file: Path) -> None:
    text = log_file.read_text().replace("ERR", "1e9").replace(",13.1,", ",-5.0,", 1)
    log_file.write_text(text)
    log = read(log_file)
    trace = trace_of(log)
    assert trace.battery_current is not None
    assert np.isnan(trace.battery_current[250])
    assert log.table["battery_current"][250] == 1e9
    assert np.isnan(trace.bus_voltage).sum() == log.table["bus_voltage"].null_count() + 1
    assert (log.table["bus_voltage"] == -5.0).sum() == 1
