"""Where the regulator holds the bus, how steadily, and how that moves with time and load."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.flights.flight import Flight
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure, around, measured, not_measurable
from analyzer.series import (
    FAR_OUTLIER,
    MAD_TO_SIGMA,
    OUTLIER,
    Z95,
    Floats,
    Mask,
    autocorrelation_length,
    independent_readings,
    median_interval,
    middle,
    middle_range,
    once_a_series,
    readings_in,
    resolution,
    robust_sigma,
    running_median,
    series_median,
)

NAMES = ("regulated_voltage", "regulation_scatter", "regulation_slope", "regulation_droop")
_MOST_MEANS = 600
NEVER_HELD = "the alternator never carried the bus"


def regulation(flight: Flight) -> list[Measure]:
    """Regulated voltage, scatter, slope, droop, and the highest voltage of the flight."""
    return [*_held(flight), _highest(flight)]


def _held(flight: Flight) -> list[Measure]:
    rows = flight.regulated_rows
    if flight.recharge is None:
        return [not_measurable(name, NEVER_HELD) for name in NAMES]
    if float(flight.trace.seconds[rows].sum()) < limit_value("regulated_shortest"):
        because = "the alternator carried the bus too briefly after the recharge"
        return [not_measurable(name, because) for name in NAMES]
    return [*_level_and_scatter(flight), _slope(flight, rows), _droop(flight, rows)]


def _level_and_scatter(flight: Flight) -> list[Measure]:
    """Regulated voltage and its scatter."""
    volts = flight.regulated_volts
    floor = flight.trace.voltage_step / np.sqrt(12.0)
    centre, low, high = median_interval(volts, float(np.hypot(floor, limit_value("volts_model_error"))))
    scatter = MAD_TO_SIGMA * middle(np.abs(volts - centre))
    step = 0.5 * flight.trace.voltage_step
    # a robust scatter's own error is 1.17 sigma / sqrt(n) for a normal parent (median absolute deviation)
    error = float(np.hypot(1.17 * scatter / np.sqrt(independent_readings(volts)), step / Z95))
    error = float(np.hypot(error, limit_value("scatter_model_error") * scatter))
    return [
        measured(NAMES[0], centre, low, high),
        measured(NAMES[1], scatter, max(0.0, scatter - Z95 * error), scatter + Z95 * error),
    ]


def held_level(flight: Flight) -> float:
    """Level at which the regulator holds the bus [V], the median; NaN where it never does."""
    return series_median(flight.regulated_volts)


@once_a_series
def minute_means(time: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Means of the readings of each minute, outliers left out: (time [s], value).

    In a run of many hours the stretches are longer, so that they never are more than ``_MOST_MEANS``. A minute
    counts with five readings, or with what a slower recorder writes in one.

    Means rather than medians, since noise over a coarse voltmeter's steps averages to finer than a step.
    """
    if time.size < 2:
        return time[:0], values[:0]
    fewest = min(limit_value("minute_readings"), limit_value("minute_share") * 60.0 / middle(np.diff(time)))
    kept = _no_outliers(values)
    time = time[kept]
    starts = _minute_starts(time)
    counts = np.diff(starts, append=time.size)
    full = counts >= fewest
    of_time = np.add.reduceat(time, starts) / counts
    del time  # of a long log no two such series stand beside each other
    return of_time[full], (np.add.reduceat(values[kept], starts) / counts)[full]


def _minute_starts(time: Floats) -> NDArray[np.int64]:
    """First rows of the minutes, or of longer stretches."""
    stretch = max(60.0, float(np.ptp(time)) / _MOST_MEANS)
    minute = (time - time[:1]) / stretch  # from the first row, whatever the clock
    np.floor(minute, out=minute)
    return np.concatenate((np.zeros(1, np.int64), np.flatnonzero(minute[1:] != minute[:-1]) + 1))


def _no_outliers(values: Floats) -> Mask:
    away = values - running_median(values, int(limit_value("minute_smoothed_rows")))
    most = FAR_OUTLIER * robust_sigma(away)
    kept = np.abs(away, out=away) <= most
    return np.asarray(kept if kept.all() else away <= max(most, resolution(values)))


