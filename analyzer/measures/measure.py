"""A value with its 95 % interval, or the reason why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from math import isfinite

from msgspec import Struct
from msgspec.structs import replace

from analyzer.quantity import Quantity

#: Every measure of a flight and its unit, in the order in which a flight happens.
MEASURES: dict[str, str] = {
    "resting_voltage": "V",
    "resting_charge": "%",
    "prestart_discharge": "Ah",
    "cranking_voltage": "V",
    "cranking_time": "s",
    "start_attempts": "1",
    "recharge_peak_current": "A",
    "recharge_time_constant": "min",
    "recharge_settling_time": "min",
    "recharge_returned": "Ah",
    "maintenance_current": "A",
    "regulated_voltage": "V",
    "regulation_scatter": "V",
    "regulation_slope": "V/h",
    "regulation_droop": "mohm",
    "highest_voltage": "V",
    "bus_load": "A",
    "offline_time": "min",
    "offline_discharge": "Ah",
    "battery_resistance": "mohm",
    "endurance": "min",
}

#: Units of what only a voltmeter shows; and what is worked out from it alone.
_OF_VOLTS, _FROM_VOLTS = ("V", "V/h", "mohm"), ("resting_charge",)


def needs_voltmeter(name: str) -> bool:
    """Whether a measure cannot be had without a bus voltage."""
    return MEASURES[name] in _OF_VOLTS or name in _FROM_VOLTS


class Assumption(StrEnum):
    """What a value rests on that the log does not show, and that stands beside it wherever it is told."""

    LEAD_ACID = "lead_acid"  # a charge or an endurance of a battery of unknown kind
    BEFORE_START = "before_start"  # an endurance with a charge that the battery has given since, in the same flight

    @property
    def words(self) -> str:
        """It in words, as it stands beside the value and in the measure's note."""
        return _ASSUMED[self]


_ASSUMED = {
    Assumption.LEAD_ACID: "taken as lead-acid",
    Assumption.BEFORE_START: "with the charge before the start",
}


class Measure(Struct, frozen=True):
    """One measure of one flight: a value with its interval, or a reason. Never both, never neither."""

    name: str  # a key of MEASURES
    value: float | None = None
    low: float | None = None  # 95 % interval
    high: float | None = None
    because: str | None = None  # why it cannot be measured
    note: str | None = None  # what to know when reading the value
    at_least: float | None = None  # bound of a measure that cannot be measured
    at_most: float | None = None
    assumes: tuple[Assumption, ...] = ()

    def __post_init__(self) -> None:
        if self.name not in MEASURES:
            raise ValueError(f"{self.name} is not a measure")
        if (self.value is None) == (self.because is None):
            raise ValueError(f"{self.name}: give a value or a reason, and only one of them")
        numbers = (self.value, self.low, self.high)
        if self.value is not None and not all(n is not None and isfinite(n) for n in numbers):
            raise ValueError(f"{self.name}: {numbers} is not a measurement; give the reason")
        bounds = [bound for bound in (self.at_least, self.at_most) if bound is not None]
        if bounds and (self.value is not None or not all(map(isfinite, bounds))):
            raise ValueError(f"{self.name}: a bound of {bounds} stands in place of a value, and is a number")

    @property
    def unit(self) -> str:
        """Unit of the value."""
        return MEASURES[self.name]

    def quantity(self, digits: int) -> Quantity:
        """The value with its interval as evidence, rounded; taken as lead-acid's, it says that this was assumed.

        Raises
        ------
        ValueError
            When it could not be measured.
        """
        if self.value is None or self.low is None or self.high is None:
            raise ValueError(f"{self.name} was not measured: {self.because}")
        value, low, high = (round(number, digits) for number in (self.value, self.low, self.high))
        return Quantity(value, self.unit, low, high, assumed=Assumption.LEAD_ACID in self.assumes)


def measured(
    name: str, value: float, low: float, high: float, note: str | Sequence[str | Assumption] | None = None
) -> Measure:
    """Give a measure with its interval, ends in order and around the value.

    The note is one, or several in their order, what is assumed among them.
    """
    parts = [note] if isinstance(note, str) else note or ()
    told = "; ".join(one.words if isinstance(one, Assumption) else one for one in parts) or None
    assumes = tuple(one for one in parts if isinstance(one, Assumption))
    return Measure(name, float(value), float(min(low, value)), float(max(high, value)), note=told, assumes=assumes)


def remeasured(measure: Measure, value: float, low: float, high: float) -> Measure:
    """Give the same measure with other numbers: what it rests on stays."""
    return replace(measured(measure.name, value, low, high), note=measure.note, assumes=measure.assumes)


def around(name: str, value: float, half: float, note: str | None = None) -> Measure:
    """Give a measure whose interval reaches ``half`` to both sides."""
    return measured(name, value, value - half, value + half, note)


def after_loss(measure: Measure) -> bool:
    """Whether it is an endurance with a charge that the battery has given since, in the same flight."""
    return Assumption.BEFORE_START in measure.assumes


def taken_words(measure: Measure) -> str:
    """What is assumed, as it stands beside a value, " (taken as lead-acid)"; empty where nothing is."""
    return f" ({', '.join(one.words for one in measure.assumes)})" if measure.assumes else ""


def not_measurable(name: str, because: str, *, at_least: float | None = None, at_most: float | None = None) -> Measure:
    """Give the reason why a measure has no value; a plain phrase that can follow 'because'.

    ``at_least`` and ``at_most`` bound it where that much is known, in its unit.
    """
    least, most = (None if bound is None else float(bound) for bound in (at_least, at_most))
    return Measure(name, because=because, at_least=least, at_most=most)
