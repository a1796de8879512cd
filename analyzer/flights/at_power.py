"""What altitude and airspeed tell of the engine, for logs in which no engine speed does."""

from __future__ import annotations

import numpy as np

from analyzer.flights.trace import Trace
from analyzer.limits import limit_value
from analyzer.series import Mask, hold, running_median


def in_the_air(trace: Trace) -> Mask:
    """Rows well above the lowest altitude of the flight; none without an altitude."""
    altitude = trace.altitude
    if altitude is None or not np.isfinite(altitude).any():
        return np.zeros(trace.time.size, dtype=np.bool_)
    return np.asarray(hold(altitude) - np.nanmin(altitude) > limit_value("power_height"))


def changes_height(trace: Trace, first: int, end: int) -> bool:
    """Whether the aircraft climbs or comes down from row ``first`` to ``end``, wherever the ground lies: it flies.

    Not across a pause in the recording, over which the air's pressure may have changed.
    """
    if trace.altitude is None or not np.isfinite(trace.altitude[first:end]).any():
        return False
    if end - first > 1 and np.diff(trace.time[first:end]).max() > limit_value("recording_gap"):
        return False
    height = running_median(trace.altitude[first:end], trace.rows_in(limit_value("power_window")))
    return bool(np.nanmax(height) - np.nanmin(height) > limit_value("power_height"))


def altitude_tells(trace: Trace, first: int, end: int) -> bool:
    """Whether the flight's altitude is recorded in most rows of a stretch, and tells air from ground."""
    altitude = trace.altitude
    return altitude is not None and bool(np.isfinite(altitude[first:end]).mean() > 0.5 and in_the_air(trace).any())


def power_held(trace: Trace) -> Mask:
    """Rows in flight in which the aircraft neither sinks nor slows: its engine is not idling, whatever tells its speed.

    Told by the altitude and, where it is recorded, the airspeed, over ``power_window`` about each row. None on the
    ground or near it, and none without an altitude.
    """
    held = in_the_air(trace)
    if trace.altitude is None or not held.any():
        return held
    height = hold(trace.altitude)
    half = max(1, trace.rows_in(limit_value("power_window")) // 2)
    row = np.arange(trace.time.size)
    before, after = np.maximum(row - half, 0), np.minimum(row + half, row.size - 1)
    minutes = (trace.time[after] - trace.time[before]) / 60.0
    held &= height[after] - height[before] > -limit_value("power_sink") * minutes
    moving = trace.airspeed if trace.airspeed is not None else trace.ground_speed
    if moving is not None and np.isfinite(moving).any():
        speed = hold(moving)
        held &= speed >= limit_value("flying_speed")
        held &= speed[after] - speed[before] > -limit_value("airspeed_holds")
    return held
