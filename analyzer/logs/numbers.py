"""Cells become numbers: decimal marks, thousands groups, units in the cell, marks of a missing reading."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from analyzer.logs.remembered import remembered
from analyzer.logs.words import unit_of, vocabulary

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

_NUMBER = re.compile(
    r"(?P<sign>[+\-−–]?)\s*(?P<digits>\d[\d.,'’ \u00a0\u202f\u2009]*|[.,]\d+)(?P<exponent>[eE][+\-]?\d+)?"
    r"\s*(?P<rest>.*)"
)
_SPACES = re.compile(r"[ \u00a0\u202f\u2009'’]")


#: No instrument shows more, not even a clock of nanoseconds since 1970.
LARGEST = 1e30


@remembered(65536)
def parse_cell(text: str, decimal_mark: str) -> float | str | None:
    """A cell's number; None when it says that there is no reading; the cell itself when it is other text.

    Understands signs before and after the number, brackets for minus, thousands groups of either kind
    and a unit behind the number.
    """
    cell = text.strip().strip('"').strip()
    if cell.lower() in vocabulary().missing:
        return None
    bracketed = cell.startswith("(") and cell.endswith(")")
    found = _NUMBER.fullmatch(cell[1:-1].strip() if bracketed else cell)
    if found is None:
        return text
    rest = found["rest"].strip()
    minus = bracketed or found["sign"] in ("-", "−", "–")
    if rest in ("-", "+", "−"):
        minus, rest = minus or rest != "+", ""
    if rest and not (unit_of(rest) and not any(c.isdigit() for c in rest.replace("2", ""))):
        return text
    digits = _plain_digits(found["digits"], decimal_mark)
    if digits is None:
        return text
    value = float(digits + (found["exponent"] or ""))
    if not abs(value) <= LARGEST:
        return text
    return -value if minus else value


def _plain_digits(digits: str, decimal_mark: str) -> str | None:
    """Digits without groups and with a point; None when the groups make no number."""
    digits = digits.strip()
    if _SPACES.search(digits):
        if not re.fullmatch(r"\d{1,3}(?:[ \u00a0\u202f\u2009'’]\d{3})+(?:[.,]\d+)?", digits):
            return None
        digits = _SPACES.sub("", digits)
    other = "." if decimal_mark == "," else ","
    if other in digits:
        whole = digits.split(decimal_mark)[0]
        groups = re.fullmatch(rf"\d{{1,3}}(?:{re.escape(other)}\d{{3}})+", whole)
        if groups:
            digits = digits.replace(other, "")
        elif digits.count(other) == 1 and decimal_mark not in digits:
            digits = digits.replace(other, decimal_mark)
        else:
            return None
    if digits.count(decimal_mark) > 1:
        return None
    return digits.replace(decimal_mark, ".").rstrip(".") or None


def unit_in_cell(text: str) -> str | None:
    """The unit written behind a cell's number, if any: ``"12.43 V"`` gives ``"V"``."""
    found = _NUMBER.fullmatch(text.strip())
    return unit_of(found["rest"]) if found and found["rest"].strip() else None


def to_numbers(cells: pl.Series, decimal_mark: str) -> tuple[NDArray[np.float64], list[tuple[int, str]]]:
    """Numbers of a column, and the cells that are other text, with their rows.

    Parameters
    ----------
    cells : Series of String or Float64, nulls allowed
    decimal_mark : "." or ","

    Returns
    -------
    array of float, NaN where there is no number and never infinite, which may be the series' own memory and is not
    to be written to; list of (row, cell).
    """
    import polars as pl

    if cells.dtype != pl.String:
        return _finite(cells.to_numpy()), []
    plain = cells
    if decimal_mark == ",":
        grouped = cells.str.contains(".", literal=True)
        plain = cells.str.replace(",", ".", literal=True)
        if grouped.any():
            plain = plain.set(grouped.fill_null(False), None)
    parsed = plain.str.strip_chars().cast(pl.Float64, strict=False)
    values = np.array(_finite(parsed.to_numpy()))  # a copy, for other ways of writing a number are filled in
    rows = np.flatnonzero(np.isnan(values) & cells.is_not_null().to_numpy())
    bad = []
    for row, text in zip(rows.tolist(), cells.gather(rows).to_list() if len(rows) else (), strict=True):
        number = parse_cell(text, decimal_mark)
        if isinstance(number, float):
            values[row] = number
        elif number is not None:
            bad.append((row, number))
    return values, bad


def _finite(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """The values with infinities and what no instrument shows made NaN; themselves where there is nothing such."""
    absurd = (values > LARGEST) | (values < -LARGEST)
    return np.where(absurd, np.nan, values) if absurd.any() else values
