"""How the battery came back from the start: peak, time constant, settling, charge returned, what remains."""

from __future__ import annotations

import numpy as np

from analyzer.decay import Decay
from analyzer.flights.flight import Flight
from analyzer.flights.recharge import Recharge
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure, around, measured, not_measurable
from analyzer.measures.resting import ALREADY_RUNNING
from analyzer.series import (
    FAR_OUTLIER,
    Z95,
    Floats,
    autocorrelation_length,
    drop_short_runs,
    median,
    resolution,
    robust_sigma,
    running_mean,
)

NAMES = (
    "recharge_peak_current",
    "recharge_time_constant",
    "recharge_settling_time",
    "recharge_returned",
)


def recharge(flight: Flight) -> list[Measure]:
    """The four measures of the fitted decay, and the maintenance current."""
    return [*_decay_measures(flight), _maintenance(flight)]


def _decay_measures(flight: Flight) -> list[Measure]:
    found = flight.recharge
    if not flight.onset_recorded:
        return [not_measurable(name, ALREADY_RUNNING) for name in NAMES]
    if found is None:
        return [not_measurable(name, "the alternator never took the bus") for name in NAMES]
    if found.decay is None:
        return [not_measurable(name, found.because or "") for name in NAMES]
    decay = found.decay
    low, high = tau_interval(flight, decay)
    return [
        _peak(flight, found, decay),
        measured(NAMES[1], decay.tau / 60.0, low / 60.0, high / 60.0),
        _settling(flight, found, decay, low, high),
        _returned(flight, found, decay, (low, high)),
    ]


def tau_interval(flight: Flight, decay: Decay) -> tuple[float, float]:
    """95 % interval of the time constant [s]: the fit's own, and that of its model.

    A recharge is not exactly one exponential (``decay_model_error``), and under an alternator ammeter load
    steps too small to be found pass for decay: as a share of the time constant, about what such a step is
    as a share of the amplitude.
    """
    hidden = _hidden_load(flight) / max(decay.amplitude, 1e-6)
    model = float(np.hypot(limit_value("decay_model_error"), hidden))
    below = float(np.hypot(np.log(decay.tau / max(decay.tau_low, 1e-6)), Z95 * model))
    above = float(np.hypot(np.log(decay.tau_high / decay.tau), Z95 * model))
    return decay.tau * float(np.exp(-below)), decay.tau * float(np.exp(above))


def _hidden_load(flight: Flight) -> float:
    """Load steps under the recharge that are too small to be found, one standard deviation [A]."""
    if flight.trace.alternator_current is None or flight.ammeter.kind == "battery":
        return 0.0
    return float(np.hypot(limit_value("hidden_load"), 0.5 * resolution(flight.trace.alternator_current)))


def _peak(flight: Flight, found: Recharge, decay: Decay) -> Measure:
    """The amplitude, carried back to the moment from which the current could decay."""
    back = float(np.exp((found.origin_s - found.knee_s) / decay.tau))
    peak = decay.amplitude * back
    if found.limit_a is not None:
        peak = max(peak, found.limit_a - decay.level)
    error = float(np.hypot(decay.amplitude_error * back, limit_value("peak_model_error") * peak))
    error = float(np.hypot(error, _hidden_load(flight)))
    return around(NAMES[0], peak, Z95 * error)


