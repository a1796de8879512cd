"""Voltmeters that are dead, die in flight or read wrong, and a bus that dies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    VOLTMETER,
    Case,
    Flown,
    case,
    either,
    flown,
    kind_of,
    no_voltage,
    regulated_expected,
    rest_expected,
    tau_expected,
)
from tests.benchmarks.uncommon_logs.physics import Array
from tests.benchmarks.uncommon_logs.scenes import Draw, draw_meters, draw_scene, rounded
from tests.benchmarks.uncommon_logs.truth import REFUSED, Expected, Must, Truth


def dead_channel(rng: Draw, rows: int) -> Array:
    """Readings of a voltmeter that is not connected [V]: next to nothing, but for a few blips."""
    volts = rounded(np.abs(rng.normal(rng.uniform(0.0, 0.3), 0.05, rows)), 0.1)
    for place in rng.integers(0, rows, int(rng.integers(0, 4))):
        volts[place] = round(rng.uniform(3.0, 9.0), 1)  # a blip
    return volts


def dead_volts(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(rng)
    scene.add_load(rng.uniform(4.0, 8.0), scene.at.cruise + 300.0, scene.at.cruise + 900.0)
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter)
    columns = what.record.columns
    columns["volts"] = dead_channel(rng, what.record.time_s.size)
    must = Must(("reading_fault",), 0.0, what.end, severities=("advisory",))
    measures = no_voltage() | {"recharge_time_constant": tau_expected(what, "either", 1.2)}
    if ammeter == "alternator":
        measures["bus_load"] = _load_expected(what)
    truth = Truth(
        about=f"dead voltmeter beside a sound {ammeter} ammeter",
        ammeter=kind_of(ammeter),
        musts=(must,),
        measures=measures,
        not_said=(r"down to 0\.\d V",),
    )
    return case(rng, what, truth)


def _load_expected(what: Flown, need: str = "measured") -> Expected:
    """Typical load in steady flight [A]; up to the lasting charge and a small taper more."""
    scene, course = what.scene, what.course
    steady = scene.between(scene.at.cruise + 300.0, scene.at.descent)
    load = float(np.median(scene.load_a[steady]))
    output = float(np.median(course.source_a[steady]))
    slack = 1.2 + what.meters.amp_step / 2 + abs(what.meters.amp_zero)
    return Expected(need, min(load, output) - slack, max(load, output) + slack)  # type: ignore[arg-type]


def bus_dies(rng: Draw) -> Case:
    """The whole bus goes dead in flight, the ammeter with it; the recorder lives on a battery of its own."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    dies = rng.uniform(scene.at.cruise + 200.0, scene.at.descent - 200.0)
    measures = {"regulated_voltage": regulated_expected(what, "either"), "resting_voltage": rest_expected(what)}
    dead = what.record.time_s >= dies
    what.record.columns["volts"][dead] = rounded(np.abs(rng.normal(0.0, 0.03, int(dead.sum()))), 0.1)
    what.record.columns["amps"][dead] = rounded(
        rng.normal(what.meters.amp_zero, 0.1, int(dead.sum())), what.meters.amp_step
    )
    must = Must(("battery_offline",), dies, scene.at.stop)
    truth = Truth(
        about="the bus and the ammeter go dead with the engine running",
        ammeter=kind_of(ammeter),
        musts=(must,),
        may=frozenset({"alternator_offline", "reading_fault"}),
        measures=measures,
    )
    return case(rng, what, truth)


def voltmeter_dies(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(rng)
    scene.add_load(rng.uniform(4.0, 9.0), scene.at.cruise + 60.0, scene.at.landing)
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter)
    dies = rng.uniform(scene.at.cruise + 400.0, scene.at.descent - 200.0)
    measures = {"regulated_voltage": regulated_expected(what, "either"), "resting_voltage": rest_expected(what)}
    dead = what.record.time_s >= dies
    what.record.columns["volts"][dead] = rounded(np.abs(rng.normal(0.0, 0.03, int(dead.sum()))), 0.1)
    must = Must(("reading_fault",), dies, scene.at.stop)
    truth = Truth(
        about="the voltmeter dies in flight, the current goes on as before",
        ammeter=kind_of(ammeter),
        musts=(must,),
        measures=measures,
    )
    return case(rng, what, truth)


