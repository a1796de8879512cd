"""Whether a series has moved for sure, whenever that may have begun: a likelihood ratio over the onsets of a drift.

A line through all flights takes long to see what began late, since the flights before hold it back; so each stretch of
the latest flights is tried as the one in which the series moves, after a level that all of them share.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Mask
from analyzer.trends.regression import Prefixes, design_of, fitted_to
from analyzer.trends.tracked_series import Series

#: How many lengths of the latest stretch are tried beside the whole series.
_LENGTHS = 24


def moved_for_sure(part: Series, line: Prefixes, flat: Prefixes) -> Mask:
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
    flat : the fit without a slope to each of them
    """
    left = line.value - flat.mean @ flat.design
    hours, weight = part.hours - part.hours[0], 1.0 / part.variance
    of_base, of_value = weight * flat.design, weight * left
    terms = np.vstack([of_base, of_base * hours, weight * hours**2, of_value, of_value * hours])
    sums = np.concatenate([np.zeros((len(terms), 1)), terms.cumsum(axis=1)], axis=1)
    believed = 1.0 / _slope_spread(part) ** 2
    wide = np.sqrt((1.0 + line.correlation[1:]) / (1.0 - line.correlation[1:])) * line.scale[1:]
    doubt = limit_value("trend_sure") * wide
    away = fitted_to(flat, part, line.value)[:, 1:] - flat.mean[:, None]
    spread = flat.covariance[:, :, 1:]
    spoken = np.zeros(part.n, dtype=np.bool_)
    for last, onset in _pairs(part.n):
        over, since = sums[:, last.start + 1 :] - sums[:, onset], hours[onset]
        q = len(of_base)
        first, timed, (squared, value, value_timed) = over[:q], over[q : 2 * q], over[2 * q :]
        cross = timed - since * first
        own = squared - 2.0 * since * timed[0] + since**2 * first[0] + believed
        own -= ((spread[:, :, last] * cross).sum(axis=1) * cross).sum(axis=0)
        pull = value_timed - since * value - (cross * away[:, last]).sum(axis=0)
        span = hours[last] - since
        spoken[last] |= np.abs(pull) / own * span - doubt[last] * span / np.sqrt(own) > part.innocent_move[last]
    return spoken


def _slope_spread(part: Series) -> float:
    """What is believed of a slope per hour beforehand, one standard deviation."""
    return float(design_of(part.upto(1), with_slope=True)[2][1])


def _pairs(n: int) -> Iterator[tuple[slice, slice]]:
    """Last points, and for each of them an onset to try: the first point of all, then some of the latest ones."""
    least = int(limit_value("trend_fewest_step"))
    lengths = np.unique(np.geomspace(least, limit_value("trend_shape_window"), _LENGTHS).round().astype(np.int64))
    fewest = int(limit_value("trend_fewest")) - 1
    yield slice(fewest, n), slice(0, 1)
    for length in lengths[lengths < n].tolist():
        first = max(fewest, length)
        yield slice(first, n), slice(first - length, n - length)
