"""Logs that no recorder writes: each is answered by one plain sentence, read or refused."""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest

from analyzer.commands.columns import describe
from analyzer.contract_columns import understood_entry
from analyzer.logs import Log, Source
from analyzer.logs.log import RefusedError
from analyzer.logs.read import read_or_raise

ROWS = [f"2026-03-04 09:{i // 60:02d}:{i % 60:02d}" for i in range(200)]


def answered(source: Source) -> str:
    """What is said of a log; every fault of the reader shows."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            log = read_or_raise(source, {})
        except RefusedError as refused:
            return str(refused)
        assert understood_entry(log).state == "read"
        assert log.table["time_s"].is_sorted()
        return describe(log)


def test_logs_that_broke_the_reader_are_answered(shared: Path):
    files = sorted((shared / "hostile").glob("crash-*.csv"))
    assert len(files) >= 7
    for file in files:
        said = answered(Source(file.name, file))
        assert " rows read, " in said or said.endswith("."), file.name


def rows_of(read, header: str, row) -> Log:
    return read("\n".join([header, *(row(i) for i in range(200))]) + "\n")


@pytest.mark.parametrize("year", [1, 1583, 9999])
def test_a_clock_off_the_calendar_is_unreadable_and_the_rows_stay(read, year: int):
    log = rows_of(
        read, "Timestamp,Volts", lambda i: f"{f'{year:04d}' + ROWS[i][4:] if i == 50 else ROWS[i]},{12 + i % 9 / 10}"
    )
    assert log.rows == 200
    assert log.table["time_s"].to_list() == [float(i) for i in range(200)]
    assert any("no flight had" in w or "cannot be read" in w for w in log.warnings)


def test_elapsed_time_beyond_any_number_never_overflows(read):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        log = rows_of(read, "Elapsed,Volts", lambda i: f"{'9e307' if i in (0, 90) else i},{12 + i % 9 / 10}")
    assert log.rows == 200
    assert log.table["time_s"].to_list() == [float(i) for i in range(200)]


def test_a_header_wider_than_any_row_is_read_as_far_as_the_rows_go(read):
    log = rows_of(read, "Time,Amps,Volts,Batt Volts", lambda i: f"{ROWS[i][11:]},{i % 7}")
    assert log.rows == 200
    assert "ammeter_current" in log.roles


def test_a_cell_that_holds_the_separator_of_quoted_cells_is_one_cell(read):
    log = rows_of(
        read, "Time,Volts,Note,Amps", lambda i: f'{ROWS[i][11:]},12.4,"a, b","{i % 7}"' + ("\x1f" if i == 60 else "")
    )
    assert log.table["ammeter_current"][50] == 1.0
    assert log.rows >= 199


def test_columns_called_volts_that_read_like_none_are_refused_with_their_names(read):
    with pytest.raises(RefusedError, match=r"reads like a bus voltage.*'Volts \(V\)'.*--map bus_voltage=COLUMN"):
        rows_of(read, "Time,Volts (V)", lambda i: f"{ROWS[i][11:]},{1000 + i}")


def test_a_cell_over_two_lines_that_is_too_long_to_be_taken_as_quoted_stays_one_row(read):
    """A row may not come out as two: the readings of the rows behind it would stand one row off."""
    rows = [f'2026-05-02 10:00:{second:02},"14.{second:02}",ok' for second in range(20)]
    rows[7] = f'2026-05-02 10:00:07,"14.07","{"x" * 140_000}\nrest"'
    log = read("Time,Volts,Note\n" + "\n".join(rows) + "\n")
    assert log.table.height == 20
    assert log.table["bus_voltage"].to_list() == [round(14.0 + 0.01 * second, 2) for second in range(20)]
