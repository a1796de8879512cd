"""Columns that are not what they seem."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from tests.benchmarks.uncommon_logs.cases import (
    ALL,
    Case,
    Flown,
    case,
    either,
    flown,
    kind_of,
    regulated_expected,
    rest_expected,
)
from tests.benchmarks.uncommon_logs.files import Clock
from tests.benchmarks.uncommon_logs.physics import Array
from tests.benchmarks.uncommon_logs.scenes import AmmeterKind, Draw, Scene, draw_meters, draw_scene
from tests.benchmarks.uncommon_logs.truth import REFUSED, Truth


def _with_column(
    rng: Draw, name: str, values: Callable[[Scene], Array], ammeter: AmmeterKind | None
) -> tuple[Flown, str]:
    scene = draw_scene(rng)
    scene.extra[name] = values(scene)
    meters = draw_meters(rng, scene)
    return flown(scene, meters, ammeter), name


def _column_truth(rng: Draw, what: Flown, about: str, roles: Mapping[str, str | None]) -> Truth:
    measures = {"regulated_voltage": regulated_expected(what), "resting_voltage": rest_expected(what)}
    return Truth(about=about, ammeter=kind_of(what.ammeter), measures=measures, roles=roles, may_advise=ALL)


def columns_setting(rng: Draw) -> Case:
    name = str(rng.choice(["KnobBaroA", "AltSetA", "AltKnobA", "AltimSetA", "SubscaleA", "AltQnhA"]))
    inches = rng.uniform(29.7, 30.3)
    ammeter = either(rng) if rng.random() < 0.35 else None
    what, name = _with_column(rng, name, lambda s: np.where(s.time_s > s.at.taxi, round(inches, 2), 29.92), ammeter)
    roles: dict[str, str | None] = {"alternator_current": None, "battery_current": None, "ammeter_current": None}
    truth = _column_truth(
        rng, what, "a barometer setting whose heading ends in a capital letter", roles if ammeter is None else {}
    )
    return case(rng, what, truth)


def columns_height(rng: Draw) -> Case:
    name = str(rng.choice(["AltitudeA", "HeightA", "AltIndA", "AltBaroA", "AltPressA", "AltMslV", "HeightV"]))
    ammeter = either(rng) if rng.random() < 0.35 else None
    what, name = _with_column(rng, name, lambda s: np.round(s.height_ft), ammeter)
    roles: dict[str, str | None] = {}
    if ammeter is None:
        roles = {"alternator_current": None, "battery_current": None, "ammeter_current": None}
    made = case(rng, what, _column_truth(rng, what, "a height whose heading ends in a capital letter", roles))
    made.truth = replace(made.truth, roles=roles | {"bus_voltage": made.layout.names["volts"], "bus_voltage_2": None})
    return made


def columns_still_current(rng: Draw) -> Case:
    scene = draw_scene(rng)
    level = float(rng.choice([0.0, -0.1, 0.3, 1.2]))
    meters = draw_meters(rng, scene)
    what = flown(scene, meters, None)
    noise = rng.choice([0.0, 0.0, 0.1], what.record.time_s.size)
    what.record.columns["amps"] = np.round(level + noise, 1)
    truth = replace(
        _column_truth(rng, what, "a current that never moves", {}),
        ammeter=("none", "unknown"),
        measures={
            "regulated_voltage": regulated_expected(what),
            "recharge_time_constant": REFUSED,
            "maintenance_current": REFUSED,
            "bus_load": REFUSED,
            "battery_resistance": REFUSED,
        },
    )
    return case(rng, what, truth, told=False)


def columns_false_time(rng: Draw) -> Case:
    scene = draw_scene(rng)
    name = str(rng.choice(["CAS", "Cas", "cas"]))
    scene.extra[name] = np.maximum(0.0, np.round(scene.speed_kt + rng.normal(0.0, 1.0, scene.time_s.size)))
    clock: Clock = "none" if rng.random() < 0.6 else "two"
    ammeter = either(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=1.0, with_speed=False), ammeter)
    length = scene.at.stop - scene.at.crank
    truth = replace(
        _column_truth(rng, what, "an airspeed abbreviated as another language writes time", {}),
        spans=((0.95 * length - 30.0, what.end + 5.0),),
    )
    made = case(rng, what, truth, clock=clock)
    if rng.random() < 0.5:  # and in the first place
        columns = made.record.columns
        made.record.columns = {name: columns[name], **{k: v for k, v in columns.items() if k != name}}
    return made


def columns_repeated_header(rng: Draw) -> Case:
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), either(rng))
    made = case(rng, what, _column_truth(rng, what, "a '#' line that repeats the header", {}))
    made.layout.repeat_as_comment = True
    made.truth = replace(made.truth, roles={"bus_voltage": made.layout.names["volts"]})
    return made


def columns_second_bus(rng: Draw) -> Case:
    scene = draw_scene(rng)
    scene.extra["volts_2"] = np.zeros(scene.time_s.size)
    what = flown(scene, draw_meters(rng, scene), either(rng) if rng.random() < 0.7 else None)
    made = case(rng, what, _column_truth(rng, what, "a second bus that is not fitted", {}))
    if rng.random() < 0.5:
        made.layout.cells = {"volts_2": ""}
    made.truth = replace(made.truth, roles={"bus_voltage": made.layout.names["volts"], "bus_voltage_2": None})
    return made
