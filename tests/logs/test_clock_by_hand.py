"""Clocks in every form that a spreadsheet or a recorder gives them, against Python's own calendar.

Each log is written from known moments; what is read back must be those moments. A clock that is read in the wrong unit
makes a flight of a day out of one of an hour, and one in the wrong zone puts it on another day.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.logs.clock import over_midnight
from analyzer.logs.log import Log
from analyzer.logs.moments import DAY, Order, date_order, days

MORNING = datetime(2026, 5, 9, 10, 15, 30)
#: The day that spreadsheets count as 0, so that 1 January 1970 is 25569.
SPREADSHEET = datetime(1899, 12, 30)
ROWS = 60

Written = Callable[[datetime, float, int], str]  # a moment, seconds since the first row and the row -> its cells


def log_of(read, head: str, cells: Written, begins: datetime = MORNING, step_s: float = 1.0, above: str = "") -> Log:
    """A log of readings that move, a row every so many seconds."""
    rows = []
    for row in range(ROWS):
        clock = cells(begins + timedelta(seconds=row * step_s), row * step_s, row)
        rows.append(f"{clock},{12.1 + row % 7 / 10:.1f},{row % 9 - 2}")
    return read(above + "\n".join([f"{head},Volts,Amps", *rows]) + "\n")


def serial(at: datetime) -> float:
    return (at - SPREADSHEET) / timedelta(days=1)


def fraction(at: datetime) -> float:
    return serial(at) % 1.0


def epoch(at: datetime) -> int:
    return int(at.replace(tzinfo=UTC).timestamp())


DATED: dict[str, tuple[str, Written]] = {
    "spreadsheet day and fraction in two columns": (
        "Date,Time",
        lambda at, *_: f"{int(serial(at))},{fraction(at):.8f}",
    ),
    "spreadsheet day with its fraction": ("Timestamp", lambda at, *_: f"{serial(at):.7f}"),
    "digits yyyymmdd and hhmmss": ("Date,Time", lambda at, *_: f"{at:%Y%m%d},{at:%H%M%S}"),
    "digits ddmmyy and hhmmss": ("Date,Time", lambda at, *_: f"{at:%d%m%y},{at:%H%M%S}"),
    "digits yyyymmddhhmmss": ("Timestamp", lambda at, *_: f"{at:%Y%m%d%H%M%S}"),
    "seconds since 1970": ("Epoch", lambda at, *_: f"{epoch(at)}"),
    "milliseconds since 1970": ("Epoch", lambda at, *_: f"{epoch(at)}000"),
    "microseconds since 1970": ("Timestamp", lambda at, *_: f"{epoch(at)}000000"),
    "nanoseconds since 1970": ("Timestamp", lambda at, *_: f"{epoch(at)}000000000"),
    "six columns": (
        "Year,Month,Day,Hour,Minute,Second",
        lambda at, *_: f"{at.year},{at.month},{at.day},{at.hour},{at.minute},{at.second}",
    ),
    "six columns, a year of two digits": (
        "Year,Month,Day,Hour,Minute,Second",
        lambda at, *_: f"{at:%y},{at.month},{at.day},{at.hour},{at.minute},{at.second}",
    ),
    "a date and three columns": (
        "Date,Hour,Minute,Second",
        lambda at, *_: f"{at:%Y-%m-%d},{at.hour},{at.minute},{at.second}",
    ),
    "a date and a time": ("Date,Time", lambda at, *_: f"{at:%d.%m.%Y},{at:%H:%M:%S}"),
    "one text": ("Timestamp", lambda at, *_: f"{at:%Y-%m-%dT%H:%M:%S}"),
    "twelve hours": ("Timestamp", lambda at, *_: f"{at:%Y-%m-%d %I:%M:%S %p}"),
}
BEGINS = {
    "in the morning": MORNING,
    "over noon": datetime(2026, 5, 9, 11, 59, 50),
    "over midnight": datetime(2026, 5, 9, 23, 59, 40),
    "over the new year": datetime(2025, 12, 31, 23, 59, 40),
    "into a leap day": datetime(2024, 2, 28, 23, 59, 40),
    "out of a leap day": datetime(2024, 2, 29, 23, 59, 40),
    "past a leap day that is none": datetime(2026, 2, 28, 23, 59, 40),
}


@pytest.mark.parametrize("begins", BEGINS.values(), ids=BEGINS)
@pytest.mark.parametrize("form", DATED)
def test_a_dated_clock_shows_the_moments_that_were_written(read, form: str, begins: datetime) -> None:
    log = log_of(read, *DATED[form], begins)
    moments = log.table["clock"].to_list()
    assert moments == [begins + timedelta(seconds=row) for row in range(ROWS)]
    assert log.table["time_s"].to_list() == pytest.approx(np.arange(ROWS), abs=1e-6)
    assert (log.clock.start, log.breaks) == (begins.isoformat(), ())


@pytest.mark.parametrize(
    ("name", "per_second"), [("Milliseconds", 1000), ("Hundredths", 100)], ids=["thousandths", "hundredths"]
)
def test_fractions_of_a_second_in_a_column_of_their_own_count_by_its_size(read, name: str, per_second: int) -> None:
    def cells(at: datetime, *_) -> str:
        return f"{at:%Y-%m-%d},{at.hour},{at.minute},{at.second},{at.microsecond * per_second // 10**6}"

    log = log_of(read, f"Date,Hour,Minute,Second,{name}", cells, step_s=0.25)
    assert log.table["time_s"].to_list() == pytest.approx(np.arange(ROWS) / 4.0, abs=1e-6)


def elapsed(unit_s: float, digits: int) -> Written:
    return lambda _at, since, _row: f"{since / unit_s:.{digits}f}"


ELAPSED: dict[str, tuple[str, Written]] = {
    "seconds": ("Elapsed (s)", elapsed(1.0, 2)),
    "milliseconds": ("Elapsed (ms)", elapsed(1e-3, 0)),
    "minutes": ("Elapsed (min)", elapsed(60.0, 7)),
    "hours": ("Elapsed (h)", elapsed(3600.0, 9)),
    "seconds, no unit": ("Elapsed", elapsed(1.0, 2)),
    "milliseconds, no unit": ("Elapsed", elapsed(1e-3, 0)),
    "minutes, no unit": ("Elapsed", elapsed(60.0, 7)),
    "hours, no unit": ("Elapsed", elapsed(3600.0, 9)),
    "days, no unit": ("Elapsed", elapsed(86400.0, 10)),
    "minutes and seconds": ("Elapsed", lambda _at, s, _row: f"{int(s) // 60}:{s % 60:05.2f}"),
    "hours, minutes and seconds": (
        "Elapsed", lambda _at, s, _row: f"{int(s) // 3600}:{int(s) // 60 % 60:02d}:{s % 60:05.2f}",
    ),
}  # fmt: skip


@pytest.mark.parametrize("step_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("form", ELAPSED)
def test_elapsed_time_counts_in_the_unit_that_was_written(read, form: str, step_s: float) -> None:
    """A log of hours that is taken for one of days lasts 24 times too long, and so does all that it tells."""
    log = log_of(read, *ELAPSED[form], step_s=step_s)
    assert log.table["time_s"].to_list() == pytest.approx(np.arange(ROWS) * step_s, abs=0.02)
    assert log.clock.start is None


@pytest.mark.parametrize(
    ("above", "unit_s"),
    [("Interval: 1 s\n", 1.0), ("Interval: 60 s\n", 60.0), ("Interval: 1 ms\n", 0.001), ("Interval: 3600 s\n", 3600.0)],
)
def test_elapsed_time_in_no_unit_counts_in_the_one_that_a_line_above_makes_likely(read, above: str, unit_s) -> None:
    log = log_of(read, "Elapsed", lambda _at, _since, row: f"{row}", above=above)
    assert log.table["time_s"].to_list() == pytest.approx(np.arange(ROWS) * unit_s)


@pytest.mark.parametrize(
    ("begins_s", "cells"),
    [
        (
            3590.0,
            lambda _at, s, _row: f"{int(s + 3590) // 3600}:{int(s + 3590) // 60 % 60:02d}:{(s + 3590) % 60:02.0f}",
        ),
        (3590.0, lambda _at, s, _row: f"{int(s + 3590) // 60}:{(s + 3590) % 60:02.0f}"),
        (30.0, lambda _at, s, _row: f"{int(s + 30) // 60}:{(s + 30) % 60:02.0f}"),
    ],
    ids=["hours, minutes and seconds", "minutes past 59", "minutes and seconds"],
)
def test_elapsed_time_as_text_runs_on_past_an_hour_and_counts_from_the_start_above(read, begins_s, cells) -> None:
    log = log_of(read, "Elapsed", cells, above="Start: 2026-05-09 10:15:30\n")
    first = MORNING + timedelta(seconds=begins_s)
    assert log.table["clock"].to_list() == [first + timedelta(seconds=row) for row in range(ROWS)]


def test_a_fraction_of_a_day_that_begins_at_any_other_time_is_a_time_of_day(read) -> None:
    log = log_of(read, "Time", lambda at, *_: f"{fraction(at):.8f}")
    assert log.table["time_s"].to_list() == pytest.approx(np.arange(ROWS), abs=1e-6)
    assert log.clock.basis == "fraction of a day"


@pytest.mark.parametrize(
    ("above", "step_s"),
    [("Interval: 0.5 s\n", 0.5), ("Interval (ms): 250\n", 0.25), ("Interval: 2\n", 2.0),
     ("Rate: 4 Hz\n", 0.25), ("Rate (Hz): 4\n", 0.25), ("Rate: 0.004 kHz\n", 0.25),
     ("Rate (kHz): 0.004\n", 0.25), ("Rate: 250 ms\n", 0.25), ("Rate: 2 s\n", 2.0), ("", 1.0)],
)  # fmt: skip
def test_rows_that_are_only_counted_stand_as_far_apart_as_a_line_above_says(read, above: str, step_s: float) -> None:
    log = log_of(read, "Row", lambda _at, _since, row: f"{row + 1}", above=above)
    assert log.table["time_s"].to_list() == pytest.approx(np.arange(ROWS) * step_s)
    assert any("a step of 1 s was assumed" in one for one in log.warnings) is (not above)


START_LINES = {
    "one line": ("Start: 2026-05-09 10:15:30\n", True),
    "two lines": ("Start Date: 2026-05-09\nStart Time: 10:15:30\n", True),
    "day first, told by the point": ("Start: 09.05.2026 10:15:30\n", True),
    "day first or month first": ("Start: 09/05/2026 10:15:30\n", False),
}
COUNTING: dict[str, tuple[str, Written]] = {
    "elapsed from 0": ("Elapsed (s)", elapsed(1.0, 0)),
    "elapsed from 100 s": ("Elapsed (s)", lambda _at, since, _row: f"{since + 100.0:.0f}"),
    "rows from 1": ("Row", lambda _at, _since, row: f"{row + 1}"),
}


@pytest.mark.parametrize(("above", "certain"), START_LINES.values(), ids=START_LINES)
@pytest.mark.parametrize("form", COUNTING)
def test_a_start_above_the_header_dates_what_only_counts(read, form: str, above: str, certain: bool) -> None:
    """Elapsed time counts from the start, and so do its first rows where it begins later; rows begin with the first."""
    log = log_of(read, *COUNTING[form], above=above)
    late = 100 if form == "elapsed from 100 s" else 0
    first = MORNING + timedelta(seconds=late)
    assert log.table["clock"].to_list() == [first + timedelta(seconds=row) for row in range(ROWS)]
    assert any("day first or month first" in one for one in log.warnings) is not certain


@pytest.mark.parametrize(
    ("begins", "last"),
    [(datetime(2024, 2, 28, 23, 59, 40), datetime(2024, 2, 29, 0, 0, 39)),
     (datetime(2026, 2, 28, 23, 59, 40), datetime(2026, 3, 1, 0, 0, 39)), (MORNING, datetime(2026, 5, 9, 10, 16, 29))],
    ids=["into a leap day", "into March", "within a day"],
)  # fmt: skip
def test_a_date_above_the_header_moves_on_at_midnight(read, begins: datetime, last: datetime) -> None:
    log = log_of(read, "Time", lambda at, *_: f"{at:%H:%M:%S}", begins, above=f"Date: {begins:%d.%m.%Y}\n")
    assert (log.table["clock"][0], log.table["clock"][-1]) == (begins, last)


#: Offsets that are in use, in minutes; the furthest two are those of Hawaii and of New Zealand's summer.
OFFSETS = {"+05:30": 330, "-03:30": -210, "+12:00": 720, "+12:45": 765, "+13:00": 780, "-10:00": -600, "+00:00": 0}


@pytest.mark.parametrize(("offset", "minutes"), OFFSETS.items())
@pytest.mark.parametrize(
    "begins", [MORNING, datetime(2026, 5, 9, 23, 59, 40), datetime(2026, 5, 9, 23, 59, 30)],
    ids=["morning", "over midnight", "midnight in the middle"],
)  # fmt: skip
def test_the_offset_is_local_time_less_utc(read, offset: str, minutes: int, begins: datetime) -> None:
    """Whether it stands in a column, behind each time, or shows from a second clock in UTC, also over midnight."""
    apart = timedelta(minutes=minutes)
    forms: dict[str, Written] = {
        "Local Date,Local Time,UTC Time": lambda at, *_: f"{at:%Y-%m-%d},{at:%H:%M:%S},{at - apart:%H:%M:%S}",
        "Local Timestamp,UTC Timestamp": lambda at, *_: f"{at:%Y-%m-%d %H:%M:%S},{at - apart:%Y-%m-%d %H:%M:%S}",
        "Date,Time,UTC Offset": lambda at, *_: f"{at:%Y-%m-%d},{at:%H:%M:%S},{offset}",
        "Timestamp": lambda at, *_: f"{at:%Y-%m-%dT%H:%M:%S}{offset}",
    }
    for head, cells in forms.items():
        log = log_of(read, head, cells, begins)
        assert (log.clock.utc_offset, log.clock.start) == (offset, begins.isoformat()), head


@pytest.mark.parametrize("utc_rows_before_midnight", [1, 29, 30, 31, 59])
@pytest.mark.parametrize("behind_s", [-20, 0, 20])
def test_the_offset_holds_wherever_utc_passes_midnight_and_though_the_clocks_are_not_quite_one(
    read, utc_rows_before_midnight: int, behind_s: int
) -> None:
    utc = datetime(2026, 5, 10) - timedelta(seconds=utc_rows_before_midnight)

    def cells(at: datetime, *_) -> str:
        return f"{at:%Y-%m-%d},{at:%H:%M:%S},{at - timedelta(hours=2, seconds=behind_s):%H:%M:%S}"

    log = log_of(read, "Local Date,Local Time,UTC Time", cells, utc + timedelta(hours=2, seconds=behind_s))
    assert log.clock.utc_offset == "+02:00"


@pytest.mark.parametrize(("apart_s", "offset"), [(7229, "+02:00"), (7230, None), (7171, "+02:00"), (7170, None)])
def test_clocks_half_a_minute_from_a_quarter_of_an_hour_apart_tell_no_offset(read, apart_s: int, offset) -> None:
    def cells(at: datetime, *_) -> str:
        return f"{at:%Y-%m-%d},{at:%H:%M:%S},{at - timedelta(seconds=apart_s):%H:%M:%S}"

    assert log_of(read, "Local Date,Local Time,UTC Time", cells).clock.utc_offset == offset


#: Dates, hints, the day that the file's name gives, and what comes first with whether anything told it.
ORDERS: dict[str, tuple[list[str], str, datetime | None, Order, bool]] = {
    "the year": (["2026-05-09"], "", None, "ymd", True),
    "a first number of 13": (["13/05/2026"], "", None, "dmy", True),
    "a second number of 13": (["05/13/2026"], "", None, "mdy", True),
    "no number above 12": (["12/05/2026"], "", None, "dmy", False),
    "one row of many": (["05/12/2026"] * 5 + ["05/13/2026"], "", None, "mdy", True),
    "a first number of 32": (["32/05/09"], "", None, "ymd", True),
    "a first number of 31": (["31/05/09"], "", None, "dmy", True),
    "the first moves": (["01/02/2026", "02/02/2026"], "", None, "dmy", True),
    "the second moves": (["02/01/2026", "02/02/2026"], "", None, "mdy", True),
    "both move": (["01/01/2026", "02/02/2026"], "", None, "dmy", False),
    "a pattern above, day first": (["01/02/2026"], "date dd/mm/yyyy", None, "dmy", True),
    "a pattern above, month first": (["01/02/2026"], "date mm/dd/yyyy", None, "mdy", True),
    "a German pattern": (["01/02/2026"], "tt/mm/jjjj", None, "dmy", True),
    "the year first in two digits": (["26/05/09"], "yy-mm-dd", None, "ymd", True),
    "the file's name, day first": (["09/05/2026"], "", datetime(2026, 5, 9), "dmy", True),
    "the file's name, month first": (["05/09/2026"], "", datetime(2026, 5, 9), "mdy", True),
    "another day in the file's name": (["05/09/2026"], "", datetime(2026, 5, 10), "dmy", False),
    "points": (["05.09.2026"], "", None, "dmy", True),
    "twelve hours beside it": (["05/09/2026"], "10:15 am", None, "mdy", False),
    "twelve hours in it": (["05/09/2026 10:15:30 p.m"], "", None, "mdy", False),
    "blank rows": (["", "13/05/2026"], "", None, "dmy", True),
}


@pytest.mark.parametrize(("cells", "hints", "named", "order", "told"), ORDERS.values(), ids=ORDERS)
def test_which_of_day_and_month_comes_first(
    cells: list[str], hints: str, named: datetime | None, order: Order, told: bool
) -> None:
    """Taken the wrong way round, a flight of 5 September stands on 9 May, and a trend runs back and forth."""
    day = None if named is None else (named - datetime(1970, 1, 1)).days
    assert date_order(pl.Series(cells), hints, day) == (order, told)


def test_a_column_of_dates_is_a_column_of_days_and_what_is_none_stays_none() -> None:
    """20582 days from 1 January 1970 to 9 May 2026: 56 years of 365 days, 14 leap days of 1972 to 2024, 128 days."""
    assert days(pl.Series(["09.05.2026"] * 3), "dmy").tolist() == [20582.0] * 3
    mixed = days(pl.Series(["09.05.2026", None, '"10.05.2026"', "30.02.2026"]), "dmy")
    assert mixed[[0, 2]].tolist() == [20582.0, 20583.0]
    assert np.isnan(mixed[[1, 3]]).all()
    assert np.isnan(days(pl.Series(["no date"] * 2), "dmy")).all()


@given(
    st.integers(0, 86399),
    st.lists(st.one_of(st.integers(1, 11 * 3600), st.none()), max_size=30),
)
def test_a_time_of_day_runs_on_over_any_midnight(begins: int, steps: list[int | None]) -> None:
    """Any times less than half a day apart, blank rows among them, come back from what a clock shows of them."""
    at, true = float(begins), [float(begins)]
    for step in steps:
        at += step or 0
        true.append(np.nan if step is None else at)
    shown = np.mod(true, DAY)
    assert np.array_equal(over_midnight(shown, DAY), true, equal_nan=True)
