"""The linear models behind a trend: right against an independent library, and blind to the future."""

from __future__ import annotations

import numpy as np
import pytest
import ruptures
from scipy import stats
from sklearn.linear_model import HuberRegressor

from analyzer.limits import limit_value
from analyzer.trends.followed_tail import student_95
from analyzer.trends.regression import design_of, huber, prefixes, robust_line, scatter_of, without_slope
from analyzer.trends.shapes import best_bend, best_step, sure_step
from analyzer.trends.tracked_series import BY_MEASURE, Series


def series(values, hours=None, air=None, sd=0.03, measure="regulated_voltage", half=0.02, moved=0.07):
    """A series of one measure with its air temperature as the only thing that moves it."""
    values = np.asarray(values, dtype=float)
    n = values.size
    air = np.zeros(n) if air is None else np.asarray(air, dtype=float)
    return Series(
        kind=BY_MEASURE[measure], flight=np.arange(n), hours=np.arange(n) * 1.1 if hours is None else np.asarray(hours),
        value=values, variance=np.full(n, sd**2), half=np.full(n, half), covariates=air[:, None],
        prior_mean=np.array([-0.005]), prior_sd=np.array([0.006]), of_the_air=np.array([True]),
        innocent_move=np.full(n, moved),
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_the_robust_fit_is_that_of_an_independent_library(seed):
    rng = np.random.default_rng(seed)
    rows = np.column_stack([np.ones(60), rng.normal(0, 1, 60), rng.normal(0, 1, 60)])
    wanted = rows @ [14.0, 0.4, -0.2] + rng.normal(0, 0.1, 60)
    wanted[rng.integers(0, 60, 6)] += rng.normal(0, 3.0, 6)
    other = HuberRegressor(epsilon=1.35, alpha=0.0, fit_intercept=False, tol=1e-10, max_iter=10_000).fit(rows, wanted)
    coefficients, scale = huber(rows, wanted, 1.35)
    assert coefficients == pytest.approx(other.coef_, abs=1e-4)
    assert scale == pytest.approx(other.scale_, rel=1e-3)


def test_every_prefix_is_fitted_as_if_the_rest_did_not_exist():
    rng = np.random.default_rng(7)
    whole = series(14.0 + rng.normal(0, 0.03, 40), air=rng.normal(0, 8, 40))
    full = prefixes(whole)
    for count in (9, 17, 33):
        part = prefixes(whole.upto(count))
        # The wide prior of the level is centred on the usual variance, which is the same throughout here.
        assert part.coefficients[:, -1] == pytest.approx(full.coefficients[:, count], abs=1e-9)
        assert part.scale[-1] == pytest.approx(full.scale[count])


def test_the_fits_without_a_slope_are_those_of_the_flights_alone():
    rng = np.random.default_rng(8)
    hours = np.cumsum(rng.uniform(0.5, 30.0, 400))
    whole = series(14.0 + rng.uniform(-0.03, 0.03, 400), hours, air=rng.normal(0, 4, 400))
    fit = without_slope(prefixes(whole), whole)
    assert fit.value == pytest.approx(whole.value, abs=1e-12)  # none lies so far off that it is drawn in
    design, mean, sd = design_of(whole, with_slope=False)
    for count in (0, 1, 2, 9, 33, 400):
        rows = np.vstack([design[:count] / np.sqrt(whole.variance[:count, None]), np.diag(1.0 / sd)])
        assert fit.covariance[:, :, count] == pytest.approx(np.linalg.inv(rows.T @ rows), rel=1e-9, abs=1e-18)
        wanted = np.concatenate([whole.value[:count] / np.sqrt(whole.variance[:count]), mean / sd])
        found = np.linalg.lstsq(rows, wanted, rcond=None)[0]
        assert fit.coefficients[:, count] == pytest.approx(found, rel=1e-9, abs=1e-12)


def test_a_slope_put_in_comes_out_beside_a_season():
    rng = np.random.default_rng(11)
    hours = np.arange(60) * 1.1
    air = 10.0 * np.cos(hours / 12.0) + rng.normal(0, 4, 60)
    for rate in (-0.008, 0.0, 0.006):
        line = robust_line(series(14.0 + rate * hours - 0.012 * air + rng.normal(0, 0.02, 60), hours, air))
        assert line.slope == pytest.approx(rate, abs=3 * line.slope_sd)
        assert line.slope_sd < 0.0008
        assert line.effects[0] == pytest.approx(-0.012, abs=0.0015)


def test_the_interval_of_a_slope_covers_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(5)
    inside = 0
    for _ in range(300):
        air = rng.normal(0, 8, 40)
        line = robust_line(series(14.0 - 0.004 * air + rng.normal(0, 0.03, 40), air=air))
        inside += abs(line.slope) < 1.96 * line.slope_sd
    assert 0.92 <= inside / 300 <= 0.99  # 95 % of 300 draws, and the widening for correlation that luck makes


def test_outliers_leave_the_slope_alone():
    rng = np.random.default_rng(2)
    values = 14.0 + rng.normal(0, 0.02, 50)
    clean = robust_line(series(values)).slope
    values[[10, 30, 45]] += 1.5
    assert robust_line(series(values)).slope == pytest.approx(clean, abs=0.0008)


@pytest.mark.parametrize("at", [6, 20, 33])
def test_a_step_is_found_where_an_independent_library_finds_it(at):
    rng = np.random.default_rng(at)
    values = 14.0 + 0.3 * (np.arange(40) >= at) + rng.normal(0, 0.03, 40)
    step = best_step(series(values))
    assert step.at == at == ruptures.Dynp(model="l2", min_size=3, jump=1).fit(values).predict(n_bkps=1)[0]
    assert step.size == pytest.approx(0.3, abs=0.04)
    assert sure_step(series(values), 4.0) == step


@pytest.mark.parametrize(("half", "sure"), [(0.1, True), (0.2, False)])
def test_a_step_of_a_coarse_meter_counts_from_twice_a_reading_s_own_half_width(half, sure):
    values = 14.0 + 0.3 * (np.arange(40) >= 20) + np.random.default_rng(3).normal(0, 0.03, 40)
    assert (sure_step(series(values, half=half), 4.0) is not None) == sure


def test_a_bend_is_no_step_and_is_found_near_where_it_begins():
    rng = np.random.default_rng(9)
    hours = np.arange(50) * 1.1
    values = 14.0 + 0.012 * np.maximum(hours - 22.0, 0.0) + rng.normal(0, 0.02, 50)
    bend = best_bend(series(values, hours))
    assert hours[bend.at] == pytest.approx(22.0, abs=6.0)
    assert 100 * bend.slope == pytest.approx(1.2, abs=0.25)
    assert sure_step(series(values, hours), 4.0) is None


@pytest.mark.parametrize("free", [1, 2, 5, 10, 11, 12, 15, 20, 40, 200])
def test_student_s_points_are_those_of_an_independent_library(free):
    assert student_95(free) == pytest.approx(stats.t.ppf(0.975, free), abs=0.01)


@pytest.mark.parametrize(
    ("unit", "settled", "scale", "lag"),
    [
        # their spread is believed for so many flights; squares of 12 ones and two settled terms: (b + 12) / (b + 10)
        ([1.0, -1.0] * 6, 2, lambda b: (b + 12.0) / (b + 10.0), lambda b: 0.0),
        ([2.0] * 12, 0, lambda b: (b + 48.0) / (b + 12.0), lambda b: 11.0 * 4.0 / (b * (b + 48.0) / (b + 12.0) + 48.0)),
        ([1.0] * 11 + [90.0], 0, lambda b: (b + 11.0 + 9.0) / (b + 12.0), None),  # no further off than 3
    ],
)  # fmt: skip
def test_residuals_scatter_is_drawn_towards_what_is_said_of_them(unit, settled, scale, lag):
    belief = limit_value("trend_scatter_belief")
    assert limit_value("trend_outlier") == 3.0
    found = scatter_of(np.array(unit), settled)
    assert found[0] == pytest.approx(np.sqrt(scale(belief)))
    if lag is not None:
        assert found[1] == pytest.approx(min(lag(belief), limit_value("trend_correlation_most")))
    told = scatter_of(np.array(unit), settled, belief=4.0)
    assert told[0] == pytest.approx(np.sqrt(scale(4.0)))


@pytest.mark.parametrize("off", [-6.0, 6.0])
def test_a_point_far_off_is_learned_from_as_if_it_stood_three_deviations_off(off):
    # Nine points at 14 V, each known to 0.03 V: the next is foretold to 0.03 sqrt(1 + 1 / 9) = 0.031623 V. Level and
    # two effects settle on the first three, so that six count: no scatter but what ten flights are believed for,
    # sqrt(10 / 16). Three such deviations are 0.075 V.
    whole = series([14.0] * 9 + [14.0 + off])
    fit = without_slope(prefixes(whole), whole)
    assert fit.scale[9] == pytest.approx(np.sqrt(10.0 / 16.0))
    assert fit.innovation[9] == pytest.approx(off / 0.031623, rel=1e-4)
    assert fit.value[9] == pytest.approx(14.0 + np.sign(off) * 0.075, abs=1e-4)
