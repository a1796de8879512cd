"""How long the battery could carry the steady load by itself."""

from __future__ import annotations

import numpy as np

from analyzer.aircraft import Battery
from analyzer.flights.battery_kind import Chemistry
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import OFFLINE, OUTPUT_LIMITED
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import Share, battery_life, usual_condition
from analyzer.measures.measure import Assumption, Measure, measured, not_measurable
from analyzer.series import median, series_median

#: What tells the load where no ammeter does.
ESSENTIAL_SOURCE = "at the essential load of the aircraft's settings"


def endurance(flight: Flight, load: Measure, charge: Measure, condition: Share | None = None) -> Measure:
    """Minutes that the battery carries the load: rated capacity, charge, temperature and discharge rate.

    The load is the steady one of this flight, else what the battery gave while the alternator was off, else
    the fleet file's essential load. The interval spans the exponents of such batteries and what a battery in
    service may have lost, its low end at the most that the load may be; ``condition`` is what its findings say of
    that, None where they say nothing.
    """
    name = "endurance"
    amps, note = observed_load(flight, load)
    if amps is None:
        return not_measurable(name, "no alternator ammeter shows the load, and no essential load is set")
    if flight.nominal_voltage is None and flight.aircraft.battery_capacity is None:
        return not_measurable(name, "neither the system's voltage nor the battery's capacity is known")
    if (unknown := charge_unknown(flight, charge)) is not None:
        return not_measurable(name, f"the battery's charge is not known: {unknown}")
    kind, capacity = battery_kind(flight), flight.limits["battery_capacity"]
    full, how = charge_share(flight, charge)
    worn = condition is not None
    condition = condition or usual_condition(kind)
    life, shortest = (
        battery_life(carried, capacity, full, battery_temperature(flight), condition, kind)
        for carried in (amps.value, amps.high)
    )
    notes: list[str] = [Assumption.LEAD_ACID] if flight.battery.is_taken else []
    notes.append(note + how)
    if worn:
        notes.append(f"capacity taken as {100.0 * condition.value:.0f} % of rated, since this flight shows wear")
    if any(outage.kind in (OFFLINE, OUTPUT_LIMITED) for outage in flight.outages):
        notes.append(Assumption.BEFORE_START)
    if flight.aircraft.battery_capacity is None:
        notes.append(f"capacity taken as {capacity:.0f} Ah, as the aircraft's settings give none")
    return measured(name, life.value, shortest.low, life.high, notes)


def battery_kind(flight: Flight) -> Battery | None:
    """The battery's kind as the fleet file gives it, or as its readings show a lithium one."""
    return Battery.LITHIUM if flight.battery.chemistry is Chemistry.LITHIUM else flight.aircraft.battery


def battery_temperature(flight: Flight) -> float:
    """Temperature of the battery [degC]: the air's of this flight, else the usual one."""
    air = flight.trace.outside_air_temperature
    degrees = float("nan") if air is None else series_median(air)
    return degrees if np.isfinite(degrees) else limit_value("temperature_assumed")


def charge_unknown(flight: Flight, charge: Measure) -> str | None:
    """Why no charge can be told or taken; None where one can: only a log that begins with the engine running is silent.

    Everywhere else a charge that is not measurable has a reason that speaks against taking the battery as full.
    """
    if flight.battery.charge_unknown is not None:
        return flight.battery.charge_unknown
    begins_running = flight.first_crank == 0 and flight.voltmeter.tells and not flight.battery.is_lithium
    return charge.because if charge.value is None and not begins_running else None


def charge_share(flight: Flight, charge: Measure) -> tuple[Share, str]:
    """State of charge to begin with, as a share of 1, and what a note says of it."""
    if charge.value is None or charge.low is None or charge.high is None:
        assumed, least = limit_value("charge_assumed"), limit_value("charge_assumed_least")
        told = f"; charge taken as {assumed:.0f} %, since the log begins with the engine running"
        return Share(assumed / 100.0, least / 100.0, 1.0), told
    low, high = charge.low / 100.0, min(1.0, charge.high / 100.0)
    if flight.battery.chemistry is Chemistry.LITHIUM:
        return Share(low, low, high), f"; from the lower end of a lithium battery's band of charge, {charge.low:.0f} %"
    return Share(charge.value / 100.0, low, high), ""


def charge_less(flight: Flight, charge: Share, drawn: Share, condition: Share) -> Share:
    """A charge less what was drawn [Ah], each end from its own: of a worn or cold battery it is the larger share."""
    holds = flight.limits["battery_capacity"] / max(1.0, temperature_factor(battery_temperature(flight)))
    ends = (
        (charge.value, drawn.value, condition.value),
        (charge.low, drawn.high, condition.low),
        (charge.high, drawn.low, condition.high),
    )
    return Share(*(max(0.0, share - amp_hours / (holds * has)) for share, amp_hours, has in ends))


def steady_load(flight: Flight, load: Measure) -> Share | None:
    """The steady load of a flight [A], ``load`` as measured; None where it is not, or is next to nothing.

    Behind a battery ammeter that is off at zero, by the load of a panel that is not known, it is taken as the most
    that it may be.
    """
    least = limit_value("output_smallest")
    if load.value is None or load.low is None or load.high is None or load.value < least:
        return None
    return Share(load.high if flight.ammeter.charge_at_rest else load.value, max(least, load.low), load.high)


def observed_load(flight: Flight, load: Measure) -> tuple[Share | None, str]:
    """The load that the battery would have to carry [A], None when nothing tells it, and what told."""
    steady, off = steady_load(flight, load), flight.ammeter.charge_at_rest
    if steady is not None:
        told = "most that the steady load may be," if off else "steady load of"
        return steady, f"at the {told} {steady.value:.0f} A"
    if flight.trace.battery_current is not None:
        for outage in flight.outages:
            drawn = off - median(flight.trace.battery_current[outage.first : outage.end])
            if outage.kind == OFFLINE and drawn > limit_value("output_smallest"):
                most = drawn + (limit_value("panel_load") if off else 0.0)
                return Share(most, drawn, most), f"at the {most:.0f} A drawn while the alternator was off"
    if flight.aircraft.essential_load is not None:
        known = flight.aircraft.essential_load
        return Share(known, known, known), ESSENTIAL_SOURCE
    return None, ""
