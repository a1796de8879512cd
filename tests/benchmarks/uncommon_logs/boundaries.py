"""Twins, recorders that stop or set their clock, and a battery that rests after shutdown."""

from __future__ import annotations

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    ALL,
    Case,
    Flown,
    case,
    crank_expected,
    either,
    flown,
    kind_of,
    regulated_expected,
    rest_expected,
)
from tests.benchmarks.uncommon_logs.physics import Array, Flags
from tests.benchmarks.uncommon_logs.scenes import Draw, Scene, draw_meters, draw_plan, draw_scene, rounded
from tests.benchmarks.uncommon_logs.truth import REFUSED, Expected, Must, Truth


def twin(rng: Draw) -> tuple[Scene, Array]:
    """A sound twin of 28 V (or 14 V) and its second engine's speed."""
    scene = draw_scene(rng, nominal=28 if rng.random() < 0.7 else 14)
    second = np.where(scene.rpm > 0, np.maximum(0.0, scene.rpm + rng.uniform(-15.0, 25.0)), 0.0)
    second[scene.between(0.0, scene.at.start + 25.0)] = 0.0
    return scene, second


def twin_record(rng: Draw, scene: Scene, second: Array, on: tuple[Flags, Flags], ammeter: bool) -> Flown:
    rated = scene.rated_a

    def gives(rpm: Array, linked: Flags) -> Array:
        found: Array = rated * np.clip((rpm - scene.slow_rpm) / (scene.full_rpm - scene.slow_rpm), 0.0, 1.0) * linked
        return found

    one, two = gives(scene.rpm, on[0]), gives(second, on[1])
    scene.available_a = one + two
    what = flown(scene, draw_meters(rng, scene, with_speed=True), "alternator" if ammeter else None)
    index = np.round(what.record.time_s / 0.25).astype(int)
    share = np.where(one + two > 0, one / np.maximum(one + two, 1e-9), 0.5)
    source, columns, meters = what.course.source_a, what.record.columns, what.meters
    made = {"rpm": columns["rpm"], "rpm_2": np.round(second[index] / 10.0) * 10.0}
    made |= {k: v for k, v in columns.items() if k not in ("rpm", "amps")}
    if ammeter:
        for name, part in (("amps", share), ("amps_2", 1.0 - share)):
            noise = rng.normal(0.0, meters.amp_noise, index.size)
            made[name] = rounded((source * part)[index] + noise, meters.amp_step)
    what.record.columns = made
    return what


TWIN_NAMES = {"rpm": "E1 RPM", "rpm_2": "E2 RPM", "amps": "Alt 1 amps", "amps_2": "Alt 2 amps"}


def twin_shutdown(rng: Draw) -> Case:
    scene, second = twin(rng)
    at = scene.at
    from_s = rng.uniform(at.cruise + 200.0, at.descent - 1000.0)
    to_s = from_s + rng.uniform(240.0, 800.0)
    still = scene.between(from_s, to_s)
    stopped_first = rng.random() < 0.5
    (scene.rpm if stopped_first else second)[still] = 0.0
    what = twin_record(rng, scene, second, (scene.alternator_on, scene.alternator_on), bool(rng.random() < 0.8))
    truth = Truth(
        about="a twin with one engine shut down in the air and started again",
        ammeter=kind_of(what.ammeter),
        measures={
            "regulated_voltage": regulated_expected(what),
            "resting_voltage": rest_expected(what),
            "offline_time": Expected("either", 0.0, 0.5),
            "start_attempts": Expected("either", 1, 2),
        },
        spans=((0.9 * (at.stop - at.crank), what.end + 5.0),),
    )
    return case(rng, what, truth, names={k: v for k, v in TWIN_NAMES.items() if k in what.record.columns})


