"""The digest in words: its sections and items, as the text and the e-mail both lay them out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analyzer.findings.causes import first_checks
from analyzer.phrases import counted
from analyzer.records.digest_flights import AddedLate, FlightsFound
from analyzer.reports.plainly import plainly
from analyzer.reports.trend_words import (
    ahead_words,
    difference_words,
    found_words,
    raised_words,
    reach_words,
    work_words,
)
from analyzer.reports.wording import MEASURE_LABELS, finding_label, with_unit
from analyzer.service.digest_result import (
    AboutFinding,
    CalledFixed,
    Digest,
    Helped,
    Lapsed,
    LogsToLookAt,
    NewFinding,
    NotFlown,
    OpenFinding,
    Soon,
    WorseFinding,
    WorseTrendOf,
)
from analyzer.service.periods import period_words
from analyzer.trends.comparison import MeasureVerdict
from analyzer.trends.followed_tail import Projection
from analyzer.trends.judging import TrendFinding

UNKNOWN = "unknown aircraft"
#: Starts of flights, and logs, named one by one before the rest are counted.
NAMED_MOST = 5


#: How a line begins that names a topic of the reference.
REFERENCE = "reference: "


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that the digest tells: whose, what, and the lines below it; nothing here is escaped yet."""

    tail: str
    title: str
    severity: str | None = None
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the digest with its items."""

    name: str
    title: str
    items: tuple[Item, ...]


def headline(digest: Digest) -> str:
    """What the digest covers, in one sentence."""
    return (
        f"{counted(digest.tails, 'aircraft', 'aircraft')}, {counted(digest.flights, 'flight')} and "
        f"{digest.hours:.1f} engine hours {period_words(digest.since, digest.newest, digest.as_of)}; "
        f"as of {_when(digest.as_of)}."
    )


def nothing_new(digest: Digest) -> str | None:
    """The sentence that stands alone when nothing changed, None when something did."""
    if digest.new or digest.worse or digest.fixed or digest.soon:
        return None
    return (
        f"Nothing new since {_when(digest.since)}: no finding raised, none worse, none fixed, no limit near. "
        "Not recorded does not mean it did not happen."
    )


def sections(digest: Digest) -> list[Section]:
    """Every part that has something to tell, the most urgent first."""
    told = [
        Section("new", "New", tuple(_new(one) for one in digest.new)),
        Section("worse", "Worse", tuple(_worse(one) for one in digest.worse)),
        Section("soon", "Soon", tuple(_soon(one) for one in digest.soon)),
        Section("fixed", "Fixed", tuple(_fixed(one) for one in digest.fixed)),
        Section("still_open", "Still open from before", tuple(_still_open(one) for one in digest.still_open)),
        Section("not_flown", "No flights since", tuple(_idle(one) for one in digest.not_flown)),
        Section("logs", "Logs to look at", tuple(_of_logs(digest.logs) + _late(digest.added_late))),
    ]
    return [section for section in told if section.items]


def line_words(line: str) -> str:
    """A line of an item; where it names a topic of the reference, by its title."""
    named = line.removeprefix(REFERENCE)
    return line if named == line else f"In the reference: {finding_label(named)}"


def _when(moment: datetime) -> str:
    """A moment as a person writes it; midnight goes without saying."""
    return f"{moment:%Y-%m-%d %H:%M}".removesuffix(" 00:00")


def _causes(one: AboutFinding) -> list[str]:
    likely = one.about.likely
    lines = [f"likely: {likely[0].words}"] if likely else []
    return lines + [f"check: {words}" for words in first_checks(one.about)]


def _flights(found: FlightsFound | None) -> list[str]:
    if found is None:
        return []
    named = ", ".join(_when(flight.start) for flight in found.flights[-NAMED_MOST:])
    latest = "the latest " if len(found.flights) > NAMED_MOST else ""
    return [f"in {counted(len(found.flights), 'flight')}: {latest}{named}"]


def _new(one: NewFinding) -> Item:
    raised = ""
    if isinstance(one.about, TrendFinding):
        last = one.about.raisings[-1]
        raised = f"raised {_when(last.start) if last.start else one.about.key}, over many flights: "
    lines = [raised + one.about.says, *_flights(one.flights), *_causes(one)]
    if said := one.disposition:
        lines.append(f"{said.who} says: {said.verdict}" + (f", {said.words}" if said.words else ""))
    lines.append(f"{REFERENCE}{one.name}")
    return Item(one.tail or UNKNOWN, finding_label(one.name), one.severity, tuple(lines))


def _worse(one: WorseFinding | WorseTrendOf) -> Item:
    if isinstance(one, WorseTrendOf):
        return _worse_trend(one)
    flights = _flights(None if isinstance(one.about, TrendFinding) else one.about)
    lines = [f"{one.severity} now, {one.severity_then} before: {one.about.says}", *flights, *_causes(one)]
    return Item(one.tail or UNKNOWN, finding_label(one.name), one.severity, tuple(lines))


def _worse_trend(one: WorseTrendOf) -> Item:
    trend, unit = one.trend, one.trend.unit
    now, then = trend.now, trend.then
    lines = [f"{with_unit(now.level, unit)} now" + (f", {with_unit(then.level, unit)} before" if then else "")]
    if now.ahead is not None and now.limit is not None:
        ahead = None if then is None else then.ahead
        before = f"before: {_ahead(ahead)}" if ahead is not None else "before: not heading for it"
        lines.append(f"limit {with_unit(now.limit, unit)}: {_ahead(now.ahead)}; {before}")
    return Item(one.tail, f"{MEASURE_LABELS[trend.measure]}: {trend.way}", None, tuple(lines))


def _ahead(reached: Projection) -> str:
    return "passed" if reached.past else f"in {_about(reached, 'engine hour', interval=False)}"


def _about(reached: Projection, unit: str, *, interval: bool) -> str:
    """In how many of a unit a limit is reached, "about 50 engine hours (40 to 66)"; the interval without one number."""
    if reached.likely is None:
        return reach_words(reached, unit)
    return ahead_words(reached, unit, interval=interval)


def _soon(one: Soon) -> Item:
    coming, limit = one.coming, one.coming.limit
    label, reached = MEASURE_LABELS[limit.measure], limit.reached
    level = f"now {with_unit(coming.level, limit.unit)}, limit {with_unit(limit.limit, limit.unit)}"
    if reached.past:
        return Item(one.tail, f"{label} is past its limit", None, (level,))
    weeks, rate = coming.weeks, "the aircraft is not flying, so no date can be given"
    if weeks is not None and one.hours_a_week is not None:
        rate = f"{_about(weeks, 'week', interval=True)} at its {one.hours_a_week:.1f} h a week"
    hours = _about(reached, "engine hour", interval=True)
    return Item(one.tail, f"{label} reaches its limit", None, (level, f"in {hours}; {rate}"))


def _fixed(one: Lapsed | CalledFixed | Helped) -> Item:
    if isinstance(one, Helped):
        return _helped(one)
    if isinstance(one, CalledFixed):
        words = f": {one.said.words}" if one.said.words else ""
        line = f"called fixed by {one.said.who} on {one.day}{words}"
        return Item(one.tail, finding_label(one.said.finding), None, (line,))
    return Item(one.tail, finding_label(one.finding.name), None, (f"{raised_words(one.finding)}, lapsed {one.day}",))


def _helped(one: Helped) -> Item:
    comparison = one.comparison
    lines = [
        f"{MEASURE_LABELS[own.measure]}: {difference_words(own.difference)} "
        f"({counted(own.flights_after, 'flight')} since)"
        for own in comparison.measures
        if own.verdict is MeasureVerdict.HELPED and own.difference is not None
    ]
    if not lines and (says := found_words(comparison.findings)):
        lines = [says]
    return Item(one.tail, f"Helped: {work_words(comparison.entry).rstrip('.')} ({one.day})", None, tuple(lines))


def _still_open(one: OpenFinding) -> Item:
    lines = [raised_words(one.about)] if isinstance(one.about, TrendFinding) else []
    if work := one.work:
        done = f"work done {_when(work.entry.when)[:10]}: {work_words(work.entry).rstrip('.')}"
        lines.append(f"{done}; did it help: {work.verdict}")
    return Item(one.tail or UNKNOWN, finding_label(one.name), one.severity, tuple(lines))


def _idle(one: NotFlown) -> Item:
    if one.last_flight is None or one.days is None:
        return Item(one.tail, "no flight with a clock is kept")
    return Item(one.tail, f"last flight {one.last_flight:%Y-%m-%d}, {counted(one.days, 'day')} ago")


def _of_logs(logs: LogsToLookAt) -> list[Item]:
    items = []
    if logs.without_tail:
        title = f"{counted(len(logs.without_tail), 'log')} without a tail number; say which aircraft"
        items.append(Item("", title, None, _named([log.source for log in logs.without_tail])))
    if logs.refused:
        lines = _named([f"{log.source}: {plainly(log.because)}" for log in logs.refused])
        items.append(Item("", f"{counted(len(logs.refused), 'log')} refused", None, lines))
    if logs.without_clock:
        count = counted(logs.without_clock, "flight")
        items.append(Item("", f"{count} added since without a clock: under no date and in no trend"))
    if logs.dated_later:
        count = counted(logs.dated_later, "flight")
        items.append(Item("", f"{count} dated after this digest and left out: is a recorder's clock wrong?"))
    return items


def _named(lines: list[str], more: str = "") -> tuple[str, ...]:
    """The first few of some lines, and how many more there are."""
    rest = len(lines) - NAMED_MOST
    return (*lines[:NAMED_MOST], *([f"and {rest} more{more}"] if rest > 0 else []))


def _late(late: tuple[AddedLate, ...]) -> list[Item]:
    """Flights from before the date that came after it; what they show lies before this digest."""
    if not late:
        return []
    count = counted(sum(one.flights for one in late), "flight")
    whose = _named([f"{one.tail or UNKNOWN} ({one.flights})" for one in late], " aircraft")
    lines = (", ".join(whose), "the digest since that day tells what they show")
    first = min(one.earliest for one in late)
    title = f"{count} flown earlier and imported since; the earliest on {first:%Y-%m-%d}"
    return [Item("", title, None, lines)]
