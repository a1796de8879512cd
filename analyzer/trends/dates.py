"""Dates as people write them: 2026-03-29, 29 Mar 2026, March 29, 2026, March 29, 29.3.2026, today."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import datetime, timedelta

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_TIME = re.compile(r"(?:^|[ tT,])\s*(\d{1,2}):(\d{2})(?::(\d{2}))?\s*(am|pm)?\s*$", re.IGNORECASE)
_WORDS = re.compile(
    r"^(?:(\d{1,2})(?:st|nd|rd|th)?[ -]+([a-z]+)|([a-z]+)[ -]+(\d{1,2})(?:st|nd|rd|th)?)(?:,?[ -]+(\d{4}))?$"
)
_NUMBERS = re.compile(r"^(\d{1,2})([./-])(\d{1,2})\2(\d{4})$")
_YEAR_FIRST = re.compile(r"^(\d{4})([./])(\d{1,2})\2(\d{1,2})$")


def date_named(text: str, today: datetime | None = None) -> tuple[datetime, bool]:
    """Give the moment that a text names, and whether it names a time of day.

    ISO 8601; a month by name; day, month and year with dots; with slashes where only one order is possible;
    where ``today`` says what day it is, which no file can, "today", "yesterday" and a day without its year, which is
    the latest one not after today. A zone is dropped, for the logs' clocks are local.

    Raises
    ------
    ValueError
        With one sentence that says what is wrong.

    >>> date_named("29 Mar 2026")
    (datetime.datetime(2026, 3, 29, 0, 0), False)
    """
    told = text.strip()
    try:
        return datetime.fromisoformat(told).replace(tzinfo=None), len(told) > len("2026-03-29")
    except ValueError:
        pass
    time = _TIME.search(told)
    day = _day(told[: time.start()].strip() if time else told, text, today)
    return (day + _of_day(time, text), True) if time else (day, False)


def _of_day(time: re.Match[str], text: str) -> timedelta:
    hours, minutes, seconds = int(time[1]), int(time[2]), int(time[3] or 0)
    if time[4]:
        if not 1 <= hours <= 12:
            raise _no_date(text)
        hours = hours % 12 + (12 if time[4].lower() == "pm" else 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        raise _no_date(text)
    return timedelta(hours=hours, minutes=minutes, seconds=seconds)


def _day(words: str, text: str, today: datetime | None) -> datetime:
    plain = words.lower()
    if today is not None and plain in ("today", "yesterday"):
        midnight = today.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
        return midnight - timedelta(days=plain == "yesterday")
    if named := _WORDS.match(plain):
        day, month = (named[1], named[2]) if named[1] else (named[4], named[3])
        place = next((at for at, name in enumerate(MONTHS, 1) if len(month) >= 3 and month.startswith(name)), None)
        if place is not None and named[5]:
            return _made(int(named[5]), place, int(day), text)
        if place is not None and today is not None:
            return _latest(place, int(day), today, text)
    if first := _YEAR_FIRST.match(plain):
        return _made(int(first[1]), int(first[3]), int(first[4]), text)
    if numbers := _NUMBERS.match(plain):
        one, other, year = int(numbers[1]), int(numbers[3]), int(numbers[4])
        if numbers[2] == "." or one > 12 or one == other:
            return _made(year, other, one, text)
        if other > 12:
            return _made(year, one, other, text)
        if not one or not other:
            raise _no_date(text)
        raise ValueError(f"'{text}' may be {one} {_name(other)} or {other} {_name(one)}; write it as {year}-MM-DD")
    try:
        return datetime.fromisoformat(words).replace(tzinfo=None)
    except ValueError:
        raise _no_date(text) from None


def _latest(month: int, day: int, today: datetime, text: str) -> datetime:
    """The latest such day that is not after today; 29 February lies up to eight years back."""
    for year in range(today.year, today.year - 9, -1):
        with suppress(ValueError):
            found = datetime(year, month, day)
            if found.date() <= today.date():
                return found
    raise _no_date(text)


def _made(year: int, month: int, day: int, text: str) -> datetime:
    try:
        return datetime(year, month, day)
    except ValueError:
        raise _no_date(text) from None


def _name(month: int) -> str:
    return MONTHS[month - 1].capitalize()


def _no_date(text: str) -> ValueError:
    return ValueError(f"'{text}' is not a date or time such as 2026-03-29, 29 Mar 2026 or 2026-03-29T16:04")
