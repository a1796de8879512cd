"""How the battery came back from the start: peak, time constant, settling, charge returned, what remains."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from analyzer.decay import Decay
from analyzer.flights.flight import Flight
from analyzer.flights.recharge import Recharge, total_output
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure, around, measured, not_measurable
from analyzer.measures.regulation import held_level
from analyzer.measures.resting import ALREADY_RUNNING
from analyzer.series import (
    FAR_OUTLIER,
    MAD_TO_SIGMA,
    Z95,
    Floats,
    Mask,
    autocorrelation_length,
    drop_short_runs,
    median,
    middle,
    resolution,
    running_mean,
    running_median,
)

NAMES = (
    "recharge_peak_current",
    "recharge_time_constant",
    "recharge_settling_time",
    "recharge_returned",
)
START_NOT_RECORDED = "start not recorded; fitted from the middle of the decay"


_NO_TAPER = "a lithium battery's current stands flat and then stops: there is no taper to measure"


def recharge(flight: Flight) -> list[Measure]:
    """The four measures of the fitted decay, and the maintenance current."""
    return [*_decay_measures(flight), _maintenance(flight)]


def _decay_measures(flight: Flight) -> list[Measure]:
    found = flight.recharge
    if found is None:
        because = ALREADY_RUNNING if flight.begins_running else "the alternator never came on line"
        return [not_measurable(name, because) for name in NAMES]
    if flight.battery.is_lithium:
        return [not_measurable(name, _NO_TAPER) for name in NAMES]
    if found.decay is None:
        return _unfitted(flight, found)
    decay = found.decay
    low, high = tau_interval(flight, decay)
    if high > limit_value("decay_widest") * low:
        because = "load changes and noise hide how fast the current falls"
        if not found.start_recorded:
            because = "too little of the decay is left in the log to tell how fast it falls"
        least = low if found.plain is None else plain_interval(flight, found.plain)[0]
        return [not_measurable(name, because, at_least=least / 60.0 if name == NAMES[1] else None) for name in NAMES]
    note = None if found.start_recorded else START_NOT_RECORDED
    constant = measured(NAMES[1], decay.tau / 60.0, low / 60.0, high / 60.0, note)
    peak = _peak(flight, found, decay)
    seen = _seen_settling(flight, found)
    settling = _settling(flight, found, decay, (low, high), seen)
    returned = _returned(flight, found, decay, (low, high), seen)
    if found.start_recorded:
        return [peak, constant, settling, returned]
    return [_seen_only(peak), constant, _seen_only(settling), _seen_only(returned)]


def _seen_only(since_begin: Measure) -> Measure:
    """What the log still shows of something that was under way before it begins: a lower bound."""
    return not_measurable(since_begin.name, ALREADY_RUNNING, at_least=max(0.0, since_begin.low or 0.0))


def _unfitted(flight: Flight, found: Recharge) -> list[Measure]:
    """The reason why nothing was fitted, with what an unsettled recharge has come to by its last reading.

    Only a battery ammeter shows that: the current still falls, so its last level is the most that it can settle at.
    Where an alternator's ammeter shows the decay plainly after an outage only, the least time constant of that.
    """
    because = found.because or ""
    flow = flight.trace.battery_current
    if not found.unsettled or flow is None:
        least = None if found.plain is None else plain_interval(flight, found.plain)[0] / 60.0
        return [not_measurable(name, because, at_least=least if name == NAMES[1] else None) for name in NAMES]
    time = flight.trace.time
    rows = (time >= found.on_s) & (time <= found.settled_s) & flight.alternator_online & np.isfinite(flow)
    if not rows.any():
        return [not_measurable(name, because) for name in NAMES]
    smooth = running_mean(flow[rows], flight.trace.rows_in(limit_value("settling_smoothed")))
    margin = Z95 * limit_value("level_error")
    last = median(smooth[-max(1, smooth.size // 10) :]) + margin
    charge = float((np.maximum(smooth - last, 0.0) * flight.trace.seconds[rows]).sum()) / 3600.0
    bounds = {
        NAMES[0]: max(0.0, float(smooth.max()) - last),
        NAMES[1]: None if found.at_least_s is None else found.at_least_s / 60.0,
        NAMES[2]: (found.settled_s - found.on_s) / 60.0,
        NAMES[3]: charge,
    }
    return [not_measurable(name, because, at_least=bounds[name]) for name in NAMES]


def tau_interval(flight: Flight, decay: Decay) -> tuple[float, float]:
    """95 % interval of the time constant [s]: the fit's own, and that of its model.

    A recharge is not exactly one exponential (``decay_model_error``; fitted from its middle,
    ``decay_middle_error`` as well, since it falls faster at first), and under an alternator ammeter load
    steps too small to be found pass for decay: as a share of the time constant, about what such a step is
    as a share of the amplitude.
    """
    model = limit_value("decay_model_error")
    if flight.begins_running:
        model = float(np.hypot(model, limit_value("decay_middle_error")))
    return _widened(decay, float(np.hypot(model, _hidden_load(flight, decay) / max(decay.amplitude, 1e-6))))


def plain_interval(flight: Flight, decay: Decay) -> tuple[float, float]:
    """The same of a decay between outages and loads: seen from its middle, and with no step but those too small."""
    output = flight.trace.alternator_output
    step = 0.0 if output is None else resolution(output)
    hidden = max(limit_value("load_step_smallest"), limit_value("load_step_steps") * step) / max(decay.amplitude, 1e-6)
    model = np.hypot(limit_value("decay_model_error"), limit_value("decay_middle_error"))
    return _widened(decay, float(np.hypot(model, hidden)))


def _widened(decay: Decay, model: float) -> tuple[float, float]:
    """Interval of the fit [s], widened by an error of its model, a share of the time constant."""
    below = float(np.hypot(np.log(decay.tau / max(decay.tau_low, 1e-6)), Z95 * model))
    above = float(np.hypot(np.log(decay.tau_high / decay.tau), Z95 * model))
    return decay.tau * float(np.exp(-below)), decay.tau * float(np.exp(above))


def _hidden_load(flight: Flight, decay: Decay) -> float:
    """Load steps under the recharge that are not found, one standard deviation [A].

    Those too small for it, and those that come and go too soon: as much as the fit leaves of the readings.
    """
    output = flight.trace.alternator_output
    if output is None or flight.ammeter.kind == "battery":
        return 0.0
    return float(np.hypot(np.hypot(limit_value("hidden_load"), 0.5 * resolution(output)), decay.residual))


def _peak(flight: Flight, found: Recharge, decay: Decay) -> Measure:
    """The amplitude, carried back to the moment from which the current could decay.

    In its first seconds a recharge falls faster than one exponential, and a robust fit, or one that begins after
    the rush, passes below that: a share of what was seen above it is added.
    """
    back = float(np.exp((found.origin_s - found.knee_s) / decay.tau))
    peak = decay.amplitude * back
    if found.limit_a is not None:
        peak = max(peak, found.limit_a - decay.level)
    error = float(np.hypot(decay.amplitude_error * back, limit_value("peak_model_error") * peak))
    error = Z95 * float(np.hypot(error, _hidden_load(flight, decay)))
    above = max(0.0, _first_seen(flight, found, decay) - peak)
    share = limit_value("peak_seen_share" if found.origin_s == found.knee_s else "peak_seen_share_late")
    value = peak + share * above
    return measured(NAMES[0], value, min(peak, value - error), value + max(error, share * above))


def _first_seen(flight: Flight, found: Recharge, decay: Decay) -> float:
    """Current above the fitted level within the first seconds of the recharge, a running mean's highest [A]."""
    trace = flight.trace
    current = trace.battery_current if flight.ammeter.kind == "battery" else total_output(trace)
    if current is None:
        return 0.0
    rows = (
        (trace.time >= found.on_s)
        & (trace.time <= found.knee_s + limit_value("recharge_transient"))
        & np.isfinite(current)
    )
    if not rows.any():
        return 0.0
    smooth = running_mean(current[rows], min(int(rows.sum()), trace.rows_in(limit_value("peak_smoothed"))))
    return float(smooth.max()) - decay.level


