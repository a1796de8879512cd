"""Batteries that are not lead-acid, systems that are not one alternator, and the switch of one that is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    BATTERY_OPEN,
    SWITCH,
    Case,
    case,
    crank_expected,
    either,
    flown,
    kind_of,
    regulated_expected,
    rest_expected,
)
from tests.benchmarks.uncommon_logs.scenes import AmmeterKind, Draw, draw_meters, draw_plan, draw_scene, rounded
from tests.benchmarks.uncommon_logs.truth import REFUSED, Expected, Must, Truth


def lithium(rng: Draw) -> Case:
    level = str(rng.choice(["half", "low", "full"]))
    charge = {"half": (0.4, 0.6), "low": (0.1, 0.15), "full": (0.95, 0.985)}[level]
    scene = draw_scene(rng, nominal=14, plan=draw_plan(rng, rest_s=rng.uniform(90.0, 180.0)), lithium=True)
    scene.battery = replace(scene.battery, charge=rng.uniform(*charge))
    scene.rated_a = rng.uniform(38.0, 55.0)
    high = rng.random() < 0.2
    if high:
        scene.set_point_v += 14.85 - float(np.median(scene.set_point_v))
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, volt_step=0.01 if rng.random() < 0.6 else 0.1), ammeter)
    known = rng.random() < 0.5
    percent = 100.0 * scene.battery.charge
    measures: dict[str, Expected] = {
        "resting_voltage": rest_expected(what),
        "cranking_voltage": crank_expected(what),
        "regulated_voltage": regulated_expected(what),
    }
    hours = (
        scene.battery.charge
        * scene.battery.capacity_ah
        / float(np.median(scene.load_a[scene.between(scene.at.cruise, scene.at.descent)]))
    )
    says: tuple[str, ...] = ()
    if known:
        measures["resting_charge"] = Expected("fair_band", percent, percent, 85.0)  # refused under load
        measures["endurance"] = Expected("either", 0.0, 70.0 * hours)
    elif level == "low":
        says = (r'"resting_charge": \{"value": null|taken as lead.acid',)
    elif level == "full":  # nothing tells it from a lead-acid battery, and of a full one as much may be said
        measures["resting_charge"] = Expected("either", percent - 15.0, 100.0)
    else:
        measures["resting_charge"] = REFUSED
        measures["endurance"] = REFUSED
    musts: tuple[Must, ...] = ()
    if high:
        names = ("regulator_high",) if known else ("regulator_high", "reading_fault")
        musts = (Must(names, scene.at.cruise, scene.at.descent),)
    may_advise = frozenset() if known else frozenset({"reading_fault", "low_resting_voltage", "slow_recharge"})
    truth = Truth(
        about=f"lithium, {level}{', high set point' if high else ''}{', fleet file' if known else ''}",
        ammeter=kind_of(ammeter),
        musts=musts,
        may=frozenset({"low_resting_voltage"}) if level == "low" else frozenset(),  # it is nearly empty
        measures=measures,
        says=says,
        may_advise=may_advise,
        not_said=(r"no battery (rests|can rest|stands) so high", *((r"sulphat",) if known or level == "half" else ())),
    )
    made = case(rng, what, truth)
    if known:
        made.fleet = ['battery = "lithium_iron_phosphate"', f"battery_capacity = {scene.battery.capacity_ah:.0f}"]
    return made


def backup_battery(rng: Draw) -> Case:
    scene = draw_scene(rng)
    at, time = scene.at, scene.time_s
    weak = rng.random() < 0.5
    rest = (rng.uniform(11.0, 11.6) if weak else rng.uniform(12.7, 12.9)) * scene.scale
    sag = rng.uniform(0.5, 0.9) if weak else rng.uniform(0.15, 0.3)
    test = (time > 20.0) & (time < min(55.0, at.crank - 5.0))
    volts = rest - sag * scene.scale * (1.0 - np.exp(-np.maximum(time - 20.0, 0.0) / 6.0)) * test
    charging = np.clip((time - at.start - 5.0) / 60.0, 0.0, 1.0) * (time < at.stop)
    target = float(np.median(scene.set_point_v)) - 0.5 * scene.scale
    volts += charging * (target - volts) * (0.8 if weak else 1.0)
    ammeter = either(rng)
    scene.extra["backup"] = rounded(volts + rng.normal(0.0, 0.02 * scene.scale, time.size), 0.1)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    musts = (Must(("low_resting_voltage",), 0.0, at.start, evidence=(("battery", 2),)),) if weak else ()
    truth = Truth(
        about=f"a backup battery, {'low' if weak else 'sound'}",
        ammeter=kind_of(ammeter),
        musts=musts,
        measures={"resting_voltage": rest_expected(what), "regulated_voltage": regulated_expected(what)},
    )
    made = case(rng, what, truth)
    made.truth = replace(
        truth, roles={"backup_voltage": made.layout.names["backup"], "bus_voltage": made.layout.names["volts"]}
    )
    return made


def turbine(rng: Draw) -> Case:
    plan = draw_plan(rng, crank_s=rng.uniform(22.0, 35.0), rest_s=rng.uniform(50.0, 120.0))
    scene = draw_scene(rng, nominal=28, plan=plan)
    at, time = scene.at, scene.time_s
    turning = scene.between(at.crank, at.start)
    share = (time - at.crank) / (at.start - at.crank)
    percent = np.interp(scene.rpm, [0.0, 900.0, 1800.0, 2400.0, 2650.0], [0.0, 62.0, 78.0, 90.0, 98.0])
    percent = np.where(turning, 52.0 * np.clip(share, 0.0, 1.0), percent)
    percent = np.where(
        scene.between(at.start, at.start + 15.0), np.interp(time, [at.start, at.start + 15.0], [52.0, 63.0]), percent
    )
    scene.battery = replace(
        scene.battery,
        capacity_ah=rng.uniform(36.0, 44.0),
        cranking_ohm=rng.uniform(0.008, 0.011),
        resistance_ohm=0.014,
        missing_as=0.0,
        tau_s=rng.uniform(150.0, 300.0),
        charge=0.97,
    )
    amps = np.interp(share, [0.0, 0.05, 0.5, 1.0], [900.0, 650.0, 380.0, 180.0])
    scene.starter_ohm = np.where(turning, (25.0 - amps * scene.battery.cranking_ohm) / amps, np.inf)
    scene.load_a += rng.uniform(15.0, 35.0)
    generator_on = at.start + rng.uniform(15.0, 60.0)
    scene.available_a = np.float64(200.0) * ((time > generator_on) & (time < at.stop))
    scene.extra["percent"] = np.round(percent, 1)
    ammeter = either(rng)
    what = flown(
        scene,
        draw_meters(rng, scene, with_rpm=False, amp_step=1.0, period_s=float(rng.choice([0.5, 1.0, 2.0]))),
        ammeter,
    )
    truth = Truth(
        about="a turbine with a starter-generator",
        ammeter=kind_of(ammeter),
        measures={
            "resting_voltage": rest_expected(what),
            "cranking_voltage": crank_expected(what),
            "regulated_voltage": regulated_expected(what),
            "cranking_time": Expected("measured", 0.6 * plan.crank_s, 1.35 * plan.crank_s + 2.0),
            "start_attempts": Expected("measured", 1, 1),
        },
        not_said=(r"impulse", r"magneto"),
        may_advise=frozenset({"slow_recharge"}),
    )
    made = case(rng, what, truth)
    made.truth = replace(truth, roles={"engine_speed_percent": made.layout.names["percent"]})
    if rng.random() < 0.5:
        made.fleet = ['source = "starter_generator"']
    return made


def permanent_magnet(rng: Draw) -> Case:
    scene = draw_scene(rng, nominal=14)
    at = scene.at
    scene.rpm *= rng.uniform(1.9, 2.2)
    scene.load_a[:] = rng.uniform(1.5, 3.0)
    scene.add_load(rng.uniform(5.0, 7.0), at.start + 30.0, at.stop - 15.0)
    state = str(rng.choice(["sound", "overload", "lost"]))
    scene.battery = replace(
        scene.battery, capacity_ah=rng.uniform(14.0, 22.0), missing_as=0.4 * scene.battery.missing_as
    )
    scene.rated_a = rng.uniform(18.0, 22.0)
    scene.slow_rpm, scene.full_rpm = 900.0, 5000.0
    musts: tuple[Must, ...] = ()
    may: frozenset[str] = frozenset()
    if state == "overload":
        scene.add_load(scene.rated_a - 4.0, at.cruise + 200.0, at.descent)
        musts = (
            Must(
                ("output_short", "regulator_low", "alternator_offline"),
                at.cruise + 200.0,
                at.descent,
                (r"load", r"demand", r"rating|rated", r"capacity|capab", r"output"),
            ),
        )
        may = frozenset({"output_short", "regulator_low"})
    if state == "lost":
        lost = rng.uniform(at.cruise + 200.0, at.descent - 600.0)
        scene.alternator_on &= scene.time_s < lost
        musts = (Must(("alternator_offline",), lost, at.stop),)
    ammeter: AmmeterKind = "battery" if rng.random() < 0.7 else "alternator"
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter)
    measures = {"resting_voltage": rest_expected(what)}
    if state != "overload":  # what a bus is held at that the battery helps to carry is a matter of words
        measures["regulated_voltage"] = regulated_expected(what, "measured" if state == "sound" else "either")
    known = rng.random() < 0.7
    truth = Truth(
        about=f"a permanent-magnet dynamo, {state}",
        ammeter=kind_of(ammeter),
        musts=musts,
        may=may,
        may_advise=frozenset({"output_short", "low_resting_voltage"}),
        measures=measures,
        no_causes=(r"brush",) if known else (),
        not_said=(r"brush", r"field (wire|circuit|winding)") if known else (),
    )
    made = case(rng, what, truth)
    if known:
        made.fleet = ['source = "permanent_magnet"']
    return made


def dc_generator(rng: Draw) -> Case:
    scene = draw_scene(rng, nominal=14)
    at = scene.at
    scene.rated_a = rng.uniform(28.0, 38.0)
    gives = np.where(scene.rpm > rng.uniform(1150.0, 1350.0), np.clip(scene.rpm / 1900.0, 0.0, 1.0), 0.0)
    scene.available_a = scene.rated_a * gives * scene.alternator_on
    scene.load_a[:] = rng.uniform(3.0, 4.5)
    scene.add_load(rng.uniform(3.0, 7.0), at.start + 40.0, at.stop - 20.0)
    lost_at: float | None = None
    if rng.random() < 0.35:
        lost_at = rng.uniform(at.cruise + 200.0, at.descent - 600.0)
        scene.available_a *= scene.time_s < lost_at
    ammeter: AmmeterKind = "battery"
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter)
    musts = (Must(("alternator_offline",), lost_at, at.stop),) if lost_at else ()
    truth = Truth(
        about=f"a d.c. generator without charge at idle{', lost in cruise' if lost_at else ''}",
        ammeter=kind_of(ammeter),
        musts=musts,
        may_advise=frozenset({"output_short"}),
        measures={"resting_voltage": rest_expected(what), "regulated_voltage": regulated_expected(what)},
    )
    made = case(rng, what, truth)
    if rng.random() < 0.5:
        made.fleet = ['source = "dc_generator"']
    return made


def contactor_open(rng: Draw) -> Case:
    ammeter: AmmeterKind = "battery" if rng.random() < 0.7 else "alternator"
    scene = draw_scene(rng)
    at = scene.at
    opened = rng.uniform(at.cruise + 100.0, at.descent - 600.0)
    back = at.end + 1.0 if rng.random() < 0.6 else rng.uniform(opened + 400.0, at.landing)
    away = scene.between(opened, back)
    scene.battery_on &= ~away
    count = scene.time_s.size
    scene.restless_v = rng.normal(0.0, rng.uniform(0.2, 0.45) * scene.scale, count) * away
    steps = np.flatnonzero(np.diff(scene.load_a) > 1.0)
    for step in steps:  # a load step is a dip without a battery
        scene.restless_v[step : step + 4] -= 0.8 * scene.scale * away[step]
    turning = (scene.rpm > 500.0) & scene.alternator_on  # it carries the loads alone, else the bus would be gone
    scene.available_a = np.where(away & turning, scene.rated_a, scene.source_a())
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([0.5, 1.0, 1.0, 2.0, 4.0]))), ammeter)
    must = Must(
        ("battery_offline", "unsteady_connection", "regulator_hunting"), opened, min(back, at.stop), BATTERY_OPEN
    )
    truth = Truth(
        about="the battery's contactor opens in flight",
        ammeter=kind_of(ammeter),
        musts=(must,),
        may=frozenset({"regulator_hunting"}),
        measures={"resting_voltage": rest_expected(what), "regulated_voltage": regulated_expected(what)},
    )
    return case(rng, what, truth)


def switch_never(rng: Draw) -> Case:
    ammeter = either(rng)
    plan = draw_plan(rng, cruise_s=rng.uniform(900.0, 2000.0), climb_s=300.0)
    scene = draw_scene(rng, plan=plan)
    scene.alternator_on[:] = False
    scene.battery = replace(scene.battery, charge=0.97)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    must = Must(("alternator_offline",), scene.at.take_off, scene.at.stop, SWITCH)
    truth = Truth(
        about="the alternator's switch is never on",
        ammeter=kind_of(ammeter, sure=ammeter == "battery"),
        musts=(must,),
        measures={
            "resting_voltage": rest_expected(what),
            "cranking_voltage": crank_expected(what),
            "regulated_voltage": REFUSED,
            "recharge_time_constant": REFUSED,
        },
        may_advise=frozenset({"low_resting_voltage"}),
    )
    return case(rng, what, truth, told=None if ammeter == "battery" else True)


def switch_off_on(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(rng)
    from_s = rng.uniform(scene.at.cruise + 200.0, scene.at.descent - 900.0)
    to_s = from_s + rng.uniform(150.0, 600.0)
    scene.alternator_on &= ~scene.between(from_s, to_s)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    must = Must(("alternator_offline",), from_s, to_s, SWITCH)
    truth = Truth(
        about="the alternator's switch knocked off and on again at steady rpm",
        ammeter=kind_of(ammeter),
        musts=(must,),
        measures={
            "resting_voltage": rest_expected(what),
            "regulated_voltage": regulated_expected(what),
            "offline_time": Expected("measured", (to_s - from_s) / 60.0 - 0.6, (to_s - from_s) / 60.0 + 0.6),
        },
    )
    return case(rng, what, truth)
