"""The charging light, and the alternator that leaves the bus for good."""

from __future__ import annotations

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.review import FlightReview
from analyzer.series import Mask, median, runs
from analyzer.squawk.sighting import (
    Occasion,
    Sighting,
    lasting,
    lowest,
    meter_doubt,
    not_observable,
    not_seen,
    number,
    seen,
    short_look,
    stretches,
    supposed_rows,
    watched_minutes,
)


def charging_light(review: FlightReview) -> Sighting:
    """Bus below the low-voltage light's limit with the engine running; repeated short dips are a flicker."""
    flight = review.flight
    volts = flight.trace.bus_voltage
    watched = supposed_rows(flight) & np.isfinite(volts)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    limit = flight.limits["low_voltage"]
    below = watched & (volts < limit)
    doubt = meter_doubt(flight)
    occasions = [
        _below(flight, below, first, end, limit)
        for first, end in stretches(flight, below)
        if _counts(flight, first, end)
    ]
    if doubt and occasions:
        return not_observable(f"{doubt}, so whether the bus fell below {limit:.1f} V cannot be told")
    if occasions:
        return seen(occasions, watched)
    step = flight.trace.step_s
    least, minutes = lowest(volts[watched]), watched_minutes(flight, watched)
    if step > limit_value("squawk_slow_sampling"):
        return not_observable(
            f"one row every {step:.0f} s misses a flicker; no lasting fall was recorded, lowest {least:.1f} V"
        )
    says = f"lowest bus {least:.1f} V over {minutes:.0f} min with the engine running, light at {limit:.1f} V"
    numbers = {
        "lowest_voltage": number(least, "V", 2),
        "light_at": number(limit, "V", 2),
        "watched": number(minutes, "min"),
    }
    return not_seen(says, numbers, watched)


def _counts(flight: Flight, first: int, end: int) -> bool:
    """Whether a stretch is more than one reading a hair below the limit."""
    deep = flight.limits["low_voltage"] - flight.limits["squawk_light_margin"]
    return end - first > 1 or lowest(flight.trace.bus_voltage[first:end]) < deep


def _below(flight: Flight, below: Mask, first: int, end: int, limit: float) -> Occasion:
    trace = flight.trace
    rows = np.zeros(below.size, dtype=np.bool_)
    rows[first:end] = below[first:end]
    seconds, least = float(trace.seconds[rows].sum()), lowest(trace.bus_voltage[rows])
    times = len(runs(rows))
    if times >= limit_value("squawk_flicker_times"):
        span = float(trace.time[end - 1] - trace.time[first])
        says = f"Bus below {limit:.1f} V {times} times within {lasting(span)}, {lasting(seconds)} in all, lowest "
        says += f"{least:.1f} V: a flicker"
    else:
        says = (
            f"Bus at {median(trace.bus_voltage[rows]):.1f} V for {lasting(seconds)}, lowest {least:.1f} V, below the "
        )
        says += f"{limit:.1f} V at which the light comes on"
    numbers = {
        "lowest_voltage": number(least, "V", 2),
        "light_at": number(limit, "V", 2),
        "below": number(seconds, "s"),
        "times": number(times, "1", 0),
    }
    return Occasion(first, end, says, numbers)
