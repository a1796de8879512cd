"""What can be wrong, each as an ingredient that a flight takes and that can be taken out again.

A fault changes the battery (``alter``), the course of things (``disturb``, see ``system_faults``), the way to
the voltmeter (``refit``) or only the readings (``distort``). Windows are seconds from the master switch going
on; volts are of a 14 V system and doubled in a 28 V one, save in readings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.battery import Battery
from analyzer.simulator.electrical import Conditions
from analyzer.simulator.instruments import Voltmeter

Floats = NDArray[np.float64]
#: Which reading is wrong; "ammeter" is the first one fitted.
Channel = Literal["bus_voltage", "bus_voltage_2", "ammeter"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Common to all: a window, and the findings by which it should be known."""

    from_s: float = 0.0
    to_s: float = inf

    finding: ClassVar[str] = ""  # what should be found; faults of two directions say it themselves
    accepted: ClassVar[tuple[str, ...]] = ()  # other names under which it may fairly be found
    tolerated: ClassVar[tuple[str, ...]] = ()  # findings that follow from it

    def inside(self, time_s: Floats) -> NDArray[np.bool_]:
        """Which times [s] lie in the window."""
        return (time_s >= self.from_s) & (time_s < self.to_s)

    @property
    def name(self) -> str:
        """The finding by which it should be known."""
        return self.finding


class BatteryFault(Fault):
    """A battery that is not as it should be."""

    def alter(self, battery: Battery) -> Battery:
        """The battery with the fault."""
        raise NotImplementedError


class SystemFault(Fault):
    """Alternator, regulator, protection or wiring."""

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Write the fault into the conditions."""
        raise NotImplementedError

    def moments(self) -> tuple[tuple[float, float], ...]:
        """Windows [s] that must be stepped through finely."""
        return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFault(Fault):
    """The reading is wrong, the aircraft is well."""

    channel: Channel = "bus_voltage"
    finding: ClassVar[str] = "reading_fault"

    def distort(self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator) -> None:
        """Write the fault into the recorded columns; NaN is a blank."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, kw_only=True)
class Sulphated(BatteryFault):
    """Discharge left standing: the plates take their charge back slowly."""

    slower: float = 4.0
    charge: float = 0.93  # a sulphated battery is never quite full
    finding: ClassVar[str] = "slow_recharge"
    tolerated: ClassVar[tuple[str, ...]] = ("recharge_never_settles",)

    def alter(self, battery: Battery) -> Battery:
        """Acceptance slower by the factor, and some charge missing from before."""
        charge = min(battery.charge, self.charge)
        return replace(battery, acceptance_s=battery.acceptance_s * self.slower, charge=charge, recent_fraction=0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class NeverSettles(BatteryFault):
    """A softly shorted cell and spent plates: current turns into gas and heat as long as it is offered."""

    shorted_cells: float = 0.2
    gassing_a: float = 8.0
    finding: ClassVar[str] = "recharge_never_settles"
    accepted: ClassVar[tuple[str, ...]] = ("slow_recharge",)
    tolerated: ClassVar[tuple[str, ...]] = ("low_resting_voltage", "weak_cranking", "slow_recharge")

    def alter(self, battery: Battery) -> Battery:
        """Part of a cell lost and more gassing."""
        return replace(battery, shorted_cells=self.shorted_cells, gassing_a=max(battery.gassing_a, self.gassing_a))


@dataclass(frozen=True, slots=True, kw_only=True)
class Worn(BatteryFault):
    """Capacity lost and resistance grown: it sags when cranked and takes little charge."""

    health: float = 0.45
    resistance_factor: float = 2.3
    finding: ClassVar[str] = "weak_cranking"
    tolerated: ClassVar[tuple[str, ...]] = ("low_resting_voltage",)

    def alter(self, battery: Battery) -> Battery:
        """Less capacity, more resistance."""
        return replace(battery, health=self.health, resistance_factor=self.resistance_factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftLow(BatteryFault):
    """Something was left on, or the aircraft stood for months."""

    charge: float = 0.3
    finding: ClassVar[str] = "low_resting_voltage"
    tolerated: ClassVar[tuple[str, ...]] = (
        "weak_cranking",
        "slow_recharge",
        "recharge_never_settles",
        "output_short",
    )

    def alter(self, battery: Battery) -> Battery:
        """The charge it is left with; most of what is missing went out lately."""
        return replace(battery, charge=self.charge, recent_fraction=0.7)


@dataclass(frozen=True, slots=True, kw_only=True)
class PathResistance(Fault):
    """A corroded joint in the wire to the voltmeter, which the panel's load flows through as well."""

    ohm: float = 0.06
    finding: ClassVar[str] = "reading_fault"
    accepted: ClassVar[tuple[str, ...]] = ("unsteady_connection", "regulator_low")
    tolerated: ClassVar[tuple[str, ...]] = ("unsteady_connection", "regulator_low", "low_resting_voltage")

    def refit(self, meter: Voltmeter) -> Voltmeter:
        """The voltmeter behind the joint."""
        return replace(meter, path_ohm=meter.path_ohm + self.ohm)


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactSteps(ReadingFault):
    """A contact between bus and voltmeter that opens and closes: steps down of ``volts`` that no current answers."""

    volts: float = 0.6
    count: int = 8
    lasts_s: float = 12.0
    finding: ClassVar[str] = "unsteady_connection"
    accepted: ClassVar[tuple[str, ...]] = ("reading_fault",)

    def distort(self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator) -> None:
        """Put the steps in, each as deep and as long as chance makes it, by a quarter to twice the usual."""
        for at in np.sort(rng.uniform(self.from_s, self.to_s, self.count)):
            lasts = max(self.lasts_s * rng.uniform(0.25, 2.0), float(np.median(np.diff(time_s))))
            depth = max(0.2, round(5.0 * self.volts * rng.uniform(0.6, 1.6)) / 5.0)  # whole steps of any meter
            readings[channel][(time_s >= at) & (time_s < at + lasts)] -= depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuck(ReadingFault):
    """A reading that holds its last value through the window."""

    def distort(self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator) -> None:
        """Hold the value."""
        rows = np.flatnonzero(self.inside(time_s))
        if rows.size:
            readings[channel][rows] = readings[channel][rows[0]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spikes(ReadingFault):
    """Single rows of an absurd value, strewn over the window."""

    value: float = 19.4
    count: int = 4

    def distort(self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator) -> None:
        """Put the value in at random rows."""
        rows = np.flatnonzero(self.inside(time_s))
        if rows.size:
            readings[channel][rng.choice(rows, min(self.count, rows.size), replace=False)] = self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropouts(ReadingFault):
    """Short runs of zero, or of blanks when ``value`` is None."""

    value: float | None = 0.0
    count: int = 6
    rows: int = 3

    def distort(self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator) -> None:
        """Put the runs in at random places."""
        inside = np.flatnonzero(self.inside(time_s))
        if inside.size > self.rows:
            for first in rng.choice(inside[: -self.rows], min(self.count, inside.size - self.rows), replace=False):
                readings[channel][first : first + self.rows] = np.nan if self.value is None else self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset(ReadingFault):
    """A reading that is off by an amount through the window."""

    amount: float = -1.3
    tolerated: ClassVar[tuple[str, ...]] = (
        "regulator_low",
        "regulator_high",
        "low_resting_voltage",
        "weak_cranking",
    )

    def distort(self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator) -> None:
        """Add the amount."""
        readings[channel][self.inside(time_s)] += self.amount
