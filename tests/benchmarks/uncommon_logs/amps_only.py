"""Aircraft with an ammeter and no voltmeter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    Case,
    Flown,
    case,
    either,
    flown,
    kind_of,
    lasting_expected,
    no_voltage,
    tau_expected,
)
from tests.benchmarks.uncommon_logs.scenes import AmmeterKind, Draw, Scene, draw_meters, draw_plan, draw_scene
from tests.benchmarks.uncommon_logs.truth import Must, Truth
from tests.benchmarks.uncommon_logs.voltmeters import _load_expected


def _amps_only(rng: Draw, scene: Scene, ammeter: AmmeterKind, *, rpm: bool = True, fine: bool = False) -> Flown:
    """A flight of which only the ammeter is recorded; a fine one moves by its noise at each row or two."""
    meters = draw_meters(rng, scene, amp_step=0.1 if fine else float(rng.choice([0.1, 0.1, 0.5])), with_rpm=rpm)
    what = flown(scene, replace(meters, amp_noise=max(meters.amp_noise, 0.12)) if fine else meters, ammeter)
    del what.record.columns["volts"]
    return what


def amps_only(rng: Draw) -> Case:
    ammeter = either(rng)
    rpm = bool(rng.random() < 0.75)
    scene = draw_scene(rng)
    at = scene.at
    from_s = rng.uniform(at.cruise + 300.0, at.descent - 600.0)
    scene.add_load(rng.uniform(3.0, 8.0), from_s, from_s + rng.uniform(200.0, 900.0))
    what = _amps_only(rng, scene, ammeter, rpm=rpm)
    clear = float(scene.battery.missing_as) / scene.battery.tau_s > 5.0 * scene.ampere
    measures = no_voltage() | {
        "recharge_time_constant": tau_expected(what, "measured" if clear and ammeter == "battery" else "either", 1.2)
    }
    if ammeter == "alternator":
        measures["bus_load"] = _load_expected(what)
    else:
        measures["maintenance_current"] = lasting_expected(what)
    truth = Truth(
        about=f"no voltmeter, a sound {ammeter} ammeter{'' if rpm else ', no rpm'}",
        ammeter=kind_of(ammeter),
        measures=measures,
        nominal=(None,),
        spans=((0.85 * (at.stop - at.start), what.end + 5.0),),
    )
    return case(rng, what, truth, told=None if rpm else True)


def amps_only_lost(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(rng)
    at = scene.at
    lost = rng.uniform(at.cruise + 200.0, at.descent - 300.0)
    scene.alternator_on &= scene.time_s < lost
    what = _amps_only(rng, scene, ammeter)
    must = Must(("alternator_offline",), lost, at.stop, severities=("caution", "warning"))
    truth = Truth(
        about=f"no voltmeter, the alternator lost, {ammeter} ammeter",
        ammeter=kind_of(ammeter),
        musts=(must,),
        measures=no_voltage(),
        nominal=(None,),
    )
    return case(rng, what, truth)


def amps_only_never_settles(rng: Draw) -> Case:
    scene = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(2700.0, 4500.0)))
    scene.battery = replace(scene.battery, lasting_a=rng.uniform(9.0, 15.0))
    what = _amps_only(rng, scene, "battery")
    must = Must(("recharge_never_settles",), scene.at.cruise, scene.at.descent)
    truth = Truth(
        about="no voltmeter, the charging current stays high",
        ammeter=kind_of("battery"),
        musts=(must,),
        measures=no_voltage(),
    )
    return case(rng, what, truth, told=True)


def amps_only_stuck(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(rng)
    what = _amps_only(rng, scene, ammeter, fine=True)
    stuck = rng.uniform(scene.at.cruise - 100.0, scene.at.cruise + 400.0)
    rows = what.record.time_s >= stuck
    amps = what.record.columns["amps"]
    amps[rows] = amps[int(np.argmax(rows))]
    must = Must(("reading_fault",), stuck, what.end)
    truth = Truth(
        about="no voltmeter, the ammeter sticks in flight",
        ammeter=kind_of(ammeter),
        musts=(must,),
        measures=no_voltage(),
    )
    return case(rng, what, truth)
