"""Planning on the battery alone: a chosen load, charge, temperature and condition."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from analyzer.aircraft import Battery
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import peukert_hours, temperature_factor
from analyzer.measures.measure import TAKEN, Measure, measured, not_measurable


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
    """Load after some are switched on and others shed [A], not below ``floor``: something stays on."""
    everything = observed + sum(added)
    return max(min(floor, everything), everything - sum(shed))


def planned_endurance(
    load: float, capacity: float, charge: float, temperature: float, condition: float, battery: Battery | None = None
) -> Measure:
    """Minutes that a battery carries a chosen load, for planning on the ground.

    Parameters
    ----------
    load : to be carried [A]
    capacity : rated, at the one-hour rate [Ah]
    charge : state of charge [%]
    temperature : of the battery [degC]
    condition : share of the rated capacity that the battery still has [%]; 80 is where many manuals end its
        service (common practice)
    battery : its kind, None when unknown: then it is taken as lead-acid, and the note says so

    Returns
    -------
    The measure ``endurance``. Its interval spans the exponents of such batteries and takes charge and
    condition as known to within a tenth; see ``endurance`` for the formula. Not measurable where a value is
    not above zero.
    """
    name = "endurance"
    if min(load, capacity, charge, condition) <= 0.0:
        return not_measurable(name, "load, capacity, charge and condition must all be above zero")
    usable = capacity / temperature_factor(temperature) * (charge / 100.0) * (condition / 100.0)
    exponents = (limit_value("peukert_least"), limit_value("peukert_most"))
    typical = limit_value("peukert_typical")
    if battery is Battery.LITHIUM:
        exponents, typical = (1.0, limit_value("lithium_peukert")), limit_value("lithium_peukert")
    spread = limit_value("plan_spread")
    least, most = usable * (1.0 - spread) ** 2, min(usable * (1.0 + spread) ** 2, capacity)
    value = _minutes(usable, load, typical)
    lows, highs = ([_minutes(ah, load, k) for k in exponents] for ah in (least, most))
    note = f"at {load:.1f} A"
    return measured(name, value, min(lows), max(highs), f"{TAKEN}; {note}" if battery is None else note)


def _minutes(capacity: float, amps: float, exponent: float) -> float:
    return 60.0 * peukert_hours(capacity, 1.0, amps, exponent)
