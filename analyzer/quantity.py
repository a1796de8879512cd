"""A number with its unit, as the rule that found it knows it; nobody after it guesses a unit from a name."""

from __future__ import annotations

from math import isfinite

from msgspec import Struct

#: Units that a quantity may have; "1" for plain counts, "" where an earlier version did not keep the unit.
UNITS = ("V", "A", "Ah", "s", "min", "h", "mohm", "%", "degC", "A/V", "V/h", "rpm", "d", "1", "")


class Quantity(Struct, frozen=True):
    """A number with its unit, with its 95 % interval where one is known."""

    value: float
    unit: str  # one of UNITS
    low: float | None = None
    high: float | None = None
    assumed: bool = False  # not recorded: taken for what is usual

    def __post_init__(self) -> None:
        if not isfinite(self.value):
            raise ValueError(f"{self.value} is no quantity; leave out what is not known")
        if self.unit not in UNITS:
            raise ValueError(f"{self.unit} is not a unit of ours: {', '.join(UNITS)}")
        if (self.low is None) != (self.high is None):
            raise ValueError(f"an interval has two ends, not {self.low} and {self.high}")


def volts(value: float, digits: int = 2) -> Quantity:
    """A voltage, rounded."""
    return Quantity(round(float(value), digits), "V")


def amperes(value: float, digits: int = 1) -> Quantity:
    """A current, rounded."""
    return Quantity(round(float(value), digits), "A")


def ampere_hours(value: float, digits: int = 2) -> Quantity:
    """A charge, rounded."""
    return Quantity(round(float(value), digits), "Ah")


def minutes(value: float, digits: int = 2) -> Quantity:
    """A time in minutes, rounded."""
    return Quantity(round(float(value), digits), "min")


def seconds(value: float, digits: int = 1) -> Quantity:
    """A time in seconds, rounded."""
    return Quantity(round(float(value), digits), "s")


def count(value: float) -> Quantity:
    """A plain number: how many, or which one."""
    return Quantity(float(value), "1")
