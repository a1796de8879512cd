"""What the bus did before the alternator left it: the level that it held, how high it rose, and since when."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import Floats, Mask, hold, median, median_of_rows, percentile, running_median


class RunUp(Struct, frozen=True):
    """The bus before a loss."""

    level: float  # what the regulator held in this flight outside the event [V]
    lately: float  # median of the last minutes in which the alternator carried the bus [V], NaN without any
    peak: float  # highest reading just before the loss [V]
    from_s: float  # where a rise to it began, the loss where it did not rise [s]
    rose: bool  # as no closing throttle and no failing wire makes it: protection is the likely actor


def run_up(trace: Trace, alternator_online: Mask, first: int, end: int, limits: Limits) -> RunUp:
    """Judge the bus before a loss from row ``first`` to ``end``.

    A rise may take longer than any window of fixed length, and then serves as its own normal level. So the level
    is what most of the hour before held least: a low quartile of the medians of its two-minute stretches, from the
    first that was fully held; and where the alternator came back, no less than what it holds later: a regulator that
    is set high holds that again after every idling, and nothing trips. A bus that
    climbs to the regulator's band from below it, while an alternator at its limit charges a low battery, has not
    risen; nor has one within the band that was not held for long enough before to have a level.

    Parameters
    ----------
    trace : one flight, cleaned
    alternator_online : rows in which the alternator carries the bus
    first, end : rows of the loss, end exclusive
    """
    onset = float(trace.time[first])
    just = max(limit_value("trip_window"), limit_value("trip_fewest_rows") * trace.step_s)
    begin = int(np.searchsorted(trace.time, onset - just))
    near = trace.bus_voltage[begin : min(first + 3, trace.time.size)]
    hour = slice(int(np.searchsorted(trace.time, onset - limit_value("rise_longest"))), begin)
    before = _stretches(trace, alternator_online, hour)
    level = float(np.fmax(_held_least(before, limits), limits["regulated_low"] + limits["held_margin"]))
    soon = int(np.searchsorted(trace.time, trace.time[end - 1] + limit_value("recharge_assumed")))
    after = _stretches(trace, alternator_online, slice(soon, trace.time.size))
    held_later = median(after)
    if after.size:
        level = max(level, held_later)
    if not np.isfinite(near).any():
        return RunUp(level, float("nan"), level, onset, rose=False)
    top = begin + int(np.nanargmax(near))
    peak = float(trace.bus_voltage[top])
    held_s = float(trace.seconds[hour][alternator_online[hour]].sum())
    if held_s < limit_value("level_shortest") and peak <= limits["regulated_high"]:
        return RunUp(level, float("nan"), peak, onset, rose=False)  # it may just have come up to what is held
    near_limit = peak >= limit_value("trip_near") * limits["overvoltage"]
    held_again = after.size > 0 and peak - held_later < limits["trip_rise"]
    rose = (near_limit and not held_again) or peak - level >= limits["trip_rise"]
    lately = float(before[-1]) if before.size else float("nan")
    from_s = _rise_begins(trace, hour.start, top, level + limits["rise_begins"]) if rose else onset
    return RunUp(level, lately, peak, from_s, bool(rose))


def _stretches(trace: Trace, alternator_online: Mask, rows: slice) -> Floats:
    """Medians of the bus over two-minute stretches of some rows in which the alternator carries it most of the time."""
    volts = np.where(alternator_online[rows], trace.bus_voltage[rows], np.nan)
    width = trace.rows_in(limit_value("level_shortest"))
    if volts.size < width:
        return volts[:0] if not np.isfinite(volts).any() else np.array([median(volts)])
    stretches = volts[volts.size % width :].reshape(-1, width)
    held = np.isfinite(stretches).mean(axis=1) > 0.5
    return median_of_rows(stretches[held]) if held.any() else volts[:0]


def _held_least(stretches: Floats, limits: Limits) -> float:
    """A low quartile of what the stretches held, those left out in which the bus only climbs to what it holds."""
    if not stretches.size:
        return float("nan")
    reached = stretches >= median(stretches) - 0.5 * limits["held_margin"]
    return percentile(stretches[int(np.argmax(reached)) :], 25.0)


def _rise_begins(trace: Trace, first: int, top: int, above: float) -> float:
    """Since when the bus, smoothed over some rows, has stood above a voltage at row ``top`` [s]."""
    if top <= first:
        return float(trace.time[top])
    volts = running_median(hold(trace.bus_voltage[first : top + 1]), trace.rows_in(limit_value("trip_window")))
    low = np.flatnonzero(volts <= above)
    return float(trace.time[min(top, first + (int(low[-1]) + 1 if low.size else 0))])
