"""What the battery is made of: from the fleet file, else whether the readings contradict lead-acid.

Only what is said or seen is claimed. A rested lead-acid battery does not hold 13.1 V and more under a load, and its
charging current tapers; a lithium iron phosphate battery does hold that, takes all that it is given, and then stops.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from msgspec import Struct

from analyzer.aircraft import Aircraft, Battery
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import Floats, Mask, drop_short_runs, median, percentile, percentiles, running_median


class Chemistry(StrEnum):
    """How sure the kind of battery is."""

    LEAD_ACID = "lead_acid"  # the fleet file says so
    LITHIUM = "lithium"  # the fleet file says so
    LOOKS_LITHIUM = "looks_lithium"  # rest and recharge both look like it
    NOT_PLAIN = "not_plain"  # one of them contradicts a lead-acid battery at rest
    TAKEN_LEAD_ACID = "taken_lead_acid"  # nothing contradicts it, and nothing says it


class BatteryKind(Struct, frozen=True):
    """The chemistry as far as it is known, and what told."""

    chemistry: Chemistry
    basis: str  # a plain phrase

    @property
    def is_lithium(self) -> bool:
        """Whether it is, or looks like, lithium iron phosphate."""
        return self.chemistry in (Chemistry.LITHIUM, Chemistry.LOOKS_LITHIUM)

    @property
    def charge_unknown(self) -> str | None:
        """Why charge and endurance cannot be told from voltage; None where they can."""
        if self.chemistry in (Chemistry.LOOKS_LITHIUM, Chemistry.NOT_PLAIN):
            return f"{self.basis}; say in the aircraft's settings what battery it is"
        return None

    @property
    def is_taken(self) -> bool:
        """Whether it is taken as lead-acid for want of better knowledge; said beside every charge and endurance."""
        return self.chemistry is Chemistry.TAKEN_LEAD_ACID


def battery_kind(
    trace: Trace,
    first_crank: int,
    alternator_on_row: int | None,
    alternator_online: Mask,
    aircraft: Aircraft,
    limits: Limits,
) -> BatteryKind:
    """Tell the battery's kind.

    Parameters
    ----------
    trace : one flight, cleaned, its currents under the kind they are
    first_crank : row of the first crank; what comes before is rest
    alternator_on_row : row at which the alternator takes the bus; None when it never does
    alternator_online : rows in which it carries it
    """
    if aircraft.battery is Battery.LITHIUM:
        return BatteryKind(Chemistry.LITHIUM, "the aircraft's settings say so")
    if aircraft.battery is not None:
        return BatteryKind(Chemistry.LEAD_ACID, "the aircraft's settings say so")
    level = _level_under_load(trace, first_crank, limits)
    high = level is not None and limits["lithium_rest_least"] <= level <= limits["lithium_rest_most"]
    cliff = None if alternator_on_row is None else charging_cliff(trace, alternator_on_row, alternator_online, limits)
    falls = cliff is not None and cliff.is_cliff
    if high and falls and cliff is not None:
        words = f"it looks like lithium: {level:.2f} V under load before the start, then a charging current that "
        return BatteryKind(Chemistry.LOOKS_LITHIUM, f"{words}stayed flat and was gone within {cliff.fall_words}")
    if high:
        words = f"{level:.2f} V under load is more than a rested lead-acid battery holds"
        return BatteryKind(Chemistry.NOT_PLAIN, f"{words}: freshly charged, a voltmeter that reads high, or lithium")
    if falls and cliff is not None and cliff.tells_by_itself:
        words = f"the charging current stayed flat for {cliff.flat_s / 60.0:.0f} min and was gone within"
        return BatteryKind(Chemistry.NOT_PLAIN, f"{words} {cliff.fall_words}, as a lithium battery's does")
    return BatteryKind(Chemistry.TAKEN_LEAD_ACID, "nothing contradicts lead-acid")


def _level_under_load(trace: Trace, first_crank: int, limits: Limits) -> float | None:
    """Bus voltage that the battery held under a load for a minute or more before the start [V], None without.

    Where a battery ammeter shows no discharge nothing was carried; without one the avionics are taken as a load.
    """
    rows = slice(0, first_crank)
    if float(trace.seconds[rows].sum()) < limit_value("lithium_rest_shortest"):
        return None
    if trace.battery_current is not None:
        loaded = trace.battery_current[rows] < -limit_value("current_at_rest")
        if float(trace.seconds[rows][loaded].sum()) < limit_value("lithium_rest_shortest"):
            return None
        level = median(trace.bus_voltage[rows][loaded])
    else:
        level = median(trace.bus_voltage[rows])
    return level if np.isfinite(level) else None


class Cliff(Struct, frozen=True):
    """How the charging current after a start ended. Seconds and amperes."""

    on_s: float  # when the alternator took the bus
    gone_s: float  # when the current was down to a fifth of its height
    flat_s: float  # how long it stood before it fell, once the engine let it
    fall_s: float  # from three fifths of its height to a fifth
    height_a: float  # above its settled level
    level: float  # 20th over 80th percentile of the current up to ``gone_s``: 0.38 for an exponential decay

    @property
    def is_cliff(self) -> bool:
        """Whether it stood flat and was then gone, as no lead-acid battery's taper is."""
        flat = self.level >= limit_value("lithium_level_least") and self.flat_s >= limit_value("lithium_flat_shortest")
        return flat and limit_value("lithium_cliff_shortest") <= self.fall_s <= limit_value("lithium_cliff_longest")

    @property
    def tells_by_itself(self) -> bool:
        """Whether it lasted so long, and went so fast, that a lead-acid battery at its alternator's limit does not."""
        long = self.gone_s - self.fall_s - self.on_s >= limit_value("lithium_flat_telling")
        return long and self.fall_s <= limit_value("lithium_cliff_share") * self.flat_s

    @property
    def fall_words(self) -> str:
        """How long the fall took, for a person."""
        return f"{self.fall_s:.0f} s" if self.fall_s < 90.0 else f"{self.fall_s / 60.0:.1f} min"


