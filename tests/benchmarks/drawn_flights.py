"""Flights drawn at random over wide ranges of aircraft, weather, instruments and habits, sound and faulty.

``drawn(number)`` always gives the same flight. Ranges are those of light aircraft in service ("common
practice"), wider than the simulator's named scenarios, and the strength of each fault is drawn as well.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from analyzer.logs.log import Log
from analyzer.simulator import (
    Alternator,
    Ammeter,
    Battery,
    FlightPlan,
    LoadEvent,
    Loads,
    OvervoltageProtection,
    Recorder,
    Regulator,
    Scenario,
    SimulatedFlight,
    Starting,
    Voltmeter,
    simulate,
)
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import (
    ContactSteps,
    Dropouts,
    LeftLow,
    NeverSettles,
    Offset,
    PathResistance,
    Spikes,
    Stuck,
    Sulphated,
    Worn,
)
from analyzer.simulator.system_faults import (
    Drift,
    FieldOpen,
    FullField,
    Hunting,
    IntermittentField,
    LooseOutput,
    NuisanceTrip,
    OutputFade,
    RisingTrip,
    Runaway,
    SenseResistance,
    SetPoint,
)

Draw = np.random.Generator
Change = Callable[[Scenario, Draw], Scenario]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A flight with what its log leaves out."""

    number: int
    kind: str  # the fault drawn, or "sound"
    habits: tuple[str, ...]  # innocent things that happened in it
    flight: SimulatedFlight
    log: Log
    without: tuple[str, ...]


# Aircraft, weather and instruments.


def _ammeters(rng: Draw) -> tuple[Ammeter, ...]:
    def ammeter(kind: str) -> Ammeter:
        return Ammeter(
            kind=kind,  # type: ignore[arg-type]
            resolution_a=float(rng.choice([0.1, 0.1, 0.5, 1.0])),
            offset_a=float(rng.choice([0.0, rng.uniform(-0.4, 0.4), rng.uniform(-0.8, 0.8)])),
            noise_a=rng.uniform(0.05, 0.4),
            lag_s=rng.uniform(0.0, 0.8),
        )

    fitted = rng.choice(["battery", "alternator", "both", "none"], p=[0.4, 0.38, 0.12, 0.1])
    if fitted == "both":
        return ammeter("battery"), ammeter("alternator")
    return () if fitted == "none" else (ammeter(str(fitted)),)


def _plan(rng: Draw) -> FlightPlan:
    return FlightPlan(
        outside_c=rng.uniform(-15.0, 40.0),
        field_elevation_ft=rng.uniform(0.0, 5000.0),
        before_start_s=rng.uniform(12.0, 150.0),
        starting=Starting(attempts_s=(rng.uniform(0.9, 4.5),)),
        warm_up_s=rng.uniform(30.0, 400.0),
        idle_rpm=rng.uniform(850.0, 1200.0),
        taxi_s=rng.uniform(60.0, 500.0),
        taxi_rpm=rng.uniform(950.0, 1300.0),
        climb_min=rng.uniform(3.0, 15.0),
        cruise_min=float(rng.choice([rng.uniform(8.0, 25.0), rng.uniform(25.0, 60.0), rng.uniform(60.0, 120.0)])),
        cruise_rpm=rng.uniform(2150.0, 2550.0),
        cruise_ft=rng.uniform(6000.0, 9500.0),
        descent_min=rng.uniform(4.0, 14.0),
        final_rpm=rng.uniform(1000.0, 1700.0),
        taxi_in_s=rng.uniform(60.0, 400.0),
        after_stop_s=rng.uniform(3.0, 60.0),
    )


