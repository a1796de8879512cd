"""Several flights of one aircraft: what each does not tell, all together do."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np

from tests.benchmarks.uncommon_logs.cases import ALL, NO_DRAW, Case, Flown, case, either, flown, kind_of, no_voltage
from tests.benchmarks.uncommon_logs.running import idling
from tests.benchmarks.uncommon_logs.scenes import AmmeterKind, Draw, Meters, Scene, draw_meters, draw_plan, draw_scene
from tests.benchmarks.uncommon_logs.truth import REFUSED, Must, Trend, Truth
from tests.benchmarks.uncommon_logs.voltmeters import dead_channel


def _again(rng: Draw, first: Scene, battery_ohm: float | None = None) -> Scene:
    """The same aircraft on another day."""
    plan = draw_plan(rng, idle_rpm=first.plan.idle_rpm, taxi_s=first.plan.taxi_s, cruise_s=rng.uniform(900.0, 1800.0))
    scene = draw_scene(rng, nominal=first.nominal, plan=plan)
    ohm = battery_ohm or first.battery.resistance_ohm
    scene.battery = replace(
        scene.battery, capacity_ah=first.battery.capacity_ah, tau_s=first.battery.tau_s, resistance_ohm=ohm,
        cranking_ohm=first.battery.cranking_ohm, lasting_a=first.battery.lasting_a,
    )  # fmt: skip
    point = float(np.median(first.set_point_v)) - float(np.median(scene.set_point_v))
    scene.set_point_v += point
    scene.rated_a, scene.slow_rpm, scene.full_rpm = first.rated_a, first.slow_rpm, first.full_rpm
    return scene


def _of_one_tail(cases: list[Case], days: float) -> Case:
    """Give all cases the last one's tail and layout, some days apart; the last is the one that is marked."""
    last = cases[-1]
    last.beside = cases[:-1]
    for number, one in enumerate(last.beside):
        one.tail = last.tail
        one.layout = replace(last.layout, began=last.layout.began - timedelta(days=days * (len(cases) - 1 - number)))
    return last


def tail_dead_volts(rng: Draw) -> Case:
    """Voltmeter dead, ammeter of unsaid kind: the last log begins in flight, the others tell the kind."""
    ammeter = either(rng)
    first = draw_scene(rng)
    meters = draw_meters(rng, first, amp_step=0.1, amp_noise=0.12, with_rpm=True)
    cases: list[Case] = []
    for number in range(4):
        scene = _again(rng, first)
        scene.add_load(rng.uniform(4.0, 8.0), scene.at.cruise + 100.0, scene.at.cruise + 500.0)
        missed = scene.at.cruise + 550.0 if number == 3 else 0.0
        what = flown(scene, meters, ammeter, missed_s=missed)
        what.record.columns["volts"] = dead_channel(rng, what.record.time_s.size)
        truth = Truth(
            about=f"dead voltmeter, {ammeter} ammeter, begins in cruise; three earlier flights tell its kind",
            ammeter=kind_of(ammeter), musts=(Must(("reading_fault",), 0.0, what.end, severities=("advisory",)),),
            measures=no_voltage(), not_said=NO_DRAW,
        )  # fmt: skip
        cases.append(case(rng, what, truth, told=False, clock="two"))
    return _of_one_tail(cases, 3.0)


def tail_without_clock(rng: Draw) -> Case:
    """Four flights whose recorder has no clock: they are trended in the order of their files."""
    ammeter = either(rng)
    first = draw_scene(rng)
    meters = draw_meters(rng, first, period_s=1.0)
    cases = []
    for _ in range(6):
        what = flown(_again(rng, first), meters, ammeter)
        truth = Truth(
            about="six flights without a clock", ammeter=kind_of(ammeter), may_advise=ALL,
            trend=Trend(6, measured=("regulated_voltage",)), says=(r"clock|date|time",),
        )  # fmt: skip
        cases.append(case(rng, what, truth, told=True, clock="none"))
    return _of_one_tail(cases, 2.0)


def _resistance_flight(rng: Draw, first: Scene, meters: Meters, ohm: float, ammeter: AmmeterKind) -> Flown:
    scene = _again(rng, first, ohm)
    idling(rng, scene)
    return flown(scene, meters, ammeter, missed_s=scene.at.start + 20.0)


def tail_resistance(rng: Draw) -> Case:
    """Sixteen flights that begin running, the bus sagging at idle; in half the draws the resistance grows."""
    grows = rng.random() < 0.6
    idle = rng.uniform(700.0, 800.0)
    first = draw_scene(rng, nominal=28, plan=draw_plan(rng, idle_rpm=idle, taxi_s=420.0))
    first.slow_rpm, first.full_rpm, first.rated_a = idle - 60.0, 1900.0, 65.0
    first.air_c = 15.0
    ohm = rng.uniform(0.03, 0.045)
    meters = draw_meters(rng, first, period_s=1.0, volt_step=0.05, amp_step=0.1)
    cases = []
    for number in range(16):
        more = 1.0 + (rng.uniform(0.75, 0.85) * max(0, number - 6) / 9.0 if grows else 0.0)
        what = _resistance_flight(rng, first, meters, ohm * more, "battery")
        rising = ("battery_resistance_rising",)
        trend = Trend(16, ("battery_resistance",), rising if grows else (), () if grows else rising)
        truth = Truth(
            about=f"sixteen flights, the battery's resistance {'grows' if grows else 'stays'}", ammeter=("battery",),
            may_advise=ALL, trend=trend, measures={"resting_voltage": REFUSED}, not_said=NO_DRAW,
        )  # fmt: skip
        cases.append(case(rng, what, truth, told=True, clock="two"))
    return _of_one_tail(cases, 4.0)