def _settling(flight: Flight, found: Recharge, decay: Decay, low: float, high: float) -> Measure:
    """Minutes until the charging current is within 1 A of its settled level.

    A battery ammeter shows it: its running mean against the level late in the recharge. Under an alternator
    ammeter the loads hide it, and the fitted decay tells.
    """
    name = NAMES[2]
    seen = _seen_settling(flight, found)
    before = found.origin_s - found.on_s

    def settling(tau: float, amplitude: float) -> float:
        return (before + tau * max(0.0, float(np.log(amplitude / limit_value("settled_within"))))) / 60.0

    amplitude = max(decay.amplitude, limit_value("settled_within"))
    value = settling(decay.tau, amplitude)
    if seen is not None:
        return measured(name, seen[0], min(seen[1], value), max(seen[2], value))
    spread = Z95 * float(np.hypot(decay.amplitude_error, _hidden_load(flight)))
    ends_before = found.on_s + 60.0 * value > flight.stop_s
    return measured(
        name,
        value,
        settling(low, max(limit_value("settled_within"), amplitude - spread)),
        settling(high, amplitude + spread),
        "longer than the flight, as the fitted decay would go on" if ends_before else None,
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
    rows &= flight.carries & np.isfinite(flow)
    if flight.regulated.any():
        volts = flight.trace.bus_voltage
        rows &= volts >= median(volts[flight.regulated]) - flight.limits["held_margin"]
    late = rows & (time >= found.settled_s + limit_value("late_after"))
    if float(flight.trace.seconds[late].sum()) < limit_value("maintenance_shortest"):
        return None
    late_rows = np.flatnonzero(late)
    level = float(flow[late_rows[late_rows.size // 2 :]].mean())
    if found.decay is not None:
        level = min(level, found.decay.level)
    smooth = running_mean(flow[rows], flight.trace.rows_in(limit_value("settling_smoothed")))
    return time[rows], smooth, level


def _seen_settling(flight: Flight, found: Recharge) -> tuple[float, float, float] | None:
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
    return (times[0], times[1], times[2]) if np.isfinite(times).all() else None


def _returned(flight: Flight, found: Recharge, decay: Decay, interval: tuple[float, float]) -> Measure:
    """Charge above the settled level, from the alternator taking the bus until settled.

    A battery ammeter is added up row by row; an alternator ammeter gives the fitted decay's own charge,
    A tau (1 - exp(-T / tau)), since the loads' part of it is not the battery's.
    """
    late = _late_level(flight, found)
    seen = _seen_settling(flight, found)
    flow = flight.trace.battery_current
    if late is not None and seen is not None and flow is not None:
        time = flight.trace.time
        rows = (time >= found.on_s) & (time <= found.on_s + 60.0 * seen[0]) & flight.running
        seconds = flight.trace.seconds[rows]
        charge = float((np.nan_to_num(flow[rows] - late[2]) * seconds).sum()) / 3600.0
        half = Z95 * limit_value("level_error") * float(seconds.sum()) / 3600.0
        return around(NAMES[3], charge, half + limit_value("returned_model_error") * abs(charge))
    share = max(np.log(interval[1] / decay.tau), np.log(decay.tau / interval[0]))
    ends = (found.settled_s - found.origin_s) / decay.tau
    charge = decay.amplitude * decay.tau * (1.0 - float(np.exp(-ends))) / 3600.0
    charge += decay.amplitude * (found.origin_s - found.knee_s) / 3600.0
    if flow is not None:  # the minutes before the knee, at the alternator's limit
        rows = (flight.trace.time >= found.on_s) & (flight.trace.time < found.knee_s)
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
    calm = flight.regulated & np.isfinite(flight.trace.battery_current)
    if flight.recharge is not None and flight.recharge.decay is not None:
        calm &= flight.trace.time >= flight.recharge.settled_s
    for absence in flight.absences:
        until = flight.trace.time[absence.end - 1] + limit_value("calm_after_absence")
        calm[absence.end :] &= flight.trace.time[absence.end :] > until
    rows = np.flatnonzero(calm)
    rows = rows[rows.size // 2 :]
    if float(flight.trace.seconds[rows].sum()) < limit_value("maintenance_shortest"):
        return not_measurable(name, "too little of the flight is left after the recharge")
    flow = flight.trace.battery_current[rows]
    value, spread = between_pulses(flow)
    error = spread * np.sqrt(autocorrelation_length(flow) / max(1, flow.size))
    error = float(np.hypot(error, limit_value("ammeter_zero_error")))
    note = "holds any error that the ammeter has at zero"
    return around(name, value, Z95 * error, note)


def between_pulses(flow: Floats) -> tuple[float, float]:
    """Current into the battery between the pulses of strobes, and the readings' standard deviation [A].

    A strobe's flash draws on the battery for an instant; sampled readings then fall into two heaps, told by
    Sarle's bimodality coefficient above that of an even spread, 5/9. The upper heap is the settled current.
    Without pulses it is the mean, outliers left out, which averages a coarse meter's steps.
    """
    middle, step = median(flow), resolution(flow)
    far = max(FAR_OUTLIER * robust_sigma(flow), 2.0 * step, limit_value("settled_scatter"))
    kept = flow[np.abs(flow - middle) <= far]
    mean, spread = float(kept.mean()), float(kept.std())
    if spread <= step:
        return mean, spread
    z = (kept - mean) / spread
    bimodality = (float((z**3).mean()) ** 2 + 1.0) / float((z**4).mean())
    upper, lower = kept[kept > mean], kept[kept <= mean]
    # two heaps stand further apart than the halves of an even spread, which are 3.5 of their own deviations
    apart = (upper.mean() - lower.mean()) / max(0.5 * (upper.std() + lower.std()), 1e-9)
    pulsed = bimodality > 5.0 / 9.0 and apart > 2.0 * np.sqrt(3.0)
    return (median(upper), spread) if pulsed else (mean, spread)
