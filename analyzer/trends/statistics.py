"""Textbook statistics of a series: rank tests and control charts, as second opinions and for charts.

They assume less than the regression does (rank tests), or are what a maintenance shop knows from elsewhere
(control charts). Each is the published procedure, tested against published examples.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from analyzer.series import Z95, Floats

Ints = np.ndarray[tuple[int], np.dtype[np.int64]]


@dataclass(frozen=True, slots=True)
class RankTest:
    """Mann-Kendall's test of a monotonic trend."""

    s: int
    variance: float
    z: float
    p: float  # two-sided


def mann_kendall(values: Floats) -> RankTest:
    """Test n values, in order, for a monotonic trend; ties are allowed for.

    variance = [n(n-1)(2n+5) - sum t(t-1)(2t+5)] / 18 over groups of t ties, z with continuity correction
    (Mann 1945, Kendall 1975; as in EPA QA/G-9S).
    """
    n = values.size
    s = int(np.sign(values[None, :] - values[:, None])[np.triu_indices(n, 1)].sum())
    ties = np.unique(values, return_counts=True)[1]
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18.0
    z = np.sign(s) * (abs(s) - 1) / sqrt(variance) if s and variance > 0.0 else 0.0
    return RankTest(s, variance, float(z), _two_sided(float(z)))


def _two_sided(z: float) -> float:
    from statistics import NormalDist

    return 2.0 * NormalDist().cdf(-abs(z))


@dataclass(frozen=True, slots=True)
class RankSlope:
    """Theil and Sen's slope with an interval from Kendall's distribution."""

    slope: float
    low: float
    high: float


def theil_sen(x: Floats, y: Floats, reach: float = Z95) -> RankSlope:
    """Give the median of all pairs' slopes; the interval by Sen's normal approximation (Sen 1968).

    Parameters
    ----------
    x, y : (n,), two different x at least
    reach : two-sided normal point of the interval
    """
    first, second = np.triu_indices(x.size, 1)
    apart = x[second] - x[first]
    slopes = np.sort((y[second] - y[first])[apart != 0.0] / apart[apart != 0.0])
    ties = np.unique(x, return_counts=True)[1], np.unique(y, return_counts=True)[1]
    n = x.size
    tied = sum(float((t * (t - 1) * (2 * t + 5)).sum()) for t in ties)
    sigma = sqrt(max(0.0, (n * (n - 1) * (2 * n + 5) - tied) / 18.0))
    below = max(round((slopes.size - reach * sigma) / 2.0) - 1, 0)
    above = min(round((slopes.size + reach * sigma) / 2.0), slopes.size - 1)
    return RankSlope(float(np.median(slopes)), float(slopes[below]), float(slopes[above]))


@dataclass(frozen=True, slots=True)
class ChangePoint:
    """Pettitt's single change point."""

    before: int  # values up to the change
    k: float
    p: float


def pettitt(values: Floats) -> ChangePoint:
    """Find where the middle of n values changes (Pettitt 1979).

    U_k = 2 sum of the first k ranks - k (n + 1); the change is where |U| is largest, K that value, and
    p = 2 exp(-6 K^2 / (n^3 + n^2)).
    """
    n = values.size
    k = np.arange(1, n + 1)
    u = 2.0 * np.cumsum(_ranks(values)) - k * (n + 1)
    best = int(np.argmax(np.abs(u)))
    largest = float(abs(u[best]))
    return ChangePoint(best + 1, largest, min(1.0, 2.0 * exp(-6.0 * largest**2 / (n**3 + n**2))))


def _ranks(values: Floats) -> Floats:
    """Ranks from 1; ties share the mean of theirs."""
    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    return np.asarray((np.cumsum(count) - (count - 1) / 2.0)[place], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Ewma:
    """An exponentially weighted moving average with its control limits."""

    average: Floats  # (n,) after each value
    low: float
    high: float


def ewma(values: Floats, target: float, sigma: float, weight: float, reach: float = 3.0) -> Ewma:
    """Give the average that forgets, and its limits: target -+ reach sigma sqrt(weight / (2 - weight)).

    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4.
    """
    averages, latest = [], target
    for value in values.tolist():
        latest += weight * (value - latest)
        averages.append(latest)
    half = reach * sigma * sqrt(weight / (2.0 - weight))
    return Ewma(np.array(averages, dtype=np.float64), target - half, target + half)


@dataclass(frozen=True, slots=True)
class Cusum:
    """A tabular cumulative sum: how far the values have strayed above and below their target."""

    high: Floats  # (n,)
    low: Floats  # (n,)
    signals: Ints  # places at which either exceeds the decision interval


def cusum(values: Floats, target: float, allowance: float, decision: float) -> Cusum:
    """Sum what lies further from the target than the allowance, each way, never below zero.

    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3.
    """
    sums = np.zeros((2, values.size + 1))
    for i, value in enumerate(values.tolist()):
        sums[0, i + 1] = max(0.0, sums[0, i] + value - target - allowance)
        sums[1, i + 1] = max(0.0, sums[1, i] + target - value - allowance)
    high, low = sums[0, 1:], sums[1, 1:]
    return Cusum(high, low, np.flatnonzero((high > decision) | (low > decision)))
