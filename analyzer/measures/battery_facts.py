"""What is known of batteries: charge from rested voltage, capacity with temperature and rate."""

from __future__ import annotations

import numpy as np

#: Rested open-circuit voltage of a 12 V battery at 27 degC (80 degF) against its state of charge in %.
#: Source: Battery Council International table as quoted by two battery makers' notes.
CHARGE_OF_VOLTAGE = ((11.89, 0.0), (12.06, 25.0), (12.24, 50.0), (12.45, 75.0), (12.65, 100.0))
#: Open-circuit voltage rises by this for each cell and degC. Source: general text, from memory.
VOLTAGE_TEMPERATURE = 0.0002
REFERENCE_TEMPERATURE = 27.0  # [degC], of the table


#: Charge [%] that a rested four-cell lithium iron phosphate battery may hold: up to which voltage, least, most.
#: Source: a judgement over published rest charts, which disagree by 0.1 V and more, and a published cell model.
LITHIUM_BANDS = (
    (12.0, 0.0, 10.0),
    (12.6, 3.0, 20.0),
    (12.85, 8.0, 35.0),
    (13.0, 15.0, 50.0),
    (13.4, 25.0, 100.0),
)


def lithium_charge(low: float, high: float, cells: int) -> tuple[float, float] | None:
    """Least and most charge [%] of a lithium battery that rests between two voltages; None above every chart.

    Parameters
    ----------
    low, high : ends of the rested voltage, no load, an hour or more after charging, about 25 degC [V]
    cells : 4 for a 14 V system, 8 for a 28 V system
    """
    tops = [band[0] * cells / 4.0 for band in LITHIUM_BANDS]
    if low > tops[-1]:
        return None
    least, most = (next(n for n, top in enumerate(tops) if min(volts, tops[-1]) <= top) for volts in (low, high))
    return LITHIUM_BANDS[least][1], LITHIUM_BANDS[most][2]


def state_of_charge(voltage: float, cells: int, temperature: float = REFERENCE_TEMPERATURE) -> float:
    """State of charge [%] that a rested open-circuit voltage implies; 0 below the table, 100 above it.

    Parameters
    ----------
    voltage : rested, without load [V]
    cells : 6 for a 12 V battery, 12 for a 24 V battery
    temperature : of the battery [degC]
    """
    at_reference = voltage - cells * VOLTAGE_TEMPERATURE * (temperature - REFERENCE_TEMPERATURE)
    volts, charge = zip(*CHARGE_OF_VOLTAGE, strict=True)
    return float(np.interp(at_reference * 6.0 / cells, volts, charge))


def temperature_factor(temperature: float) -> float:
    """How much larger a battery must be at ``temperature`` [degC] to give what it gives at 25 degC.

    Source: sizing note's fit to IEEE 485, table 1: y = -2.8117 x^3 + 4.1916 x^2 - 2.4941 x + 1.405 with
    x in hundreds of degC, for -3.9 to 51.7 degC; the ends are held outside.
    """
    x = float(np.clip(temperature, -3.9, 51.7)) / 100.0
    return -2.8117 * x**3 + 4.1916 * x**2 - 2.4941 * x + 1.405


def peukert_hours(capacity: float, rated_hours: float, current: float, exponent: float) -> float:
    """Hours that a battery carries ``current`` [A], Peukert in the rated-hours form.

    t = H (C / (I H))^k with C [Ah] the capacity when discharged over H hours.

    Raises
    ------
    ValueError
        When current, capacity or hours are not above zero.
    """
    if min(capacity, rated_hours, current) <= 0.0:
        raise ValueError("capacity, rated hours and current must be above zero")
    return float(rated_hours * (capacity / (current * rated_hours)) ** exponent)