def charging_cliff(trace: Trace, alternator_on_row: int, alternator_online: Mask, limits: Limits) -> Cliff | None:
    """The flat top and the fall of the charging current; None where it was never high, or never came down.

    Only while the alternator carries the bus: a current that ends with its loss was ended by that. Under an
    alternator ammeter the settled load is its floor. A running median leaves loads' pulses out. What an idling
    alternator could give at first is no part of the top.
    """
    current = trace.battery_current if trace.battery_current is not None else trace.alternator_output
    if current is None:
        return None
    smooth = running_median(current[alternator_on_row:], trace.rows_in(limit_value("lithium_smoothed")))
    time = trace.time[alternator_on_row:]
    known = np.isfinite(smooth) & alternator_online[alternator_on_row:]
    if known.sum() < limit_value("lithium_fewest_rows"):
        return None
    smooth, time = smooth[known], time[known]
    floor = median(smooth[smooth.size // 2 :])
    above = smooth - floor
    first = time <= time[0] + limit_value("recharge_window")
    height = percentile(above[first], limit_value("lithium_height_percentile"))
    if height < limits["lithium_height_least"]:
        return None
    stands = _first_standing(above[first], time[first], 0.6 * height)
    after = _stays_below(above[stands:], time[stands:], 0.2 * height)
    if not after:
        return None
    gone = stands + after
    whole = _cliff_from(above, time, 0, gone)
    if whole is not None and whole.is_cliff:
        return whole
    return _cliff_from(above, time, stands, gone)


def _cliff_from(above: Floats, time: Floats, first: int, gone: int) -> Cliff | None:
    """The flat top from row ``first`` on, and the fall up to row ``gone``; None where it never stood."""
    low, height = percentiles(above[first:gone], (20.0, 80.0))
    if not height > 0.0:
        return None
    standing = np.flatnonzero(above[:gone] >= 0.6 * height)
    last = int(standing[-1])
    return Cliff(
        on_s=float(time[0]),
        gone_s=float(time[gone]),
        flat_s=float(time[last] - time[first]),
        fall_s=float(time[gone] - time[last]),
        height_a=float(height),
        level=float(low / height),
    )


def _first_standing(above: Floats, time: Floats, level: float) -> int:
    """First row of the first stretch in which the current stands above a level for long; 0 where there is none."""
    high = drop_short_runs(above >= level, time, limit_value("lithium_flat_shortest"))
    return int(np.argmax(high))


def _stays_below(above: Floats, time: Floats, level: float) -> int | None:
    """First row from which the current stays below a level for most of the minutes that follow; None without."""
    below: Mask = above < level
    rows = max(1, int(np.searchsorted(time, time[0] + limit_value("lithium_gone_for"))))
    ahead = np.cumsum(np.concatenate(([0], below)))
    count = ahead[rows:] - ahead[:-rows]
    lasting = np.flatnonzero(below[: count.size] & (count >= 0.9 * rows))
    return int(lasting[0]) if lasting.size else None
