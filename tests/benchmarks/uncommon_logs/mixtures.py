"""Recordings in which several uncommon things meet, as those of old aircraft and of made-over panels do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    NO_DRAW,
    Case,
    case,
    crank_expected,
    either,
    flown,
    kind_of,
    lasting_expected,
    regulated_expected,
    rest_expected,
    tau_expected,
    unknown_start,
)
from tests.benchmarks.uncommon_logs.scenes import Draw, draw_meters, draw_plan, draw_scene, rounded
from tests.benchmarks.uncommon_logs.truth import REFUSED, Expected, Must, Truth


def sparse_running(rng: Draw) -> Case:
    """A row each ten to twenty seconds, from a moment after the start on, with cells left blank."""
    ammeter = either(rng)
    scene = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(2400.0, 4500.0)))
    tau = rng.uniform(200.0, 400.0)
    scene.battery = replace(scene.battery, tau_s=tau, missing_as=rng.uniform(9.0, 18.0) * scene.ampere * tau)
    scene.rated_a = max(scene.rated_a, 60.0)
    period = float(rng.choice([8.0, 10.0, 15.0, 20.0]))
    wakes = scene.at.start + rng.uniform(10.0, 60.0)
    what = flown(scene, draw_meters(rng, scene, period_s=period, amp_step=0.1), ammeter, missed_s=wakes)
    rows = what.record.time_s.size
    for role in ("volts", "amps"):
        what.record.columns[role][rng.random(rows) < 0.03] = np.nan
    measures = unknown_start() | {
        "recharge_time_constant": tau_expected(what, "either", 1.3),
        "regulated_voltage": Expected("either", 0.0, 0.0),
    }
    volts = what.record.columns["volts"]
    middle = float(np.nanmedian(volts[rows // 2 : rows - rows // 5]))
    slack = 0.1 * scene.scale + what.meters.volt_step
    measures["regulated_voltage"] = Expected("measured", middle - slack, middle + slack)
    truth = Truth(
        about=f"a row each {period:.0f} s, begins running",
        ammeter=kind_of(ammeter, sure=False),
        measures=measures,
        may_advise=frozenset({"output_short"}),
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth)


def low_at_idle_all_day(rng: Draw) -> Case:
    """A weak idle: lights on, the bus rests on the battery through two long taxis, and is well in flight."""
    ammeter = either(rng)
    idle = rng.uniform(650.0, 800.0)
    plan = draw_plan(rng, idle_rpm=idle, taxi_s=rng.uniform(500.0, 900.0), taxi_in_s=rng.uniform(400.0, 700.0))
    scene = draw_scene(rng, plan=plan)
    scene.slow_rpm, scene.full_rpm = idle + rng.uniform(80.0, 160.0), 2000.0
    what = flown(scene, draw_meters(rng, scene), ammeter)
    truth = Truth(
        about="an alternator that gives nothing at idle",
        ammeter=kind_of(ammeter),
        measures={
            "resting_voltage": rest_expected(what),
            "cranking_voltage": crank_expected(what),
            "regulated_voltage": regulated_expected(what),
        },
        may_advise=frozenset({"output_short", "alternator_offline", "slow_recharge"}),
    )
    return case(rng, what, truth)


def fast_taper_small_battery(rng: Draw) -> Case:
    """A small sealed battery behind a big alternator: over in a minute or two."""
    ammeter = either(rng)
    scene = draw_scene(rng, nominal=14)
    scene.battery = replace(
        scene.battery,
        capacity_ah=rng.uniform(9.0, 16.0),
        tau_s=rng.uniform(60.0, 120.0),
        missing_as=rng.uniform(400.0, 900.0),
        lasting_a=rng.uniform(0.05, 0.3),
        cranking_ohm=rng.uniform(0.007, 0.01),
    )
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter)
    truth = Truth(
        about="a small battery that is full within minutes",
        ammeter=kind_of(ammeter),
        measures={
            "resting_voltage": rest_expected(what),
            "cranking_voltage": crank_expected(what),
            "regulated_voltage": regulated_expected(what),
        },
        may_advise=frozenset({"reading_fault"}),
    )
    made = case(rng, what, truth)
    made.fleet = ['battery = "sealed"', f"battery_capacity = {scene.battery.capacity_ah:.0f}"]
    return made


def charger_before(rng: Draw) -> Case:
    """A ground charger holds the bus until minutes before the start: no rest, no full battery to be read from it."""
    ammeter = either(rng)
    scene = draw_scene(rng, plan=draw_plan(rng, rest_s=rng.uniform(150.0, 300.0)))
    off = scene.at.crank - rng.uniform(5.0, 20.0)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    time, volts = what.record.time_s, what.record.columns["volts"]
    held = rng.uniform(13.3, 14.0) * scene.scale
    charging = time < off
    volts[charging] = rounded(held + rng.normal(0.0, 0.02, int(charging.sum())), what.meters.volt_step)
    if ammeter == "battery":
        what.record.columns["amps"][charging] = rounded(
            np.abs(rng.normal(1.0, 0.2, int(charging.sum()))), what.meters.amp_step
        )
    truth = Truth(
        about="a ground charger before the start",
        ammeter=(ammeter, "unknown"),
        measures={
            "resting_charge": Expected("either", 60.0, 100.0),
            "cranking_voltage": crank_expected(what),
            "regulated_voltage": regulated_expected(what),
        },
        may_advise=frozenset({"reading_fault"}),
        not_said=(r"no battery (rests|can rest|stands) so high",),
    )
    return case(rng, what, truth, told=True)


def lost_twice(rng: Draw) -> Case:
    """The alternator goes and comes for minutes at a time; a log that begins running."""
    ammeter = either(rng)
    scene = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(3000.0, 4500.0)))
    at = scene.at
    first = rng.uniform(at.cruise + 200.0, at.cruise + 700.0)
    spans = [(first, first + rng.uniform(120.0, 400.0))]
    later = spans[0][1] + rng.uniform(400.0, 900.0)
    spans.append((later, later + rng.uniform(120.0, 400.0)))
    for from_s, to_s in spans:
        scene.alternator_on &= ~scene.between(from_s, to_s)
    missed = at.start + rng.uniform(10.0, 200.0)
    what = flown(scene, draw_meters(rng, scene), ammeter, missed_s=missed)
    away = sum(to_s - from_s for from_s, to_s in spans) / 60.0
    truth = Truth(
        about="the alternator lost twice",
        ammeter=kind_of(ammeter, sure=False),
        musts=tuple(Must(("alternator_offline",), what.at(a), what.at(b)) for a, b in spans),
        measures=unknown_start()
        | {
            "regulated_voltage": regulated_expected(what),
            "offline_time": Expected("measured", away - 1.2, away + 1.2),
        },
        start_recorded=False,
    )
    return case(rng, what, truth)


def volts_only(rng: Draw) -> Case:
    """A voltmeter and a clock, nothing else; begins running or with the start; healthy or lost."""
    scene = draw_scene(rng)
    at = scene.at
    running, lost = bool(rng.random() < 0.4), bool(rng.random() < 0.4)
    lost_s = rng.uniform(at.cruise + 400.0, at.descent - 600.0)
    if lost:
        scene.alternator_on &= scene.time_s < lost_s
    missed = rng.uniform(at.take_off, at.cruise) if running else 0.0
    meters = draw_meters(rng, scene, with_rpm=False, with_speed=False)
    what = flown(scene, meters, None, missed_s=missed)
    measures = {"regulated_voltage": regulated_expected(what, "either" if lost else "measured")}
    measures |= unknown_start() if running else {"resting_voltage": rest_expected(what)}
    measures |= {"recharge_time_constant": REFUSED, "bus_load": REFUSED, "battery_resistance": REFUSED}
    musts = (Must(("alternator_offline",), what.at(lost_s), what.at(at.stop)),) if lost else ()
    truth = Truth(
        about=f"a voltmeter and nothing else{', begins running' if running else ''}{', lost' if lost else ''}",
        ammeter=("none",),
        musts=musts,
        may_advise=frozenset({"low_resting_voltage", "alternator_offline"}),
        measures=measures,
    )
    return case(rng, what, truth)


def hot_set_point(rng: Draw) -> Case:
    """A regulator set too high or too low, in a log that begins running."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    high = bool(rng.random() < 0.5)
    wanted = rng.uniform(14.9, 15.3) if high else rng.uniform(12.95, 13.2)
    scene.set_point_v += wanted * scene.scale - float(np.median(scene.set_point_v))
    what = flown(scene, draw_meters(rng, scene), ammeter, missed_s=scene.at.start + rng.uniform(10.0, 100.0))
    names = ("regulator_high",) if high else ("regulator_low",)
    truth = Truth(
        about=f"a regulator set at {wanted:.1f} V (of 14), begins running",
        ammeter=kind_of(ammeter, sure=False),
        musts=(Must(names, what.at(scene.at.cruise), what.at(scene.at.descent)),),
        may=frozenset({"reading_fault"}) if not high else frozenset(),
        may_advise=frozenset({"low_resting_voltage", "slow_recharge"}),
        measures=unknown_start() | {"regulated_voltage": regulated_expected(what)},
        start_recorded=False,
    )
    return case(rng, what, truth)


def settled_high_running(rng: Draw) -> Case:
    """Begins in cruise with the charging current long settled at what is sound."""
    scene = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(3000.0, 5000.0)))
    scene.battery = replace(scene.battery, lasting_a=rng.uniform(1.5, 2.8) * scene.ampere)
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), "battery", missed_s=scene.at.cruise + 300.0)
    truth = Truth(
        about="begins in cruise, the current settled at some amperes",
        ammeter=("battery",),
        measures=unknown_start()
        | {"regulated_voltage": regulated_expected(what), "maintenance_current": lasting_expected(what)},
        may_advise=frozenset({"recharge_never_settles"}),
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth, told=True)


MIXTURES: tuple[Callable[[Draw], Case], ...] = (
    sparse_running,
    low_at_idle_all_day,
    fast_taper_small_battery,
    charger_before,
    lost_twice,
    volts_only,
    hot_set_point,
    settled_high_running,
)
