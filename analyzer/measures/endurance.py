"""How long the battery could carry the steady load by itself."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from analyzer.flights.carrying import OFFLINE
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import peukert_hours, temperature_factor
from analyzer.measures.measure import Measure, measured, not_measurable
from analyzer.series import median


def endurance(flight: Flight, load: Measure, charge: Measure) -> Measure:
    """Minutes that the battery carries the load: rated capacity, charge, temperature and discharge rate.

    The load is the steady one of this flight, else what the battery gave while the alternator was off, else
    the fleet file's essential load. The interval spans the exponents of lead-acid batteries and what a
    battery in service may have lost; it does not know this battery's age.
    """
    name = "endurance"
    amps, note = observed_load(flight, load)
    if amps is None:
        return not_measurable(name, "neither an alternator ammeter nor an essential load tells what must be carried")
    capacity = flight.limits["battery_capacity"]
    air = flight.trace.outside_air_temperature
    degrees = median(air) if air is not None else limit_value("temperature_assumed")
    usable = capacity / temperature_factor(degrees)
    full = (charge.value if charge.value is not None else 100.0) / 100.0
    least = (charge.low if charge.low is not None else 70.0) / 100.0
    value = _minutes(usable * full * limit_value("capacity_typical"), amps, limit_value("peukert_typical"))
    exponents = (limit_value("peukert_least"), limit_value("peukert_most"))
    lows = [_minutes(usable * least * limit_value("capacity_least"), amps, k) for k in exponents]
    highs = [_minutes(usable * min(1.0, full + 0.1), amps, k) for k in exponents]
    if flight.aircraft.battery_capacity is None:
        note += f"; capacity taken as {capacity:.0f} Ah, since the fleet file gives none"
    return measured(name, value, min(lows), max(highs), note)


def observed_load(flight: Flight, load: Measure) -> tuple[float | None, str]:
    """The load that the battery would have to carry [A], None when nothing tells it, and what told."""
    if load.value is not None and load.value >= limit_value("output_smallest"):
        return load.value, f"at the steady load of {load.value:.0f} A"
    if flight.trace.battery_current is not None:
        for absence in flight.absences:
            drawn = -median(flight.trace.battery_current[absence.first : absence.end])
            if absence.kind == OFFLINE and drawn > limit_value("output_smallest"):
                return drawn, f"at the {drawn:.0f} A drawn while the alternator was off"
    if flight.aircraft.essential_load is not None:
        return flight.aircraft.essential_load, "at the fleet file's essential load"
    return None, ""


def _minutes(capacity: float, amps: float, exponent: float) -> float:
    return 60.0 * peukert_hours(max(capacity, 1e-3), 1.0, amps, exponent) if np.isfinite(capacity) else 0.0


@dataclass(frozen=True, slots=True)
class Load:
    """One thing that may be switched on or shed."""

    name: str
    words: str
    amps: float
    night: bool  # usually on by night


@cache
def usual_loads(nominal_voltage: int) -> tuple[Load, ...]:
    """Usual loads of a 14 V or 28 V aircraft, from ``loads.toml``: examples, not this aircraft's."""
    document = tomllib.loads(Path(__file__).with_name("loads.toml").read_text("utf-8"))
    return tuple(
        Load(name, entry["words"], float(entry[f"at_{nominal_voltage}"]), entry["night"])
        for name, entry in document.items()
    )


def load_after(observed: float, added: Iterable[float], shed: Iterable[float], floor: float) -> float:
    """Load after some are switched on and others shed [A], never below ``floor``: something always stays on."""
    return max(floor, observed + sum(added) - sum(shed))


def planned_endurance(load: float, capacity: float, charge: float, temperature: float, condition: float) -> Measure:
    """Minutes that a battery carries a chosen load, for planning on the ground.

    Parameters
    ----------
    load : to be carried [A]
    capacity : rated, at the one-hour rate [Ah]
    charge : state of charge [%]
    temperature : of the battery [degC]
    condition : share of the rated capacity that the battery still has [%]; 80 is where many manuals end its
        service (common practice)

    Returns
    -------
    The measure ``endurance``. Its interval spans the exponents of lead-acid batteries and takes charge and
    condition as known to within a tenth; see ``endurance`` for the formula. Not measurable where a value is
    not above zero.
    """
    name = "endurance"
    if min(load, capacity, charge, condition) <= 0.0:
        return not_measurable(name, "load, capacity, charge and condition must all be above zero")
    usable = capacity / temperature_factor(temperature) * (charge / 100.0) * (condition / 100.0)
    exponents = (limit_value("peukert_least"), limit_value("peukert_most"))
    spread = limit_value("plan_spread")
    least, most = usable * (1.0 - spread) ** 2, min(usable * (1.0 + spread) ** 2, capacity)
    value = _minutes(usable, load, limit_value("peukert_typical"))
    lows, highs = ([_minutes(ah, load, k) for k in exponents] for ah in (least, most))
    return measured(name, value, min(lows), max(highs), f"at {load:.1f} A")
