"""Habits of recorders: rows of units, headers that come again, cells left empty, marks for no reading, slow rows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

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
    rest_expected,
    unknown_start,
)
from tests.benchmarks.uncommon_logs.physics import Flags
from tests.benchmarks.uncommon_logs.scenes import Draw, draw_meters, draw_plan, draw_scene
from tests.benchmarks.uncommon_logs.truth import Expected, Truth

#: Units as a row of their own shows them, and headings that then name none.
UNITS = {
    "rpm": "1/min", "air": "deg C", "speed": "kt", "volts": "V", "amps": "A", "oil": "deg F", "egt": "deg F",
    "flow": "gal/h", "volts_2": "V",
}  # fmt: skip
BARE = {"rpm": "Engine speed", "air": "Outside air", "speed": "Air speed", "volts": "Bus"}
BARE_AMPS = {"battery": ("Battery", "Battery current"), "alternator": ("Alternator output", "Alternator")}
#: What recorders write where a probe gives nothing.
MARKS = ("-", "---", "N/A", "nan", "-999", "-999.9", "9999", "32767", "*", "?")


def _sound(what: Flown, about: str, *, sure: bool = True) -> Truth:
    """Truth of a sound aircraft whose file is odd."""
    return Truth(
        about=about,
        ammeter=kind_of(what.ammeter, sure=sure),
        measures={
            "regulated_voltage": regulated_expected(what),
            "resting_voltage": rest_expected(what),
            "cranking_voltage": crank_expected(what),
            "offline_time": Expected("either", 0.0, 0.3),
        },
        spans=((0.95 * (what.scene.at.stop - what.scene.at.crank) - 30.0, what.end + 10.0),),
        start_recorded=True,
    )


def _crank_seen(what: Flown, step_s: float) -> Expected:
    """Lowest bus voltage while cranking, where the volts stand in fewer rows than the recorder writes."""
    seen = replace(what, record=what.record.keep(what.record.time_s % step_s < 1e-6))
    return crank_expected(seen)


def _roles(made: Case) -> Case:
    """With the columns of volts and amperes asked for."""
    names = made.layout.names
    made.truth = replace(made.truth, roles={"bus_voltage": names["volts"], "engine_speed": names["rpm"]})
    return made


def units_row(rng: Draw) -> Case:
    """Headings without units, and a row of units below (or above) them."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    scene.extra["oil"] = np.round(90.0 + 90.0 * (1.0 - np.exp(-scene.time_s / 600.0)))
    what = flown(scene, draw_meters(rng, scene), ammeter)
    made = case(rng, what, _sound(what, "a row of units below the header"), told=False)
    made.layout.names |= {role: name for role, name in BARE.items() if role in made.layout.names}
    made.layout.names |= {"amps": str(rng.choice(BARE_AMPS[ammeter])), "oil": "Oil"}
    made.layout.units = UNITS
    return _roles(made)


