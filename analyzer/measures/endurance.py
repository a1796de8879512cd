"""How long the battery could carry the steady load by itself."""

from __future__ import annotations

import numpy as np

from analyzer.flights.battery_kind import Chemistry
from analyzer.flights.carrying import OFFLINE
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import peukert_hours, temperature_factor
from analyzer.measures.measure import TAKEN, Measure, measured, not_measurable
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
    if flight.nominal_voltage is None and flight.aircraft.battery_capacity is None:
        return not_measurable(name, "neither the system's voltage nor the battery's capacity is known")
    if charge.value is None and (flight.first_crank > 0 or not flight.voltmeter.tells):
        return not_measurable(name, f"the battery's charge is not known: {charge.because}")
    if flight.battery.charge_unknown is not None:
        return not_measurable(name, flight.battery.charge_unknown)
    capacity = flight.limits["battery_capacity"]
    if flight.battery.chemistry is Chemistry.LITHIUM:
        return _of_lithium(flight, amps, note, charge)
    air = flight.trace.outside_air_temperature
    degrees = float("nan") if air is None else median(air)
    usable = capacity / temperature_factor(degrees if np.isfinite(degrees) else limit_value("temperature_assumed"))
    assumed = limit_value("charge_assumed")
    full = (charge.value if charge.value is not None else assumed) / 100.0
    least = (charge.low if charge.low is not None else limit_value("charge_assumed_least")) / 100.0
    if charge.value is None:
        note += f"; charge taken as {assumed:.0f} %, since the log begins with the engine running"
    value = _minutes(usable * full * limit_value("capacity_typical"), amps, limit_value("peukert_typical"))
    exponents = (limit_value("peukert_least"), limit_value("peukert_most"))
    lows = [_minutes(usable * least * limit_value("capacity_least"), amps, k) for k in exponents]
    most = min(1.0, (charge.high if charge.high is not None else 100.0) / 100.0)
    highs = [_minutes(usable * most, amps, k) for k in exponents]
    if flight.aircraft.battery_capacity is None:
        note += f"; capacity taken as {capacity:.0f} Ah, since the fleet file gives none"
    return measured(name, value, min(lows), max(highs), f"{TAKEN}; {note}" if flight.battery.is_taken else note)


def _of_lithium(flight: Flight, amps: float, note: str, charge: Measure) -> Measure:
    """Minutes from a lithium battery, from the lower end of its band of charge."""
    name = "endurance"
    if charge.low is None or charge.high is None:
        return not_measurable(name, f"a lithium battery's charge is not known: {charge.because}")
    capacity, exponent = flight.limits["battery_capacity"], limit_value("lithium_peukert")
    least = _minutes(capacity * charge.low / 100.0 * limit_value("lithium_capacity_cold"), amps, exponent)
    most = _minutes(capacity * charge.high / 100.0, amps, 1.0)
    note += f"; from the lower end of a lithium battery's band of charge, {charge.low:.0f} %"
    if flight.aircraft.battery_capacity is None:
        note += f"; capacity taken as {capacity:.0f} Ah, since the fleet file gives none"
    return measured(name, least, least, most, note)


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
    return 60.0 * peukert_hours(max(capacity, 1e-3), 1.0, amps, exponent)
