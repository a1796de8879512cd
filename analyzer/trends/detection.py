"""Watching a series flight by flight: when has it moved for sure, by drift or by a step, and where did it begin.

Two watches run side by side and use nothing later than the flight they speak of:

- drift: since some flight or other, or from the first one on, the series has moved, at the lower end of its
  interval, by more than innocent causes may leave (``onsets``);
- shift: the latest few flights lie off what the flights before them promise, by the same measure: each of
  three, or the median of more.

Whichever speaks first, a step and a bend are then fitted to the flights so far, and the better one is kept. A
step starts the series anew; a drift is left running.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Floats, middle, middle_of_rows
from analyzer.trends.onsets import moved_for_sure
from analyzer.trends.regression import Prefixes, prefixes, variance_of, without_slope
from analyzer.trends.shapes import Bend, Step, best_bend, sure_step
from analyzer.trends.tracked_series import Matrix, Series

#: Lengths of the latest stretch that is compared with what went before [flights].
WINDOWS = (3, 5, 8, 12)
#: A median's standard deviation over a mean's, for normal noise.
MEDIAN_SPREAD = 1.2533


Shape = Literal["drift", "step"]


@dataclass(frozen=True, slots=True)
class Alarm:
    """A series was seen to have moved. Places count points of the series, from 0."""

    shape: Shape
    raised: int  # latest point when it was seen
    began: int  # point at which it is taken to have begun
    moved: float  # by how much, up to ``raised``, in the unit of the series
    low: float  # 95 % interval of that
    high: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """Points first <= i < end that share one level or one line; ``prior_*`` is what was known of the effects."""

    first: int
    end: int
    series: Series  # the points of the stretch
    away: Floats  # (n,) each point against its forecast from those before it, in standard deviations
    drift: Alarm | None = None


@dataclass(frozen=True, slots=True)
class Followed:
    """A whole series, cut where an entry or a step starts it anew."""

    stretches: tuple[Stretch, ...]
    alarms: tuple[Alarm, ...]
    steps: tuple[Alarm, ...]  # the alarms that are steps


def follow(series: Series, resets: list[int]) -> Followed:
    """Watch a series from its first point to its last.

    Parameters
    ----------
    series : n points
    resets : points before which a maintenance entry starts the series anew, in order
    """
    stretches: list[Stretch] = []
    alarms: list[Alarm] = []
    edges = [0, *[r for r in resets if 0 < r < series.n], series.n]
    known = (series.prior_mean, series.prior_sd)
    for first, end in pairwise(edges):
        at = seen = first
        while at < end:
            part = _part(series, at, end, known)
            line = prefixes(part)
            found = _watch(part, line, seen - at)
            count = part.n if found.split is None else found.split
            known = _learned(part, line, count)
            own = tuple(_moved_to(alarm, at) for alarm in found.alarms)
            drift = next((alarm for alarm in own if alarm.shape == "drift"), None)
            away = (line.innovation / line.scale[:-1])[:count]
            stretches.append(Stretch(at, at + count, part.upto(count), away, drift))
            alarms += own
            at, seen = at + count, own[-1].raised if found.split is not None else end
    return Followed(tuple(stretches), tuple(alarms), tuple(a for a in alarms if a.shape == "step"))


def as_known_at(series: Series, followed: Followed, count: int) -> Followed:
    """Give what is followed as it was known once there were so many points: nothing rests on later ones.

    Until a step was seen its stretch went on; how its points lay off their forecasts is not told of these.
    """
    stretches = []
    for one in followed.stretches:
        if one.first >= count:
            break
        unseen = any(step.began == one.end and step.raised >= count for step in followed.steps)
        end = count if unseen else min(one.end, count)
        away = np.concatenate([one.away, np.full(max(0, end - one.end), np.nan)])[: end - one.first]
        drift = None if one.drift is None or one.drift.raised >= count else one.drift
        part = _part(series, one.first, end, (one.series.prior_mean, one.series.prior_sd))
        stretches.append(Stretch(one.first, end, part, away, drift))
        if unseen:
            break
    alarms = tuple(alarm for alarm in followed.alarms if alarm.raised < count)
    return Followed(tuple(stretches), alarms, tuple(alarm for alarm in alarms if alarm.shape == "step"))


def _part(series: Series, first: int, end: int, known: tuple[Floats, Floats]) -> Series:
    return replace(series.part(first, end), prior_mean=known[0], prior_sd=known[1])


def _moved_to(alarm: Alarm, by: int) -> Alarm:
    return replace(alarm, raised=alarm.raised + by, began=alarm.began + by)


def _learned(part: Series, line: Prefixes, count: int) -> tuple[Floats, Floats]:
    """What the first points of a stretch teach of the covariates' effects, for the stretches after it."""
    if count < limit_value("trend_fewest") or not part.covariates.shape[1]:
        return part.prior_mean, part.prior_sd
    sd = np.sqrt(np.diagonal(line.covariance[:, :, count])[2:]) * line.scale[count]
    return line.coefficients[2:, count], np.minimum(limit_value("trend_carried_over") * sd, part.prior_sd)


