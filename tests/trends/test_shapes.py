"""Shapes fitted many at once against one after the other, outliers drawn in by the fit before."""

from __future__ import annotations

import numpy as np
import pytest
from made_series import made_series

from analyzer.limits import limit_value
from analyzer.trends.shapes import Step, Window, steps_at
from analyzer.trends.tracked_series import Series


def plainly(series: Series, window: Window) -> Step:
    """A step by four rounds of ridge regression, each drawing in what lies off by the one before."""
    rows = slice(window.first, window.end)
    after = (np.arange(window.first, window.end) >= window.at).astype(float)
    noise, reach = np.sqrt(series.variance[rows]), limit_value("trend_outlier")
    design = np.column_stack([np.ones(after.size), after, series.covariates[rows]])
    wide = 1e3 * noise[0]
    prior = np.array([wide, wide, *series.prior_sd])
    mean = np.array([series.value[window.first], 0.0, *series.prior_mean])
    whole = np.vstack([design / noise[:, None], np.diag(1.0 / prior)])
    wanted = np.concatenate([series.value[rows] / noise, mean / prior])
    weight = np.ones(after.size)
    for _ in range(4):
        root = np.sqrt(np.concatenate([weight, np.ones(prior.size)]))
        found = np.linalg.lstsq(whole * root[:, None], wanted * root, rcond=None)[0]
        off = (wanted - whole @ found)[: after.size]
        inverse = np.linalg.inv((whole * root[:, None] ** 2).T @ whole)
        weight = np.minimum(1.0, reach / np.maximum(np.abs(off), 1e-9))
    misfit = float(np.minimum(off**2, reach**2).sum() + (((found - mean) / prior) ** 2).sum())
    belief, free = limit_value("trend_scatter_belief"), 2 + len(series.kind.effects)
    scale = np.sqrt((belief + misfit) / (belief + max(1, after.size - free)))
    return Step(window.at, float(found[1]), float(np.sqrt(inverse[1, 1]) * scale), misfit)


@pytest.mark.parametrize("measure", ["regulated_voltage", "recharge_time_constant", "maintenance_current"])
def test_the_steps_of_many_windows_are_those_of_each_by_itself(measure: str) -> None:
    series = made_series(measure, [9], 120)
    for place, off in ((20, 5.0), (21, -9.0), (70, 30.0), (95, -4.0)):  # some windows have outliers and some have none
        series.value[place] += off * np.sqrt(series.variance[place])
    windows = [Window(at - 12, min(at + 12, series.n), at) for at in range(12, 117, 3)]
    for window, step in zip(windows, steps_at(series, windows), strict=True):
        own = plainly(series, window)
        assert step.at == own.at
        expected = (own.size, own.size_sd, own.misfit)
        assert (step.size, step.size_sd, step.misfit) == pytest.approx(expected, rel=1e-6, abs=1e-9)
