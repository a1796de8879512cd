"""Under which conditions a symptom comes: each occasion's own, and how much time was spent in each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.series import Floats, Mask, median
from analyzer.squawk.sighting import Occasion, number

#: Conditions within a flight, and of a whole flight, with words that follow "occasions at" or "flights in".
WITHIN_FLIGHT = {"low_rpm": "low rpm", "high_load": "high load", "soon_after_start": "soon after start"}
OF_FLIGHT = {"cold": "cold air", "hot": "hot air"}


def masks(flight: Flight) -> dict[str, Mask]:
    """Rows in each condition that the flight's recording can tell; a condition that it cannot tell is left out."""
    trace = flight.trace
    found: dict[str, Mask] = {}
    if (floor := low_rpm_below(flight)) is not None and trace.engine_speed is not None:
        found["low_rpm"] = np.nan_to_num(trace.engine_speed, nan=np.inf) < floor
    if (load := bus_load(flight)) is not None:
        usual = median(load[flight.running & flight.alternator_online])
        if np.isfinite(usual):
            high = max(limit_value("squawk_high_load") * usual, usual + limit_value("output_smallest"))
            found["high_load"] = np.nan_to_num(load) > high
    if not flight.begins_running:
        since = trace.time - trace.time[flight.run.start]
        found["soon_after_start"] = (since >= 0.0) & (since <= 60.0 * limit_value("squawk_soon"))
    return found


def low_rpm_below(flight: Flight) -> float | None:
    """Engine speed below which it counts as low [rpm], a share of the flight's own high one; None unrecorded."""
    speed = flight.trace.engine_speed
    if speed is None or not np.isfinite(speed[flight.running]).any():
        return None
    high = float(np.nanpercentile(speed[flight.running], 95))
    return max(limit_value("fast_lowest"), limit_value("squawk_low_rpm") * high)


def bus_load(flight: Flight) -> Floats | None:
    """Load on the bus by an alternator ammeter [A]; None where it cannot be told from charging current.

    With a battery ammeter beside it the charging current is taken out; without, it is the output once the
    recharge has settled.
    """
    output = total_output(flight.trace)
    if output is None:
        return None
    if flight.trace.battery_current is not None:
        return np.asarray(output - flight.trace.battery_current)
    settled = flight.recharge.settled_s if flight.recharge is not None else 0.0
    return np.where(flight.trace.time >= settled, output, np.nan)


def of_flight(flight: Flight) -> dict[str, bool]:
    """Conditions of the whole flight, as far as they are recorded."""
    air = flight.air_at_start
    if not np.isfinite(air):
        return {}
    return {"cold": air < limit_value("cold_start"), "hot": air > limit_value("hot_air")}


def occasion_conditions(flight: Flight, occasion: Occasion) -> dict[str, Any]:
    """Engine speed, load, outside air, minutes after start and phase at an occasion; what is unknown is absent."""
    trace = flight.trace
    rows = slice(occasion.first, max(occasion.end, occasion.first + 1))
    found: dict[str, Any] = {}

    def add(name: str, value: float, unit: str, digits: int = 0) -> None:
        if np.isfinite(value):
            shown, unit = number(value, unit, digits)
            found[name] = {"value": shown, "unit": unit}

    if trace.engine_speed is not None and flight.running[rows].any():
        add("engine_speed", median(trace.engine_speed[rows]), "rpm")
    add("load", _load_at(flight, occasion), "A", 1)
    if trace.outside_air_temperature is not None:
        add("outside_air_temperature", median(trace.outside_air_temperature[rows]), "degC", 1)
    onset = float(trace.time[occasion.first])
    if not flight.begins_running and onset >= trace.time[flight.run.start]:
        add("minutes_after_start", (onset - float(trace.time[flight.run.start])) / 60.0, "min", 1)
    middle = 0.5 * (onset + float(trace.time[rows.stop - 1]))
    return found | {"phase": _phase_at(flight, middle)}


def _load_at(flight: Flight, occasion: Occasion) -> float:
    """Load just before an occasion, since a lost alternator shows none; what the battery gives in it otherwise."""
    load = bus_load(flight)
    if load is not None:
        before = slice(
            max(0, occasion.first - flight.trace.rows_in(limit_value("squawk_load_before"))), occasion.first + 1
        )
        return median(load[before])
    flow = flight.trace.battery_current
    if flow is None:
        return float("nan")
    rows = slice(occasion.first, occasion.end)
    drawn = -median(flow[rows][~flight.alternator_online[rows] & flight.running[rows]])
    return drawn if drawn > 0.0 else float("nan")


def _phase_at(flight: Flight, seconds: float) -> str:
    inside = [phase.name for phase in flight.phases if phase.from_s <= seconds]
    return inside[-1] if inside else flight.phases[0].name


def occasion_within(flight: Flight, found: Mapping[str, Mask], occasion: Occasion) -> dict[str, float]:
    """Part of an occasion's time that lies in each condition [1]."""
    rows = slice(occasion.first, max(occasion.end, occasion.first + 1))
    seconds = flight.trace.seconds[rows]
    return {name: float(np.average(mask[rows], weights=seconds)) for name, mask in found.items()}


def exposure(flight: Flight, found: Mapping[str, Mask], watched: Mask | None) -> dict[str, tuple[float, float]]:
    """Seconds in each condition, and all, of the time in which a symptom would have shown."""
    if watched is None:
        return {}
    seconds = flight.trace.seconds
    whole = float(seconds[watched].sum())
    return {name: (float(seconds[watched & mask].sum()), whole) for name, mask in found.items()}
