"""The charging current after start as it truly was: its decay, when it settled, the charge it returned."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.electrical import REGULATED
from analyzer.simulator.truth import Known, Value, takes_bus_s, windows

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Lengths of course over which the decay may fairly be fitted [min].
FIT_MINUTES = (10.0, 15.0, 20.0, 30.0, 45.0)
#: The one whose result stands as the value [min].
FIT_MINUTES_STATED = 20.0
#: Beyond this what charges is no longer the answer to the start [min].
LONGEST_MINUTES = 60.0
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
        normal = np.array([[total, mean], [mean, square]])
        level, amplitude = np.linalg.lstsq(normal, right, rcond=None)[0]  # a moment alone tells no decay
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


def ranging(value: float, *others: float, slack: float = 0.0) -> Value:
    """A value and the range it spans with others, widened by a slack."""
    everything = (value, *others)
    return Value(value=value, low=min(everything) - slack, high=max(everything) + slack)


def steps(time_s: Floats) -> Floats:
    """Length of each grid step [s], the last one zero."""
    return np.diff(time_s, append=time_s[-1])


@dataclass(frozen=True, slots=True)
class _Recharge:
    """Battery current [A] after the alternator has taken the bus; ``held`` is the part from the knee on.

    A discharged battery holds the alternator at its limit first; the decay begins at the knee, where the
    regulator has brought the bus up.
    """

    since_s: Floats  # from the alternator taking the bus
    current_a: Floats
    weight: Floats
    held: Flags
    knee_s: float
    interrupted: bool  # the alternator was at its limit for long, or the bus was let go within half an hour


def _course(known: Known) -> _Recharge | str:
    """The first five minutes or more in which the regulator holds the bus, or why there are none."""
    taken, course = takes_bus_s(known), known.course
    if not known.ammeters:
        return "no current is recorded"
    if taken is None:
        return "the alternator never takes the bus"
    if taken < known.log_begins_s:
        return "the log begins with the engine already running"
    regulated = course.fed_by == REGULATED
    place = (course.time_s >= taken) & (course.time_s < known.times.engine_stop_s)
    held = list(windows(course.time_s, place & (regulated | _is_brief(known)), 300.0))
    if not held:
        return "the bus is never held for five minutes"
    knee, end = held[0][0], min(held[0][1], taken + 60.0 * LONGEST_MINUTES)
    place &= course.time_s < end
    return _Recharge(
        since_s=course.time_s[place] - taken,
        current_a=course.battery_a[place],
        weight=np.minimum(steps(course.time_s), 2.0)[place],
        held=(regulated & (course.time_s >= knee))[place],
        knee_s=knee - taken,
        interrupted=end - taken < 1800.0 or knee - taken > 120.0,
    )


def _is_brief(known: Known) -> Flags:
    """Where the bus is let go for no longer than 5 s, too little to begin a new recharge."""
    time_s, loose = known.course.time_s, known.course.fed_by != REGULATED
    lasting = np.zeros_like(loose)
    for begin, end in windows(time_s, loose, 5.0):
        lasting |= (time_s >= begin) & (time_s < end)
    return np.asarray(loose & ~lasting)


def recharge(known: Known) -> dict[str, Value]:
    """The four measures of the recharge, by name."""
    names = ("peak_current", "time_constant", "settling_time", "returned")
    found = _course(known)
    if isinstance(found, str):
        return {f"recharge_{name}": Value(because=found) for name in names}
    since, lasts = found.since_s[found.held] - found.knee_s, found.since_s[-1] - found.knee_s
    fits = {m: _fit_first(found, m) for m in FIT_MINUTES if lasts > 48.0 * m or m == FIT_MINUTES_STATED}
    stated = fits[FIT_MINUTES_STATED]
    if stated.time_constant_s > lasts:
        because = "the charging current has hardly begun to fall when the flight ends"
        return {f"recharge_{name}": Value(because=because) for name in names}
    sane = [fit for fit in fits.values() if fit.time_constant_s < lasts]
    late = found.current_a[found.held][since > 0.75 * lasts]
    levels = [float(np.median(late)), *(fit.level_a for fit in sane)]
    settling = [_settled_min(found, level) for level in levels]
    returned = [_returned_ah(found, level) for level in levels]
    highest = float(np.max(found.current_a))
    peaks = [*(fit.amplitude_a for fit in sane), *(highest - level for level in levels)]
    minutes = [fit.time_constant_s / 60 for fit in (stated, *sane)]
    ranges = {
        "peak_current": ranging(stated.amplitude_a, *peaks, slack=0.3),
        "time_constant": ranging(*minutes, slack=0.1),
        "settling_time": ranging(*settling, slack=0.3),
        "returned": ranging(*returned, slack=0.02),
    }
    vague = found.interrupted or max(settling) > 1.5 * min(settling) + 1.0
    return {f"recharge_{name}": replace(value, ambiguous=vague) for name, value in ranges.items()}


def _fit_first(found: _Recharge, minutes: float) -> Decay:
    since = found.since_s - found.knee_s
    place = found.held & (since <= 60.0 * minutes)
    return fit_decay(since[place], found.current_a[place], found.weight[place])


def _settled_min(found: _Recharge, level_a: float) -> float:
    """First time [min] from which the current stays within 1 A of a level for two minutes."""
    outside = found.since_s[np.abs(found.current_a - level_a) > SETTLED_WITHIN_A]
    if outside.size == 0 or outside[0] > 120.0:
        return 0.0
    quiet = np.flatnonzero(np.diff(outside, append=np.inf) > 120.0)
    return float(outside[quiet[0]] / 60.0)


def _returned_ah(found: _Recharge, level_a: float) -> float:
    """Charge above a level [Ah] until shortly after the current has settled to it."""
    until = 60.0 * (2.0 * _settled_min(found, level_a) + 5.0)
    above = np.where(found.since_s <= until, np.maximum(found.current_a - level_a, 0.0), 0.0)
    return float((above * found.weight).sum() / 3600.0)
