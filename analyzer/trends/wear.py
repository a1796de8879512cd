"""When a measure that wears comes to its limit: shapes of wear, weighed by how well each tells the flights so far.

Wear may go on at one pace, quicken, slow down, begin late, or bend; and what went evenly so far may bend next week.
Each of these shapes is fitted (level and movements are linear terms, with a wide normal prior each), weighed by its
marginal likelihood, and followed to the limit from draws of its terms. All draws together, weighted, are the chance
that the limit is reached by a time: Bayesian model averaging (Hoeting et al. 1999, Statistical Science 14; Gelman
et al., Bayesian Data Analysis, 3rd ed., ch. 14; formulas from memory).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Floats
from analyzer.trends.regression import scatter_of

Matrix = np.ndarray[tuple[int, int], np.dtype[np.float64]]

#: How wear that quickens grows with the flown share of its time, and how wear that slows down does.
QUICKENING, SLOWING = (1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.5), (0.6,)
#: Shares of the flown time at which it may have begun or bent.
BEGINS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
BENDS = tuple(0.05 * place for place in range(1, 19))
#: How much later, in shares of the flown time, what went evenly so far may bend, and to how many times its pace.
LATER, FASTER = (0.05, 0.15, 0.3, 0.6), (2.0, 4.0)
#: Draws of a fit's terms, moments at which they are looked at, and the weight below which a shape is left out.
_DRAWS, _STEPS, _SMALLEST_SHARE = 192, 240, 1e-4


@dataclass(frozen=True, slots=True)
class Shape:
    """One way for a measure to wear: its terms at shares ``u`` of the flown time, 1 at the last flight."""

    kind: str  # the limit that says how much it is believed beforehand, shared by all of a kind
    power: float = 1.0
    begins: float = 0.0  # flat before
    even: bool = False  # besides what goes at one pace
    bends: float | None = None  # then another pace, whatever it was before
    faster: float | None = None  # bends after the last flight, to so many times the pace

    def terms(self, u: Floats) -> Matrix:
        """Give the columns of its movements (n, 1 or 2), each 0 at the first flight and 1 at the last."""
        since = np.maximum(u - self.begins, 0.0) / (1.0 - self.begins)
        first = since**self.power
        if self.faster is not None and self.bends is not None:
            first = first + (self.faster - 1.0) * np.maximum(u - self.bends, 0.0)
        elif self.bends is not None:
            return np.column_stack([first, np.maximum(u - self.bends, 0.0) / (1.0 - self.bends)])
        elif self.even:
            return np.column_stack([first, u])
        return first[:, None]


SHAPES: tuple[Shape, ...] = (
    Shape("wear_even"),
    *(Shape("wear_quickening", power=power, begins=begins) for power in QUICKENING for begins in BEGINS),
    *(Shape("wear_quickening", power=power, even=True) for power in QUICKENING[2:]),
    *(Shape("wear_slowing", power=power) for power in SLOWING),
    *(Shape("wear_begun_late", begins=begins) for begins in BENDS),
    *(Shape("wear_bent", bends=bends) for bends in BENDS),
    *(Shape("wear_bends_later", bends=1.0 + later, faster=faster) for later in LATER for faster in FASTER),
)
_OF_A_KIND = Counter(shape.kind for shape in SHAPES)


@dataclass(frozen=True, slots=True)
class Reach:
    """The chance that a limit is reached within so many engine hours from the last flight."""

    hours: Floats  # (m,) rising, from 0
    chance: Floats  # (m,) rising, 0 to 1; below 1 at the end where it may never be reached

    def within(self, chance: float) -> float:
        """Give the hours within which the limit is reached with this chance, infinite where it may never be."""
        if self.chance[-1] < chance:
            return float("inf")
        return float(np.interp(chance, self.chance, self.hours))


@dataclass(frozen=True, slots=True)
class _Fit:
    mean: Floats  # (q,) level and movements
    spread: Matrix  # (q, q) lower triangle whose square is their covariance
    evidence: float  # logarithm of the marginal likelihood, up to what all shapes share
    told: Floats  # (n,) values that it tells


def reach_of(hours: Floats, values: Floats, sd: Floats, limit: float) -> Reach:
    """Give when a limit is reached, from values freed of weather and load.

    Parameters
    ----------
    hours : engine hours of each flight, rising, not all the same (n,) [h]
    values : the measure (n,), in its unit and not its logarithm
    sd : standard deviation of one value, usual scatter included (n,)
    limit : value at which the measure is worn
    """
    span = float(hours[-1] - hours[0])
    flown = (hours - hours[0]) / span
    first = values[: max(3, values.size // 5)]
    room = max(abs(limit - float(np.median(first))), 3.0 * float(np.median(sd)))
    designs = [np.column_stack([np.ones(values.size), shape.terms(flown)]) for shape in SHAPES]
    fits = [_fit(design, values, sd, room) for design in designs]
    for _ in range(2):  # with outliers drawn in and the noise as it is
        told = max(fits, key=lambda fit: fit.evidence).told
        scale, lag = scatter_of((values - told) / sd, settled=3)
        noise = sd * scale * np.sqrt((1.0 + lag) / (1.0 - lag))
        reach = limit_value("trend_outlier") * noise
        drawn_in = told + np.clip(values - told, -reach, reach)
        fits = [_fit(design, drawn_in, noise, room) for design in designs]
    believed = np.array([fit.evidence + np.log(_belief(shape)) for shape, fit in zip(SHAPES, fits, strict=True)])
    weight = np.exp(believed - believed.max())
    ahead = _ahead(span)
    reached = np.zeros(ahead.size)
    worse = 1.0 if limit > first.mean() else -1.0
    for shape, fit, share in zip(SHAPES, fits, weight / weight.sum(), strict=True):
        if share > _SMALLEST_SHARE:
            reached += share * _reached(shape, fit, 1.0 + ahead / span, limit, worse)
    return Reach(ahead, reached)


@lru_cache
def _draws() -> Matrix:
    """Fixed draws of three independent normal numbers, in pairs of both signs (_DRAWS, 3)."""
    half = np.random.default_rng(1).normal(size=(_DRAWS // 2, 3))
    return np.concatenate([half, -half])


def _ahead(span: float) -> Floats:
    """Hours from the last flight on, finer near it, as far as anything is foretold [h]."""
    furthest = limit_value("trend_horizon")
    near = min(0.01 * span, 0.5)
    return np.concatenate([[0.0], np.geomspace(near, furthest, _STEPS - 1)])


def _belief(shape: Shape) -> float:
    """How much a shape is believed beforehand: all of a kind share what their limit says."""
    return limit_value(shape.kind) / _OF_A_KIND[shape.kind]


def _fit(design: Matrix, values: Floats, noise: Floats, room: float) -> _Fit:
    """Normal conjugate fit of level and movements (Gelman et al., section 14.8; from memory)."""
    prior = np.full(design.shape[1], limit_value("wear_movement") * room)
    prior[0] *= 10.0
    start = float(values[0])
    rows = design * (prior / noise[:, None])
    wanted = (values - start) / noise
    precision = rows.T @ rows + np.eye(prior.size)
    factor = np.linalg.cholesky(precision)
    half = np.linalg.solve(factor, rows.T @ wanted)
    inner = np.linalg.solve(factor.T, half)
    mean = prior * inner
    mean[0] += start
    evidence = 0.5 * float(half @ half) - float(np.log(np.diag(factor)).sum())
    spread = prior[:, None] * np.linalg.inv(factor).T
    return _Fit(mean, spread, evidence, design @ mean)


def _reached(shape: Shape, fit: _Fit, shares: Floats, limit: float, worse: float) -> Floats:
    """Share of draws that have come to the limit by each time (m,)."""
    drawn = fit.mean + _draws()[:, : fit.mean.size] @ fit.spread.T
    path = drawn[:, :1] + drawn[:, 1:] @ shape.terms(shares).T
    return np.asarray(np.maximum.accumulate(worse * (path - limit) >= 0.0, axis=1).mean(axis=0))
