"""The bus through a flight: who feeds it, at what voltage, and what the battery does meanwhile.

At every step one of these holds: the starter pulls the battery down; the alternator holds the bus at the
regulated voltage; the alternator gives all it can and the bus finds its own voltage; the battery is alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.alternator import OvervoltageProtection
from analyzer.simulator.battery import BatteryState

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: What feeds the bus in a step. Coasting: the set point has fallen below what the battery holds by itself, so
#: the regulator lets the field go for as long as that lasts.
BATTERY, REGULATED, LIMITED, STARTER, COASTING = 0, 1, 2, 3, 4
#: Step while the field has just been let go or lost its regulator [s], and the field's own time constant [s].
FINE_STEP_S, FIELD_TIME_S = 0.02, 0.1
#: Warmth is carried on at this interval [s]; a battery changes by hundredths of a degree in it.
WARMTH_EVERY_S = 30.0


@dataclass(slots=True, kw_only=True)
class Conditions:
    """What is imposed on the system at each grid time; faults write into it. Volts are of the real system."""

    time_s: Floats
    load_a: Floats
    starter_ohm: Floats  # zero: not cranking
    limit_a: Floats  # alternator output limit
    set_point_v: Floats
    field_closed: Flags  # switch, breaker and wiring let field current flow
    full_field: Flags  # the regulator passes everything
    connected: Flags  # output lead sound
    sense_ohm: Floats  # in the wire through which the regulator senses and feeds the field
    around_battery_c: Floats
    droop_ohm: float
    nuisance_trips_s: list[float] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What happened, on the grid. ``battery_a`` into the battery is positive."""

    time_s: Floats
    bus_v: Floats
    battery_a: Floats
    alternator_a: Floats
    load_a: Floats
    gassing_a: Floats
    no_load_v: Floats  # what the battery would show the moment its current stopped
    charge: Floats
    missing_ah: Floats
    surface_ah: Floats
    fed_by: NDArray[np.int8]
    trips_s: tuple[float, ...]
    trip_voltages: tuple[float, ...]
    resets_s: tuple[float, ...]
    highest_v: float  # between grid times too


@dataclass(slots=True)
class _Protection:
    """The overvoltage relay and the pilot's hand on its reset."""

    unit: OvervoltageProtection
    limit_v: float
    nuisance_s: list[float]
    tripped: bool = False
    trips: list[tuple[float, float]] = field(default_factory=list)
    resets: list[float] = field(default_factory=list)
    over_since: float | None = None

    @property
    def stirred(self) -> bool:
        """Whether there is something to watch for at any voltage."""
        return self.tripped or self.over_since is not None or bool(self.nuisance_s)

    def watch(self, now: float, volts: float) -> None:
        """Open the field on overvoltage or for no reason; let the pilot close it when his time has come."""
        if self.tripped:
            self._reset(now)
            return
        nuisance = bool(self.nuisance_s) and now >= self.nuisance_s[0]
        if nuisance:
            self.nuisance_s.pop(0)
        if not self.unit.works or volts <= self.limit_v:
            self.over_since = None
        elif self.over_since is None:
            self.over_since = now
        sure = self.over_since is not None and now - self.over_since >= self.unit.delay_s
        if nuisance or sure:
            self.tripped, self.over_since = True, None
            self.trips.append((now, volts))

    def _reset(self, now: float) -> None:
        delays, done = self.unit.resets_after_s, len(self.resets)
        if done < len(delays) and now >= self.trips[-1][0] + delays[done]:
            self.tripped = False
            self.resets.append(now)