def twin_both_lost(rng: Draw) -> Case:
    scene, second = twin(rng)
    at = scene.at
    from_s = rng.uniform(at.cruise + 200.0, at.cruise + 0.3 * (at.descent - at.cruise))
    to_s = min(from_s + rng.uniform(900.0, 1400.0), at.descent)
    on = scene.alternator_on & ~scene.between(from_s, to_s)
    if rng.random() < 0.4:  # and one engine shut down meanwhile
        second[scene.between(from_s + 60.0, to_s - 60.0)] = 0.0
    what = twin_record(rng, scene, second, (on, on), bool(rng.random() < 0.8))
    truth = Truth(
        about="a twin that loses both alternators for a while",
        ammeter=kind_of(what.ammeter),
        musts=(Must(("alternator_offline",), from_s, to_s, severities=("caution", "warning")),),
        measures={
            "regulated_voltage": regulated_expected(what),
            "offline_time": Expected("measured", (to_s - from_s) / 60.0 - 1.5, (to_s - from_s) / 60.0 + 1.5),
        },
        spans=((0.9 * (at.stop - at.crank), what.end + 5.0),),
        may_advise=frozenset({"slow_recharge"}),
    )
    return case(rng, what, truth, names={k: v for k, v in TWIN_NAMES.items() if k in what.record.columns})


def clock_set(rng: Draw) -> Case:
    scene = draw_scene(rng)
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, with_speed=True), ammeter)
    moment = rng.uniform(scene.at.taxi, scene.at.descent)
    if rng.random() < 0.5:  # back: no gap does that
        jump = -float(np.exp(rng.uniform(np.log(900.0), np.log(3e6))))
    else:  # on by more than any flight could last
        jump = rng.uniform(0.9, 40.0) * 86400.0
    time = what.record.time_s
    what.record.time_s = np.where(time >= moment, time + round(jump), time)
    length = scene.at.stop - scene.at.crank
    truth = Truth(
        about="the recorder's clock is set in flight, readings run on",
        ammeter=kind_of(ammeter),
        may_advise=ALL,
        measures={
            "regulated_voltage": regulated_expected_of(what, time),
            "resting_voltage": rest_expected(what),
            "offline_time": Expected("either", 0.0, 0.5),
        },
        spans=((0.95 * length - 60.0, 1.1 * what_end(time) + 60.0),),
    )
    return case(rng, what, truth, clock="two" if rng.random() < 0.5 else "one")


def what_end(time: Array) -> float:
    """Length of a record by its true clock [s]."""
    return float(time[-1] - time[0])


def regulated_expected_of(what: Flown, time: Array) -> Expected:
    """Regulated voltage of a record whose clock was moved, by its true clock."""
    moved, what.record.time_s = what.record.time_s, time
    expected = regulated_expected(what)
    what.record.time_s = moved
    return expected


def reboot_in_air(rng: Draw) -> Case:
    scene = draw_scene(rng)
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, with_speed=True), ammeter)
    moment = rng.uniform(scene.at.cruise + 100.0, scene.at.descent - 700.0)
    back = moment + rng.uniform(25.0, 500.0)
    time = what.record.time_s
    regulated, rest = regulated_expected(what), rest_expected(what)
    what.record.columns["cycle"] = np.where(time >= back, 2.0, 1.0)
    what.record = what.record.keep((time < moment) | (time >= back))
    truth = Truth(
        about="the recorder loses power in the air and comes back",
        ammeter=kind_of(ammeter),
        may_advise=ALL,
        measures={
            "regulated_voltage": regulated,
            "resting_voltage": rest,
            "offline_time": Expected("either", 0.0, 0.5),
        },
        says=(r"(bus|lost|loss of|without) power|power (to|of) the (bus|recorder)|power (was|may have been) lost",),
    )
    return case(rng, what, truth, clock="two" if rng.random() < 0.5 else "one", names={"cycle": "Power cycle"})


def joined_downloads(rng: Draw) -> Case:
    """Two flights in one file: the first cut off in the air, the second from before its start, days apart."""
    scene = draw_scene(rng)
    ammeter = either(rng)
    meters = draw_meters(rng, scene, with_speed=True)
    first = flown(scene, meters, ammeter)
    cut = rng.uniform(scene.at.cruise + 300.0, scene.at.descent)
    early = first.record.keep(first.record.time_s < cut)
    again = draw_scene(rng, nominal=scene.nominal)
    second = flown(again, meters, ammeter)
    days = float(rng.choice([-1.0, 1.0])) * rng.uniform(0.3, 80.0) * 86400.0
    shift = cut + round(days)
    rest, crank, regulated = rest_expected(second), crank_expected(second), regulated_expected(second)
    second.record = early.joined(second.record, shift)
    truth = Truth(
        about="two downloads joined in one file",
        flights=(2,),
        ammeter=kind_of(ammeter),
        may_advise=ALL,
        of_flight=1,
        measures={"resting_voltage": rest, "cranking_voltage": crank, "regulated_voltage": regulated},
        spans=(
            (0.9 * (cut - scene.at.crank), cut + 10.0),
            (0.9 * (again.at.stop - again.at.crank), again.at.end + 10.0),
        ),
    )
    return case(rng, second, truth, clock="two" if rng.random() < 0.5 else "one")


