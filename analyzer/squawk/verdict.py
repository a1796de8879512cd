"""One symptom over many flights: seen or not, when and where, what it goes with, and what to measure first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from analyzer import quantity
from analyzer.findings.finding import Cause
from analyzer.limits import Limits
from analyzer.quantity import Quantity
from analyzer.squawk import weighing
from analyzer.squawk.circumstances import CircumstanceAnswer, answers
from analyzer.squawk.conditions import SymptomCondition
from analyzer.squawk.examine import ExaminedFlight, FlightSymptom, Occasion, SquawkFlight
from analyzer.squawk.idling import Idling, idling_of
from analyzer.squawk.known import Symptom, ToMeasure, band_words
from analyzer.squawk.reasons import Reason
from analyzer.squawk.symptom_result import State
from analyzer.squawk.understanding import Circumstance

#: Source of an expected voltage that is the aircraft's own.
OWN_BAND = "this aircraft's band, from its settings"


class OnlyWhere(StrEnum):
    """What a verdict of a symptom that was seen does not go beyond."""

    SIGNS = "signs"  # no log shows the thing itself
    LATE_START = "late_start"  # before the alternator had come on
    LOW_RPM = "low_rpm"


@dataclass(frozen=True, slots=True)
class Against:
    """A flight in which a symptom would have shown and did not, with the numbers that say so."""

    flight: SquawkFlight
    says: str
    numbers: Mapping[str, Quantity]


@dataclass(frozen=True, slots=True)
class NotObservable:
    """A flight that could not have shown a symptom, and why."""

    flight: SquawkFlight
    reason: Reason


@dataclass(frozen=True, slots=True)
class MeasureFirst:
    """One thing to measure on the ground, and what to expect in this aircraft."""

    what: str
    expected: str
    tells: str
    source: str


@dataclass(frozen=True, slots=True)
class LowStarts:
    """Starts that were not called slow though the bus fell below what a warm engine's start should leave of it.

    A reading may catch the first instant, which falls further in any aircraft. Start after start says more: the trend.
    """

    flights: int
    limit: Quantity


@dataclass(frozen=True, slots=True)
class SymptomVerdict:
    """What the flights looked through say of one symptom; flights stand the latest first."""

    symptom: Symptom
    state: State
    only: OnlyWhere | None
    rpm_known: bool  # whether the engine speed is recorded at every occasion
    idling: Idling | None  # of one that came at low rpm only: beside what is usual there
    seen_in: tuple[SquawkFlight, ...]
    occasions: tuple[Occasion, ...]  # the latest flight's first, the longest first of each
    against: tuple[Against, ...]
    not_observable: tuple[NotObservable, ...]
    hours_observed: float  # [h] in which it would have shown
    headline: Quantity | None  # the number that sums it up
    conditions: tuple[weighing.ConditionShare, ...]
    circumstances: tuple[CircumstanceAnswer, ...]  # that the report names, answered
    likely: tuple[Cause, ...]
    measure_first: tuple[MeasureFirst, ...]
    check: tuple[str, ...]
    low_starts: LowStarts | None = None  # of a slow crank


def verdict_of(
    symptom: Symptom, flights: Sequence[ExaminedFlight], named: Sequence[Circumstance] = ()
) -> SymptomVerdict:
    """Give what flights, in order of time, say of a symptom; ``named`` are the circumstances that a report names."""
    name = symptom.name
    latest_first = list(reversed(flights))
    by_state = {
        state: [(one, one.symptoms[name]) for one in latest_first if one.symptoms[name].state == state]
        for state in State
    }
    seen = by_state[State.SEEN]
    state = next((state for state in (State.SEEN, State.NOT_SEEN) if by_state[state]), State.NOT_OBSERVABLE)
    low = _at_low_rpm([own for _, own in seen])
    return SymptomVerdict(
        symptom=symptom,
        state=state,
        only=_only(symptom, [own for _, own in seen], low),
        rpm_known=low is not None,
        idling=idling_of(symptom, flights) if low else None,
        seen_in=tuple(flight.ref for flight, _ in seen),
        occasions=tuple(one for _, own in seen for one in sorted(own.occasions, key=lambda one: -one.lasted_s)),
        against=tuple(Against(flight.ref, own.says, own.numbers) for flight, own in by_state[State.NOT_SEEN]),
        not_observable=tuple(
            NotObservable(flight.ref, own.reason) for flight, own in by_state[State.NOT_OBSERVABLE] if own.reason
        ),
        hours_observed=sum(flight.symptoms[name].watched_h for flight in flights),
        headline=_headline(symptom, [own for _, own in by_state[state]]) if state != State.NOT_OBSERVABLE else None,
        conditions=tuple(weighing.conditions(name, flights)),
        circumstances=tuple(answers(name, flights, named)),
        likely=tuple(weighing.causes(name, flights)),
        measure_first=_measure_first(symptom, flights),
        check=tuple(weighing.checks(symptom.check, name, flights)),
        low_starts=_low_starts(by_state[State.NOT_SEEN]) if name == "slow_crank" else None,
    )


def _low_starts(not_slow: Sequence[tuple[ExaminedFlight, FlightSymptom]]) -> LowStarts | None:
    """How many starts that are not slow by themselves fell below the limit; None where none did."""
    limits = [
        (own.numbers["cranking_voltage"].value, Limits(flight.nominal_voltage, {})["crank_lowest"])
        for flight, own in not_slow
        if "cranking_voltage" in own.numbers
    ]
    low = [limit for value, limit in limits if value < limit]
    return LowStarts(len(low), quantity.volts(low[0])) if low else None


def _only(symptom: Symptom, seen: Sequence[FlightSymptom], low_rpm: bool | None) -> OnlyWhere | None:
    if symptom.indirect and seen:
        return OnlyWhere.SIGNS
    occasions = [one for own in seen for one in own.occasions]
    if occasions and all(one.late_start for one in occasions):
        return OnlyWhere.LATE_START
    return OnlyWhere.LOW_RPM if low_rpm else None


def _at_low_rpm(seen: Sequence[FlightSymptom]) -> bool | None:
    """Whether every occasion lay mostly at low engine speed; None where that is not recorded.

    A symptom that can only show at one speed, as cranking, is not looked at for it: it has no exposure.
    """
    occasions = [one.within.get(SymptomCondition.LOW_RPM) for own in seen if own.exposure for one in own.occasions]
    known = [share for share in occasions if share is not None]
    return min(known) > 0.5 and len(known) == len(occasions) if known else None


def _headline(symptom: Symptom, flights: Sequence[FlightSymptom]) -> Quantity | None:
    """The number that sums a symptom up over flights."""
    wanted = symptom.headline["number"]
    told = [
        numbers[wanted]
        for own in flights
        for numbers in ([one.numbers for one in own.occasions] if own.state == State.SEEN else [own.numbers])
        if wanted in numbers
    ]
    pick = min if symptom.headline["pick"] == "lowest" else max
    return pick(told, key=lambda one: one.value) if told else None


def _measure_first(symptom: Symptom, flights: Sequence[ExaminedFlight]) -> tuple[MeasureFirst, ...]:
    volts = [flight.nominal_voltage for flight in flights if flight.nominal_voltage is not None]
    nominal = max(set(volts), key=volts.count) if volts else None
    latest = next((flight for flight in reversed(flights) if flight.nominal_voltage == nominal), None)
    band, own = (None, False) if latest is None else (latest.band, latest.own_band)
    return tuple(
        MeasureFirst(one.what, _expected(one.expected, nominal, band), one.tells, _source(one, own))
        for one in symptom.measure_first
    )


def _expected(values: Mapping[int, str], nominal: int | None, band: tuple[float, float] | None) -> str:
    if nominal is not None and band is not None:
        return f"{values[nominal].format(band=band_words(*band))} ({nominal} V system)"
    usual = {volts: (Limits(volts, {})["regulated_low"], Limits(volts, {})["regulated_high"]) for volts in values}
    return "; ".join(f"{words.format(band=band_words(*usual[v]))} ({v} V system)" for v, words in values.items())


def _source(step: ToMeasure, own_band: bool) -> str:
    """Where an expected value is from; the band may be the aircraft's own."""
    return OWN_BAND if own_band and any("{band}" in words for words in step.expected.values()) else step.source


def last_seen(verdict: SymptomVerdict) -> datetime | None:
    """When the latest flight with the symptom began, None where it was not seen or has no clock."""
    return verdict.seen_in[0].start if verdict.seen_in else None
