"""Linear models of a series, known a little beforehand: after every flight, and robustly at the end.

The value is taken as level + slope * hours + effects of the covariates + noise. Effects have a normal prior
(what physics says of them), so has the slope (nothing drifts at any rate whatever), the level a very wide one.
Normal conjugate updating is used throughout: information adds up flight by flight, so that the fit after each
flight comes from one cumulative sum and depends on nothing later (Gelman et al., Bayesian Data Analysis, 3rd ed.,
ch. 14; formulas from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Floats, middle
from analyzer.trends.tracked_series import Matrix, Series

Stack = np.ndarray[tuple[int, int, int], np.dtype[np.float64]]
#: A standard deviation so wide that it says nothing, in units of the usual scatter.
WIDE = 1e3
_TINY, _CLOSE, _MOST_ROUNDS = 1e-9, 1e-6, 100


@dataclass(frozen=True, slots=True)
class Prefixes:
    """Fits to the first 0, 1, ... n points of a series; the points come last in every table."""

    design: Matrix  # (q, n)
    mean: Floats  # (q,) the coefficients beforehand
    coefficients: Matrix  # (q, n + 1)
    covariance: Stack  # (q, q, n + 1), for a noise scale of 1
    scale: Floats  # (n + 1,) noise as a multiple of what its variances say
    correlation: Floats  # (n + 1,) of one flight's noise with the next one's, 0 or more
    innovation: Floats  # (n,) each point against its forecast, in standard deviations
    value: Floats  # (n,) the points, outlying ones drawn in


def design_of(series: Series, with_slope: bool) -> tuple[Matrix, Floats, Floats]:
    """Give the design matrix, and mean and standard deviation of each coefficient beforehand.

    Columns: level, slope per hour if asked for, covariates.
    """
    columns = [np.ones(series.n)]
    if with_slope:
        columns.append(series.hours - (series.hours[0] if series.n else 0.0))
    level, spread = level_beforehand(series, 0) if series.n else (0.0, WIDE)
    mean = np.concatenate([[level], np.zeros(len(columns) - 1), series.prior_mean])
    own = [spread]
    if with_slope:
        own.append(limit_value("trend_slope_spread") * float(series.innocent_move[0] if series.n else 1.0) / 100.0)
    sd = np.concatenate([own, series.prior_sd])
    return np.column_stack([*columns, series.covariates]), mean, sd


def level_beforehand(series: Series, first: Any) -> tuple[Any, Any]:
    """Give what is believed of the level of stretches before they are seen, and how surely; by their first points.

    No point may depend on a later one. ``first`` is one place or an array of them.
    """
    return series.value[first], WIDE * np.sqrt(series.variance[first])


def own_terms(series: Series, has_shape: bool) -> int:
    """Count the terms that settle on a series: level, slope or shape, known effects.

    Columns that stand in for air which some flights lack do not count: whether any does may be known only later.
    """
    return 1 + has_shape + len(series.kind.effects)


def prefixes(series: Series) -> Prefixes:
    """Fit every prefix of a series with a slope; an outlying point is drawn in before it is learned from."""
    rows, mean, sd = design_of(series, with_slope=True)
    design = rows.T.copy()
    return _fits(series, design, mean, _covariances(design, series.variance, sd), own_terms(series, has_shape=True))


def without_slope(line: Prefixes, series: Series) -> Prefixes:
    """Fit every prefix of a series without a slope, by the fits with one: what they say where that is known to be 0."""
    kept = [0, *range(2, line.mean.size)]
    with_it = line.covariance[kept, 1]
    told = with_it[:, None] * (with_it / line.covariance[1, 1])
    covariance = line.covariance[kept][:, kept] - told
    return _fits(series, line.design[kept], line.mean[kept], covariance, own_terms(series, has_shape=False))


def _fits(series: Series, design: Matrix, mean: Floats, covariance: Stack, free: int) -> Prefixes:
    """Fit every prefix by the coefficients' covariance; the first ``free`` points tell nothing of the noise."""
    value = series.value
    reach = limit_value("trend_outlier")
    spread = np.sqrt(series.variance + variance_of(design, covariance[:, :, :-1]))
    for _ in range(2):
        coefficients = _coefficients(design, value, series.variance, mean, covariance)
        forecast = np.einsum("in,in->n", design, coefficients[:, :-1])
        innovation = (series.value - forecast) / spread
        scale, correlation = _noise(innovation, reach, free)
        bound = reach * spread * scale[:-1]
        value = forecast + np.clip(series.value - forecast, -bound, bound)
    return Prefixes(design, mean, coefficients, covariance, scale, correlation, innovation, value)


