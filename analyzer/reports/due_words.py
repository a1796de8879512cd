"""What falls due, in words: as the text, the page, the calendar and a message say it. The number comes first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from analyzer.limits import limit_value
from analyzer.reports.trend_words import ahead_words, unlogged_asks
from analyzer.reports.wording import MEASURE_LABELS, with_unit
from analyzer.service.due_result import (
    AskedFirst,
    BatteryAgeDue,
    BrushesDue,
    CapacityTestDue,
    Due,
    DueKind,
    DueState,
    ForecastDue,
    Origin,
    Since,
    Unknown,
)

#: What stands below every list of what falls due.
DEFERS = (
    "Intervals are common practice; the manufacturer's maintenance manual comes before them. Hours flown without a "
    "log are not counted, so a part may be due sooner than shown here."
)
#: How work that falls due is called.
TITLES = {
    DueKind.CAPACITY_TEST: "Battery capacity test",
    DueKind.BATTERY_AGE: "Battery age",
    DueKind.BRUSHES: "Alternator brushes",
}
_UNKNOWN = {
    Unknown.NEITHER_TESTED_NOR_FITTED: (
        "no capacity test and no fitting date is entered; enter a test in the maintenance log, or the date in settings"
    ),
    Unknown.NOT_FITTED: "no fitting date is entered; enter it in settings",
    Unknown.AHEAD: "the fitting date entered lies in the future; correct it in settings",
    Unknown.WITHOUT_CLOCK: "no flight has a date",
    Unknown.WHICH_OF_TWO: (
        "the maintenance log does not say which of the two alternators the work was on; enter in settings when the "
        "older one was fitted"
    ),
    Unknown.NO_INTERVAL: "no interval is common to such a generator; its maintenance manual gives it",
}


@dataclass(frozen=True, slots=True)
class DueWords:
    """One thing that falls due: what, when, and why then."""

    title: str
    when: str
    why: str


def due_words(one: Due) -> DueWords:
    """What falls due, in words."""
    if isinstance(one, ForecastDue):
        label, limit = MEASURE_LABELS[one.coming.measure], with_unit(one.coming.limit, one.coming.unit)
        is_at = "is past" if one.coming.reached.past else "may reach"
        return DueWords(f"{label} {is_at} its limit of {limit}", when_words(one), _forecast(one))
    why = _not_known(one) if one.unknown is not None else _known(one)
    return DueWords(TITLES[one.kind], when_words(one), why)


@dataclass(frozen=True, slots=True)
class NotKnown:
    """What is not known of some aircraft for one reason."""

    tails: tuple[str, ...]
    title: str
    why: str


def not_known(items: Iterable[Due]) -> list[NotKnown]:
    """What is not known, aircraft with the same reason together."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in items:
        if one.state is DueState.UNKNOWN:
            told = due_words(one)
            found.setdefault((told.title, told.why), []).append(one.tail)
    return [NotKnown(tuple(tails), title, why) for (title, why), tails in found.items()]


def asked_words(one: AskedFirst) -> str:
    """What to answer before a battery's dates are taken for its own."""
    return (
        f"{unlogged_asks(one.work)} Nothing is logged; until it is, its age and capacity test count from the battery "
        "before."
    )


def when_words(one: Due) -> str:
    """When it is due: "due since 2026-05-02", "2026-05-02", "not known"."""
    if one.state is DueState.UNKNOWN:
        return "not known"
    if isinstance(one, ForecastDue) and one.state is DueState.OVERDUE:
        return "now"
    if one.state is DueState.OVERDUE:
        return "due now" if one.on is None else f"due since {one.on}"
    return "no date" if one.on is None else f"{one.on}"


def _known(one: CapacityTestDue | BatteryAgeDue | BrushesDue) -> str:
    if isinstance(one, BrushesDue):
        return _brushes(one)
    if isinstance(one, BatteryAgeDue):
        return f"{_months('due_battery_age')} after the battery was fitted {_since(one.since)}; its manual decides."
    if one.low is not None:
        return (
            f"{one.low:g} % of rated in the last capacity test, {_since(one.since)}, is less than "
            f"{limit_value('due_capacity_least'):g} %. "
            "Some manuals end a battery's service there, others at 80 %; its own decides."
        )
    if one.since is not None and one.since.origin is Origin.TESTED:
        return f"{_months('due_capacity_test')} after the last capacity test, {_since(one.since)}; its manual decides."
    return (
        f"{_months('due_capacity_test')} after the battery was fitted {_since(one.since)}, since no test of it is "
        "entered; its manual decides."
    )


def _months(name: str) -> str:
    return f"{limit_value(name):g} months"


def _since(since: Since | None) -> str:
    """A day, and what tells it."""
    if since is None:
        return ""
    told = {Origin.TESTED: "", Origin.SET: " (settings)", Origin.ENTERED: " (maintenance log)"}
    return f"on {since.day}{told[since.origin]}"


def _brushes(one: BrushesDue) -> str:
    run = f"{one.run or 0.0:.0f} of {limit_value('due_brushes'):g} h run since the alternator was fitted"
    at = ""
    if one.on is not None and one.hours_a_week is not None:
        at = f"; the rest at {one.hours_a_week:.1f} h a week from the last flight on"
    elif one.state is not DueState.OVERDUE:
        at = "; the aircraft is not flying, so no date can be given"
    return f"{run} {_since(one.since)}{at}. Its manual decides."


def _forecast(one: ForecastDue) -> str:
    reached, now = one.coming.reached, f"Now {with_unit(one.level, one.coming.unit)}"
    if reached.past:
        return f"{now} by its trend."
    hours = f"{now}; in {ahead_words(reached, 'engine hour')}"
    if one.on is None or one.hours_a_week is None:
        return f"{hours}; the aircraft is not flying, so no date can be given."
    since = f" from the last flight, {one.last_flight:%Y-%m-%d}, on" if one.last_flight else ""
    return f"{hours}; the date is that of the early end, at {one.hours_a_week:.1f} h a week{since}."


def _not_known(one: CapacityTestDue | BatteryAgeDue | BrushesDue) -> str:
    """Why it is not known, and what to do."""
    if one.unknown is Unknown.LOGS_BEGIN_LATER and isinstance(one, BrushesDue) and one.since is not None:
        return _logs_begin_later(one, one.since.day)
    assert one.unknown is not None  # else it would be known
    return f"Not known, because {_UNKNOWN[one.unknown]}."


def _logs_begin_later(one: BrushesDue, fitted: date) -> str:
    return (
        f"Not known, because the alternator was fitted on {fitted} and logs are kept only from {one.logs_begin} on; "
        f"{one.run or 0.0:.0f} of {limit_value('due_brushes'):g} h are run at least. Enter in settings a date from "
        f"{one.logs_begin} on, with its hours on that date."
    )
