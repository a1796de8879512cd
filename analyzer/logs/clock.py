"""What the clock's columns read, in seconds."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct, field

from analyzer.logs import moments
from analyzer.logs.clock_columns import ClockPlan
from analyzer.logs.numbers import to_numbers
from analyzer.logs.units import SECONDS
from analyzer.series import median, middle

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    from analyzer.logs.cells import Texts

SERIAL_DAYS = (20000.0, 80000.0)  # spreadsheet day numbers of 1954 to 2119
SERIAL_EPOCH = 25569  # spreadsheet day number of 1 January 1970
#: The furthest that a local clock is taken to be ahead of UTC where no date tells: New Zealand's in summer [s].
FURTHEST_EAST_S = 13 * 3600.0
_EPOCH_SCALES = ((1e9, 3e9, 1.0), (1e12, 3e12, 1e-3), (1e15, 3e15, 1e-6), (1e18, 3e18, 1e-9))


class ClockReading(Struct):
    """What the clock reads in each row.

    ``seconds`` is NaN where it cannot be read: seconds since 1970 when ``dated``, else of the day
    (``period`` 86400) or of the recording.
    """

    seconds: NDArray[np.float64]
    basis: str
    dated: bool = False
    period: float | None = None
    offset: float | None = None
    warnings: list[str] = field(default_factory=list)


def read_clock(
    plan: ClockPlan,
    cells: Texts,
    decimal_mark: str,
    hints: str,
    known_day: int | None,
    period_s: float | None,
) -> ClockReading:
    """Read the clock's columns.

    ``hints`` is text in which a pattern such as "dd/mm/yyyy" may stand; ``known_day`` a day number found
    elsewhere (the file's name); ``period_s`` the step that the metadata give, for counted rows.
    """
    if plan.kind == "stamp":
        return _read_stamps(plan, cells, hints, known_day)
    if plan.kind == "date and time":
        return _read_date_and_time(plan, cells, decimal_mark, hints, known_day)
    if plan.kind == "parts":
        return _read_parts(plan, cells, decimal_mark, hints, known_day)
    if plan.kind == "time":
        return _read_times(plan, cells)
    numbers = to_numbers(cells[plan.columns[0]], decimal_mark)[0]
    if plan.kind == "counter":
        return _read_counter(numbers, period_s)
    if plan.kind == "number" or np.isfinite(numbers).sum() > 0.5 * len(numbers):
        return _read_number(numbers, plan, period_s)
    reading = _read_elapsed_text(cells[plan.columns[0]])
    return _as_hours_and_minutes(reading) if plan.kind == "elapsed" and plan.two_parts else reading


def _order_warning(order: str, decided: bool, example: str) -> list[str]:
    if decided:
        return []
    first = "day" if order == "dmy" else "month"
    return [f"clock: nothing in the log tells whether {example!r} is day first or month first; read as {first} first"]


def _first_text(cells: pl.Series) -> str:
    found = cells.drop_nulls()
    return str(found[0]).strip() if len(found) else ""


def _offset(plan: ClockPlan, cells: Mapping[int, pl.Series], written: float | None) -> float | None:
    if written is not None:
        return written
    if plan.zone is not None:
        for text in cells[plan.zone].drop_nulls().unique(maintain_order=True).head(5).to_list():
            if (offset := moments.parse_offset(str(text))) is not None:
                return offset
    return 0.0 if plan.utc else None


def _read_stamps(plan: ClockPlan, cells: Texts, hints: str, known_day: int | None) -> ClockReading:
    warnings: list[str] = []
    order: moments.Order = "ymd"
    if read := _by_place(cells, plan.columns[0]):
        seconds, written = read
    else:
        column = cells[plan.columns[0]]
        order, decided = moments.date_order(column, hints, known_day)
        seconds, written = moments.stamps(column, order)
        warnings = _order_warning(order, decided, _first_text(column))
    offset = _offset(plan, cells, written)
    if offset is None and plan.other:
        utc, _ = moments.stamps(cells[plan.other[0]], order)
        offset = _difference(seconds, utc)
    return ClockReading(seconds, "date and time in one column", True, None, offset, warnings)


def _by_place(cells: Texts, *columns: int) -> tuple[NDArray[np.float64], float | None] | None:
    """What a date and a time read, in one column or two, and the offset; None where they are not read by place."""
    letters = [cells.letters[column] for column in columns if column in cells.letters]
    return moments.stamps_by_place(letters) if len(letters) == len(columns) else None


def _difference(local: NDArray[np.float64], utc: NDArray[np.float64], period: float | None = None) -> float | None:
    """Offset of a local clock from UTC, from both; whole quarters of an hour only.

    Of two times of day alone, 13 hours ahead looks like 11 behind: the one in which more aircraft fly is taken.
    """
    apart = local - utc
    apart = apart[np.isfinite(apart)]
    if not len(apart):
        return None
    if period:  # either of them may have passed midnight
        apart = apart - period * np.round((apart - apart[0]) / period)
    offset = middle(apart)
    quarter = round(offset / 900.0) * 900.0
    if abs(offset - quarter) >= 30:
        return None
    if period:
        quarter = FURTHEST_EAST_S - (FURTHEST_EAST_S - quarter) % period
    return quarter if abs(quarter) <= 14 * 3600 else None


def _read_date_and_time(
    plan: ClockPlan, cells: Texts, decimal_mark: str, hints: str, known_day: int | None
) -> ClockReading:
    part = dict(plan.by_part)
    if not plan.other and (read := _by_place(cells, part["date"], part["time"])):
        return ClockReading(read[0], "date and time of day", True, None, _offset(plan, cells, read[1]), [])
    dates, times = cells[part["date"]], cells[part["time"]]
    order, decided = moments.date_order(dates, f"{hints} {_first_text(times)}", known_day)
    day = moments.days(dates, order)
    if not np.isfinite(day).any():
        serial = to_numbers(dates, decimal_mark)[0]
        day = _serial_days(np.floor(serial))
    seconds = moments.seconds_of_day(times)
    if not np.isfinite(seconds).any():
        seconds = _seconds_from_numbers(to_numbers(times, decimal_mark)[0])
    warnings = _order_warning(order, decided, _first_text(dates))
    offset = _offset(plan, cells, _zone_of_times(times))
    if offset is None and plan.other:
        offset = _difference(seconds, moments.seconds_of_day(cells[plan.other[0]]), moments.DAY)
    if not np.isfinite(day).any():
        return ClockReading(seconds, "time of day; the date cannot be read", False, moments.DAY, offset, warnings)
    return ClockReading(day * moments.DAY + seconds, "date and time of day", True, None, offset, warnings)


def _zone_of_times(times: pl.Series) -> float | None:
    found = moments.parse_time(_first_text(times).strip('"'))
    return found[1] if found else None


def _seconds_from_numbers(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    """Times of day written as fractions of a day, as hhmmss, or as seconds."""
    most = np.nanmax(numbers) if np.isfinite(numbers).any() else 0.0
    if most <= 1.0:
        return np.round(numbers * moments.DAY, 3)
    hours, rest = np.divmod(numbers, 10000.0)
    minutes, seconds = np.divmod(rest, 100.0)
    if np.nanmax(minutes) < 60 and np.nanmax(seconds) < 60 and np.nanmax(hours) < 24:
        return np.asarray(hours * 3600 + minutes * 60 + seconds, dtype=np.float64)
    return numbers


def _serial_days(numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    """Day numbers since 1970 of spreadsheet days, or of dates written yyyymmdd or ddmmyy."""
    typical = median(numbers) if np.isfinite(numbers).any() else 0.0
    if SERIAL_DAYS[0] < typical < SERIAL_DAYS[1]:
        return numbers - SERIAL_EPOCH
    found = np.full(len(numbers), np.nan)
    for value in np.unique(numbers[np.isfinite(numbers)]):
        text = f"{int(value):06d}"
        day = moments.parse_date(text, "ymd") if len(text) == 8 else None
        if day is None and len(text) == 6:
            day = moments.parse_date(f"{text[:2]}/{text[2:4]}/{text[4:]}", "dmy")
        if day is not None:
            found[numbers == value] = day
    return found


def _read_parts(
    plan: ClockPlan, cells: Mapping[int, pl.Series], decimal_mark: str, hints: str, known_day: int | None
) -> ClockReading:
    part = {name: to_numbers(cells[i], decimal_mark)[0] for name, i in plan.by_part if name != "date"}
    zero = np.zeros_like(part["hour"])
    seconds = part["hour"] * 3600 + part["minute"] * 60 + part.get("second_of_time", zero)
    if "fraction" in part:
        top = np.nanmax(part["fraction"]) if np.isfinite(part["fraction"]).any() else 0.0
        seconds = seconds + part["fraction"] / (1000.0 if top >= 100 else 100.0)
    offset = _offset(plan, cells, None)
    day = np.full(len(seconds), np.nan)
    if "year" in part:
        day = _days_of(part["year"], part["month"], part["day"])
    elif "date" in dict(plan.by_part):
        dates = cells[dict(plan.by_part)["date"]]
        day = moments.days(dates, moments.date_order(dates, hints, known_day)[0])
    if np.isfinite(day).any():
        return ClockReading(day * moments.DAY + seconds, "date and time in columns of their own", True, None, offset)
    return ClockReading(seconds, "hours, minutes and seconds in columns, without a date", False, moments.DAY, offset)


def _days_of(years: NDArray[np.float64], months: NDArray[np.float64], days: NDArray[np.float64]) -> NDArray[np.float64]:
    """Day numbers of dates whose parts stand in columns of their own; NaN where they make no date."""
    found = np.full(len(years), np.nan)
    whole = years * 10000 + months * 100 + days
    for value in np.unique(whole[np.isfinite(whole) & (whole >= 0) & (whole < 1e8)]):
        year, rest = divmod(int(value), 10000)
        number = moments.parse_date(f"{rest % 100}/{rest // 100}/{year:02d}", "dmy")
        if number is not None:
            found[whole == value] = number
    return found


def _read_times(plan: ClockPlan, cells: Mapping[int, pl.Series]) -> ClockReading:
    column = cells[plan.columns[0]]
    seconds = moments.seconds_of_day(column)
    offset = _offset(plan, cells, _zone_of_times(column))
    return ClockReading(seconds, "time of day, without a date", False, moments.DAY, offset)


def _read_counter(numbers: NDArray[np.float64], period_s: float | None) -> ClockReading:
    step = _usual_step(numbers)
    per_row = period_s or 1.0
    reading = ClockReading(numbers / step * per_row, f"rows counted, {per_row:g} s apart as the metadata say")
    if period_s is None:
        reading.basis = "rows counted; 1 s a row assumed"
        reading.warnings.append("clock: rows are numbered but no rate is given; a step of 1 s was assumed")
    return reading


def _usual_step(numbers: NDArray[np.float64]) -> float:
    steps = np.diff(numbers[np.isfinite(numbers)])
    steps = steps[steps > 0]
    return middle(steps) if len(steps) else 1.0


def _read_number(numbers: NDArray[np.float64], plan: ClockPlan, period_s: float | None) -> ClockReading:
    """Epoch, spreadsheet days, a compact stamp, or elapsed time, told apart by size."""
    typical = median(numbers) if np.isfinite(numbers).any() else 0.0
    for low, high, scale in _EPOCH_SCALES:
        if low <= typical < high:
            seconds = np.round(numbers * scale, 6)
            return ClockReading(seconds, "seconds since 1970 (UTC)", True, None, 0.0)
    if SERIAL_DAYS[0] < typical < SERIAL_DAYS[1] and plan.unit not in ("s", "ms") and _usual_step(numbers) < 0.5:
        seconds = np.round((numbers - SERIAL_EPOCH) * moments.DAY, 1)
        return ClockReading(seconds, "spreadsheet day numbers", True)
    if 19000101000000 < typical < 21000101000000:
        day = _serial_days(np.floor(numbers / 1e6))
        return ClockReading(day * moments.DAY + _seconds_from_numbers(numbers % 1e6), "date and time in digits", True)
    return _read_elapsed(numbers, plan.unit, period_s)


def _read_elapsed(numbers: NDArray[np.float64], unit: str | None, period_s: float | None) -> ClockReading:
    step = _usual_step(numbers)
    if unit == "other":
        unit = "h"
    if unit not in SECONDS:
        if numbers.max(initial=0) <= 1.0 and step < 1e-3 and not _hours_from_zero(numbers, step):
            return ClockReading(np.round(numbers * moments.DAY, 2), "fraction of a day", False, moments.DAY)
        unit = _likely_unit(step, period_s)
    scale = SECONDS[unit]
    return ClockReading(np.round(numbers * scale, 6), f"time since the start of the log, in {unit}")


def _hours_from_zero(numbers: NDArray[np.float64], step: float) -> bool:
    """Whether what runs from zero on is rather hours than fractions of a day: rows are nearer to a second apart."""
    begins = numbers[np.isfinite(numbers)][:1]
    as_hours, as_days = (abs(np.log(step * SECONDS[unit])) for unit in ("h", "day"))
    return bool((begins <= 2.0 * step).all()) and bool(as_hours < as_days)


def _likely_unit(step: float, period_s: float | None) -> str:
    """Unit of elapsed time that no word gives: the one in which rows are a plausible step apart."""
    if period_s:
        return min(("ms", "s", "min", "h"), key=lambda unit: abs(np.log(step * SECONDS[unit] / period_s)))
    if step >= 50:
        return "ms"
    odd = abs(step - round(step, 2)) > 1e-6
    if step < 0.1 and odd:
        return "h" if step < 0.002 else "min"
    return "s"


def _read_elapsed_text(cells: pl.Series) -> ClockReading:
    """Elapsed time as mm:ss or h:mm:ss, hours and minutes running on past 59."""
    known: dict[str, float] = {}
    for text in cells.drop_nulls().unique().to_list():
        parts = re.fullmatch(r"(?:(\d{1,9}):)?(\d{1,9}):(\d{2}(?:[.,]\d+)?)", text.strip().strip('"'))
        if parts:
            hours, minutes, seconds = int(parts[1] or 0), int(parts[2]), float(parts[3].replace(",", "."))
            known[text] = hours * 3600.0 + minutes * 60.0 + seconds
    seconds_read = np.array([known.get(text, np.nan) if text is not None else np.nan for text in cells.to_list()])
    return ClockReading(seconds_read, "time since the start of the log")


def _as_hours_and_minutes(reading: ClockReading) -> ClockReading:
    """``"09:12"`` read as hours and minutes where it stands for many rows, as minutes do and seconds do not."""
    seconds = reading.seconds[np.isfinite(reading.seconds)]
    if not len(seconds) or len(np.unique(seconds)) * 4 > len(seconds) or seconds.max() >= 24 * 60:
        return reading
    return ClockReading(reading.seconds * 60.0, "time of day to the minute, without a date", False, moments.DAY)


def date_from_metadata(
    reading: ClockReading, plan: ClockPlan, day: float | None, start: float | None, certain: bool
) -> None:
    """Give a clock without a date the one that a line above the header gives."""
    known = np.flatnonzero(np.isfinite(reading.seconds))
    if day is None or not len(known):
        return
    if reading.period:
        reading.seconds = over_midnight(reading.seconds, reading.period) + day * moments.DAY
        reading.dated, reading.period = True, None
        reading.basis += "; the date is in a line above the header"
    elif start is not None and plan.kind in ("elapsed", "number", "counter"):
        first = reading.seconds[known[0]] if plan.kind == "counter" else 0.0
        reading.seconds = reading.seconds - first + day * moments.DAY + start
        reading.dated = True
        reading.basis += "; the start is in a line above the header"
    if reading.dated and not certain:
        reading.warnings.append(
            "clock: nothing tells whether the date above the header is day first or month first; read as day first"
        )


def run_on(values: NDArray[np.float64], period: float | None, again: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Readings of a clock that begins anew every ``period`` [s], running on; ``again`` marks restarts."""
    if not period or len(values) < 2:
        return values
    steps = np.diff(values, prepend=values[0])
    wraps = (steps < -period / 2) & ~again
    return values + period * np.cumsum(wraps)


def over_midnight(seconds: NDArray[np.float64], period: float) -> NDArray[np.float64]:
    """Seconds of the day, running on past midnight; NaN stays."""
    known = np.flatnonzero(np.isfinite(seconds))
    running = seconds.copy()
    running[known] = run_on(seconds[known], period, np.zeros(len(known), dtype=bool))
    return running