def aircraft(rng: Draw, number: int) -> Scenario:
    volts = 28 if rng.random() < 0.42 else 14
    factor = volts / 14
    rated = float(rng.choice([35.0, 40.0, 60.0, 70.0, 95.0]))
    base, avionics = rng.uniform(1.5, 5.0), rng.uniform(3.0, min(18.0, 0.35 * rated))
    compensated = rng.random() < 0.25
    step = float(rng.choice([0.01, 0.05, 0.1, 0.1, 0.2]))
    scenario = Scenario(
        name="drawn",
        seed=number,
        tail=f"N0{number % 1000:03d}D",
        begins=datetime(2026, 1, 4, 8, 0) + timedelta(hours=13 * (number % 600)),
        nominal_voltage=volts,  # type: ignore[arg-type]
        battery=Battery(
            capacity_ah=rng.uniform(10.0, 26.0) if volts == 28 else rng.uniform(17.0, 42.0),
            charge=rng.uniform(0.93, 0.995),
            acceptance_s=rng.uniform(100.0, 200.0),
            gassing_a=rng.uniform(0.2, 1.0),
        ),
        alternator=Alternator(rated_a=rated, cut_in_rpm=rng.uniform(550.0, 750.0)),
        regulator=Regulator(
            set_point_v=rng.uniform(13.85, 14.25),
            per_degc_v=rng.uniform(-0.014, -0.008) if compensated else rng.uniform(-0.004, 0.0),
            droop_ohm=rng.uniform(0.001, 0.008),
            noise_v=rng.uniform(0.004, 0.02),
        ),
        loads=Loads(base_a=base, avionics_a=avionics, avionics_after_start_s=rng.uniform(15.0, 240.0)),
        plan=_plan(rng),
        voltmeter=Voltmeter(
            resolution_v=step, offset_v=factor * rng.uniform(-0.08, 0.08), noise_v=factor * rng.uniform(0.005, 0.03)
        ),
        ammeters=_ammeters(rng),
        recorder=Recorder(
            period_s=float(rng.choice([0.25, 0.5, 1.0, 1.0, 1.0, 2.0, 3.0, 5.0, 6.0])),
            begins="engine_running" if rng.random() < 0.07 else "master_on",
            rows_after_power_off=int(rng.choice([0, 0, 0, 30])),
        ),
    )
    return _landing_lights(scenario, rng)


def rated_for_its_loads(scenario: Scenario) -> Scenario:
    """An installation whose alternator carries its lasting loads with a fifth to spare (AC 43.13-1B par. 11-35)."""
    loads = scenario.loads
    lasting = [event for event in loads.events if event.to_s - event.from_s > 60.0]
    edges = [event.from_s for event in lasting]
    most = max((sum(e.amps for e in lasting if e.from_s <= at < e.to_s) for at in edges), default=0.0)
    least = (loads.base_a + loads.avionics_a + most) / 0.8
    rated = max(scenario.alternator.rated_a, least)
    return replace(scenario, alternator=replace(scenario.alternator, rated_a=rated))


def _events(scenario: Scenario, *events: LoadEvent) -> Scenario:
    return replace(scenario, loads=replace(scenario.loads, events=(*scenario.loads.events, *events)))


def _landing_lights(scenario: Scenario, rng: Draw) -> Scenario:
    times, amps = scenario.times, rng.uniform(3.0, 9.0)
    return _events(
        scenario,
        LoadEvent(name="landing light", amps=amps, from_s=times.take_off_s - 60, to_s=times.cruise_s - 120),
        LoadEvent(name="landing light", amps=amps, from_s=times.cruise_end_s + 60, to_s=times.landing_s + 60),
    )


# Habits: none of them is a fault. Those that move the flight's times come before those that use them.


def _plan_of(scenario: Scenario, **changes: object) -> Scenario:
    return replace(scenario, plan=replace(scenario.plan, **changes))  # type: ignore[arg-type]


def ground_radio(scenario: Scenario, rng: Draw) -> Scenario:
    before = rng.uniform(1200.0, 3600.0)
    scenario = _plan_of(scenario, before_start_s=before)
    return _events(scenario, LoadEvent(name="radio", amps=rng.uniform(2.0, 6.0), from_s=30.0, to_s=before - 30.0))


def short_hop(scenario: Scenario, rng: Draw) -> Scenario:
    return _plan_of(
        scenario, warm_up_s=50.0, taxi_s=70.0, climb_min=1.5, cruise_min=rng.uniform(1.0, 4.0), descent_min=1.5
    )


def circuits(scenario: Scenario, rng: Draw) -> Scenario:
    return _plan_of(
        scenario, touch_and_goes=int(rng.integers(3, 9)), final_rpm=rng.uniform(700.0, 1100.0), cruise_min=2.0,
        climb_min=2.0, descent_min=2.0, idle_rpm=rng.uniform(700.0, 900.0),
    )  # fmt: skip


