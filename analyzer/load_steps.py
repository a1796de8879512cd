"""Which load steps lie under an exponential decay: chosen at every time constant, weighed over all of them.

A decay and a staircase of loads look alike, so steps are chosen anew at each time constant, and a time constant is
ruled out only when no staircase saves it. The choice is greedy (forward selection with exchange), its stop an
information criterion; the interval is that of the profile of the penalised cost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.series import Z95, Floats, autocorrelation_length

#: Time constants tried; evenly spaced in their logarithm.
_TRIALS = 32
#: Time constants tried again between the neighbours of the best.
_FINER = 12
#: What a step costs besides its size, in logarithms of the number of readings: its place is a free choice too
#: (Schwarz 1978 counts one term for each parameter).
_TERMS_A_STEP = 2.0
#: Fewest readings on either side that show a candidate's jump.
_BESIDE = 4


@dataclass(frozen=True, slots=True)
class Stairs:
    """The load steps chosen, and the time constants and amplitudes that some choice of steps allows."""

    steps: tuple[float, ...]  # times
    tau: tuple[float, float]  # 95 % interval
    amplitude: tuple[float, float]  # at t = 0, over that interval


def choose_steps(
    t: Floats,
    y: Floats,
    *,
    tau_range: tuple[float, float],
    restarts: tuple[float, ...],
    smallest: float,
    lasting: float,
    most: int,
    noise_floor: float,
    misfit: float,
) -> Stairs | None:
    """Choose the load steps under a decay together with its time constant.

    Parameters
    ----------
    t, y : times and readings, averaged so that strobes are taken out, no NaN, t increasing from about 0
    tau_range : shortest and longest time constant tried, in the unit of t
    restarts : times at which a renewed decay begins
    smallest : least size of a step, in the unit of y
    lasting : least time from one step to the next, in the unit of t
    most : at most so many steps
    noise_floor : what the instrument's resolution adds to the scatter, in the unit of y
    misfit : share of the amplitude by which a real course strays from one exponential

    Returns
    -------
    Stairs, or None with too few readings or where nothing falls at any time constant.
    """
    if t.size < 8 + 2 * _BESIDE + len(restarts):
        return None
    taus = np.geomspace(*tau_range, _TRIALS)
    jump = _local_jumps(t, y, lasting)
    candidates = np.flatnonzero(np.abs(jump) >= 0.5 * smallest)
    search = _Search(t, y, candidates, np.sign(jump[candidates]), smallest, lasting, most)
    penalty = _TERMS_A_STEP * float(np.log(t.size))
    floor = t.size * noise_floor**2

    def score(path: list[_Choice]) -> float:
        return min((t.size * np.log(one.square + floor) + penalty * len(one.rows) for one in path), default=np.inf)

    paths = [search.path(tau, restarts) for tau in taus]
    around = int(np.argmin([score(path) for path in paths]))
    if not paths[around]:
        return None
    finer = np.geomspace(taus[max(0, around - 1)], taus[min(taus.size - 1, around + 1)], _FINER + 2)[1:-1]
    order = np.argsort(np.concatenate((taus, finer)))
    taus = np.concatenate((taus, finer))[order]
    paths += [search.path(tau, restarts) for tau in finer]
    paths = [paths[row] for row in order]
    first = int(np.argmin([score(path) for path in paths]))
    best = min(paths[first], key=lambda one: t.size * np.log(one.square + floor) + penalty * len(one.rows))
    variance = best.square / max(1, t.size - 2 - len(best.rows)) + noise_floor**2
    unit = variance * autocorrelation_length(best.residuals)
    picked = [min(path, key=lambda one: _cost(one, unit, penalty)) if path else None for path in paths]
    costs = np.array([np.inf if one is None else _cost(one, unit, penalty) for one in picked])
    chosen = picked[int(np.argmin(costs))]
    if chosen is None:
        return None
    allowed = float(costs.min()) + Z95**2 + t.size * (misfit * best.amplitude) ** 2 / unit
    heights = [one.amplitude for one, cost in zip(picked, costs, strict=True) if one is not None and cost <= allowed]
    steps = tuple(sorted(float(t[row]) for row in chosen.rows))
    return Stairs(steps, _ends(taus, costs, allowed), (min(heights), max(heights)))


def _cost(choice: _Choice, unit: float, penalty: float) -> float:
    return choice.square / unit + penalty * len(choice.rows)


@dataclass(frozen=True, slots=True)
class _Choice:
    rows: tuple[int, ...]
    square: float  # sum of squared residuals
    amplitude: float
    residuals: Floats


@dataclass(frozen=True, slots=True)
class _Search:
    t: Floats
    y: Floats
    candidates: NDArray[np.int64]
    signs: Floats
    smallest: float
    lasting: float
    most: int

    def path(self, tau: float, restarts: tuple[float, ...]) -> list[_Choice]:
        """Best choices of none, one, two steps and so on at one time constant, without those in which nothing falls."""
        base = [np.ones(self.t.size), np.exp(-self.t / tau)]
        base += [np.where(self.t >= at, np.exp(-np.maximum(self.t - at, 0.0) / tau), 0.0) for at in restarts]
        rows: list[int] = []
        found = []
        while True:
            columns = np.column_stack([*base, *((self.t >= self.t[row]).astype(np.float64) for row in rows)])
            q, r = np.linalg.qr(columns)
            residuals = self.y - q @ (q.T @ self.y)
            terms = np.linalg.lstsq(r, q.T @ self.y, rcond=None)[0]
            if terms[1] > 0.0:
                found.append(_Choice(tuple(rows), float(residuals @ residuals), float(terms[1]), residuals))
            if len(rows) >= self.most:
                return found
            new = self._next(q, residuals, rows)
            if new is None:
                return found
            rows.append(new)

    def _next(self, q: Floats, residuals: Floats, rows: list[int]) -> int | None:
        """Candidate that takes most from the residuals, as large as the smallest step and of its own jump's sign."""
        if not self.candidates.size:
            return None
        after = np.cumsum(residuals[::-1])[::-1][self.candidates]
        shared = np.cumsum(q[::-1], axis=0)[::-1][self.candidates]
        left = (self.t.size - self.candidates) - (shared**2).sum(axis=1)
        left = np.where(left > 1e-6, left, np.inf)
        size = after / left
        gain = np.where((np.abs(size) >= self.smallest) & (np.sign(size) == self.signs), after * size, 0.0)
        for row in rows:
            gain[np.abs(self.t[self.candidates] - self.t[row]) < self.lasting] = 0.0
        best = int(np.argmax(gain))
        return int(self.candidates[best]) if gain[best] > 0.0 else None


