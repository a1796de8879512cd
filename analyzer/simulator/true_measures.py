"""What each measure of a simulated flight should come to, with the range of its honest definitions.

Worked out on the noiseless course. Volts are as the instrument shows them where a person would compare
them with the panel: the constant error of the voltmeter is in, its noise is not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.battery import capacity_temperature_factor, peukert_capacity
from analyzer.simulator.electrical import REGULATED
from analyzer.simulator.truth import Known, Value, offline, takes_bus_s, windows

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Lengths of course over which the decay may fairly be fitted [min].
FIT_MINUTES = (10.0, 15.0, 20.0, 30.0, 45.0)
#: The one whose result stands as the value [min].
FIT_MINUTES_STATED = 20.0
#: Charging current counts as settled within this of its settled level [A] (the measures' own definition).
SETTLED_WITHIN_A = 1.0


@dataclass(frozen=True, slots=True)
class Decay:
    """I(t) = level + amplitude exp(-t / time constant), t from the alternator taking the bus."""

    level_a: float
    amplitude_a: float
    time_constant_s: float


def fit_decay(time_s: Floats, current_a: Floats, weight: Floats) -> Decay:
    """Least squares of one exponential and a level on a noiseless course; ``time_s`` from zero.

    For a fixed time constant the model is linear, so the time constant is searched for alone, on a
    logarithmic scale from 10 s to 3 h.
    """

    def solve(log_tau: float) -> tuple[float, float, float]:
        decay = np.exp(-time_s / np.exp(log_tau))
        total, mean = weight.sum(), (weight * decay).sum()
        square = (weight * decay * decay).sum()
        right = np.array([(weight * current_a).sum(), (weight * decay * current_a).sum()])
        level, amplitude = np.linalg.solve(np.array([[total, mean], [mean, square]]), right)
        return (
            float((weight * (current_a - level - amplitude * decay) ** 2).sum()),
            float(level),
            float(amplitude),
        )

    grid = np.log(np.geomspace(10.0, 10800.0, 40))
    best = int(np.argmin([solve(value)[0] for value in grid]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
    for _ in range(40):
        left, right = low + 0.382 * (high - low), low + 0.618 * (high - low)
        low, high = (low, right) if solve(left)[0] < solve(right)[0] else (left, high)
    _, level, amplitude = solve((low + high) / 2)
    return Decay(level, amplitude, float(np.exp((low + high) / 2)))


def _range(value: float, *others: float, slack: float = 0.0) -> Value:
    everything = (value, *others)
    return Value(value=value, low=min(everything) - slack, high=max(everything) + slack)


def _steps(time_s: Floats) -> Floats:
    return np.diff(time_s, append=time_s[-1])


def _charge_ah(known: Known, flags: Flags, current_a: Floats) -> float:
    return float((current_a * _steps(known.course.time_s))[flags].sum() / 3600.0)


def measures(known: Known) -> dict[str, Value]:
    """Every measure by its name."""
    return {
        **_before_start(known),
        **_recharge(known),
        **_steady(known),
        **_offline(known),
        **_extremes(known),
    }


def _before_start(known: Known) -> dict[str, Value]:
    names = ("resting_voltage", "resting_charge", "prestart_discharge", "cranking_time", "start_attempts")
    cranks, course, begins = known.times.cranks, known.course, known.log_begins_s
    if begins >= cranks[0][0]:
        return dict.fromkeys(names, Value(because="the log begins with the engine already running"))
    before = (course.time_s >= begins) & (course.time_s < cranks[0][0])
    meter = known.voltmeter
    no_load = float(np.median(course.no_load_v[before])) + meter.offset_v
    loaded = float(np.median((course.bus_v - meter.path_ohm * course.load_a)[before])) + meter.offset_v
    drawn = -_charge_ah(known, before, course.battery_a)
    turning = sum(end - begin for begin, end in cranks)
    return {
        "resting_voltage": _range(no_load, loaded, slack=meter.resolution_v / 2),
        "resting_charge": _range(100.0 * float(course.charge[before][0]), slack=8.0),
        "prestart_discharge": _range(drawn, slack=0.05 * drawn + 0.02),
        "cranking_time": _range(turning, slack=known.period_s * len(cranks)),
        "start_attempts": _range(float(len(cranks))),
    }


@dataclass(frozen=True, slots=True)
class _Recharge:
    """Battery current from the knee on, for as long as the bus is held without a break."""

    since_s: Floats
    current_a: Floats
    weight: Floats
    interrupted: bool  # the bus was let go before half an hour was over


def _recharge_course(known: Known) -> _Recharge | str:
    """The first five minutes or more in which the regulator holds the bus, or why there are none."""
    taken, course = takes_bus_s(known), known.course
    if not known.ammeters:
        return "no current is recorded"
    if taken is None:
        return "the alternator never takes the bus"
    if taken < known.log_begins_s:
        return "the log begins with the engine already running"
    place = (course.time_s >= taken) & (course.time_s < known.times.engine_stop_s)
    held = list(windows(course.time_s, place & ((course.fed_by == REGULATED) | _is_brief(known)), 300.0))
    if not held:
        return "the bus is never held for five minutes"
    begin, end = held[0]
    place &= (course.fed_by == REGULATED) & (course.time_s >= begin) & (course.time_s < end)
    interrupted = end - taken < 1800.0 or begin - taken > 120.0
    weight = np.minimum(_steps(course.time_s), 2.0)[place]
    return _Recharge(course.time_s[place] - begin, course.battery_a[place], weight, interrupted)


def _is_brief(known: Known) -> Flags:
    """Where the bus is let go for no longer than 5 s, too little to begin a new recharge."""
    time_s, loose = known.course.time_s, known.course.fed_by != REGULATED
    lasting = np.zeros_like(loose)
    for begin, end in windows(time_s, loose, 5.0):
        lasting |= (time_s >= begin) & (time_s < end)
    return np.asarray(loose & ~lasting)


def _recharge(known: Known) -> dict[str, Value]:
    names = ("peak_current", "time_constant", "settling_time", "returned")
    found = _recharge_course(known)
    if isinstance(found, str):
        return {f"recharge_{name}": Value(because=found) for name in names}
    since, current, weight = found.since_s, found.current_a, found.weight
    fits = {m: _fit_first(since, current, weight, m) for m in FIT_MINUTES if since[-1] > 48.0 * m}
    stated = fits.setdefault(FIT_MINUTES_STATED, _fit_first(since, current, weight, FIT_MINUTES_STATED))
    if stated.time_constant_s > since[-1]:
        because = "the charging current has hardly begun to fall when the flight ends"
        return {f"recharge_{name}": Value(because=because) for name in names}
    sane = [fit for fit in fits.values() if fit.time_constant_s < since[-1]]
    late = since > 0.75 * since[-1]
    levels = [float(np.median(current[late])), *(fit.level_a for fit in sane)]
    settling = [_settled_min(since, current, level) for level in levels]
    returned = [float((np.maximum(current - level, 0.0) * weight).sum() / 3600.0) for level in levels]
    returned += [fit.amplitude_a * fit.time_constant_s / 3600.0 for fit in sane]
    peaks = [fit.amplitude_a for fit in sane] + [float(np.max(current)) - level for level in levels]
    ranges = {
        "peak_current": _range(stated.amplitude_a, *peaks, slack=0.3),
        "time_constant": _range(
            stated.time_constant_s / 60, *(fit.time_constant_s / 60 for fit in sane), slack=0.1
        ),
        "settling_time": _range(settling[0], *settling, slack=0.3),
        "returned": _range(returned[0], *returned, slack=0.02),
    }
    return {f"recharge_{name}": replace(value, ambiguous=found.interrupted) for name, value in ranges.items()}


def _fit_first(since: Floats, current: Floats, weight: Floats, minutes: float) -> Decay:
    place = since <= 60.0 * minutes
    return fit_decay(since[place], current[place], weight[place])


def _settled_min(since: Floats, current: Floats, level: float) -> float:
    """First time [min] from which the current stays within 1 A of a level for two minutes."""
    outside = since[np.abs(current - level) > SETTLED_WITHIN_A]
    if outside.size == 0 or outside[0] > 120.0:
        return 0.0
    quiet = np.flatnonzero(np.diff(outside, append=np.inf) > 120.0)
    return float(outside[quiet[0]] / 60.0)


def _steady_place(known: Known) -> Flags | str:
    """Where the alternator holds the bus with the recharge over and the engine at flying speed."""
    taken, course = takes_bus_s(known), known.course
    if taken is None:
        return "the alternator never takes the bus"
    begin = max(taken + 600.0, known.times.take_off_s, known.log_begins_s)
    place = (course.fed_by == REGULATED) & (course.time_s >= begin) & (course.time_s < known.times.landing_s)
    ends = [*course.resets_s, known.times.engine_stop_s]
    for tripped, reset in zip(course.trips_s, ends, strict=False):
        place &= ~((course.time_s > tripped - 60.0) & (course.time_s < reset + 5.0))
    if _steps(course.time_s)[place].sum() < 300.0:
        return "the alternator holds the bus for less than five minutes after the recharge"
    return np.asarray(place)


def _steady(known: Known) -> dict[str, Value]:
    names = (
        "regulated_voltage",
        "regulation_scatter",
        "regulation_slope",
        "regulation_droop",
        "bus_load",
        "maintenance_current",
    )
    place = _steady_place(known)
    if isinstance(place, str):
        return dict.fromkeys(names, Value(because=place))
    course, meter = known.course, known.voltmeter
    shown = (course.bus_v - meter.path_ohm * course.load_a)[place] + meter.offset_v
    hours, load = course.time_s[place] / 3600.0, course.load_a[place]
    middle = float(np.median(shown))
    scatter = 1.4826 * float(np.median(np.abs(shown - middle)))
    slope = float(np.polyfit(hours, shown, 1)[0])
    droop = 1000.0 * (known.droop_ohm + meter.path_ohm)
    late = place & (course.time_s > course.time_s[place][-1] - 900.0)
    kept = float(np.median(course.battery_a[late]))
    offset = sum(a.offset_a for a in known.ammeters if a.kind == "battery")
    charging_kind = any(ammeter.kind == "battery" for ammeter in known.ammeters)
    return {
        "regulated_voltage": _range(middle, float(np.mean(shown)), slack=meter.resolution_v / 2),
        "regulation_scatter": _range(
            scatter, float(np.hypot(scatter, meter.noise_v)), slack=meter.resolution_v / 2
        ),
        "regulation_slope": _range(slope, slack=0.02 + 0.2 * abs(slope)),
        "regulation_droop": _range(droop, slack=1.5 + 0.2 * droop),
        "bus_load": _range(float(np.median(load)), float(np.mean(load)), slack=0.5)
        if any(ammeter.kind == "alternator" for ammeter in known.ammeters)
        else Value(because="only an alternator ammeter shows the load"),
        "maintenance_current": _range(kept, kept + offset, slack=0.2)
        if charging_kind
        else Value(because="only a battery ammeter shows it"),
    }


def _offline(known: Known) -> dict[str, Value]:
    course, flags = known.course, offline(known)
    flags &= (course.time_s >= known.log_begins_s) & (course.time_s <= known.log_ends_s)
    faulty = flags & known.switched_on
    minutes = [float(_steps(course.time_s)[place].sum() / 60.0) for place in (flags, faulty)]
    drawn = [-_charge_ah(known, place, np.minimum(course.battery_a, 0.0)) for place in (flags, faulty)]
    return {
        "offline_time": _range(*minutes, slack=0.1),
        "offline_discharge": _range(*drawn, slack=0.02 + 0.05 * drawn[0]),
        "endurance": _endurance(known),
    }


def _endurance(known: Known) -> Value:
    """Minutes until the rate's available charge is drawn, from the charge at landing at the flight's load."""
    course, battery = known.course, known.battery
    flying = (course.time_s > known.times.take_off_s) & (course.time_s < known.times.landing_s)
    load, missing = float(np.median(course.load_a[flying])), float(course.missing_ah[flying][-1])
    temperature = capacity_temperature_factor(known.battery_c)
    rated = peukert_capacity(battery.capacity_ah, load, battery.peukert_exponent)
    left = [rated * health * temperature - missing for health in (battery.health, 1.0)]
    hours = [max(ah, 0.0) / load for ah in left]
    return Value(value=60 * hours[0], low=0.7 * 60 * hours[0], high=1.3 * 60 * max(hours))


def _extremes(known: Known) -> dict[str, Value]:
    """Extremes as the log can show them; what happened between its rows is for nobody to see."""
    course, meter = known.course, known.voltmeter
    sampled = np.searchsorted(
        course.time_s, np.round(known.table["time_s"].to_numpy() + known.log_begins_s, 3)
    )
    volts = (course.bus_v - meter.path_ohm * course.load_a)[sampled] + meter.offset_v
    turning = np.zeros(sampled.size, dtype=np.bool_)
    for begin, end in known.times.cranks:
        turning |= (course.time_s[sampled] >= begin) & (course.time_s[sampled] < end)
    slack = meter.resolution_v / 2 + 2 * meter.noise_v
    lowest = (
        _range(float(volts[turning].min()), slack=slack)
        if turning.any()
        else Value(because="no row while cranking")
    )
    powered = course.time_s[sampled] < known.times.master_off_s
    return {"cranking_voltage": lowest, "highest_voltage": _range(float(volts[powered].max()), slack=slack)}
