"""Drifts that may have begun at any flight: sums against a plain fit, run lengths against published ones, delays."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from made_series import Drift, made_series

from analyzer.limits import limit_value
from analyzer.trends.onsets import _lengths, _watch, moved_for_sure
from analyzer.trends.regression import design_of, prefixes, without_slope
from analyzer.trends.tracked_series import BY_MEASURE
from tests.benchmarks.detection import (
    CUSUM_LENGTHS,
    EWMA_LENGTHS,
    cusum_path,
    ewma_path,
    first_raised,
    ours,
    run_length,
)


def plainly(series) -> int | None:
    """The first point at which any onset shows a sure move, each by a ridge fit of its own."""
    line = prefixes(series)
    design, mean, sd = design_of(series, with_slope=True)
    for last, onset in product(range(7, series.n), range(series.n)):
        if onset and last - onset < 3:
            continue
        own = design[: last + 1].copy()
        own[:, 1] = np.maximum(series.hours[: last + 1] - series.hours[onset], 0.0)
        noise = np.sqrt(series.variance[: last + 1])
        rows = np.vstack([own / noise[:, None], np.diag(1.0 / sd)])
        found = np.linalg.lstsq(rows, np.concatenate([line.value[: last + 1] / noise, mean / sd]), rcond=None)[0]
        error = np.sqrt(np.linalg.inv(rows.T @ rows)[1, 1]) * line.scale[last + 1]
        error *= np.sqrt((1.0 + line.correlation[last + 1]) / (1.0 - line.correlation[last + 1]))
        span = series.hours[last] - series.hours[onset]
        if (abs(found[1]) - limit_value("trend_sure") * error) * span > series.innocent_move[last]:
            return last
    return None


@pytest.mark.parametrize("measure", ["regulated_voltage", "recharge_time_constant", "maintenance_current"])
def test_the_sums_are_those_of_a_fit_for_every_onset(measure: str) -> None:
    series = made_series(measure, [4], 34, drift=Drift(12, 6.0))
    line = prefixes(series)
    at = np.flatnonzero(moved_for_sure(series, line, without_slope(line, series)))
    assert at.size
    assert int(at[0]) == plainly(series)


@pytest.mark.parametrize("measure", ["regulated_voltage", "recharge_time_constant", "maintenance_current"])
def test_no_move_is_ruled_out_that_would_be_sure_by_all_that_is_known(measure: str) -> None:
    seen = 0
    for number in range(12):  # drifts from none to plain ones, so that some moves lie just within
        series = made_series(measure, [5, number], 300, drift=Drift(90, 5.0 + 20.0 * number), wander=0.5)
        line = prefixes(series)
        flat = without_slope(line, series)
        watch = _watch(series, line, flat)
        expected = np.zeros(series.n, dtype=np.bool_)
        for last in range(int(limit_value("trend_fewest")) - 1, series.n):
            onset = np.array([0, *(last - length for length in _lengths(series.n) if length <= last)])
            at = np.full(onset.size, last)
            expected[last] = watch.sure(at, onset, np.sqrt(watch.information(at, onset))).any()
        assert np.array_equal(moved_for_sure(series, line, flat), expected)
        seen += expected.sum()
    assert 12 < seen < 6 * 300


@pytest.mark.parametrize(("interval", "shift", "published"), [one for one in CUSUM_LENGTHS if one[2] < 200.0])
def test_the_cusum_that_drifts_are_held_against_has_its_published_run_lengths(
    interval: float, shift: float, published: float
) -> None:
    assert run_length(lambda off: cusum_path(off, 0.5), interval, shift, 5, longest=2000) == pytest.approx(
        published, rel=0.06
    )


@pytest.mark.parametrize(("weight", "reach", "shift", "published"), [one for one in EWMA_LENGTHS if one[2] > 0.0])
def test_so_has_the_average_that_forgets(weight: float, reach: float, shift: float, published: float) -> None:
    assert run_length(lambda off: ewma_path(off, weight), reach, shift, 5) == pytest.approx(published, rel=0.06)


def test_both_give_the_handbooks_printed_series() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k = 0.3175, h = 4.1959; first signal at group 14.
    x = np.array([324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625,
                  325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350])  # fmt: skip
    printed = [0, 0.01, 0, 0.33, 0.03, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44,
               16.00, 19.04]  # fmt: skip
    path = cusum_path(x - 325.0, 0.3175)
    assert path == pytest.approx(printed, abs=0.0051)
    assert np.flatnonzero(path > 4.1959)[0] == 13
    # NIST/SEMATECH e-Handbook 6.3.2.4: EWMA0 = 50, s = 2.0539, lambda = 0.3, k = 3; no point is out.
    x = np.array([52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
                  52.6, 52.4, 53.6, 52.1])  # fmt: skip
    printed = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
               49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
    path = ewma_path((x - 50.0) / 2.0539, 0.3)
    assert path * 2.0539 * np.sqrt(0.3 / 1.7) == pytest.approx(np.abs(np.array(printed) - 50.0), abs=0.0051)
    assert path.max() < 3.0


def test_the_cusum_keeps_quiet_where_the_textbook_does() -> None:
    # Montgomery and Runger, Applied Statistics and Probability for Engineers, table 16-8: target 99, K = 1, H = 10.
    x = np.array([102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7,
                  100.3, 101.4, 97.2, 101.0])  # fmt: skip
    printed = [2, 3.2, 2.9, 2.5, 2, 0.5, 0, 0.3, 0, 0, 1.3, 0, 1.1, 0, 1, 2.3, 0.3, 1.7, 0.8, 1]
    assert cusum_path(x - 99.0, 1.0) == pytest.approx(printed, abs=1e-9)


def test_what_comes_and_goes_within_innocent_bounds_is_hardly_ever_raised() -> None:
    raised = [
        ours(made_series(measure, [8, number], 120, wander=0.7)).size > 0
        for measure, number in product(BY_MEASURE, range(12))
    ]
    assert sum(raised) <= 3, "0.05 a tail and 40 flights of all measures are 1.8 here, on the mean"


@pytest.mark.parametrize(("pace", "most"), [(7.0, 14.5), (15.0, 26.0), (30.0, 41.0)])
def test_a_drift_that_begins_late_is_raised_about_as_soon_as_it_can_be(pace: float, most: float) -> None:
    """One line through all flights takes 18, 29 and 44 flights on the mean."""
    late = [
        first_raised(ours(made_series("regulated_voltage", [6, n], 160, drift=Drift(40, pace))), 40) for n in range(16)
    ]
    assert np.mean(late) <= most