def low_idle(scenario: Scenario, rng: Draw) -> Scenario:
    return _plan_of(
        scenario,
        idle_rpm=rng.uniform(600.0, 750.0),
        taxi_rpm=rng.uniform(700.0, 950.0),
        final_rpm=rng.uniform(700.0, 900.0),
    )


def many_cranks(scenario: Scenario, rng: Draw) -> Scenario:
    tries = tuple(rng.uniform(1.5, 4.0, int(rng.integers(3, 7))))
    return _plan_of(
        scenario, starting=replace(scenario.plan.starting, attempts_s=tries, pause_s=rng.uniform(6.0, 20.0))
    )


def night(scenario: Scenario, rng: Draw) -> Scenario:
    times = scenario.times
    amps = rng.uniform(6.0, 0.3 * scenario.alternator.rated_a)
    return _events(
        scenario, LoadEvent(name="lights", amps=amps, from_s=times.engine_start_s + 60, to_s=times.engine_stop_s - 40)
    )


def strobes(scenario: Scenario, rng: Draw) -> Scenario:
    times = scenario.times
    flash = LoadEvent(
        name="strobes", amps=rng.uniform(3.0, 8.0), from_s=times.engine_start_s + 60, to_s=times.landing_s,
        period_s=rng.uniform(0.9, 1.8), duty=rng.uniform(0.1, 0.4),
    )  # fmt: skip
    return _events(scenario, flash)


def cycling_heater(scenario: Scenario, rng: Draw) -> Scenario:
    times = scenario.times
    heater = LoadEvent(
        name="heater", amps=rng.uniform(3.0, 8.0), from_s=times.take_off_s, to_s=times.landing_s,
        period_s=rng.uniform(25.0, 120.0), duty=rng.uniform(0.3, 0.7),
    )  # fmt: skip
    return _events(scenario, heater)


def gear(scenario: Scenario, rng: Draw) -> Scenario:
    times, amps = scenario.times, rng.uniform(12.0, 30.0)
    return _events(
        scenario,
        LoadEvent(name="gear", amps=amps, from_s=times.take_off_s + 30, to_s=times.take_off_s + 37),
        LoadEvent(name="gear", amps=amps, from_s=times.landing_s - 200, to_s=times.landing_s - 194),
        LoadEvent(name="flaps", amps=0.6 * amps, from_s=times.landing_s - 90, to_s=times.landing_s - 84),
    )


def pitot_heat(scenario: Scenario, rng: Draw) -> Scenario:
    from_s = scenario.times.engine_start_s + rng.uniform(120.0, 900.0)
    return _events(
        scenario,
        LoadEvent(name="pitot heat", amps=rng.uniform(5.0, 11.0), from_s=from_s, to_s=scenario.times.landing_s),
    )


def alternator_check(scenario: Scenario, rng: Draw) -> Scenario:
    at = scenario.times.run_up_s + rng.uniform(20.0, 40.0)
    off = (at, at + rng.uniform(4.0, 22.0))
    return replace(scenario, alternator=replace(scenario.alternator, switched_off=(off,)))


def late_alternator(scenario: Scenario, rng: Draw) -> Scenario:
    late = min(rng.uniform(40.0, 300.0), scenario.times.run_up_s - scenario.times.engine_start_s - 10.0)
    return replace(scenario, alternator=replace(scenario.alternator, on_after_start_s=max(late, 5.0)))


LONGER: dict[str, Change] = {
    "ground radio": ground_radio, "short hop": short_hop, "circuits": circuits, "low idle": low_idle,
    "many cranks": many_cranks,
}  # fmt: skip
DURING: dict[str, Change] = {
    "night": night, "strobes": strobes, "cycling heater": cycling_heater, "gear": gear, "pitot heat": pitot_heat,
    "alternator check": alternator_check, "late alternator": late_alternator,
}  # fmt: skip


# Faults.


def _at(scenario: Scenario, rng: Draw, first: float = 0.1, last: float = 0.7) -> float:
    """A moment in flight, as a share of the time from take-off to landing."""
    times = scenario.times
    return times.take_off_s + rng.uniform(first, last) * (times.landing_s - times.take_off_s)