def header_again(rng: Draw) -> Case:
    """The header comes again within the file, as where pieces were put together."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), either(rng))
    made = case(rng, what, _sound(what, "the header again within the file"))
    rows = what.record.time_s.size
    made.layout.header_before_rows = tuple(sorted(int(row) for row in rng.integers(20, rows - 5, rng.integers(1, 4))))
    return _roles(made)


def marks_for_nothing(rng: Draw) -> Case:
    """A mark stands where a probe gave nothing: single cells, and some stretches."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), either(rng))
    truth = _sound(what, "marks where there is no reading")
    made = case(rng, what, replace(truth, may_advise=frozenset({"reading_fault"})))
    made.layout.empty = str(rng.choice(MARKS))
    rows = what.record.time_s.size
    for role in ("volts", "amps", "rpm"):
        values = what.record.columns[role]
        values[rng.random(rows) < rng.uniform(0.01, 0.08)] = np.nan
    first = int(rng.integers(rows // 2, rows - rows // 8))
    what.record.columns["amps"][first : first + rows // 30] = np.nan
    made.truth = replace(made.truth, about=f"{made.truth.about}: {made.layout.empty!r}")
    return _roles(made)


def streams_in_turn(rng: Draw) -> Case:
    """Two units write rows in turn, each leaving the other's cells empty."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([0.25, 0.5, 1.0]))), either(rng))
    made = case(rng, what, _sound(what, "two units write rows in turn"))
    share = int(rng.integers(2, 5))
    step = share * what.meters.period_s  # of the rows that hold the volts
    made.truth = replace(made.truth, measures={**made.truth.measures, "cranking_voltage": _crank_seen(what, step)})
    own: Flags = np.arange(what.record.time_s.size) % share == 0
    electric = ("volts", "amps") if rng.random() < 0.5 else ("volts", "amps", "rpm")
    for role, values in what.record.columns.items():
        values[~own if role in electric else own] = np.nan
    return _roles(made)


def slow_rows(rng: Draw) -> Case:
    """A row each ten to thirty seconds."""
    ammeter = either(rng)
    scene = draw_scene(rng, plan=draw_plan(rng, rest_s=rng.uniform(60.0, 240.0)))
    period = float(rng.choice([10.0, 12.0, 15.0, 20.0, 30.0]))
    what = flown(scene, draw_meters(rng, scene, period_s=period), ammeter)
    truth = _sound(what, f"a row each {period:.0f} s", sure=False)
    return case(rng, what, replace(truth, start_recorded=None, may_advise=frozenset({"slow_recharge"})))


def whole_seconds(rng: Draw) -> Case:
    """Several rows a second under a clock of whole seconds."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([0.25, 0.5]))), either(rng))
    truth = _sound(what, "several rows a second, whole seconds")
    what.record.time_s = np.floor(what.record.time_s)
    return _roles(case(rng, what, truth, clock="two"))


def whole_minutes(rng: Draw) -> Case:
    """A clock of hours and minutes only, rows a few seconds apart."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([1.0, 2.0, 5.0, 6.0]))), either(rng))
    truth = _sound(what, "a clock of whole minutes")
    what.record.time_s = 60.0 * np.floor(what.record.time_s / 60.0)
    made = case(rng, what, truth, clock="two")
    made.layout.clock_form = "%H:%M"
    return _roles(made)


def rows_twice(rng: Draw) -> Case:
    """Some rows are written twice, and some a moment late, after the row that follows them."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene, period_s=float(rng.choice([1.0, 1.0, 2.0]))), either(rng))
    rows = np.arange(what.record.time_s.size)
    order = np.sort(np.concatenate((rows, rows[rng.random(rows.size) < 0.02])))
    late = np.flatnonzero(rng.random(order.size - 1) < 0.004)
    order[late], order[late + 1] = order[late + 1].copy(), order[late].copy()
    truth = _sound(what, "rows written twice, and some late")
    what.record.time_s = what.record.time_s[order]
    what.record.columns = {role: values[order] for role, values in what.record.columns.items()}
    return _roles(case(rng, what, truth, clock="two"))


def over_midnight(rng: Draw) -> Case:
    """A clock without a date that passes midnight in flight."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), either(rng))
    made = case(rng, what, _sound(what, "a clock without a date passes midnight"), clock="time")
    made.layout.began = made.layout.began.replace(hour=23, minute=int(rng.integers(20, 50)))
    return _roles(made)


def wakes_in_cruise(rng: Draw) -> Case:
    """A short piece of a flight: it begins in cruise, long after the recharge, and ends in the air."""
    ammeter = either(rng)
    scene = draw_scene(rng, plan=draw_plan(rng, cruise_s=rng.uniform(3600.0, 5400.0)))
    scene.battery = replace(scene.battery, tau_s=rng.uniform(150.0, 240.0))
    wakes = scene.at.cruise + rng.uniform(900.0, 1500.0)
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter, missed_s=wakes)
    lasts = rng.uniform(480.0, 1500.0)
    measures = unknown_start() | {"regulated_voltage": regulated_expected(what)}
    if ammeter == "battery":
        measures["maintenance_current"] = replace(lasting_expected(what), need="either")
    what.record = what.record.keep(what.record.time_s < wakes + lasts)
    truth = Truth(
        about="a piece of a flight, from cruise to cruise",
        ammeter=kind_of(ammeter, sure=False),
        measures=measures,
        not_said=NO_DRAW,
        start_recorded=False,
    )
    return case(rng, what, truth)


def ends_in_air(rng: Draw) -> Case:
    """The recorder stops while the aircraft flies."""
    scene = draw_scene(rng)
    what = flown(scene, draw_meters(rng, scene), either(rng))
    truth = replace(_sound(what, "the recorder stops in the air"), spans=())
    what.record = what.record.keep(what.record.time_s < rng.uniform(scene.at.cruise + 600.0, scene.at.descent))
    return case(rng, what, truth)


def coarse_meters(rng: Draw) -> Case:
    """Volts in steps of a fifth or a half, whole amperes or steps of two, and a dead band about zero."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    step = float(rng.choice([0.2, 0.25, 0.5])) * (scene.scale if rng.random() < 0.5 else 1)
    amp_step = float(rng.choice([1.0, 2.0]))
    what = flown(scene, draw_meters(rng, scene, volt_step=step, amp_step=amp_step), ammeter)
    amps = what.record.columns["amps"]
    amps[np.abs(amps) < rng.uniform(0.0, 2.5)] = 0.0
    truth = _sound(what, f"steps of {step:g} V and {amp_step:g} A", sure=ammeter == "alternator")
    return case(rng, what, truth)


def noisy_meters(rng: Draw) -> Case:
    """An alternator's ripple in the voltmeter, and an ammeter that trembles, with the engine running."""
    ammeter = either(rng)
    scene = draw_scene(rng)
    ripple, tremble = rng.uniform(0.04, 0.08) * scene.scale, rng.uniform(0.8, 2.0)
    what = flown(scene, draw_meters(rng, scene, amp_step=0.1), ammeter)
    index = np.round(what.record.time_s / 0.25).astype(int)
    live = scene.rpm[index] > 500.0
    columns, size = what.record.columns, what.record.time_s.size
    columns["volts"] = np.round(columns["volts"] + live * rng.normal(0.0, ripple, size), 2)
    columns["amps"] = np.round(columns["amps"] + live * rng.normal(0.0, tremble, size), 1)
    truth = replace(
        _sound(what, "ripple in the voltmeter, a trembling ammeter"),
        may_advise=frozenset({"regulator_hunting", "unsteady_connection"}),
    )
    return case(rng, what, truth)


HABITS: tuple[Callable[[Draw], Case], ...] = (
    units_row,
    header_again,
    marks_for_nothing,
    streams_in_turn,
    slow_rows,
    whole_seconds,
    whole_minutes,
    rows_twice,
    over_midnight,
    wakes_in_cruise,
    ends_in_air,
    coarse_meters,
    noisy_meters,
)
