"""From when on "what changed" tells where nobody names a date, for the command line, pages and e-mail alike."""

from __future__ import annotations

from datetime import datetime, timedelta

#: What changed is told of so many days up to the last flight [d].
USUAL_DAYS = 7


def usual_since(newest: datetime | None, now: datetime, days: int = USUAL_DAYS) -> datetime:
    """Give from when on to tell: midnight, some days before the last flight.

    Parameters
    ----------
    newest : start of the last flight of the fleet by then, None without one
    now : the moment at which is asked; a flight that the clock puts after it does not count as later than that
    days : how many
    """
    last = now if newest is None else min(newest, now)
    begins = last.replace(hour=0, minute=0, second=0, microsecond=0)
    return begins - timedelta(days=days) if begins - datetime.min >= timedelta(days=days) else datetime.min


def period_words(since: datetime, newest: datetime | None, now: datetime) -> str:
    """A period in words: "from 2026-08-30 on, 7 days before the last flight"; the days only where they fit."""
    begins = f"from {since:%Y-%m-%d %H:%M}".removesuffix(" 00:00") + " on"
    if newest is None:
        return begins
    last = min(newest, now).replace(hour=0, minute=0, second=0, microsecond=0)
    days = (last - since) / timedelta(days=1)
    return f"{begins}, {days:.0f} days before the last flight" if days > 1 and days.is_integer() else begins
