"""Named flights: each takes a seed, the system's voltage and the ammeter's kind, and gives a scenario.

``healthy`` is the sound aircraft that all others start from; the seed varies its battery, loads, weather and
lengths within what is ordinary. The healthy variants each hold something that looks like trouble and is none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from analyzer.simulator.alternator import Alternator, OvervoltageProtection, Regulator
from analyzer.simulator.battery import Battery
from analyzer.simulator.faults import (
    Drift,
    Dropouts,
    FieldOpen,
    FullField,
    Hunting,
    IntermittentField,
    LeftLow,
    LooseOutput,
    NeverSettles,
    NuisanceTrip,
    Offset,
    OutputFade,
    Runaway,
    SenseResistance,
    SetPoint,
    Spikes,
    Stuck,
    Sulphated,
    Worn,
)
from analyzer.simulator.flight_plan import FlightPlan, Starting
from analyzer.simulator.instruments import Ammeter, Recorder, Voltmeter
from analyzer.simulator.loads import LoadEvent, Loads
from analyzer.simulator.simulate import Scenario

Volts = Literal[14, 28]
Kind = Literal["battery", "alternator", "none"]
Maker = Callable[[int, Volts, Kind], Scenario]


def healthy(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A sound aircraft on an ordinary flight of about an hour and a quarter."""
    rng = np.random.default_rng([seed, *b"healthy"])
    larger = volts == 28
    return Scenario(
        name="healthy",
        seed=seed,
        tail=f"N0{seed % 1000:03d}{'ABCDEFGHJKLMNPRSTUVWXYZ'[seed % 23]}",
        begins=datetime(2026, 3, 1, 9, 0)
        + timedelta(days=int(rng.integers(0, 240)), minutes=int(rng.integers(0, 480))),
        nominal_voltage=volts,
        battery=Battery(
            capacity_ah=float(rng.choice([17.0, 24.0]) if larger else rng.choice([26.0, 30.0, 34.0])),
            charge=rng.uniform(0.96, 0.995),
            acceptance_s=rng.uniform(150.0, 210.0),
            gassing_a=rng.uniform(0.3, 0.8),
        ),
        alternator=Alternator(rated_a=float(rng.choice([60.0, 70.0]))),
        regulator=Regulator(set_point_v=rng.uniform(13.95, 14.2), droop_ohm=rng.uniform(0.002, 0.006)),
        loads=Loads(
            base_a=rng.uniform(2.0, 3.5), avionics_a=rng.uniform(4.0, 8.0), events=_landing_light(rng)
        ),
        plan=FlightPlan(
            outside_c=rng.uniform(8.0, 24.0),
            before_start_s=rng.uniform(35.0, 80.0),
            starting=Starting(attempts_s=(rng.uniform(1.4, 3.2),)),
            cruise_min=rng.uniform(30.0, 45.0),
        ),
        voltmeter=Voltmeter(resolution_v=0.1, offset_v=rng.uniform(-0.03, 0.03)),
        ammeters=() if ammeter == "none" else (Ammeter(kind=ammeter, offset_a=rng.uniform(-0.1, 0.1)),),
        recorder=Recorder(period_s=1.0),
    )


def _landing_light(rng: np.random.Generator) -> tuple[LoadEvent, ...]:
    on = rng.uniform(620.0, 660.0)
    return (
        LoadEvent(
            name="landing light", amps=rng.uniform(4.0, 8.0), from_s=on, to_s=on + rng.uniform(150.0, 240.0)
        ),
    )


def _plan(scenario: Scenario, **changes: object) -> Scenario:
    return replace(scenario, plan=replace(scenario.plan, **changes))  # type: ignore[arg-type]


def _events(scenario: Scenario, *events: LoadEvent) -> Scenario:
    return replace(scenario, loads=replace(scenario.loads, events=(*scenario.loads.events, *events)))


# Sound aircraft that look like trouble.


