"""Uses of aircraft that are not a plain flight, and ammeters and buses that are not plain ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tests.benchmarks.uncommon_logs.boundaries import TWIN_NAMES, twin, twin_record
from tests.benchmarks.uncommon_logs.cases import (
    Case,
    Flown,
    case,
    crank_expected,
    either,
    flown,
    kind_of,
    regulated_expected,
    rest_expected,
    tau_expected,
    unknown_start,
)
from tests.benchmarks.uncommon_logs.scenes import (
    Draw,
    Moments,
    Scene,
    draw_meters,
    draw_plan,
    draw_scene,
    line,
    rounded,
)
from tests.benchmarks.uncommon_logs.truth import REFUSED, Expected, Must, Truth


def _start_expected(what: Flown) -> dict[str, Expected]:
    return {"resting_voltage": rest_expected(what), "cranking_voltage": crank_expected(what)}


def ground_run(rng: Draw) -> Case:
    """An engine run on the ground: warming up, a check at 1800 rpm, and off."""
    ammeter = either(rng)
    plan = draw_plan(
        rng, taxi_s=10.0, climb_s=0.0, cruise_s=0.0, descent_s=rng.uniform(170.0, 300.0),
        taxi_in_s=rng.uniform(20.0, 90.0), warm_s=rng.uniform(200.0, 500.0),
    )  # fmt: skip
    scene = draw_scene(rng, plan=plan)
    at = scene.at
    scene.rpm = line(
        scene.time_s,
        [
            (0.0, 0.0), (at.crank, 0.0), (at.crank + 0.3, 170.0), (at.start - 0.2, 190.0), (at.start + 1.0, 1200.0),
            (at.run_up - 5.0, 1100.0), (at.run_up + 5.0, 1800.0), (at.run_up + 90.0, 1800.0),
            (at.run_up + 95.0, 1000.0), (at.stop - 1.0, 1000.0), (at.stop + 3.0, 0.0), (at.end + 1.0, 0.0),
        ],
    )  # fmt: skip
    scene.speed_kt[:], scene.height_ft[:] = 0.0, scene.height_ft[0]
    what = flown(scene, draw_meters(rng, scene), ammeter)
    truth = Truth(
        about="an engine run on the ground",
        ammeter=kind_of(ammeter, sure=False),
        measures=_start_expected(what) | {"regulated_voltage": regulated_expected(what, "either")},
        start_recorded=True,
    )
    return case(rng, what, truth)


def long_taxi(rng: Draw) -> Case:
    """Half an hour of taxi near idle; the recorder may wake up in it."""
    ammeter = either(rng)
    scene = draw_scene(
        rng, plan=draw_plan(rng, taxi_s=rng.uniform(1300.0, 2400.0), cruise_s=rng.uniform(600.0, 1500.0))
    )
    running = rng.random() < 0.5
    missed = scene.at.start + rng.uniform(8.0, 40.0) if running else 0.0
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter, missed_s=missed)
    measures = {"regulated_voltage": regulated_expected(what)}
    measures |= unknown_start() if running else _start_expected(what)
    measures["recharge_time_constant"] = tau_expected(what, "either", 1.4)
    truth = Truth(
        about="a long taxi before the flight",
        ammeter=kind_of(ammeter, sure=not running),
        measures=measures,
        may_advise=frozenset({"output_short"}),
        start_recorded=not running,
    )
    return case(rng, what, truth)


def two_runs(rng: Draw) -> Case:
    """Two engine runs in one power cycle, minutes apart: passengers change."""
    ammeter = either(rng)
    first = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(700.0, 1500.0), after_s=rng.uniform(60.0, 200.0)))
    plan = draw_plan(rng, cruise_s=rng.uniform(1200.0, 2200.0), rest_s=rng.uniform(60.0, 300.0))
    second = draw_scene(rng, nominal=first.nominal, plan=plan)
    second.set_point_v += float(np.median(first.set_point_v) - np.median(second.set_point_v))
    second.battery = replace(first.battery, charge=0.96, missing_as=0.5 * first.battery.missing_as)
    meters = draw_meters(rng, first)
    one, two = flown(first, meters, ammeter), flown(second, meters, ammeter)
    expected = _start_expected(two) | {"regulated_voltage": regulated_expected(two)}
    runs = (first.at.stop - first.at.crank, second.at.stop - second.at.crank)
    if set(one.record.columns) != set(two.record.columns):
        raise ValueError("two runs of one aircraft are recorded alike")
    two.record = one.record.joined(two.record, first.at.end + meters.period_s)
    truth = Truth(
        about="two engine runs in one power cycle",
        flights=(2,),
        ammeter=kind_of(ammeter),
        of_flight=1,
        measures=expected,
        spans=tuple((0.92 * run - 20.0, run + 620.0) for run in runs),
    )
    return case(rng, two, truth)


def several_starts(rng: Draw) -> Case:
    """A hot engine: several cranks of some seconds until it runs."""
    ammeter = either(rng)
    attempts = int(rng.integers(2, 5))
    scene = draw_scene(rng, plan=draw_plan(rng, rest_s=rng.uniform(120.0, 220.0)))
    at, time = scene.at, scene.time_s
    ohm = float(np.median(scene.starter_ohm[scene.between(at.crank + 1.0, at.start)]))
    moment = at.crank
    for _ in range(attempts - 1):
        lasts = rng.uniform(3.0, 6.0)
        moment -= lasts + rng.uniform(10.0, 22.0)
        turning = scene.between(moment, moment + lasts)
        scene.starter_ohm[turning] = ohm * (1.0 + 0.06 * np.sin(time[turning] * 9.0))
        scene.rpm[turning] = rng.uniform(140.0, 190.0)
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([0.25, 0.5, 1.0, 1.0, 2.0]))), ammeter)
    truth = Truth(
        about=f"{attempts} cranks until it runs",
        ammeter=kind_of(ammeter),
        measures={
            "regulated_voltage": regulated_expected(what),
            "start_attempts": Expected("measured", attempts, attempts),
        },
        start_recorded=True,
    )
    return case(rng, what, truth)


def cycling_load(rng: Draw) -> Case:
    """A heater that its thermostat switches, or a hydraulic pump: a load that comes and goes all flight long."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    moment, amps = scene.at.take_off, rng.uniform(5.0, 14.0)
    on, off = rng.uniform(3.0, 60.0), rng.uniform(10.0, 90.0)
    while moment < scene.at.landing:
        length = on * rng.uniform(0.9, 1.1)
        scene.add_load(amps, moment, moment + length)
        moment += length + off * rng.uniform(0.9, 1.1)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    truth = Truth(
        about=f"a load of {amps:.0f} A, {on:.0f} s on and {off:.0f} s off",
        ammeter=kind_of(ammeter),
        measures=_start_expected(what) | {"regulated_voltage": regulated_expected(what)},
    )
    return case(rng, what, truth)


