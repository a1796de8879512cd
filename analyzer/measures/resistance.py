"""Resistance of the battery and its leads, as the voltmeter sees them, while the battery gives current."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct

from analyzer.flights.flight import Flight
from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import Measure, around, not_measurable
from analyzer.series import MIDDLE_95, Z95, Floats, Mask, autocorrelation_length, middle, near, percentiles, runs

NAME = "battery_resistance"
SPENT = "the bus fell by more than a battery that turns the engine lets it: it was spent"
#: Huber's constant for the stretches' own slopes, in their standard errors.
_HUBER = 1.345


class _Stretch(Struct, frozen=True):
    """What one stretch of discharge says of the slope."""

    ohms: float
    error: float  # one standard error [ohm]
    spread: float  # of the current within the stretch, the middle 95 % [A]


def battery_resistance(flight: Flight, seen: Measure) -> Measure:
    """Resistance of the battery and its leads [mohm]: what the voltmeter sees, where that is theirs."""
    if seen.value is None:
        return seen
    if any(fault.kind == "path" and fault.channel == "bus_voltage" for fault in flight.reading_faults):
        return not_measurable(NAME, "the voltmeter reads low by what all loads draw, and not the battery alone")
    if seen.value > flight.limits["resistance_most"]:
        return not_measurable(NAME, SPENT)
    return seen


def resistance_at_rest(flight: Flight, seen: Measure) -> Measure:
    """What lifts a rest to no load [mohm]: all that the voltmeter sees, a spent battery's fall aside.

    At rest the battery carries all loads, so a resistance in the voltmeter's way counts too.
    """
    if seen.value is not None and seen.value > flight.limits["resistance_most"]:
        return not_measurable(NAME, SPENT)
    return seen


def resistance_seen(flight: Flight) -> Measure:
    """Fall of the recorded bus per ampere that the battery gives [mohm], over 1 to 10 s; longer for rows far apart.

    Each reading's change is the mean of the 1 to 10 s after it less that of the 1 to 10 s before it, of volts
    and of amperes: a battery's answer to a step grows with time, so a resistance means something only with its
    time scale. What moves slowly within a stretch (polarisation, charge that leaves the plates' surface) is a
    term of that stretch. The slope comes from the changes that stand out of the ammeter's noise, which are their
    own instrument: least squares on all of them would read too low, since noise in the current flattens a slope.
    """
    trace, flow = flight.trace, flight.trace.battery_current
    if flow is None:
        return not_measurable(NAME, "the battery's current is not recorded")
    rows = discharging(flight)
    if not rows.any():
        return not_measurable(NAME, "the battery never gave current long enough with the bus below resting voltage")
    stretches = [
        found
        for first, end in runs(rows)
        for part in _seamless(trace.time, first, end)
        if (found := _slope(trace.time[part], trace.bus_voltage[part], flow[part], flight.limits, trace.voltage_step))
    ]
    least = flight.limits["resistance_least_spread"]
    spread = max((stretch.spread for stretch in stretches), default=0.0)
    if spread < least:
        return not_measurable(NAME, f"the battery's current varied by less than {least:.1f} A while discharging")
    ohms, error = _combined(stretches)
    if ohms * spread < limit_value("resistance_voltage_steps") * trace.voltage_step or ohms <= 0.0:
        return not_measurable(NAME, "the bus fell too little for the voltmeter's resolution")
    error = float(np.hypot(error, limit_value("resistance_model_error") * ohms))
    if Z95 * error > limit_value("resistance_widest") * ohms:
        return not_measurable(NAME, "the battery's current varied too little against the meters' steps and noise")
    note = f"battery and leads as the voltmeter sees them, over 1 to {_window(trace.step_s):.0f} s"
    return around(NAME, 1000.0 * ohms, 1000.0 * Z95 * error, note)


def discharging(flight: Flight) -> Mask:
    """Rows in which the battery gives current, the bus is below its rest and charging ended a while ago.

    None without a battery ammeter.
    As charging ends the bus falls by volts that are charging overvoltage and no resistance; cranking is too short
    and too strong for most ammeters.
    """
    trace, flow = flight.trace, flight.trace.battery_current
    if flow is None:
        return np.zeros(trace.time.size, dtype=np.bool_)
    zero = flight.ammeter.charge_at_rest
    below = flight.limits["full_battery"] + flight.limits["carrying_smallest_rise"]
    least = flight.limits["resistance_least_discharge"]
    rows = np.isfinite(flow) & (trace.bus_voltage < below) & (flow - zero < -least)
    rows &= ~near(flight.crank, trace.rows_in(limit_value("resistance_beside_crank")))
    charged = np.where(flow - zero > -0.5 * least, trace.time, -np.inf)
    since = trace.time - np.maximum.accumulate(charged)
    return np.asarray(rows & (since > limit_value("resistance_after_charging")))


def _seamless(time: Floats, first: int, end: int) -> list[slice]:
    """Cut a stretch where the recording has a gap."""
    gaps = np.flatnonzero(np.diff(time[first:end]) > limit_value("resistance_window")) + first + 1
    edges = [first, *map(int, gaps), end]
    return [slice(a, b) for a, b in pairwise(edges)]


def _window(step_s: float) -> float:
    """Time before and after a row over which readings are averaged [s]: of rows far apart as many as average pulses."""
    return max(limit_value("resistance_window"), limit_value("resistance_rows") * step_s)


def _changes(time: Floats, longest: float, *channels: Floats) -> tuple[Mask, list[Floats]]:
    """Mean of the 1 s to ``longest`` after each row less that before it; and the rows that have both."""
    shortest = limit_value("resistance_skipped")
    before = np.searchsorted(time, time - longest), np.searchsorted(time, time - shortest, side="right")
    after = np.searchsorted(time, time + shortest), np.searchsorted(time, time + longest, side="right")
    counts = [edges[1] - edges[0] for edges in (before, after)]
    reach = (time - time[0] >= 0.6 * longest) & (time[-1] - time >= 0.6 * longest)
    known = (counts[0] > 0) & (counts[1] > 0) & reach
    changes = []
    for values in channels:
        sums = np.concatenate(([0.0], np.cumsum(values)))
        means = [
            (sums[edges[1]] - sums[edges[0]]) / np.maximum(count, 1)
            for edges, count in zip((before, after), counts, strict=True)
        ]
        changes.append((means[1] - means[0])[known])
    return known, changes


def _slope(time: Floats, volts: Floats, amps: Floats, limits: Limits, step: float) -> _Stretch | None:
    """Slope of one stretch with its error, None where the current does not stand out of its noise."""
    if time.size < limit_value("resistance_fewest_rows"):
        return None
    window = _window(middle(np.diff(time)))
    known, (dv, di) = _changes(time, window, volts, amps)
    if di.size < limit_value("resistance_fewest_rows"):
        return None
    rows_each = max(1.0, di.size * window / max(float(time[-1] - time[0]), 1e-9))
    noise = middle(np.abs(np.diff(amps))) * np.sqrt(2.0 / rows_each)
    clear = max(limits["resistance_least_change"], 4.0 * noise)
    tool = np.where(np.abs(di) >= clear, di, 0.0)
    if not tool.any():
        return None
    since = time[known] - time[0]
    slow = np.stack([np.ones_like(since), np.exp(-since / limit_value("resistance_slow"))], axis=1)
    dv, di, tool = (values - slow @ np.linalg.lstsq(slow, values, rcond=None)[0] for values in (dv, di, tool))
    shared = float(tool @ di)
    if shared <= 0.5 * float(tool @ tool):
        return None
    ohms = float(tool @ dv) / shared
    residual = dv - ohms * di
    together = max(rows_each, autocorrelation_length(residual))
    # a mean of few readings between two steps of the voltmeter errs by a share of a step, at both ends of a change
    sigma = float(np.hypot(residual.std() * np.sqrt(di.size / max(1.0, di.size - 3.0)), step * np.sqrt(2.0 / 12.0)))
    error = sigma * float(np.sqrt((tool @ tool) * together)) / shared
    low, high = percentiles(amps, MIDDLE_95)
    return _Stretch(ohms, error, float(high - low))


def _combined(stretches: list[_Stretch]) -> tuple[float, float]:
    """Slope of all stretches and its standard error [ohm]: weighted means, reweighted after Huber.

    Where the stretches differ by more than their own errors the difference is added to each (DerSimonian and
    Laird, Controlled Clinical Trials 7, 1986; from memory).
    """
    ohms = np.array([stretch.ohms for stretch in stretches])
    variance = np.array([stretch.error for stretch in stretches]) ** 2
    between = 0.0
    centre = float(np.average(ohms, weights=1.0 / variance))
    for _ in range(8):
        total = variance + between
        weight = _HUBER / np.maximum(_HUBER, np.abs(ohms - centre) / np.sqrt(total)) / total
        centre = float(np.average(ohms, weights=weight))
        own = 1.0 / variance
        excess = float((own * np.minimum((ohms - centre) ** 2, 9.0 * total)).sum()) - (ohms.size - 1)
        scale = float(own.sum() - (own**2).sum() / own.sum())
        between = max(0.0, excess / scale) if scale > 0.0 else 0.0
    return centre, float(np.sqrt(1.0 / weight.sum()))
