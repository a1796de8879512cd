"""What can be wrong, each as an ingredient that a flight takes and that can be taken out again.

A fault changes the battery (``alter``), the course of things (``disturb``) or only the readings
(``distort``). Windows are seconds from the master switch going on; volts are of a 14 V system and
doubled in a 28 V one, save in readings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.battery import Battery
from analyzer.simulator.electrical import Conditions

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

    def distort(
        self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator
    ) -> None:
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
        return replace(
            battery, acceptance_s=battery.acceptance_s * self.slower, charge=charge, recent_fraction=0.5
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NeverSettles(BatteryFault):
    """A softly shorted cell and spent plates: current turns into gas and heat as long as it is offered."""

    shorted_cells: float = 0.2
    gassing_factor: float = 9.0
    finding: ClassVar[str] = "recharge_never_settles"
    accepted: ClassVar[tuple[str, ...]] = ("slow_recharge",)
    tolerated: ClassVar[tuple[str, ...]] = ("low_resting_voltage", "weak_cranking", "slow_recharge")

    def alter(self, battery: Battery) -> Battery:
        """Part of a cell lost and more gassing."""
        return replace(
            battery, shorted_cells=self.shorted_cells, gassing_a=battery.gassing_a * self.gassing_factor
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Worn(BatteryFault):
    """Capacity lost and resistance grown: it sags when cranked and takes little charge."""

    health: float = 0.45
    resistance_factor: float = 2.2
    finding: ClassVar[str] = "weak_cranking"
    tolerated: ClassVar[tuple[str, ...]] = ("low_resting_voltage",)

    def alter(self, battery: Battery) -> Battery:
        """Less capacity, more resistance."""
        return replace(battery, health=self.health, resistance_factor=self.resistance_factor)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftLow(BatteryFault):
    """Something was left on, or the aircraft stood for months."""

    charge: float = 0.45
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
class FieldOpen(SystemFault):
    """Field wire, breaker or brush open: the alternator gives nothing in the window."""

    finding: ClassVar[str] = "alternator_offline"
    accepted: ClassVar[tuple[str, ...]] = ("overvoltage_trip",)

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Open the field."""
        conditions.field_closed &= ~self.inside(conditions.time_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class IntermittentField(SystemFault):
    """A brush or terminal that makes contact at times: off and on for minutes."""

    off_s: float = 90.0
    on_s: float = 300.0
    finding: ClassVar[str] = "alternator_offline"
    accepted: ClassVar[tuple[str, ...]] = ("unsteady_connection", "overvoltage_trip")
    tolerated: ClassVar[tuple[str, ...]] = ("unsteady_connection",)

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Open the field for exponentially distributed times."""
        at, last = self.from_s, min(self.to_s, float(conditions.time_s[-1]))
        while at < last:
            end = at + max(rng.exponential(self.off_s), 15.0)
            conditions.field_closed &= ~((conditions.time_s >= at) & (conditions.time_s < min(end, last)))
            at = end + max(rng.exponential(self.on_s), 30.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FullField(SystemFault):
    """The regulator shorts closed and passes everything: the voltage follows engine speed."""

    finding: ClassVar[str] = "overvoltage"  # or the trip, when protection acts
    accepted: ClassVar[tuple[str, ...]] = ("overvoltage_trip", "alternator_offline")
    tolerated: ClassVar[tuple[str, ...]] = ("regulator_high", "regulator_drift", "recharge_never_settles")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Take the regulator out."""
        conditions.full_field |= self.inside(conditions.time_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Runaway(SystemFault):
    """The held voltage climbs, as when a sense wire corrodes through in seconds."""

    volts_per_s: float = 0.3
    finding: ClassVar[str] = "overvoltage"
    accepted: ClassVar[tuple[str, ...]] = ("overvoltage_trip",)
    tolerated: ClassVar[tuple[str, ...]] = ("regulator_high", "regulator_drift")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Let the set point climb through the window."""
        since = conditions.time_s - self.from_s
        conditions.set_point_v += np.where(
            self.inside(conditions.time_s), volts_factor * self.volts_per_s * since, 0.0
        )

    def moments(self) -> tuple[tuple[float, float], ...]:
        """The climb."""
        return ((self.from_s, min(self.to_s, self.from_s + 30.0)),)


@dataclass(frozen=True, slots=True, kw_only=True)
class NuisanceTrip(SystemFault):
    """Protection opens at a normal voltage, once, at ``from_s``."""

    finding: ClassVar[str] = "overvoltage_trip"
    accepted: ClassVar[tuple[str, ...]] = ("alternator_offline",)

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Ask for the trip."""
        conditions.nuisance_trips_s.append(self.from_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint(SystemFault):
    """The regulator holds the bus too high or too low by ``volts``."""

    volts: float = 0.9
    tolerated: ClassVar[tuple[str, ...]] = ("recharge_never_settles",)

    @property
    def name(self) -> str:
        """By direction."""
        return "regulator_high" if self.volts > 0 else "regulator_low"

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Shift the set point."""
        conditions.set_point_v += np.where(self.inside(conditions.time_s), volts_factor * self.volts, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift(SystemFault):
    """The held voltage moves steadily through the window and stays where it has come to."""

    volts_per_hour: float = 0.8
    finding: ClassVar[str] = "regulator_drift"
    tolerated: ClassVar[tuple[str, ...]] = ("regulator_high", "regulator_low", "recharge_never_settles")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Let the set point move."""
        hours = (np.clip(conditions.time_s, self.from_s, self.to_s) - self.from_s) / 3600.0
        conditions.set_point_v += volts_factor * self.volts_per_hour * hours


@dataclass(frozen=True, slots=True, kw_only=True)
class Hunting(SystemFault):
    """The held voltage swings: by a sine of ``period_s``, or restlessly about that fast."""

    volts: float = 0.35
    period_s: float = 14.0
    restless: bool = False
    finding: ClassVar[str] = "regulator_hunting"
    accepted: ClassVar[tuple[str, ...]] = ("unsteady_connection",)
    tolerated: ClassVar[tuple[str, ...]] = ("unsteady_connection", "regulator_high", "regulator_low")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Swing the set point."""
        time_s = conditions.time_s
        if self.restless:
            knots = np.arange(0.0, time_s[-1] + self.period_s, self.period_s / 4)
            swing = np.interp(time_s, knots, rng.normal(0.0, 0.7, knots.size))
        else:
            swing = np.sin(2 * np.pi * (time_s - self.from_s) / self.period_s)
        conditions.set_point_v += np.where(self.inside(time_s), volts_factor * self.volts * swing, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputFade(SystemFault):
    """A slipping belt or worn brushes: the output limit sinks to a fraction over some minutes."""

    to_fraction: float = 0.2
    over_s: float = 1200.0
    finding: ClassVar[str] = "output_short"
    accepted: ClassVar[tuple[str, ...]] = ("alternator_offline",)
    tolerated: ClassVar[tuple[str, ...]] = ("alternator_offline", "regulator_low", "regulator_drift")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Lower the limit."""
        part = np.clip((conditions.time_s - self.from_s) / max(self.over_s, 1e-9), 0.0, 1.0)
        factor = np.where(self.inside(conditions.time_s), 1.0 + (self.to_fraction - 1.0) * part, 1.0)
        conditions.limit_a *= factor


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseOutput(SystemFault):
    """A terminal of the output lead that arcs: the alternator is off the bus for moments, again and again."""

    every_s: float = 45.0
    open_s: float = 2.0
    finding: ClassVar[str] = "unsteady_connection"
    accepted: ClassVar[tuple[str, ...]] = ("regulator_hunting",)
    tolerated: ClassVar[tuple[str, ...]] = ("alternator_offline", "regulator_hunting")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Break the output lead at exponentially distributed moments."""
        time_s = conditions.time_s
        at, last = self.from_s + rng.exponential(self.every_s), min(self.to_s, float(time_s[-1]))
        while at < last:
            conditions.connected &= ~((time_s >= at) & (time_s < at + rng.uniform(0.4, 1.6) * self.open_s))
            at += max(rng.exponential(self.every_s), 3 * self.open_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseResistance(SystemFault):
    """Resistance in the wire that feeds field and sensing: the regulator sees less and lifts the bus."""

    ohm: float = 0.45
    finding: ClassVar[str] = "regulator_high"
    accepted: ClassVar[tuple[str, ...]] = ("regulator_hunting", "regulator_drift", "unsteady_connection")
    tolerated: ClassVar[tuple[str, ...]] = (
        "regulator_hunting",
        "regulator_drift",
        "unsteady_connection",
        "recharge_never_settles",
    )

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Put the resistance in."""
        conditions.sense_ohm += np.where(self.inside(conditions.time_s), volts_factor * self.ohm, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuck(ReadingFault):
    """A reading that holds its last value through the window."""

    def distort(
        self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator
    ) -> None:
        """Hold the value."""
        rows = np.flatnonzero(self.inside(time_s))
        if rows.size:
            readings[channel][rows] = readings[channel][rows[0]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spikes(ReadingFault):
    """Single rows of an absurd value, strewn over the window."""

    value: float = 19.4
    count: int = 4

    def distort(
        self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator
    ) -> None:
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

    def distort(
        self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator
    ) -> None:
        """Put the runs in at random places."""
        inside = np.flatnonzero(self.inside(time_s))
        if inside.size > self.rows:
            for first in rng.choice(
                inside[: -self.rows], min(self.count, inside.size - self.rows), replace=False
            ):
                readings[channel][first : first + self.rows] = np.nan if self.value is None else self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset(ReadingFault):
    """A reading that is off by an amount through the window."""

    amount: float = -1.3

    def distort(
        self, readings: dict[str, Floats], channel: str, time_s: Floats, rng: np.random.Generator
    ) -> None:
        """Add the amount."""
        readings[channel][self.inside(time_s)] += self.amount