def ammeter_offset(rng: Draw) -> Case:
    """A battery ammeter that is amperes off at zero: seen at rest, where the load is known to be small."""
    scene = draw_scene(rng)
    scene.load_a[: int(scene.at.start / 0.25)] *= 0.3
    off = float(rng.choice([-1.0, 1.0])) * rng.uniform(1.5, 3.5)
    what = flown(scene, draw_meters(rng, scene, amp_zero=off), "battery")
    truth = Truth(
        about=f"a battery ammeter {off:+.1f} A off",
        ammeter=("battery",),
        measures=_start_expected(what)
        | {"regulated_voltage": regulated_expected(what), "offline_time": Expected("either", 0.0, 0.3)},
        may_advise=frozenset({"reading_fault", "recharge_never_settles", "output_short"}),
    )
    return case(rng, what, truth, told=True)


def clipped_ammeter(rng: Draw) -> Case:
    """A battery ammeter that shows nothing below zero."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene, amp_zero=0.0), "battery")
    what.record.columns["amps"] = np.maximum(0.0, what.record.columns["amps"])
    truth = Truth(
        about="a battery ammeter that shows no discharge",
        ammeter=("battery", "unknown"),
        measures=_start_expected(what) | {"regulated_voltage": regulated_expected(what)},
        may_advise=frozenset({"reading_fault"}),
    )
    return case(rng, what, truth, told=True)


def both_ammeters(rng: Draw) -> Case:
    """One ammeter in the battery's lead and another in the alternator's."""
    scene = draw_scene(rng)
    meters = draw_meters(rng, scene)
    what = flown(scene, meters, "battery")
    index = np.round(what.record.time_s / 0.25).astype(int)
    output = what.course.source_a[index] + rng.normal(0.0, meters.amp_noise, index.size)
    what.record.columns["output"] = rounded(output, meters.amp_step)
    lost = rng.uniform(scene.at.cruise + 300.0, scene.at.descent - 300.0) if rng.random() < 0.4 else None
    measures = _start_expected(what)
    if lost is not None:
        scene.alternator_on &= scene.time_s < lost
        what = flown(scene, meters, "battery")
        output = what.course.source_a[index] + rng.normal(0.0, meters.amp_noise, index.size)
        what.record.columns["output"] = rounded(output, meters.amp_step)
    truth = Truth(
        about=f"ammeters of battery and alternator{', alternator lost' if lost else ''}",
        musts=(Must(("alternator_offline",), lost, scene.at.stop, severities=("caution", "warning")),) if lost else (),
        may_advise=frozenset({"low_resting_voltage"}) if lost else frozenset(),
        measures=measures | {"regulated_voltage": regulated_expected(what)},
    )
    made = case(rng, what, truth, names={"amps": "Battery amps", "output": "Alternator amps"})
    made.truth = replace(truth, roles={"battery_current": "Battery amps", "alternator_current": "Alternator amps"})
    return made


def two_buses(rng: Draw) -> Case:
    """A second bus behind a diode or a long wire, its column first in the file."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    columns, time = what.record.columns, what.record.time_s
    drop = rng.uniform(0.2, 0.8)
    fed = (time > scene.at.start + 30.0) & (time < scene.at.stop - 10.0)  # behind its own switch
    second = np.where(fed, columns["volts"] - drop, 0.0)
    what.record.columns = {"volts_2": rounded(second, what.meters.volt_step), **columns}
    name = str(rng.choice(["Avionics bus volts", "Essential bus (V)", "Bus 2 volts"]))
    truth = Truth(
        about=f"a second bus {drop:.1f} V lower, behind a switch of its own",
        ammeter=kind_of(ammeter),
        measures=_start_expected(what) | {"regulated_voltage": regulated_expected(what)},
    )
    made = case(rng, what, truth, names={"volts_2": name, "volts": "Main bus volts"})
    made.truth = replace(truth, roles={"bus_voltage": "Main bus volts"})
    return made


