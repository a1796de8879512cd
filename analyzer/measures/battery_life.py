"""How long a battery carries a load: one formula for a flight's endurance and for the planner."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.aircraft import Battery
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import peukert_hours, temperature_factor


@dataclass(frozen=True, slots=True)
class Share:
    """A share of 1, such as a charge or a condition, with the least and the most that it may be."""

    value: float
    low: float
    high: float


def usual_condition(battery: Battery | None) -> Share:
    """Share of its rated capacity that a battery in service has, where nothing is known of this one."""
    if battery is Battery.LITHIUM:
        least = limit_value("lithium_capacity_cold")
        return Share(least, least, 1.0)
    return Share(limit_value("capacity_typical"), limit_value("capacity_least"), 1.0)


def worn_condition() -> Share:
    """Share of its rated capacity that a battery has whose wear its flights already show."""
    return Share(limit_value("capacity_worn"), limit_value("capacity_worn_least"), limit_value("capacity_worn_most"))


def battery_life(
    load: float, capacity: float, charge: Share, temperature: float, condition: Share, battery: Battery | None
) -> Share:
    """Minutes that a battery carries a steady load, with the least and the most.

    ``t = 60 H (C / (I H))^k`` with the one-hour rating, H = 1 h (Peukert), C what is left of the rated capacity at
    this temperature, charge and condition. The interval spans the exponents k of such batteries, the charge and the
    condition; never more than the whole rated capacity.

    Parameters
    ----------
    load : to be carried [A], above zero
    capacity : rated, at the one-hour rate [Ah]
    charge, condition : shares of 1
    temperature : of the battery [degC]
    battery : its kind; None is taken as lead-acid
    """
    cold = temperature_factor(temperature)
    exponents = (limit_value("peukert_least"), limit_value("peukert_most"))
    typical, warm = limit_value("peukert_typical"), cold
    if battery is Battery.LITHIUM:  # loses less in the cold than a lead-acid one, how much less is not known
        typical, cold, warm = limit_value("lithium_peukert"), max(1.0, cold), 1.0
        exponents = (1.0, typical)
    value = _minutes(capacity / cold * charge.value * condition.value, load, typical)
    lows = [_minutes(capacity / cold * charge.low * condition.low, load, k) for k in exponents]
    most = min(capacity / warm * charge.high * condition.high, capacity)
    highs = [_minutes(most, load, k) for k in exponents]
    return Share(value, min(*lows, value), max(*highs, value))


def _minutes(capacity: float, amps: float, exponent: float) -> float:
    return 60.0 * peukert_hours(max(capacity, 1e-3), 1.0, amps, exponent)
