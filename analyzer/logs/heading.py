"""What stands above the readings: metadata, rows of groups, names and units."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

from msgspec import Struct

from analyzer.corrections import rests_on_corrections
from analyzer.logs.dialect import is_data, split_cells
from analyzer.logs.remembered import HEADS, remembered
from analyzer.logs.tail import registration
from analyzer.logs.words import meaning, split_words, unit_of, vocabulary

MAX_JOINED_LINES = 400  # of one row whose quoted cells hold line breaks
SHORTEST_NAME = 4  # letters of a word that is a unit too and may be a name: "Hour", "Volts"
SURE_READINGS = 4  # rows of readings in a row below a header, after which none is looked for
WORDS_SHARE = 0.6  # of a row's cells that must be words for it to be the header
UNITS_SHARE = 0.6  # of a row's cells that must be units for it to be the units row
_NOTHING = frozenset({"neutral", "first", "second", "load"})  # concepts that make no header by themselves


class HeadRow(Struct, frozen=True, dict=True):
    """A row of the file's head: the line it begins on (from 0), the lines it takes, its cells."""

    line: int
    lines: int
    cells: tuple[str, ...]

    @cached_property
    def filled(self) -> list[str]:
        """Cells that say something."""
        return [cell for cell in self.cells if cell]


class Heading(Struct, frozen=True):
    """The header and what belongs to it."""

    names: tuple[str, ...]  # as written, line breaks made blanks; "" where nameless
    units: tuple[str, ...]  # of the units row, "" where it says nothing
    groups: tuple[str, ...]
    header_row: int  # from 1
    units_row: int | None
    body_line: int  # line on which the readings begin, from 0
    metadata: tuple[str, ...]  # lines above the header


def head_rows(lines: Sequence[str], delimiter: str) -> Iterator[HeadRow]:
    """Rows of the head, one at a time; quoted cells may hold line breaks."""
    at = 0
    while at < len(lines):
        taken = _lines_of_row(lines, at, delimiter)
        cells = split_cells("\n".join(lines[at : at + taken]), delimiter)
        yield HeadRow(at, taken, tuple([" ".join(cell.split()) for cell in cells]))
        at += taken


def _lines_of_row(lines: Sequence[str], at: int, delimiter: str) -> int:
    """Lines that one row takes: more than one while a quote stays open, if it closes soon."""
    quotes = lines[at].count('"')
    if quotes % 2 == 0:
        return 1
    usual = max(3, lines[at].count(delimiter))
    for following in range(at + 1, min(at + MAX_JOINED_LINES, len(lines))):
        quotes += lines[following].count('"')
        if quotes % 2 == 0:
            return following - at + 1
        if lines[following].count(delimiter) >= usual and '"' not in lines[following]:
            return 1  # a whole row of its own: the quote was a stray one
    return 1


def find_heading(lines: Sequence[str], delimiter: str, width: int) -> Heading | None:
    """The header among the first lines of a log, or None when no row can be one.

    The header is the row of words, about as wide as the readings' rows, most of whose words are known
    from recorder headers; nothing that looks like readings may stand between it and a later candidate.
    """
    rows: list[HeadRow] = []
    best, best_score, readings = -1, 0.0, 0
    for row in head_rows(lines, delimiter):
        rows.append(row)
        data = sum(map(is_data, row.filled))
        readings = readings + 1 if _is_data_row(row, width, data) else 0
        if best_score >= 1.0 and readings >= SURE_READINGS:
            break
        words_enough = len(row.filled) - data >= WORDS_SHARE * len(row.filled)
        as_wide = 0.6 * width <= len(row.cells) <= width + 2
        score = _header_score(row.cells, width) if words_enough and as_wide else 0.0
        if score > 0 and score >= best_score and not (best >= 0 and _repeats(row, rows[best])):
            best, best_score = len(rows) - 1, score
    if best < 0:
        return None
    header = rows[best]
    after = [row for row in rows[best + 1 :] if row.filled]
    before = [row for row in rows[:best] if row.filled]
    below = _units_row(after[:1], width)
    above = _units_row(before[-1:], width)
    if above is None and below is None and len(before) > 1 and _is_group_row(before[-1], header):
        above = _units_row(before[-2:-1], width)
    units = below or above
    body = _body_line(after, units, header)
    names = tuple(_clean(name) for name in header.cells)
    groups = _groups([row for row in before if row is not units], header)
    return Heading(
        names=names,
        units=_fitted(tuple(map(_clean, units.cells)) if units else (), len(names)),
        groups=_fitted(groups, len(names)),
        header_row=header.line + 1,
        units_row=units.line + 1 if units else None,
        body_line=body,
        metadata=tuple(lines[: header.line]),
    )


