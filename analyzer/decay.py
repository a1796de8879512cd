"""An exponential decay under load steps, fitted together and robustly.

For a fixed time constant the model is linear: a level, an amplitude, one term a load step and one a
restart (a renewed decay after the battery was drawn on). So the fit is a search over one variable, each
trial a robust linear solve, all trials solved at once.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from analyzer.series import MAD_TO_SIGMA, Z95, Floats, autocorrelation_length, middle_of_rows, robust_sigma, shared

#: Huber's constant: 95 % efficiency on normal noise (Huber 1964; value from memory).
HUBER = 1.345
#: Time constants tried; evenly spaced in their logarithm.
_TRIALS = 48
#: Solves of each trial after the first, which takes all readings alike: less weight on those that it left far off.
_TIMES_WEIGHTED = 3


class Decay(Struct, frozen=True):
    """y(t) = level + amplitude exp(-t / tau) + restarts and steps; t from the fit's own origin."""

    tau: float
    tau_low: float  # 95 % interval
    tau_high: float
    amplitude: float  # at t = 0
    amplitude_error: float  # one standard error
    level: float  # before any step
    level_error: float
    steps: tuple[tuple[float, float], ...]  # (t, size)
    restarts: tuple[tuple[float, float], ...]  # (t, amplitude)
    residual: float  # robust standard deviation
    span: float  # from the first to the last reading
    at_edge: bool  # the best time constant is the longest or shortest one tried

    def curve(self, t: Floats) -> Floats:
        """Value of the fitted model at the times ``t``."""
        y = self.level + self.amplitude * np.exp(-t / self.tau)
        for at, size in self.steps:
            y = y + size * (t >= at)
        for at, size in self.restarts:
            y = y + size * np.where(t >= at, np.exp(-np.maximum(t - at, 0.0) / self.tau), 0.0)
        return np.asarray(y)


def fit_decay(
    t: Floats,
    y: Floats,
    *,
    tau_range: tuple[float, float],
    steps: tuple[float, ...] = (),
    restarts: tuple[float, ...] = (),
    smallest_step: float = 0.0,
    noise_floor: float = 0.0,
    falling: bool = True,
    lowest_level: float = -np.inf,
) -> Decay | None:
    """Fit a decay with its load steps.

    Parameters
    ----------
    t, y : times and readings, same length, no NaN, t increasing from about 0
    tau_range : shortest and longest time constant tried, in the unit of t
    steps : times at which a load step may lie, as ``load_steps`` finds them
    restarts : times at which a renewed decay may begin
    smallest_step : a step that comes out smaller is taken for none, in the unit of y
    noise_floor : what the instrument's resolution adds to the scatter, in the unit of y
    falling : leave out time constants whose amplitude comes out negative (a recharge only falls)
    lowest_level : leave out those whose level comes out lower, in the unit of y

    Returns
    -------
    Decay, or None with fewer than eight readings more than there are terms, or with no falling decay.

    Notes
    -----
    The interval of tau is that of the profile of the robust cost: all tau whose cost exceeds the least
    by no more than the 95 % point of chi-square with one degree of freedom, for the number of independent
    readings (residuals of real recharges are correlated).
    """
    if t.size < 8 + len(restarts) + len(steps):
        return None
    taus = _trials(tau_range)
    kept = list(steps)
    allowed = _Allowed(falling, lowest_level)
    fit = _search(t, y, taus, kept, restarts, noise_floor, allowed)
    real = [at for at, size in zip(kept, fit.terms[2:], strict=False) if abs(size) >= smallest_step]
    renewed = tuple(at for at, size in zip(restarts, fit.terms[2 + len(kept) :], strict=True) if size > 0.0)
    if len(real) < len(kept) or (falling and len(renewed) < len(restarts)):
        kept, restarts = real, renewed if falling else restarts
        fit = _search(t, y, taus, kept, restarts, noise_floor, allowed)
    return _decay(t, taus, kept, restarts, fit) if np.isfinite(fit.cost) else None


