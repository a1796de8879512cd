"""The covariance of most of some rows, which odd ones do not widen: that of minimum determinant (Rousseeuw 1984).

Of the halves of the rows that is looked for whose covariance has the least determinant: from random ones on, each gives
way to the rows nearest to it as long as the determinant falls (Rousseeuw and Van Driessen 1999, Technometrics 41,
212-223). What lies usually far from that half tells the covariance, brought to that of a normal distribution (Croux and
Haesbroeck 1999, Journal of Multivariate Analysis 71, 161-190; formulas from memory).

All halves are worked on at once. The result is that of scikit-learn for up to 500 rows, where no column nearly follows
from others; that takes the halves one by one, and a second of the processor's time to load.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil

import numpy as np
from numpy.typing import NDArray

from analyzer.series import Floats, shared
from analyzer.trends.statistics import chi_squared_above, chi_squared_at
from analyzer.trends.tracked_series import Matrix

Stack = NDArray[np.float64]
#: Halves to begin with, how often each gives way before the best are chosen, how many those are, and how often they do.
_TRIED, _EARLY_ROUNDS, _KEPT, _ROUNDS = 30, 2, 10, 30
#: Share of usual rows that are left out as too far.
_TOO_FAR = 0.025


def robust_covariance(rows: Matrix) -> Matrix:
    """Give the robust covariance of n rows of p values, none of which is the same in all rows (p, p)."""
    n, p = rows.shape
    size = min(ceil(0.5 * (n + p + 1)), n)
    away = (_from_shortest_half if p == 1 else _from_tightest_half)(rows, size) / _widened(size / n, p)
    usual = rows[away < chi_squared_at(p, _TOO_FAR)].T
    apart = usual - usual.mean(axis=1)[:, None]
    return np.asarray(apart @ apart.T * (1.0 / usual.shape[1]) * _widened(1.0 - _TOO_FAR, p))


def _widened(share: float, p: int) -> float:
    """What the covariance of the innermost share of normal rows is multiplied by to be that of all."""
    return share / (1.0 - chi_squared_above(p + 2, chi_squared_at(p, 1.0 - share)))


@dataclass(frozen=True, slots=True)
class _Halves:
    """k halves of the rows."""

    centre: Matrix  # (k, p)
    covariance: Stack  # (k, p, p)
    size: Floats  # (k,) logarithm of its determinant, minus infinity where it is singular


def _from_shortest_half(rows: Matrix, size: int) -> Floats:
    """Squared distance of each row of one value from the middle of the shortest half (n,)."""
    in_order = np.sort(rows[:, 0])
    apart = np.abs(rows[:, 0] - np.mean(rows[:, 0]))
    if size < rows.size:
        length = in_order[size:] - in_order[: rows.size - size]
        shortest = np.flatnonzero(length == length.min())
        apart = np.abs(rows[:, 0] - 0.5 * (in_order[size + shortest] + in_order[shortest]).mean())
    variance = float(np.var(rows[np.argsort(apart)[:size], 0]))
    return np.asarray(apart**2 / variance if variance else np.zeros(apart.size))


def _from_tightest_half(rows: Matrix, size: int) -> Floats:
    """Squared distance of each row from the half whose covariance has the least determinant (n,)."""
    halves, _ = _tightened(rows, _tried(len(rows), size), _EARLY_ROUNDS)
    best = _some(halves, np.argsort(halves.size)[:_KEPT])
    halves, precision = _tightened(rows, _nearest(rows, best.centre, _inverse(best.covariance), size), _ROUNDS)
    tightest = np.argsort(halves.size)[:1]
    return np.asarray(_away(rows, halves.centre[tightest], precision[tightest])[0])


@lru_cache(maxsize=8)
def _tried(n: int, size: int) -> NDArray[np.intp]:
    """Random halves of n rows to begin with (k, size), always the same ones; nobody may write to them."""
    rng = np.random.RandomState(0)
    return shared(np.array([rng.permutation(n)[:size] for _ in range(_TRIED)]))


def _tightened(rows: Matrix, chosen: NDArray[np.intp], rounds: int) -> tuple[_Halves, Stack]:
    """Let halves give way to the rows nearest to each, so often at most; the halves, and the last inverse of each."""
    halves = _halves(rows, chosen)
    precision = _inverse(halves.covariance)
    moving = np.flatnonzero(np.isfinite(halves.size))
    for _ in range(rounds):
        if not moving.size:
            break
        before = _some(halves, moving)
        precision[moving] = _inverse(before.covariance)
        after = _halves(rows, _nearest(rows, before.centre, precision[moving], chosen.shape[1]))
        halves.centre[moving], halves.covariance[moving], halves.size[moving] = (
            after.centre,
            after.covariance,
            after.size,
        )
        moving = moving[(after.size < before.size) & np.isfinite(after.size)]
    return halves, precision


def _some(halves: _Halves, places: NDArray[np.intp]) -> _Halves:
    return _Halves(halves.centre[places], halves.covariance[places], halves.size[places])


def _halves(rows: Matrix, chosen: NDArray[np.intp]) -> _Halves:
    """Halves by the places of their rows (k, size)."""
    part = rows[chosen]
    centre = part.mean(axis=1)
    apart = part - centre[:, None]
    covariance = apart.transpose(0, 2, 1) @ apart / chosen.shape[1]
    sign, logarithm = np.linalg.slogdet(covariance)
    return _Halves(centre, covariance, np.where(sign > 0.0, logarithm, -np.inf))


def _nearest(rows: Matrix, centre: Matrix, precision: Stack, size: int) -> NDArray[np.intp]:
    """Places of the rows nearest to each half (k, size)."""
    return np.argpartition(_away(rows, centre, precision), size - 1, axis=1)[:, :size]


def _away(rows: Matrix, centre: Matrix, precision: Stack) -> Matrix:
    """Squared distance of each row from each half (k, n)."""
    apart = rows - centre[:, None]
    return np.asarray(((apart @ precision) * apart).sum(axis=2))


def _inverse(covariance: Stack) -> Stack:
    """Inverses (k, p, p); in directions in which a half has no width nothing is taken to be away from it."""
    values, vectors = np.linalg.eigh(covariance)
    least = covariance.shape[1] * np.finfo(np.float64).eps * np.abs(values).max(axis=1, keepdims=True)
    inverse = np.divide(1.0, values, where=np.abs(values) > least, out=np.zeros_like(values))
    return np.asarray((vectors * inverse[:, None]) @ vectors.transpose(0, 2, 1))