def variance_of(design: Matrix, covariance: Stack) -> Floats:
    """Give the variance of what each point's own coefficients promise for its own row of the design (n,)."""
    return np.asarray(np.einsum("ijn,in,jn->n", covariance, design, design))


def fitted_to(fit: Prefixes, series: Series, value: Floats) -> Matrix:
    """Give the coefficients after each point, and before the first, for other values in place of the series' own."""
    return _coefficients(fit.design, value, series.variance, fit.mean, fit.covariance)


def _covariances(design: Matrix, variance: Floats, sd: Floats) -> Stack:
    """Give the coefficients' covariance after each point, and before the first: information adds up."""
    scaled = design * sd[:, None]  # coefficients are worked in units of their prior spread, so that all is of one size
    q, n = scaled.shape
    information = np.empty((q, q, n + 1))
    information[:, :, 0] = np.eye(q)
    np.multiply(scaled[:, None], scaled / variance, out=information[:, :, 1:])
    np.cumsum(information, axis=2, out=information)
    return np.asarray(_inverses(information) * np.outer(sd, sd)[:, :, None])


def _inverses(many: Stack) -> Stack:
    """Give the inverses of symmetric positive definite matrices (q, q, k), all at once, by sweeping out each row.

    Such matrices need no pivoting (Golub and Van Loan, Matrix Computations, section 4.2; from memory).
    """
    left = many.copy()
    for place in range(len(left)):
        row = left[place].copy()
        scaled = row / row[place]
        left -= row[:, None] * scaled
        left[place] = left[:, place] = scaled
        left[place, place] = -1.0 / row[place]
    return -left


def _coefficients(design: Matrix, value: Floats, variance: Floats, mean: Floats, covariance: Stack) -> Matrix:
    """Give the coefficients after each point, and before the first."""
    weighted = design * ((value - mean @ design) / variance)
    vector = np.concatenate([np.zeros((mean.size, 1)), weighted], axis=1).cumsum(axis=1)
    return np.asarray(mean[:, None] + np.einsum("ijn,jn->in", covariance, vector))


def _noise(innovation: Floats, reach: float, free: int) -> tuple[Floats, Floats]:
    """Give the noise's scale and its correlation from flight to flight, after each point.

    The first ``free`` innovations only settle the coefficients and tell nothing of the noise.
    """
    clipped = np.clip(innovation, -reach, reach)
    clipped[:free] = 0.0
    belief = limit_value("trend_scatter_belief")
    count = np.maximum(np.arange(innovation.size + 1) - free, 0)
    squares = np.concatenate([[0.0], clipped**2]).cumsum()
    products = np.concatenate([[0.0, 0.0], clipped[1:] * clipped[:-1]])[: innovation.size + 1].cumsum()
    scale = np.sqrt((belief + squares) / (belief + count))
    correlation = np.clip(products / (belief + squares), 0.0, limit_value("trend_correlation_most"))
    return np.asarray(scale), np.asarray(correlation)


@dataclass(frozen=True, slots=True)
class Line:
    """A robust line through a series freed of its covariates."""

    level: float  # at the last point, at the covariates' references
    level_sd: float
    slope: float  # per hour
    slope_sd: float
    effects: Floats  # of the covariates


def robust_line(series: Series, onset_h: float | None = None) -> Line:
    """Fit level, slope and effects with Huber's loss; flat up to ``onset_h`` when that is given."""
    design, mean, sd = design_of(series, with_slope=True)
    origin = series.hours[0] if onset_h is None else onset_h
    design[:, 1] = np.maximum(series.hours - origin, 0.0)
    coefficients, covariance = robust_fit(series, design, mean, sd)
    at_end = np.zeros(sd.size)
    at_end[:2] = 1.0, design[-1, 1]
    level_sd = float(np.sqrt(at_end @ covariance @ at_end))
    slope, slope_sd = float(coefficients[1]), float(np.sqrt(covariance[1, 1]))
    return Line(float(at_end @ coefficients), level_sd, slope, slope_sd, coefficients[2:])


