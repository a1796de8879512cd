"""Under which conditions a symptom comes: each occasion's own, and how much time was spent in each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.quantity import Quantity
from analyzer.series import Floats, Mask, finite_of, median, percentile
from analyzer.squawk.symptom_result import Occurrence, number


class SymptomCondition(StrEnum):
    """What a symptom may go with; those of a whole flight come last."""

    LOW_RPM = "low_rpm"
    HIGH_RPM = "high_rpm"
    HIGH_LOAD = "high_load"
    SOON_AFTER_START = "soon_after_start"
    NEAR_GROUND = "near_ground"
    COLD = "cold"
    HOT = "hot"


#: Conditions that a symptom is held against without being asked, within a flight and of a whole one.
WITHIN_FLIGHT = (SymptomCondition.LOW_RPM, SymptomCondition.HIGH_LOAD, SymptomCondition.SOON_AFTER_START)
OF_FLIGHT = (SymptomCondition.COLD, SymptomCondition.HOT)


@dataclass(frozen=True, slots=True)
class Circumstances:
    """How it was at an occasion; numbers that are not recorded are absent."""

    numbers: Mapping[str, Quantity]  # engine_speed, load, outside_air_temperature, minutes_after_start
    phase: str


def masks(flight: Flight) -> dict[SymptomCondition, Mask]:
    """Rows in each condition that the flight's recording can tell; a condition that it cannot tell is left out."""
    trace = flight.trace
    found: dict[SymptomCondition, Mask] = {}
    if (floor := low_rpm_below(flight)) is not None and trace.engine_speed is not None:
        found[SymptomCondition.LOW_RPM] = np.nan_to_num(trace.engine_speed, nan=np.inf) < floor
        found[SymptomCondition.HIGH_RPM] = np.nan_to_num(trace.engine_speed, nan=0.0) >= floor
    if (load := bus_load(flight)) is not None:
        usual = median(load[flight.running & flight.alternator_online])
        if np.isfinite(usual):
            high = max(limit_value("squawk_high_load") * usual, usual + limit_value("output_smallest"))
            found[SymptomCondition.HIGH_LOAD] = np.nan_to_num(load) > high
    if not flight.begins_running:
        since = trace.time - trace.time[flight.run.start]
        found[SymptomCondition.SOON_AFTER_START] = (since >= 0.0) & (since <= 60.0 * limit_value("squawk_soon"))
    if (low := near_ground(flight)) is not None:
        found[SymptomCondition.NEAR_GROUND] = low
    return found


def near_ground(flight: Flight) -> Mask | None:
    """Rows in the air and no higher above the ground than a traffic pattern; None where that is not recorded.

    The ground is the lowest height of the flight: a pattern elsewhere, at a higher field, is not told.
    """
    trace = flight.trace
    if trace.altitude is None or (trace.airspeed is None and trace.ground_speed is None):
        return None
    height = trace.altitude - np.nanmin(trace.altitude) if np.isfinite(trace.altitude).any() else trace.altitude
    return np.asarray(trace.airborne & (np.nan_to_num(height, nan=np.inf) < limit_value("squawk_pattern_height")))


def low_rpm_below(flight: Flight) -> float | None:
    """Engine speed below which it counts as low [rpm], a share of the flight's own high one; None unrecorded."""
    speed = flight.trace.engine_speed
    if speed is None or not np.isfinite(speed[flight.running]).any():
        return None
    high = percentile(finite_of(speed[flight.running]), 95)
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


def of_flight(flight: Flight) -> dict[SymptomCondition, bool]:
    """Conditions of the whole flight, as far as they are recorded."""
    air = flight.air_at_start
    if not np.isfinite(air):
        return {}
    return {SymptomCondition.COLD: air < limit_value("cold_start"), SymptomCondition.HOT: air > limit_value("hot_air")}


def circumstances_at(flight: Flight, occasion: Occurrence) -> Circumstances:
    """Engine speed, load, outside air, minutes after start and phase at an occasion; what is unknown is absent."""
    trace = flight.trace
    rows = slice(occasion.first, max(occasion.end, occasion.first + 1))
    found: dict[str, Quantity] = {}

    def add(name: str, value: float, unit: str, digits: int = 0) -> None:
        if np.isfinite(value):
            found[name] = number(value, unit, digits)

    if trace.engine_speed is not None and flight.running[rows].any():
        add("engine_speed", median(trace.engine_speed[rows]), "rpm")
    add("load", _load_at(flight, occasion), "A", 1)
    if trace.outside_air_temperature is not None:
        add("outside_air_temperature", median(trace.outside_air_temperature[rows]), "degC", 1)
    onset = float(trace.time[occasion.first])
    if not flight.begins_running and onset >= trace.time[flight.run.start]:
        add("minutes_after_start", (onset - float(trace.time[flight.run.start])) / 60.0, "min", 1)
    middle = 0.5 * (onset + float(trace.time[rows.stop - 1]))
    return Circumstances(found, _phase_at(flight, middle))


def _load_at(flight: Flight, occasion: Occurrence) -> float:
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


def occasion_within(
    flight: Flight, found: Mapping[SymptomCondition, Mask], occasion: Occurrence
) -> dict[SymptomCondition, float]:
    """Part of an occasion's time that lies in each condition [1]."""
    rows = slice(occasion.first, max(occasion.end, occasion.first + 1))
    seconds = flight.trace.seconds[rows]
    return {name: float(np.average(mask[rows], weights=seconds)) for name, mask in found.items()}


def exposure(
    flight: Flight, found: Mapping[SymptomCondition, Mask], watched: Mask | None
) -> dict[SymptomCondition, tuple[float, float]]:
    """Seconds in each condition, and all, of the time in which a symptom would have shown."""
    if watched is None:
        return {}
    seconds = flight.trace.seconds
    whole = float(seconds[watched].sum())
    return {name: (float(seconds[watched & mask].sum()), whole) for name, mask in found.items()}
