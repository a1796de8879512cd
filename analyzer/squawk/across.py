"""What one flight alone cannot say: a start beside the tail's other starts, and how long it stood before."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np

from analyzer.limits import Limits, limit_value
from analyzer.series import robust_sigma
from analyzer.squawk.examine import FlightEvidence, OccasionEvidence, SymptomEvidence
from analyzer.squawk.sighting import State
from analyzer.trends.deduplicate import Deduplicated, deduplicate


def look_back(newest: datetime | None, until: datetime | None = None) -> datetime | None:
    """Give the moment from which flights are looked through when none is named, None without a clock.

    Some days before the newest flight, or before ``until`` where that is earlier.
    """
    if newest is None:
        return None
    last, days = min(newest, until or newest), timedelta(days=limit_value("squawk_look_back"))
    return last - days if last - datetime.min >= days else None


def across_flights(flights: Iterable[FlightEvidence]) -> Deduplicated[FlightEvidence]:
    """Give the flights in order of time, each once, with what only their neighbours tell, and the copies left out.

    Flights without a clock come first, in the order given: nothing tells whether one is a copy.
    """
    given = list(flights)
    dated = deduplicate(sorted((one for one in given if one.start), key=lambda one: one.start or ""), _span)
    kept = [*(one for one in given if not one.start), *dated.kept]
    return Deduplicated(_with_pauses(_against_other_starts(kept)), dated.copies)


def _span(flight: FlightEvidence) -> tuple[datetime, datetime]:
    start = datetime.fromisoformat(flight.start or "")
    return start, datetime.fromisoformat(flight.end) if flight.end else start


def _against_other_starts(flights: list[FlightEvidence]) -> list[FlightEvidence]:
    """Call a crank slow that lies far below the tail's other starts, brought to its temperature."""
    starts = [
        (place, value, own.numbers.get("outside_air_temperature", {}).get("value"))
        for place, flight in enumerate(flights)
        if (own := flight.symptoms.get("slow_crank")) is not None
        and own.state == State.NOT_SEEN
        and (value := own.numbers.get("cranking_voltage", {}).get("value")) is not None
    ]
    changed = list(flights)
    for place, value, air in starts:
        limits = Limits(flights[place].nominal_voltage, {})
        per_degree = limits["trend_cranking_voltage_per_air_start"]
        others = np.array(
            [
                other + (0.0 if air is None or its_air is None else per_degree * (air - its_air))
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


def _slow_for_this_tail(flight: FlightEvidence, usual: float, starts: int) -> FlightEvidence:
    own = flight.symptoms["slow_crank"]
    below = usual - own.numbers["cranking_voltage"]["value"]
    more = f": {below:.1f} V below this tail's other {starts} starts at that temperature"
    occasions = tuple(
        replace(one, document={**one.document, "says": one.document["says"] + more}) for one in own.occasions
    )
    return _with(flight, "slow_crank", replace(own, state=State.SEEN, says=own.says + more, occasions=occasions))


def _with(flight: FlightEvidence, name: str, own: SymptomEvidence) -> FlightEvidence:
    return replace(flight, symptoms={**flight.symptoms, name: own})


def _with_pauses(flights: list[FlightEvidence]) -> list[FlightEvidence]:
    """Say of a dead battery how long the aircraft had stood since the flight before."""
    changed = flights[:1]
    for before, flight in pairwise(flights):
        own = flight.symptoms.get("dead_battery")
        if own is None or own.state != State.SEEN or not before.end or not flight.start:
            changed.append(flight)
            continue
        days = (datetime.fromisoformat(flight.start) - datetime.fromisoformat(before.end)).total_seconds() / 86400.0
        occasions = tuple(_after_pause(one, days) for one in own.occasions)
        changed.append(_with(flight, "dead_battery", replace(own, occasions=occasions)))
    return changed


def _after_pause(occasion: OccasionEvidence, days: float) -> OccasionEvidence:
    document: dict[str, Any] = dict(occasion.document)
    document["numbers"] = {**document["numbers"], "days_since_last_flight": {"value": round(days, 1), "unit": "d"}}
    document["says"] += f", {days:.0f} days after the flight before" if days >= 1.5 else ""
    return replace(occasion, document=document)
