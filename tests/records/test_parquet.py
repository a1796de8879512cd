"""The Parquet files that we write ourselves: read back by a library they hold every bit, and say the right things."""

from __future__ import annotations

import io

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from analyzer.records.parquet import parquet

NAT = np.datetime64("NaT", "us")


def read_back(data: bytes) -> pl.DataFrame:
    return pl.read_parquet(io.BytesIO(data))


def bits(values: NDArray[np.float64]) -> list[int]:
    numbers: list[int] = values.view(np.int64).tolist()
    return numbers


@given(
    st.lists(st.floats(allow_infinity=False) | st.just(-0.0), min_size=1, max_size=70),
    st.integers(min_value=1, max_value=300),
)
def test_every_bit_of_a_column_is_read_back_and_what_is_missing_is_null(few: list[float], times: int) -> None:
    values = np.array(few * times)
    there = ~np.isnan(values)
    column = read_back(parquet({"volts": values}, {}))["volts"]
    assert column.dtype == pl.Float64
    assert column.is_not_null().to_list() == there.tolist()
    assert bits(column.drop_nulls().to_numpy()) == bits(values[there])


@given(st.lists(st.none() | st.integers(min_value=-(10**15), max_value=4 * 10**15), min_size=1, max_size=100))
def test_moments_are_read_back_to_the_microsecond(drawn: list[int | None]) -> None:
    moments = np.array([NAT if one is None else np.datetime64(one, "us") for one in drawn])
    column = read_back(parquet({"clock": moments}, {}))["clock"]
    assert column.dtype == pl.Datetime("us")
    assert column.to_physical().to_list() == drawn


@pytest.mark.parametrize("columns", [1, 14, 15, 40])  # lists of up to 14 are written otherwise than longer ones
def test_columns_keep_their_names_and_order_and_the_file_what_it_tells(columns: int) -> None:
    table = {f"column {number} °": np.arange(3.0) + number for number in range(columns)}
    told = {f"key {number}": "words, ü, " + "x" * number * 20 for number in range(columns)}
    data = parquet(table, told)
    assert read_back(data).to_dict(as_series=False) == {name: values.tolist() for name, values in table.items()}
    assert pl.read_parquet_metadata(io.BytesIO(data)) == told
    assert parquet(table, told) == data


VALUES = np.array([3.0, np.nan, -2.0, 7.5, np.nan])
MOMENTS = np.array(["2026-03-01T10:00", NAT, "2026-03-01T09:00", "2026-03-01T11:30", NAT], "datetime64[us]")


@pytest.mark.parametrize("column", [VALUES, MOMENTS])
def test_a_reader_that_skips_by_smallest_and_largest_misses_no_row(column: NDArray[np.float64]) -> None:
    file = io.BytesIO(parquet({"x": column}, {}))
    smallest, largest = np.nanmin(column), np.nanmax(column)
    for asked, rows in (
        (pl.col("x") >= largest, 1), (pl.col("x") > largest, 0), (pl.col("x") <= smallest, 1),
        (pl.col("x") < smallest, 0), (pl.col("x").is_null(), 2), (pl.col("x").is_not_null(), 3),
    ):  # fmt: skip
        assert pl.scan_parquet(file).filter(asked).collect().height == rows


@pytest.mark.parametrize("zero", [0.0, -0.0])
def test_of_zeros_either_sign_is_found(zero: float) -> None:
    data = parquet({"x": np.full(4, zero)}, {})
    assert pl.scan_parquet(io.BytesIO(data)).filter(pl.col("x") == -zero).collect().height == 4
    largest, smallest = (b"\x08" + np.float64(one).tobytes() for one in (0.0, -0.0))
    assert b"\x28" + largest + b"\x18" + smallest in data  # fields 5 and 6 of the statistics, of eight bytes each


def test_a_column_without_any_value_is_read_back_so() -> None:
    nothing = {"volts": np.full(5, np.nan), "clock": np.full(5, NAT)}
    assert read_back(parquet(nothing, {})).null_count().row(0) == (5, 5)
    assert read_back(parquet({"volts": np.array([])}, {})).height == 0
