"""The textbook statistics against published examples and independent libraries."""

from __future__ import annotations

import numpy as np
import pymannkendall
import pytest
import ruptures
from scipy import stats

from analyzer.trends.statistics import (
    chi_squared_above,
    chi_squared_at,
    mann_kendall,
    normal_below,
    pettitt,
    theil_sen,
)

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
    # S = -1387, variance 112728.33, z = -4.128, p = 3.66e-5; slope -2.6 a year.
    got = mann_kendall(nile)
    assert got.s == -1387
    assert got.variance == pytest.approx(112728.33, abs=0.005)
    assert got.z == pytest.approx(-4.128, abs=0.0005)
    assert got.p == pytest.approx(3.66e-5, rel=0.002)
    assert theil_sen(np.arange(nile.size, dtype=float), nile) == pytest.approx(-2.6, abs=0.005)


def test_theil_sen_gives_sens_own_example():
    x, y = np.array([1.0, 2, 3, 4, 10, 12, 18]), np.array([9.0, 15, 19, 20, 45, 55, 78])
    assert theil_sen(x, y) == pytest.approx(4.0)


def test_theil_sen_agrees_with_an_independent_library_where_values_or_places_are_tied():
    rng = np.random.default_rng(3)
    for n in (5, 12, 40):
        x, y = np.sort(rng.uniform(0, 50, n)), np.round(rng.normal(14.0, 0.1, n), 1)
        for places in (x, np.round(x / 10.0)):
            assert theil_sen(places, y) == pytest.approx(stats.theilslopes(y, places)[0])


def test_pettitt_finds_the_change_that_his_paper_finds():
    got = pettitt(PAGE)
    assert (got.before, got.k) == (17, 232)
    assert got.p == pytest.approx(0.01456, abs=5e-6)


def test_the_niles_single_shift_lies_after_1898_for_every_method(nile):
    # Cobb 1978 and others: the mean falls after observation 28, from 1097.75 to 849.97.
    assert pettitt(nile).before == 28
    assert ruptures.Dynp(model="l2", min_size=3, jump=1).fit(nile).predict(n_bkps=1)[0] == 28
    assert (nile[:28].mean(), nile[28:].mean()) == pytest.approx((1097.75, 849.97), abs=0.005)


def test_chances_are_those_of_an_independent_library():
    for k in range(1, 12):
        for x in np.geomspace(1e-3, 200.0, 25).tolist():
            assert chi_squared_above(k, x) == pytest.approx(stats.chi2.sf(x, k), rel=1e-12)
        for chance in (0.9, 0.5, 0.025, 0.001, 1e-9):
            assert chi_squared_at(k, chance) == pytest.approx(stats.chi2.isf(chance, k), rel=1e-12)
    z = np.linspace(-8.0, 8.0, 33).reshape(3, 11)
    assert normal_below(z) == pytest.approx(stats.norm.cdf(z), rel=1e-12)


def test_chi_squared_tables_are_met():
    # Abramowitz and Stegun, table 26.8 (from memory): 95 % and 99 % points.
    points = {(1, 0.05): 3.841, (2, 0.05): 5.991, (5, 0.01): 15.086, (10, 0.05): 18.307}
    assert {one: round(chi_squared_at(*one), 3) for one in points} == points