class _Seen(Struct, frozen=True):
    """A battery ammeter's current as it settles: when [min], at the earliest and latest, and its level then [A]."""

    settled: float
    earliest: float
    latest: float
    level: float


def _settling(
    flight: Flight, found: Recharge, decay: Decay, interval: tuple[float, float], seen: _Seen | None
) -> Measure:
    """Minutes until the charging current is within 1 A of its settled level.

    A battery ammeter shows it: its running mean against the level late in the recharge. Under an alternator
    ammeter the loads hide it, and the fitted decay tells.
    """
    name = NAMES[2]
    before = found.origin_s - found.on_s

    def settling(tau: float, amplitude: float) -> float:
        return (before + tau * max(0.0, float(np.log(amplitude / limit_value("settled_within"))))) / 60.0

    amplitude = max(decay.amplitude, limit_value("settled_within"))
    value = settling(decay.tau, amplitude)
    if seen is not None:
        return measured(name, seen.settled, min(seen.earliest, value), max(seen.latest, value))
    spread = Z95 * float(np.hypot(decay.amplitude_error, _hidden_load(flight, decay)))
    ends_before = found.on_s + 60.0 * value > flight.stop_s
    return measured(
        name,
        value,
        settling(interval[0], max(limit_value("settled_within"), amplitude - spread)),
        settling(interval[1], amplitude + spread),
        "longer than the flight: projected from the fitted decay" if ends_before else None,
    )


