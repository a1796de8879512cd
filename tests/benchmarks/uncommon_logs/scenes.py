"""Aircraft, flights, instruments and recorders drawn from a random generator, flown by ``uncommon_logs.physics``."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from tests.benchmarks.uncommon_logs.physics import STEP_S, Array, Battery, Course, Flags, Inputs, fly

Draw = np.random.Generator
AmmeterKind = Literal["battery", "alternator"]
NEVER = 1e9


@dataclass(frozen=True, slots=True)
class Plan:
    """How long each part of a flight lasts [s]; a flight without a start lets ``rest_s`` be 0."""

    rest_s: float = 60.0
    crank_s: float = 3.0
    warm_s: float = 120.0
    taxi_s: float = 240.0
    climb_s: float = 480.0
    cruise_s: float = 2400.0
    descent_s: float = 480.0
    taxi_in_s: float = 240.0
    after_s: float = 40.0
    idle_rpm: float = 1000.0
    cruise_rpm: float = 2350.0


@dataclass(frozen=True, slots=True)
class Moments:
    """When each part begins [s]."""

    crank: float
    start: float
    taxi: float
    run_up: float
    take_off: float
    cruise: float
    descent: float
    landing: float
    stop: float
    end: float


def moments_of(plan: Plan) -> Moments:
    """Add a plan's parts up."""
    start = plan.rest_s + plan.crank_s
    taxi = start + plan.warm_s
    run_up = taxi + plan.taxi_s
    take_off = run_up + 110.0
    cruise = take_off + plan.climb_s
    descent = cruise + plan.cruise_s
    landing = descent + plan.descent_s
    stop = landing + 20.0 + plan.taxi_in_s
    return Moments(plan.rest_s, start, taxi, run_up, take_off, cruise, descent, landing, stop, stop + plan.after_s)


@dataclass(slots=True)
class Scene:
    """An aircraft in a flight, before it is flown; kinds change its arrays. Volts and amperes are the system's."""

    rng: Draw
    nominal: int
    plan: Plan
    at: Moments
    time_s: Array
    rpm: Array
    speed_kt: Array
    height_ft: Array
    air_c: float
    battery: Battery
    load_a: Array
    starter_ohm: Array
    set_point_v: Array
    rated_a: float
    slow_rpm: float  # below it the alternator gives nothing
    full_rpm: float  # from it on it gives all it has
    alternator_on: Flags
    battery_on: Flags
    restless_v: Array
    available_a: Array | None = None  # instead of one alternator's, where a kind knows better
    power_on: Flags = field(default_factory=lambda: np.ones(0, dtype=np.bool_))
    extra: dict[str, Array] = field(default_factory=dict)

    @property
    def scale(self) -> int:
        """1 at 14 V, 2 at 28 V."""
        return self.nominal // 14

    @property
    def ampere(self) -> float:
        """What one ampere into a battery of 30 Ah is for this one [A]."""
        return self.battery.capacity_ah / 30.0

    def between(self, from_s: float, to_s: float = NEVER) -> Flags:
        """Steps from one moment to another."""
        found: Flags = (self.time_s >= from_s) & (self.time_s < to_s)
        return found

    def add_load(self, amps: float, from_s: float, to_s: float = NEVER) -> None:
        """Switch a load on for a while."""
        self.load_a[self.between(from_s, to_s)] += amps

    def source_a(self) -> Array:
        """What the alternator could give [A], an entry a step."""
        if self.available_a is not None:
            return self.available_a
        turning = np.clip((self.rpm - self.slow_rpm) / (self.full_rpm - self.slow_rpm), 0.0, 1.0)
        found: Array = self.rated_a * turning * self.alternator_on
        return found

    def fly(self) -> Course:
        """Run the model."""
        given = Inputs(
            self.load_a, self.starter_ohm, self.set_point_v, self.source_a(), self.battery_on, self.restless_v
        )
        return fly(self.battery, given)