def _slow(s: Scenario, rng: Draw) -> Scenario:
    return s.with_fault(Sulphated(slower=rng.uniform(4.0, 8.0), charge=rng.uniform(0.9, 0.95)))


def _never_settles(s: Scenario, rng: Draw) -> Scenario:
    s = replace(s, alternator=replace(s.alternator, rated_a=s.alternator.rated_a + 20.0))
    return s.with_fault(NeverSettles(shorted_cells=rng.uniform(0.1, 0.3), gassing_a=rng.uniform(7.0, 14.0)))


def _worn(s: Scenario, rng: Draw) -> Scenario:
    tries = tuple(rng.uniform(2.5, 6.0, int(rng.integers(1, 5))))
    s = _plan_of(
        s,
        outside_c=rng.uniform(-12.0, 15.0),
        starting=Starting(attempts_s=tries, turning_ohm=rng.uniform(0.042, 0.055)),
    )
    return s.with_fault(Worn(health=rng.uniform(0.3, 0.55), resistance_factor=rng.uniform(1.5, 2.5)))


def _left_low(s: Scenario, rng: Draw) -> Scenario:
    s = _plan_of(s, outside_c=max(s.plan.outside_c, 2.0))  # colder, and so low a battery turns no engine
    s = replace(s, alternator=replace(s.alternator, rated_a=s.alternator.rated_a + 15.0))
    return s.with_fault(LeftLow(charge=rng.uniform(0.22, 0.42)))


def _set_point(s: Scenario, rng: Draw) -> Scenario:
    return s.with_fault(SetPoint(volts=float(rng.choice([-1, 1])) * rng.uniform(0.7, 1.0)))


def _drift(s: Scenario, rng: Draw) -> Scenario:
    from_s = s.times.take_off_s + rng.uniform(60.0, 600.0)
    hours = (s.times.landing_s - from_s) / 3600.0
    move = float(rng.choice([-1, 1])) * rng.uniform(0.5, 1.1)
    return s.with_fault(Drift(volts_per_hour=move / hours, from_s=from_s, to_s=s.times.landing_s))


def _hunting(s: Scenario, rng: Draw) -> Scenario:
    from_s = _at(s, rng, 0.05, 0.5)
    fault = Hunting(
        from_s=from_s,
        to_s=from_s + float(np.exp(rng.uniform(np.log(120.0), np.log(6000.0)))),
        volts=rng.uniform(0.2, 0.6),
        period_s=rng.uniform(4.0, 25.0),
        restless=bool(rng.random() < 0.5),
    )
    return s.with_fault(fault)


def _full_field(s: Scenario, rng: Draw) -> Scenario:
    s = replace(s, protection=OvervoltageProtection(works=False))
    return s.with_fault(FullField(from_s=_at(s, rng)))


def _resets(rng: Draw) -> tuple[float, ...]:
    return tuple(rng.uniform(8.0, 300.0, int(rng.integers(0, 3))))


def _runaway(s: Scenario, rng: Draw) -> Scenario:
    at = _at(s, rng)
    s = replace(s, protection=OvervoltageProtection(resets_after_s=_resets(rng)))
    pace = float(np.exp(rng.uniform(np.log(0.03), np.log(1.0))))
    return s.with_fault(Runaway(from_s=at, to_s=at + 2.6 / pace, volts_per_s=pace))


def _spike_trip(s: Scenario, rng: Draw) -> Scenario:
    at = _at(s, rng)
    s = replace(s, protection=OvervoltageProtection(resets_after_s=_resets(rng)))
    return s.with_fault(FullField(from_s=at, to_s=at + 2.0))


def _rising_trip(s: Scenario, rng: Draw) -> Scenario:
    at, lasts = _at(s, rng, 0.25, 0.8), float(np.exp(rng.uniform(np.log(60.0), np.log(720.0))))
    s = replace(s, protection=OvervoltageProtection(resets_after_s=_resets(rng)))
    return s.with_fault(RisingTrip(from_s=at - lasts, to_s=at, volts=rng.uniform(0.7, 1.5)))


