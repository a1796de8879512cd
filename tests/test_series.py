"""The numerical tools, against values that can be worked out by hand or by an independent library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from analyzer import series

NAN = float("nan")


@given(arrays(np.bool_, st.integers(0, 40)))
def test_runs_give_back_the_mask_that_they_came_from(mask: np.ndarray) -> None:
    rebuilt = np.zeros(mask.size, dtype=bool)
    for first, end in series.runs(mask):
        assert first < end
        rebuilt[first:end] = True
    assert (rebuilt == mask).all()


def test_short_gaps_are_filled_and_short_runs_dropped_by_time() -> None:
    time = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 20.0, 21.0])
    mask = np.array([True, False, True, True, False, True, True])
    assert series.fill_short_gaps(mask, time, 3.0).tolist() == [True, True, True, True, False, True, True]
    assert series.drop_short_runs(mask, time, 1.5).tolist() == [False, False, True, True, False, False, False]


def test_holding_bridges_missing_readings_from_before_and_the_start_from_after() -> None:
    assert series.hold(np.array([NAN, 1.0, NAN, 3.0, NAN])).tolist() == [1.0, 1.0, 1.0, 3.0, 3.0]
    assert np.isnan(series.hold(np.array([NAN, NAN]))).all()


def test_robust_sigma_is_that_of_the_normal_distribution_and_blind_to_outliers() -> None:
    values = np.random.default_rng(1).normal(5.0, 2.0, 20001)
    assert series.robust_sigma(values) == pytest.approx(2.0, rel=0.03)
    values[:200] = 1e6
    assert series.robust_sigma(values) == pytest.approx(2.0, rel=0.05)


def test_noise_from_sample_to_sample_does_not_see_a_slow_movement() -> None:
    values = np.random.default_rng(2).normal(0.0, 0.1, 5000) + np.linspace(0.0, 50.0, 5000)
    assert series.step_noise(values) == pytest.approx(0.1, rel=0.1)


@pytest.mark.parametrize("step", [0.01, 0.05, 0.1, 0.2, 1.0])
def test_an_instruments_step_is_found_from_its_readings(step: float) -> None:
    values = np.round(np.random.default_rng(3).normal(14.0, 5.0 * step, 3000) / step) * step
    assert series.resolution(values) == pytest.approx(step, rel=1e-6)


def test_a_frozen_channel_has_no_step() -> None:
    assert series.resolution(np.full(10, 13.8)) == 0.0


def test_an_instruments_step_is_found_from_readings_of_any_size() -> None:
    assert series.resolution(np.array([0.0, 150_000.0, 300_000.0, 450_000.0])) == 150_000.0


def test_a_running_median_is_the_median_of_the_window() -> None:
    values = np.random.default_rng(4).normal(size=200)
    got = series.running_median(values, 9)
    assert got[100] == np.median(values[96:105])


def test_blocks_are_counted_from_the_first_row_and_none_is_empty() -> None:
    time = np.array([7.0, 8.0, 11.9, 12.0, 40.0, 41.0])  # blocks of 5 s from 7 s on: to 12 s, and 37 s to 42 s
    assert series.blocks(time, 5.0) == [slice(0, 3), slice(3, 4), slice(4, 6)]


def test_a_gap_stands_for_no_time() -> None:
    time = np.array([0.0, 1.0, 2.0, 500.0, 501.0])
    assert series.row_seconds(time, 1.0, 10.0).tolist() == [1.0, 1.0, 10.0, 1.0, 1.0]
    assert series.row_seconds(time, 3.0, 10.0)[-1] == 3.0


@pytest.mark.parametrize("phi", [0.0, 0.5, 0.8])
def test_correlated_readings_count_for_fewer(phi: float) -> None:
    # An autoregressive series of first order has the integrated autocorrelation (1 + phi) / (1 - phi): a textbook
    # result for the variance of its mean.
    generator = np.random.default_rng(5)
    noise = generator.normal(size=60000)
    values = np.empty_like(noise)
    values[0] = noise[0]
    for row in range(1, noise.size):
        values[row] = phi * values[row - 1] + noise[row]
    assert series.autocorrelation_length(values) == pytest.approx((1.0 + phi) / (1.0 - phi), rel=0.15)


def test_the_interval_of_a_median_covers_it_as_often_as_it_says() -> None:
    generator = np.random.default_rng(6)
    inside = 0
    for _ in range(400):
        _, low, high = series.median_interval(generator.normal(14.0, 0.05, 400), 0.0)
        inside += low <= 14.0 <= high
    assert inside >= 0.92 * 400


def test_the_interval_of_a_median_is_no_wider_for_a_slow_drift() -> None:
    noise = np.random.default_rng(7).normal(0.0, 0.02, 2000)
    still = series.median_interval(14.0 + noise, 0.005)
    drifting = series.median_interval(14.0 + noise + np.linspace(-0.3, 0.3, 2000), 0.005)
    assert drifting[2] - drifting[1] < 2.0 * (still[2] - still[1])


@settings(deadline=None)
@given(st.integers(1, 60), st.integers(0, 70).map(lambda half: 2 * half + 1), st.integers(0, 2), st.integers(0, 99))
def test_running_medians_and_percentiles_are_those_of_each_window_sorted(
    rows: int, width: int, decimals: int, percent: int
) -> None:
    values = np.round(np.random.default_rng(rows).normal(0.0, 3.0, rows), decimals)
    for mode, rank, got in (
        ("edge", width // 2, series.running_median(values, width)),
        ("symmetric", int(width * percent / 100.0), series.running_percentile(values, width, float(percent))),
    ):
        windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, width // 2, mode=mode), width)
        assert (got == np.sort(windows, axis=1)[:, rank]).all()


@settings(deadline=None)
@given(st.integers(1, 300), st.integers(1, 300))
def test_running_filters_equal_those_of_scipy_to_the_last_digit(rows: int, width: int) -> None:
    ndimage = pytest.importorskip("scipy.ndimage")
    values = np.random.default_rng(width).normal(14.0, 1.0, rows)
    means = ndimage.uniform_filter1d(values, size=min(width, rows), mode="nearest")
    assert (series.running_mean(values, min(width, rows)) == means).all()
    medians = ndimage.median_filter(values, size=width | 1, mode="nearest")
    assert (series.running_median(values, width) == medians).all()


@given(arrays(np.float64, st.integers(1, 50), elements=st.floats(-1e3, 1e3)), st.floats(0.0, 100.0))
def test_percentiles_and_medians_equal_those_of_numpy_to_the_last_digit(values: np.ndarray, percent: float) -> None:
    several = (percent, 0.0, 97.5, 100.0, 2.5)
    assert series.percentile(values, percent) == np.percentile(values, percent)
    assert series.percentiles(values, several).tolist() == np.percentile(values, several).tolist()
    assert series.median(values) == series.middle(values) == np.median(values)
    assert series.middle_of_rows(np.stack([values, -values])).tolist() == [np.median(values), np.median(-values)]
    assert np.isnan(series.middle(np.append(values, NAN)))
    assert series.median_of_rows(np.stack([np.append(values, NAN), np.append(NAN, -values)])).tolist() == [
        *(np.median(values), np.median(-values))
    ]
    assert np.isnan(series.percentile(np.append(values, NAN), percent))
    assert np.isnan(series.percentiles(np.append(values, NAN), several)).all()


def test_what_is_asked_of_readings_again_is_worked_out_once_and_ends_with_them() -> None:
    asked = []

    @series.once_a_series
    def total(values: np.ndarray, times: int) -> float:
        asked.append(times)
        return float(values.sum()) * times

    values = np.ones(10)
    values.flags.writeable = False
    assert [total(values, 2), total(values, 2), total(values, times=3)] == [20.0, 20.0, 30.0]
    assert asked == [2, 3]
    values = np.full(10, 2.0)
    assert [total(values, 2), total(values, 2)] == [40.0, 40.0]
    values[:] = 1.0  # readings that may be written to are asked each time
    assert total(values, 2) == 20.0
    assert asked == [2, 3, 2, 2, 2]


def test_of_no_readings_nothing_comes() -> None:
    none = np.empty(0)
    assert [series.running_median(none, width).size for width in (1, 3, 5, 9)] == [0] * 4
    assert series.running_mean(none, 3).size == series.running_percentile(none, 9, 70.0).size == 0
    assert np.isnan(series.median(none))
    assert series.resolution(none) == series.step_noise(none) == 0.0


def test_a_running_median_that_others_ask_for_cannot_be_written_to() -> None:
    values = np.arange(9.0)
    values.flags.writeable = False
    smooth = series.running_median(values, 3)
    assert series.running_median(values, 3) is smooth
    with pytest.raises(ValueError, match="read-only"):
        smooth[0] = 1.0


@settings(deadline=None)
@given(st.integers(1, 400), st.integers(1, 90), st.integers(0, 99))
def test_the_highest_that_lasts_is_the_highest_running_median(rows: int, width: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = np.round(np.cumsum(rng.normal(0.0, 0.3, rows)) + rng.normal(0.0, 1.0, rows), 1)
    values[1:][rng.random(rows - 1) < 0.1] = np.nan
    assert series.highest_lasting(values, width) == series.running_median(values, width).max()


@pytest.mark.parametrize("width", [1, 3, 31])
@pytest.mark.parametrize("rows", [1, 5, 200])
def test_where_nothing_is_read_nothing_is_the_highest_that_lasts(rows: int, width: int) -> None:
    values = np.full(rows, np.nan)
    assert np.isnan(series.highest_lasting(values, width))
    values[rows // 2] = 13.8
    assert series.highest_lasting(values, width) == 13.8, "one reading stands for all rows without one"


@pytest.mark.parametrize("width", [1, 2, 3, 9, 40, 201])
@pytest.mark.parametrize("rows", [1, 4, 7, 150])
def test_rows_mostly_below_a_level_are_those_whose_running_median_is(rows: int, width: int) -> None:
    values = np.round(np.random.default_rng(rows).normal(13.0, 0.5, rows), 1)
    values[rows // 3 : rows // 2] = np.nan
    for level in (12.0, 12.9, 13.0, 20.0):
        below = series.running_median(values, width) < level
        assert (series.mostly(series.hold(values) < level, width) == below).all()


def test_readings_of_the_same_rows_are_picked_once_and_those_of_others_anew() -> None:
    values, rows = series.shared(np.arange(5.0)), series.shared(np.array([True, False, True, False, True]))
    picked = series.readings_in(values, rows)
    assert picked.tolist() == [0.0, 2.0, 4.0]
    assert series.readings_in(values, rows) is picked
    assert series.readings_in(values, series.shared(~rows)).tolist() == [1.0, 3.0]
    free = rows.copy()  # may be written to, so that nothing is remembered of it
    assert series.readings_in(values, free) is not picked
    free[:] = False
    assert not series.readings_in(values, free).size


def test_a_median_of_zeros_has_no_sign_and_one_of_a_missing_reading_is_missing() -> None:
    assert str(series.median(np.array([-0.0, -0.0, -0.0]))) == str(series.median(np.array([-0.0, -0.0]))) == "0.0"
    for values in ([1.0, np.nan, 3.0], [np.nan, 1.0], []):
        assert np.isnan(series.middle(np.array(values)))
        assert np.isnan(series.percentile(np.array(values), 50.0))


def test_rows_near_a_true_one_reach_as_far_to_either_side() -> None:
    mask = np.zeros(12, dtype=np.bool_)
    mask[[0, 7]] = True
    assert np.flatnonzero(series.near(mask, 2)).tolist() == [0, 1, 2, 5, 6, 7, 8, 9]
    assert not series.near(np.zeros(4, dtype=np.bool_), 9).any()
    assert series.near(mask, 50).all()


@pytest.mark.parametrize("rows", [5, 6, 31, 200])
def test_a_running_median_over_an_even_number_of_rows_is_that_of_scipy(rows: int) -> None:
    from scipy.ndimage import median_filter

    values = np.random.default_rng(rows).normal(size=rows)
    assert (series.running_upper_median(values, 10) == median_filter(values, 10, mode="nearest")).all()
