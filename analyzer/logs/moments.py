"""Dates and times of day, in the ways recorders write them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Literal

import numpy as np

from analyzer.logs.remembered import LONGEST, remembered
from analyzer.logs.words import fold, vocabulary

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

Order = Literal["ymd", "dmy", "mdy"]
Floats = "NDArray[np.float64]"

DAY = 86400.0
#: Digits of a number that count: more than a float holds are checked to be digits and no more.
MOST_DIGITS = 17
_EPOCH = date(1970, 1, 1).toordinal()

_YMD = r"(?P<y>\d{4})(?P<s>[-/. ])(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})\.?"
_XXY = r"(?P<a>\d{1,2})(?P<s>[-/.])\s?(?P<b>\d{1,2})(?P=s)\s?(?P<c>\d{4}|\d{2})\.?"
_NAMED = r"(?P<d>\d{1,2})\.?[-/ ]*(?P<n>[^\W\d]{3,10})\.?[-/, ]*(?P<y>\d{4}|\d{2})"
_NAMED_FIRST = r"(?P<n>[^\W\d]{3,10})\.?[- ]*(?P<d>\d{1,2}),?[- ]*(?P<y>\d{4})"
_COMPACT = r"(?P<y>(?:19|20)\d{2})(?P<m>0\d|1[0-2])(?P<d>[0-3]\d)"
_WEEKDAY = r"(?:[^\W\d]{2,10}\.?,?\s+)?"
_DATES = tuple(re.compile(_WEEKDAY + p) for p in (_YMD, _XXY, _COMPACT, _NAMED, _NAMED_FIRST))

_CLOCK = (
    r"(?P<h>\d{1,2})(?:[:h.]\s?(?P<mi>\d{2})(?:[:m.'](?P<se>\d{2})(?:[.,:](?P<f>\d+))?)?s?)"
    r"(?:\s?(?P<half>[AaPp])\.?\s?[Mm]\.?)?"
)
_CLOCK_COMPACT = r"(?P<h>[0-2]\d)(?P<mi>[0-5]\d)(?P<se>[0-5]\d)(?:[.,](?P<f>\d+))?"
_ZONE = r"(?:\s?(?P<zone>Z|UTC|GMT|(?:UTC|GMT)?\s?[+\-−]\d{1,2}(?::?\d{2})?))?"
_TIME = re.compile(_CLOCK + _ZONE)
_TIME_COMPACT = re.compile(_CLOCK_COMPACT + _ZONE)
_PLAIN_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_TWO_PARTS = re.compile(r"\d{1,4}:\d{2}(?:\.\d+)?")
_HOURS_RUN_ON = re.compile(r"\d{1,4}:\d{2}:\d{2}(?:[.,]\d+)?")
_BETWEEN = re.compile(r"[T ,;_-]+|\s+at\s+")


@remembered(4096)
def parse_date(text: str, order: Order) -> int | None:
    """Days since 1 January 1970 of a date as written, or None."""
    for pattern in _DATES:
        found = pattern.fullmatch(text)
        if found:
            return _day_number(found.groupdict(), order)
    return None


def _day_number(parts: dict[str, str | None], order: Order) -> int | None:
    try:
        if parts.get("a") is not None:
            first, second, third = int(parts["a"] or 0), int(parts["b"] or 0), int(parts["c"] or 0)
            if order == "ymd":
                year, month, day = first, second, third
            else:
                day, month = (first, second) if order == "dmy" else (second, first)
                year = third
        else:
            year, day = int(parts["y"] or 0), int(parts["d"] or 0)
            named = parts.get("n")
            month = vocabulary().months.get(fold(named), 0) if named else int(parts["m"] or 0)
        if year < 100:
            year += 2000 if year < 80 else 1900
        return date(year, month, day).toordinal() - _EPOCH
    except ValueError:
        return None


def parse_time(text: str) -> tuple[float, float | None] | None:
    """Seconds of the day, and the offset from UTC [s] if one is written behind; None if this is no time."""
    found = _TIME.fullmatch(text) or _TIME_COMPACT.fullmatch(text)
    if found is None:
        return None
    hour, minute, second = int(found["h"]), int(found["mi"] or 0), int(found["se"] or 0)
    half = found.groupdict().get("half")
    if half:
        hour = hour % 12 + (12 if half in "Pp" else 0)
    if hour > 24 or minute > 59 or second > 60:
        return None
    fraction = float(f"0.{found['f']}") if found["f"] else 0.0
    zone = parse_offset(found["zone"]) if found["zone"] else None
    return hour * 3600.0 + minute * 60.0 + second + fraction, zone


@remembered(512)
def parse_offset(text: str) -> float | None:
    """Offset from UTC [s] of ``"+01:00"``, ``"-0500"``, ``"UTC-5"``, ``"5.5"``, ``"Z"``; None otherwise."""
    mark = text.strip().upper().replace("−", "-").replace("UTC", "").replace("GMT", "").strip()
    if mark in ("", "Z"):
        return 0.0 if text.strip() else None
    found = re.fullmatch(r"([+-]?)(\d{1,2}):?(\d{2})(?::?00)?", mark)
    if found and (found[1] or ":" in mark):
        seconds = int(found[2]) * 3600.0 + int(found[3]) * 60.0
        return _within_offsets(-seconds if found[1] == "-" else seconds)
    number = re.fullmatch(r"[+-]?\d+(?:[.,]\d+)?", mark)
    if not number:
        return None
    value = float(mark.replace(",", "."))
    return _within_offsets(value * (3600.0 if abs(value) <= 14 else 60.0 if abs(value) <= 840 else 1.0))


def _within_offsets(seconds: float) -> float | None:
    return seconds if abs(seconds) <= 14 * 3600 else None


def parse_stamp(text: str, order: Order) -> tuple[float | None, float, float | None] | None:
    """Day number, seconds of the day and offset of a date with a time; None if this is none."""
    text = text.strip()
    if len(text) > LONGEST:
        return None
    for between in _BETWEEN.finditer(text):
        day = parse_date(text[: between.start()].strip(), order)
        clock = parse_time(text[between.end() :].strip()) if day is not None else None
        if day is not None and clock is not None:
            return float(day), clock[0], clock[1]
    return None


def shape(cells: Sequence[str]) -> str | None:
    """What most cells of a sample are: ``stamp``, ``date``, ``time``, ``parts`` (mm:ss), ``number``; or None."""
    votes: dict[str, int] = {}
    marks = vocabulary().missing
    for raw in cells:
        cell = raw.strip().strip('"').strip()
        if cell.lower() in marks:
            continue
        kind = _shape_of(cell)
        if kind:
            votes[kind] = votes.get(kind, 0) + 1
            if 2 * votes[kind] > len(cells):  # whatever the others are
                return kind
    if not votes:
        return None
    return max(votes, key=lambda kind: votes[kind])


def _shape_of(cell: str) -> str | None:
    if _PLAIN_NUMBER.fullmatch(cell):
        return "number"
    if _TWO_PARTS.fullmatch(cell):
        return "two parts"
    if parse_time(cell) or _HOURS_RUN_ON.fullmatch(cell):
        return "time"
    if any(pattern.fullmatch(cell) for pattern in _DATES):
        return "date"
    if any(parse_stamp(cell, order) for order in ("ymd", "dmy", "mdy")):
        return "stamp"
    return None


def date_order(cells: pl.Series, hints: str, known_day: int | None) -> tuple[Order, bool]:
    """Which of day, month and year comes first, and whether anything in the log decided it.

    A first or second number above 12 decides; then the number that moves from one day to the next; then
    a pattern such as "dd/mm/yyyy" in the header; then a date in the file's name; then the point, which
    is only written between day and month. Where nothing does, twelve-hour times suggest the month first.
    """
    sample = next((c for c in cells.head(20).to_list() if c), "").strip().lstrip('"')
    if _begins_with_year(sample):
        return "ymd", True
    numbers = cells.str.extract_groups(r"^\D{0,12}(\d{1,2})([-/.])\s?(\d{1,2})[-/.]\s?(\d{2,4})")
    first, second, third = (numbers.struct.field(name).cast(int, strict=False) for name in ("1", "3", "4"))
    known = first.is_not_null()
    if not known.any():
        return "ymd", True
    first, second, third = first.filter(known), second.filter(known), third.filter(known)
    if _most(first) > 31 or (_most(third) <= 31 and "yy-mm" in hints):
        return "ymd", True
    if _most(first) > 12:
        return "dmy", True
    if _most(second) > 12:
        return "mdy", True
    moves_first, moves_second = first.n_unique(), second.n_unique()
    if moves_first != moves_second and max(moves_first, moves_second) <= 31:
        return ("dmy", True) if moves_first > moves_second else ("mdy", True)
    hinted = hinted_order(hints)
    if hinted:
        return hinted, True
    if known_day is not None:
        text = cells.filter(cells.is_not_null())[0].strip()
        for order in ("dmy", "mdy"):
            for part in (text, *_BETWEEN.split(text)[:1]):
                if parse_date(part, order) == known_day:
                    return order, True
    separator = numbers.struct.field("2").drop_nulls()[0]
    if separator == ".":
        return "dmy", True
    return ("mdy", False) if re.search(r"\d\s?[ap]\.?m\b", f"{hints} {sample}".lower()) else ("dmy", False)


def _begins_with_year(text: str) -> bool:
    return text[:4].isdigit() and text[:2] in ("19", "20") and not text[4:5].isalnum()


def _most(numbers: pl.Series) -> int:
    found = numbers.max()
    return int(found) if isinstance(found, int) else 0


def hinted_order(hints: str) -> Order | None:
    """Which of day and month a pattern such as "dd/mm/yyyy" puts first."""
    if re.search(r"\b(?:dd?|tt|jj|gg)[-/. ]mm?[-/. ](?:yy|jj|aa)", hints):
        return "dmy"
    return "mdy" if re.search(r"\bmm?[-/. ](?:dd?|tt|jj|gg)[-/. ](?:yy|jj|aa)", hints) else None


def days(cells: pl.Series, order: Order) -> NDArray[np.float64]:
    """Day numbers of a column of dates; NaN where there is none."""
    import polars as pl

    if len(cells) and cells[0] is not None and (cells == cells[0]).all() and not cells.has_nulls():
        day = parse_date(str(cells[0]).strip().strip('"'), order)
        return np.full(len(cells), np.nan if day is None else day)
    unique = cells.unique().to_list()
    known = {text: parse_date(text.strip().strip('"'), order) for text in unique if text is not None}
    numbers = cells.replace_strict(known, default=None, return_dtype=pl.Float64)
    return numbers.to_numpy().astype(np.float64)


def seconds_of_day(cells: pl.Series) -> NDArray[np.float64]:
    """Seconds of the day of a column of times; NaN where there is none."""

    def slowly(text: str) -> float | None:
        found = parse_time(text)
        return None if found is None else found[0]

    return _by_length(cells, _time_fields, slowly)


def stamps(cells: pl.Series, order: Order) -> tuple[NDArray[np.float64], float | None]:
    """Seconds since 1 January 1970 as the clock read, and the offset [s] written behind, if any."""
    offset = None
    for text in cells.drop_nulls().head(200).to_list():
        if found := parse_stamp(text.strip(_BLANKS), order):
            offset = found[2]
            break

    def slowly(text: str) -> float | None:
        found = parse_stamp(text, order)
        return None if found is None or found[0] is None else found[0] * DAY + found[1]

    return _by_length(cells, lambda sample: _stamp_fields(sample, order), slowly), offset


def stamps_by_place(parts: Sequence[NDArray[np.uint8]]) -> tuple[NDArray[np.float64], float | None] | None:
    """The same as ``stamps`` of texts of one length that begin with the year; None where they are others.

    Parameters
    ----------
    parts : letters of one column, or of a date's and a time's: ASCII, a row a place in the text
    """
    blank = np.full((1, parts[0].shape[1]), ord(" "), dtype=np.uint8)
    letters = parts[0] if len(parts) == 1 else np.concatenate([parts[0], blank, *parts[1:]])
    first = bytes(letters[:, 0]).decode("ascii")
    if first != first.strip(_BLANKS) or not _begins_with_year(first):
        return None
    spans, told = _stamp_fields(first, "ymd"), parse_stamp(first, "ymd")
    if spans is None or told is None:
        return None
    seconds = _digits_read(letters, first, spans)
    return None if np.isnan(seconds).any() else (seconds, told[2])


_BLANKS = ' "\r'
#: Moments that are read at a time.
TOGETHER = 100_000
_Spans = dict[str, tuple[int, int]]


def _by_length(
    cells: pl.Series, fields: Callable[[str], _Spans | None], slowly: Callable[[str], float | None]
) -> NDArray[np.float64]:
    """Seconds of a column of moments, some rows at a time: their texts take many times the room of the seconds."""
    seconds = np.empty(len(cells))
    for first in range(0, len(cells), TOGETHER):
        some = cells.slice(first, TOGETHER).to_list()
        seconds[first : first + TOGETHER] = _piece_by_length(some, fields, slowly)
    return seconds


def _piece_by_length(
    texts: list[str | None], fields: Callable[[str], _Spans | None], slowly: Callable[[str], float | None]
) -> NDArray[np.float64]:
    """Seconds of some moments.

    Texts of one length are read together, digit by digit, as long as they are laid out like the first
    of them; what differs is read one by one.
    """
    if uniform := _read_together(texts, fields):
        return uniform[0]
    bare = [text.strip(_BLANKS) if text is not None else "" for text in texts]
    lengths = np.fromiter(map(len, bare), dtype=np.int64, count=len(bare))
    seconds = np.full(len(bare), np.nan)
    for length in np.unique(lengths[lengths > 0]):
        rows = np.flatnonzero(lengths == length)
        same = bare if len(rows) == len(bare) else [bare[row] for row in rows]
        spans = fields(same[0])
        joined = "".join(same)
        if spans and joined.isascii():
            letters = np.frombuffer(joined.encode(), dtype=np.uint8).reshape(len(rows), int(length))
            seconds[rows] = _digits_read(np.ascontiguousarray(letters.T), same[0], spans)
    known: dict[str, float] = {}
    for row in np.flatnonzero(np.isnan(seconds) & (lengths > 0)):
        text = bare[row]
        if text not in known:
            found = slowly(text)
            known[text] = np.nan if found is None else found
        seconds[row] = known[text]
    return seconds


def _read_together(
    texts: Sequence[str | None], fields: Callable[[str], _Spans | None]
) -> tuple[NDArray[np.float64]] | None:
    """Seconds of a column whose texts are all laid out alike; None when they are not."""
    first = texts[0] if texts else None
    if not first or first != first.strip(_BLANKS) or texts[-1] is None or len(texts[-1]) != len(first):
        return None
    try:
        joined = "".join(texts)  # type: ignore[arg-type]
    except TypeError:  # a null among them
        return None
    spans = fields(first) if len(joined) == len(texts) * len(first) and joined.isascii() else None
    if not spans:
        return None
    letters = np.frombuffer(joined.encode(), dtype=np.uint8).reshape(len(texts), len(first))
    seconds = _digits_read(np.ascontiguousarray(letters.T), first, spans)
    return None if np.isnan(seconds).any() else (seconds,)


def _digits_read(columns: NDArray[np.uint8], sample: str, spans: _Spans) -> NDArray[np.float64]:
    """Seconds of texts laid out like ``sample``, given place by place; NaN where a text is laid out otherwise."""
    rows = columns.shape[1]
    free = {place for begin, end in spans.values() for place in range(begin, end)}  # may differ from the sample's
    good = np.ones(rows, dtype=bool)
    for place, letter in enumerate(sample.encode()):
        if place not in free:
            good &= columns[place] == letter
    numbers: dict[str, NDArray[np.float64]] = {}
    for name, (begin, end) in spans.items():
        if name == "half":
            numbers[name] = np.isin(columns[begin], (ord("p"), ord("P"))).astype(np.float64)
            continue
        largest = 10 ** min(end - begin, MOST_DIGITS) - 1
        values = np.zeros(rows, dtype=np.min_scalar_type(largest))  # a byte is counted with many times as fast
        for place, column in enumerate(columns[begin:end]):
            digit = column - np.uint8(ord("0"))  # what is no digit comes out above 9
            good &= digit <= 9
            if place < MOST_DIGITS:
                values = values * 10 + digit
        numbers[name] = values.astype(np.float64)
    hour = numbers["h"]
    if "half" in numbers:
        hour = hour % 12 + 12 * numbers["half"]
    zero = np.zeros(rows)
    minute, second = numbers.get("mi", zero), numbers.get("se", zero)
    good &= (hour <= 24) & (minute <= 59) & (second <= 60)
    seconds = hour * 3600 + minute * 60 + second
    if "f" in numbers:
        seconds = seconds + numbers["f"] / 10.0 ** min(spans["f"][1] - spans["f"][0], MOST_DIGITS)
    if "y" in numbers:
        day = _days_from_parts(numbers["y"], numbers["m"], numbers["d"], short=spans["y"][1] - spans["y"][0] == 2)
        seconds = seconds + day * DAY
    return np.where(good, seconds, np.nan)


def _days_from_parts(
    year: NDArray[np.float64], month: NDArray[np.float64], day: NDArray[np.float64], *, short: bool
) -> NDArray[np.float64]:
    """Day numbers since 1970 of calendar dates; NaN for dates that do not exist."""
    if short:
        year = np.where(year < 80, year + 2000, year + 1900)
    if not year.size:
        return np.zeros(0)
    whole = (year * 10000 + month * 100 + day).astype(np.int64)
    starts = np.concatenate(([0], np.flatnonzero(np.diff(whole)) + 1))  # of each stretch of one date
    found = [_day_or_none(value) for value in whole[starts].tolist()]
    return np.repeat(np.array(found, dtype=np.float64), np.diff(starts, append=len(whole)))


@remembered(4096)
def _day_or_none(whole: int) -> float | None:
    """Day number since 1970 of a date written as the number yyyymmdd."""
    try:
        return date(whole // 10000, whole // 100 % 100, whole % 100).toordinal() - _EPOCH
    except ValueError:
        return None


def _time_fields(sample: str) -> _Spans | None:
    """Where hours, minutes, seconds and the rest stand in a time, when they can be read by place."""
    found = _TIME.fullmatch(sample) or _TIME_COMPACT.fullmatch(sample)
    if found is None:
        return None
    return {name: found.span(name) for name in ("h", "mi", "se", "f", "half") if found.groupdict().get(name)}


def _stamp_fields(sample: str, order: Order) -> _Spans | None:
    """Where the parts of a date and a time stand, when they can be read by place."""
    for between in _BETWEEN.finditer(sample):
        day = next((m for p in _DATES[:3] if (m := p.fullmatch(sample[: between.start()]))), None)
        clock = _time_fields(sample[between.end() :]) if day is not None else None
        if day is None or clock is None:
            continue
        names = {"y": "y", "m": "m", "d": "d"}
        if day.groupdict().get("a"):
            places = {"dmy": ("d", "m", "y"), "mdy": ("m", "d", "y"), "ymd": ("y", "m", "d")}[order]
            names = dict(zip(places, ("a", "b", "c"), strict=True))
        spans = {part: day.span(group) for part, group in names.items()}
        return spans | {name: (b + between.end(), e + between.end()) for name, (b, e) in clock.items()}
    return None
