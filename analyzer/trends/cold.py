"""What a start in the cold would be: the bus under the starter, by what cold takes of a battery's power to crank.

The fall from the resting voltage to the cranking voltage is taken as growing as the capacity to crank falls, to a power
that is 1 by the manuals and that the tail's own starts may correct: log(fall) = level + drift * hours + power * log(1 /
capacity) + noise. Colder than its coldest start the power is at least that of the manuals, but for the upper end:
starts in mild weather, or of an engine that was preheated, do not make a battery better in the cold than any is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum
from math import erf, exp, log, sqrt

import numpy as np

from analyzer.aircraft import Battery, Source
from analyzer.limits import limit_value
from analyzer.quantity import Quantity
from analyzer.series import MAD_TO_SIGMA, Z95, Floats, Mask, middle
from analyzer.trends.followed_tail import FollowedTail
from analyzer.trends.history import FlightAt, History
from analyzer.trends.regression import WIDE, robust_fit
from analyzer.trends.tracked_series import Matrix, Series

CRANKING, RESTING = "cranking_voltage", "resting_voltage"
#: Air at which starts are foretold [degC].
COLD = (0.0, -10.0, -20.0)
#: Capacity to crank by temperature [degC, 1]: 100 % at 80 degF, 65 % at 30 degF, 40 % at 0 degF (US Army manuals).
CAPACITY = ((-17.78, 0.40), (-1.11, 0.65), (26.67, 1.00))


@dataclass(frozen=True, slots=True)
class ColdStart:
    """One start at some air temperature, foretold."""

    air: float  # [degC]
    voltage: Quantity  # lowest bus voltage while the starter turns, with the 95 % interval of one start
    good: float  # chance that it stays above the limit [1]


@dataclass(frozen=True, slots=True)
class SeenStart:
    """A start that was recorded."""

    at: FlightAt
    air: float  # [degC]
    voltage: float  # [V]


class ToldBy(StrEnum):
    """What tells how cold a winter is."""

    SETTING = "set"
    LOGS = "logs"
    COLDER_LOGS = "colder_logs"  # a start that was colder than the morning set


@dataclass(frozen=True, slots=True)
class Winter:
    """The coldest morning of a usual winter, and the starts of the last winter flown over again."""

    told_by: ToldBy
    coldest: ColdStart
    again: float | None  # of the last winter's recorded starts the share that would be good today [1]; None for too few
    starts: int  # recorded in those months


@dataclass(frozen=True, slots=True)
class ColdOutlook:
    """Starts in the cold, foretold from the latest ones; the engine not preheated, the battery as charged as usual."""

    starts: tuple[ColdStart, ...]
    limit: float  # below it cranking counts as weak [V]
    flights: int  # starts that it rests on
    coldest: SeenStart
    coldest_foretold: Quantity | None = None  # what the other starts make of that one; None where too few are left
    winter: Winter | None = None  # None where nothing tells one


def capacity_to_crank(air: Floats) -> Floats:
    """Give the share of its capacity to crank that a battery has left at some air temperatures (n,) [degC] -> (n,) [1].

    Its logarithm is straight between the values of the manuals and beyond them.
    """
    known, share = np.array(CAPACITY).T
    slopes = np.diff(np.log(share)) / np.diff(known)
    place = np.clip(np.searchsorted(known, air) - 1, 0, slopes.size - 1)
    return np.asarray(np.exp(np.log(share)[place] + slopes[place] * (air - known[place])))


def cold_outlook(tail: FollowedTail) -> ColdOutlook | None:
    """Foretell starts in the cold; None where too few starts tell both voltages and the air.

    None as well for a battery or a starter of which the manuals' values do not speak.
    """
    aircraft = tail.history.aircraft
    if aircraft.battery is Battery.LITHIUM or aircraft.source is Source.STARTER_GENERATOR:
        return None
    seen = _seen(tail)
    if seen is None or seen.hours.size < limit_value("trend_fewest"):
        return None
    fit = _fitted(seen, tail.limits["crank_lowest"])
    place = int(np.argmin(seen.air))
    flight = int(seen.series.flight[place])
    at = FlightAt(flight, tail.history.flights[flight].start)
    coldest = SeenStart(at, float(seen.air[place]), float(seen.rest[place] - seen.fall[place]))
    return ColdOutlook(
        tuple(fit.foretold(one) for one in COLD),
        fit.limit,
        seen.hours.size,
        coldest,
        _of_the_others(seen, place, fit.limit),
        _winter(tail, fit),
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """The latest starts that tell both voltages and the air, n of them."""

    series: Series  # of the cranking voltage
    air: Floats  # [degC]
    rest: Floats  # [V]
    fall: Floats  # from rest under the starter [V]

    @property
    def hours(self) -> Floats:
        """Engine hours at each [h]."""
        return self.series.hours

    def only(self, kept: Mask) -> _Seen:
        """Give some of them."""
        series = self.series
        part = replace(
            series,
            flight=series.flight[kept],
            hours=series.hours[kept],
            value=series.value[kept],
            variance=series.variance[kept],
            half=series.half[kept],
            covariates=series.covariates[kept],
            innocent_move=series.innocent_move[kept],
        )
        return _Seen(part, self.air[kept], self.rest[kept], self.fall[kept])


def _seen(tail: FollowedTail) -> _Seen | None:
    stretch = tail.followed[CRANKING].stretches
    if not stretch:
        return None
    whole = stretch[-1].series
    series = whole.part(max(0, whole.n - int(limit_value("trend_shape_window"))), whole.n)
    flights = [tail.history.flights[place] for place in series.flight]
    air = np.array([np.nan if one.air_start is None else one.air_start for one in flights])
    rest = np.array([one.readings[RESTING].value if RESTING in one.readings else np.nan for one in flights])
    fall = rest - series.value
    told = np.isfinite(air) & np.isfinite(fall) & (np.where(np.isfinite(fall), fall, 0.0) > 0.0)
    return _Seen(series, air, rest, fall).only(told)


@dataclass(frozen=True, slots=True)
class _Fit:
    """The fall under the starter by the air, as the starts tell it."""

    coefficients: Floats
    covariance: Matrix
    own: float  # scatter from start to start, of the logarithm
    known: float  # log(1 / capacity) at the coldest start
    resting: float  # [V]
    limit: float  # [V]

    def foretold(self, air: float) -> ColdStart:
        """Foretell one start at some air [degC]."""
        middle, worse, spread = (float(one[0]) for one in self._falls(np.array([air])))
        ends = [self.resting - exp(one) for one in (worse, worse + Z95 * spread, middle - Z95 * spread)]
        voltage = Quantity(ends[0], "V", max(ends[1], 0.0), ends[2])
        return ColdStart(air, voltage, float(self.good(np.array([air]))[0]))

    def good(self, air: Floats) -> Floats:
        """Give the chance of a good start at each of some airs [degC] (n,)."""
        _, worse, spread = self._falls(air)
        above = np.full(air.size, -Z95 * Z95)
        if self.resting > self.limit:
            above = (log(self.resting - self.limit) - worse) / spread
        return np.array([0.5 * (1.0 + erf(one)) for one in (above / sqrt(2.0)).tolist()])

    def _falls(self, air: Floats) -> tuple[Floats, Floats, Floats]:
        """The fall's logarithm at some airs: as the starts tell it, as it is rather, and its spread; each (n,)."""
        colder = -np.log(capacity_to_crank(air))
        where = np.stack([np.ones(air.size), np.zeros(air.size), colder])
        beyond = np.maximum(0.0, colder - self.known) * max(0.0, 1.0 - float(self.coefficients[2]))
        middle = self.coefficients @ where
        spread = np.sqrt(((self.covariance @ where) * where).sum(axis=0) + self.own**2)
        return middle, middle + beyond, spread


