"""A drawn log with its truth, and what is true of its measures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from tests.benchmarks.uncommon_logs.files import Clock, Layout, draw_layout, draw_tail
from tests.benchmarks.uncommon_logs.physics import Course
from tests.benchmarks.uncommon_logs.scenes import AmmeterKind, Draw, Meters, Record, Scene, record
from tests.benchmarks.uncommon_logs.truth import (
    FINDINGS,
    REFUSED,
    START_MEASURES,
    VOLTAGE_MEASURES,
    Expected,
    Need,
    Truth,
)

ALL = frozenset(FINDINGS)
SWITCH = (r"switch", r"turned off", r"never (turned|switched) on", r"not (turned|switched) on")
VOLTMETER = (r"volt ?meter", r"\bmeter", r"instrument", r"sens", r"calibrat", r"offset", r"reading")
BATTERY_OPEN = (
    r"batter\w*.{0,60}(off the bus|off line|disconnect|contactor|relay|open|cable|connection|loose|isolat|protect)",
    r"(contactor|relay|open|loose|disconnect|isolat|protect)\w*.{0,60}batter",
)


@dataclass(slots=True)
class Case:
    """One log with its truth; ``fleet`` are lines of its table in a fleet file."""

    kind: str
    tail: str
    record: Record
    layout: Layout
    truth: Truth
    fleet: list[str] = field(default_factory=list)
    number: int = 0
    beside: list[Case] = field(default_factory=list)  # other flights of the same aircraft, reviewed in the same call


@dataclass(slots=True)
class Flown:
    """A scene with its course and record, and how many seconds of it the recorder missed."""

    scene: Scene
    course: Course
    meters: Meters
    record: Record
    ammeter: AmmeterKind | None
    missed_s: float = 0.0

    def at(self, seconds: float) -> float:
        """A moment of the scene on the log's time axis [s]."""
        return seconds - self.missed_s

    @property
    def end(self) -> float:
        """The last row on the log's time axis [s]."""
        return self.at(float(self.record.time_s[-1]))


def flown(scene: Scene, meters: Meters, ammeter: AmmeterKind | None, *, missed_s: float = 0.0) -> Flown:
    """Fly a scene and record it from some moment on."""
    course = scene.fly()
    whole = record(scene, course, meters, ammeter)
    kept = whole.keep(whole.time_s >= missed_s)
    return Flown(scene, course, meters, kept, ammeter, float(kept.time_s[0]))


def case(
    rng: Draw,
    what: Flown,
    truth: Truth,
    *,
    told: bool | None = None,
    clock: Clock | None = None,
    names: Mapping[str, str] | None = None,
) -> Case:
    """Put a flown scene into a file."""
    told = rng.random() < 0.5 if told is None else told
    layout = draw_layout(rng, what.record.columns, told=what.ammeter if told else None, clock=clock)
    layout.names.update(names or {})
    return Case("", draw_tail(rng), what.record, layout, truth)


def rest_expected(what: Flown) -> Expected:
    """Resting voltage, from what the bus shows under its loads to what it would show without."""
    scene, course = what.scene, what.course
    resting = (course.time_s > min(8.0, 0.3 * scene.at.crank)) & (course.time_s < scene.at.crank - 0.5)
    low = float(course.bus_v[resting].min())
    high = scene.battery.rest_v(scene.battery.charge)
    loads = float(scene.load_a[resting].max())  # brought to no load over a resistance that must be assumed
    slack = 0.06 * scene.scale + what.meters.volt_step + 0.004 * scene.scale * loads
    need: Need = "measured" if scene.at.crank - what.missed_s > 10 * what.meters.period_s else "either"
    return Expected(need, low + what.meters.volt_error - slack, high + what.meters.volt_error + slack)


def crank_expected(what: Flown) -> Expected:
    """Lowest bus voltage while cranking: between the true one and what rows show of it."""
    scene, course = what.scene, what.course
    turning = scene.between(scene.at.crank, scene.at.start)
    rows = (what.record.time_s >= scene.at.crank) & (what.record.time_s < scene.at.start)
    slack = 0.08 * scene.scale + what.meters.volt_step
    low = float(course.bus_v[turning].min()) + what.meters.volt_error - slack
    shown = what.record.columns["volts"][rows]
    if shown.size < 2:
        return Expected("either", low, 12.6 * scene.scale)
    return Expected("measured", low, float(shown.min()) + slack)