def cold_morning(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Minus eight degrees: a deeper sag, a longer crank, a slower recharge, and all of it innocent."""
    return _plan(
        healthy(seed, volts, ammeter), outside_c=-8.0, starting=Starting(attempts_s=(3.1,), turning_ohm=0.052)
    )


def hot_day(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Thirty-six degrees: a lower set point and a higher maintenance current."""
    return _plan(healthy(seed, volts, ammeter), outside_c=36.0)


def night(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Every light on from taxi to landing."""
    scenario = healthy(seed, volts, ammeter)
    light = LoadEvent(
        name="lights",
        amps=14.0,
        from_s=scenario.times.engine_start_s + 90.0,
        to_s=scenario.times.engine_stop_s - 40.0,
    )
    return replace(_events(scenario, light), begins=scenario.begins.replace(hour=20, minute=40))


def avionics_in_recharge(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """Avionics and pitot heat come on while the charging current is still falling."""
    scenario = healthy(seed, volts, ammeter)
    start = scenario.times.engine_start_s
    heat = LoadEvent(name="pitot heat", amps=9.0, from_s=start + 270.0, to_s=scenario.times.landing_s)
    return _events(replace(scenario, loads=replace(scenario.loads, avionics_after_start_s=120.0)), heat)


def ground_radio(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Three quarters of an hour of radio and planning on the battery: a long recharge that is well earned."""
    scenario = _plan(healthy(seed, volts, ammeter), before_start_s=2700.0)
    return _events(scenario, LoadEvent(name="radio", amps=4.5, from_s=60.0, to_s=2650.0))


def touch_and_goes(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Six circuits, throttle closed on each final."""
    return _plan(
        healthy(seed, volts, ammeter),
        touch_and_goes=6,
        climb_min=2.0,
        cruise_min=3.0,
        descent_min=3.0,
        cruise_ft=1400.0,
    )


def short_hop(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Over before the recharge is."""
    return _plan(
        healthy(seed, volts, ammeter),
        warm_up_s=60.0,
        taxi_s=80.0,
        climb_min=1.5,
        cruise_min=2.0,
        descent_min=1.5,
        cruise_ft=1400.0,
    )


def low_idle(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Idling too slowly for the alternator: the bus sags on the ground and is well in the air."""
    scenario = _plan(healthy(seed, volts, ammeter), idle_rpm=700.0, taxi_rpm=860.0, taxi_s=420.0)
    return _events(
        scenario, LoadEvent(name="lights", amps=7.0, from_s=90.0, to_s=scenario.times.engine_stop_s)
    )


def strobes(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """Strobes and a heater that cycles: a restless ammeter."""
    scenario = healthy(seed, volts, ammeter)
    start, landing = scenario.times.engine_start_s, scenario.times.landing_s
    return _events(
        scenario,
        LoadEvent(name="strobes", amps=6.0, from_s=start + 60.0, to_s=landing, period_s=1.37, duty=0.3),
        LoadEvent(name="heater", amps=4.0, from_s=start + 600.0, to_s=landing, period_s=47.0, duty=0.45),
    )


def alternator_check(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The pilot switches the alternator off for twenty seconds during the run-up."""
    scenario = healthy(seed, volts, ammeter)
    at = scenario.times.run_up_s + 30.0
    return replace(scenario, alternator=replace(scenario.alternator, switched_off=((at, at + 20.0),)))


def late_alternator(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The alternator switch goes on only four minutes after start, from the checklist."""
    scenario = healthy(seed, volts, ammeter)
    return replace(scenario, alternator=replace(scenario.alternator, on_after_start_s=240.0))


def gear_and_flaps(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Electric gear and flaps take 25 A for some seconds, twice a flight."""
    scenario = healthy(seed, volts, ammeter)
    up, down = scenario.times.take_off_s + 40.0, scenario.times.landing_s - 150.0
    return _events(
        scenario,
        LoadEvent(name="gear", amps=25.0, from_s=up, to_s=up + 7.0),
        LoadEvent(name="gear", amps=25.0, from_s=down, to_s=down + 6.0),
        LoadEvent(name="flaps", amps=12.0, from_s=down + 50.0, to_s=down + 58.0),
    )


def engine_already_running(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A recorder that is switched on with the avionics."""
    scenario = healthy(seed, volts, ammeter)
    return replace(scenario, recorder=replace(scenario.recorder, begins="engine_running"))


def power_off_rows(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A recorder on its own supply that writes on after the master goes off."""
    scenario = healthy(seed, volts, ammeter)
    return replace(scenario, recorder=replace(scenario.recorder, rows_after_power_off=40))


# Batteries in trouble.


def slow_recharge(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A sulphated battery."""
    return healthy(seed, volts, ammeter).with_fault(Sulphated(slower=4.5))


def never_settles(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A softly shorted cell that takes current to the end."""
    return healthy(seed, volts, ammeter).with_fault(NeverSettles())


def worn_battery(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Capacity gone: sags deeply on a cold morning, three attempts, then takes little charge."""
    scenario = healthy(seed, volts, ammeter)
    starting = Starting(attempts_s=(4.2, 3.5, 5.1), turning_ohm=0.055)
    return _plan(scenario, outside_c=2.0, starting=starting).with_fault(Worn())


def left_low(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Rests at 45 % charge."""
    return healthy(seed, volts, ammeter).with_fault(LeftLow())


# Regulators in trouble.


def regulator_high(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Set 0.9 V too high."""
    return healthy(seed, volts, ammeter).with_fault(SetPoint(volts=0.9))


def regulator_low(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Set 0.9 V too low."""
    return healthy(seed, volts, ammeter).with_fault(SetPoint(volts=-0.9))


def regulator_drift(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Creeps upward from the climb on."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Drift(volts_per_hour=1.0, from_s=scenario.times.take_off_s + 300.0))


def regulator_hunting(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Swings from the cruise on."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Hunting(from_s=scenario.times.cruise_s, restless=seed % 2 == 0))


def full_field(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The regulator has shorted and protection does not act: the voltage follows engine speed."""
    scenario = healthy(seed, volts, ammeter)
    fault = FullField(from_s=scenario.times.cruise_s + 600.0)
    return replace(scenario, protection=OvervoltageProtection(works=False)).with_fault(fault)


def sense_wire(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """A corroded connector in the wire that feeds the field and tells the regulator the voltage."""
    return night(seed, volts, ammeter).with_fault(SenseResistance())


# Overvoltage protection.


def trip_with_reset(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A run-up of seconds, a trip, and a reset after 50 s that holds."""
    scenario = healthy(seed, volts, ammeter)
    at = scenario.times.cruise_s + 700.0
    protection = OvervoltageProtection(resets_after_s=(50.0,))
    return replace(scenario, protection=protection).with_fault(Runaway(from_s=at, to_s=at + 30.0))


def repeated_trips(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Trips again after each of two resets, and stays off."""
    scenario = healthy(seed, volts, ammeter)
    fault = Runaway(from_s=scenario.times.cruise_s + 400.0, volts_per_s=0.25)
    return replace(scenario, protection=OvervoltageProtection(resets_after_s=(35.0, 70.0))).with_fault(fault)


def unlogged_spike(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A spike shorter than the time between two rows: only the loss is seen, and the reset."""
    scenario = healthy(seed, volts, ammeter)
    at = scenario.times.cruise_s + 900.2
    protection = OvervoltageProtection(resets_after_s=(80.0,))
    return replace(scenario, protection=protection).with_fault(FullField(from_s=at, to_s=at + 2.0))


def nuisance_trip(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A warm sensor that opens twice at a normal voltage."""
    scenario = healthy(seed, volts, ammeter)
    first = scenario.times.cruise_s + 500.0
    protection = OvervoltageProtection(resets_after_s=(25.0, 40.0))
    return replace(scenario, protection=protection).with_fault(
        NuisanceTrip(from_s=first), NuisanceTrip(from_s=first + 400.0)
    )


# Alternators in trouble.


def alternator_lost(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A field wire breaks in cruise."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 1000.0))


def alternator_never_on(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The bus stays at battery voltage from start to stop."""
    return healthy(seed, volts, ammeter).with_fault(FieldOpen())


def alternator_intermittent(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Worn brushes: off for a minute or two, well for some, off again."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(
        IntermittentField(from_s=scenario.times.take_off_s + 200.0, to_s=scenario.times.landing_s)
    )


def output_fading(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """A wet belt slips: the output sinks over twenty minutes."""
    scenario = night(seed, volts, ammeter)
    return scenario.with_fault(OutputFade(from_s=scenario.times.cruise_s + 200.0, to_fraction=0.12))


def overloaded(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """One diode pair gone: half the rated output from the start, and the lights are on."""
    return night(seed, volts, ammeter).with_fault(OutputFade(to_fraction=0.3, over_s=0.0))


def loose_output(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A terminal on the output stud that arcs."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(LooseOutput(from_s=scenario.times.cruise_s, to_s=scenario.times.landing_s))


# Readings in trouble.


def volts_stuck(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The voltage reading freezes at run-up and goes on only after landing."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Stuck(from_s=scenario.times.run_up_s, to_s=scenario.times.landing_s))


def volts_spikes(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Single rows at 19.4 V (twice that on 28 V) with nothing in the current."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(
        Spikes(from_s=scenario.times.take_off_s, to_s=scenario.times.landing_s, value=19.4 * volts / 14)
    )


def volts_dropouts(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Runs of three rows at zero."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Dropouts(from_s=scenario.times.take_off_s, to_s=scenario.times.landing_s))


def volts_offset(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The voltmeter reads 1.6 V low throughout, resting and running alike."""
    return healthy(seed, volts, ammeter).with_fault(Offset(amount=-1.6 * volts / 14))


HEALTHY: dict[str, Maker] = {
    maker.__name__: maker
    for maker in (
        healthy, cold_morning, hot_day, night, avionics_in_recharge, ground_radio, touch_and_goes, short_hop,
        low_idle, strobes, alternator_check, late_alternator, gear_and_flaps, engine_already_running,
        power_off_rows,
    )
}  # fmt: skip
FAULTY: dict[str, Maker] = {
    maker.__name__: maker
    for maker in (
        slow_recharge, never_settles, worn_battery, left_low, regulator_high, regulator_low, regulator_drift,
        regulator_hunting, full_field, sense_wire, trip_with_reset, repeated_trips, unlogged_spike,
        nuisance_trip, alternator_lost, alternator_never_on, alternator_intermittent, output_fading,
        overloaded, loose_output, volts_stuck, volts_spikes, volts_dropouts, volts_offset,
    )
}  # fmt: skip