def power_off_dip(rng: Draw) -> Case:
    scene = draw_scene(rng, plan=draw_plan(rng, rest_s=rng.uniform(150.0, 260.0)))
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([0.5, 1.0, 2.0]))), ammeter)
    from_s = rng.uniform(20.0, 50.0)
    to_s = from_s + rng.uniform(12.0, 60.0)
    time, columns = what.record.time_s, what.record.columns
    off = (time >= from_s) & (time < to_s)
    rest, crank = rest_expected(what), crank_expected(what)
    fading = 12.0 * np.exp(-(time[off] - from_s) / 2.0)
    columns["volts"][off] = rounded(np.minimum(fading, 9.5) * (fading > 0.4), 0.1)
    columns["amps"][off] = 0.0
    truth = Truth(
        about="power switched off and on before the start: no crank",
        ammeter=kind_of(ammeter),
        may_advise=ALL,
        measures={"start_attempts": Expected("measured", 1, 1), "cranking_voltage": crank, "resting_voltage": rest},
    )
    return case(rng, what, truth)


def long_gap(rng: Draw) -> Case:
    scene = draw_scene(
        rng, plan=draw_plan(rng, cruise_s=rng.uniform(4200.0, 6000.0), cruise_rpm=rng.uniform(2150.0, 2300.0))
    )
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, with_speed=True), ammeter)
    from_s = rng.uniform(scene.at.take_off + 120.0, scene.at.cruise - 70.0)  # so that readings do not run on
    to_s = from_s + rng.uniform(660.0, 1700.0)
    rest, regulated = rest_expected(what), regulated_expected(what, "either")
    time = what.record.time_s
    what.record = what.record.keep((time < from_s) | (time >= to_s))
    truth = Truth(
        about="the recorder off for more than ten minutes in the air",
        flights=(2,),
        ammeter=kind_of(ammeter, sure=False),
        may_advise=ALL,
        measures={"resting_voltage": rest, "regulated_voltage": regulated},
    )
    return case(rng, what, truth, told=True)


def no_clock(rng: Draw) -> Case:
    scene = draw_scene(rng)
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=1.0), ammeter)
    truth = Truth(
        about="no clock at all: rows are counted",
        ammeter=kind_of(ammeter),
        may_advise=ALL,
        measures={"regulated_voltage": regulated_expected(what), "resting_voltage": rest_expected(what)},
        spans=((0.95 * (scene.at.stop - scene.at.crank) - 30.0, what.end + 5.0),),
    )
    return case(rng, what, truth, clock="none")


def rest_after(rng: Draw) -> Case:
    scene = draw_scene(rng, plan=draw_plan(rng, after_s=rng.uniform(3000.0, 4200.0)))
    at = scene.at
    scene.load_a[scene.between(at.stop)] = rng.uniform(0.6, 2.6)
    scene.add_load(rng.uniform(3.0, 7.0), at.stop, at.stop + rng.uniform(60.0, 500.0))
    what = flown(scene, draw_meters(rng, scene, with_rpm=False, with_speed=bool(rng.random() < 0.4)), None)
    truth = Truth(
        about="an hour of rest after shutdown, no rpm, no ammeter",
        ammeter=kind_of(None),
        may_advise=ALL - {"alternator_offline"},
        measures={
            "regulated_voltage": regulated_expected(what),
            "resting_voltage": rest_expected(what),
            "offline_time": Expected("either", 0.0, 1.0),
            "battery_resistance": REFUSED,
        },
    )
    return case(rng, what, truth)
