"""Textbook statistics of a series: rank tests, as second opinions, since they assume less than the regression does.

Each is the published procedure, tested against published examples.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import erfc, exp, fsum, gamma, sqrt

import numpy as np
from numpy.typing import NDArray

from analyzer.series import Floats, middle, shared

Places = NDArray[np.intp]


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
    first, second = _pairs(n)
    s = int(np.sign(values[second] - values[first]).sum())
    ties = np.unique(values, return_counts=True)[1]
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18.0
    z = np.sign(s) * (abs(s) - 1) / sqrt(variance) if s and variance > 0.0 else 0.0
    return RankTest(s, variance, float(z), _two_sided(float(z)))


@lru_cache(maxsize=8)
def _pairs(n: int) -> tuple[Places, Places]:
    """Places of the earlier and of the later of every pair of n values; nobody may write to them."""
    first, second = np.triu_indices(n, 1)
    return shared(first), shared(second)


def _two_sided(z: float) -> float:
    from statistics import NormalDist

    return 2.0 * NormalDist().cdf(-abs(z))


def normal_below(z: Floats) -> Floats:
    """Give the chance that a normal deviate lies below each of some values, to a few of its last digits."""
    return np.array([0.5 * erfc(-one) for one in (z / sqrt(2.0)).ravel().tolist()]).reshape(z.shape)


def chi_squared_above(k: int, x: float) -> float:
    """Give the chance that chi-squared of k degrees of freedom lies above x (Abramowitz and Stegun 26.4.4, 26.4.5).

    A finite sum, for it is asked of a few measures: SciPy knows it too, and takes longer to load than a tail to review.
    """
    half = 0.5 * x
    begun, place = (erfc(sqrt(half)), 0.5) if k % 2 else (exp(-half), 1.0)
    places = [place + one for one in range((k - 1) // 2)]
    return begun + exp(-half) * fsum(half**one / gamma(one + 1.0) for one in places)


@lru_cache(maxsize=64)
def chi_squared_at(k: int, chance: float) -> float:
    """Give what chi-squared of k degrees of freedom lies above with a chance, by halving."""
    low, high = 0.0, float(k)
    while chi_squared_above(k, high) > chance:
        low, high = high, 2.0 * high
    while low < (middle := 0.5 * (low + high)) < high:
        low, high = (middle, high) if chi_squared_above(k, middle) > chance else (low, middle)
    return high


def theil_sen(x: Floats, y: Floats) -> float:
    """Give Theil and Sen's slope: the median of all pairs' slopes (Sen 1968).

    Parameters
    ----------
    x, y : (n,), two different x at least
    """
    first, second = _pairs(x.size)
    apart, risen = x[second] - x[first], y[second] - y[first]
    told = apart != 0.0
    return middle(risen / apart if told.all() else risen[told] / apart[told])


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
