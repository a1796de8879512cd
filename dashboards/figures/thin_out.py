"""Fewer points of a long trace, its extremes and gaps kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.series import Floats


def kept_rows(values: Floats, most: int) -> NDArray[np.int64]:
    """Rows of which the lowest and highest of each of ``most // 4`` equal bins are kept, and its ends.

    Parameters
    ----------
    values : readings; NaN is a missing one
    most : about how many rows may remain, at least 8

    Returns
    -------
    Rows in order. A bin with a missing reading keeps one, so that the gap still shows as a gap.
    """
    size = values.size
    if size <= most:
        return np.arange(size)
    edges = np.linspace(0, size, max(2, most // 4) + 1).astype(np.int64)[:-1]
    missing = ~np.isfinite(values)
    low = _place_of(np.where(missing, np.inf, values), edges, np.minimum)
    high = _place_of(np.where(missing, -np.inf, values), edges, np.maximum)
    gaps = edges[np.logical_or.reduceat(missing, edges)]
    gap_rows = [int(edge + np.argmax(missing[edge:])) for edge in gaps]
    ends = np.append(edges[1:] - 1, size - 1)
    return np.unique(np.concatenate([edges, ends, low, high, np.asarray(gap_rows, dtype=np.int64)]))


def _place_of(values: Floats, edges: NDArray[np.int64], extreme: np.ufunc) -> NDArray[np.int64]:
    """First row in each bin at which the bin's extreme stands."""
    best = np.repeat(extreme.reduceat(values, edges), np.diff(np.append(edges, values.size)))
    rows = np.where(values == best, np.arange(values.size), values.size)
    return np.asarray(np.minimum.reduceat(rows, edges), dtype=np.int64)