class _Bus:
    """One step of the whole system at a time."""

    def __init__(self, state: BatteryState, droop_ohm: float) -> None:
        self.state, self.droop_ohm = state, droop_ohm
        self.alternator_a = 0.0
        self.volts = state.terminal_v

    def battery_alone(self, load_a: float) -> int:
        """The load comes out of the battery."""
        self.alternator_a = 0.0
        self.state.connect(-load_a, 0.0)
        self.volts = self.state.terminal_v
        return BATTERY

    def starter(self, load_a: float, ohm: float) -> int:
        """The starter is a resistance across the bus beside the load."""
        state = self.state
        behind = ohm + state.ohm_plain
        state.connect((-load_a * ohm - state.acid_v) / behind, 1.0 / behind)
        self.alternator_a = 0.0
        self.volts = state.terminal_v
        return STARTER

    def regulated(self, load_a: float, set_v: float, limit_a: float) -> int:
        """The alternator holds the set point less droop, as far as its limit lets it."""
        state = self.state
        behind = self.droop_ohm + state.ohm_plain
        charging = state.connect((set_v - self.droop_ohm * load_a - state.acid_v) / behind, 1.0 / behind)
        if load_a + charging > limit_a:
            return self.limited(load_a, limit_a)
        if load_a + charging <= 0.0:
            self.battery_alone(load_a)
            return COASTING
        self.alternator_a = load_a + charging
        self.volts = state.terminal_v
        return REGULATED

    def limited(self, load_a: float, output_a: float) -> int:
        """The alternator gives a set current; what the load leaves goes into the battery, or lacks."""
        self.state.connect(output_a - load_a, 0.0)
        self.alternator_a = output_a
        self.volts = self.state.terminal_v
        return LIMITED if output_a > 0.0 else BATTERY

    def field_current(self, limit_a: float) -> float:
        """Field current [A] for the present output: 0.5 A to excite, 3 A at the limit (common practice)."""
        return 0.5 + 2.5 * min(self.alternator_a / limit_a, 1.0)

    def full_field(self, load_a: float, limit_a: float, seconds: float) -> int:
        """Output grows toward the limit at the pace of the field winding, whatever the voltage."""
        grown = self.alternator_a + (limit_a - self.alternator_a) * min(seconds / FIELD_TIME_S, 1.0)
        return self.limited(load_a, grown)


def run(conditions: Conditions, state: BatteryState, unit: OvervoltageProtection, volts: Literal[14, 28]) -> Course:
    """Carry battery and bus through the flight, one grid step after another.

    A step in which the regulator has failed to full field is cut into 20 ms pieces until the voltage
    has run up or protection has acted, so that spikes shorter than any recording are still lived through.
    """
    c = conditions
    steps = np.diff(c.time_s, append=c.time_s[-1] + 1.0).tolist()
    columns = [
        array.tolist()
        for array in (
            c.time_s, c.load_a, c.starter_ohm, c.limit_a, c.set_point_v, c.field_closed & c.connected,
            c.full_field, c.sense_ohm, c.around_battery_c,
        )
    ]  # fmt: skip
    guard = _Protection(unit, unit.limit_v * volts / 14, sorted(c.nuisance_trips_s))
    bus = _Bus(state, c.droop_ohm)
    rows: list[tuple[float, ...]] = []
    highest, warmed, running_wild = 0.0, 0.0, 0.0
    for seconds, now, load, ohm, limit, set_v, closed, full, sense, around in zip(steps, *columns, strict=True):
        # A set point that has run far beyond the limit is no regulation: the field is held on by it.
        full = full or set_v > guard.limit_v + volts / 14
        wild = full and closed and not guard.tripped
        running_wild = running_wild + seconds if wild else 0.0
        pieces = max(int(seconds / FINE_STEP_S), 1) if wild and running_wild < 4.0 else 1
        piece = seconds / pieces
        for index in range(pieces):
            moment = now + index * piece
            if ohm > 0.0:
                fed = bus.starter(load, ohm)
            elif not closed or guard.tripped or limit <= 0.0:
                fed = bus.battery_alone(load)
            elif full:
                fed = bus.full_field(load, limit, piece)
            else:
                fed = bus.regulated(load, set_v + sense * bus.field_current(limit) if sense else set_v, limit)
            if index == 0:
                rows.append(_row(bus, state, load, fed))
            shown = bus.volts
            if shown > highest:
                highest = shown
            if shown > guard.limit_v or guard.stirred:
                guard.watch(moment, shown)
            state.advance(piece)
        warmed += seconds
        if warmed >= WARMTH_EVERY_S:
            state.warm(warmed, around)
            warmed = 0.0
    return _course(c.time_s, rows, guard, highest)


def _row(bus: _Bus, state: BatteryState, load_a: float, fed_by: int) -> tuple[float, ...]:
    return (
        bus.volts, state.current_a, bus.alternator_a, load_a, state.gassing_a, state.emf + state.acid_v,
        state.charge, state.missing_ah, state.surface_ah, fed_by,
    )  # fmt: skip


def _course(time_s: Floats, rows: list[tuple[float, ...]], guard: _Protection, highest: float) -> Course:
    table = np.array(rows, dtype=np.float64).T
    return Course(
        time_s=time_s, bus_v=table[0], battery_a=table[1], alternator_a=table[2], load_a=table[3],
        gassing_a=table[4], no_load_v=table[5], charge=table[6], missing_ah=table[7], surface_ah=table[8],
        fed_by=table[9].astype(np.int8), trips_s=tuple(at for at, _ in guard.trips),
        trip_voltages=tuple(volts for _, volts in guard.trips), resets_s=tuple(guard.resets),
        highest_v=highest,
    )  # fmt: skip
