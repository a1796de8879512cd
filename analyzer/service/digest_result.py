"""What a digest comes to: what is new, worse, fixed, near and still open in the fleet since a date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analyzer.findings.finding import FindingName, Severity
from analyzer.records.changing import Disposition
from analyzer.records.digest_flights import AddedLate, FlightsFound
from analyzer.records.kept import KeptLog
from analyzer.records.refusals import RefusedLog
from analyzer.trends.comparison import Comparison
from analyzer.trends.judging import TrendFinding
from analyzer.trends.since import ComingLimit, WorseTrend


@dataclass(frozen=True, slots=True)
class AboutFinding:
    """A finding of an aircraft: over many flights, or of single flights since the date."""

    tail: str | None  # None where nothing tells whose log it is
    about: TrendFinding | FlightsFound

    @property
    def name(self) -> FindingName:
        """The finding's name."""
        return self.about.name

    @property
    def severity(self) -> Severity:
        """How grave it is."""
        return self.about.severity


@dataclass(frozen=True, slots=True)
class NewFinding(AboutFinding):
    """One that was raised since, or that the flights before the date had not."""

    flights: FlightsFound | None  # that show it since
    disposition: Disposition | None  # what a person said of it last


@dataclass(frozen=True, slots=True)
class WorseFinding(AboutFinding):
    """One that is more severe than it was."""

    severity_then: Severity


@dataclass(frozen=True, slots=True)
class OpenFinding(AboutFinding):
    """One that stands open from before, or for which work was done that is not known to have helped."""

    work: Comparison | None


@dataclass(frozen=True, slots=True)
class WorseTrendOf:
    """A trend of an aircraft that is worse than it was."""

    tail: str
    trend: WorseTrend


@dataclass(frozen=True, slots=True)
class Lapsed:
    """A finding over many flights that is not found any more."""

    tail: str
    finding: TrendFinding
    at: datetime

    @property
    def day(self) -> str:
        """The day of the flight at which it lapsed, ISO 8601."""
        return f"{self.at:%Y-%m-%d}"


@dataclass(frozen=True, slots=True)
class CalledFixed:
    """A finding that a person called fixed."""

    said: Disposition

    @property
    def tail(self) -> str:
        """The aircraft."""
        return self.said.tail

    @property
    def day(self) -> str:
        """The day on which it was said, ISO 8601."""
        return self.said.made_at[:10]


@dataclass(frozen=True, slots=True)
class Helped:
    """A maintenance entry that helped, as was not known yet at the date."""

    tail: str
    comparison: Comparison

    @property
    def day(self) -> str:
        """The day of the work, ISO 8601."""
        return f"{self.comparison.entry.when:%Y-%m-%d}"


@dataclass(frozen=True, slots=True)
class Soon:
    """A limit that may be reached soon."""

    tail: str
    hours_a_week: float | None  # at which the aircraft flies, None when it does not
    coming: ComingLimit


@dataclass(frozen=True, slots=True)
class NotFlown:
    """An aircraft without a flight since."""

    tail: str
    last_flight: datetime | None  # None without a clock
    days: int | None  # since then


@dataclass(frozen=True, slots=True)
class LogsToLookAt:
    """Logs and flights with which something is to be done."""

    without_tail: tuple[KeptLog, ...]
    refused: tuple[RefusedLog, ...]  # and not read meanwhile
    without_clock: int  # flights that no date finds
    dated_later: int  # flights dated after the digest

    @property
    def any(self) -> bool:
        """Whether there is anything."""
        return bool(self.without_tail or self.refused or self.without_clock or self.dated_later)


@dataclass(frozen=True, slots=True)
class Digest:
    """The digest, each part in the order in which it is read."""

    since: datetime
    as_of: datetime
    tails: int
    flights: int
    hours: float
    added_late: tuple[AddedLate, ...]
    new: tuple[NewFinding, ...]
    worse: tuple[WorseFinding | WorseTrendOf, ...]
    fixed: tuple[Lapsed | CalledFixed | Helped, ...]
    soon: tuple[Soon, ...]
    still_open: tuple[OpenFinding, ...]
    not_flown: tuple[NotFlown, ...]
    logs: LogsToLookAt
    newest: datetime | None = None  # start of the fleet's last flight by then
