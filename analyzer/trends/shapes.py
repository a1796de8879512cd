"""A step and a bend fitted to a stretch: where it lies best, how large it is, and which of the two it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Z95, Floats, middle
from analyzer.trends.regression import level_beforehand, own_terms
from analyzer.trends.tracked_series import Ints, Matrix, Series

Rows = np.ndarray[tuple[int, int], np.dtype[np.int64]]
Stack = np.ndarray[tuple[int, int, int], np.dtype[np.float64]]

#: How often a shape is fitted at most, with what lies off drawn in by the fit before.
_ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Step:
    """Level before ``at`` and another from it on."""

    at: int  # first point on the new level
    size: float
    size_sd: float
    misfit: float  # sum of bounded squared standardised residuals


@dataclass(frozen=True, slots=True)
class Window:
    """Points first <= i < end of a series, and the one of them on which a step would come."""

    first: int
    end: int
    at: int


@dataclass(frozen=True, slots=True)
class Bend:
    """Flat up to ``at``, one slope from there."""

    at: int
    slope: float  # per hour
    moved: float  # from ``at`` to the last point
    moved_sd: float
    misfit: float


@dataclass(frozen=True, slots=True)
class _Fits:
    coefficients: Floats  # (k, q)
    sd: Floats  # (k,) of the shape's own coefficient
    misfit: Floats  # (k,)


def best_step(series: Series) -> Step | None:
    """Give the step that leaves the least misfit, None where the stretch is too short for one."""
    before, latest = _latest(series)
    least = int(limit_value("trend_fewest_step"))
    places = _candidates(latest, least, latest.n - least)
    if not places.size:
        return None
    after = (np.arange(latest.n)[None, :] >= places[:, None]).astype(np.float64)
    fits = _fit(latest, after)
    best = int(np.argmin(fits.misfit))
    at, size = int(places[best]) + before, float(fits.coefficients[best][1])
    return Step(at, size, float(fits.sd[best]), float(fits.misfit[best]))


def steps_at(series: Series, windows: Sequence[Window]) -> list[Step]:
    """Give the step of each of some windows of a series, before the point that is known."""
    found: dict[int, Step] = {}
    for n in {one.end - one.first for one in windows}:  # those of one length at once
        alike = [place for place, one in enumerate(windows) if one.end - one.first == n]
        rows = np.array([windows[place].first for place in alike])[:, None] + np.arange(n)
        at = np.array([windows[place].at for place in alike])
        fits = _solved(_asked(series, rows, (rows >= at[:, None]).astype(np.float64)))
        found |= zip(alike, _steps(fits, at), strict=True)
    return [found[place] for place in range(len(windows))]


def steps_tried(series: Series, places: Sequence[int]) -> list[Step]:
    """Give the step of one stretch before each of some points."""
    at = np.array(places, dtype=np.int64)
    return _steps(_fit(series, (np.arange(series.n)[None, :] >= at[:, None]).astype(np.float64)), at)


def _steps(fits: _Fits, at: Ints) -> list[Step]:
    """The step that each of k fits tells, before points that are given (k,)."""
    told = (at, fits.coefficients[:, 1], fits.sd, fits.misfit)
    return [Step(*one) for one in zip(*(column.tolist() for column in told), strict=True)]


def best_bend(series: Series) -> Bend:
    """Give the bend that leaves the least misfit; a line from the first point on is one of them."""
    before, latest = _latest(series)
    least = int(limit_value("trend_fewest_step"))
    places = np.concatenate([[0], _candidates(latest, 1, latest.n - least)])
    since = np.maximum(latest.hours[None, :] - latest.hours[places][:, None], 0.0)
    fits = _fit(latest, since)
    cost = fits.misfit + np.where(places > 0, limit_value("trend_bend_cost"), 0.0)
    best = int(np.argmin(cost))
    if places[best] == 0 and before:
        return _line(series)
    slope, span = float(fits.coefficients[best][1]), float(since[best, -1])
    at, sd = (int(places[best]) + before if places[best] else 0), float(fits.sd[best])
    return Bend(at, slope, slope * span, sd * span, float(fits.misfit[best]))


def onset_average(series: Series) -> tuple[float, float]:
    """Give the present slope per hour averaged over when it may have begun, and the spread that this doubt makes.

    Bayesian model averaging: a line from the first point on is believed as much beforehand as all bends together,
    and each is weighed by how well it fits (Hoeting et al. 1999; formula from memory).
    """
    _, latest = _latest(series)
    places = np.concatenate([[0], _candidates(latest, 1, latest.n - int(limit_value("trend_fewest_step")))])
    since = np.maximum(latest.hours[None, :] - latest.hours[places][:, None], 0.0)
    fits = _fit(latest, since)
    believed = np.full(places.size, 0.5 / max(1, places.size - 1))
    believed[0] = 0.5
    best = int(np.argmin(fits.misfit))
    noise = max(float(fits.misfit[best]) / max(1, latest.n - 3), 1e-3)
    weight = believed * np.exp(-(fits.misfit - fits.misfit[best]) / (2.0 * noise))
    weight /= weight.sum()
    slopes = fits.coefficients[:, 1]
    mean = float(weight @ slopes)
    return mean, float(np.sqrt(weight @ (slopes - mean) ** 2))


def _line(series: Series) -> Bend:
    since = (series.hours - series.hours[0])[None, :]
    fits = _fit(series, since)
    slope, span = float(fits.coefficients[0][1]), float(since[0, -1])
    return Bend(0, slope, slope * span, float(fits.sd[0]) * span, float(fits.misfit[0]))


def _latest(series: Series) -> tuple[int, Series]:
    """The latest points, in which a shape is looked for, and how many come before them."""
    before = max(0, series.n - int(limit_value("trend_shape_window")))
    return before, series.part(before, series.n)


def sure_step(series: Series, margin: float) -> Step | None:
    """Give the best step if it explains a stretch better than a bend does by a margin, and is large enough for sure."""
    step = best_step(series)
    if step is None or abs(step.size) - Z95 * step.size_sd < series.innocent_move[-1]:
        return None
    if series.kind.stepped and abs(step.size) <= 2.0 * middle(series.half):
        return None
    return step if step.misfit + margin < best_bend(series).misfit else None


def _candidates(series: Series, first: int, end: int) -> Ints:
    """Places to try: all of the latest, a sample of the earlier ones."""
    places = np.arange(first, max(first, end + 1))
    most = int(limit_value("trend_places_most"))
    if places.size <= most:
        return places
    earlier = np.unique(np.linspace(places[0], places[-most // 2], most // 2).astype(np.int64))
    return np.unique(np.concatenate([earlier, places[-most // 2 :]]))


@dataclass(frozen=True, slots=True)
class _Asked:
    """k shapes, each with the n points of a stretch that it is fitted to."""

    design: Stack  # (k, n, q): level, the shape, covariates
    mean: Matrix  # (k, q) of each coefficient beforehand
    sd: Matrix  # (k, q)
    noise: Matrix  # (k, n)
    value: Matrix  # (k, n)
    own_terms: int


def _fit(series: Series, shapes: Matrix) -> _Fits:
    """Least squares of level, one shape and the covariates, once drawn in towards outliers; k shapes at once."""
    return _solved(_asked(series, np.arange(series.n)[None, :], shapes))


def _asked(series: Series, rows: Rows, shapes: Matrix) -> _Asked:
    """Ask for k shapes, each in the n points of a series that ``rows`` gives (k, n), or all in the same (1, n)."""
    k, n = shapes.shape
    level, spread = level_beforehand(series, rows[:, 0])
    design = np.empty((k, n, 2 + series.prior_mean.size))
    mean, sd = np.empty((k, design.shape[2])), np.empty((k, design.shape[2]))
    design[:, :, 0], design[:, :, 1], design[:, :, 2:] = 1.0, shapes, series.covariates[rows]
    mean[:, 0], mean[:, 1], mean[:, 2:] = level, 0.0, series.prior_mean
    sd[:, 0], sd[:, 1], sd[:, 2:] = spread, spread, series.prior_sd
    noise, value = (np.broadcast_to(one[rows], (k, n)) for one in (np.sqrt(series.variance), series.value))
    return _Asked(design, mean, sd, noise, value, own_terms(series, has_shape=True))


def _solved(asked: _Asked) -> _Fits:
    k, n, q = asked.design.shape
    rows = asked.design * (asked.sd[:, None, :] / asked.noise[:, :, None])
    wanted = (asked.value - (asked.design @ asked.mean[:, :, None])[:, :, 0]) / asked.noise
    reach = limit_value("trend_outlier")
    weight, left = np.ones((k, n)), np.empty((k, n))
    inverse, solution = np.empty((k, q, q)), np.empty((k, q))
    still = np.arange(k)  # whose outliers are not drawn in to where they stay
    for _ in range(_ROUNDS):
        own, aim = rows[still], wanted[still]
        turned = (own * weight[still][:, :, None]).transpose(0, 2, 1)
        inverse[still] = np.linalg.inv(turned @ own + np.eye(q))
        solution[still] = (inverse[still] @ (turned @ aim[:, :, None]))[:, :, 0]
        left[still] = aim - (own @ solution[still][:, :, None])[:, :, 0]
        renewed = np.minimum(1.0, reach / np.maximum(np.abs(left[still]), 1e-9))
        moved = (renewed != weight[still]).any(axis=1)
        weight[still] = renewed
        still = still[moved]
        if not still.size:
            break
    misfit = np.minimum(left**2, reach**2).sum(axis=1) + (solution**2).sum(axis=1)
    belief = limit_value("trend_scatter_belief")
    scale = np.sqrt((belief + misfit) / (belief + max(1, n - asked.own_terms)))
    own = np.sqrt(inverse[:, 1, 1]) * asked.sd[:, 1] * scale
    return _Fits(asked.mean + asked.sd * solution, own, misfit)
