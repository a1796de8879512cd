"""Findings of single flights around an entry: whether what the work was for has been found again since."""

from __future__ import annotations

from dataclasses import dataclass
from math import comb
from typing import Any

from analyzer.limits import limit_value
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.history import FlightSummary, History


@dataclass(frozen=True, slots=True)
class FoundAround:
    """In how many flights before and after an entry one finding was made."""

    finding: str
    before: int
    flights_before: int
    after: int
    flights_after: int

    @property
    def chance(self) -> float:
        """Chance of so few flights with it among those after, had the work changed nothing [1].

        Fisher's exact test, one-sided: all ways of dealing the flights with it to both sides are alike.
        """
        found, flights = self.before + self.after, self.flights_before + self.flights_after
        ways = sum(comb(self.flights_after, n) * comb(self.flights_before, found - n) for n in range(self.after + 1))
        return ways / comb(flights, found)

    def document(self) -> dict[str, Any]:
        """The counts for the JSON result."""
        return {
            "finding": self.finding,
            "before": self.before,
            "flights_before": self.flights_before,
            "after": self.after,
            "flights_after": self.flights_after,
        }


def found_around(history: History, entry: Entry) -> tuple[FoundAround, ...]:
    """Count each finding that this kind of work can end, up to the next work on either side that can end it too.

    Of each side as many flights count as of the measures after an entry: twice the latest ones.
    """
    counted = (_counted(history, entry, finding) for finding in sorted(kinds()[entry.kind].ends))
    return tuple(one for one in counted if one.before or one.after)


def _counted(history: History, entry: Entry, finding: str) -> FoundAround:
    others = [one.when for one in history.entries if one != entry and finding in kinds()[one.kind].ends]
    since = max((when for when in others if when <= entry.when), default=None)
    until = min((when for when in others if when > entry.when), default=None)
    reach = 2 * int(limit_value("trend_recent"))
    before = [one for one in history.flights if one.start < entry.when and (since is None or one.start >= since)]
    after = [one for one in history.flights if one.start >= entry.when and (until is None or one.start < until)]
    sides = before[-reach:], after[:reach]
    with_it = [sum(_has(flight, finding) for flight in side) for side in sides]
    return FoundAround(finding, with_it[0], len(sides[0]), with_it[1], len(sides[1]))


def _has(flight: FlightSummary, finding: str) -> bool:
    return any(one.name == finding for one in flight.findings)