def _contact(s: Scenario, rng: Draw) -> Scenario:
    from_s = _at(s, rng, 0.0, 0.5)
    to_s = min(from_s + rng.uniform(200.0, 1800.0), s.times.landing_s - 30.0)
    scale = s.nominal_voltage / 14
    fault = ContactSteps(
        from_s=from_s, to_s=to_s, volts=rng.uniform(0.4, 1.0) * scale, count=int(rng.integers(5, 20)),
        lasts_s=rng.uniform(3.0, 20.0),
    )  # fmt: skip
    return s.with_fault(fault)


def _nuisance(s: Scenario, rng: Draw) -> Scenario:
    s = replace(s, protection=OvervoltageProtection(resets_after_s=_resets(rng)))
    return s.with_fault(NuisanceTrip(from_s=_at(s, rng)))


def _lost(s: Scenario, rng: Draw) -> Scenario:
    at = _at(s, rng, 0.05, 0.85)
    back = at + rng.uniform(20.0, 900.0) if rng.random() < 0.5 else float("inf")
    return s.with_fault(FieldOpen(from_s=at, to_s=back))


def _never_on(s: Scenario, rng: Draw) -> Scenario:
    return s.with_fault(FieldOpen())


def _intermittent(s: Scenario, rng: Draw) -> Scenario:
    fault = IntermittentField(
        from_s=s.times.take_off_s + 60.0,
        to_s=s.times.landing_s,
        off_s=rng.uniform(30.0, 200.0),
        on_s=rng.uniform(120.0, 600.0),
    )
    return s.with_fault(fault)


def _fade(s: Scenario, rng: Draw) -> Scenario:
    fault = OutputFade(
        from_s=_at(s, rng, 0.05, 0.3), to_fraction=rng.uniform(0.03, 0.15), over_s=rng.uniform(240.0, 1500.0)
    )
    return rated_for_its_loads(night(s, rng)).with_fault(fault)


def _short_output(s: Scenario, rng: Draw) -> Scenario:
    """Too little for all the loads at once: all the flight long, or whenever the largest of them is on."""
    times = s.times
    s = night(s, rng)
    load = s.loads.base_a + s.loads.avionics_a + s.loads.events[-1].amps
    if rng.random() < 0.4:
        return s.with_fault(OutputFade(to_fraction=rng.uniform(0.5, 0.8) * load / s.alternator.rated_a, over_s=0.0))
    extra, at = load * rng.uniform(0.3, 0.8), _at(s, rng, 0.05, 0.3)
    for _ in range(int(rng.integers(1, 4))):
        lasts = rng.uniform(180.0, 1200.0)
        if at + lasts < times.landing_s - 60.0:
            s = _events(s, LoadEvent(name="heater", amps=extra, from_s=at, to_s=at + lasts))
        at += lasts + rng.uniform(120.0, 900.0)
    share = rng.uniform(1.03, 1.0 + 0.7 * extra / load)
    return s.with_fault(OutputFade(to_fraction=min(1.0, share * load / s.alternator.rated_a), over_s=0.0))


def _loose_output(s: Scenario, rng: Draw) -> Scenario:
    """The lead opens for a second or eight, a few times an hour or several a minute."""
    from_s, every_s = _at(s, rng, 0.05, 0.4), float(np.exp(rng.uniform(np.log(6.0), np.log(100.0))))
    fault = LooseOutput(
        from_s=from_s,
        to_s=min(s.times.landing_s, from_s + every_s * rng.uniform(12.0, 40.0)),
        every_s=every_s,
        open_s=float(np.exp(rng.uniform(np.log(0.8), np.log(8.0)))),
    )
    return s.with_fault(fault)


def _sense(s: Scenario, rng: Draw) -> Scenario:
    return rated_for_its_loads(night(s, rng)).with_fault(SenseResistance(ohm=rng.uniform(0.25, 0.5)))


def _stuck(s: Scenario, rng: Draw) -> Scenario:
    from_s = _at(s, rng, 0.0, 0.4)
    return s.with_fault(Stuck(from_s=from_s, to_s=from_s + rng.uniform(900.0, 2400.0)))


def _spikes(s: Scenario, rng: Draw) -> Scenario:
    value = round(rng.uniform(17.5, 24.0) * s.nominal_voltage / 14, 1)
    return s.with_fault(
        Spikes(from_s=s.times.take_off_s, to_s=s.times.landing_s, value=value, count=int(rng.integers(1, 8)))
    )


