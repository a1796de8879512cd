"""The watch for shifts against the plain median of each stretch, a point and a length at a time."""

from __future__ import annotations

import numpy as np
import pytest
from made_series import made_series

from analyzer.limits import limit_value
from analyzer.trends.detection import MEDIAN_SPREAD, WINDOWS, _shift_watch
from analyzer.trends.regression import Prefixes, prefixes, without_slope
from analyzer.trends.tracked_series import Series


def plainly(series: Series, fit: Prefixes) -> list[int]:
    """The points up to which the latest few lie off what those before them promise."""
    spoken = set()
    for window in WINDOWS:
        for first in range(int(limit_value("trend_fewest_before")), series.n - window + 1):
            rows = slice(first, first + window)
            away = series.value[rows] - fit.coefficients[:, first] @ fit.design[:, rows]
            off = abs(float(np.median(away)))
            if window == 3:
                off = float(np.abs(away).min()) if len(set(np.sign(away))) == 1 else 0.0
            design = fit.design[:, rows].mean(axis=1)
            own = MEDIAN_SPREAD**2 / (1.0 / series.variance[rows]).sum()
            lag = fit.correlation[first]
            error = np.sqrt(own + design @ fit.covariance[:, :, first] @ design) * fit.scale[first]
            error *= np.sqrt((1.0 + lag) / (1.0 - lag))
            if off - limit_value("trend_sure_shift") * error > series.innocent_move[first + window - 1]:
                spoken.add(first + window - 1)
    return sorted(spoken)


@pytest.mark.parametrize("measure", ["regulated_voltage", "recharge_time_constant", "maintenance_current"])
def test_a_shift_is_seen_where_the_plain_median_shows_it(measure: str) -> None:
    seen = 0
    for number in range(12):  # steps from none to plain ones, so that some medians lie just within
        series = made_series(measure, [7, number], 60)
        series.value[30:] += 0.3 * number * series.innocent_move[0]
        fit = without_slope(prefixes(series), series)
        assert np.flatnonzero(_shift_watch(series, fit)).tolist() == plainly(series, fit)
        seen += len(plainly(series, fit))
    assert seen > 12
