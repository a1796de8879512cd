"""Small numerical tools on sampled series: runs, running medians, robust scatter and its interval."""

from __future__ import annotations

import weakref
from collections.abc import Callable, Sequence
from functools import wraps
from itertools import pairwise
from typing import Any, Concatenate, ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray

from analyzer import running

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: Normal distribution: the median absolute deviation times this is the standard deviation.
MAD_TO_SIGMA = 1.4826
#: A reading further off than this many robust standard deviations is left out of a line's fit; and of a mean.
OUTLIER, FAR_OUTLIER = 3.0, 4.0
#: Percentiles between which 95 % of some readings lie.
MIDDLE_95 = (2.5, 97.5)
#: Two-sided 95 % point of the normal distribution.
Z95 = 1.96
#: No longer series that was worked out is kept, for these would fill the memory [rows].
LONGEST_KEPT = 200_000
#: Rows of a long series that are worked on at a time.
TOGETHER = running.TOGETHER

#: Below this an autocorrelation counts as forgotten; lags that are looked at one by one before a transform is.
_FORGOTTEN, _LAGS_BY_HAND = 0.05, 16

Array = TypeVar("Array", bound=NDArray[Any])
Rest = ParamSpec("Rest")
Told = TypeVar("Told")


def once_a_series(
    work_out: Callable[Concatenate[Floats, Rest], Told],
) -> Callable[Concatenate[Floats, Rest], Told]:
    """Work out once what several ask of the same readings, as long as these are there and cannot be written to.

    Of other arrays in the question it is asked whether they are the very same, and they must not be written to either.
    """
    kept: dict[int, dict[Any, tuple[Told, list[Any]]]] = {}

    @wraps(work_out)
    def asked(values: Floats, /, *rest: Rest.args, **named: Rest.kwargs) -> Told:
        others = [one for one in rest if isinstance(one, np.ndarray)]
        if values.flags.writeable or any(one.flags.writeable for one in others):
            return work_out(values, *rest, **named)
        key = id(values)
        if key not in kept:
            kept[key] = {}
            weakref.finalize(values, kept.pop, key, None).atexit = False
        told = kept[key]
        question = (*((id(one) if isinstance(one, np.ndarray) else one) for one in rest), *named.items())
        if question in told:
            return told[question][0]
        found = work_out(values, *rest, **named)
        if not isinstance(found, np.ndarray) or found.size <= LONGEST_KEPT:
            told[question] = found, others  # which are held, so that no other array comes to stand in their place
        return found

    return asked


@once_a_series
def readings_in(values: Floats, rows: Mask) -> Floats:
    """Readings of some rows, which several ask for."""
    return shared(values[rows])


def runs(mask: Mask) -> list[tuple[int, int]]:
    """Give the runs of True as (first, end) row pairs, end exclusive, in order."""
    firsts, ends = run_edges(mask)
    return list(zip(firsts.tolist(), ends.tolist(), strict=True))


