"""A scenario, and the flight that it becomes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from math import inf
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analyzer.simulator.alternator import Alternator, OvervoltageProtection, Regulator
from analyzer.simulator.battery import Battery, BatteryState
from analyzer.simulator.electrical import Conditions, Course, run
from analyzer.simulator.faults import BatteryFault, Fault, Offset, PathResistance, ReadingFault, SystemFault
from analyzer.simulator.flight_plan import FlightPlan, Profile, Timeline, profile, starter_ohm, timeline
from analyzer.simulator.instruments import Ammeter, Recorder, Voltmeter, rounded, shown_amps, shown_volts
from analyzer.simulator.loads import Loads
from analyzer.simulator.truth import Known, Truth, truth_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Everything that one flight is made of. Change any part with ``dataclasses.replace``.

    Voltages of the parts are those of a 14 V system; ``nominal_voltage=28`` doubles them all, puts twelve
    cells in the battery and quadruples the starter's resistance. Readings' offsets are as shown.
    """

    name: str
    seed: int = 1
    tail: str = "N0000X"
    begins: datetime = datetime(2026, 5, 9, 9, 30)
    nominal_voltage: Literal[14, 28] = 14
    battery: Battery = field(default_factory=Battery)
    alternator: Alternator = field(default_factory=Alternator)
    regulator: Regulator = field(default_factory=Regulator)
    protection: OvervoltageProtection = field(default_factory=OvervoltageProtection)
    loads: Loads = field(default_factory=Loads)
    plan: FlightPlan = field(default_factory=FlightPlan)
    voltmeter: Voltmeter = field(default_factory=Voltmeter)
    ammeters: tuple[Ammeter, ...] = (Ammeter(),)
    recorder: Recorder = field(default_factory=Recorder)
    faults: tuple[Fault, ...] = ()

    @property
    def times(self) -> Timeline:
        """Key times of the plan [s from the master going on]."""
        return timeline(self.plan)

    def with_fault(self, *faults: Fault) -> Scenario:
        """The same flight with these faults added."""
        return replace(self, faults=(*self.faults, *faults))


@dataclass(frozen=True, kw_only=True)  # without slots, for what is worked out when it is asked for
class SimulatedFlight:
    """A flight as recorded, what is true of it, and its undisturbed course.

    ``table`` holds ``time_s`` from the first row and one Float64 column a role (``bus_voltage``,
    ``battery_current`` or ``alternator_current``, ``engine_speed``, ...), null where a reading is missing.
    ``course.time_s`` and every time of a scenario count from the master switch, ``log_begins_s`` among them.
    """

    scenario: Scenario
    table: pl.DataFrame
    course: Course
    log_begins_s: float
    known: Known

    @cached_property
    def truth(self) -> Truth:
        """What is true of it; that takes as long as to fly it, and who only wants its log needs none of it."""
        return truth_of(self.known)


def _rng(scenario: Scenario, purpose: str) -> np.random.Generator:
    """A generator of its own for each purpose, so that one ingredient's noise never moves another's."""
    return np.random.default_rng([scenario.seed, *purpose.encode()])


def _unrest(scenario: Scenario, purpose: str, time_s: Floats) -> Floats:
    """Normal noise of unit deviation, new each quarter second, whatever the grid that asks for it."""
    quarter = np.floor(time_s * 4.0).astype(np.intp)
    return np.asarray(_rng(scenario, purpose).normal(0.0, 1.0, int(quarter[-1]) + 1)[quarter], dtype=np.float64)


def _log_begins(scenario: Scenario) -> float:
    times = scenario.times
    return {
        "master_on": 0.0,
        "engine_running": times.engine_start_s + 90.0,
        "in_flight": times.cruise_s + 120.0,
    }[scenario.recorder.begins]


def _sample_times(scenario: Scenario) -> Floats:
    """Recorder times [s from the master going on]; those after power off only where the recorder lives on."""
    recorder, off = scenario.recorder, scenario.times.master_off_s
    begin = _log_begins(scenario)
    powered = begin + recorder.period_s * np.arange(int(np.ceil((off - begin) / recorder.period_s)))
    after = powered[-1] + recorder.period_s * np.arange(1, recorder.rows_after_power_off + 1)
    return np.concatenate([powered, after])


