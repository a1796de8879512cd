"""Running medians, percentiles and means of evenly sampled series; no NaN among them.

They equal those of ``scipy.ndimage`` number for number, but for a series shorter than half its window, whose ends that
package repeats wrongly. Of that package only the compiled filter is loaded: the package
takes longer to load than a log takes to review.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Sequence
from functools import cache
from importlib.machinery import PathFinder
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: How the compiled filter goes on beyond the ends: with the end's own reading, or mirrored about it.
NEAREST, REFLECT = 0, 2
#: Rows of a long series that are worked on at a time.
TOGETHER = 100_000


def running_median(values: Floats, width: int) -> Floats:
    """Running median over ``width`` rows, the ends held; of an even number the upper of the two in the middle."""
    if width == 1 or not values.size:
        return values.copy()
    if width in _NARROW:
        return _narrow_median(values, width)
    return _ranked(values, width, width // 2, NEAREST)


def running_percentile(values: Floats, width: int, percent: float) -> Floats:
    """Running percentile over ``width`` rows, the next lower reading; the ends mirrored. ``percent`` below 100."""
    return _ranked(values, width, int(width * percent / 100.0), REFLECT) if values.size else values.copy()


def running_mean(values: Floats, width: int) -> Floats:
    """Running mean over ``width`` rows, the ends held."""
    if not values.size:
        return values.copy()
    before = width // 2
    held = _with_ends_held(values, before, width - 1 - before)
    first = np.cumsum(held[:width])[-1:]
    return np.asarray(np.cumsum(np.concatenate((first, held[width:] - held[: values.size - 1]))) / width)


def _narrow_median(values: Floats, width: int) -> Floats:
    """Running median over 3, 5 or 9 rows, some rows at a time: its steps take several times the room of the result."""
    median = np.empty(values.size)
    for first in range(0, values.size, TOGETHER):
        end = min(first + TOGETHER, values.size)
        median[first:end] = _NARROW[width](_beside(values, first, end, width // 2))
    return median


def _beside(values: Floats, first: int, end: int, reach: int) -> Floats:
    """Some rows and those within reach of them, the series' ends held."""
    before, after = max(0, reach - first), max(0, end + reach - values.size)
    return _with_ends_held(values[first - reach + before : end + reach - after], before, after)


def _medians_of_3(rows: Floats) -> Floats:
    return _median_of_3(*_shifted(rows, range(3)))


def _medians_of_5(rows: Floats) -> Floats:
    a, b, c, d, e = _shifted(rows, range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return _median_of_3(low, high, e)


def _medians_of_9(rows: Floats) -> Floats:
    """Every three rows are brought in order once.

    The median of nine is that of the highest of the lows, the middle one of the middles and the lowest of the highs of
    their three threes.
    """
    a, b, c = _shifted(rows, range(3))
    lower, upper = np.minimum(a, b), np.maximum(a, b)
    lows = _shifted(np.minimum(lower, c), (0, 3, 6))
    middles = _shifted(np.maximum(lower, np.minimum(upper, c)), (0, 3, 6))
    highs = _shifted(np.maximum(upper, c), (0, 3, 6))
    low = np.maximum(np.maximum(lows[0], lows[1]), lows[2])
    high = np.minimum(np.minimum(highs[0], highs[1]), highs[2])
    return _median_of_3(low, _median_of_3(*middles), high)


_NARROW = {3: _medians_of_3, 5: _medians_of_5, 9: _medians_of_9}


def _shifted(rows: Floats, places: Sequence[int]) -> list[Floats]:
    """The readings at some places of every window, one array a place."""
    windows = rows.size - places[-1]
    return [rows[place : place + windows] for place in places]


def _with_ends_held(values: Floats, before: int, after: int) -> Floats:
    return np.concatenate((np.full(before, values[0]), values, np.full(after, values[-1])))


def _median_of_3(a: Floats, b: Floats, c: Floats) -> Floats:
    lower, upper = np.minimum(a, b), np.maximum(a, b)
    np.minimum(upper, c, out=upper)
    return np.asarray(np.maximum(lower, upper, out=upper))


def _ranked(values: Floats, width: int, rank: int, beyond: int) -> Floats:
    """The reading of a rank in each window, 0 that of the lowest."""
    compiled = _compiled()
    if compiled is None or not 0 < rank < width - 1:  # which the compiled filter does not take
        from scipy.ndimage import rank_filter

        modes = {NEAREST: "nearest", REFLECT: "reflect"}
        return np.asarray(rank_filter(values, rank, size=width, mode=modes[beyond]), dtype=np.float64)
    reach = width // 2
    if values.size < reach:  # the compiled filter goes on beyond the ends by no more than there is
        longer = np.pad(values, reach, mode="edge" if beyond == NEAREST else "symmetric")
        return _ranked(longer, width, rank, beyond)[reach : reach + values.size]
    ranked = np.empty(values.size)
    compiled(np.ascontiguousarray(values, dtype=np.float64), rank, width, ranked, beyond, 0.0, 0)
    return ranked


@cache
def _compiled() -> Callable[..., Any] | None:
    """SciPy's compiled filter without its package, None where this SciPy keeps it elsewhere."""
    scipy = importlib.util.find_spec("scipy")
    folders = scipy.submodule_search_locations if scipy is not None else None
    spec = PathFinder.find_spec("_rank_filter_1d", [str(Path(folder) / "ndimage") for folder in folders or ()])
    if spec is None or spec.loader is None:
        return None
    module = importlib.util.module_from_spec(spec)
    try:
        spec.loader.exec_module(module)
    except ImportError:
        return None
    found: Callable[..., Any] | None = getattr(module, "rank_filter", None)
    return found
