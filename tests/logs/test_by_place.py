"""Cells read by place are those that Polars reads, to the last digit; what is not plain is left to it."""

from __future__ import annotations

import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.logs import Log, find_logs, read_log
from analyzer.logs import body as body_module
from analyzer.logs import by_place as by_place_module
from analyzer.logs.body import prepare
from analyzer.logs.by_place import cells_by_place
from analyzer.logs.cells import parse_cells

PLAIN = st.from_regex(r"-?[0-9]{1,6}(\.[0-9]{1,6})?", fullmatch=True) | st.just("")
#: What is no plain decimal, though some of it is a number.
OTHER = ("+1", "1e3", "nan", "inf", " 1", "1 ", ".5", "5.", "-.5", "-", ".", "1.2.3", "--1", "1-", "12:30", "1_0", "x")


def body_of(rows: list[list[str]], end: str = "\n"):
    head = ",".join(f"c{i}" for i in range(len(rows[0]))) + end
    text = (head + "".join(",".join(row) + end for row in rows)).encode()
    return prepare(text, len(head), 1, ",", len(rows[0]))


@given(st.lists(st.tuples(PLAIN, PLAIN, PLAIN), min_size=2, max_size=40), st.sampled_from(["\n", "\r\n"]))
def test_plain_decimals_are_those_of_polars_to_the_last_bit(cells: list[tuple[str, str, str]], end: str) -> None:
    rows = [["x", *row] for row in cells]
    read = cells_by_place(body_of(rows, end), [1, 2, 3], [])
    assert read is not None
    for column, values in read[0].items():
        texts = pl.Series([row[column] or None for row in rows], dtype=pl.String)
        by_polars = texts.cast(pl.Float64).to_numpy()
        known = np.array([bool(row[column]) for row in rows])
        assert np.isnan(values[~known]).all()
        assert values[known].tobytes() == by_polars[known].tobytes()


@pytest.mark.parametrize("cell", OTHER)
def test_what_is_no_plain_decimal_is_left_to_polars(cell: str) -> None:
    assert cells_by_place(body_of([["x", "1.5"], ["x", cell], ["x", "-2.25"]]), [1], []) is None


@pytest.mark.parametrize("ends", [("\r\n", "\n"), ("\n", "\r\n")])
def test_rows_that_end_otherwise_than_the_first_are_left_to_polars(ends: tuple[str, str]) -> None:
    """Else a digit is cut off where there is no carriage return."""
    rows = [["x", "13.99"], ["x", "14.01"], ["x", "14.02"]]
    mixed = "c0,c1\n" + "".join(",".join(row) + ends[at == 1] for at, row in enumerate(rows))
    assert cells_by_place(prepare(mixed.encode(), len("c0,c1\n"), 1, ",", 2), [1], []) is None