@dataclass(frozen=True, slots=True)
class _Found:
    alarms: tuple[Alarm, ...]
    split: int | None  # point at which a step starts the series anew


def _watch(part: Series, line: Prefixes, seen: int) -> _Found:
    """Watch one stretch up to its first step; a drift before it is kept too.

    ``line`` is the fit to every prefix, ``seen`` the point at which the stretch was known to have begun: nothing can
    have been raised in it before.
    """
    if part.n < limit_value("trend_fewest"):
        return _Found((), None)
    flat = without_slope(line, part)
    drift, shift = moved_for_sure(part, line, flat), _shift_watch(part, flat)
    spoken = seen + np.flatnonzero((drift | shift)[seen:])
    if not spoken.size:
        return _Found((), None)
    count = int(spoken[0]) + 1
    step = sure_step(part.upto(count), limit_value("trend_step_margin"))
    if step is not None:
        return _Found((_step_alarm(step, count - 1),), step.at)
    alarm = _drift_alarm(best_bend(part.upto(count)), count - 1)
    later = _step_after(part, line, count)
    if later is None:
        return _Found((alarm,), None)
    return _Found((alarm, _step_alarm(later[0], later[1])), later[0].at)


def _shift_watch(part: Series, fit: Prefixes) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Whether the latest points lie off what the points before them promise, for each last point."""
    spoken = np.zeros(part.n, dtype=np.bool_)
    least, strict = int(limit_value("trend_fewest_before")), limit_value("trend_sure_shift")
    wide = fit.scale * np.sqrt((1.0 + fit.correlation) / (1.0 - fit.correlation))
    weights = np.concatenate([[0.0], 1.0 / part.variance]).cumsum()
    ahead = _ahead(part, fit, least)
    size = np.abs(ahead)
    for window in WINDOWS:
        first = slice(least, part.n - window + 1)  # first point of the window; the fit ends before it
        if first.start >= first.stop:
            continue
        away = ahead[:window, : first.stop - first.start]
        own = MEDIAN_SPREAD**2 / (weights[first.start + window :] - weights[first])
        innocent = part.innocent_move[first.start + window - 1 :]
        nearest = strict * np.sqrt(own) * wide[first] + innocent  # what is promised is in doubt too, which adds to it
        beyond = size[:window, : first.stop - first.start] > nearest
        far = np.flatnonzero(np.count_nonzero(beyond, axis=0) >= window // 2)  # else no median is
        before = first.start + far
        middle = np.add.reduce([fit.design[:, before + one] for one in range(window)]) / window
        doubt = variance_of(middle, fit.covariance[:, :, before])
        bound = strict * np.sqrt(own[far] + doubt) * wide[before] + innocent[far]
        spoken[before + window - 1] |= np.abs(_typical(away[:, far].T)) > bound
    return spoken


def _ahead(part: Series, fit: Prefixes, least: int) -> Matrix:
    """How far each point from ``least`` on, and those after it, lie off what the points before it promise (w, n).

    As many as the longest window holds; NaN beyond the last point.
    """
    ahead = np.full((WINDOWS[-1], max(0, part.n - least)), np.nan)
    for one in range(min(ahead.shape)):
        at, known = slice(least + one, part.n), slice(least, part.n - one)
        ahead[one, : part.n - least - one] = part.value[at] - np.einsum(
            "in,in->n", fit.design[:, at], fit.coefficients[:, known]
        )
    return ahead


def _typical(away: Matrix) -> Floats:
    """The median along each row; of three the one nearest zero, and zero when they differ in sign."""
    if away.shape[1] > WINDOWS[0]:
        return middle_of_rows(away)
    alike = np.abs(np.sign(away).sum(axis=1)) == away.shape[1]
    return np.where(alike, np.sign(away[:, 0]) * np.abs(away).min(axis=1), 0.0)


def _step_after(part: Series, fit: Prefixes, count: int) -> tuple[Step, int] | None:
    """A step seen after a drift was: the drift turns out to be one, or one comes on top of it.

    Looked for a few flights at a time; the innovation of the running line says whether looking is worth while.
    """
    reach = limit_value("trend_outlier")
    every = int(limit_value("trend_look_again"))
    for end in range(count + every, part.n + 1, every):
        recent = fit.innovation[end - every : end] / fit.scale[end - every : end]
        early = end <= count + 4 * every
        if not early and abs(middle(recent)) < reach:
            continue
        step = sure_step(part.upto(end), limit_value("trend_step_margin_after"))
        if step is not None:
            return step, end - 1
    return None


def _step_alarm(step: Step, raised: int) -> Alarm:
    half = 1.96 * step.size_sd
    return Alarm("step", raised, step.at, step.size, step.size - half, step.size + half)


def _drift_alarm(bend: Bend, raised: int) -> Alarm:
    half = 1.96 * bend.moved_sd
    return Alarm("drift", raised, bend.at, bend.moved, bend.moved - half, bend.moved + half)
