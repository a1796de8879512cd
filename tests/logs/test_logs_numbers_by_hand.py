"""Cells as people and recorders write them: each becomes the number that a reader of the cell would say, or none."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.logs.numbers import LARGEST, parse_cell, to_numbers, unit_in_cell

#: The cell, the mark of its decimals, and its number.
NUMBERS = {
    "plain": ("12.43", ".", 12.43),
    "decimal comma": ("12,43", ",", 12.43),
    "no whole part": (".5", ".", 0.5),
    "no whole part, comma": (",5", ",", 0.5),
    "nothing behind the mark": ("12.", ".", 12.0),
    "nothing behind the comma": ("12,", ",", 12.0),
    "in quotes and blanks": (' " 12.4 " ', ".", 12.4),
    "plus": ("+3.5", ".", 3.5),
    "minus": ("-3.5", ".", -3.5),
    "minus of typesetters": ("−3.5", ".", -3.5),
    "dash for minus": ("–3.5", ".", -3.5),
    "minus apart": ("- 3.5", ".", -3.5),
    "minus behind": ("3.5-", ".", -3.5),
    "typesetters' minus behind": ("3.5−", ".", -3.5),
    "plus behind": ("3.5+", ".", 3.5),
    "plus behind takes no minus away": ("-3.5+", ".", -3.5),
    "brackets for minus": ("(3.5)", ".", -3.5),
    "blanks within brackets": ("( 3.5 )", ".", -3.5),
    "power of ten": ("1.5e-2", ".", 0.015),
    "power of ten, capital": ("2E3", ".", 2000.0),
    "power of ten, comma": ("1,5e+1", ",", 15.0),
    "volts behind": ("12.43 V", ".", 12.43),
    "volts at once behind": ("12.43V", ".", 12.43),
    "degrees behind": ("-4 °C", ".", -4.0),
    "unit with a 2 in it": ("5.2 kg/cm2", ".", 5.2),
    "unit behind a comma's number": ("28,1 V", ",", 28.1),
    "thousands by comma": ("2,350", ".", 2350.0),
    "millions by comma": ("1,234,567.5", ".", 1234567.5),
    "thousands by point": ("2.350", ",", 2350.0),
    "millions by point": ("1.234.567,5", ",", 1234567.5),
    "thousands by blank": ("2 350", ".", 2350.0),
    "thousands by narrow blank": ("2\u202f350,5", ",", 2350.5),
    "thousands by hard blank": ("2\u00a0350", ".", 2350.0),
    "thousands by apostrophe": ("2'350.5", ".", 2350.5),
    "thousands by curved apostrophe": ("2’350", ".", 2350.0),
    "the other mark, two digits behind": ("12,43", ".", 12.43),
    "the other mark, four digits behind": ("12,4312", ".", 12.4312),
    "the other mark, four digits before": ("1234,567", ".", 1234.567),  # no group has four digits
    "point in a log of commas": ("12.43", ",", 12.43),
    "nothing": ("0", ".", 0.0),
    "the largest that is believed": ("1e30", ".", 1e30),
    "the largest below nothing": ("-1e30", ".", -1e30),
}
#: Cells that say that there is no reading.
MISSING = ("", "  ", "NaN", "n/a", "---", "null", '""')
#: The cell and the mark: other text, whose digits are not taken for a reading.
TEXTS = {
    "a word": ("OFF", "."),
    "a word behind": ("12.4 high", "."),
    "a number behind the unit": ("12.4 V 3", "."),
    "two numbers": ("12.4 13.1", "."),
    "two points": ("12.4.1", "."),
    "two commas": ("12,4,1", ","),
    "a group of two": ("1 35", "."),
    "a group of four digits in front": ("1234 567", "."),
    "groups behind the decimals": ("1.5,000", "."),
    "one bracket": ("(12.4", "."),
    "the other bracket": ("12.4)", "."),
    "beyond what any instrument shows": ("2e30", "."),
    "far below it": ("-2e30", "."),
    "a time of day": ("10:15", "."),
    "an exponent that no float holds": ("1e999", "."),
}


@pytest.mark.parametrize(("cell", "mark", "number"), NUMBERS.values(), ids=NUMBERS)
def test_a_cell_is_the_number_that_a_reader_would_say(cell: str, mark: str, number: float) -> None:
    """Volts ten times too high, or a discharge that reads as a charge, would be judged as a fault."""
    assert parse_cell(cell, mark) == number
    column, other = to_numbers(pl.Series([cell, "1", None]), mark)
    assert (column.tolist()[:2], other) == ([number, 1.0], []), "and the same within a column"
    assert np.isnan(column[2])


@pytest.mark.parametrize("cell", MISSING)
@pytest.mark.parametrize("mark", [".", ","])
def test_a_mark_of_a_missing_reading_is_none_and_no_fault(cell: str, mark: str) -> None:
    assert parse_cell(cell, mark) is None
    column, other = to_numbers(pl.Series(["12", cell]), mark)
    assert column[0] == 12.0
    assert np.isnan(column[1])
    assert other == []


@pytest.mark.parametrize(("cell", "mark"), TEXTS.values(), ids=TEXTS)
def test_other_text_is_told_with_its_row_and_never_half_read(cell: str, mark: str) -> None:
    assert parse_cell(cell, mark) == cell
    column, other = to_numbers(pl.Series(["12", "13", cell]), mark)
    assert column[:2].tolist() == [12.0, 13.0]
    assert np.isnan(column[2])
    assert other == [(2, cell)]


def test_a_column_of_numbers_stays_as_it_is_but_for_what_no_instrument_shows() -> None:
    """An infinity or a filler of 1e38 in one row would carry every mean of the flight away."""
    given_numbers = [12.4, np.inf, -np.inf, 1.0001e30, -1.0001e30, LARGEST, -LARGEST]
    column, other = to_numbers(pl.Series(given_numbers), ".")
    assert np.isnan(column).tolist() == [False, True, True, True, True, False, False]
    assert (column[0], column[5], column[6], other) == (12.4, 1e30, -1e30, [])


def test_one_row_with_groups_costs_the_other_rows_nothing() -> None:
    """In a log of decimal commas a point may be a group's: only rows that have one are read the slow way."""
    column, other = to_numbers(pl.Series(["999,5", "1.000,5", "1.001,5", None, "12,5"]), ",")
    assert column[[0, 1, 2, 4]].tolist() == [999.5, 1000.5, 1001.5, 12.5]
    assert np.isnan(column[3])
    assert other == []


@pytest.mark.parametrize(
    ("cell", "unit"),
    [("12.43 V", "V"), ("-4°C", "degC"), ("2350 rpm", "rpm"), ("12.43", None), ("12.43 ", None), ("OFF", None),
     ("12.4 high", None), ("", None)],
)  # fmt: skip
def test_the_unit_is_what_stands_behind_the_number(cell: str, unit: str | None) -> None:
    assert unit_in_cell(cell) == unit


@given(
    st.integers(-(10**9), 10**9),
    st.integers(0, 3),
    st.sampled_from([(".", ","), (",", "."), (".", " "), (",", " "), (".", "'"), (",", "\u202f")]),
    st.sampled_from(["{}", "{} V", " {}", '"{}"']),
)
def test_a_number_written_in_any_of_these_languages_comes_back(
    whole: int, decimals: int, marks: tuple[str, str], form: str
) -> None:
    """Written with a decimal mark and groups of three digits; the number is the integer over a power of ten."""
    decimal, group = marks
    number = whole / 10**decimals
    written = f"{number:,.{decimals}f}".replace(",", "\0").replace(".", decimal).replace("\0", group)
    assert parse_cell(form.format(written), decimal) == pytest.approx(number, rel=1e-15, abs=0.0)