def _repeats(row: HeadRow, header: HeadRow) -> bool:
    """Whether a comment line says the header once more that stands above it."""
    if not row.filled or not row.filled[0].startswith("#") or header.filled[0].startswith("#"):
        return False
    return [_clean(cell) for cell in row.filled] == [_clean(cell) for cell in header.filled]


@remembered(8192)
def _clean(cell: str) -> str:
    return cell.strip().lstrip("#\ufeff").strip().strip('"').strip()


def _fitted(cells: tuple[str, ...], width: int) -> tuple[str, ...]:
    return (cells + ("",) * width)[:width]


def _is_data_row(row: HeadRow, width: int, data: int) -> bool:
    """Whether a row is one of readings, of whose cells ``data`` look like some."""
    filled = row.filled
    if len(row.cells) < 0.6 * width or not data:
        return False
    if data >= 0.5 * len(filled):
        return True
    marks = vocabulary().missing
    return sum(1 for cell in filled if is_data(cell) or cell.lower() in marks) >= 0.5 * len(filled)


@rests_on_corrections
@remembered(HEADS)
def _header_score(cells: tuple[str, ...], width: int) -> float:
    """How much a row looks like the header: known words, and more for words of volts and amperes."""
    filled = [cell for cell in map(_clean, cells) if cell]
    if not filled or len(filled) < min(3, width - 1) or max(map(len, filled)) > 120:
        return 0.0
    words = [cell for cell in filled if not is_data(cell)]
    if len(words) < WORDS_SHARE * len(filled):
        return 0.0
    if any(registration(word) and not meaning(word).concepts - _NOTHING for word in words):
        return 0.0  # a line of metadata; a turbine's "N2" is no registration
    distinct = len(set(words)) / len(words)
    if _units_share(filled) >= UNITS_SHARE and len(filled) > 1 and not any(map(_names_a_clock, filled)):
        names = sum(1 for cell in filled if len(cell) >= SHORTEST_NAME and meaning(cell).concepts - _NOTHING)
        if distinct < 1 or names < 0.5 * len(filled):
            return 0.01  # a row of units: a header only if nothing better comes
    score = 0.0
    for cell in words:
        said = meaning(cell)
        if said.concepts - _NOTHING or said.unit:
            score += (3.0 if "voltage" in said.quantities else 1.0) / (1 + len(said.unexplained))
    return score * distinct


def _names_a_clock(cell: str) -> bool:
    """Whether a cell is called "Time" or the like, as no unit is."""
    return bool(vocabulary().concepts.get(split_words(cell), frozenset()) & {"time", "date", "timestamp"})


def _units_share(cells: Sequence[str]) -> float:
    filled = [cell for cell in map(_clean, cells) if cell]
    return sum(1 for cell in filled if unit_of(cell)) / len(filled) if filled else 0.0


def _units_row(rows: Sequence[HeadRow], width: int) -> HeadRow | None:
    """The row when it holds units: most of its cells if there are several, else its only one, in a full row."""
    for row in rows:
        filled = row.filled
        if any(cell.isdigit() for cell in filled):
            continue
        share = _units_share(row.cells)
        several = len(filled) > 1 and share >= UNITS_SHARE and len(row.cells) >= 0.5 * width
        only = len(filled) == 1 and share == 1.0 and abs(len(row.cells) - width) <= 1 and width > 1
        if several or only:
            return row
    return None


def _is_group_row(row: HeadRow, header: HeadRow) -> bool:
    """Whether a row names groups of columns: as wide as the header, its names spread over it."""
    filled = row.filled
    as_wide = abs(len(row.cells) - len(header.cells)) <= 1
    adjoining = header.line - row.line <= 2
    spread = any(row.cells[2:]) or len(header.cells) <= 3  # a name and its value stand in the first two
    return as_wide and adjoining and spread and len(filled) > 1 and not any(map(is_data, filled))


def _groups(before: Sequence[HeadRow], header: HeadRow) -> tuple[str, ...]:
    """Names of groups above the header; a name holds until the next one, as merged cells are exported."""
    if not before or not _is_group_row(before[-1], header):
        return ()
    groups: list[str] = []
    for cell in before[-1].cells:
        groups.append(cell or (groups[-1] if groups else ""))
    return tuple(groups)


def _body_line(after: Sequence[HeadRow], units: HeadRow | None, header: HeadRow) -> int:
    """First line of readings: past the units and past further rows of nothing but words."""
    line = header.line + header.lines
    marks = vocabulary().missing
    for row in after:
        wordy = any(cell.lower() not in marks for cell in row.filled)
        if row is units or (wordy and len(row.filled) > 2 and not any(map(is_data, row.filled))):
            line = row.line + row.lines
        else:
            break
    return line
