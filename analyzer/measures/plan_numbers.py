"""Numbers of a plan of endurance that a person can give instead of what a flight shows."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct


class PlanNumber(Struct, frozen=True):
    """One number of a plan that can be given instead of what the flight shows."""

    lowest: float
    highest: float
    unit: str
    what: str


NUMBERS: Mapping[str, PlanNumber] = {
    "load": PlanNumber(0.1, 300.0, "A", "load when the alternator fails"),
    "capacity": PlanNumber(1.0, 200.0, "Ah", "rated capacity at the one-hour rate"),
    "charge": PlanNumber(1.0, 100.0, "%", "charge before the flight"),
    "temperature": PlanNumber(-40.0, 60.0, "degC", "battery temperature"),
    "condition": PlanNumber(1.0, 100.0, "%", "share of rated capacity left, from a capacity test"),
}
