"""Which delimiter and decimal mark a log uses, and how one of its lines falls into cells."""

from __future__ import annotations

import csv
import math
import re
from collections import Counter
from collections.abc import Sequence

from analyzer.logs.remembered import remembered

DELIMITERS = (",", ";", "\t", "|")
#: Lines looked at from the top, and about as many from below, to tell the delimiter.
MANY_LINES = 40
#: Stands for a line break inside a cell; counts as a blank.
LINE_BREAK = "\x1e"
#: What separates cells where no delimiter does: two blanks or more.
BLANKS = re.compile(r"[ \t]{2,}")


_DATA = re.compile(
    r"[+\-−(]?\s*[.,]?\d[\d.,:'/T\-+ \u00a0\u202f]*"
    r"(?:\s*[°º%µA-Za-z/²]{0,5}|\s?[AaPp]\.?[Mm]\.?|\s?(?:UTC|GMT|Z)|\s?[°º]\s?[CFK])?\)?"
    r"|\d{1,2}[-/. ]*[^\W\d]{3,10}\.?[-/., ]*\d{2,4}[ T,]*[\d:.]*(?:\s?[AaPp][Mm])?"
    r"|[^\W\d]{3,9}\.? \d{1,2},? \d{4}[ T,]*[\d:.]*(?:\s?[AaPp][Mm])?"
    r"|0[xX][0-9A-Fa-f]+"
)


@remembered(8192)
def is_data(cell: str) -> bool:
    """Whether a cell looks like a number, a number with its unit, a date or a time."""
    return _DATA.fullmatch(cell.strip().strip('"').strip()) is not None


def split_cells(line: str, delimiter: str) -> list[str]:
    """Cells of one line, quotes taken off; a line with an unpaired quote is split as if it had none."""
    if delimiter == " ":
        return BLANKS.split(line.strip())
    if '"' not in line:
        return line.split(delimiter)
    if line.count('"') % 2 == 0:
        line = line.replace("\n", LINE_BREAK).replace("\r", LINE_BREAK)
        try:
            return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error:  # a cell longer than the parser takes
            pass
    return line.replace('"', "").split(delimiter)


def sniff_delimiter(lines: Sequence[str]) -> str:
    """The delimiter under which lines are most regular and their cells most like data."""
    used = [line for line in lines if line and not line.isspace()]
    if len(used) > 2 * MANY_LINES:
        used = used[:MANY_LINES] + used[MANY_LINES :: len(used) // MANY_LINES]
    later = used[len(used) // 3 :]
    found = [delimiter for delimiter in DELIMITERS if any(delimiter in line for line in later)]
    if not found:
        return " " if _blanks_separate(used) else ","
    return found[0] if len(found) == 1 else max(found, key=lambda one: _delimiter_score(used, later, one))


def _delimiter_score(lines: list[str], later: list[str], delimiter: str) -> float:
    """How regular the later lines are under a delimiter that some of them hold, and how much like data their cells."""
    marks = [line.count(delimiter) for line in later]
    counts = Counter(marks)
    counts.pop(0, None)
    count, times = max(counts.items(), key=lambda item: (item[1], item[0]))
    regular = [line for line, found in zip(later, marks, strict=True) if found == count]
    samples = regular[:: max(1, len(regular) // 4)][:5]
    cells = [cell for line in samples for cell in split_cells(line, delimiter) if cell.strip()]
    data = sum(map(is_data, cells)) / max(1, len(cells))
    heads = any(
        abs(line.count(delimiter) - count) <= 1 and not is_data(split_cells(line, delimiter)[-1])
        for line in lines[:100]
        if delimiter in line
    )
    return times / len(later) * (0.1 + data) * (2.0 if heads else 1.0) * math.log2(2 + count)


def _blanks_separate(lines: list[str]) -> bool:
    widths = Counter(len(BLANKS.split(line.strip())) for line in lines)
    width, times = widths.most_common(1)[0] if widths else (1, 0)
    return width > 1 and times > 0.7 * len(lines)


def row_width(lines: Sequence[str], delimiter: str) -> int:
    """Cells of most lines; later lines count, for lead lines are often narrower."""
    later = [line for line in lines[len(lines) // 3 :] if line.strip()] or list(lines)
    widths = Counter(
        line.count(delimiter) + 1 if '"' not in line and delimiter != " " else len(split_cells(line, delimiter))
        for line in later
    )
    return max(widths.items(), key=lambda item: (item[1], item[0]))[0] if widths else 1


_COMMA_GROUPS = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+")
_POINT_GROUPS = re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+")
_WITH_COMMA = re.compile(r"[+-]?\s*\d*,\d+\b.*")
_WITH_POINT = re.compile(r"[+-]?\s*\d*\.\d+\b(?!\.).*")


def sniff_decimal_mark(rows: Sequence[Sequence[str]]) -> str:
    """``","`` when more cells of the sample rows are written with it than with a point.

    Groups of three digits could be either ("1,140" is 1140 or 1.14), so they hardly count.
    """
    comma = point = 0.0
    for row in rows:
        for raw in row:
            cell = raw.strip()
            if not cell[-1:].isdigit() and not is_data(cell):
                continue
            if "," in cell and "." in cell:
                if not re.fullmatch(r"[+-]?[\d.,]+", cell):
                    continue
                comma, point = (comma + 3, point) if cell.rindex(",") > cell.rindex(".") else (comma, point + 3)
            elif "," in cell and _WITH_COMMA.fullmatch(cell):
                comma += 0.01 if _COMMA_GROUPS.fullmatch(cell) else 1
            elif "." in cell and _WITH_POINT.fullmatch(cell) and cell.count(".") == 1:
                point += 0.01 if _POINT_GROUPS.fullmatch(cell) else 1
    return "," if comma > point else "."