def load_steps(t: Floats, y: Floats, *, smallest: float, width: int, most: int) -> tuple[float, ...]:
    """Find the times of abrupt, lasting jumps of a series.

    Parameters
    ----------
    t, y : times and readings, evenly enough sampled, no NaN
    smallest : smallest jump looked for, in the unit of y; never below what the noise allows
    width : rows before and after a jump that are compared, at least 5, and least distance between jumps
    most : at most this many, the largest

    Returns
    -------
    Times in order. Compared are trimmed means of ``width`` rows and of twice as many, for smaller steps
    that last longer, and half of a jump must happen within three rows. Give residuals of a smooth fit rather
    than a steep decay itself, whose own fall would pass for steps. What chance does is read from the series
    itself, so that strobes raise the bar by no more than they disturb.
    """
    scores = [_jump_scores(y, size, smallest) for size in (2 * width, width) if y.size >= 3 * size]
    places: dict[int, float] = {}
    for score in scores:
        for row in places:
            score[max(0, row - width) : row + width + 1] = 0.0
        while score.max() > 0.0:
            best = int(np.argmax(score))
            places[best] = float(score[best])
            score[max(0, best - width) : best + width + 1] = 0.0
    largest = sorted(places, key=lambda row: -places[row])[:most]
    return tuple(sorted(float(t[row]) for row in largest))


