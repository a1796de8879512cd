"""What single flights since a date show, as the digest tells it: one item an aircraft and finding."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select

from analyzer.findings.finding import Cause, Finding, FindingName, Severity
from analyzer.limits import limit_value
from analyzer.records.copies import flown_between, latest_before
from analyzer.records.problems import DamagedError
from analyzer.records.seals import checked_findings
from analyzer.records.stored import finding_of, moment
from analyzer.records.tables import findings, flights, logs


@dataclass(frozen=True, slots=True)
class Window:
    """The time that a digest tells of: by the logs' clock, and by the one that what was done is dated by."""

    since: datetime
    until: datetime
    since_utc: str  # as the records write when something was done
    until_utc: str


@dataclass(frozen=True, slots=True)
class FlightRef:
    """A flight that is kept, with a clock."""

    id: int
    start: datetime


@dataclass(frozen=True, slots=True)
class AddedLate:
    """Flights of an aircraft from before a window that were added in it."""

    tail: str | None
    flights: int
    earliest: datetime


@dataclass(frozen=True, slots=True)
class FlightsFound:
    """One finding of one aircraft in flights since a date."""

    tail: str | None
    name: FindingName
    severity: Severity  # the worst of these flights
    before: Severity | None  # the worst in the latest flights before the date, None when none had it
    flights: tuple[FlightRef, ...]  # with it, in order
    worst: Finding  # of the latest flight with the worst severity

    @property
    def says(self) -> str:
        """What was seen."""
        return self.worst.says

    @property
    def likely(self) -> tuple[Cause, ...]:
        """What could explain it, best first."""
        return self.worst.likely

    @property
    def check(self) -> tuple[str, ...]:
        """What to check, in order."""
        return self.worst.check


def found_since(connection: Connection, window: Window) -> list[FlightsFound]:
    """Give the findings of the flights in a window, with what the aircraft's latest flights before it had.

    The latest ``trend_recent`` flights before the window count. Flights of no known aircraft come under None.

    Raises
    ------
    DamagedError
        When a finding or whose it is is not what was written.
    """
    asked = (
        select(
            findings.c.name, findings.c.severity, findings.c.document, findings.c.seal, findings.c.flight_id,
            flights.c.id, flights.c.starts, flights.c.tail, logs.c.tail.label("of_log"),
        )
        .join(flights, flights.c.id == findings.c.flight_id)
        .join(logs, logs.c.id == flights.c.log_id)
        .where(flights.c.starts >= window.since.isoformat(), flights.c.starts <= window.until.isoformat())
        .order_by(flights.c.starts, findings.c.id)
    )  # fmt: skip
    counted = {row.id for row in flown_between(connection, window.since, window.until)}
    groups: dict[tuple[str | None, str], list[Any]] = {}
    for row in connection.execute(asked):
        if row.id not in counted:
            continue
        if row.tail != row.of_log:  # as a damaged index tells it, which dates look flights up by
            raise DamagedError("the list of flights")
        checked_findings([row._mapping])
        groups.setdefault((row.tail, row.name), []).append(row)
    tails = {tail for tail, _ in groups}
    earlier = {tail: {} if tail is None else _worst_before(connection, tail, window.since) for tail in tails}
    return [_found(tail, name, rows, earlier[tail].get(name)) for (tail, name), rows in groups.items()]


def _found(tail: str | None, name: str, rows: list[Any], before: Severity | None) -> FlightsFound:
    severity = max((Severity(row.severity) for row in rows), key=lambda one: one.rank)
    worst = next(finding_of(row.document) for row in reversed(rows) if row.severity == severity)
    when = {row.id: moment(row.starts) for row in rows}  # a flight may have the same finding more than once
    shown = tuple(FlightRef(number, start) for number, start in when.items())
    return FlightsFound(tail, FindingName(name), severity, before, shown, worst)


def _worst_before(connection: Connection, tail: str, since: datetime) -> dict[str, Severity]:
    """Worst severity of each finding in a tail's latest flights before a moment."""
    latest = latest_before(connection, tail, since, int(limit_value("trend_recent")))
    asked = select(findings.c.name, findings.c.severity).where(findings.c.flight_id.in_(latest))
    worst: dict[str, Severity] = {}
    for name, severity in connection.execute(asked):
        found = Severity(severity)
        worst[name] = max(worst.get(name, found), found, key=lambda one: one.rank)
    return worst


def flown(connection: Connection, window: Window) -> tuple[int, float]:
    """Count the flights of a window and their engine hours, each flight once."""
    rows = flown_between(connection, window.since, window.until)
    return len(rows), float(sum(row.hours for row in rows))


def added_late(connection: Connection, window: Window) -> tuple[AddedLate, ...]:
    """Give the aircraft of which flights from before a window were added in it: count and first start, no copies.

    What they show is dated by the flight, and so lies before the digest. Flights of no known aircraft come first.
    """
    asked = (
        select(flights.c.id, flights.c.tail, flights.c.starts)
        .join(logs, logs.c.id == flights.c.log_id)
        .where(
            logs.c.added_at >= window.since_utc,
            logs.c.added_at <= window.until_utc,
            flights.c.starts < window.since.isoformat(),
        )
    )
    late: dict[str | None, dict[int, str]] = {}
    for row in connection.execute(asked):
        late.setdefault(row.tail, {})[row.id] = row.starts
    found = []
    for tail in sorted(late, key=lambda one: one or ""):
        own = late[tail]
        if tail is not None:
            once = {row.id for row in flown_between(connection, datetime.min, window.since, tail)}
            own = {number: starts for number, starts in own.items() if number in once}
        if own:
            found.append(AddedLate(tail, len(own), moment(min(own.values()))))
    return tuple(found)


def without_clock(connection: Connection, window: Window) -> int:
    """Count the flights added in a window whose log has no clock: no date finds them."""
    asked = (
        select(func.count())
        .select_from(flights.join(logs, logs.c.id == flights.c.log_id))
        .where(logs.c.added_at >= window.since_utc, logs.c.added_at <= window.until_utc, flights.c.starts.is_(None))
    )
    return int(connection.execute(asked).scalar() or 0)


def dated_later(connection: Connection, window: Window) -> int:
    """Count the flights kept by the end of a window that are dated after it: a recorder's clock that is wrong."""
    asked = (
        select(func.count())
        .select_from(flights.join(logs, logs.c.id == flights.c.log_id))
        .where(flights.c.starts > window.until.isoformat(), logs.c.added_at <= window.until_utc)
    )
    return int(connection.execute(asked).scalar() or 0)


def newest_start(connection: Connection, until: datetime) -> datetime | None:
    """Give when the fleet's last flight begun by a moment began, None when none with a clock did."""
    begun = select(flights.c.starts).where(flights.c.tail.is_not(None), flights.c.starts <= until.isoformat())
    found: str | None = connection.execute(begun.order_by(flights.c.starts.desc()).limit(1)).scalar()
    return None if found is None else moment(found)
