"""Cells of rows that are all alike, read by where they stand: plain decimals and texts of one length.

Most logs hold nothing else in the columns that matter. What does is left to Polars, whose loading alone takes as long
as reviewing ten logs; both give the same numbers to the last digit.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analyzer.logs.body import Body

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Places = NDArray[np.int64]

#: Rows looked at together, as many as a processor's cache holds; and letters of each at a time, a bit of a word each.
TOGETHER, WORD = 1 << 13, 64
#: How many letters a row is looked along at most; beyond that Polars is sooner done with all.
FURTHEST = 1 << 14
ONE = np.uint64(1)
#: Letters of the longest number: a float holds the number without its point and the power of ten that it is divided
#: by, so that the quotient is the float nearest to what is written.
MOST_LETTERS = 15
POWERS = 10.0 ** np.arange(MOST_LETTERS)
#: Letters of the longest text read by place: a date and a time.
LONGEST_TEXT = 40
ZERO = np.uint8(ord("0"))
#: What the marks come out as where digits are 0 to 9.
POINT, MINUS = ord(".") - ord("0") + 256, ord("-") - ord("0") + 256


def cells_by_place(
    body: Body, numeric: Sequence[int], text: Sequence[int]
) -> tuple[dict[int, NDArray[np.float64]], dict[int, Bytes]] | None:
    """Some columns as numbers, NaN where a cell is empty, and some as letters, a row of them a place in the text.

    None where rows or cells are not alike enough.
    """
    if body.starts is None or body.is_long or any(column >= body.width for column in (*numeric, *text)):
        return None
    data = np.frombuffer(body.whole, dtype=np.uint8)
    places = _places(data, body.starts, body, [*text, *numeric])
    if places is None:
        return None
    letters, numbers = {}, {}
    for column in text:
        if (found := _letters(data, *places[column])) is None:
            return None
        letters[column] = found
    for column in numeric:
        if (values := _numbers(data, *places[column])) is None:
            return None
        numbers[column] = values
    return numbers, letters


def _places(data: Bytes, starts: Places, body: Body, columns: Sequence[int]) -> dict[int, tuple[Places, Places]] | None:
    """Where the cells of some columns begin and end; None where lines end, or are as long, otherwise than others."""
    line_ends = np.append(starts[1:], len(data)) - 1
    returns = data[line_ends - 1] == ord("\r")
    if returns.any() and not returns.all():
        return None
    edges = {-1: starts - 1, body.width - 1: line_ends - int(returns[0])}
    sought = sorted({edge for column in columns for edge in (column - 1, column)} - edges.keys())
    if sought:
        if (marks := _marks_of_rows(data, starts, ord(body.separator), sought)) is None:
            return None
        edges |= zip(sought, marks, strict=True)
    return {column: (edges[column - 1] + 1, edges[column]) for column in columns}


def _marks_of_rows(data: Bytes, starts: Places, mark: int, sought: Sequence[int]) -> Places | None:
    """Where some of the marks between the cells of each row stand, one row of places a mark; each row has them.

    Rows are looked along no further than to the last mark that is sought. None where that lies too far along one.
    """
    found = np.empty((len(sought), len(starts)), dtype=np.int64)
    for first in range(0, len(starts), TOGETHER):
        begins = starts[first : first + TOGETHER]
        at, ahead = begins.copy(), _marks_ahead(data, begins, mark)
        for number in range(sought[-1] + 1):
            passed = np.flatnonzero(ahead == 0)
            while passed.size:
                at[passed] += WORD
                if (at[passed] - begins[passed]).max() > FURTHEST:
                    return None
                ahead[passed] = _marks_ahead(data, at[passed], mark)
                passed = passed[ahead[passed] == 0]
            others = ahead & (ahead - ONE)
            if number in sought:
                letters_before = np.bitwise_count((ahead ^ others) - ONE)
                found[sought.index(number), first : first + TOGETHER] = at + letters_before
            ahead = others
    return found


def _marks_ahead(data: Bytes, places: Places, mark: int) -> NDArray[np.uint64]:
    """Which letters from some places on are marks: a word a place, the next letter its lowest bit."""
    if len(data) < WORD:
        data = np.pad(data, (0, WORD))
    within = np.minimum(places, len(data) - WORD)  # where the last words end with the text
    words = np.packbits(_pieces(data, within, WORD) == mark, bitorder="little").view(np.dtype("<u8"))
    return words >> (places - within).astype(np.uint64)


def _pieces(data: Bytes, starts: Places, length: int) -> Bytes:
    """As many letters from some places on, a row a place; each piece is taken as a whole, not letter by letter."""
    pieces = np.ndarray((len(data) - length + 1,), np.dtype((np.void, length)), data.data, strides=(1,))
    return pieces[starts].view(np.uint8).reshape(-1, length)


def _letters(data: Bytes, starts: Places, ends: Places) -> Bytes | None:
    """The letters of texts of one length, a row a place; None where they differ in length or are not ASCII."""
    length = int(ends[0] - starts[0])
    if not 0 < length <= LONGEST_TEXT or (ends - starts != length).any():
        return None
    letters = np.ascontiguousarray(_pieces(data, starts, length).T)
    return letters if letters.max() < 0x80 else None


def _numbers(data: Bytes, starts: Places, ends: Places) -> NDArray[np.float64] | None:
    """Plain decimals as ``-12.5``, NaN where a cell is empty; None where one is something else."""
    widths = ends - starts
    width, shortest = int(widths.max()), int(widths.min())
    if not width:
        return np.full(widths.size, np.nan)
    if width > MOST_LETTERS or ends[0] < width:
        return None
    digits = np.subtract(_pieces(data, ends - width, width).T, ZERO, order="C")
    for place in range(width - shortest):
        digits[place] *= widths >= width - place  # nothing before the cell's first letter
    if (marks := _marks(digits, widths)) is None:
        return None
    counts, minus, decimals = marks
    digits *= digits <= 9
    values = np.zeros(widths.size)
    for digit, counted in zip(digits, counts, strict=True):
        if counted.all():
            values *= 10.0
            values += digit
        elif counted.any():
            values = np.where(counted, values * 10.0 + digit, values)
    values /= POWERS[decimals]
    values = np.where(minus, -values, values)
    if not shortest:
        values[widths == 0] = np.nan
    return values


def _marks(digits: Bytes, widths: Places) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.int64]] | None:
    """Which letters are digits, which cells have a minus in front, and how many digits stand behind each one's point.

    A minus is told to be a digit too: a zero there changes nothing. None where there is another mark, or one where it
    does not belong: a point stands between two digits.
    """
    places, rows = digits.shape
    plain = digits <= 9
    counts = plain.copy()
    minus, pointed, decimals = np.zeros(rows, bool), np.zeros(rows, bool), np.zeros(rows, dtype=np.int64)
    for place in np.flatnonzero(~plain.all(axis=1)).tolist():
        sign, point, first = digits[place] == MINUS, digits[place] == POINT, widths == places - place
        alone = np.ones(rows, bool) if place == places - 1 else ~plain[place + 1]
        before = first if not place else first | ~plain[place - 1]
        if not (plain[place] | sign | point).all() or (sign & (alone | ~first)).any():
            return None
        if (point & (alone | before | pointed)).any():
            return None
        counts[place] |= sign
        minus |= sign
        pointed |= point
        decimals += point * (places - 1 - place)
    return counts, minus, decimals
