"""Findings of single flights around an entry: whether what the work was for has been found again since."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import comb

from analyzer.findings.finding import FindingName
from analyzer.limits import limit_value
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.history import FlightSummary, History

#: Measures of which a flight must carry one to count as a flight in which a finding would have been made.
_OF_THE_BUS = ("regulated_voltage",)
SHOWN_BY: dict[str, tuple[str, ...]] = {
    "weak_cranking": ("cranking_voltage", "cranking_time"),
    "low_resting_voltage": ("resting_voltage",),
    "slow_recharge": ("recharge_time_constant",),
    "recharge_never_settles": ("maintenance_current",),
    "alternator_offline": _OF_THE_BUS,
    "output_short": _OF_THE_BUS,
    "overvoltage": _OF_THE_BUS,
    "overvoltage_trip": _OF_THE_BUS,
    "regulator_high": _OF_THE_BUS,
    "regulator_low": _OF_THE_BUS,
    "regulator_drift": _OF_THE_BUS,
    "regulator_hunting": _OF_THE_BUS,
    "unsteady_connection": _OF_THE_BUS,
    "battery_offline": _OF_THE_BUS,
    "reading_fault": (),  # any reading can be faulty
}


@dataclass(frozen=True, slots=True)
class FoundAround:
    """In how many flights before and after an entry one finding was made, of those in which it would have been."""

    finding: FindingName
    before: int
    flights_before: int
    after: int
    flights_after: int
    lately: int = 1  # flights with it among the latest ``trend_recent`` before: one that had ended needs no work
    clean: int | None = None  # flights after the work until it was back for good; None where it is not back
    place: int | None = field(default=None, compare=False)  # of the first flight after the work in the tail's history

    @property
    def chance(self) -> float:
        """Chance of so few flights with it among those after, had the work changed nothing [1]."""
        return _chance_of_so_few(self.before, self.flights_before, self.after, self.flights_after)

    @property
    def frequent(self) -> bool:
        """Whether it was there when the work was done, and so often that none since would not be luck."""
        none = _chance_of_so_few(self.before, self.flights_before, 0, self.flights_after)
        enough = self.flights_after >= limit_value("trend_fewest_step")
        return self.lately > 0 and enough and none < limit_value("trend_ended_chance")

    @property
    def ended(self) -> bool:
        """Whether it was there when the work was done and surely is no more, but for a stray flight."""
        stray = self._share_at_most(limit_value("trend_ended_share"))
        return self.frequent and stray and self.clean is None and self.chance < limit_value("trend_ended_chance")

    @property
    def goes_on(self) -> bool:
        """Whether it was there when the work was done and is found about as often since; one flight tells nothing."""
        told = self.frequent or min(self.before, self.after) > limit_value("trend_stray_flights")
        as_before = not self._share_at_most(limit_value("trend_goes_on_share"))
        return self.lately > 0 and told and as_before and not self.ended

    @property
    def new(self) -> bool:
        """Whether it was made by chance at most before the work, and surely is more frequent since."""
        more = _chance_of_so_few(self.after, self.flights_after, self.before, self.flights_before)
        seldom = self.before <= limit_value("trend_stray_flights")
        often = self.after >= limit_value("trend_fewest_step")
        return seldom and often and more < limit_value("trend_ended_chance")

    def _share_at_most(self, factor: float) -> bool:
        """Whether its share of the flights since is at most so many times what it was before."""
        return self.after * self.flights_before <= factor * self.before * self.flights_after


def _chance_of_so_few(many: int, of: int, few: int, of_few: int) -> float:
    """Chance of so few in one group when as many are in another, had both the same share [1].

    Fisher's exact test, one-sided: all ways of dealing those that are found to both groups are alike.
    """
    found = many + few
    ways = sum(comb(of_few, n) * comb(of, found - n) for n in range(few + 1))
    return ways / comb(of + of_few, found)


def found_around(history: History, entry: Entry) -> tuple[FoundAround, ...]:
    """Count each finding that this kind of work can end, up to the next work on either side that can end it too.

    Work done without a flight between is one stop in the shop. Of each side as many flights count as of the measures
    after an entry: twice the latest ones. Flights without a clock are on neither side.
    """
    counted = (_counted(history, entry, FindingName(finding)) for finding in sorted(kinds()[entry.kind].ends))
    return tuple(one for one in counted if one.before or one.after)


def _counted(history: History, entry: Entry, finding: FindingName) -> FoundAround:
    begun = history.begun
    at = bisect_left(begun, entry.when)
    works = [bisect_left(begun, one.when) for one in history.entries if finding in kinds()[one.kind].ends]
    since = max((place for place in works if place < at), default=0)
    until = min((place for place in works if place > at), default=len(begun))
    reach = 2 * int(limit_value("trend_recent"))
    before = [one for one in history.flights[since:at] if _would_have(one, finding)]
    after = [one for one in history.flights[at:until] if _would_have(one, finding)]
    sides = before[-reach:], after[:reach]
    with_it = [sum(_has(flight, finding) for flight in side) for side in sides]
    lately = sum(_has(flight, finding) for flight in before[-int(limit_value("trend_recent")) :])
    clean = _back_after(with_it[0], len(sides[0]), [_has(flight, finding) for flight in after])
    return FoundAround(finding, with_it[0], len(sides[0]), with_it[1], len(sides[1]), lately, clean, at)


def _back_after(before: int, flights_before: int, after: Sequence[bool]) -> int | None:
    """Flights after work that were surely clean until a finding was back; None where it is not, or never went.

    Back is: in at least half as large a share of the flights since, and more than once.
    """
    clean = next((place for place, found in enumerate(after) if found), len(after))
    since = after[clean:]
    as_often = sum(since) * flights_before >= limit_value("trend_goes_on_share") * before * len(since)
    if sum(since) <= limit_value("trend_stray_flights") or not as_often:
        return None
    return clean if _chance_of_so_few(before, flights_before, 0, clean) < limit_value("trend_ended_chance") else None


def _would_have(flight: FlightSummary, finding: FindingName) -> bool:
    """Whether a finding was made in a flight, or would have been."""
    needed = SHOWN_BY[finding]
    if not needed or _has(flight, finding):
        return True
    if finding == "recharge_never_settles" and 60.0 * flight.hours < limit_value("never_settles_after"):
        return False
    return any(name in flight.readings for name in needed)


def _has(flight: FlightSummary, finding: FindingName) -> bool:
    return any(one.name == finding for one in flight.findings)