def _grid(scenario: Scenario, samples: Floats) -> Floats:
    """Each second, each sample, each switching, and 20 ms steps through cranking and quick faults."""
    disturbing = [fault for fault in scenario.faults if isinstance(fault, SystemFault)]
    edges = [edge for fault in disturbing for edge in (fault.from_s, fault.to_s) if 0.0 <= edge < inf]
    edges += [edge for event in scenario.loads.events for edge in (event.from_s, event.to_s)]
    edges += [edge for window in scenario.alternator.switched_off for edge in window]
    quick = [(begin - 0.1, end + 1.5) for begin, end in scenario.times.cranks]
    for fault in disturbing:
        quick += fault.moments()
    last = max(float(samples[-1]), scenario.times.master_off_s) + 1.0
    parts = [np.arange(0.0, last, 1.0), samples, np.array(edges), *(np.arange(b, e, 0.02) for b, e in quick)]
    grid = np.unique(np.round(np.concatenate(parts), 3))
    return np.asarray(grid[(grid >= 0.0) & (grid <= last)], dtype=np.float64)


def _switched_on(scenario: Scenario, time_s: Floats) -> NDArray[np.bool_]:
    times, alternator = scenario.times, scenario.alternator
    on = (time_s >= times.engine_start_s + alternator.on_after_start_s) & (time_s < times.engine_stop_s)
    for begin, end in alternator.switched_off:
        on &= ~((time_s >= begin) & (time_s < end))
    return np.asarray(on, dtype=np.bool_)


def _temperature_v(scenario: Scenario, bay_c: Floats) -> Floats:
    """What the bay's temperature moves the set point by [V]."""
    return scenario.nominal_voltage / 14 * scenario.regulator.per_degc_v * (bay_c - 25.0)


def _conditions(scenario: Scenario, time_s: Floats, flown: Profile) -> Conditions:
    times, regulator, factor = scenario.times, scenario.regulator, scenario.nominal_voltage / 14
    load = scenario.loads.current(time_s, times.engine_start_s, times.engine_stop_s)
    load = np.maximum(load + scenario.loads.noise_a * _unrest(scenario, "load", time_s), 0.0)
    bay = flown.outside_c + 12.0 * (1.0 - np.exp(-np.maximum(time_s - times.engine_start_s, 0.0) / 900.0))
    noise = regulator.noise_v * _unrest(scenario, "regulator", time_s)
    conditions = Conditions(
        time_s=time_s,
        load_a=np.where(time_s < times.master_off_s, load, 0.0),
        starter_ohm=starter_ohm(scenario.plan.starting, times.cranks, time_s, scenario.nominal_voltage),
        limit_a=scenario.alternator.output_limit(flown.rpm, flown.outside_c),
        set_point_v=factor * (regulator.set_point_v + noise) + _temperature_v(scenario, bay),
        field_closed=_switched_on(scenario, time_s),
        full_field=np.zeros(time_s.size, dtype=np.bool_),
        connected=np.ones(time_s.size, dtype=np.bool_),
        sense_ohm=np.zeros(time_s.size),
        around_battery_c=bay,
        droop_ohm=regulator.droop_ohm * factor,
    )
    for index, fault in enumerate(scenario.faults):
        if isinstance(fault, SystemFault):
            fault.disturb(conditions, factor, _rng(scenario, f"{type(fault).__name__} {index}"))
    return conditions


def _readings(scenario: Scenario, course: Course, flown: Profile, at: NDArray[np.intp]) -> dict[str, Floats]:
    times, now = scenario.times, course.time_s[at]
    readings = {"bus_voltage": shown_volts(scenario.voltmeter, course, at, _rng(scenario, "volts"))}
    if scenario.recorder.second_bus is not None:
        readings["bus_voltage_2"] = shown_volts(scenario.recorder.second_bus, course, at, _rng(scenario, "volts 2"))
    for ammeter in scenario.ammeters:
        role = f"{ammeter.kind}_current"
        readings[role] = shown_amps(ammeter, course, at, _rng(scenario, role))
    readings["engine_speed"] = rounded(flown.rpm[at], 1.0)
    if scenario.recorder.oil_pressure:
        running = (now > times.engine_start_s + 2.0) & (now < times.engine_stop_s)
        pressure = np.where(running, 45.0 + flown.rpm[at] / 100.0, 0.0)
        readings["oil_pressure"] = rounded(pressure + _rng(scenario, "oil").normal(0.0, 0.4, now.size) * running, 1.0)
    readings["outside_air_temperature"] = rounded(flown.outside_c[at], 1.0)
    readings["airspeed"] = rounded(flown.airspeed_kt[at], 1.0)
    readings["altitude"] = rounded(flown.altitude_ft[at], 1.0)
    return readings


