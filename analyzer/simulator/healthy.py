"""Sound aircraft: each takes a seed, the system's voltage and the ammeter's kind, and gives a scenario.

``healthy`` is the one that all others start from; the seed varies its battery, loads, weather and lengths
within what is ordinary. The rest each hold something that looks like trouble and is none.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from analyzer.simulator.alternator import Alternator, Regulator
from analyzer.simulator.battery import Battery
from analyzer.simulator.flight_plan import FlightPlan, Starting
from analyzer.simulator.instruments import Ammeter, Recorder, Voltmeter
from analyzer.simulator.loads import LoadEvent, Loads
from analyzer.simulator.simulate import Scenario

Volts = Literal[14, 28]
Kind = Literal["battery", "alternator", "none"]


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
            acceptance_s=rng.uniform(120.0, 180.0),
            gassing_a=rng.uniform(0.3, 0.8),
        ),
        alternator=Alternator(rated_a=float(rng.choice([60.0, 70.0]))),
        regulator=Regulator(set_point_v=rng.uniform(13.95, 14.2), droop_ohm=rng.uniform(0.002, 0.006)),
        loads=Loads(base_a=rng.uniform(2.0, 3.5), avionics_a=rng.uniform(4.0, 8.0), events=_landing_light(rng)),
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
        LoadEvent(name="landing light", amps=rng.uniform(4.0, 8.0), from_s=on, to_s=on + rng.uniform(150.0, 240.0)),
    )


def _plan(scenario: Scenario, **changes: object) -> Scenario:
    """Another plan; what is switched on keeps its place relative to take-off."""
    changed = replace(scenario, plan=replace(scenario.plan, **changes))  # type: ignore[arg-type]
    later = changed.times.take_off_s - scenario.times.take_off_s
    events = tuple(
        replace(event, from_s=event.from_s + later, to_s=event.to_s + later) for event in scenario.loads.events
    )
    return replace(changed, loads=replace(changed.loads, events=events))


def _events(scenario: Scenario, *events: LoadEvent) -> Scenario:
    return replace(scenario, loads=replace(scenario.loads, events=(*scenario.loads.events, *events)))


def cold_morning(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Minus eight degrees: a deeper sag, a longer crank, a slower recharge, and all of it innocent."""
    return _plan(healthy(seed, volts, ammeter), outside_c=-8.0, starting=Starting(attempts_s=(3.1,), turning_ohm=0.052))


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
    """Six circuits with the lights on, throttle closed on each final: the bus sags there every time."""
    scenario = _plan(
        healthy(seed, volts, ammeter),
        touch_and_goes=6,
        idle_rpm=820.0,
        final_rpm=760.0,
        climb_min=2.0,
        cruise_min=3.0,
        descent_min=3.0,
        cruise_ft=1400.0,
    )
    start, stop = scenario.times.engine_start_s, scenario.times.engine_stop_s
    return _events(scenario, LoadEvent(name="lights", amps=8.0, from_s=start + 120.0, to_s=stop - 60.0))


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
    scenario = _plan(healthy(seed, volts, ammeter), idle_rpm=700.0, taxi_rpm=860.0, taxi_s=420.0, final_rpm=850.0)
    return _events(scenario, LoadEvent(name="lights", amps=7.0, from_s=90.0, to_s=scenario.times.engine_stop_s))


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


def temperature_compensated(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A regulator that follows the battery's need, -3 mV a cell and degC: a warming bay looks like drift."""
    scenario = healthy(seed, volts, ammeter)
    return replace(scenario, regulator=replace(scenario.regulator, per_degc_v=-0.018))
