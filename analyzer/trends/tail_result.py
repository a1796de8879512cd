"""What a tail's review comes to, without its flights: what views are made from and the records keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import median

import numpy as np

from analyzer.limits import limit_value
from analyzer.trends.cold import ColdOutlook
from analyzer.trends.comparison import Comparison
from analyzer.trends.followed_tail import Trend
from analyzer.trends.history import FlightFinding, History
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import (
    NONE_SETTLED,
    Condition,
    OfFlight,
    OpenFindings,
    Settled,
    flights_that_count,
    open_findings,
)
from analyzer.trends.standing import NOT_LOOKED_AT, Standing
from analyzer.trends.tail_review import TailReview
from analyzer.trends.unlike import Unlike
from analyzer.trends.unlogged import Unlogged

#: Measures beside those that are followed which aircraft of one type have alike; not corrected for anything.
AS_RECORDED = ("cranking_time", "bus_load")


@dataclass(frozen=True, slots=True)
class TailResult:
    """One tail over its flights."""

    tail: str
    flights: int
    hours: float  # engine hours recorded
    nominal_voltage: int | None  # None where nothing tells
    condition: Condition
    without_clock: int  # flights
    order: tuple[str, ...]  # sentences on flights without a clock, empty where there are none
    in_latest_flights: tuple[OfFlight[FlightFinding], ...]  # what no trend shows yet, the latest flight's first
    trends: Mapping[str, Trend]
    findings: tuple[TrendFinding, ...]  # those that stand open first
    comparisons: tuple[Comparison, ...]  # of each maintenance entry, in order of time
    unlike: tuple[Unlike, ...]
    cold: ColdOutlook | None = None  # starts in the cold, None where too few tell
    standing: Standing = NOT_LOOKED_AT  # what the battery loses while the aircraft stands
    as_recorded: Mapping[str, float] = field(default_factory=dict)  # recent level of measures that are not followed
    unlogged: tuple[Unlogged, ...] = ()  # work that may have been done and that nobody logged: nothing rests on it
    stale_flights: int = 0  # judged by an earlier version of the program, its tables or the fleet file

    @property
    def open_findings(self) -> tuple[TrendFinding, ...]:
        """The findings over many flights that have not lapsed."""
        return tuple(one for one in self.findings if one.open)

    @property
    def past_findings(self) -> tuple[TrendFinding, ...]:
        """Those that have."""
        return tuple(one for one in self.findings if not one.open)

    def stands(self, settled: Settled = NONE_SETTLED) -> OpenFindings[FlightFinding]:
        """What stands open, without what people have settled."""
        return open_findings(self.findings, self.in_latest_flights, settled)


def tail_result(review: TailReview) -> TailResult:
    """What the review of a tail comes to."""
    history = review.history
    latest = _in_latest_flights(history)
    return TailResult(
        tail=history.tail,
        flights=len(history.flights),
        hours=history.hours,
        nominal_voltage=history.nominal_voltage,
        condition=open_findings(review.findings, latest).condition(len(history.flights)),
        without_clock=history.without_clock,
        order=order_words(history),
        in_latest_flights=latest,
        trends=review.trends,
        findings=review.findings,
        comparisons=review.comparisons,
        unlike=review.unlike,
        cold=review.cold,
        standing=review.standing,
        as_recorded=as_recorded(history),
        unlogged=review.unlogged,
    )


def _in_latest_flights(history: History) -> tuple[OfFlight[FlightFinding], ...]:
    """Findings of the latest flights, the latest first: what no trend shows yet and nobody should miss."""
    latest = list(enumerate(history.flights))[-flights_that_count() :]
    return tuple(OfFlight(one, place, flight.start) for place, flight in reversed(latest) for one in flight.findings)


def order_words(history: History) -> tuple[str, ...]:
    """Sentences on flights without a clock: how they are ordered, and what cannot be told of them; empty without any.

    Flights that were left out because no moment can be set against them are told too.
    """
    bare, count = history.without_clock, len(history.flights)
    told = []
    if bare:
        after = "" if bare == count else " after those with a clock"
        told.append(
            f"{bare} of {count} flights without a clock: taken{after} in file order, by the file's name and the place "
            "in the file; whether they were flown in that order is not known."
        )
        if history.entries:
            told.append("Maintenance entries cannot be set against flights without a clock.")
    if out := history.left_out:
        told.append(f"Flights without a clock, left out because nothing tells when they began: {out}.")
    return tuple(told)


def as_recorded(history: History) -> dict[str, float]:
    """Give the medians of the latest flights of measures that are not followed; none of those that few carry."""
    levels = {}
    for name in AS_RECORDED:
        shown = history.shown(name)[:, 0]
        values = shown[np.isfinite(shown)].tolist()
        if len(values) >= limit_value("trend_fewest_shown"):
            levels[name] = median(values[-int(limit_value("trend_recent")) :])
    return levels
