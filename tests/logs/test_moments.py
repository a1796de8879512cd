"""Dates, times of day and offsets as they are written, worked out by hand."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
import pytest

from analyzer.logs.moments import (
    Order,
    parse_date,
    parse_offset,
    parse_stamp,
    parse_time,
    seconds_of_day,
    shape,
    stamps,
)


@pytest.mark.parametrize(
    ("text", "seconds", "zone"),
    [
        ("00:00:00", 0.0, None),
        ("8:05", 29100.0, None),  # 8 h 5 min
        ("08:05:09.25", 29109.25, None),
        ("12:30 am", 1800.0, None),
        ("12:30 pm", 45000.0, None),
        ("1:02:03 PM", 46923.0, None),
        ("23h59m59s", 86399.0, None),
        ("080509", 29109.0, None),
        ("080509.5Z", 29109.5, 0.0),
        ("10:00:00 +05:30", 36000.0, 19800.0),
        ("10:00:00 -0330", 36000.0, -12600.0),
        ("10:00 UTC-5", 36000.0, -18000.0),
        ("24:00:00", 86400.0, None),
        ("23:59:60", 86400.0, None),  # a leap second
    ],
)
def test_a_time_of_day_is_so_many_seconds_with_its_offset(text: str, seconds: float, zone: float | None) -> None:
    assert parse_time(text) == (seconds, zone)
    assert seconds_of_day(pl.Series([text, text])).tolist() == [seconds, seconds], "read digit by digit"
    assert seconds_of_day(pl.Series([text, f" {text}", None])).tolist() == pytest.approx(
        [seconds, seconds, np.nan], nan_ok=True
    )


@pytest.mark.parametrize("text", ["25:00", "10:60", "10:00:61", "noon", ""])
def test_what_is_no_time_of_day_is_none(text: str) -> None:
    assert parse_time(text) is None


@pytest.mark.parametrize(
    ("text", "offset"),
    [
        ("Z", 0.0),
        ("UTC", 0.0),
        ("+01:00", 3600.0),
        ("-0500", -18000.0),
        ("−03:30", -12600.0),
        ("+05:45", 20700.0),
        ("GMT+2", 7200.0),
        ("5.5", 19800.0),  # hours up to 14
        ("-9,5", -34200.0),
        ("14", 50400.0),
        ("-300", -10800.0),  # with a sign hours and minutes
        ("300", 18000.0),  # without one minutes up to 840
        ("840", 50400.0),
        ("3600", 3600.0),  # seconds
        ("+15:00", None),  # no place on earth
        ("-50401", None),
        ("", None),
        ("EST5", None),
    ],
)
def test_an_offset_is_read_in_hours_minutes_or_seconds_by_its_size(text: str, offset: float | None) -> None:
    assert parse_offset(text) == offset


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("2026-05-09", "dmy", date(2026, 5, 9)),
        ("09/05/2026", "dmy", date(2026, 5, 9)),
        ("05/09/2026", "mdy", date(2026, 5, 9)),
        ("26/05/09", "ymd", date(2026, 5, 9)),
        ("9.5.79", "dmy", date(2079, 5, 9)),
        ("9.5.80", "dmy", date(1980, 5, 9)),  # of this century up to 79
        ("20260509", "dmy", date(2026, 5, 9)),
        ("9 May 2026", "dmy", date(2026, 5, 9)),
        ("May 9, 2026", "dmy", date(2026, 5, 9)),
        ("Sat, 9 May 26", "dmy", date(2026, 5, 9)),
        ("29.02.2024", "dmy", date(2024, 2, 29)),
        ("29.02.2026", "dmy", None),
        ("13/13/2026", "dmy", None),
    ],
)
def test_a_date_is_so_many_days_since_1970(text: str, order: Order, day: date | None) -> None:
    days = None if day is None else (day - date(1970, 1, 1)).days
    assert parse_date(text, order) == days
    stamped = parse_stamp(f"{text} 06:00:30+02:00", order)
    assert stamped == (None if days is None else (float(days), 21630.0, 7200.0))
    read, offset = stamps(pl.Series([f"{text} 06:00:30+02:00", f"{text} 06:00:31+02:00"]), order)
    if days is None:
        assert np.isnan(read).all()
    else:
        assert read.tolist() == [days * 86400.0 + 21630.0, days * 86400.0 + 21631.0]
        assert offset == 7200.0


def test_a_column_s_days_and_fractions_are_read_row_by_row_where_one_is_laid_out_otherwise() -> None:
    cells = pl.Series(["31.12.2025 23:59:59.5", "1.1.2026 0:00:00.25", "01.01.2026 00:00:01.0"])
    first = (date(2025, 12, 31) - date(1970, 1, 1)).days * 86400.0
    read, offset = stamps(cells, "dmy")
    assert read.tolist() == [first + 86399.5, first + 86400.25, first + 86401.0]
    assert offset is None


@pytest.mark.parametrize(
    ("cells", "most"),
    [
        (["10:00:00", "10:00:01", "7", "8", "9"], "number"),
        (["7", "10:00:00", "8", "10:00:01"], "number"),  # as many of either: the first one
        (["2026-05-09", "", "--", "2026-05-10", "x"], "date"),
        (["", "--"], None),
    ],
)
def test_a_column_has_the_shape_of_most_of_its_cells(cells: list[str], most: str | None) -> None:
    assert shape(cells) == most
