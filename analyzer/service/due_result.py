"""What falls due of an aircraft, and when: as types, for command, page, calendar and message alike."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import ClassVar

from analyzer.trends.fleet_result import NextLimit
from analyzer.trends.unlogged import Unlogged


class DueKind(StrEnum):
    """What can fall due."""

    CAPACITY_TEST = "capacity_test"
    BATTERY_AGE = "battery_age"
    BRUSHES = "brushes"
    FORECAST = "forecast"


class DueState(StrEnum):
    """How near it is, the most urgent first."""

    OVERDUE = "overdue"  # due today, or before
    SOON = "soon"  # within ``due_soon``
    LATER = "later"
    UNKNOWN = "not known"

    @property
    def place(self) -> int:
        """Place among the states, the most urgent first."""
        return list(DueState).index(self)


class Unknown(StrEnum):
    """Why it is not known when something is due."""

    NEITHER_TESTED_NOR_FITTED = "neither_tested_nor_fitted"
    NOT_FITTED = "not_fitted"  # no date fitted is entered
    AHEAD = "ahead"  # the date fitted lies ahead
    LOGS_BEGIN_LATER = "logs_begin_later"  # than the day from which hours count
    WITHOUT_CLOCK = "without_clock"  # no flight has a date
    WHICH_OF_TWO = "which_of_two"  # alternators an entry is about
    NO_INTERVAL = "no_interval"  # that is common to such a generator


class Origin(StrEnum):
    """What a time counts from."""

    TESTED = "tested"
    SET = "set"  # fitted, as the settings say
    ENTERED = "entered"  # fitted, as a maintenance entry says


@dataclass(frozen=True, slots=True)
class Since:
    """The day that a time counts from, and what tells it."""

    day: date
    origin: Origin


@dataclass(frozen=True, slots=True)
class _Due:
    """One thing that falls due."""

    tail: str
    state: DueState
    on: date | None  # when, rather early than late; None where no day can be told
    unknown: Unknown | None  # why nothing is known; None where it is


@dataclass(frozen=True, slots=True)
class CapacityTestDue(_Due):
    """The battery's next capacity test."""

    kind: ClassVar[DueKind] = DueKind.CAPACITY_TEST
    since: Since | None
    low: float | None  # what the last test came to, where that is too little [% of rated]


@dataclass(frozen=True, slots=True)
class BatteryAgeDue(_Due):
    """The battery's age."""

    kind: ClassVar[DueKind] = DueKind.BATTERY_AGE
    since: Since | None


@dataclass(frozen=True, slots=True)
class BrushesDue(_Due):
    """The brushes of the alternator, by engine hours."""

    kind: ClassVar[DueKind] = DueKind.BRUSHES
    since: Since | None
    run: float | None  # at least, since they were new [h]
    hours_a_week: float | None
    logs_begin: date | None  # of this aircraft


@dataclass(frozen=True, slots=True)
class ForecastDue(_Due):
    """A measure that heads for its limit."""

    kind: ClassVar[DueKind] = DueKind.FORECAST
    coming: NextLimit
    level: float  # at present
    hours_a_week: float | None
    last_flight: datetime | None  # None without a clock
    reset: date | None  # of the last work that started its trend anew


Due = CapacityTestDue | BatteryAgeDue | BrushesDue | ForecastDue


@dataclass(frozen=True, slots=True)
class AskedFirst:
    """A battery that may have been replaced and that nobody logged: its age and its next test do not know of it."""

    tail: str
    work: Unlogged


@dataclass(frozen=True, slots=True)
class DueList:
    """What falls due of some aircraft, the most urgent first."""

    as_of: datetime
    tails: tuple[str, ...]
    items: tuple[Due, ...]
    asked: tuple[AskedFirst, ...] = ()  # what may be due later than it says
