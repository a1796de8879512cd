"""The recharge after start: from the alternator taking the bus until the charging current has settled."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.decay import Decay, fit_decay, load_steps
from analyzer.flights.alternator_online import regulated_estimate, rpm_sufficient_rows
from analyzer.flights.ammeter import Ammeter
from analyzer.flights.outage_kinds import AlternatorOutage
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    FAR_OUTLIER,
    MAD_TO_SIGMA,
    Floats,
    Mask,
    blocks,
    finite_of,
    median,
    middle,
    mostly,
    percentile,
    resolution,
    robust_sigma,
    running_mean,
    running_median,
)

_ENDS_BEFORE = "the log ends before the charging current has settled enough to be judged"
_NEVER_FELL = "no falling charging current was seen since the log began"
_NEVER_ABOVE = "the charging current never stood clearly above its settled level"


class Recharge(Struct, frozen=True):
    """Where the recharge lies and the decay fitted to it."""

    on_s: float  # the alternator takes the bus [s, log time]; the log's begin where that was before
    knee_s: float  # the regulator first holds the bus: from here the current can decay [s]
    origin_s: float  # where the fitted decay begins: the bus is held, the current no longer at its limit [s]
    settled_s: float  # charging current within 1 A of its settled level [s]; assumed when nothing was fitted
    decay: Decay | None  # times in s from ``origin_s``, currents in A
    because: str | None  # why no decay was fitted
    unsettled: bool = False  # the log ends, or the window, before the charging current has settled
    at_least_s: float | None = None  # least time constant that an unsettled decay can have had [s]
    plain: Decay | None = None  # of the longest stretch between outages and loads, where the whole leaves it open
    plain_s: float = 0.0  # where that stretch begins [s, log time]
    limit_a: float | None = None  # charging current at which an alternator at its limit held it before [A]
    start_recorded: bool = True  # False: the log begins with the engine running, so in the middle of the decay


def find_recharge(
    trace: Trace,
    alternator_on_row: int,
    stop: int,
    alternator_online: Mask,
    found: list[AlternatorOutage],
    ammeter: Ammeter,
    limits: Limits,
    *,
    start_recorded: bool = True,
) -> Recharge:
    """Fit the decay of the charging current after the alternator has taken the bus at row ``alternator_on_row``.

    Rows in which the regulator does not hold the bus (low engine speed, alternator at its limit) are left
    out: the current then shows what the source can give, not what the battery takes. A decay that has not
    settled within the usual window is fitted again to all of the engine run, up to an overvoltage. Where the start
    is not recorded the decay is fitted from its middle, which asks more of it (``_why_not``).
    """
    stop = _regulated_until(trace, alternator_on_row, stop, limits)
    on_s, stop_s = float(trace.time[alternator_on_row]), float(trace.time[stop - 1])
    settled_s = min(on_s + limit_value("recharge_assumed"), stop_s)
    nothing = Recharge(on_s, on_s, on_s, settled_s, None, None, start_recorded=start_recorded)
    current = trace.battery_current if ammeter.kind == "battery" else total_output(trace)
    if ammeter.kind not in ("battery", "alternator") or current is None:
        words = "no ammeter is recorded" if ammeter.kind == "none" else "the ammeter's kind is not known"
        return replace(nothing, because=words)
    place = _Place(trace, current, found, stop, ammeter.kind, limits, start_recorded)
    free_s = float(trace.time[_limited_until(trace, alternator_on_row, stop, alternator_online, current, limits)])
    if free_s > on_s:
        nothing = replace(nothing, settled_s=min(free_s + limit_value("recharge_assumed"), stop_s))
    held, knee_s = _held_rows(place, alternator_online, free_s, on_s)
    nothing = replace(nothing, knee_s=knee_s, origin_s=knee_s)
    first_window = held & (trace.time <= knee_s + limit_value("recharge_window"))
    if float(trace.seconds[first_window].sum()) < limit_value("recharge_shortest"):
        return replace(nothing, because=f"the regulator held the bus too briefly {_since(start_recorded)}")
    fitted = _not_limited(place, first_window, _fitted(place, first_window, knee_s))
    if fitted.because == _ENDS_BEFORE and held.sum() > first_window.sum():
        fitted = _fitted(place, held, knee_s)
    found_out = replace(nothing, knee_s=fitted.knee_s, origin_s=fitted.origin_s)
    if fitted.because is not None or fitted.decay is None:
        return _without_decay(found_out, place, held, fitted)
    return _with_decay(found_out, place, held, fitted.decay, fitted.limit_a)


def _held_rows(place: _Place, alternator_online: Mask, free_s: float, on_s: float) -> tuple[Mask, float]:
    """Rows with a current in which the bus is held after ``free_s``, and when it is first [s]; ``on_s`` if never."""
    trace = place.trace
    within = (trace.time >= free_s) & (np.arange(alternator_online.size) < place.stop)
    held = _held(trace, alternator_online & within, place.limits) & np.isfinite(place.current)
    knee_s = float(trace.time[int(np.argmax(held))]) if held.any() else on_s
    if place.kind == "alternator":
        held &= trace.time >= knee_s + limit_value("recharge_transient")
    return held, knee_s


def _without_decay(found_out: Recharge, place: _Place, held: Mask, fitted: _Fitted) -> Recharge:
    """A recharge whose fit says nothing: what is known of its end all the same, and by its longest plain stretch."""
    flat_s = _flat_from(place.trace, place.current, held, place.limits) if place.kind == "battery" else None
    found_out = replace(found_out, because=fitted.because)
    if fitted.because == _ENDS_BEFORE and flat_s is None:
        least = _least_time_constant(fitted.decay, place.start_recorded)
        return replace(found_out, settled_s=place.stop_s, unsettled=True, at_least_s=least)
    if flat_s is not None:
        found_out = replace(found_out, settled_s=flat_s)
    elif not place.start_recorded and fitted.because in (_NEVER_ABOVE, _NEVER_FELL):
        found_out = replace(found_out, settled_s=found_out.on_s)  # it was over before the log begins
    plain_s, plain = _plain_stretch(place, held)
    return replace(found_out, plain=plain, plain_s=plain_s)


def _with_decay(found_out: Recharge, place: _Place, held: Mask, decay: Decay, limit_a: float | None) -> Recharge:
    """A recharge with the decay that was fitted to it."""
    within = limit_value("settled_within")
    settling = decay.tau * float(np.log(max(decay.amplitude, within) / within))
    settled_s = min(found_out.origin_s + settling, place.stop_s)
    plain_s, plain = _plain_stretch(place, held)
    return replace(found_out, settled_s=settled_s, decay=decay, plain=plain, plain_s=plain_s, limit_a=limit_a)


def _regulated_until(trace: Trace, alternator_on_row: int, stop: int, limits: Limits) -> int:
    """End of the rows, at most ``stop``, before the bus first runs away: from there the volts force the current.

    ``stop`` where too little comes before, or the bus never runs away.
    """
    volts = trace.bus_voltage[alternator_on_row:stop]
    if not (volts > limits["overvoltage"]).any():
        return stop
    high = np.flatnonzero(running_median(volts, 3) > limits["overvoltage"])
    if not high.size:
        return stop
    end = alternator_on_row + int(high[0]) - trace.rows_in(limit_value("overvoltage_beside"))
    if end <= alternator_on_row:
        return stop
    lasts = trace.time[end - 1] - trace.time[alternator_on_row]
    return end if lasts >= limit_value("recharge_shortest") else stop


class _Place(Struct, frozen=True):
    """What a fit needs to know of the flight."""

    trace: Trace
    current: Floats
    found: list[AlternatorOutage]
    stop: int
    kind: str  # of the ammeter
    limits: Limits
    start_recorded: bool

    @property
    def stop_s(self) -> float:
        """Time of the last row that counts [s]."""
        return float(self.trace.time[self.stop - 1])


class _Fitted(Struct, frozen=True):
    """One fit, or why it says nothing; times in s of the log."""

    knee_s: float
    origin_s: float
    decay: Decay | None
    because: str | None
    limit_a: float | None


def _fitted(place: _Place, held: Mask, knee_s: float) -> _Fitted:
    """Fit the decay to the rows in which the bus is held."""
    trace, current = place.trace, place.current
    origin_s = float(trace.time[int(np.argmax(held))])
    t, y = trace.time[held] - origin_s, current[held]
    ends = (float(trace.time[min(gap.end, place.stop - 1)]) - origin_s for gap in place.found)
    restarts = tuple(end for end in ends if limit_value("restart_earliest") < end < t[-1])
    step = resolution(current)
    smallest = max(limit_value("load_step_smallest"), limit_value("load_step_steps") * step)
    restarts = restarts[: int(limit_value("restarts_most"))]
    limit_a = None
    if place.kind == "battery":
        lowest = _lowest_settled(t, y)
        decay = _fit(t, y, (), restarts, step, smallest, lowest)
        knee = _knee(t, y, decay)
        limit_a = None if knee is None else percentile(y[: knee + 1], limit_value("output_high_percentile"))
        if knee is not None:
            knee_s = origin_s = origin_s + float(t[knee])
            later = tuple(at - float(t[knee]) for at in restarts if at > t[knee] + limit_value("restart_earliest"))
            decay = _fit(t[knee:] - t[knee], y[knee:], (), later, step, smallest, lowest)
    else:
        width = max(4, trace.rows_in(limit_value("load_step_lasting")))
        decay = _under_loads(t, y, width, restarts, step, smallest)
    because = _why_not(decay) if place.start_recorded else _why_not_from_middle(decay, place.limits)
    return _Fitted(knee_s, origin_s, decay, because, limit_a)


def _not_limited(place: _Place, held: Mask, whole: _Fitted) -> _Fitted:
    """The fit to rows of a fast engine alone, where no voltage tells that slow ones held the bus and the fit differs.

    An alternator at its limit at low engine speed gives what the speed allows, which pulls a decay apart.
    """
    trace = place.trace
    if np.isfinite(trace.bus_voltage).any() or trace.engine_speed is None:
        return whole
    quick = held & rpm_sufficient_rows(trace, held)
    if float(trace.seconds[quick].sum()) < limit_value("recharge_shortest"):
        return whole
    rpm_sufficient = _fitted(place, quick, float(trace.time[int(np.argmax(quick))]))
    if rpm_sufficient.because is not None or rpm_sufficient.decay is None:
        return whole
    if whole.because is None and whole.decay is not None:
        apart = abs(float(np.log(whole.decay.tau / rpm_sufficient.decay.tau)))
        if apart < float(np.log(limit_value("recharge_alike"))):
            return whole
    return rpm_sufficient


def _plain_stretch(place: _Place, held: Mask) -> tuple[float, Decay | None]:
    """Decay of the longest plain stretch, and where that begins [s]; None where none shows one.

    Idling soon after the start gives each stretch between an amplitude of its own, and loads are switched all the
    while: together they may leave the whole open, when one stretch between outages and loads shows plainly how slowly
    the current falls. What it shows is the later part of a decay, which asks more of it. Long blocks come first, over
    which loads that cycle are off at times. For an alternator's ammeter, and a start that is recorded.
    """
    if place.kind != "alternator" or not place.start_recorded:
        return 0.0, None
    trace, transient = place.trace, limit_value("recharge_transient")
    ends = [float(trace.time[min(outage.end, trace.time.size - 1)]) + transient for outage in place.found]
    edges = [-np.inf, *sorted(ends), np.inf]
    spans = [held & (trace.time >= begin) & (trace.time < end) for begin, end in pairwise(edges)]
    long = [rows for rows in spans if float(trace.seconds[rows].sum()) >= limit_value("plain_shortest")]
    step = resolution(place.current)
    for block_s in (limit_value("stands_block"), limit_value("plain_block")):
        levels = [_lowest_levels(trace.time[rows], place.current[rows], block_s) for rows in long]
        stretches = [part for time, amps in levels for part in _between_loads(time, amps, step)]
        for time, amps in sorted(stretches, key=lambda one: one[0][0] - one[0][-1]):
            rows = time <= time[0] + limit_value("recharge_window")
            decay = _plain_decay(time[rows] - time[0], amps[rows], step)
            if decay is not None and _why_not_from_middle(decay, place.limits) is None:
                return float(time[0]), decay
    return 0.0, None


def _lowest_levels(time: Floats, amps: Floats, block_s: float) -> tuple[Floats, Floats]:
    """Middle [s] and level [A] of blocks of so many seconds, each by the mean of its lowest readings.

    Loads that come and go within a block, as of a heater or strobes, lift others of its readings.
    """
    parts = blocks(time, block_s)
    lowest = [np.sort(amps[part])[: max(1, (part.stop - part.start) // 4)].mean() for part in parts]
    return np.array([time[part].mean() for part in parts]), np.array(lowest)


def _between_loads(time: Floats, amps: Floats, step: float) -> list[tuple[Floats, Floats]]:
    """Parts of a course of levels between its steps, each long enough to be judged by itself.

    A step is a change that stands out of those beside it by what a load takes. The blocks at both ends, which a step
    may cut, are left out.
    """
    change = np.diff(amps)
    smallest = max(limit_value("load_step_smallest"), limit_value("load_step_steps") * step)
    cuts = np.flatnonzero(np.abs(change - running_median(change, 5)) > smallest) + 1
    inner = [slice(a + 1, b - 1) for a, b in pairwise([0, *cuts.tolist(), amps.size])]
    long = [one for one in inner if one.stop - one.start >= limit_value("plain_fewest_blocks")]
    return [(time[one], amps[one]) for one in long]


def _plain_decay(t: Floats, amps: Floats, step: float) -> Decay | None:
    """A decay without load steps, fitted to levels as they are."""
    tau_range = limit_value("tau_shortest"), limit_value("tau_longest")
    return fit_decay(t, amps, tau_range=tau_range, noise_floor=step / np.sqrt(12.0))


def _flat_from(trace: Trace, current: Floats, held: Mask, limits: Limits) -> float | None:
    """Time from which a current that is flat at the end of the held rows is within 1 A of that end [s].

    None while it still falls or rises, or was not watched for ``flat_shortest``. Flat is what its ends say, the
    fit aside: a battery that has come back long since shows no decay at all.
    """
    rows = np.flatnonzero(held)
    back = np.cumsum(trace.seconds[rows][::-1])[::-1]
    last = rows[back <= limit_value("flat_window")]
    if float(trace.seconds[last].sum()) < limit_value("flat_shortest"):
        return None
    third = last.size // 3
    early, late = (_typical(current[part]) for part in (last[:third], last[-third:]))
    if abs(late - early) > limits["flat_change"]:
        return None
    smooth = running_median(current[rows], trace.rows_in(limit_value("settling_smoothed")))
    outside = np.flatnonzero(np.abs(smooth - _typical(current[last])) > limit_value("settled_within"))
    first = int(outside[-1]) + 1 if outside.size else 0
    return float(trace.time[rows[min(first, rows.size - 1)]])


def _typical(values: Floats) -> float:
    """Mean, outliers left out: finer than the steps of a coarse meter."""
    away = np.abs(values - middle(values))
    return float(values[away <= max(FAR_OUTLIER * robust_sigma(values), resolution(values), 1e-9)].mean())


def _since(start_recorded: bool) -> str:
    return "after the start" if start_recorded else "since the log began"


def _limited_until(
    trace: Trace, alternator_on_row: int, stop: int, alternator_online: Mask, current: Floats, limits: Limits
) -> int:
    """Row up to which a discharged battery holds the alternator at its limit; ``alternator_on_row`` when it does not.

    The bus then climbs to where the regulator holds it while the current stays high; a regulator that drifts
    up lets the current fall on the way.
    """
    if not np.isfinite(trace.bus_voltage).any():
        return alternator_on_row
    running = np.zeros(trace.time.size, dtype=np.bool_)
    running[alternator_on_row:stop] = True
    volts = running_median(trace.bus_voltage, 5)
    level = regulated_estimate(trace, running, limits) - limits["held_margin"]
    reached = np.flatnonzero(running & alternator_online & (volts >= level))
    first = int(reached[0]) if reached.size else alternator_on_row
    if trace.time[first] - trace.time[alternator_on_row] < limit_value("limited_shortest"):
        return alternator_on_row
    climb = np.flatnonzero(running & alternator_online & rpm_sufficient_rows(trace, running) & np.isfinite(current))
    climb = climb[climb < first]
    if climb.size < limit_value("climb_fewest_rows"):
        return alternator_on_row
    early, late = median(current[climb[: climb.size // 3]]), median(current[climb[-(climb.size // 3) :]])
    flat = late > limit_value("limited_flat") * early and late > limits["never_settles"]
    return first if flat else alternator_on_row


def _lowest_settled(t: Floats, y: Floats) -> float:
    """Lowest level that a battery's charging current can settle at [A]: on a held bus it gives nothing.

    Less what an ammeter is off at zero; where more than that was seen to last, that.
    """
    smooth = running_mean(y, max(1, int(np.searchsorted(t, t[0] + limit_value("settling_smoothed")))))
    return min(0.0, float(smooth.min())) - limit_value("settled_within")


def _fit(
    t: Floats,
    y: Floats,
    steps: tuple[float, ...],
    restarts: tuple[float, ...],
    step: float,
    smallest: float,
    lowest: float = -np.inf,
) -> Decay | None:
    return fit_decay(
        *_averaged(t, y),
        tau_range=(limit_value("tau_shortest"), limit_value("tau_longest")),
        steps=steps,
        restarts=restarts,
        smallest_step=limit_value("load_step_kept") * smallest,
        noise_floor=step / np.sqrt(12.0),
        lowest_level=lowest,
    )


def _knee(t: Floats, y: Floats, decay: Decay | None) -> int | None:
    """Where the decay really begins when the current is held flat at first, by an alternator at its limit.

    Told by a fit that fails, or that starts higher than anything recorded. The knee is the last reading, on a
    smooth course, that still has ``knee_share`` of the current's whole fall before it.
    """
    smooth = running_mean(y, max(1, int(np.searchsorted(t, t[0] + limit_value("knee_smoothed")))))
    top = float(smooth.max())
    fails = _why_not(decay) is not None
    if decay is not None and not fails:
        fails = decay.level + decay.amplitude - top > limit_value("knee_overshoot") * decay.amplitude
    if not fails:
        return None
    bottom = percentile(smooth, limit_value("knee_bottom"))
    high = np.flatnonzero(smooth >= bottom + limit_value("knee_share") * (top - bottom))
    knee = int(high[-1])
    residual = t[-1] - t[knee]
    far = t[knee] - t[0] > limit_value("knee_earliest") * (decay.tau if decay is not None else 0.0)
    return knee if knee > 0 and far and residual >= limit_value("recharge_shortest") else None


def _under_loads(
    t: Floats, y: Floats, width: int, restarts: tuple[float, ...], step: float, smallest: float
) -> Decay | None:
    """Fit the decay under an alternator ammeter with its load steps, and again to its first parts only.

    Steps are looked for in what a smooth fit leaves. A step that was not found pulls the fits apart; the
    interval of the time constant then spans them.
    """
    smooth = _fit(t, y, (), restarts, step, smallest)
    residual = y if smooth is None else y - smooth.curve(t)
    steps = load_steps(t, residual, smallest=smallest, width=width, most=int(limit_value("load_steps_most")))
    whole = _fit(t, y, steps, restarts, step, smallest)
    if whole is None:
        return None
    low, high = whole.tau_low, whole.tau_high
    for share in (limit_value("recharge_first_part"), limit_value("recharge_first_third")):
        early = t <= t[0] + share * (t[-1] - t[0])
        inside = tuple(at for at in steps if at < t[early][-1])
        part = _fit(t[early], y[early], inside, tuple(r for r in restarts if r < t[early][-1]), step, smallest)
        if part is not None and _why_not(part) is None:
            low, high = min(low, part.tau), max(high, part.tau)
    return replace(whole, tau_low=low, tau_high=high)


def total_output(trace: Trace) -> Floats | None:
    """Output of all alternators together [A], None when none is recorded."""
    return trace.alternator_output


def _held(trace: Trace, rows: Mask, limits: Limits) -> Mask:
    """Rows in which the regulator holds the bus, by the level that it holds through most of the first window.

    Rows below that level are the alternator's limit or a low engine speed, however many come first; where the bus is
    restless, the current shows the regulator and not the battery. Where no voltage is recorded, all that the
    alternator carries.
    """
    if not np.isfinite(trace.bus_voltage).any():
        return rows
    rows = rows & np.isfinite(trace.bus_voltage)
    if not rows.any():
        return rows
    first = rows & (trace.time <= trace.time[int(np.argmax(rows))] + limit_value("recharge_window"))
    if not np.isfinite(trace.bus_voltage[first]).any():
        return np.zeros(rows.size, dtype=np.bool_)
    level = percentile(finite_of(trace.bus_voltage[first]), limit_value("held_percentile"))
    held = rows & (trace.bus_voltage >= level - limits["held_margin"])
    held[held] = ~_restless(trace.bus_voltage[held], trace, limits)
    return held


def _restless(volts: Floats, trace: Trace, limits: Limits) -> Mask:
    """Readings about which the held bus swings for long by more than a sound regulator lets it, or a step toggles."""
    width = trace.rows_in(limit_value("hunting_window"))
    swing = MAD_TO_SIGMA * np.abs(volts - running_median(volts, width))
    least = float(np.hypot(limits["hunting_scatter"], limit_value("toggling_share") * trace.voltage_step))
    return mostly(swing > least, width)


def _averaged(t: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Means over stretches that grow with the time since the start, as a decay slows down.

    This also takes out strobes.
    """
    shortest, longest = limit_value("averaged_shortest"), limit_value("averaged_longest")
    grow = np.clip(limit_value("averaged_share") * t, shortest, longest)
    edges = np.flatnonzero(np.diff(np.floor(np.cumsum(np.diff(t, prepend=t[0] - 1.0) / grow)), prepend=-1.0))
    counts = np.diff(edges, append=t.size)
    return np.add.reduceat(t, edges) / counts, np.add.reduceat(y, edges) / counts


