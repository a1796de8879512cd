"""What can be wrong with alternator, regulator, protection and wiring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from analyzer.simulator.electrical import Conditions
from analyzer.simulator.faults import SystemFault


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
        conditions.set_point_v += np.where(self.inside(conditions.time_s), volts_factor * self.volts_per_s * since, 0.0)

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
class RisingTrip(SystemFault):
    """The held voltage climbs by ``volts`` through the window, then a surge too short for a log trips protection."""

    volts: float = 1.2
    finding: ClassVar[str] = "overvoltage_trip"
    tolerated: ClassVar[tuple[str, ...]] = ("regulator_high", "regulator_drift", "overvoltage")

    def disturb(self, conditions: Conditions, volts_factor: float, rng: np.random.Generator) -> None:
        """Climb, ask for the trip, and hold what was held before from then on."""
        part = (conditions.time_s - self.from_s) / (self.to_s - self.from_s)
        conditions.set_point_v += np.where(self.inside(conditions.time_s), volts_factor * self.volts * part, 0.0)
        conditions.nuisance_trips_s.append(self.to_s)


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
