"""Sound flights with innocent pictures."""

from __future__ import annotations

from tests.benchmarks.uncommon_logs.cases import (
    ALL,
    Case,
    case,
    crank_expected,
    either,
    flown,
    kind_of,
    regulated_expected,
    rest_expected,
    tau_expected,
)
from tests.benchmarks.uncommon_logs.scenes import Draw, draw_meters, draw_scene
from tests.benchmarks.uncommon_logs.truth import Truth


def plain(rng: Draw) -> Case:
    ammeter = either(rng) if rng.random() < 0.85 else None
    scene = draw_scene(rng)
    at = scene.at
    habit = str(rng.choice(["none", "radio", "night", "gear", "late", "strobes", "check"]))
    if habit == "night":
        scene.add_load(rng.uniform(4.0, 10.0), at.start + 60.0, at.stop - 40.0)
    if habit == "gear":
        scene.add_load(rng.uniform(12.0, 25.0), at.take_off + 30.0, at.take_off + 37.0)
        scene.add_load(rng.uniform(12.0, 25.0), at.landing - 220.0, at.landing - 214.0)
    if habit == "strobes":
        on = scene.between(at.start + 60.0, at.landing) & ((scene.time_s % 1.4) < 0.4)
        scene.load_a[on] += rng.uniform(3.0, 7.0)
    if habit == "late":
        scene.alternator_on &= scene.time_s > at.start + rng.uniform(30.0, 120.0)
    if habit == "check":
        scene.alternator_on &= ~scene.between(at.run_up + 20.0, at.run_up + rng.uniform(25.0, 38.0))
    if habit == "radio":
        scene.add_load(rng.uniform(2.0, 5.0), at.take_off, at.landing)
    rpm = bool(rng.random() < 0.85)
    what = flown(scene, draw_meters(rng, scene, with_rpm=rpm), ammeter)
    measures = {
        "resting_voltage": rest_expected(what),
        "regulated_voltage": regulated_expected(what),
        "cranking_voltage": crank_expected(what),
    }
    if ammeter:
        measures["recharge_time_constant"] = tau_expected(what, "either", 1.2)
    truth = Truth(
        about=f"a sound flight ({habit}{'' if rpm else ', no rpm'})",
        ammeter=kind_of(ammeter),
        measures=measures,
        may_advise=ALL,
        nominal=(scene.nominal,),
        start_recorded=True,
        says=(r'"resting_charge": \{"value": null|taken as lead.acid',),
    )
    return case(rng, what, truth)