def _jump_scores(y: Floats, width: int, smallest: float) -> Floats:
    """Size of the abrupt, lasting jump at each row, 0 where there is none."""
    near = 3
    windows = np.sort(np.lib.stride_tricks.sliding_window_view(y, width), axis=1)
    level = windows[:, width // 5 : width - width // 5].mean(axis=1)
    change = level[width:] - level[:-width]  # after less before row ``width + index``
    at = np.arange(change.size) + width
    sums = np.concatenate(([0.0], np.cumsum(y)))
    close = (sums[at + near] - 2.0 * sums[at] + sums[at - near]) / near
    clear = max(smallest, 5.0 * robust_sigma(change))
    jump = np.abs(change)
    abrupt = np.where(np.sign(close) == np.sign(change), np.abs(close), 0.0)
    score = np.zeros(y.size)
    score[at] = np.where((jump >= clear) & (abrupt >= 0.5 * jump), np.minimum(jump, abrupt), 0.0)
    return score


class _Allowed(Struct, frozen=True):
    """What a fit may come to."""

    falling: bool
    lowest_level: float


class _Fit(Struct, frozen=True):
    best: int
    costs: Floats
    terms: Floats  # of the best tau
    errors: Floats
    residual: float
    correlation: float

    @property
    def cost(self) -> float:
        return float(self.costs[self.best])


@cache
def _trials(tau_range: tuple[float, float]) -> Floats:
    """The time constants tried."""
    return shared(np.geomspace(*tau_range, _TRIALS))


def _design(t: Floats, taus: Floats, steps: list[float], restarts: tuple[float, ...]) -> NDArray[np.float64]:
    """Design matrices, shape (taus, terms, readings): what is summed over the readings then lies side by side."""
    design = np.empty((taus.size, 2 + len(steps) + len(restarts), t.size))
    design[:, 0] = 1.0
    design[:, 1] = np.exp(-t / taus[:, None])
    for term, at in enumerate(steps, 2):
        design[:, term] = t >= at
    for term, at in enumerate(restarts, 2 + len(steps)):
        late = np.maximum(t - at, 0.0)
        design[:, term] = np.where(t >= at, np.exp(-late / taus[:, None]), 0.0)
    return design


def _solved(
    design: NDArray[np.float64], weighted: NDArray[np.float64], y: Floats
) -> tuple[NDArray[np.float64], Floats, Floats]:
    """Solve every trial: normal matrices, terms, and what they leave of each reading."""
    normal = np.vecdot(weighted[:, :, None, :], design[:, None, :, :]) + 1e-9 * np.eye(design.shape[1])
    terms = np.linalg.solve(normal, np.vecdot(weighted, y)[..., None])[..., 0]
    return normal, terms, y - np.vecmat(terms, design)


def _scales(off: Floats, floor: float) -> Floats:
    """Robust scale of how far off each trial leaves the readings."""
    scale = MAD_TO_SIGMA * middle_of_rows(off)
    return np.sqrt(np.maximum(scale, 1e-6) ** 2 + floor**2)


def _least_scale(off: Floats, floor: float) -> float:
    """The least scale of any trial, looked for only in those that leave half of the readings as near as a good one."""
    near = middle_of_rows(off[np.argmin(off.sum(axis=1))])
    may_be = 2 * np.count_nonzero(off <= near, axis=1) >= off.shape[1]
    return float(_scales(off[may_be], floor).min())


def _search(
    t: Floats,
    y: Floats,
    taus: Floats,
    steps: list[float],
    restarts: tuple[float, ...],
    floor: float,
    allowed: _Allowed,
) -> _Fit:
    design = _design(t, taus, steps, restarts)
    normal, terms, away = _solved(design, design, y)
    off = np.abs(away)
    for _ in range(_TIMES_WEIGHTED):
        weights = 1.0 / np.maximum(off / (HUBER * _least_scale(off, floor)), 1.0)
        normal, terms, away = _solved(design, design * weights[:, None, :], y)
        off = np.abs(away)
    size = _least_scale(off, floor)
    z = off / size
    near = np.minimum(z, HUBER)
    rho = near * (z - 0.5 * near)
    costs = 2.0 * rho.mean(axis=1) * size**2
    if allowed.falling:
        costs = np.where(terms[:, 1] >= 0.0, costs, np.inf)
    costs = np.where(terms[:, 0] >= allowed.lowest_level, costs, np.inf)
    best = int(np.argmin(costs))
    correlation = autocorrelation_length(away[best])
    sigma = float(_scales(off[best], floor))
    variances = np.diag(np.linalg.inv(normal[best])) * correlation
    errors = np.sqrt(np.maximum(variances, 0.0)) * sigma
    return _Fit(best, costs, terms[best], errors, sigma, correlation)


def _decay(t: Floats, taus: Floats, steps: list[float], restarts: tuple[float, ...], fit: _Fit) -> Decay:
    independent = max(4.0, t.size / fit.correlation)
    tau, low, high = _best_and_interval(taus, fit.costs, fit.best, float(np.exp(Z95**2 / independent)))
    count = len(steps)
    return Decay(
        tau=tau,
        tau_low=low,
        tau_high=high,
        amplitude=float(fit.terms[1]),
        amplitude_error=float(fit.errors[1]),
        level=float(fit.terms[0]),
        level_error=float(fit.errors[0]),
        steps=tuple((at, float(size)) for at, size in zip(steps, fit.terms[2 : 2 + count], strict=True)),
        restarts=tuple((at, float(size)) for at, size in zip(restarts, fit.terms[2 + count :], strict=True)),
        residual=fit.residual,
        span=float(t[-1] - t[0]),
        at_edge=fit.best in (0, taus.size - 1),
    )


def _best_and_interval(taus: Floats, costs: Floats, best: int, factor: float) -> tuple[float, float, float]:
    """Best tau between the grid points and the stretch whose cost is at most ``factor`` times the least.

    On log tau: a parabola through the three lowest points, and where that is narrower than the grid, its
    own width; else the places where the costs themselves cross.
    """
    inner = 0 < best < taus.size - 1
    left, middle, right = costs[best - 1 : best + 2] if inner else (np.inf, costs[best], np.inf)
    curve = left - 2.0 * middle + right
    if not np.isfinite(curve) or curve <= 0.0:
        allowed = middle * factor
        tau = float(taus[best])
        return (
            tau,
            min(tau, _crossing(taus, costs, best, -1, allowed)),
            _crossing(taus, costs, best, 1, allowed),
        )
    ratio = taus[best + 1] / taus[best]
    shift = 0.5 * (left - right) / curve
    least = middle - 0.25 * (left - right) * shift
    allowed = max(least, 0.5 * middle) * factor  # where it falls far below what was tried, even below zero, it is none
    tau = float(taus[best] * ratio**shift)
    width = float(np.sqrt(2.0 * (allowed - least) / curve))
    if width < 1.5:
        return tau, tau * ratio**-width, tau * ratio**width
    low, high = _crossing(taus, costs, best, -1, allowed), _crossing(taus, costs, best, 1, allowed)
    return tau, min(low, tau), max(high, tau)


def _crossing(taus: Floats, costs: Floats, best: int, direction: int, allowed: float) -> float:
    """First tau in a direction whose cost is no longer allowed, between grid points by log-linear."""
    previous = best
    row = best + direction
    while 0 <= row < taus.size:
        if costs[row] > allowed:
            rise = costs[row] - costs[previous]
            share = (allowed - costs[previous]) / rise if np.isfinite(rise) and rise > 0.0 else 0.5
            return float(taus[previous] * (taus[row] / taus[previous]) ** share)
        previous, row = row, row + direction
    return float(taus[previous])