def twin_one_lost(rng: Draw) -> Case:
    """One of two alternators lost in the air: its load moves to the other, which holds the bus."""
    scene, second = twin(rng)
    at = scene.at
    lost = rng.uniform(at.cruise + 200.0, at.descent - 600.0)
    number = int(rng.integers(1, 3))
    on = [scene.alternator_on.copy(), scene.alternator_on.copy()]
    on[number - 1] &= scene.time_s < lost
    what = twin_record(rng, scene, second, (on[0], on[1]), ammeter=True)
    must = Must(
        ("alternator_offline",), lost, at.stop, severities=("caution", "warning"), evidence=(("alternator", number),)
    )
    truth = Truth(
        about=f"alternator {number} of two lost, the other holds the bus",
        ammeter=("alternator",),
        musts=(must,),
        measures={"regulated_voltage": regulated_expected(what), "resting_voltage": rest_expected(what)},
        not_said=(r"battery carried",),
    )
    return case(rng, what, truth, names={k: v for k, v in TWIN_NAMES.items() if k in what.record.columns})


def lost_while_running(rng: Draw) -> Case:
    """A log that begins in the air and shows the alternator lost."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    at = scene.at
    lost = rng.uniform(at.cruise + 500.0, at.descent - 300.0)
    scene.alternator_on &= scene.time_s < lost
    wakes = rng.uniform(at.take_off, at.cruise)
    what = flown(scene, draw_meters(rng, scene), ammeter, missed_s=wakes)
    must = Must(("alternator_offline",), what.at(lost), what.at(at.stop), severities=("caution", "warning"))
    truth = Truth(
        about="begins in the air, alternator lost",
        ammeter=kind_of(ammeter, sure=False),
        musts=(must,),
        may_advise=frozenset({"low_resting_voltage"}),
        measures=unknown_start() | {"regulated_voltage": regulated_expected(what, "either")},
        start_recorded=False,
    )
    return case(rng, what, truth)


def load_in_percent(rng: Draw) -> Case:
    """An alternator's load meter in percent of its rating: no ammeter."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), "alternator")
    amps = what.record.columns.pop("amps")
    what.record.columns["percent_load"] = np.clip(np.round(100.0 * amps / scene.rated_a), 0.0, 110.0)
    name = str(rng.choice(["Alternator load (%)", "Alt load %", "Gen load [%]"]))
    truth = Truth(
        about="an alternator's load in percent",
        ammeter=("none", "unknown"),
        measures=_start_expected(what) | {"regulated_voltage": regulated_expected(what), "bus_load": REFUSED},
        roles={"alternator_current": None, "battery_current": None, "ammeter_current": None},
    )
    return case(rng, what, truth, names={"percent_load": name})


