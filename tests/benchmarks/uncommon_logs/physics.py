"""A small model of a bus, its battery and its sources, independent of ``analyzer.simulator``.

One step after the other, a quarter of a second each. The battery is a rest voltage that follows its charge, one
resistance, a quick and a slow polarisation in discharge, an over-voltage that builds up on charge and is gone
within seconds of its end, and an acceptance: the charge that its plates still miss, over one time constant, and a
lasting current. At a held bus the charging current is therefore ``missing / tau * exp(-t / tau) + lasting``, so
that the time constant is known exactly. A lithium cell takes what voltage and resistance allow until it is full.
All constants are "common practice" for light aircraft; none comes from the judged program.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Step of the model [s].
STEP_S = 0.25

#: Rest voltage of four lithium iron phosphate cells at 25 degC, by charge [share, V]; charts differ by 0.1 V.
LITHIUM_CHARGE = (0.0, 0.03, 0.08, 0.14, 0.22, 0.33, 0.5, 0.7, 0.9, 0.97, 1.0)
LITHIUM_REST_V = (10.8, 12.1, 12.5, 12.7, 12.88, 13.03, 13.1, 13.2, 13.28, 13.33, 13.45)

#: Rest voltage of six lead-acid cells, empty and full [V].
LEAD_EMPTY_V, LEAD_FULL_V = 11.9, 12.75


@dataclass(frozen=True, slots=True)
class Battery:
    """A battery with its leads, as its bus sees it."""

    capacity_ah: float
    charge: float  # share at the first step
    resistance_ohm: float  # with its leads, as the bus sees it
    cranking_ohm: float  # as starter and bus share it while cranking
    tau_s: float  # of the charging current at a held bus
    missing_as: float  # what the plates miss at the first step [A s]
    lasting_a: float  # what it takes for ever at the held bus
    late_a: float = 0.0  # a part of the current that dies away over ``late_s``
    late_s: float = 1500.0
    quick: float = 0.2  # quick polarisation, as a share of the resistance
    quick_s: float = 2.5
    slow: float = 0.7  # slow polarisation, as a share of the resistance
    slow_s: float = 150.0
    over_s: float = 4.0  # how fast the over-voltage of charging is gone
    lithium: bool = False
    series: int = 1  # 1: 12 V, 2: 24 V

    def rest_v(self, charge: float) -> float:
        """Rest voltage at a charge [share] [V]."""
        if self.lithium:
            return self.series * float(np.interp(charge, LITHIUM_CHARGE, LITHIUM_REST_V))
        return self.series * (LEAD_EMPTY_V + (LEAD_FULL_V - LEAD_EMPTY_V) * min(max(charge, -0.2), 1.0))


@dataclass(slots=True)
class Inputs:
    """What acts on the bus, an entry a step."""

    load_a: Array
    starter_ohm: Array  # infinite while the starter rests
    set_point_v: Array
    available_a: Array  # what the sources could give together
    battery_on: Flags
    restless_v: Array  # added to a bus that no battery steadies


@dataclass(frozen=True, slots=True)
class Course:
    """What truly happened, an entry a step."""

    time_s: Array
    bus_v: Array
    battery_a: Array  # into the battery
    source_a: Array  # out of the sources
    missing_as: Array
    charge: Array
    held: Flags  # the regulator holds the bus at its set point


def fly(battery: Battery, given: Inputs) -> Course:
    """Run the model over all steps."""
    count = given.load_a.size
    bus, into, out, missed, stored = (np.zeros(count) for _ in range(5))
    held = np.zeros(count, dtype=np.bool_)
    charge, missing = battery.charge, battery.missing_as
    quick = slow = over = late_t = late = 0.0
    ohm = battery.resistance_ohm
    decay = {name: 1.0 - np.exp(-STEP_S / tau) for name, tau in (
        ("quick", battery.quick_s), ("slow", battery.slow_s), ("over", battery.over_s), ("build", 15.0),
    )}  # fmt: skip
    loads, starters = given.load_a.tolist(), given.starter_ohm.tolist()
    points, most = given.set_point_v.tolist(), given.available_a.tolist()
    linked, restless = given.battery_on.tolist(), given.restless_v.tolist()
    rests = _rest_table(battery)
    for i in range(count):
        load, point, available = loads[i], points[i], most[i]
        if not linked[i]:
            holds = available > load
            bus[i] = point + restless[i] if holds else 0.0
            out[i] = min(available, load) if holds else 0.0
            held[i] = holds
            missed[i], stored[i] = missing, charge
            continue
        rest = rests[min(1200, max(0, round((charge + 0.2) * 1000.0)))] - quick - slow
        if starters[i] < 1e6:  # the starter and the loads pull the bus down together
            amps = (rest + over) / (battery.cranking_ohm + starters[i]) + load
            volts, current, given_a = rest + over - amps * battery.cranking_ohm, -amps, 0.0
        else:
            late = battery.late_a * math.exp(-late_t / battery.late_s) if battery.late_a else 0.0
            wants = _wanted(battery, charge, missing, late, point - rest)
            given_a = min(load + wants, available)
            current = given_a - load
            if current >= wants - 1e-9 and available > 0.0 and point > rest:
                volts, held[i] = point, True
            elif current >= 0.0 and wants > 0.0:
                volts = rest + (point - rest) * current / wants
            else:
                volts = rest + over + current * ohm
        bus[i], into[i], out[i], missed[i], stored[i] = volts, current, given_a, missing, charge
        drawn = max(0.0, -current)
        quick += decay["quick"] * (drawn * ohm * battery.quick - quick)
        slow += decay["slow"] * (drawn * ohm * battery.slow - slow)
        if current > 0.0:
            beside = battery.lasting_a + late
            late_t += STEP_S
            over += decay["build"] * (max(0.0, volts - rest - current * ohm) - over)
            missing = max(0.0, missing - max(0.0, current - beside) * STEP_S)
        else:
            over -= decay["over"] * over
            missing += drawn * STEP_S
        charge = min(1.0, charge + current * STEP_S / (3600.0 * battery.capacity_ah))
    time: Array = np.arange(count, dtype=np.float64) * STEP_S
    return Course(time, bus, into, out, missed, stored, held)


def _rest_table(battery: Battery) -> list[float]:
    """Rest voltages from -20 % to 100 % in steps of a thousandth, so that a step need not interpolate."""
    return [battery.rest_v(k / 1000.0 - 0.2) for k in range(1201)]


def _wanted(battery: Battery, charge: float, missing: float, late: float, over_rest: float) -> float:
    """Current that the battery would take at the set point [A]."""
    if over_rest <= 0.0:
        return 0.0
    if battery.lithium:
        room = min(1.0, max(0.0, (1.0 - charge) / 0.012))
        return over_rest / (battery.resistance_ohm + 0.01 * battery.series) * room + battery.lasting_a
    return min(missing / battery.tau_s + battery.lasting_a + late, over_rest / battery.resistance_ohm)