def line(time: Array, knots: list[tuple[float, float]]) -> Array:
    """A line through knots of time [s] and value."""
    times, values = np.array(knots, dtype=np.float64).T
    found: Array = np.interp(time, times, values)
    return found


def wander(rng: Draw, count: int, size: float, seconds: float) -> Array:
    """A restless line about zero: one standard deviation ``size``, correlated over ``seconds``."""
    knots = max(4, int(count * STEP_S / seconds) + 2)
    places = np.linspace(0.0, count - 1.0, knots)
    found: Array = np.interp(np.arange(count), places, rng.normal(0.0, size, knots))
    return found


def draw_plan(rng: Draw, **changes: float) -> Plan:
    """A flight of 45 to 110 minutes, unless told otherwise."""
    plan = Plan(
        rest_s=rng.uniform(40.0, 120.0),
        crank_s=rng.uniform(1.8, 4.5),
        warm_s=rng.uniform(60.0, 180.0),
        taxi_s=rng.uniform(150.0, 420.0),
        climb_s=rng.uniform(240.0, 700.0),
        cruise_s=rng.uniform(1500.0, 4200.0),
        descent_s=rng.uniform(300.0, 700.0),
        taxi_in_s=rng.uniform(120.0, 360.0),
        after_s=rng.uniform(15.0, 60.0),
        idle_rpm=rng.uniform(900.0, 1150.0),
        cruise_rpm=rng.uniform(2200.0, 2500.0),
    )
    return replace(plan, **changes)


def _engine(rng: Draw, plan: Plan, at: Moments, time: Array) -> Array:
    """Engine speed [rpm]."""
    idle, cruise = plan.idle_rpm, plan.cruise_rpm
    knots = [
        (0.0, 0.0), (at.crank, 0.0), (at.crank + 0.3, 160.0), (at.start - 0.2, 190.0), (at.start + 1.0, idle + 150.0),
        (at.start + 10.0, idle + 80.0), (at.taxi, idle + 60.0), (at.taxi + 8.0, idle + 30.0),
        (at.run_up - 5.0, idle + 50.0), (at.run_up + 5.0, 1800.0), (at.run_up + 60.0, 1800.0),
        (at.run_up + 65.0, idle), (at.take_off - 4.0, idle + 20.0), (at.take_off + 4.0, 2620.0),
        (at.take_off + 90.0, 2600.0), (at.take_off + 100.0, 2480.0), (at.cruise, 2480.0), (at.cruise + 15.0, cruise),
        (at.descent, cruise), (at.descent + 15.0, cruise - 150.0), (at.landing - 150.0, 2000.0),
        (at.landing - 100.0, 1650.0), (at.landing - 12.0, 1450.0), (at.landing, idle), (at.landing + 20.0, idle),
        (at.stop - 1.0, idle + 20.0), (at.stop + 3.0, 0.0), (at.end + 1.0, 0.0),
    ]  # fmt: skip
    rpm = line(time, knots)
    taxiing = ((time > at.taxi + 10.0) & (time < at.run_up - 6.0)) | ((time > at.landing + 22.0) & (time < at.stop - 2))
    rpm += np.where(taxiing, np.abs(wander(rng, time.size, 120.0, 20.0)), 0.0)
    running = (time > at.start) & (time < at.stop)
    found: Array = np.where(running, rpm + wander(rng, time.size, 6.0, 3.0), rpm)
    return np.maximum(found, 0.0)


def _speed(at: Moments, time: Array) -> Array:
    knots = [
        (0.0, 0.0), (at.taxi, 0.0), (at.take_off, 6.0), (at.take_off + 22.0, 62.0), (at.take_off + 60.0, 82.0),
        (at.cruise, 88.0), (at.cruise + 60.0, 116.0), (at.descent, 116.0), (at.descent + 60.0, 122.0),
        (at.landing - 160.0, 95.0), (at.landing - 20.0, 66.0), (at.landing, 55.0), (at.landing + 20.0, 10.0),
        (at.stop - 10.0, 4.0), (at.stop, 0.0), (at.end + 1.0, 0.0),
    ]  # fmt: skip
    return line(time, knots)


