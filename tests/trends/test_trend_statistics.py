"""The textbook statistics against published examples and independent libraries."""

from __future__ import annotations

import numpy as np
import pymannkendall
import pytest
import ruptures
from scipy import stats

from analyzer.trends.statistics import cusum, ewma, mann_kendall, pettitt, theil_sen

# Pettitt 1979, table 1 (data of Page 1955), as the package "trend" for R carries it.
PAGE = np.array(
    [-1.05, 0.96, 1.22, 0.58, -0.98, -0.03, -1.54, -0.71, -0.35, 0.66, 0.44, 0.91, -0.02, -1.42, 1.26, -1.02, -0.81,
     1.66, 1.05, 0.97, 2.14, 1.22, -0.24, 1.60, 0.72, -0.12, 0.44, 0.03, 0.66, 0.56, 1.37, 1.66, 0.10, 0.80, 1.29,
     0.49, -0.07, 1.18, 3.29, 1.84]
)  # fmt: skip


@pytest.fixture(scope="module")
def nile() -> np.ndarray:
    """Yearly flow of the Nile at Aswan 1871-1970, as statsmodels ships it."""
    from statsmodels.datasets import nile

    return nile.load_pandas().data["volume"].to_numpy(dtype=float)


def test_the_moving_average_gives_the_handbooks_series_and_limits():
    # NIST/SEMATECH e-Handbook 6.3.2.4: EWMA0 = 50, s = 2.0539, lambda = 0.3, k = 3.
    x = np.array([52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
                  52.6, 52.4, 53.6, 52.1])  # fmt: skip
    printed = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
               49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
    got = ewma(x, 50.0, 2.0539, 0.3)
    assert got.average == pytest.approx(printed, abs=0.0051)
    assert got.high == pytest.approx(52.5884, abs=1e-4)
    assert got.low == pytest.approx(47.4115, abs=1e-3)


def test_the_cumulative_sum_signals_at_the_handbooks_group():
    # NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k = 0.3175, h = 4.1959; first signal at group 14.
    x = np.array([324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625,
                  325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350])  # fmt: skip
    got = cusum(x, 325.0, 0.3175, 4.1959)
    high = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
    low = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    assert got.high == pytest.approx(high, abs=0.0051)
    assert got.low == pytest.approx(low, abs=0.0051)
    assert got.signals.tolist() == list(range(13, 20))


def test_the_cumulative_sum_keeps_quiet_where_the_textbook_does():
    # Montgomery and Runger, Applied Statistics and Probability for Engineers, table 16-8: target 99, K = 1, H = 10.
    x = np.array([102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7,
                  100.3, 101.4, 97.2, 101.0])  # fmt: skip
    got = cusum(x, 99.0, 1.0, 10.0)
    assert got.high == pytest.approx([2, 0, 0, 0, 2, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1], abs=1e-9)
    assert got.low == pytest.approx([0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1, 2.3, 0, 0, 0.8, 0], abs=1e-9)
    assert got.signals.size == 0


def test_mann_kendall_allows_for_ties_as_the_agencys_example_does():
    # EPA QA/G-9S, page 109: S = 22, variance 155.33, Z = 1.685, two-sided p = 0.0920.
    x = np.array([10.0, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15])
    got = mann_kendall(x)
    assert got.s == 22
    assert got.variance == pytest.approx(155.33, abs=0.005)
    assert got.z == pytest.approx(1.685, abs=0.0005)
    assert got.p == pytest.approx(0.0920, abs=0.0001)
    other = pymannkendall.original_test(x)
    assert (got.s, got.p) == (other.s, pytest.approx(other.p))


def test_mann_kendall_and_theil_sen_give_the_niles_published_figures(nile):
    # S = -1387, variance 112728.33, z = -4.128, p = 3.66e-5; slope -2.6 a year, 95 % interval -3.628 to -1.429.
    got = mann_kendall(nile)
    assert got.s == -1387
    assert got.variance == pytest.approx(112728.33, abs=0.005)
    assert got.z == pytest.approx(-4.128, abs=0.0005)
    assert got.p == pytest.approx(3.66e-5, rel=0.002)
    slope = theil_sen(np.arange(nile.size, dtype=float), nile)
    assert slope.slope == pytest.approx(-2.6, abs=0.005)
    assert (slope.low, slope.high) == (pytest.approx(-3.628, abs=0.0005), pytest.approx(-1.429, abs=0.0005))


def test_theil_sen_gives_sens_own_example():
    # Sen 1968: slope 4; 93 % interval 26/7 to 35/8 (the interval printed in the paper itself is in error).
    x, y = np.array([1.0, 2, 3, 4, 10, 12, 18]), np.array([9.0, 15, 19, 20, 45, 55, 78])
    got = theil_sen(x, y, reach=float(stats.norm.isf(0.035)))
    assert got.slope == pytest.approx(4.0)
    assert (got.low, got.high) == (pytest.approx(26 / 7), pytest.approx(35 / 8))


def test_theil_sen_agrees_with_an_independent_library_where_values_are_tied():
    rng = np.random.default_rng(3)
    for n in (5, 12, 40):
        x, y = np.sort(rng.uniform(0, 50, n)), np.round(rng.normal(14.0, 0.1, n), 1)
        other = stats.theilslopes(y, x, alpha=0.95)
        got = theil_sen(x, y, reach=float(stats.norm.isf(0.025)))
        assert (got.slope, got.low, got.high) == pytest.approx((other[0], other[2], other[3]))


def test_pettitt_finds_the_change_that_his_paper_finds():
    got = pettitt(PAGE)
    assert (got.before, got.k) == (17, 232)
    assert got.p == pytest.approx(0.01456, abs=5e-6)


def test_the_niles_single_shift_lies_after_1898_for_every_method(nile):
    # Cobb 1978 and others: the mean falls after observation 28, from 1097.75 to 849.97.
    assert pettitt(nile).before == 28
    assert ruptures.Dynp(model="l2", min_size=3, jump=1).fit(nile).predict(n_bkps=1)[0] == 28
    assert (nile[:28].mean(), nile[28:].mean()) == pytest.approx((1097.75, 849.97), abs=0.005)
