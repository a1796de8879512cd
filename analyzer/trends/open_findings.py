"""What stands open of an aircraft, and so its condition: worked out here for command, page and sheet alike."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Generic, Protocol, TypeVar

from analyzer.findings.finding import FindingName, Severity
from analyzer.limits import limit_value
from analyzer.trends.judging import TrendFinding

#: (finding, when it was raised or its flight began) of each finding of an aircraft that a person has settled.
Settled = Container[tuple[str, str]]
NONE_SETTLED: frozenset[tuple[str, str]] = frozenset()


class Condition(StrEnum):
    """How an aircraft stands, from most to least need; what is not known needs a look before what is well."""

    WARNING = "warning"
    CAUTION = "caution"
    ADVISORY = "advisory"
    UNKNOWN = "unknown"
    GOOD = "good"

    @property
    def place(self) -> int:
        """Place among the conditions, the one in most need first."""
        return list(Condition).index(self)


class Found(Protocol):
    """A finding, as far as its condition needs it."""

    @property
    def name(self) -> FindingName:
        """Its name."""

    @property
    def severity(self) -> Severity:
        """How grave it is."""


FlightsOwn = TypeVar("FlightsOwn", bound=Found)


@dataclass(frozen=True, slots=True)
class OfFlight(Generic[FlightsOwn]):
    """A finding of one of an aircraft's latest flights."""

    finding: FlightsOwn
    flight: int  # place in the tail's history, from 0
    start: datetime | None  # of the flight, None without a clock
    flight_id: int | None = None  # in the records


@dataclass(frozen=True, slots=True)
class OpenFindings(Generic[FlightsOwn]):
    """The findings that have not lapsed and that nobody has settled."""

    over_many: tuple[TrendFinding, ...]
    of_flights: tuple[OfFlight[FlightsOwn], ...]  # the latest flight's first

    @property
    def every(self) -> list[TrendFinding | FlightsOwn]:
        """All of them."""
        return [*self.over_many, *(one.finding for one in self.of_flights)]

    @property
    def worst(self) -> TrendFinding | FlightsOwn | None:
        """The most severe one, None when nothing stands open; of equals one over many flights, then the latest."""
        return max(self.every, key=lambda one: one.severity.rank, default=None)

    @property
    def shown_by(self) -> OfFlight[FlightsOwn] | None:
        """The flight that shows the worst one, None when it is one over many flights."""
        worst = self.worst
        return next((one for one in self.of_flights if one.finding is worst), None)

    @property
    def names(self) -> list[FindingName]:
        """Kinds of findings that stand open, each once."""
        return list(dict.fromkeys(one.name for one in self.every))

    def condition(self, flights: int) -> Condition:
        """The worst severity; with nothing open "good", or "unknown" where too few ``flights`` tell what is usual."""
        if (worst := self.worst) is not None:
            return Condition(worst.severity)
        return Condition.GOOD if flights >= limit_value("trend_recurs") else Condition.UNKNOWN


def open_findings(
    over_many: Iterable[TrendFinding], of_flights: Iterable[OfFlight[FlightsOwn]], settled: Settled = NONE_SETTLED
) -> OpenFindings[FlightsOwn]:
    """Give what stands open.

    Parameters
    ----------
    over_many : findings of the trends
    of_flights : findings of the flights that still count (``flights_that_count``), the latest flight's first
    settled : what people have settled of this aircraft
    """
    return OpenFindings(
        tuple(one for one in over_many if one.open and (one.name, one.key) not in settled),
        tuple(
            one for one in of_flights if one.start is None or (one.finding.name, one.start.isoformat()) not in settled
        ),
    )


def flights_that_count() -> int:
    """Latest flights, back from the last one, whose own findings still stand open."""
    return int(limit_value("trend_recurs"))