def output_gone(rng: Draw) -> Case:
    scene = draw_scene(rng, nominal=14)
    scene.rated_a = rng.uniform(72.0, 90.0)
    at = scene.at
    load = rng.uniform(46.0, 58.0) - scene.load_a[int((at.cruise + 500.0) / 0.25)]
    scene.add_load(load, at.take_off, at.stop - 60.0)
    lost = rng.uniform(at.cruise + 300.0, at.descent - 200.0)
    scene.alternator_on &= scene.time_s < lost
    scene.battery = replace(scene.battery, capacity_ah=60.0)
    what = flown(scene, draw_meters(rng, scene), "alternator")
    gone = (what.record.time_s >= lost) & (what.record.time_s < lost + 3.0)
    what.record.columns["amps"][gone] = np.round(np.linspace(40.0, 5.0, int(gone.sum())), 0)
    what.record.columns["volts"] = dead_channel(rng, what.record.time_s.size)
    musts = (
        Must(("alternator_offline",), lost, at.stop, severities=("caution", "warning")),
        Must(("reading_fault",), 0.0, what.end),
    )
    truth = Truth(
        about="50 A gone in three seconds at steady rpm, voltmeter dead",
        ammeter=kind_of("alternator"),
        musts=musts,
        measures=no_voltage(),
    )
    return case(rng, what, truth)


def low_voltmeter(rng: Draw) -> Case:
    ammeter = either(rng) if rng.random() < 0.5 else None
    scene = draw_scene(rng)
    off = -rng.uniform(1.0, 2.0) * scene.scale
    what = flown(scene, draw_meters(rng, scene, volt_error=off), ammeter)
    below = scene.battery.rest_v(scene.battery.charge) + off < 11.4 * scene.scale
    must = Must(("reading_fault", "regulator_low", "low_resting_voltage"), 0.0, what.end, VOLTMETER)
    may = frozenset({"reading_fault", "regulator_low"}) | (frozenset() if below else frozenset({"low_resting_voltage"}))
    truth = Truth(
        about=f"the voltmeter reads {-off:.1f} V low, {ammeter or 'no'} ammeter",
        ammeter=kind_of(ammeter),
        musts=(must,),
        may=may,
        may_advise=frozenset({"low_resting_voltage"}),
        measures={
            "recharge_time_constant": tau_expected(what, "either", 1.3),
            "offline_time": Expected("either", 0.0, 0.5),
        },
        not_said=(r"a cell may be dead", r"dead cell"),
    )
    if below:
        truth = replace(truth, measures={**truth.measures, "resting_charge": REFUSED})
    return case(rng, what, truth)


def high_voltmeter(rng: Draw) -> Case:
    ammeter = either(rng) if rng.random() < 0.6 else None
    scene = draw_scene(rng)
    off = rng.uniform(0.7, 1.3) * scene.scale
    what = flown(scene, draw_meters(rng, scene, volt_error=off), ammeter)
    must = Must(("reading_fault", "regulator_high"), 0.0, what.end, VOLTMETER)
    truth = Truth(
        about=f"the voltmeter reads {off:.1f} V high",
        ammeter=kind_of(ammeter),
        musts=(must,),
        not_said=(r"no battery (rests|can rest|stands) so high",),
        measures={"offline_time": Expected("either", 0.0, 1.0)},
    )
    return case(rng, what, truth)


def path_resistance(rng: Draw) -> Case:
    ammeter = either(rng)
    scene = draw_scene(rng)
    ohm = rng.uniform(0.06, 0.1) * scene.scale
    for _ in range(4):
        from_s = rng.uniform(scene.at.cruise, scene.at.descent - 300.0)
        scene.add_load(rng.uniform(4.0, 10.0), from_s, from_s + rng.uniform(120.0, 600.0))
    what = flown(scene, draw_meters(rng, scene, path_ohm=ohm, amp_step=0.1, volt_step=0.05), ammeter)
    must = Must(
        ("reading_fault", "regulator_low", "unsteady_connection"),
        scene.at.start,
        what.end,
        (*VOLTMETER, r"path", r"resistance", r"connection"),
    )
    truth = Truth(
        about="the voltmeter behind a resistance: low, and moving with load",
        ammeter=kind_of(ammeter),
        musts=(must,),
        may_advise=frozenset({"low_resting_voltage", "regulator_drift"}),
        measures={"offline_time": Expected("either", 0.0, 1.0)},
    )
    return case(rng, what, truth)