def _fitted(seen: _Seen, limit: float) -> _Fit:
    hours, fall = seen.hours, seen.fall
    colder = -np.log(capacity_to_crank(seen.air))
    scatter = limit_value("cold_fall_scatter")
    variance = (seen.series.half / Z95 / fall) ** 2 + scatter**2
    part = replace(seen.series, value=np.log(fall), variance=variance)
    design = np.column_stack([np.ones(hours.size), hours - hours[-1], colder])
    wide = WIDE * scatter
    mean = np.array([float(np.log(fall[0])), 0.0, 1.0])
    sd = np.array([wide, limit_value("cold_fall_drift") / 100.0, limit_value("cold_power_spread")])
    coefficients, covariance = robust_fit(part, design, mean, sd)
    left = np.log(fall) - design @ coefficients
    own = max(scatter, MAD_TO_SIGMA * middle(np.abs(left - middle(left))))
    resting = middle(seen.rest[-int(limit_value("trend_recent")) :])
    return _Fit(coefficients, covariance, own, float(colder.max()), resting, limit)


def _of_the_others(seen: _Seen, place: int, limit: float) -> Quantity | None:
    """What the starts but the coldest foretell for it, from its own rest; None where too few are left."""
    others = np.arange(seen.hours.size) != place
    if np.count_nonzero(others) < limit_value("trend_fewest"):
        return None
    fit = replace(_fitted(seen.only(others), limit), resting=float(seen.rest[place]))
    return fit.foretold(float(seen.air[place])).voltage


def _winter(tail: FollowedTail, fit: _Fit) -> Winter | None:
    """A winter as cold as is set or as a start that was colder, else as the logs of a whole year tell; or None.

    Flights are begun later than the coldest hour of the morning: a winter told by the logs is rather too mild.
    """
    told = tail.history.aircraft.coldest_morning
    air = _air_of_the_last_winter(tail.history)
    again = None
    if air.size >= limit_value("winter_fewest"):
        again = float(np.mean(fit.good(air)))
    if told is not None:
        flown = min(one.air_start for one in tail.history.flights if one.air_start is not None)
        by = ToldBy.COLDER_LOGS if flown < told else ToldBy.SETTING
        return Winter(by, fit.foretold(min(told, flown)), again, air.size)
    return None if again is None else Winter(ToldBy.LOGS, fit.foretold(float(air.min())), again, air.size)


def _air_of_the_last_winter(history: History) -> Floats:
    """The air at the starts of the last year's coldest three months on end (n,) [degC].

    None where a month of that year has no start: nothing tells that it was not the coldest.
    """
    last = next((one.start for one in reversed(history.flights) if one.start and one.air_start is not None), None)
    if last is None:
        return np.empty(0)
    by_month: list[list[float]] = [[] for _ in range(12)]
    for one in history.flights[history.first_from(last - timedelta(days=365)) :]:
        # flights without a clock or an end stand last, whatever their start
        if one.start and one.start > last - timedelta(days=365) and one.air_start is not None:
            by_month[one.start.month - 1].append(one.air_start)
    if not all(by_month):
        return np.empty(0)
    quarters = [[air for ahead in range(3) for air in by_month[(month + ahead) % 12]] for month in range(12)]
    return np.array(min(quarters, key=lambda airs: float(np.mean(airs))))