def _local_jumps(t: Floats, y: Floats, lasting: float) -> Floats:
    """Mean of the readings in the next ``lasting``, a few at least, less that of the last; 0 near the ends."""
    sums = np.concatenate(([0.0], np.cumsum(y)))
    at = np.arange(_BESIDE, y.size - _BESIDE + 1)
    at = at[at < y.size]
    first = np.minimum(np.searchsorted(t, t[at] - lasting), at - _BESIDE)
    last = np.maximum(np.searchsorted(t, t[at] + lasting), at + _BESIDE)
    jump = np.zeros(y.size)
    jump[at] = (sums[last] - sums[at]) / (last - at) - (sums[at] - sums[first]) / (at - first)
    return jump


def _ends(taus: Floats, costs: Floats, allowed: float) -> tuple[float, float]:
    """Outermost time constants whose cost is allowed, between grid points by log-linear."""
    inside = np.flatnonzero(costs <= allowed)
    ends = []
    for row, direction in ((int(inside[0]), -1), (int(inside[-1]), 1)):
        beyond = row + direction
        if not 0 <= beyond < taus.size:
            ends.append(float(taus[row]))
            continue
        rise = costs[beyond] - costs[row]
        share = (allowed - costs[row]) / rise if np.isfinite(rise) and rise > 0.0 else 0.5
        ends.append(float(taus[row] * (taus[beyond] / taus[row]) ** share))
    return ends[0], ends[1]
