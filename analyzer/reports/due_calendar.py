"""What falls due, as a calendar that any calendar program reads (RFC 5545): a day each, none where none is known.

The same thing has the same UID each time, so that a calendar that is read in again moves it and adds no second one.
What is due already stands on the day of the list, where somebody still looks.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta

from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.due_words import DEFERS, due_words
from analyzer.service.due_result import Due, DueList, DueState, ForecastDue


def due_calendar(due: DueList, now: datetime | None = None) -> bytes:
    """Give the calendar of a list.

    Parameters
    ----------
    now : when it is written, with its zone; this moment when None
    """
    from icalendar import Calendar, Event

    written = (now or datetime.now(UTC)).astimezone(UTC).replace(microsecond=0)
    made = Calendar()
    made.add("prodid", "-//taper//what falls due//EN")
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    for one in due.items:
        if (day := _day(one, due.as_of.date())) is None:
            continue
        told, event = due_words(one), Event()
        event.add("uid", _uid(one))
        event.add("dtstamp", written)
        event.add("dtstart", day)
        event.add("dtend", day + timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        event.add(
            "summary", f"{one.tail}: {told.title} ({told.when})" if day != one.on else f"{one.tail}: {told.title}"
        )
        event.add("description", "\n".join((told.why, DEFERS, *CAUTIONS)))
        made.add_component(event)
    return bytes(made.to_ical())


def _day(one: Due, today: date) -> date | None:
    if one.state is DueState.OVERDUE:
        return today
    return None if one.state is DueState.UNKNOWN else one.on


def _uid(one: Due) -> str:
    about = f"{one.tail}|{one.kind}" + (f"|{one.coming.measure}" if isinstance(one, ForecastDue) else "")
    return f"{hashlib.sha256(about.encode()).hexdigest()[:32]}@taper"
