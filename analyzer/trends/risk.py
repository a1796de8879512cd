"""How often aircraft of the records lost the alternator or were stranded, and the chance that one will be by a time.

An event is a loss of the alternator that a flight shows and the flight before it does not, or an entry that somebody
was stranded. Hours count apart by whether a finding over many flights stood open before the flight; a stranding counts
with what stood open after the last flight before it, for work done since was done because of it. Rates are taken as
constant within either (a Poisson process); each has the gamma distribution that follows from Jeffreys' prior (Gelman et
al., Bayesian Data Analysis, ch. 2; formula from memory). Strandings that nobody logged are not known of, so that rates
are rather too low than too high.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.findings.finding import FindingName, Severity
from analyzer.limits import limit_value
from analyzer.quantity import Quantity
from analyzer.trends.entries import STRANDED
from analyzer.trends.followed_tail import Projection
from analyzer.trends.history import FlightSummary, History
from analyzer.trends.judging import TrendFinding

#: The chance of reaching a limit from which on a check is asked for [1].
ONE_IN_TEN = 0.1
#: Findings of a flight whose alternator was lost.
LOSSES = (FindingName.ALTERNATOR_OFFLINE, FindingName.OVERVOLTAGE_TRIP)


@dataclass(frozen=True, slots=True)
class Exposure:
    """Events and engine hours of some flights."""

    events: int
    hours: float  # [h]

    def __add__(self, other: Exposure) -> Exposure:
        """Both together."""
        return Exposure(self.events + other.events, self.hours + other.hours)


NOTHING = Exposure(0, 0.0)


@dataclass(frozen=True, slots=True)
class EventRecord:
    """The events of some aircraft, while nothing stood open and while something did."""

    calm: Exposure
    warned: Exposure

    @property
    def events(self) -> int:
        """All of them."""
        return self.calm.events + self.warned.events


def events_of(history: History, findings: Sequence[TrendFinding]) -> EventRecord:
    """Count the events and hours of one aircraft."""
    flights = history.flights
    told = {True: NOTHING, False: NOTHING}
    for place, flight in enumerate(flights):
        begun = _lost(flight) and not (place and _lost(flights[place - 1]))
        told[_open_after(findings, place - 1, place)] += Exposure(int(begun), flight.hours)
    for entry in history.entries:
        if entry.kind == STRANDED and flights:
            last = history.first_from(entry.when) - 1
            told[_open_after(findings, last, last)] += Exposure(1, 0.0)
    return EventRecord(told[False], told[True])


def _lost(flight: FlightSummary) -> bool:
    """Whether the alternator was lost for good, or for long: by itself, or tripped by its overvoltage protection."""
    return any(one.name in LOSSES and one.severity is Severity.WARNING for one in flight.findings)


def _open_after(findings: Sequence[TrendFinding], raised_by: int, stands_at: int) -> bool:
    """Whether a finding had been raised by one flight and still stood at another one."""
    return any(
        one.raised_flight <= raised_by and (one.lapsed_flight is None or one.lapsed_flight > stands_at)
        for one in findings
    )


def together(records: Sequence[EventRecord]) -> EventRecord:
    """The events of several aircraft."""
    return EventRecord(sum((one.calm for one in records), NOTHING), sum((one.warned for one in records), NOTHING))


def reached_by(projection: Projection, hours: float) -> float:
    """Give the chance that a limit is reached within some engine hours [1], straight between those foretold.

    Beyond the last of them it stays there: what is foretold ends with it. A limit that is passed is reached for sure.
    """
    if projection.past:
        return 1.0
    told = sorted(
        (
            (0.0, 0.0),
            (limit_value("projection_earliest"), projection.earliest),
            (ONE_IN_TEN, projection.one_in_ten),
            (0.5, projection.one_in_two),
            (0.9, projection.nine_in_ten),
            (limit_value("projection_latest"), projection.latest),
        )
    )
    chances, by = zip(*told, strict=True)
    return float(np.interp(hours, np.maximum.accumulate(by), chances))


def chance_of_an_event(record: EventRecord, calm_h: float, warned_h: float) -> Quantity:
    """Give the chance of an event in some hours while nothing stands open and then some while something does [1].

    With its 95 % interval, both rates at the same end. Where no hour was flown in either state its rate is not known,
    and hours in it must be none.
    """
    states = ((record.calm, calm_h), (record.warned, warned_h))
    stays = [_stays_well(state, hours) for state, hours in states]
    ends = [sum(_rate(state, share) * hours for state, hours in states if hours > 0.0) for share in (0.025, 0.975)]
    return Quantity(1.0 - stays[0] * stays[1], "1", 1.0 - float(np.exp(-ends[0])), 1.0 - float(np.exp(-ends[1])))


def _stays_well(state: Exposure, hours: float) -> float:
    """Chance of no event in some hours: the mean of exp(-rate * hours) over the gamma distribution of the rate."""
    return (state.hours / (state.hours + hours)) ** (state.events + 0.5) if hours > 0.0 else 1.0


def _rate(state: Exposure, share: float) -> float:
    from scipy.stats import gamma

    return float(gamma.ppf(share, state.events + 0.5, scale=1.0 / state.hours))