def _height(rng: Draw, at: Moments, time: Array) -> Array:
    field_ft = rng.uniform(80.0, 900.0)
    top = field_ft + rng.uniform(2000.0, 5500.0)
    knots = [
        (0.0, field_ft),
        (at.take_off + 25.0, field_ft),
        (at.cruise, top),
        (at.descent, top),
        (at.landing, field_ft),
    ]
    return line(time, knots)


def draw_scene(rng: Draw, *, nominal: int | None = None, plan: Plan | None = None, lithium: bool = False) -> Scene:
    """A sound aircraft on an ordinary flight."""
    nominal = nominal or int(rng.choice([14, 14, 28]))
    scale = nominal // 14
    plan = plan or draw_plan(rng)
    at = moments_of(plan)
    time: Array = np.arange(int(at.end / STEP_S) + 1, dtype=np.float64) * STEP_S
    count = time.size
    capacity = rng.uniform(24.0, 40.0) if scale == 1 else rng.uniform(14.0, 26.0)
    tau = rng.uniform(150.0, 340.0)
    amplitude = rng.uniform(8.0, 22.0) * capacity / 30.0
    cranking = rng.uniform(0.006, 0.012) * (1.0 if scale == 1 else 2.8)
    battery = Battery(
        capacity_ah=capacity,
        charge=rng.uniform(0.88, 0.98),
        resistance_ohm=cranking * rng.uniform(1.15, 1.6),
        cranking_ohm=cranking,
        tau_s=tau,
        missing_as=amplitude * tau * 0.5,
        lasting_a=rng.uniform(0.3, 1.3) * capacity / 30.0,
        slow_s=rng.uniform(80.0, 200.0),
        quick=rng.uniform(0.1, 0.25),
        series=scale,
    )
    if lithium:
        battery = replace(
            battery, lithium=True, capacity_ah=rng.uniform(9.0, 20.0), resistance_ohm=0.014 * scale, missing_as=0.0,
            cranking_ohm=0.008 * scale, lasting_a=0.05, slow=0.3,
        )  # fmt: skip
    base = rng.uniform(4.0, 9.0) if scale == 1 else rng.uniform(3.5, 7.0)
    load = np.full(count, base)
    load[(time > at.start + rng.uniform(20.0, 60.0)) & (time < at.stop - 20.0)] += rng.uniform(3.0, 8.0)
    light = rng.uniform(2.0, 7.0)
    load[(time > at.take_off - 40.0) & (time < at.cruise - 60.0)] += light
    load[(time > at.landing - 300.0) & (time < at.landing + 60.0)] += light
    starter = np.full(count, np.inf)
    amps = rng.uniform(140.0, 210.0) if scale == 1 else rng.uniform(110.0, 160.0)
    turning = (time >= at.crank) & (time < at.start)
    volts = 12.5 * scale - amps * cranking
    starter[turning] = volts / amps * (1.0 + 0.06 * np.sin(time[turning] * 9.0))
    starter[(time >= at.crank) & (time < at.crank + 0.4)] = volts / amps * 0.7
    rpm = _engine(rng, plan, at, time)
    point = rng.uniform(13.85, 14.25) * scale
    warming = 0.04 * scale * np.exp(-np.maximum(time - at.start, 0.0) / 900.0)
    return Scene(
        rng=rng, nominal=nominal, plan=plan, at=at, time_s=time, rpm=rpm, speed_kt=_speed(at, time),
        height_ft=_height(rng, at, time), air_c=rng.uniform(4.0, 28.0), battery=battery, load_a=load,
        starter_ohm=starter, set_point_v=point + warming + wander(rng, count, 0.006 * scale, 30.0),
        rated_a=rng.uniform(50.0, 70.0) if scale == 1 else rng.uniform(50.0, 90.0), slow_rpm=rng.uniform(420.0, 560.0),
        full_rpm=rng.uniform(1700.0, 2100.0), alternator_on=(time > at.start + 1.0) & (time < at.stop + 1.0),
        battery_on=np.ones(count, dtype=np.bool_), restless_v=np.zeros(count), power_on=np.ones(count, dtype=np.bool_),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meters:
    """Instruments and recorder."""

    period_s: float
    volt_step: float
    volt_noise: float
    volt_error: float
    amp_step: float
    amp_noise: float
    amp_zero: float
    path_ohm: float = 0.0  # between bus and voltmeter, carrying the loads
    with_rpm: bool = True
    with_speed: bool = True


def draw_meters(rng: Draw, scene: Scene, **changes: float | bool) -> Meters:
    """Instruments of ordinary quality."""
    step = float(rng.choice([0.01, 0.05, 0.1, 0.1])) * (scene.scale if rng.random() < 0.3 else 1)
    meters = Meters(
        period_s=float(rng.choice([0.25, 0.5, 1.0, 1.0, 1.0, 2.0, 3.0, 5.0, 6.0])),
        volt_step=step,
        volt_noise=scene.scale * rng.uniform(0.008, 0.025),
        volt_error=scene.scale * rng.uniform(-0.05, 0.05),
        amp_step=float(rng.choice([0.1, 0.1, 0.5, 1.0])),
        amp_noise=rng.uniform(0.05, 0.25),
        amp_zero=rng.uniform(-0.3, 0.3),
        with_speed=bool(rng.random() < 0.8),
    )
    return replace(meters, **changes)  # type: ignore[arg-type]


def rounded(values: Array, step: float) -> Array:
    """Values as an instrument of that step shows them."""
    found: Array = np.round(np.round(values / step) * step, 6)
    return found


@dataclass(slots=True)
class Record:
    """What a recorder wrote: its own clock's seconds, an entry a row; NaN where a cell is empty."""

    time_s: Array
    columns: dict[str, Array]  # by role, in the file's order

    def keep(self, rows: Flags) -> Record:
        """Only some rows."""
        return Record(self.time_s[rows], {role: values[rows] for role, values in self.columns.items()})

    def joined(self, later: Record, shift_s: float) -> Record:
        """With another record behind, whose clock is moved."""
        columns = {role: np.concatenate((values, later.columns[role])) for role, values in self.columns.items()}
        return Record(np.concatenate((self.time_s, later.time_s + shift_s)), columns)


def record(scene: Scene, course: Course, meters: Meters, ammeter: AmmeterKind | None) -> Record:
    """Read the instruments at each row; an ammeter's column is named ``amps``, a voltmeter's ``volts``."""
    rng = scene.rng
    at = np.arange(0, scene.time_s.size, round(meters.period_s / STEP_S))
    count = at.size
    columns: dict[str, Array] = {}
    if meters.with_rpm:
        columns["rpm"] = np.round(scene.rpm[at] / 10.0) * 10.0
    columns["air"] = np.round(scene.air_c - 0.00198 * (scene.height_ft[at] - scene.height_ft[0]), 0)
    if meters.with_speed:
        columns["speed"] = np.maximum(0.0, np.round(scene.speed_kt[at] + rng.normal(0.0, 0.6, count)))
    seen = course.bus_v - meters.path_ohm * scene.load_a
    volts = seen[at] + rng.normal(0.0, meters.volt_noise, count) + meters.volt_error
    columns["volts"] = rounded(np.where(scene.power_on[at], volts, 0.0), meters.volt_step)
    if ammeter:
        true = course.battery_a if ammeter == "battery" else course.source_a
        read = true[at] + rng.normal(0.0, meters.amp_noise, count) + meters.amp_zero
        columns["amps"] = rounded(read, meters.amp_step)
    for role, values in scene.extra.items():
        columns[role] = values[at]
    return Record(scene.time_s[at].copy(), columns)
