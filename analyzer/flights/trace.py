"""A log as arrays on one time axis: what every later stage computes on."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.limits import limit_value
from analyzer.series import Floats, Mask, resolution, row_seconds, running_median, series_median, shared, usual_step

if TYPE_CHECKING:
    from analyzer.logs.log import Log


#: Channels that show zero throughout where no sensor is fitted.
ZERO_IS_NOT_FITTED = frozenset(
    {
        *("engine_speed", "engine_speed_2", "engine_speed_percent"),
        *("oil_pressure", "airspeed", "ground_speed", "backup_voltage"),
    }
)


class Trace(Struct, frozen=True, dict=True):
    """Readings of one stretch of a log; NaN is a missing reading, None a channel that is not recorded.

    The arrays are never written to, so that what is derived from them is computed once.
    """

    time: Floats  # [s] from the log's first row, strictly increasing
    bus_voltage: Floats  # [V]
    bus_voltage_2: Floats | None = None  # [V]
    battery_current: Floats | None = None  # [A], into the battery positive
    alternator_current: Floats | None = None  # [A], output positive
    alternator_current_2: Floats | None = None  # [A]
    ammeter_current: Floats | None = None  # [A], of a kind the header does not tell
    backup_voltage: Floats | None = None  # [V], of a backup battery by itself
    engine_speed: Floats | None = None  # [rpm], of the fastest engine
    engine_speed_1: Floats | None = None  # [rpm], of the first engine by itself where there is a second
    engine_speed_2: Floats | None = None  # [rpm], of a second engine by itself
    engine_speed_percent: Floats | None = None  # [%], a turbine's core speed
    oil_pressure: Floats | None = None  # [psi]
    outside_air_temperature: Floats | None = None  # [degC]
    airspeed: Floats | None = None  # [kt]
    ground_speed: Floats | None = None  # [kt]
    altitude: Floats | None = None  # [ft]

    def __post_init__(self) -> None:
        """Keep the readings from being written to."""
        for name in _CHANNELS:
            if (channel := getattr(self, name)) is not None:
                channel.flags.writeable = False

    @cached_property
    def step_s(self) -> float:
        """Typical time from row to row [s]."""
        return usual_step(self.time) if self.time.size > 1 else 1.0

    @cached_property
    def seconds(self) -> Floats:
        """Seconds that each row stands for; a gap stands for no more than a few rows."""
        slow = limit_value("gap_fewest_steps") * self.step_s
        return row_seconds(self.time, self.step_s, max(limit_value("gap_longest_counted"), slow))

    @cached_property
    def voltage_step(self) -> float:
        """Smallest step between different readings of the bus voltage [V], 0 when nothing moves."""
        return resolution(self.bus_voltage)

    @cached_property
    def alternator_output(self) -> Floats | None:
        """Output of all alternators together [A], None when none is recorded; of one where the other's is blank."""
        if self.alternator_current is None or self.alternator_current_2 is None:
            return self.alternator_current
        first, second = self.alternator_current, self.alternator_current_2
        return np.where(np.isfinite(second), first + second, first)

    @cached_property
    def airborne(self) -> Mask:
        """Rows in which airspeed or ground speed is one that only flight gives."""
        flying = np.zeros(self.time.size, dtype=np.bool_)
        for speed in (self.airspeed, self.ground_speed):
            if speed is not None:
                flying |= running_median(speed, 5) >= limit_value("flying_speed")
        return flying

    def rows_in(self, duration_s: float) -> int:
        """How many rows ``duration_s`` seconds take, at least 1."""
        return max(1, round(duration_s / self.step_s))

    def rows(self, first: int, end: int) -> Trace:
        """Give the rows from ``first`` up to ``end``, which is left out."""
        if first == 0 and end >= self.time.size:
            return self
        cut: dict[str, Any] = {}
        for name in _CHANNELS:
            channel = getattr(self, name)
            cut[name] = None if channel is None else channel[first:end]
        return Trace(**cut)

    def with_channels(self, **channels: Floats | None) -> Trace:
        """Give the same trace with some channels replaced."""
        changed: dict[str, Any] = channels
        return replace(self, **changed)


_CHANNELS = Trace.__struct_fields__
#: Channels of volts, which never stand far below zero: what does is a mark for no reading.
VOLTAGES = ("bus_voltage", "bus_voltage_2", "backup_voltage")


def trace_of(log: Log) -> Trace:
    """Bring a log's table to arrays; a channel that is not fitted counts as not recorded.

    The engine speed is that of the fastest engine, since one that runs is enough for an alternator; those of two
    engines stand beside it. Not fitted: no reading at all; an engine's speed, oil pressure, airspeed or backup battery
    that is zero throughout; an outside air temperature that air does not have.
    """
    channels: dict[str, Floats] = {}
    for name, values in log.readings.channels.items():
        absurd = limit_value("reading_absurd")
        lowest = -limit_value("voltage_negative") if name in VOLTAGES else -absurd
        known = _blanked(values, (values > absurd) | (values < lowest))
        if np.isfinite(known).any() and not _not_fitted(name, shared(known)):
            channels[name] = known
    time = log.readings.time_s
    channels.setdefault("bus_voltage", np.full(time.size, np.nan))
    first, second = channels.get("engine_speed"), channels.get("engine_speed_2")
    if second is not None:
        channels["engine_speed"] = second if first is None else np.fmax(first, second)
        if first is not None:
            channels["engine_speed_1"] = first
    return Trace(time=time, **channels)


def _blanked(values: Floats, blank: Mask) -> Floats:
    """Readings without some rows; the series itself where there are none to blank."""
    return np.where(blank, np.nan, values) if blank.any() else values


def _not_fitted(name: str, values: Floats) -> bool:
    if name in ZERO_IS_NOT_FITTED:
        return float(np.nanmax(values)) <= 0.0
    if name == "outside_air_temperature":
        typical = series_median(values)
        return not limit_value("air_temperature_lowest") < typical < limit_value("air_temperature_highest")
    return False


def downsampled(trace: Trace, breaks: tuple[int, ...]) -> tuple[Trace, tuple[int, ...]]:
    """Bring a trace sampled faster than anything needs to means over equally many rows, breaks with it.

    What is faster than the limit ``step_shortest`` is neither an engine nor a battery, and would only cost
    time; the lowest voltage of a crank lasts longer.
    """
    group = int(limit_value("step_shortest") / max(trace.step_s, 1e-6))
    if group < 2:
        return trace, breaks
    rows = trace.time.size // group * group

    def means(channel: Floats) -> Floats:
        known = np.isfinite(channel[:rows])
        counts = known.reshape(-1, group).sum(axis=1)
        sums = np.where(known, channel[:rows], 0.0).reshape(-1, group).sum(axis=1)
        return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)

    channels = {name: getattr(trace, name) for name in _CHANNELS}
    slow: dict[str, Any] = {name: None if channel is None else means(channel) for name, channel in channels.items()}
    return replace(trace, **slow), tuple(min(row, rows - 1) // group for row in breaks)
