"""A lead-acid battery: what its terminals show, and what it does with the current put through it.

The electrode is one node with three branches: the main reaction (discharge products turned back into
active mass, limited by how much of them is left), a surface layer that stores charge like a large
capacitor, and gassing, which takes whatever voltage is left over. In series with the node lie the slow
acid polarisation and the plain resistance of plates and leads. Current into the battery is positive.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import copysign, exp
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Rested open-circuit voltage of six cells at 80 degF at 0, 25, 50, 75 and 100 % charge [V]
#: (Battery Council International table, as two battery makers' notes print it).
RESTED_VOLTAGE = (11.89, 12.06, 12.24, 12.45, 12.65)
TABLE_TEMPERATURE_C = 26.7
#: Change of a cell's open-circuit voltage with temperature [V/degC] (general text, from memory).
CELL_VOLTAGE_PER_DEGC = 0.0002
#: Gassing rises e-fold per 1/11 V a cell and per 1/0.06 degC (Schiffer et al., Journal of Power Sources
#: 168, 2007, weighted Ah ageing model; from memory).
GASSING_PER_VOLT = 11.0
GASSING_PER_DEGC = 0.06
#: Cell voltage and temperature at which ``Battery.gassing_a`` is stated.
GASSING_REFERENCE_V = 2.35
GASSING_REFERENCE_C = 25.0


def open_circuit_voltage(
    charge: ArrayLike, cells: int = 6, temperature_c: float = TABLE_TEMPERATURE_C
) -> NDArray[np.float64]:
    """Rested open-circuit voltage [V] at a state of charge (0 to 1, any shape; clipped to that range).

    Linear between the points of the Battery Council International table.
    """
    six = np.interp(np.asarray(charge, dtype=np.float64), (0.0, 0.25, 0.5, 0.75, 1.0), RESTED_VOLTAGE)
    shift = 6 * CELL_VOLTAGE_PER_DEGC * (temperature_c - TABLE_TEMPERATURE_C)
    return np.asarray((six + shift) * cells / 6, dtype=np.float64)


def charge_at_open_circuit(
    voltage: ArrayLike, cells: int = 6, temperature_c: float = TABLE_TEMPERATURE_C
) -> NDArray[np.float64]:
    """State of charge (0 to 1) at a rested open-circuit voltage [V]: ``open_circuit_voltage`` inverted."""
    shift = 6 * CELL_VOLTAGE_PER_DEGC * (temperature_c - TABLE_TEMPERATURE_C)
    six = np.asarray(voltage, dtype=np.float64) * 6 / cells - shift
    return np.asarray(np.interp(six, RESTED_VOLTAGE, (0.0, 0.25, 0.5, 0.75, 1.0)), dtype=np.float64)


def capacity_temperature_factor(temperature_c: float) -> float:
    """Capacity at a temperature over capacity at 25 degC.

    One over the sizing factor -2.8117 x^3 + 4.1916 x^2 - 2.4941 x + 1.405, x = degC/100, a fit to
    IEEE 485 Table 1 (-3.9 to 51.7 degC; colder it is carried on, warmer it is held).
    """
    x = min(temperature_c, 51.7) / 100
    return 1.0 / (((-2.8117 * x + 4.1916) * x - 2.4941) * x + 1.405)


def peukert_hours(capacity_ah: float, rating_hours: float, current_a: float, exponent: float) -> float:
    """Hours a battery lasts at a current: t = H (C / (I H))^k, C rated over H hours."""
    return float(rating_hours * (capacity_ah / (current_a * rating_hours)) ** exponent)


def peukert_capacity(capacity_ah: float, current_a: float, exponent: float) -> float:
    """Charge [Ah] a battery delivers at a current, its capacity being stated at the one-hour rate."""
    return current_a * peukert_hours(capacity_ah, 1.0, current_a, exponent)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """A 12 V battery, or 24 V in a 28 V scenario (the same cells, twice as many).

    Aircraft batteries are rated at the one-hour rate (US Army ordnance lesson, batteries). The
    resistances are those of a 34 Ah battery of good quality with its leads (common practice) and scale
    with 34 / ``capacity_ah``.
    """

    capacity_ah: float = 34.0  # at the one-hour rate and 25 degC, new
    charge: float = 0.98  # state of charge when the master goes on, 0 to 1
    health: float = 1.0  # capacity left over capacity when new
    resistance_factor: float = 1.0  # growth of every resistance with age
    peukert_exponent: float = 1.10  # AGM 1.05-1.15, flooded 1.2-1.6 (battery retailer calculator page)
    acceptance_s: float = 150.0  # time constant at which recent discharge is made good, at 25 degC
    old_acceptance_s: float = 7200.0  # the same for discharge left standing (large sulphate crystals)
    recent_fraction: float = 0.3  # of the charge missing at first, how much is recent discharge
    gassing_a: float = 0.45  # current taken by gassing at 2.35 V a cell and 25 degC, 34 Ah
    shorted_cells: float = 0.0  # cells lost to a short, a fraction for a soft one
    surface_charge_v: float = 0.02  # left on the surface layer from the last charge, 12 V battery
    self_discharge_per_day: float = 0.002  # of capacity (common practice: 2 to 6 % a month)

    def rested(self, days: float) -> Battery:
        """The same battery after days of standing: self-discharge, surface charge gone."""
        left = self.charge * (1.0 - self.self_discharge_per_day) ** days
        return replace(self, charge=left, surface_charge_v=self.surface_charge_v * exp(-days))

    @property
    def full_ah(self) -> float:
        """Charge between a full and an empty battery at the 20-hour rate [Ah]."""
        rate = self.capacity_ah / 20.0
        return self.health * peukert_capacity(self.capacity_ah, rate, self.peukert_exponent)


#: Resistances a cell of a 34 Ah battery [ohm]: plates and leads, main reaction, acid, surface layer.
OHM_PLAIN, OHM_REACTION, OHM_ACID, OHM_SURFACE = 0.0012, 0.0006, 0.0008, 0.024
ACID_TIME_S = 40.0
#: Recent discharge hardens into old within hours, so that a battery left flat is slow to charge.
HARDENING_S = 3 * 3600.0
#: Depth of discharge, as a share of capacity, that doubles the time constant of acceptance: the deeper, the
#: larger the crystals. The memory of a depth that has been made good fades in an hour (our choices).
DEPTH_DOUBLING = 0.15
DEPTH_MEMORY_S = 3600.0
#: What a cell has lost when the charge that its rate can draw is out, so that the one-hour rate ends at 1.5 V
#: under load (aircraft charger-analyser manual), and the share of that charge over which it grows e-fold.
KNEE_CELL_V, KNEE_WIDTH = 0.42, 0.03
#: What each cell spends on splitting water, gone with the gas; the rest of the gassing power is heat.
WATER_SPLITTING_V = 1.48
HEAT_CAPACITY_J_PER_K_AH = 320.0  # about 12 kg of a 34 Ah battery at 0.9 kJ/(kg K)
HEAT_LOSS_W_PER_K_AH = 0.05
#: Hotter the vented steam carries the heat away (our choice) [degC].
HOTTEST_C = 60.0


class BatteryState:
    """A battery in use. ``connect`` solves the terminals, ``advance`` carries the state on."""

    __slots__ = (
        "_acceptance_h", "_active", "_battery", "_capacity", "_doubling_ah", "_full_ah", "_gassing", "_old_h",
        "_surface_s", "acid_v", "cells", "current_a", "depth_ah", "discharge_a", "emf", "gassing_a",
        "limit_a", "missing_old_ah", "missing_recent_ah", "node_v", "ohm_acid", "ohm_plain", "ohm_reaction",
        "ohm_surface", "surface_v", "temperature_c",
    )  # fmt: skip

    def __init__(self, battery: Battery, cells: Literal[6, 12], temperature_c: float) -> None:
        self._battery = battery
        self.cells = cells
        self._active = cells - battery.shorted_cells * cells / 6
        self._full_ah = battery.full_ah
        missing = (1.0 - battery.charge) * self._full_ah
        self.missing_recent_ah = battery.recent_fraction * missing
        self.missing_old_ah = missing - self.missing_recent_ah
        self.depth_ah = self.missing_recent_ah
        self.acid_v = self.discharge_a = self.current_a = self.gassing_a = 0.0
        self.set_temperature(temperature_c)
        self._refresh_emf()
        self.surface_v = self.emf + battery.surface_charge_v * cells / 6
        self.node_v = self.emf

    def set_temperature(self, temperature_c: float) -> None:
        """Bring every temperature-dependent coefficient to a battery temperature [degC].

        Resistance rises 0.8 % a degC below 25 and acceptance halves every 23 degC (our choice, of the
        order service manuals give for cranking in the cold).
        """
        battery = self._battery
        self.temperature_c = temperature_c
        cold = 1.0 + 0.008 * (25.0 - temperature_c)
        low = 1.0 + 0.4 * (1.0 - self.charge)
        scale = self._active * 34.0 / battery.capacity_ah * max(cold, 0.6) * low * battery.resistance_factor
        self.ohm_plain, self.ohm_reaction, self.ohm_acid = (scale * ohm for ohm in (OHM_PLAIN, OHM_REACTION, OHM_ACID))
        slower = exp(0.03 * (25.0 - temperature_c))
        self.ohm_surface = slower * self._active * OHM_SURFACE * 34.0 / (battery.capacity_ah * battery.health)
        self._surface_s = battery.acceptance_s * slower
        self._acceptance_h = battery.acceptance_s * slower / 3600.0
        self._old_h = battery.old_acceptance_s * slower / 3600.0
        self._capacity = battery.capacity_ah * battery.health * capacity_temperature_factor(temperature_c)
        self._doubling_ah = DEPTH_DOUBLING * battery.capacity_ah * battery.health
        warm = exp(GASSING_PER_DEGC * (temperature_c - GASSING_REFERENCE_C))
        self._gassing = battery.gassing_a * battery.capacity_ah / 34.0 * warm

    @property
    def missing_ah(self) -> float:
        """Charge missing from full [Ah]."""
        return self.missing_recent_ah + self.missing_old_ah

    @property
    def charge(self) -> float:
        """State of charge, 0 to 1."""
        return 1.0 - self.missing_ah / self._full_ah

    @property
    def surface_ah(self) -> float:
        """Charge on the surface layer above a layer at 0 V [Ah]."""
        return self.surface_v * self._surface_s / self.ohm_surface / 3600.0

    def _refresh_emf(self) -> None:
        missing = self.missing_recent_ah + self.missing_old_ah
        charge = 1.0 - missing / self._full_ah
        fifth = (0.0 if charge < 0.0 else 1.0 if charge > 1.0 else charge) * 4.0
        index = int(fifth) if fifth < 4.0 else 3
        low, high = RESTED_VOLTAGE[index], RESTED_VOLTAGE[index + 1]
        cell = (low + (fifth - index) * (high - low)) / 6
        cell += CELL_VOLTAGE_PER_DEGC * (self.temperature_c - TABLE_TEMPERATURE_C)
        self.emf = self._active * cell
        if missing > 0.3 * self._capacity:
            self._exhaust(missing)
        acceptance_h = self._acceptance_h * (1.0 + self.depth_ah / self._doubling_ah)
        limit = self.missing_recent_ah / acceptance_h + self.missing_old_ah / self._old_h
        self.limit_a = max(limit, 1e-4)

    def _exhaust(self, missing_ah: float) -> None:
        """Let the voltage fall away as the charge that this rate can draw comes to its end."""
        rate = max(self.discharge_a, self._battery.capacity_ah / 20.0) / self._battery.capacity_ah
        available = self._capacity * float(rate ** (1.0 - self._battery.peukert_exponent))
        over = min((missing_ah / available - 1.0) / KNEE_WIDTH, 2.5)
        self.emf = max(self.emf - self._active * KNEE_CELL_V * exp(over), 0.0)

    def connect(self, current_a: float, conductance: float) -> float:
        """Solve the node behind a supply of ``current_a - conductance * node_v`` [A].

        Gives the current [A]. A stiff current has no conductance; a voltage E behind R gives
        ((E - acid_v) / R, 1 / R), with ``ohm_plain`` part of R. Newton's method on a function that only
        rises, steps kept short.
        """
        emf, limit, reaction, surface = self.emf, self.limit_a, self.ohm_reaction, self.ohm_surface
        gassing, gas_slope = self._gassing, GASSING_PER_VOLT / self._active
        gas_zero = GASSING_PER_VOLT * GASSING_REFERENCE_V
        node, surface_v, longest = self.node_v, self.surface_v, self.cells / 12
        charging_ohm, discharging, of_surface = reaction * limit, 1.0 / reaction, 1.0 / surface
        for _ in range(60):
            over = node - emf
            if over > 0.0:
                left = exp(-over / charging_ohm)
                main, slope = limit * (1.0 - left), left / reaction
            else:
                main, slope = over / reaction, discharging
            beyond = gas_slope * node - gas_zero
            gas = gassing * exp(beyond if beyond < 30.0 else 30.0)
            error = main + (node - surface_v) / surface + gas - current_a + conductance * node
            step = error / (slope + of_surface + gas * gas_slope + conductance)
            if -1e-7 < step < 1e-7:
                node -= step
                break
            node -= step if -longest < step < longest else copysign(longest, step)
        self.node_v, self.gassing_a = node, gas
        self.current_a = current_a - conductance * node
        return self.current_a

    @property
    def terminal_v(self) -> float:
        """Voltage at the terminals [V] for the current last solved: node, acid and I R."""
        return self.node_v + self.acid_v + self.current_a * self.ohm_plain

    def advance(self, seconds: float) -> None:
        """Carry charge, surface layer, acid and the discharge rate on by a time [s]."""
        surface_a = (self.node_v - self.surface_v) / self.ohm_surface
        main_ah = (self.current_a - surface_a - self.gassing_a) * seconds / 3600.0
        recent, old = self.missing_recent_ah, self.missing_old_ah
        if main_ah > 0.0:
            from_old = min(main_ah * min(old / self._old_h / self.limit_a, 1.0), old)
            recent, old = recent - (main_ah - from_old), old - from_old
        else:
            recent -= main_ah
        hardened = recent * seconds / HARDENING_S
        self.missing_recent_ah, self.missing_old_ah = recent - hardened, old + hardened
        fading = (self.depth_ah - self.missing_recent_ah) * seconds / DEPTH_MEMORY_S
        self.depth_ah = max(self.depth_ah - fading, self.missing_recent_ah)
        self.surface_v += (self.node_v - self.surface_v) * seconds / self._surface_s
        self.acid_v += (self.current_a * self.ohm_acid - self.acid_v) * seconds / (ACID_TIME_S + seconds)
        self.discharge_a += (max(-self.current_a, 0.0) - self.discharge_a) * seconds / (60.0 + seconds)
        self._refresh_emf()

    def warm(self, seconds: float, around_c: float) -> None:
        """Let gassing heat the battery and its surroundings [degC] carry heat away, over a time [s]."""
        capacity = self._battery.capacity_ah * self.cells / 6
        kept_v = self.node_v - WATER_SPLITTING_V * self._active
        heat_w = self.gassing_a * max(kept_v, 0.0) + self.current_a**2 * self.ohm_plain
        loss_w = HEAT_LOSS_W_PER_K_AH * capacity * (self.temperature_c - around_c)
        rise = (heat_w - loss_w) * seconds / (HEAT_CAPACITY_J_PER_K_AH * capacity)
        self.set_temperature(min(self.temperature_c + rise, max(HOTTEST_C, around_c)))
