"""Planning on the battery alone: a chosen load, charge, temperature and condition."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from analyzer.aircraft import Battery
from analyzer.limits import limit_value
from analyzer.measures.battery_life import Share, battery_life
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


def about(percent: float) -> Share:
    """A charge or condition that a person gives [%]: known to within a tenth."""
    spread, share = limit_value("plan_spread"), percent / 100.0
    return Share(share, share * (1.0 - spread), min(1.0, share * (1.0 + spread)))


def planned_endurance(
    load: float, capacity: float, charge: Share, temperature: float, condition: Share, battery: Battery | None = None
) -> Measure:
    """Minutes that a battery carries a chosen load, for planning on the ground: see ``battery_life``.

    Parameters
    ----------
    load : to be carried [A]
    capacity : rated, at the one-hour rate [Ah]
    charge : state of charge, a share of 1
    temperature : of the battery [degC]
    condition : share of the rated capacity that the battery still has; 0.8 is where many manuals end its service
        (common practice)
    battery : its kind, None when unknown: then it is taken as lead-acid, and the note says so

    Returns
    -------
    The measure ``endurance``. Not measurable where a value is not above zero.
    """
    name = "endurance"
    if min(load, capacity, charge.value, condition.value) <= 0.0:
        return not_measurable(name, "load, capacity, charge and condition must all be above zero")
    life = battery_life(load, capacity, charge, temperature, condition, battery)
    note = f"at {load:.1f} A"
    return measured(name, life.value, life.low, life.high, f"{TAKEN}; {note}" if battery is None else note)