def _dropouts(s: Scenario, rng: Draw) -> Scenario:
    value = 0.0 if rng.random() < 0.7 else None
    rows = int(rng.integers(1, 6)) if value is not None else int(np.ceil(rng.uniform(20.0, 60.0) / s.recorder.period_s))
    fault = Dropouts(
        from_s=s.times.take_off_s, to_s=s.times.landing_s, value=value, count=int(rng.integers(3, 9)), rows=rows
    )
    return s.with_fault(fault)


def _path(s: Scenario, rng: Draw) -> Scenario:
    return rated_for_its_loads(night(s, rng)).with_fault(
        PathResistance(ohm=rng.uniform(0.05, 0.1) * s.nominal_voltage / 14)
    )


def _volts_offset(s: Scenario, rng: Draw) -> Scenario:
    return s.with_fault(Offset(amount=float(rng.choice([-1, 1])) * rng.uniform(1.3, 2.0) * s.nominal_voltage / 14))


def _ammeter_offset(s: Scenario, rng: Draw) -> Scenario:
    kind = s.ammeters[0].kind if s.ammeters else None
    amount = rng.uniform(7.0, 14.0) if kind == "battery" else rng.uniform(3.5, 8.0)
    return s if kind is None else s.with_fault(Offset(channel="ammeter", amount=round(amount)))


FAULTS: dict[str, Change] = {
    "slow recharge": _slow, "never settles": _never_settles, "worn battery": _worn, "left low": _left_low,
    "set point": _set_point, "drift": _drift, "hunting": _hunting, "full field": _full_field, "runaway": _runaway,
    "spike trip": _spike_trip, "nuisance trip": _nuisance, "rising trip": _rising_trip,
    "contact": _contact, "lost": _lost, "never on": _never_on,
    "intermittent": _intermittent, "fade": _fade, "short output": _short_output, "loose output": _loose_output,
    "sense wire": _sense, "stuck": _stuck, "spikes": _spikes, "dropouts": _dropouts, "path": _path,
    "volts offset": _volts_offset, "ammeter offset": _ammeter_offset,
}  # fmt: skip


def _without(rng: Draw) -> tuple[str, ...]:
    left_out = []
    for role, share in (
        ("engine_speed", 0.125),
        ("oil_pressure", 0.4),
        ("outside_air_temperature", 0.2),
        ("airspeed", 0.3),
    ):
        if rng.random() < share:
            left_out.append(role)
    return tuple(left_out)


def kind_of(number: int) -> str:
    """The fault of a flight, or "sound": two flights in five are."""
    names = list(FAULTS)
    return "sound" if number % 5 < 2 else names[(3 * (number // 5) + number % 5 - 2) % len(names)]


def scenario_of(number: int, kind: str | None = None) -> tuple[str, tuple[str, ...], Scenario, tuple[str, ...]]:
    """Kind, habits, scenario and roles left out."""
    rng = np.random.default_rng([number, *b"drawn"])
    kind = kind or kind_of(number)
    scenario = aircraft(rng, number)
    habits = []
    longer = rng.random() < (0.6 if kind == "sound" else 0.15)
    if longer:
        habits.append(str(rng.choice(list(LONGER))))
        if kind == "drift" or (habits[0] in ("short hop", "circuits") and kind != "sound"):
            habits.clear()
        else:
            events = scenario.loads.events
            scenario = LONGER[habits[0]](replace(scenario, loads=replace(scenario.loads, events=())), rng)
            scenario = _landing_lights(scenario, rng) if events else scenario
    for name in rng.choice(list(DURING), int(rng.integers(0, 4)), replace=False):
        habits.append(str(name))
        scenario = DURING[str(name)](scenario, rng)
    scenario = rated_for_its_loads(scenario)
    if kind != "sound":
        scenario = FAULTS[kind](scenario, rng)
    return kind, tuple(habits), scenario, _without(rng)


def drawn(number: int, kind: str | None = None) -> Drawn:
    """Fly it, with the fault that its number draws or a given one."""
    kind, habits, scenario, without = scenario_of(number, kind)
    flight = simulate(scenario)
    log = as_log(flight, without=without, untyped=number % 4 != 0)
    return Drawn(number, kind, habits, flight, log, without)
