"""Whether a series has moved for sure, whenever that may have begun: a likelihood ratio over the onsets of a drift.

A line through all flights takes long to see what began late, since the flights before hold it back; so each stretch of
the latest flights is tried as the one in which the series moves, after a level that all of them share.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Floats, Mask
from analyzer.trends.regression import Prefixes, Stack, design_of, fitted_to, variance_of
from analyzer.trends.tracked_series import Ints, Matrix, Series

#: How many lengths of the latest stretch are tried beside the whole series.
_LENGTHS = 24
#: What is known of the slopes is worked out at every fourth length, to rule moves out there and at the next three.
_ANEW = 4


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
    watch = _watch(part, line, flat)
    always, begin = slice(int(limit_value("trend_fewest")) - 1, part.n), slice(0, 1)
    at = np.flatnonzero(watch.sure(always, begin, np.sqrt(watch.information(always, begin))))
    lasts, onsets = [always.start + at], [np.zeros_like(at)]
    known = np.zeros(part.n)  # root of the information on the slope from each onset, at least
    for place, length in enumerate(_lengths(part.n)):
        last = slice(max(always.start, length), part.n)
        onset = slice(last.start - length, last.stop - length)
        if place % _ANEW == 0:
            known[onset] = np.sqrt(watch.information(last, onset))
        at = np.flatnonzero(watch.sure(last, onset, known[onset]))
        lasts.append(last.start + at)
        onsets.append(onset.start + at)
    left, begun = np.concatenate(lasts), np.concatenate(onsets)
    spoken = np.zeros(part.n, dtype=np.bool_)
    spoken[left[watch.sure(left, begun, np.sqrt(watch.information(left, begun)))]] = True
    return spoken


@dataclass(frozen=True, slots=True)
class _Watch:
    """A series of n points in sums, which tell of a slope from any onset up to any last point.

    The sums are those of the points' weights times each of the q terms without a slope, the level first, or times what
    these leave of the values.
    """

    hours: Floats  # (n,)
    plain: Matrix  # (q, n) sums up to each point
    timed: Matrix  # (q, n) times the hours
    before: Matrix  # (q, n) of the points before each one, times the hours since that one
    squared: Floats  # (n,) sums of weights up to each point, times the squared hours
    squared_before: Floats  # (n,) of the points before each one, times the squared hours since that one
    left: Floats  # (n,) sums up to each point of what its own fit leaves
    left_timed: Floats  # (n,) times the hours
    value_before: Floats  # (n,) of the values before each point, times the hours since that one
    away: Matrix  # (q, n) the coefficients without a slope, from those beforehand
    spread: Stack  # (q, q, n) their covariance
    believed: float  # information on a slope beforehand
    doubt: Floats  # (n,) how many standard deviations for a noise scale of 1 are sure
    innocent: Floats  # (n,) move that innocent causes may leave

    def information(self, last: slice | Ints, onset: slice | Ints) -> Floats:
        """How much the points up to each last one tell of a slope from an onset on; more points never tell less."""
        since = self.hours[onset]
        cross = self.timed[:, last] - since * self.plain[:, last] - self.before[:, onset]
        squared = self.squared[last] - since * (2.0 * self.timed[0, last] - since * self.plain[0, last])
        own = squared - self.squared_before[onset] + self.believed
        return np.asarray(own - variance_of(cross, self.spread[:, :, last]))

    def sure(self, last: slice | Ints, onset: slice | Ints, root: Floats) -> Mask:
        """Whether slopes have moved the last points for sure, by the root of the information on these slopes."""
        since, span = self.hours[onset], self.hours[last] - self.hours[onset]
        pull = self.left_timed[last] - since * self.left[last] - self.value_before[onset]
        pull += np.einsum("in,in->n", self.before[:, onset], self.away[:, last])
        return np.asarray(np.abs(pull) * span > root * (self.innocent[last] * root + self.doubt[last] * span))


def _watch(part: Series, line: Prefixes, flat: Prefixes) -> _Watch:
    hours, weight = part.hours - part.hours[0], 1.0 / part.variance
    terms = weight * np.vstack([flat.design, line.value - flat.mean @ flat.design])
    plain, timed, squared = terms.cumsum(axis=1), (terms * hours).cumsum(axis=1), (weight * hours**2).cumsum()
    before = np.zeros_like(terms)
    before[:, 1:] = timed[:, :-1] - hours[1:] * plain[:, :-1]
    squared_before = np.zeros(part.n)
    squared_before[1:] = squared[:-1] - hours[1:] * (2.0 * timed[0, :-1] - hours[1:] * plain[0, :-1])
    away = fitted_to(flat, part, line.value)[:, 1:] - flat.mean[:, None]
    left, left_timed = (of[-1] - np.einsum("in,in->n", of[:-1], away) for of in (plain, timed))
    wide = np.sqrt((1.0 + line.correlation[1:]) / (1.0 - line.correlation[1:])) * line.scale[1:]
    return _Watch(
        hours,
        plain[:-1],
        timed[:-1],
        before[:-1],
        squared,
        squared_before,
        left,
        left_timed,
        before[-1],
        away,
        flat.covariance[:, :, 1:],
        1.0 / _slope_spread(part) ** 2,
        limit_value("trend_sure") * wide,
        part.innocent_move,
    )


def _slope_spread(part: Series) -> float:
    """What is believed of a slope per hour beforehand, one standard deviation."""
    return float(design_of(part.upto(1), with_slope=True)[2][1])


def _lengths(n: int) -> list[int]:
    """How far before a last point of at most n the onsets lie that are tried, the nearest first."""
    least, most = limit_value("trend_fewest_step"), limit_value("trend_shape_window")
    lengths = {round(least * (most / least) ** (place / (_LENGTHS - 1))) for place in range(_LENGTHS)}
    return sorted(length for length in lengths if length < n)
