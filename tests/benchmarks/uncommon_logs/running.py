"""Logs that begin with the engine running, and what shows the resistance of a battery."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    NO_DRAW,
    Case,
    Flown,
    case,
    crank_expected,
    either,
    flown,
    kind_of,
    lasting_expected,
    regulated_expected,
    resistance_expected,
    rest_expected,
    tau_expected,
    unknown_start,
)
from tests.benchmarks.uncommon_logs.scenes import AmmeterKind, Draw, Scene, draw_meters, draw_plan, draw_scene
from tests.benchmarks.uncommon_logs.truth import Expected, Must, Need, Truth


def _running(
    rng: Draw, *, ammeter: AmmeterKind, amplitude: tuple[float, float], tau_min: tuple[float, float], **battery: Any
) -> Flown:
    """A flight whose recorder wakes up with the alternator on the bus and a taper under way."""
    scene = draw_scene(
        rng, plan=draw_plan(rng, idle_rpm=rng.uniform(1100.0, 1250.0), cruise_s=rng.uniform(2400.0, 4500.0))
    )
    scene.rated_a = max(scene.rated_a, 60.0)
    tau = rng.uniform(*tau_min) * 60.0
    wakes = scene.at.start + rng.uniform(8.0, 60.0)
    height = rng.uniform(*amplitude) * scene.ampere
    before = 1.05 * height * float(np.exp((wakes - scene.at.start) / tau)) * tau
    scene.battery = replace(scene.battery, tau_s=tau, missing_as=before, charge=0.9, **battery)
    residual = rng.uniform(0.05, 0.25)
    meters = draw_meters(
        rng, scene, amp_noise=residual, amp_step=0.1, period_s=float(rng.choice([0.5, 1.0, 1.0, 2.0, 4.0, 6.0]))
    )
    return flown(scene, meters, ammeter, missed_s=wakes)


def _held_height(what: Flown) -> float:
    """Current above the settled level at the first row with the bus held [A]."""
    course = what.course
    first = int(np.argmax(course.held & (course.time_s >= what.missed_s)))
    return float(course.missing_as[first]) / what.scene.battery.tau_s


def running_taper(rng: Draw) -> Case:
    ammeter = either(rng)
    low = 4.5 if ammeter == "battery" else 7.0
    what = _running(rng, ammeter=ammeter, amplitude=(low, 16.0), tau_min=(2.5, 8.0))
    measures = unknown_start() | {
        "recharge_time_constant": tau_expected(what),
        "regulated_voltage": regulated_expected(what),
    }
    if ammeter == "battery":
        measures["maintenance_current"] = lasting_expected(what)
    truth = Truth(
        about="begins running, an ordinary taper",
        ammeter=kind_of(ammeter),
        measures=measures,
        not_said=NO_DRAW,
        start_recorded=False,
        spans=((0.97 * what.end, 1.01 * what.end + 10),),
    )
    return case(rng, what, truth)


def running_settled(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(
        rng, plan=draw_plan(rng, idle_rpm=rng.uniform(1100.0, 1250.0), cruise_s=rng.uniform(3600.0, 5400.0))
    )
    scene.battery = replace(scene.battery, tau_s=rng.uniform(150.0, 260.0))
    wakes = scene.at.cruise + rng.uniform(600.0, 1200.0)
    what = flown(scene, draw_meters(rng, scene, amp_noise=0.15, amp_step=0.1), ammeter, missed_s=wakes)
    left = _held_height(what) / scene.ampere
    need: Need = "not_measurable" if left < 0.8 else "either"
    measures = unknown_start() | {
        "recharge_time_constant": tau_expected(what, need),
        "regulated_voltage": regulated_expected(what),
    }
    if ammeter == "battery":
        measures["maintenance_current"] = lasting_expected(what)
    sure = ammeter == "battery"
    truth = Truth(
        about="begins in cruise, no taper left",
        ammeter=kind_of(ammeter, sure=sure),
        measures=measures,
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth, told=None if sure else True)


def running_never_settles(rng: Draw) -> Case:
    what = _running(
        rng,
        ammeter="battery",
        amplitude=(2.0, 8.0),
        tau_min=(3.0, 6.0),
        lasting_a=rng.uniform(9.0, 15.0) * (1.0 if rng.random() < 0.6 else 0.8),
    )
    scene = what.scene
    must = Must(("recharge_never_settles",), what.at(scene.at.cruise), what.at(scene.at.descent))
    truth = Truth(
        about="begins running, the charging current stays high",
        ammeter=kind_of("battery"),
        musts=(must,),
        measures=unknown_start() | {"regulated_voltage": regulated_expected(what)},
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth, told=True)


def running_slow(rng: Draw) -> Case:
    ammeter = either(rng)
    what = _running(rng, ammeter=ammeter, amplitude=(8.0, 16.0), tau_min=(13.0, 22.0))
    need: Need = "measured" if ammeter == "battery" else "either"
    truth = Truth(
        about="begins running, slow recharge: advisory at most",
        ammeter=kind_of(ammeter, sure=ammeter == "battery"),
        may_advise=frozenset({"slow_recharge"}),
        measures=unknown_start() | {"recharge_time_constant": tau_expected(what, need, 1.2)},
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth, told=True)


def running_settling_hour(rng: Draw) -> Case:
    what = _running(
        rng,
        ammeter="battery",
        amplitude=(4.0, 9.0),
        tau_min=(2.5, 5.0),
        lasting_a=rng.uniform(0.8, 1.1),
        late_a=rng.uniform(1.5, 2.2),
        late_s=rng.uniform(900.0, 1300.0),
    )
    expected = lasting_expected(what)
    truth = Truth(
        about="settled current drawn from 2.6 to 1.0 A over an hour",
        ammeter=kind_of("battery"),
        measures=unknown_start() | {"maintenance_current": expected},
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth)


def idling(rng: Draw, scene: Scene) -> None:
    """Taxi by fits and starts: at idle the alternator cannot carry the loads, a dozen times."""
    at, idle = scene.at, scene.plan.idle_rpm
    scene.add_load(rng.uniform(5.0, 10.0), at.start + 60.0, at.stop - 20.0)
    for from_s, to_s in ((at.taxi, at.run_up - 10.0), (at.landing + 20.0, at.stop - 5.0)):
        moment = from_s
        while moment < to_s:
            slow, fast = rng.uniform(35.0, 70.0), rng.uniform(12.0, 30.0)
            span = scene.between(moment, min(to_s, moment + slow))
            ramp = np.linspace(0.0, 1.0, int(span.sum())) if span.any() else np.zeros(0)
            scene.rpm[span] = idle + rng.uniform(-20.0, 40.0) * np.sin(6.0 * ramp) + rng.uniform(-30.0, 90.0) * ramp
            scene.rpm[scene.between(moment + slow, min(to_s, moment + slow + fast))] = rng.uniform(1250.0, 1500.0)
            moment += slow + fast


def idle_sags(rng: Draw) -> Case:
    nominal = 28 if rng.random() < 0.8 else 14
    idle = rng.uniform(680.0, 820.0)
    scene = draw_scene(rng, nominal=nominal, plan=draw_plan(rng, idle_rpm=idle, taxi_s=rng.uniform(600.0, 900.0)))
    scene.slow_rpm, scene.full_rpm, scene.rated_a = idle - rng.uniform(40.0, 90.0), 1900.0, rng.uniform(55.0, 75.0)
    idling(rng, scene)
    ohm = rng.uniform(0.028, 0.055) if nominal == 28 else rng.uniform(0.018, 0.035)
    scene.battery = replace(scene.battery, resistance_ohm=ohm)
    ammeter: AmmeterKind = "battery" if rng.random() < 0.75 else "alternator"
    meters = draw_meters(
        rng,
        scene,
        period_s=float(rng.choice([0.5, 1.0, 1.0, 1.0, 2.0])),
        volt_step=float(rng.choice([0.01, 0.05, 0.1])),
    )
    running = rng.random() < 0.6
    what = flown(scene, meters, ammeter, missed_s=scene.at.start + 20.0 if running else 0.0)
    measures = {"battery_resistance": resistance_expected(what), "regulated_voltage": regulated_expected(what)}
    measures |= unknown_start() if running else {"resting_voltage": rest_expected(what)}
    truth = Truth(
        about="a sound trainer whose bus sags at idle",
        ammeter=kind_of(ammeter, sure=not running),
        measures=measures,
        may_advise=frozenset({"output_short"}),
        not_said=NO_DRAW if running else (),
    )
    return case(rng, what, truth, told=running)


def loads_before_start(rng: Draw) -> Case:
    scene = draw_scene(rng, plan=draw_plan(rng, rest_s=rng.uniform(200.0, 400.0)))
    moment = 25.0
    while moment < scene.at.crank - 30.0:
        length = rng.uniform(15.0, 45.0)
        scene.add_load(rng.uniform(4.0, 13.0), moment, min(moment + length, scene.at.crank - 12.0))
        moment += length + rng.uniform(8.0, 25.0)
    ohm = rng.uniform(0.018, 0.04) * (1.0 if scene.scale == 1 else 1.8)
    scene.battery = replace(scene.battery, resistance_ohm=ohm)
    meters = draw_meters(
        rng, scene, period_s=float(rng.choice([0.5, 1.0, 2.0])), volt_step=float(rng.choice([0.01, 0.02, 0.1]))
    )
    ammeter: AmmeterKind = "battery" if rng.random() < 0.8 else "alternator"
    what = flown(scene, meters, ammeter)
    truth = Truth(
        about="load steps before the start",
        ammeter=kind_of(ammeter),
        may_advise=frozenset({"slow_recharge"}),
        measures={
            "battery_resistance": resistance_expected(what),
            "cranking_voltage": crank_expected(what),
            "regulated_voltage": regulated_expected(what),
            "start_attempts": Expected("measured", 1, 1),
        },
    )
    return case(rng, what, truth)


def lost_with_steps(rng: Draw) -> Case:
    scene = draw_scene(rng)
    at = scene.at
    lost = rng.uniform(at.cruise + 200.0, at.descent - 900.0)
    scene.alternator_on &= scene.time_s < lost
    moment = lost + 60.0
    while moment < min(at.landing, lost + 1500.0):
        scene.add_load(rng.uniform(5.0, 12.0), moment, moment + rng.uniform(20.0, 70.0))
        moment += rng.uniform(60.0, 150.0)
    ohm = rng.uniform(0.02, 0.045) * (1.0 if scene.scale == 1 else 1.8)
    scene.battery = replace(scene.battery, resistance_ohm=ohm, charge=0.95)
    meters = draw_meters(
        rng, scene, period_s=float(rng.choice([0.5, 1.0, 2.0])), volt_step=float(rng.choice([0.01, 0.02, 0.1]))
    )
    ammeter: AmmeterKind = "battery" if rng.random() < 0.7 else "alternator"
    what = flown(scene, meters, ammeter)
    must = Must(("alternator_offline",), lost, at.stop, severities=("caution", "warning"))
    minutes = (at.stop - lost) / 60.0
    measures = {"battery_resistance": resistance_expected(what), "regulated_voltage": regulated_expected(what)}
    measures["offline_time"] = Expected("measured", (at.landing - lost) / 60.0 - 3.0, minutes + 1.0)
    truth = Truth(
        about="alternator lost in cruise, loads switched",
        ammeter=kind_of(ammeter),
        musts=(must,),
        may_advise=frozenset({"low_resting_voltage", "battery_offline"}),
        measures=measures,
    )
    return case(rng, what, truth)
