"""Whether a series has moved for sure, whenever that may have begun: a likelihood ratio over the onsets of a drift.

A line through all flights takes long to see what began late, since the flights before hold it back; so each stretch of
the latest flights is tried as the one in which the series moves, after a level that all of them share.
"""

from __future__ import annotations

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Mask
from analyzer.trends.regression import Prefixes, design_of, fit_to_each
from analyzer.trends.tracked_series import Series

#: How many lengths of the latest stretch are tried beside the whole series.
_LENGTHS = 24


def moved_for_sure(part: Series, line: Prefixes) -> Mask:
    """Whether the points up to each one have moved for sure by more than innocent causes may leave (n,).

    For each last point and each onset the model is a level, the covariates' effects and, from the onset on, one slope;
    moved is what the slope makes of the time since. One onset for which ``|moved| - trend_sure * sd`` is more than the
    innocent move suffices: a generalised likelihood ratio with a dead band (Lorden 1971; Basseville and Nikiforov,
    Detection of Abrupt Changes, section 2.4; from memory). The slope's share of the fit is worked out from the fit
    without it, by the Schur complement of the information.

    Parameters
    ----------
    part : n points
    line : the straight line through each of its prefixes: outlying values drawn in, noise and its correlation
    """
    base, mean, _ = design_of(part, with_slope=False)
    coefficients, covariance = fit_to_each(part, line.value)
    left = line.value - base @ mean
    hours, weight = part.hours - part.hours[0], 1.0 / part.variance
    last, onset = _pairs(part.n)
    since = hours[onset]
    of_base, of_value = weight[:, None] * base, weight * left
    cross = _over(of_base * hours[:, None], onset, last) - since[:, None] * _over(of_base, onset, last)
    squares = [_over((weight * hours**power)[:, None], onset, last)[:, 0] for power in (0, 1, 2)]
    own = squares[2] - 2.0 * since * squares[1] + since**2 * squares[0] + 1.0 / _slope_spread(part) ** 2
    own -= np.einsum("ij,ijk,ik->i", cross, covariance[last + 1], cross, optimize=True)
    pull = _over((of_value * hours)[:, None], onset, last)[:, 0] - since * _over(of_value[:, None], onset, last)[:, 0]
    pull -= np.einsum("ij,ij->i", cross, coefficients[last + 1] - mean)
    wide = np.sqrt((1.0 + line.correlation[1:]) / (1.0 - line.correlation[1:])) * line.scale[1:]
    span = hours[last] - since
    moved = np.abs(pull) / own * span
    sure = moved - limit_value("trend_sure") * wide[last] * span / np.sqrt(own) > part.innocent_move[last]
    spoken = np.zeros(part.n, dtype=np.bool_)
    spoken[last[sure]] = True
    return spoken


def _slope_spread(part: Series) -> float:
    """What is believed of a slope per hour beforehand, one standard deviation."""
    return float(design_of(part.upto(1), with_slope=True)[2][1])


def _pairs(n: int) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Last points and onsets to try for each: the first point of all, and some of the latest ones."""
    least = int(limit_value("trend_fewest_step"))
    lengths = np.unique(np.geomspace(least, limit_value("trend_shape_window"), _LENGTHS).round().astype(np.int64))
    last = np.arange(int(limit_value("trend_fewest")) - 1, n)
    onsets = np.concatenate([np.zeros((last.size, 1), dtype=np.int64), last[:, None] - lengths], axis=1)
    row, column = np.nonzero(onsets >= 0)
    return last[row], onsets[row, column]


def _over(
    values: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    onset: np.ndarray[tuple[int], np.dtype[np.int64]],
    last: np.ndarray[tuple[int], np.dtype[np.int64]],
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Sums from each onset to each last point."""
    sums = np.concatenate([np.zeros((1, values.shape[1])), values.cumsum(axis=0)])
    return np.asarray(sums[last + 1] - sums[onset])