def robust_fit(series: Series, design: Matrix, mean: Floats, sd: Floats) -> tuple[Floats, Matrix]:
    """Give the coefficients of a linear model with Huber's loss, and their covariance.

    What is known of each beforehand (``mean``, ``sd``) stands as one more row. The covariance is that of the
    weighted fit, widened by the residuals' scatter and by their correlation from flight to flight (effective
    sample size of a first-order autoregression).
    """
    noise = np.sqrt(series.variance)
    rows = np.vstack([design * sd[None, :] / noise[:, None], np.eye(sd.size)])
    wanted = np.concatenate([(series.value - design @ mean) / noise, np.zeros(sd.size)])
    coefficients = mean + sd * huber(rows, wanted, limit_value("trend_huber"))[0]
    return coefficients, _covariance(series, design, sd, series.value - design @ coefficients)


def huber(rows: Matrix, wanted: Floats, epsilon: float) -> tuple[Floats, float]:
    """Coefficients and scale that minimise Huber's loss with the scale fitted beside them.

    The sum over points of ``scale + scale * H(residual / scale)``, H quadratic up to ``epsilon`` and linear
    beyond (Huber and Ronchetti, Robust Statistics, section 7.7; from memory), by reweighted least squares.
    """
    columns = rows.T.copy()  # long rows of it are multiplied several times as fast
    coefficients = np.linalg.solve(columns @ rows, columns @ wanted)
    scale = _TINY + 1.4826 * middle(np.abs(wanted - rows @ coefficients))
    for _ in range(_MOST_ROUNDS):
        left = np.abs(wanted - coefficients @ columns)
        inside = left < epsilon * scale
        free = wanted.size - epsilon**2 * (wanted.size - np.count_nonzero(inside))
        if free > 0.0:
            near = left * inside
            scale = max(_TINY, float(np.sqrt(near @ near / free)))
        weight = np.minimum(1.0, epsilon * scale / np.maximum(left, _TINY))
        heavy = columns * weight
        renewed = np.linalg.solve(heavy @ rows, heavy @ wanted)
        done = float(np.abs((renewed - coefficients) @ columns).max()) < _CLOSE * scale
        coefficients = renewed
        if done:
            break
    return np.asarray(coefficients), scale


def _covariance(series: Series, design: Matrix, sd: Floats, residual: Floats) -> Matrix:
    reach = limit_value("trend_outlier")
    unit = residual / np.sqrt(series.variance)
    scale, lag = scatter_of(unit, settled=2)
    kept = np.minimum(1.0, reach * scale / np.maximum(np.abs(unit), 1e-9))
    scaled = design * sd[None, :]
    information = np.eye(sd.size) + (scaled * (kept / series.variance)[:, None]).T @ scaled
    covariance = np.linalg.inv(information) * np.outer(sd, sd) * scale**2
    return np.asarray(covariance * (1.0 + lag) / (1.0 - lag))


def scatter_of(unit: Floats, settled: int, belief: float | None = None) -> tuple[float, float]:
    """Give the scatter of residuals as a multiple of what their spread says, and their correlation in a row.

    ``unit`` are residuals over their standard deviations (n,), outlying ones drawn in; ``settled`` terms were fitted.
    What they are said to scatter by counts as so many flights of ``belief``, ``trend_scatter_belief`` by default; that
    they do not follow each other always as so many of ``trend_scatter_belief``.
    """
    reach, usual = limit_value("trend_outlier"), limit_value("trend_scatter_belief")
    said, free = usual if belief is None else belief, max(1, unit.size - settled)
    scale = float(np.sqrt((said + (np.clip(unit, -reach, reach) ** 2).sum()) / (said + free)))
    clipped = np.clip(unit / scale, -reach, reach)
    lag = float((clipped[1:] * clipped[:-1]).sum() / (usual + (clipped**2).sum()))
    return scale, min(max(lag, 0.0), limit_value("trend_correlation_most"))
