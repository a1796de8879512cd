"""What a start in the cold would be: the bus under the starter, by what cold takes of a battery's power to crank.

The fall from the resting voltage to the cranking voltage is taken as growing as the capacity to crank falls, to a power
that is 1 by the manuals and that the tail's own starts may correct: log(fall) = level + drift * hours + power * log(1 /
capacity) + noise. Colder than its coldest start the power is at least that of the manuals, but for the upper end:
starts in mild weather, or of an engine that was preheated, do not make a battery better in the cold than any is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erf, exp, log, sqrt

import numpy as np

from analyzer.aircraft import Battery, Source
from analyzer.limits import limit_value
from analyzer.quantity import Quantity
from analyzer.series import Z95, Floats
from analyzer.trends.followed_tail import FollowedTail
from analyzer.trends.history import FlightAt
from analyzer.trends.regression import WIDE, robust_fit
from analyzer.trends.tracked_series import Matrix

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


@dataclass(frozen=True, slots=True)
class ColdOutlook:
    """Starts in the cold, foretold from the latest ones; the engine not preheated, the battery as charged as usual."""

    starts: tuple[ColdStart, ...]
    limit: float  # below it cranking counts as weak [V]
    flights: int  # starts that it rests on
    coldest: SeenStart


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
    if np.count_nonzero(told) < limit_value("trend_fewest"):
        return None
    hours, air, fall, rest = series.hours[told], air[told], fall[told], rest[told]
    colder = -np.log(capacity_to_crank(air))
    scatter = limit_value("cold_fall_scatter")
    part = replace(series, value=np.log(fall), variance=(series.half[told] / Z95 / fall) ** 2 + scatter**2, hours=hours)
    design = np.column_stack([np.ones(hours.size), hours - hours[-1], colder])
    wide = WIDE * scatter
    mean = np.array([float(np.log(fall[0])), 0.0, 1.0])
    sd = np.array([wide, limit_value("cold_fall_drift") / 100.0, limit_value("cold_power_spread")])
    coefficients, covariance = robust_fit(part, design, mean, sd)
    limit = tail.limits["crank_lowest"]
    resting = float(np.median(rest[-int(limit_value("trend_recent")) :]))
    left = np.log(fall) - design @ coefficients
    own = max(scatter, 1.4826 * float(np.median(np.abs(left - np.median(left)))))
    place = int(np.argmin(air))
    known = float(colder[place])
    starts = tuple(_foretold(one, known, coefficients, covariance, own, resting, limit) for one in COLD)
    seen = int(series.flight[told][place])
    at = FlightAt(seen, tail.history.flights[seen].start)
    return ColdOutlook(starts, limit, hours.size, SeenStart(at, float(air[place]), float(rest[place] - fall[place])))


def _foretold(
    air: float, known: float, coefficients: Floats, covariance: Matrix, own: float, resting: float, limit: float
) -> ColdStart:
    """One start; ``known`` is log(1 / capacity) at the coldest one that was recorded."""
    colder = -log(float(capacity_to_crank(np.array([air]))[0]))
    where = np.array([1.0, 0.0, colder])
    beyond = max(0.0, colder - known) * max(0.0, 1.0 - float(coefficients[2]))
    middle, spread = float(where @ coefficients), sqrt(float(where @ covariance @ where) + own**2)
    worse = middle + beyond
    ends = [resting - exp(one) for one in (worse, worse + Z95 * spread, middle - Z95 * spread)]
    above = (log(resting - limit) - worse) / spread if resting > limit else -Z95 * Z95
    return ColdStart(air, Quantity(ends[0], "V", max(ends[1], 0.0), ends[2]), 0.5 * (1.0 + erf(above / sqrt(2.0))))
