"""What engine and aircraft do: starting, speeds, heights and temperatures against time."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

#: Standard atmosphere: 1.98 degC a thousand feet.
LAPSE_C_PER_FT = 0.00198


@dataclass(frozen=True, slots=True, kw_only=True)
class Starting:
    """The starter motor and how long it must turn.

    The motor is a resistance that grows as it gains speed: stalled it takes the inrush, turning it takes
    about 150 A from a 12 V battery. A 24 V starter of the same power has four times the resistance.
    """

    attempts_s: tuple[float, ...] = (2.2,)  # the last one ends with the engine running
    pause_s: float = 8.0  # between attempts
    stalled_ohm: float = 0.030
    turning_ohm: float = 0.058
    spin_up_s: float = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightPlan:
    """The course of one flight. Lengths of time are in seconds or minutes as named."""

    outside_c: float = 15.0  # on the ground
    field_elevation_ft: float = 400.0
    before_start_s: float = 57.3  # master on to the first crank
    starting: Starting = field(default_factory=Starting)
    warm_up_s: float = 200.0
    idle_rpm: float = 1050.0
    taxi_s: float = 240.0
    taxi_rpm: float = 1150.0
    run_up_s: float = 75.0
    climb_min: float = 9.0
    cruise_min: float = 38.0
    cruise_rpm: float = 2400.0
    cruise_ft: float = 4500.0
    descent_min: float = 9.0
    final_rpm: float = 1500.0
    touch_and_goes: int = 0
    taxi_in_s: float = 200.0
    after_stop_s: float = 25.0  # engine stopped to master off


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """When things happen, in seconds from the master switch going on."""

    cranks: tuple[tuple[float, float], ...]
    engine_start_s: float
    run_up_s: float
    take_off_s: float
    cruise_s: float
    cruise_end_s: float
    landing_s: float
    engine_stop_s: float
    master_off_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Engine and air data on a time grid, all of the grid's length."""

    rpm: NDArray[np.float64]
    altitude_ft: NDArray[np.float64]
    airspeed_kt: NDArray[np.float64]
    outside_c: NDArray[np.float64]


def _cranks(plan: FlightPlan) -> tuple[tuple[float, float], ...]:
    windows, at = [], plan.before_start_s
    for length in plan.starting.attempts_s:
        windows.append((at, at + length))
        at += length + plan.starting.pause_s
    return tuple(windows)


def _legs(plan: FlightPlan) -> list[tuple[str, float, float, float, float]]:
    """Name, length [s], engine speed [rpm], height at its end above the field [ft] and airspeed [kt]."""
    cruise = plan.cruise_ft - plan.field_elevation_ft
    legs = [
        ("warm_up", plan.warm_up_s, plan.idle_rpm, 0.0, 0.0),
        ("taxi", plan.taxi_s, plan.taxi_rpm, 0.0, 0.0),
        ("run_up", plan.run_up_s, 1800.0, 0.0, 0.0),
        ("line_up", 45.0, plan.idle_rpm, 0.0, 0.0),
        ("take_off", 25.0, 2600.0, 0.0, 62.0),
    ]
    for _ in range(plan.touch_and_goes):
        legs += [
            ("circuit_climb", 90.0, 2550.0, 1000.0, 75.0),
            ("downwind", 110.0, 2250.0, 1000.0, 90.0),
            ("final", 100.0, plan.final_rpm, 0.0, 65.0),
            ("ground_roll", 14.0, plan.idle_rpm, 0.0, 45.0),
            ("take_off", 20.0, 2600.0, 0.0, 62.0),
        ]
    return [
        *legs,
        ("climb", 60 * plan.climb_min, 2500.0, cruise, 80.0),
        ("cruise", 60 * plan.cruise_min, plan.cruise_rpm, cruise, 108.0),
        ("descent", 60 * plan.descent_min, 2150.0, 600.0, 100.0),
        ("final", 80.0, plan.final_rpm, 0.0, 65.0),
        ("landing", 25.0, plan.idle_rpm, 0.0, 30.0),
        ("taxi_in", plan.taxi_in_s, plan.taxi_rpm, 0.0, 0.0),
    ]


def timeline(plan: FlightPlan) -> Timeline:
    """The plan's key times."""
    cranks = _cranks(plan)
    at = engine_start = cranks[-1][1]
    begins: dict[str, float] = {}
    for name, length, *_ in _legs(plan):
        begins.setdefault(name, at)
        at += length
    return Timeline(
        cranks=cranks, engine_start_s=engine_start, run_up_s=begins["run_up"], take_off_s=begins["take_off"],
        cruise_s=begins["cruise"], cruise_end_s=begins["descent"], landing_s=begins["landing"],
        engine_stop_s=at, master_off_s=at + plan.after_stop_s,
    )  # fmt: skip


def _along(time_s: NDArray[np.float64], points: list[tuple[float, float]]) -> NDArray[np.float64]:
    at, value = zip(*points, strict=True)
    return np.asarray(np.interp(time_s, np.array(at), np.array(value)), dtype=np.float64)


def profile(plan: FlightPlan, time_s: NDArray[np.float64], rng: np.random.Generator) -> Profile:
    """Engine speed, height, airspeed and outside temperature at each time [s] from the master going on."""
    times = timeline(plan)
    at = times.engine_start_s
    rpm, height, speed = [(at, 400.0), (at + 1.5, 1250.0)], [(at, 0.0)], [(at, 0.0)]
    for _, length, leg_rpm, leg_height, leg_speed in _legs(plan):
        ramp = min(4.0, length / 3)
        rpm += [(at + ramp, leg_rpm), (at + length, leg_rpm)]
        height.append((at + length, leg_height))
        speed += [(at + min(15.0, length * 0.9), leg_speed), (at + length, leg_speed)]
        at += length
    rpm += [(at + 2.5, 0.0), (at + 1e6, 0.0)]
    engine = _along(time_s, rpm)
    engine = np.where(time_s < times.engine_start_s, 0.0, engine)
    knots = np.arange(0.0, time_s[-1] + 30.0, 8.0)
    wander = np.interp(time_s, knots, rng.normal(0.0, 1.0, knots.size))
    engine = engine * (1.0 + np.where(engine > 2000.0, 0.004, 0.025) * wander)
    for begin, end in times.cranks:
        turning = (time_s >= begin) & (time_s < end)
        engine = np.where(turning, 150.0 * (1.0 - np.exp(-np.maximum(time_s - begin, 0.0) / 0.2)), engine)
    above = _along(time_s, height)
    return Profile(
        rpm=np.maximum(engine, 0.0),
        altitude_ft=plan.field_elevation_ft + above,
        airspeed_kt=_along(time_s, speed),
        outside_c=plan.outside_c - LAPSE_C_PER_FT * above,
    )


def starter_ohm(
    starting: Starting, cranks: tuple[tuple[float, float], ...], time_s: NDArray[np.float64], volts: float
) -> NDArray[np.float64]:
    """Resistance of the starter [ohm] at each time [s], zero while it is off; ``volts`` is 14 or 28.

    Each piston that comes up to compression slows it and takes more current, some 8 times a second.
    """
    ohm = np.zeros_like(time_s)
    for begin, end in cranks:
        since = time_s - begin
        spun = 1.0 - np.exp(-np.maximum(since, 0.0) / starting.spin_up_s)
        now = starting.stalled_ohm + (starting.turning_ohm - starting.stalled_ohm) * spun
        now = now * (1.0 + 0.08 * spun * np.sin(2 * np.pi * 8.0 * since))
        ohm = np.where((since >= 0.0) & (time_s < end), now, ohm)
    return ohm * (volts / 14.0) ** 2