def _least_time_constant(decay: Decay | None, start_recorded: bool) -> float | None:
    """Least time constant [s] of a decay that had not settled when it was last seen, None when it was no decay."""
    if decay is None or decay.amplitude < limit_value("decay_unsettled_sure") * decay.amplitude_error:
        return None
    share = limit_value("decay_span_share" if start_recorded else "decay_span_share_from_middle")
    return min(decay.tau_low, decay.span / share)


def _why_not(decay: Decay | None) -> str | None:
    """Give the reason why a fit says nothing of the battery, None when it does."""
    if decay is None:
        return "no falling charging current was seen after the start"
    return _says_nothing(decay, limit_value("decay_smallest"), limit_value("decay_span_share"))


def _why_not_from_middle(decay: Decay | None, limits: Limits) -> str | None:
    """Give the reason why a fit that begins in the middle of a decay says nothing, None when it does.

    What is left of the decay must stand out by more than a whole one: by amperes that grow with the battery, and
    by several times what the fit leaves.
    """
    if decay is None:
        return _NEVER_FELL
    smallest = max(limits["decay_smallest_from_middle"], limit_value("decay_residuals_from_middle") * decay.residual)
    return _says_nothing(decay, smallest, limit_value("decay_span_share_from_middle"))


def _says_nothing(decay: Decay, smallest: float, span_share: float) -> str | None:
    """Why a fit is too small, too short or too fast: by its ``smallest`` amplitude [A] and time constants watched."""
    if decay.amplitude < max(smallest, limit_value("decay_sure") * decay.amplitude_error):
        return _NEVER_ABOVE
    if decay.span < span_share * decay.tau:
        return _ENDS_BEFORE
    if decay.at_edge and decay.tau <= limit_value("tau_shortest"):
        return "the charging current fell faster than the log can show"
    return None