def regulated_expected(what: Flown, need: Need = "measured") -> Expected:
    """What the regulator holds in flight, as the voltmeter shows it."""
    scene, time = what.scene, what.record.time_s
    index = np.round(time / 0.25).astype(int)
    late = (time > scene.at.start + 900.0) & (scene.rpm[index] > 1500.0) & what.course.held[index]
    if scene.battery_on[index[-1]] and late.sum() < 20:
        late = (time > scene.at.start + 300.0) & what.course.held[index]
    middle = float(np.median(what.record.columns["volts"][late]))
    slack = 0.07 * scene.scale + 0.5 * what.meters.volt_step
    return Expected(need, middle - slack, middle + slack)


def tau_expected(what: Flown, need: Need = "measured", wide: float = 1.0) -> Expected:
    """Time constant of the recharge [min]; a load ammeter, coarse steps and idling widen it."""
    tau = what.scene.battery.tau_s / 60.0
    share = (0.28 if what.ammeter == "battery" else 0.38) * wide
    return Expected(need, tau * (1.0 - share) - 0.2, tau * (1.0 + 1.3 * share) + 0.3)


def lasting_expected(what: Flown, need: Need = "measured") -> Expected:
    """Settled current into the battery [A], between its true last and what the last half hour shows."""
    scene, course = what.scene, what.course
    late = course.held & scene.between(max(scene.at.cruise, scene.at.descent - 1500.0), scene.at.descent)
    shown = float(np.median(course.battery_a[late])) + what.meters.amp_zero
    slack = 0.35 + what.meters.amp_step / 2
    lowest = min(scene.battery.lasting_a + what.meters.amp_zero, shown, scene.battery.lasting_a)
    return Expected(need, lowest - slack, max(shown, shown - what.meters.amp_zero) + slack)


def resistance_expected(what: Flown) -> Expected:
    """Resistance of battery and leads over 1-10 s [mohm], where the current varied enough to show it."""
    scene, course, meters = what.scene, what.course, what.meters
    ohm, quick = scene.battery.resistance_ohm, scene.battery.quick
    low, high = 1000 * ohm * 0.82, 1000 * ohm * (1.0 + quick) * 1.25
    if what.ammeter != "battery":
        return REFUSED
    use = (course.battery_a < -2.0 * max(scene.ampere, 0.7)) & np.isinf(scene.starter_ohm)
    use &= scene.between(what.missed_s) & scene.power_on
    since, last = np.zeros(use.size), -1e9
    for i in range(use.size):  # seconds since charging ended
        if course.battery_a[i] > 0.0:
            last = course.time_s[i]
        since[i] = course.time_s[i] - last
    use &= since > 15.0
    rows = use[:: round(meters.period_s / 0.25)]
    amps = course.battery_a[:: round(meters.period_s / 0.25)][rows]
    if amps.size < 5:
        return REFUSED
    spread = float(np.percentile(amps, 97) - np.percentile(amps, 3))
    fall = spread * ohm / meters.volt_step
    if spread < 4.0 or fall < 2.5:
        return REFUSED
    plain = spread > 8.0 and fall > 5.0 and fall * meters.volt_step > 6.0 * meters.volt_noise and amps.size > 60
    fine = meters.period_s <= 2.0 and meters.amp_step < 1.0
    return Expected("measured" if plain and fine else "either", low * 0.95, high * 1.05)


def unknown_start() -> dict[str, Expected]:
    """What a log that begins with the engine running cannot tell."""
    return dict.fromkeys(
        (*START_MEASURES, "recharge_peak_current", "recharge_settling_time", "recharge_returned"), REFUSED
    )


def no_voltage() -> dict[str, Expected]:
    """What no log without a voltmeter can tell."""
    return dict.fromkeys((*VOLTAGE_MEASURES, "battery_resistance"), REFUSED)


def kind_of(ammeter: AmmeterKind | None, *, sure: bool = True) -> tuple[str, ...]:
    """Fair answers for an ammeter."""
    if ammeter is None:
        return ("none",)
    return (ammeter,) if sure else (ammeter, "unknown")


def either(rng: Draw) -> AmmeterKind:
    """One kind of ammeter or the other."""
    return "battery" if rng.random() < 0.5 else "alternator"


NO_DRAW = (r"only 0\.\d Ah had been drawn", r"had been drawn before")
