"""What one flight alone cannot say: a start beside the tail's other starts, how long it stood before, which ammeter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from analyzer.limits import Limits, limit_value
from analyzer.quantity import Quantity
from analyzer.series import robust_sigma
from analyzer.squawk.examine import ExaminedFlight, FlightSymptom, Occasion
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import State
from analyzer.trends.deduplicate import Deduplicated, deduplicate

#: Kinds of ammeter that a flight can tell by itself, and symptoms whose denial rests on the kind.
_TOLD = ("battery", "alternator")
_BY_AMMETER = ("ammeter_discharge", "ammeter_high")


def look_back(newest: datetime | None, until: datetime | None = None) -> datetime | None:
    """Give the moment from which flights are looked through when none is named, None without a clock.

    Some days before the newest flight, or before ``until`` where that is earlier.
    """
    if newest is None:
        return None
    last, days = min(newest, until or newest), timedelta(days=limit_value("squawk_look_back"))
    return last - days if last - datetime.min >= days else None


def across_flights(flights: Iterable[ExaminedFlight]) -> Deduplicated[ExaminedFlight]:
    """Give the flights in order of time, each once, with what only their neighbours tell, and the copies left out.

    Flights without a clock come first, in the order given: nothing tells whether one is a copy.
    """
    given = list(flights)
    dated = deduplicate(sorted((one for one in given if one.start), key=_begin), _span)
    kept = [*(one for one in given if not one.start), *dated.kept]
    return Deduplicated(_by_one_ammeter(_with_pauses(_against_other_starts(kept))), dated.copies)


def _begin(flight: ExaminedFlight) -> datetime:
    return flight.start or datetime.min


def _span(flight: ExaminedFlight) -> tuple[datetime, datetime]:
    start = _begin(flight)
    return start, flight.end or start


def _by_one_ammeter(flights: list[ExaminedFlight]) -> list[ExaminedFlight]:
    """Let no flight deny a symptom by an ammeter of another kind than most of the tail's flights tell."""
    kinds = [flight.ammeter for flight in flights if flight.ammeter in _TOLD]
    if not kinds:
        return flights
    usual = max(_TOLD, key=kinds.count)
    return [_without_denial(one) if one.ammeter in _TOLD and one.ammeter != usual else one for one in flights]


def _without_denial(flight: ExaminedFlight) -> ExaminedFlight:
    symptoms = dict(flight.symptoms)
    for name in _BY_AMMETER:
        own = symptoms.get(name)
        if own is not None and own.state == State.NOT_SEEN:
            reason = Reason(Unobservable.AMMETER_KIND_APART, more=flight.ammeter)
            symptoms[name] = replace(own, state=State.NOT_OBSERVABLE, says="", reason=reason, watched_h=0.0)
    return replace(flight, symptoms=symptoms)


def _against_other_starts(flights: list[ExaminedFlight]) -> list[ExaminedFlight]:
    """Call a crank slow that lies far below the tail's other starts, brought to its temperature."""
    starts = [
        (place, own.numbers["cranking_voltage"].value, own.numbers.get("outside_air_temperature"))
        for place, flight in enumerate(flights)
        if (own := flight.symptoms.get("slow_crank")) is not None
        and own.state == State.NOT_SEEN
        and "cranking_voltage" in own.numbers
    ]
    changed = list(flights)
    for place, value, air in starts:
        limits = Limits(flights[place].nominal_voltage, {})
        per_degree = limits["trend_cranking_voltage_per_air_start"]
        others = np.array(
            [
                other + (0.0 if air is None or its_air is None else per_degree * (air.value - its_air.value))
                for at, other, its_air in starts
                if at != place
            ]
        )
        if others.size < limit_value("squawk_fewest_starts"):
            continue
        usual = float(np.median(others))
        apart = max(limit_value("squawk_start_apart") * robust_sigma(others), limits["trend_cranking_voltage_moved"])
        if value < usual - apart:
            changed[place] = _slow_for_this_tail(flights[place], usual, others.size)
    return changed


def _slow_for_this_tail(flight: ExaminedFlight, usual: float, starts: int) -> ExaminedFlight:
    own = flight.symptoms["slow_crank"]
    below = usual - own.numbers["cranking_voltage"].value
    more = f": {below:.1f} V below this tail's other {starts} starts at that temperature"
    occasions = tuple(replace(one, says=one.says + more) for one in own.occasions)
    return _with(flight, "slow_crank", replace(own, state=State.SEEN, says=own.says + more, occasions=occasions))


def _with(flight: ExaminedFlight, name: str, own: FlightSymptom) -> ExaminedFlight:
    return replace(flight, symptoms={**flight.symptoms, name: own})


def _with_pauses(flights: list[ExaminedFlight]) -> list[ExaminedFlight]:
    """Say of a dead battery how long the aircraft had stood since the flight before."""
    changed = flights[:1]
    for before, flight in pairwise(flights):
        own = flight.symptoms.get("dead_battery")
        if own is None or own.state != State.SEEN or not before.end or not flight.start:
            changed.append(flight)
            continue
        days = (flight.start - before.end).total_seconds() / 86400.0
        occasions = tuple(_after_pause(one, days) for one in own.occasions)
        changed.append(_with(flight, "dead_battery", replace(own, occasions=occasions)))
    return changed


def _after_pause(occasion: Occasion, days: float) -> Occasion:
    numbers = {**occasion.numbers, "days_since_last_flight": Quantity(round(days, 1), "d")}
    says = occasion.says + (f", {days:.0f} days after the flight before" if days >= 1.5 else "")
    return replace(occasion, numbers=numbers, says=says)
