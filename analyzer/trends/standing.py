"""What a battery loses while the aircraft stands: parked drain and self-discharge together, as a share of its charge.

A stand begins behind a settled recharge, with the battery nearly full, and ends at the rested voltage before the next
start, which tells the charge that is left. A battery that was low before that flight is not full behind it: what stood
empty long comes back over hours at hardly more than the settled current. Both errors are taken as alike in every stand,
so that stands add up and do not average out; where stands differ by more than that, the whole range is told.

The next stand begins with what the last flight left. That is not seen: it counts as the least that the battery was at
before any flight, the last one and those behind which no long stand lies included.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from analyzer.aircraft import Battery
from analyzer.limits import limit_value
from analyzer.measures.battery_life import usual_condition
from analyzer.phrases import counted
from analyzer.trends.entries import kinds_reset
from analyzer.trends.history import FlightSummary, History

RESTED, SETTLED = "resting_charge", "recharge_settling_time"
_DAY_S = 86400.0


@dataclass(frozen=True, slots=True)
class StandingLoss:
    """What a stand costs, if nobody charged the battery meanwhile."""

    stands: int
    days: float  # of all of them [d]
    per_day: float  # share of its charge lost in a day [%]
    low: float  # 95 % interval
    high: float
    weeks: float  # from the least that a flight may leave until a start is doubtful, at the upper end
    milliamperes: tuple[float, float] | None  # as a steady drain [mA], self-discharge included; None: capacity unknown


@dataclass(frozen=True, slots=True)
class Standing:
    """The loss, or why it cannot be told."""

    loss: StandingLoss | None = None
    because: str | None = None


#: Of a tail that was not looked at.
NOT_LOOKED_AT = Standing()


@dataclass(frozen=True, slots=True)
class _Stand:
    days: float
    lost: float  # [%]
    least: float
    most: float


def standing_of(history: History) -> Standing:
    """Give what the battery that is in now loses on a stand."""
    if history.aircraft.battery is Battery.LITHIUM:
        return Standing(because="a lithium battery's resting voltage does not show its charge")
    work = kinds_reset(history.entries, "resting_voltage")
    first = history.first_from(work[-1].when) if work else 0
    shortest = limit_value("stand_shortest")
    stands = [one for pair in pairwise(history.flights[first:]) if (one := _stand(*pair, shortest)) is not None]
    if not stands:
        because = (
            f"no time parked of {shortest:.0f} days or more lies between a settled recharge and "
            "a start with its resting voltage recorded"
        )
        return Standing(because=because)
    days = sum(one.days for one in stands)
    lost, least, most = (sum(ends) / days for ends in zip(*((s.lost, s.least, s.most) for s in stands), strict=True))
    low = min(least, *(one.most / one.days for one in stands))
    high = max(most, *(one.least / one.days for one in stands), *_unlike(stands))
    if high <= 0.0:
        return Standing(because="the battery was full each time after parking, as on a charger")
    if high - low > limit_value("stand_widest"):
        told = f"{counted(len(stands), 'parked period')}, {days:.0f} days"
        return Standing(because=f"it may be {low:.1f} to {high:.1f} % a day ({told}), too wide to tell anything")
    usable = max(0.0, _least_left(history, first) - limit_value("stand_start_charge"))
    capacity = history.aircraft.battery_capacity
    drain = None if capacity is None else _milliamperes(low, high, capacity)
    return Standing(StandingLoss(len(stands), days, lost, low, high, usable / high / 7.0, drain))


def _stand(before: FlightSummary, after: FlightSummary, shortest: float) -> _Stand | None:
    """The stand between two flights; None where it is short, or not known how full it began or ended.

    It begins nearly full, or as low as the battery was before that recharge. That counts as the voltmeter shows it, for
    the rest after the stand is shown by the same one.
    """
    if before.end is None or after.start is None:
        return None
    days = (after.start - before.end).total_seconds() / _DAY_S
    if days < shortest:  # as most are, which is asked before what takes longer
        return None
    rested, settled = after.readings.get(RESTED), before.readings.get(SETTLED)
    rested_before = before.readings.get(RESTED)
    if rested is None or settled is None or rested_before is None or 60.0 * before.hours < settled.high:
        return None
    begun = min(limit_value("stand_full_least"), rested_before.value)
    lost = (begun + 100.0) / 2.0 - rested.value
    return _Stand(days, max(0.0, lost), max(0.0, begun - rested.high), 100.0 - rested.low)


def _least_left(history: History, first: int) -> float:
    """The least charge [%] that a flight may leave: as low as the battery was before any since, else nearly full."""
    return float(np.nanmin([limit_value("stand_full_least"), *history.shown(RESTED)[first:, 0]]))


def _unlike(stands: list[_Stand]) -> list[float]:
    """What the stands may have lost a day that lost more than another one can have [%]; none where all may be alike."""
    alike = min(one.most / one.days for one in stands)
    return [one.most / one.days for one in stands if one.least / one.days > alike]


def _milliamperes(low: float, high: float, rated: float) -> tuple[float, float]:
    """A loss [% a day] of the charge of a battery rated so [Ah at the one-hour rate] as a steady current.

    A share of its charge is one of what it gives slowly, by Peukert more than at the one-hour rate, and of what wear
    has left of it.
    """
    slow, worn = limit_value("stand_full_hours"), usual_condition(None)
    least, most = (slow ** (1.0 - 1.0 / limit_value(name)) for name in ("peukert_least", "peukert_typical"))
    per_percent = rated / 100.0 / 24.0 * 1000.0
    return low * per_percent * least * worn.low, high * per_percent * most * worn.high
