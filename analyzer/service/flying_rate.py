"""How much an aircraft flies: engine hours a week of the flights that are kept."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from sqlalchemy import Connection

from analyzer.limits import limit_value
from analyzer.records.copies import flown_between
from analyzer.records.kept import KeptTail
from analyzer.trends.tail_result import TailResult

#: A rate is told of no less than a week [d].
SHORTEST_D = 7.0


def hours_a_week(connection: Connection, tail: KeptTail, now: datetime) -> float | None:
    """Engine hours a week of the latest ``digest_rate_window``, or of the time since its first flight if shorter.

    None where it did not fly then.
    """
    if tail.first is None:
        return None
    return _rate(connection, tail, now, min(limit_value("digest_rate_window"), (now - tail.first) / timedelta(days=1)))


def most_hours_a_week(connection: Connection, tail: KeptTail, result: TailResult, now: datetime) -> float | None:
    """The higher of the latest rate and that from its first flight to its last: hours are reached rather early by it.

    None where no flight with a clock is kept. ``result`` is the aircraft's present one, whose hours are taken where
    all of its flights had begun by now.
    """
    if tail.first is None or tail.last is None:
        return None
    last = min(tail.last, now)
    days = (last - tail.first) / timedelta(days=1)
    all_of_them = result.without_clock == 0 and tail.last <= now
    whole = _a_week(result.hours, days) if all_of_them else _rate(connection, tail, last, days)
    rates = (hours_a_week(connection, tail, now), whole)
    return max((one for one in rates if one is not None), default=None)


def day_after(since: datetime, hours: float, hours_a_week: float) -> date | None:
    """Give the day by which some engine hours are flown from a moment on; None beyond the last that a calendar has."""
    try:
        return (since + timedelta(weeks=hours / hours_a_week)).date()
    except OverflowError:
        return None


def _rate(connection: Connection, tail: KeptTail, now: datetime, days: float) -> float | None:
    begins = now - timedelta(days=max(days, SHORTEST_D))
    return _a_week(sum(row.hours for row in flown_between(connection, begins, now, tail.tail)), days)


def _a_week(hours: float, days: float) -> float | None:
    return float(hours) / max(days, SHORTEST_D) * 7.0 if hours else None