def run_edges(mask: Mask) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First rows and ends, exclusive, of the runs of True."""
    if not mask.size:
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    edges = (mask[1:] != mask[:-1]).nonzero()[0] + 1
    opened, still = [0] if mask[0] else [], [mask.size] if mask[-1] else []
    if opened or still:
        edges = np.concatenate((np.array(opened, dtype=np.intp), edges, np.array(still, dtype=np.intp)))
    return edges[::2], edges[1::2]


def fill_short_gaps(mask: Mask, time: Floats, longest_s: float) -> Mask:
    """Turn runs of False that last less than ``longest_s`` seconds, with True on both sides, to True."""
    filled = mask.copy()
    for first, end in runs(~mask):
        if first > 0 and end < mask.size and time[end] - time[first - 1] < longest_s:
            filled[first:end] = True
    return filled


def drop_short_runs(mask: Mask, time: Floats, shortest_s: float) -> Mask:
    """Turn runs of True that last less than ``shortest_s`` seconds to False."""
    kept = mask.copy()
    for first, end in runs(mask):
        if time[min(end, mask.size - 1)] - time[first] < shortest_s:
            kept[first:end] = False
    return kept


def near(mask: Mask, rows: int) -> Mask:
    """Rows within ``rows`` rows of a True one, themselves included."""
    counts = np.cumsum(mask)
    if not mask.size or not counts[-1]:
        return np.zeros(mask.size, dtype=np.bool_)
    counts = np.concatenate((np.zeros(rows + 1, counts.dtype), counts, np.full(rows, counts[-1])))
    return np.asarray(counts[2 * rows + 1 :] > counts[: mask.size])


def median(values: Floats) -> float:
    """Median of the finite values; NaN when there is none."""
    finite = finite_of(values)
    return _middle_of_finite(finite) if finite.size else float("nan")


#: The same, worked out once where several ask it of one series.
series_median = once_a_series(median)


def middle(values: NDArray[Any]) -> float:
    """Median of all the values; NaN where one of them is, or there is none.

    That of NumPy number for number, which takes several times as long and loads its masked arrays.
    """
    if not values.size or np.isnan(values).any():
        return float("nan")
    return _middle_of_finite(values)


def _middle_of_finite(values: NDArray[Any]) -> float:
    """Median of some values, no NaN; a zero comes out without a sign, whichever of the zeros was found."""
    return _middle_in_place(values.copy())


def _middle_in_place(parted: NDArray[Any]) -> float:
    """The same, of an array that nobody else has.

    Two places are sought also where one is wanted: for one place NumPy takes the processor's wide registers, and on
    readings in an instrument's steps, many of them equal, that takes up to a hundred times as long.
    """
    half = parted.size // 2
    parted.partition((half - 1, half))
    if parted.size % 2:
        return float(parted[half]) + 0.0
    return float(0.5 * (parted[half - 1] + parted[half])) + 0.0


def finite_of(values: Floats) -> Floats:
    """The finite values, perhaps the series itself."""
    finite = np.isfinite(values)
    return values if finite.all() else values[finite]


def middle_of_rows(values: Floats) -> Floats:
    """Median along the last axis; no NaN."""
    half = values.shape[-1] // 2
    parted = np.partition(values, (half - 1, half), axis=-1)
    if values.shape[-1] % 2:
        return np.asarray(parted[..., half])
    return np.asarray(0.5 * (parted[..., half - 1] + parted[..., half]))


def median_of_rows(values: Floats) -> Floats:
    """Median of the values of each row that are no NaN, of which each has some."""
    in_order = np.sort(values, axis=1)  # NaN last
    there, rows = np.count_nonzero(~np.isnan(values), axis=1), np.arange(len(values))
    return np.asarray(0.5 * (in_order[rows, (there - 1) // 2] + in_order[rows, there // 2]))


def percentile(values: NDArray[Any], percent: float) -> float:
    """Percentile of some readings, between two by their distance; NaN where one of them is, or there is none."""
    return float(percentiles(values, (percent,))[0])


def percentiles(values: NDArray[Any], percents: Sequence[float]) -> Floats:
    """Percentiles of some readings, between two by their distance; NaN where one of them is, or there is none.

    Those of NumPy number for number, which takes many times as long on a few hundred readings and loads its masked
    arrays.
    """
    last = values.size - 1
    if last < 0:
        return np.full(len(percents), np.nan)
    places = [last * (percent / 100.0) for percent in percents]
    below = [int(place) for place in places]
    above = [min(place + 1, last) for place in below]
    parted = values.copy()
    parted.partition((*below, *above, last))
    if np.isnan(parted[last]):  # where any is
        return np.full(len(percents), np.nan)
    lows, highs = parted[below].tolist(), parted[above].tolist()
    return np.array([_between(*one) for one in zip(lows, highs, places, strict=True)])


def _between(low: float, high: float, place: float) -> float:
    """The value at a place between two readings, reckoned from the nearer of the two."""
    share = place - int(place)
    return low + (high - low) * share if share < 0.5 else high - (high - low) * (1.0 - share)


def robust_sigma(values: Floats) -> float:
    """Robust standard deviation of the finite values (from their median absolute deviation)."""
    finite = finite_of(values)
    if not finite.size:
        return float("nan")
    away = finite - _middle_of_finite(finite)
    return MAD_TO_SIGMA * _middle_in_place(np.abs(away, out=away))


def middle_range(values: Floats, percent: float) -> float:
    """Width of the range that holds the middle ``percent`` % of the readings; no NaN."""
    outside = 0.5 * (100.0 - percent)
    return percentile(values, 100.0 - outside) - percentile(values, outside)


@once_a_series
def step_noise(values: Floats) -> float:
    """Standard deviation of the noise from one sample to the next, blind to slow movement; 0 for one reading."""
    finite = finite_of(values)
    steps = finite[1:] - finite[:-1]
    return float(robust_sigma(steps) / np.sqrt(2.0)) if steps.size else 0.0


@once_a_series
def resolution(values: Floats) -> float:
    """Smallest step between different readings, 0 when nothing moves.

    Read from the differences of the distinct values; the tenth percentile, so that one odd value (a
    converted reading, an average) does not pass for the instrument's step.
    """
    in_order = np.rint(finite_of(values) * 1e4)
    if np.abs(in_order).max(initial=0.0) < 2.0**31:
        in_order = in_order.astype(np.int32)  # brought in order in half the time
    in_order.sort()
    in_order = in_order / 1e4
    steps = in_order[1:] - in_order[:-1]
    steps = steps[steps > 1e-4]
    return percentile(steps, 10.0) if steps.size else 0.0


@once_a_series
def running_median(values: Floats, width: int) -> Floats:
    """Running median over ``width`` rows (made odd); NaN are bridged from the last reading before them."""
    return shared(running.running_median(hold(values), max(1, width) | 1))


def running_upper_median(values: Floats, width: int) -> Floats:
    """Running median over just ``width`` rows, of an even number the upper of the two in the middle; no NaN."""
    return running.running_median(values, width)


def mostly(mask: Mask, width: int) -> Mask:
    """Rows about which most of ``width`` rows (made odd) are True, the ends held.

    Where a running median is only compared with one level, this is that comparison: ``mostly(hold(values) < level)``
    equals ``running_median(values) < level``, for a fraction of the time.
    """
    if not mask.any():
        return np.zeros(mask.size, dtype=np.bool_)
    reach = max(1, width) // 2
    return np.asarray(_counts_about(mask, reach) > reach)


@once_a_series
def highest_lasting(values: Floats, width: int) -> float:
    """Highest that a running median over ``width`` rows (made odd) comes to; NaN are bridged as above.

    NaN where no value is finite, as that running median is; of no rows at all there is none, and who may have none asks
    first.

    The stretch of as many rows with the highest mean is tried first, and then, as long as there is one, a window of
    which most lies above that one's median.
    """
    held, reach = hold(values), max(1, width) // 2
    width = 2 * reach + 1
    stretches = held[: held.size // width * width].reshape(-1, width)
    row = reach + width * int(stretches.mean(axis=1).argmax()) if stretches.size else 0
    while True:
        level = _middle_of_finite(held[np.arange(row - reach, row + reach + 1).clip(0, held.size - 1)])
        above = _counts_about(held > level, reach)
        row = int(above.argmax())
        if above[row] <= reach:
            return level


def _counts_about(mask: Mask, reach: int) -> NDArray[np.int64]:
    """How many rows within ``reach`` of each row are True, the ends held."""
    first = reach + 1  # before which stands what holds the beginning, and before all of it no row
    held = np.empty(mask.size + 2 * reach + 1, dtype=np.bool_)
    held[0], held[1:first], held[first + mask.size :] = False, mask[0], mask[-1]
    held[first : first + mask.size] = mask
    counts = held.cumsum(dtype=np.int64)
    return np.asarray(counts[2 * reach + 1 :] - counts[: mask.size])


def running_percentile(values: Floats, width: int, percent: float) -> Floats:
    """Running percentile over ``width`` rows (an odd number), the ends mirrored; NaN are bridged as above."""
    return running.running_percentile(hold(values), width, percent)


def running_mean(values: Floats, width: int) -> Floats:
    """Running mean over ``width`` rows, centred, the ends held; no NaN."""
    return running.running_mean(values, max(1, width))


def shared(values: Array) -> Array:
    """An array that several have at hand and nobody may write to, so that what is worked out of it is kept."""
    values.flags.writeable = False
    return values


def hold(values: Floats) -> Floats:
    """Fill NaN with the last reading before them (the first reading, at the start)."""
    finite = np.isfinite(values)
    if finite.all() or not finite.any():
        return values
    last = np.maximum.accumulate(np.where(finite, np.arange(values.size), -1))
    last[last < 0] = int(np.argmax(finite))
    return values[last]


def blocks(time: Floats, block_s: float) -> list[slice]:
    """Rows of each stretch of ``block_s`` seconds, counted from the first row; none of a stretch without rows."""
    block = np.floor((time - time[0]) / block_s)
    edges = [*np.flatnonzero(np.diff(block, prepend=-1.0)).tolist(), time.size]
    return [slice(first, end) for first, end in pairwise(edges)]


@once_a_series
def usual_step(time: Floats) -> float:
    """Typical time from row to row, of two or more."""
    return middle(time[1:] - time[:-1])


def row_seconds(time: Floats, usual_s: float, longest_s: float) -> Floats:
    """Seconds that each row stands for: to the next row, at most ``longest_s``, however long a gap is.

    The last row stands for as long as a row usually does; a row by itself for none.
    """
    if time.size < 2:
        return np.zeros(time.size)
    step = np.diff(time, append=time[-1] + usual_s)
    return np.minimum(step, longest_s, out=step)


def autocorrelation_length(residuals: Floats) -> float:
    """How many rows count as one independent reading, at least 1.

    The integrated autocorrelation, 1 + 2 sum r_k, summed until r_k first falls below 0.05 (the initial
    positive sequence of spectral estimation; see any text on the variance of a correlated mean).
    """
    x = residuals[np.isfinite(residuals)]
    if x.size < 8:
        return 1.0
    x = x - x.mean()
    spread = float(np.dot(x, x))
    if spread <= 0.0:
        return 1.0
    total = 0.0
    for lag in range(1, min(_LAGS_BY_HAND, x.size // 2)):  # most noise is forgotten so soon
        r = float(np.dot(x[lag:], x[:-lag])) / spread
        if r < _FORGOTTEN:
            return max(1.0, 1.0 + 2.0 * total)
        total += r
    size = 1 << int(np.ceil(np.log2(x.size + x.size // 2)))  # the lags asked for meet no copy of the series
    power = np.abs(np.fft.rfft(x, size)) ** 2
    lags = np.fft.irfft(power)[: x.size // 2] / spread
    below = np.flatnonzero(lags < _FORGOTTEN)
    last = int(below[0]) if below.size else lags.size
    return max(1.0, 1.0 + 2.0 * float(lags[1:last].sum()))


def median_interval(values: Floats, floor: float) -> tuple[float, float, float]:
    """Typical value of a flight's correlated readings and its 95 % interval.

    Parameters
    ----------
    values : readings, no NaN
    floor : what the instrument adds, one standard deviation in the readings' unit (half a step of its
        resolution spread evenly is resolution / sqrt(12))

    Returns
    -------
    (median, low, high) in the readings' unit. The standard error of a median is 1.2533 sigma / sqrt(n)
    for a normal parent; n is the number of independent readings. A slow movement through the flight is
    what the median sums up, not an error of it, so sigma and n are those of the readings about it.
    """
    centre = series_median(values)
    noise = _about_movement(values)
    error = float(np.hypot(1.2533 * noise.std() / np.sqrt(independent_readings(values)), floor))
    return centre, centre - Z95 * error, centre + Z95 * error


@once_a_series
def independent_readings(values: Floats) -> float:
    """How many of a flight's correlated readings are independent, at least 4; no NaN."""
    return max(4.0, values.size / autocorrelation_length(_about_movement(values)))


def _about_movement(values: Floats) -> Floats:
    """What slow movement through the flight leaves of the readings."""
    return values - running_median(values, max(3, values.size // 8))