def _power_off(scenario: Scenario, readings: dict[str, Floats], now: Floats) -> None:
    """As power goes off the meters show nonsense for two rows, then nothing."""
    rows = np.flatnonzero(now >= scenario.times.master_off_s)
    rng = _rng(scenario, "power off")
    for role, shown in readings.items():  # in their order, so that the same flight always shows the same nonsense
        if role.startswith("bus_voltage") or role.endswith("_current"):
            shown[rows] = 0.0
        if role.endswith("_current"):
            shown[rows[:2]] = np.round(rng.uniform(-400.0, 400.0, rows[:2].size))


def _table(scenario: Scenario, readings: dict[str, Floats], now: Floats) -> pl.DataFrame:
    for index, fault in enumerate(scenario.faults):
        if isinstance(fault, ReadingFault):
            channel = f"{scenario.ammeters[0].kind}_current" if fault.channel == "ammeter" else fault.channel
            fault.distort(readings, channel, now, _rng(scenario, f"{type(fault).__name__} {index}"))
    kept = np.ones(now.size, dtype=np.bool_)
    for begin, end in scenario.recorder.rows_missing:
        kept &= ~((now >= begin) & (now < end))
    columns = {"time_s": np.round(now - now[0], 3), **readings}
    frame = pl.DataFrame({name: values[kept] for name, values in columns.items()})
    return frame.with_columns(pl.all().fill_nan(None))


def _constant_error(scenario: Scenario) -> float:
    """What whole-flight offsets of the voltage reading add to the voltmeter's own [V]."""
    return sum(
        fault.amount
        for fault in scenario.faults
        if isinstance(fault, Offset) and fault.channel == "bus_voltage" and (fault.from_s, fault.to_s) == (0.0, inf)
    )


def _fitted(scenario: Scenario) -> Scenario:
    """The scenario with its faults worked into battery and voltmeter."""
    for fault in scenario.faults:
        if isinstance(fault, BatteryFault):
            scenario = replace(scenario, battery=fault.alter(scenario.battery))
        elif isinstance(fault, PathResistance):
            scenario = replace(scenario, voltmeter=fault.refit(scenario.voltmeter))
    return scenario


def simulate(scenario: Scenario) -> SimulatedFlight:
    """Fly the scenario. The same scenario gives the same flight, bit for bit."""
    samples = _sample_times(scenario)
    time_s = _grid(scenario, samples)
    flown = profile(scenario.plan, time_s, _rng(scenario, "engine"))
    asked, scenario = scenario, _fitted(scenario)
    cells: Literal[6, 12] = 12 if scenario.nominal_voltage == 28 else 6
    state = BatteryState(scenario.battery, cells, scenario.plan.outside_c)
    conditions = _conditions(scenario, time_s, flown)
    course = run(conditions, state, scenario.protection, scenario.nominal_voltage)
    at = np.searchsorted(time_s, np.round(samples, 3))
    readings = _readings(scenario, course, flown, at)
    _power_off(scenario, readings, samples)
    table = _table(scenario, readings, samples)
    known = Known(
        course=course,
        times=scenario.times,
        table=table,
        log_begins_s=float(samples[0]),
        battery=scenario.battery,
        battery_c=state.temperature_c,
        around_c=scenario.plan.outside_c,
        nominal_voltage=scenario.nominal_voltage,
        droop_ohm=conditions.droop_ohm,
        temperature_v=_temperature_v(scenario, conditions.around_battery_c),
        overvoltage_v=scenario.protection.limit_v * scenario.nominal_voltage / 14,
        voltmeter=replace(scenario.voltmeter, offset_v=scenario.voltmeter.offset_v + _constant_error(scenario)),
        ammeters=scenario.ammeters,
        faults=scenario.faults,
        could_carry=scenario.alternator.output_limit(flown.rpm, flown.outside_c) > course.load_a + 2.0,
        switched_on=_switched_on(scenario, time_s),
        period_s=scenario.recorder.period_s,
    )
    return SimulatedFlight(scenario=asked, table=table, course=course, log_begins_s=known.log_begins_s, known=known)