@pytest.mark.parametrize("together", [1, 7, 499, 500])
def test_rows_looked_at_few_at_a_time_give_the_same_cells(together: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of each the first mark stands in one of four words of letters, so that some rows are looked along further."""
    rows = [
        [f"2026-01-02T03:04:{row % 60:02d}", "n" * (row * 37 % 250), f"{row / 7:.2f}", f"{-row}" if row % 9 else ""]
        for row in range(500)
    ]
    whole = cells_by_place(body_of(rows), [2, 3], [0])
    monkeypatch.setattr(by_place_module, "TOGETHER", together)
    pieces = cells_by_place(body_of(rows), [2, 3], [0])
    assert whole is not None
    assert pieces is not None
    assert all(np.array_equal(whole[0][i], pieces[0][i], equal_nan=True) for i in (2, 3))
    assert np.array_equal(whole[1][0], pieces[1][0])
    assert whole[0][2].tolist() == [float(row[2]) for row in rows]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("cells", [2, 7, 300])
def test_any_column_of_rows_of_uneven_length_is_found(cells: int, end: str) -> None:
    """Rows are looked at no further than the last column asked for, which may be the last one there is."""
    rows = [[str((row * cells + cell) ** (1 + row % 3)) for cell in range(cells)] for row in range(25)]
    for column in {0, 1, cells // 2, cells - 2, cells - 1}:
        read = cells_by_place(body_of(rows, end), [column], [])
        assert read is not None
        assert read[0][column].tolist() == [float(row[column]) for row in rows]


def test_rows_are_alike_only_where_each_has_as_many_cells() -> None:
    """Counted modulo 256 a row of 256 cells more would pass for one of none more."""
    rows = [["1"] * 300, ["1"] * 300, ["1"] * 300]
    assert body_of(rows).starts is not None
    assert body_of([rows[0], ["1"] * 556, ["1"] * 44]).starts is None


@given(st.lists(st.integers(1, 30), min_size=1, max_size=60), st.sampled_from([1, 90, 1 << 20]))
def test_rows_begin_where_the_lines_before_them_end(letters: list[int], shortest_chunk: int) -> None:
    """Rows of some letters and a comma, some too short for eight letters to hold one end of a line at most."""
    body = body_of([["x" * each, ""] for each in letters])
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(body_module, "CHUNK", max(shortest_chunk, 2 + max(letters)))
        again = body_of([["x" * each, ""] for each in letters])
    ends = np.cumsum([2 + each for each in letters])
    for one in (body, again):
        assert one.starts is not None
        assert (one.starts - one.start).tolist() == [0, *ends[:-1].tolist()]


def test_texts_asked_for_are_those_written() -> None:
    rows = [[f"0{row}:00", "1.0"] for row in range(9)]
    cells = parse_cells(body_of(rows), [1], [0], ".")
    assert 0 in cells.texts.letters
    assert cells.texts[0].to_list() == [row[0] for row in rows]
    keep = np.arange(9) % 2 == 0
    assert cells.texts.keep(keep)[0].to_list() == [row[0] for row in rows[::2]]


@pytest.mark.parametrize(("letters", "by_place"), [(0, True), (100, True), (20_000, False)])
def test_one_row_many_times_as_long_as_the_others_is_left_to_polars(letters: int, by_place: bool) -> None:
    """Else it would be looked along, word by word, for longer than Polars takes for all."""
    rows = [["2026-01-02 03:04:05", "n" * letters if row == 7 else "", f"{row}.5"] for row in range(1000)]
    body = body_of(rows)
    read = cells_by_place(body, [2], [])
    assert (read is not None) == by_place
    assert parse_cells(body, [2], [], ".").numbers[2].tolist() == [row + 0.5 for row in range(1000)]


@pytest.mark.parametrize(
    "stamp",
    [
        "%Y-%m-%dT%H:%M:%S",
        "%Y-%m-%d %H:%M:%S.%fZ",
        "%Y/%m/%d %H:%M",
        "%d.%m.%Y %H:%M:%S",
        "%Y-%m-%d,%H:%M:%S",
        "%Y/%m/%d,%H:%M:%S.%fZ",
        "%m/%d/%Y,%H:%M:%S",
    ],
)
def test_a_log_reads_the_same_by_place_and_by_polars(
    stamp: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begins = datetime(2026, 2, 27, 23, 50)
    amps = ["" if row % 50 == 3 else str(row % 90 - 40) for row in range(200)]
    times = [f"{begins + timedelta(seconds=60 * row):{stamp}}" for row in range(200)]
    head = "date,time" if "," in stamp else "time"
    rows = [f"{times[row]},{12.5 + row % 7 / 10:.1f},{amps[row]},{row}" for row in range(200)]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([f"{head},bus volts [V],battery amps [A],rpm", *rows, ""]))
    (source,) = find_logs([path])
    by_place = read_log(source)
    monkeypatch.setattr("analyzer.logs.cells.cells_by_place", lambda *_: None)
    by_polars = read_log(source)
    assert isinstance(by_place, Log)
    assert isinstance(by_polars, Log)
    assert by_place.table.equals(by_polars.table)
    told = [(log.clock, log.warnings, log.columns) for log in (by_place, by_polars)]
    assert told[0] == told[1]


@pytest.mark.parametrize(("head", "between"), [("time", "T"), ("date,time", ",")])
def test_a_review_of_a_plain_log_loads_no_polars(head: str, between: str, tmp_path: Path) -> None:
    rows = [
        f"2026-02-27{between}10:{row // 60:02d}:{row % 60:02d},{12.5 + row % 7 / 10:.1f},{row}" for row in range(600)
    ]
    path = tmp_path / "log.csv"
    path.write_text("\n".join([f"{head},bus volts [V],rpm", *rows, ""]))
    probe = (
        "import sys; from analyzer.logs import find_logs, read_log; from analyzer.review import review_log; "
        f"review_log(read_log(find_logs([{str(path)!r}])[0])); print('polars' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True).stdout == "False\n"
