"""Limits for a recorder's alarms from an aircraft's own flights, and whether they and the light warn in time.

A limit stands clear of what lasted in the sound flights, and is told with how often it would have sounded falsely in
them. The manuals of aircraft and recorder go first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

from analyzer.limits import Limits, limit_value
from analyzer.measures.meter_record import Extremes, MeterRecord
from analyzer.phrases import counted
from analyzer.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm: a suggested limit, or why there is none."""

    name: str  # low_voltage, high_voltage, discharge
    unit: str
    because: str | None = None
    limit: float | None = None
    usual: Quantity | None = None  # the lasting extreme of sound flights, with its interval over flights
    false_flights: int = 0  # sound flights in which it would have sounded
    false_slow: int = 0  # of these, with the engine running slowly only
    of_flights: int = 0
    false_most: float = 1.0  # the share of flights that this may be, at the most (95 %)


@dataclass(frozen=True, slots=True)
class Warned:
    """One recorded loss of the alternator: when light and alarms would have come [s after it; None: never]."""

    flight: int  # its place among the records that were given
    from_s: float
    lasts: float
    light: float | None
    low_voltage: float | None
    discharge: float | None
    told: bool  # whether a bus voltage was recorded, which the light goes by


@dataclass(frozen=True, slots=True)
class AlarmLimits:
    """Alarms and losses of one aircraft."""

    flights: int
    sound: int
    light_at: Quantity  # where the low-voltage light comes on [V]
    alarms: tuple[Alarm, ...]
    losses: tuple[Warned, ...]

    def alarm(self, name: str) -> Alarm:
        """The alarm of a name."""
        return next(one for one in self.alarms if one.name == name)


def alarm_limits(records: Sequence[MeterRecord], limits: Limits, light_at: Quantity) -> AlarmLimits:
    """Give them.

    Parameters
    ----------
    records : of the flights, in order
    limits : of this aircraft
    light_at : where its low-voltage light comes on [V]
    """
    sound = [one for one in records if one.sound]
    low, high, discharge = _low(sound, limits), _high(sound, limits), _discharge(sound)
    losses = [
        Warned(
            place,
            loss.from_s,
            loss.lasts,
            loss.first_below(light_at.value, loss.volts),
            None if low.limit is None else loss.first_below(low.limit, loss.volts),
            None if discharge.limit is None else loss.first_below(discharge.limit, loss.battery),
            bool(np.isfinite(loss.volts).any()),
        )
        for place, one in enumerate(records)
        for loss in one.losses
    ]
    return AlarmLimits(len(records), len(sound), light_at, (low, high, discharge), tuple(losses))


@dataclass(frozen=True, slots=True)
class _Watched:
    """What an alarm watches."""

    name: str
    unit: str
    what: str
    low: bool  # it sounds below its limit
    fast: Callable[[MeterRecord], Extremes]
    slow: Callable[[MeterRecord], Extremes]
    limit_of: Callable[[float], float]  # the limit that stands clear of a lasting extreme

    def reading(self, extremes: Extremes) -> float | None:
        """The lasting extreme that it would sound at first."""
        return extremes.lowest if self.low else extremes.highest

    def sounds(self, extremes: Extremes, limit: float) -> bool:
        """Whether it would have sounded."""
        reading = self.reading(extremes)
        return reading is not None and (reading < limit if self.low else reading > limit)

    def usual(self, readings: NDArray[np.float64]) -> NDArray[np.float64]:
        """The extreme of sound flights, robust against the odd one: a percentile over the last axis."""
        share = limit_value("alarm_share")
        return np.asarray(np.quantile(readings, share if self.low else 1.0 - share, axis=-1))


_NOTHING = Extremes(None, None)