def backwards_shunt(rng: Draw) -> Case:
    """An alternator's ammeter with its leads swapped: its output reads below zero."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene, amp_zero=0.0), "alternator")
    what.record.columns["amps"] = -what.record.columns["amps"]
    truth = Truth(
        about="an alternator's ammeter with its leads swapped",
        measures=_start_expected(what)
        | {"regulated_voltage": regulated_expected(what), "offline_time": Expected("either", 0.0, 0.3)},
        may_advise=frozenset({"reading_fault"}),
    )
    return case(rng, what, truth, told=True)


def circuits(rng: Draw) -> Case:
    """Touch and go after touch and go: idle glides, flaps and lights, full power again."""
    ammeter = either(rng)
    scene = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(1800.0, 3000.0)))
    at = scene.at
    _circuits(rng, scene, at)
    what = flown(scene, draw_meters(rng, scene), ammeter)
    truth = Truth(
        about="circuits",
        ammeter=kind_of(ammeter),
        measures=_start_expected(what) | {"regulated_voltage": regulated_expected(what)},
        may_advise=frozenset({"output_short"}),
    )
    return case(rng, what, truth)


def _circuits(rng: Draw, scene: Scene, at: Moments) -> None:
    moment = at.cruise
    while moment < at.descent - 300.0:
        glide = scene.between(moment + 160.0, moment + 160.0 + rng.uniform(60.0, 110.0))
        scene.rpm[glide] = rng.uniform(1050.0, 1500.0)
        scene.rpm[scene.between(moment, moment + 70.0)] = rng.uniform(2350.0, 2600.0)
        for flaps in (150.0, 190.0):
            scene.add_load(rng.uniform(6.0, 12.0), moment + flaps, moment + flaps + 4.0)
        moment += rng.uniform(280.0, 380.0)


USES: tuple[Callable[[Draw], Case], ...] = (
    ground_run,
    long_taxi,
    two_runs,
    several_starts,
    cycling_load,
    ammeter_offset,
    clipped_ammeter,
    both_ammeters,
    two_buses,
    twin_one_lost,
    lost_while_running,
    load_in_percent,
    backwards_shunt,
    circuits,
)