def _late_level(flight: Flight, found: Recharge) -> tuple[Floats, Floats, float] | None:
    """Times and smoothed charging current of the recharge, and its level late in it [s, A, A].

    Only while the regulator holds the bus: at idle the battery takes little because it is offered little.
    """
    flow = flight.trace.battery_current
    if flow is None:
        return None
    time = flight.trace.time
    rows = (time >= found.on_s) & (time <= found.on_s + limit_value("recharge_window"))
    rows &= flight.alternator_online & np.isfinite(flow)
    if flight.regulated.any():
        rows &= flight.trace.bus_voltage >= held_level(flight) - flight.limits["held_margin"]
    late = rows & (time >= found.settled_s + limit_value("late_after"))
    if float(flight.trace.seconds[late].sum()) < limit_value("maintenance_shortest"):
        return None
    late_rows = np.flatnonzero(late)
    level = float(flow[late_rows[late_rows.size // 2 :]].mean())
    if found.decay is not None:
        level = min(level, found.decay.level)
    smooth = running_mean(flow[rows], flight.trace.rows_in(limit_value("settling_smoothed")))
    return time[rows], smooth, level


def _seen_settling(flight: Flight, found: Recharge) -> _Seen | None:
    late = _late_level(flight, found)
    if late is None:
        return None
    time, smooth, level = late
    error = Z95 * limit_value("level_error")

    def first_within(margin: float) -> float:
        inside = drop_short_runs(smooth - level <= margin, time, limit_value("settled_lasting"))
        return (float(time[int(np.argmax(inside))]) - found.on_s) / 60.0 if inside.any() else float("nan")

    within = limit_value("settled_within")
    times = [first_within(margin) for margin in (within, within + error, within - error)]
    return _Seen(times[0], times[1], times[2], level) if np.isfinite(times).all() else None


def _returned(
    flight: Flight, found: Recharge, decay: Decay, interval: tuple[float, float], seen: _Seen | None
) -> Measure:
    """Charge above the settled level, from the alternator taking the bus until the decay has died away.

    A battery ammeter is added up row by row, to well past settling, since much of a small battery's charge flows
    while the current is within 1 A of its level; what idling draws meanwhile is not taken off. An alternator
    ammeter gives the fitted decay's own charge, A tau (1 - exp(-T / tau)), since the loads' part of it is not the
    battery's; decays that begin anew after idling count with it.
    """
    flow, time = flight.trace.battery_current, flight.trace.time
    past = limit_value("returned_past_settling")
    if seen is not None and flow is not None:
        until = found.on_s + 120.0 * seen.settled + past
        rows = (time >= found.on_s) & (time <= until) & flight.running & np.isfinite(flow)
        seconds = flight.trace.seconds[rows]
        smooth = running_mean(flow[rows], flight.trace.rows_in(limit_value("returned_smoothed")))
        charge = float((np.maximum(smooth - seen.level, 0.0) * seconds).sum()) / 3600.0
        half = Z95 * limit_value("level_error") * 60.0 * seen.settled / 3600.0
        return around(NAMES[3], charge, half + limit_value("returned_model_error") * abs(charge))
    share = max(np.log(interval[1] / decay.tau), np.log(decay.tau / interval[0]))
    ends_s = min(flight.stop_s, 2.0 * found.settled_s - found.on_s + past) - found.origin_s
    starts = [(0.0, decay.amplitude), *(one for one in decay.restarts if one[0] < ends_s)]
    charge = sum(
        amplitude * decay.tau * (1.0 - float(np.exp(-(ends_s - at) / decay.tau))) / 3600.0
        for at, amplitude in starts
        if amplitude > 0.0
    )
    if flow is None:
        first = max(decay.amplitude, 0.5 * (decay.amplitude + _first_seen(flight, found, decay)))
        charge += first * (found.origin_s - found.knee_s) / 3600.0
    else:  # the minutes before the knee, at the alternator's limit
        charge += decay.amplitude * (found.origin_s - found.knee_s) / 3600.0
        rows = (time >= found.on_s) & (time < found.knee_s)
        charge += float((np.nan_to_num(flow[rows] - decay.level) * flight.trace.seconds[rows]).sum()) / 3600.0
    return measured(NAMES[3], charge, charge * float(np.exp(-share)), charge * float(np.exp(share)))


def _maintenance(flight: Flight) -> Measure:
    name = "maintenance_current"
    if flight.trace.battery_current is None:
        return not_measurable(name, "no battery ammeter shows what goes into the battery")
    if flight.ammeter.charge_at_rest:
        return not_measurable(name, "the ammeter shows charge with the engine stopped")
    if flight.recharge is not None and flight.recharge.unsettled:
        return not_measurable(name, flight.recharge.because or "")
    if _more_than_given(flight):
        return not_measurable(name, "the battery ammeter shows more than the alternator gives, so one zero is off")
    rows = _later_half(_calm(flight, flight.regulated))
    if float(flight.trace.seconds[rows].sum()) < limit_value("maintenance_shortest") and flight.regulated.any():
        volts = flight.trace.bus_voltage  # at any engine speed at which the bus is held as high
        level = held_level(flight) - flight.limits["held_margin"]
        rows = _later_half(_calm(flight, flight.alternator_online & (volts >= level)))
    if float(flight.trace.seconds[rows].sum()) < limit_value("maintenance_shortest"):
        return not_measurable(name, "too little of the flight is left after the recharge")
    flow = flight.trace.battery_current[rows]
    value, spread = between_pulses(flow)
    error = spread * np.sqrt(autocorrelation_length(flow) / max(1, flow.size))
    error = float(np.hypot(error, limit_value("ammeter_zero_error")))
    note = "includes any zero error of the ammeter"
    return around(name, value, Z95 * error, note)


def _more_than_given(flight: Flight) -> bool:
    """Whether more seems to go into the battery than the one alternator gives, where both are metered.

    The loads take the rest of the output, so the battery's share is less: one of the two meters is off at zero.
    """
    flow, output = flight.trace.battery_current, flight.trace.alternator_output
    if flow is None or output is None or flight.aircraft.alternators == 2:
        return False
    surplus = running_median(flow - output, flight.trace.rows_in(limit_value("regulated_lasting")))
    surplus = surplus[flight.alternator_online & np.isfinite(surplus)]
    return surplus.size > 0 and float(surplus.max()) > limit_value("zero_error_fault")


def _calm(flight: Flight, rows: Mask) -> Mask:
    """Those of some rows in which the recharge is over, and a while after each outage of the alternator."""
    trace = flight.trace
    calm = rows.copy()
    if trace.battery_current is not None:
        calm &= np.isfinite(trace.battery_current)
    if flight.recharge is not None and flight.recharge.decay is not None:
        calm &= trace.time >= flight.recharge.settled_s
    for outage in flight.outages:
        until = trace.time[outage.end - 1] + limit_value("calm_after_outage")
        calm[outage.end :] &= trace.time[outage.end :] > until
    return calm


def _later_half(rows: Mask) -> NDArray[np.int64]:
    found = np.flatnonzero(rows)
    return found[found.size // 2 :]


def between_pulses(flow: Floats) -> tuple[float, float]:
    """Current into the battery between the pulses of strobes, and the readings' standard deviation [A].

    A strobe's flash draws on the battery for an instant; sampled readings then fall into two heaps, told by
    Sarle's bimodality coefficient above that of an even spread, 5/9. The upper heap is the settled current.
    Without pulses it is the mean, outliers left out, which averages a coarse meter's steps.
    """
    away = np.abs(flow - median(flow))
    far = max(FAR_OUTLIER * (MAD_TO_SIGMA * middle(away)), limit_value("settled_scatter"))
    near = away <= far
    kept = flow[near if near.all() else away <= max(far, 2.0 * resolution(flow))]
    mean, spread = float(kept.mean()), float(kept.std())
    if spread <= 1e-9:
        return mean, spread
    z = (kept - mean) / spread
    squared = z * z
    bimodality = (float((squared * z).mean()) ** 2 + 1.0) / float((squared * squared).mean())
    upper, lower = kept[kept > mean], kept[kept <= mean]
    # two heaps stand further apart than the halves of an even spread, which are 3.5 of their own deviations
    apart = (upper.mean() - lower.mean()) / max(0.5 * (upper.std() + lower.std()), 1e-9)
    pulsed = bimodality > 5.0 / 9.0 and apart > 2.0 * np.sqrt(3.0)
    # a reading that stands still but for one step of its meter has no halves
    return (median(upper), spread) if pulsed and spread > resolution(flow) else (mean, spread)