def _low(sound: Sequence[MeterRecord], limits: Limits) -> Alarm:
    def limit_of(usual: float) -> float:
        return _down(min(usual - limits["alarm_margin"], limits["regulated_low"]), limits["alarm_step"])

    watched = _Watched(
        "low_voltage", "V", "a bus voltage", True, lambda one: one.bus, lambda one: one.bus_slow, limit_of
    )
    alarm, alone = _alarm(watched, sound), limits["charging_for_sure"]
    if alarm.limit is None or alarm.usual is None or alarm.limit >= alone:
        return alarm
    because = (
        f"without a finding the bus falls to {alarm.usual.value:.1f} V, and a battery alone may hold up to "
        f"{alone:.1f} V, so no limit separates the two without false alarms"
    )
    return Alarm(watched.name, "V", because, usual=alarm.usual)


def _high(sound: Sequence[MeterRecord], limits: Limits) -> Alarm:
    def limit_of(usual: float) -> float:
        return _up(max(usual + limits["alarm_margin"], limits["regulated_high"]), limits["alarm_step"])

    watched = _Watched(
        "high_voltage", "V", "a bus voltage", False, lambda one: one.bus, lambda one: one.bus_slow, limit_of
    )
    alarm, most = _alarm(watched, sound), limits["overvoltage"]
    if alarm.limit is None or alarm.usual is None or alarm.limit <= most:
        return alarm
    because = f"the bus rises to {alarm.usual.value:.1f} V without a finding, too near to {most:.1f} V, overvoltage"
    return Alarm(watched.name, "V", because, usual=alarm.usual)


def _discharge(sound: Sequence[MeterRecord]) -> Alarm:
    watched = _Watched(
        "discharge", "A", "a battery current", True,
        lambda one: one.battery or _NOTHING, lambda one: one.battery_slow or _NOTHING,
        lambda usual: _down(min(usual, 0.0) - limit_value("alarm_margin_amps"), 1.0),
    )  # fmt: skip
    metered = [one for one in sound if one.battery is not None]
    if sound and not metered:
        return Alarm("discharge", "A", "no battery ammeter that can be relied on shows a discharge")
    return _alarm(watched, metered)


def _down(value: float, step: float) -> float:
    return round(floor(round(value / step, 6)) * step, 3)


def _up(value: float, step: float) -> float:
    return -_down(-value, step)


def _alarm(watched: _Watched, sound: Sequence[MeterRecord]) -> Alarm:
    """The alarm, with how often it would have sounded in each flight by a limit from the other flights."""
    shown = [(one, reading) for one in sound if (reading := watched.reading(watched.fast(one))) is not None]
    fewest = int(limit_value("alarm_fewest_flights"))
    if len(shown) < fewest:
        shows = counted(len(shown), "flight")
        because = f"{shows} without a finding showed {watched.what} for long enough; {fewest} are needed"
        return Alarm(watched.name, watched.unit, because)
    readings = np.array([reading for _, reading in shown])
    in_flight = slowly = 0
    for place, (one, _) in enumerate(shown):
        limit = watched.limit_of(float(watched.usual(np.delete(readings, place))))
        flown = watched.sounds(watched.fast(one), limit)
        in_flight += flown
        slowly += not flown and watched.sounds(watched.slow(one), limit)
    usual = float(watched.usual(readings))
    low, high = _interval(watched, readings)
    count = in_flight + slowly
    return Alarm(
        watched.name, watched.unit, None, watched.limit_of(usual),
        Quantity(round(usual, 2), watched.unit, round(min(low, usual), 2), round(max(high, usual), 2)),
        count, slowly, len(shown), _most(count, len(shown)),
    )  # fmt: skip


def _interval(watched: _Watched, readings: NDArray[np.float64]) -> tuple[float, float]:
    """95 % interval of the usual extreme, by drawing flights anew (the percentile bootstrap)."""
    draws = np.random.default_rng(1).choice(readings, (2000, readings.size))
    low, high = np.quantile(watched.usual(draws), (0.025, 0.975))
    return float(low), float(high)


def _most(count: int, of: int) -> float:
    """Upper end of a share that was seen ``count`` times of ``of`` (Clopper and Pearson, one-sided 95 %)."""
    from scipy.stats import beta

    return 1.0 if count >= of else float(beta.ppf(0.95, count + 1, of - count))