def _slope(flight: Flight, rows: Mask) -> Measure:
    """Theil-Sen slope of the minutes' means, a summary of the flight whether it moves in a line or not.

    Its error is that of all that the line leaves of the minutes, slow misfit and noise alike, and of a voltmeter's
    step: within one step a slow movement leaves no trace, so up to ``slope_hidden_share`` of a step may pass
    unseen. A course that is no line has no one slope: by least squares it has another than by Theil and Sen, and
    what lies between the two is added.
    """
    name = NAMES[2]
    time, volts = minute_means(readings_in(flight.trace.time, rows), flight.regulated_volts)
    if time.size < limit_value("slope_fewest_minutes"):
        return not_measurable(name, "too few minutes of regulated flight")
    later = np.tri(time.size, k=-1, dtype=np.bool_)  # each pair of minutes once
    slope = middle((volts[:, None] - volts)[later] / (time[:, None] - time)[later])
    about = time - time.mean()
    residual = volts - slope * about
    residual = residual - residual.mean()
    squares = float((about**2).sum())
    by_squares = float(about @ volts) / squares
    independent = max(limit_value("slope_fewest_independent"), time.size / autocorrelation_length(residual))
    hidden = limit_value("slope_hidden_share") * flight.trace.voltage_step / float(time[-1] - time[0])
    error = float(np.hypot(residual.std() / np.sqrt(squares * independent / time.size), hidden))
    return around(name, 3600.0 * slope, 3600.0 * (Z95 * error + abs(by_squares - slope)))


def _droop(flight: Flight, rows: Mask) -> Measure:
    """Fall of the bus per ampere of load, by least squares of voltage on current and time, outliers left out.

    Only an alternator ammeter shows the load; a battery ammeter shows what the bus voltage does to the battery,
    which runs the other way.
    """
    name = NAMES[3]
    trace = flight.trace
    current = total_output(trace)
    if current is None:
        return not_measurable(name, "no alternator ammeter shows the load")
    rows = rows & np.isfinite(current) & np.isfinite(trace.bus_voltage)
    amps, volts, time = current[rows], trace.bus_voltage[rows], trace.time[rows]
    if amps.size < limit_value("droop_fewest_rows") or middle_range(amps, 99.0) < limit_value("droop_least_swing"):
        return not_measurable(name, "the current did not vary enough")
    t = (time - time.mean()) / 3600.0
    design = np.stack([np.ones_like(t), t, amps - amps.mean()], axis=1)
    kept = np.ones(t.size, dtype=np.bool_)
    for _ in range(3):
        terms, *_ = np.linalg.lstsq(design[kept], volts[kept], rcond=None)
        residuals = volts - design @ terms
        kept = np.abs(residuals) <= max(OUTLIER * robust_sigma(residuals), resolution(volts))
    if kept.sum() < limit_value("droop_fewest_rows") or np.ptp(amps[kept]) < limit_value("droop_kept_swing"):
        return not_measurable(name, "the current varied for moments only")
    covariance = np.linalg.inv(design[kept].T @ design[kept])
    rows_each = autocorrelation_length(residuals[kept])
    error = 1000.0 * float(np.sqrt(covariance[2, 2] * rows_each) * residuals[kept].std())
    # a voltmeter with little noise of its own moves in whole steps, which no averaging makes finer
    step = trace.voltage_step / np.sqrt(12.0)
    error = float(np.hypot(error, 1000.0 * step / middle_range(amps, 99.0)))
    droop = -1000.0 * float(terms[2])
    error = float(np.hypot(error, flight.limits["droop_model_error"]))
    if Z95 * error > flight.limits["droop_widest"]:
        return not_measurable(name, "the current varied too little for the voltmeter's resolution")
    return around(name, droop, Z95 * error)


def _highest(flight: Flight) -> Measure:
    volts = flight.trace.bus_voltage
    if not np.isfinite(volts).any():
        return not_measurable("highest_voltage", "no bus voltage was recorded")
    half = 0.5 * flight.trace.voltage_step + Z95 * limit_value("volts_model_error")
    return around("highest_voltage", float(np.nanmax(volts)), half)
