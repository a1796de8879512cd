"""The distance behind "unlike itself", against independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from sklearn.covariance import MinCovDet

from analyzer.trends.unlike import chi_squared, distances


@pytest.mark.parametrize("free", [2, 3, 5, 8])
@pytest.mark.parametrize("chance", [0.025, 0.001])
def test_chi_squared_points_are_those_of_an_independent_library(free, chance):
    assert chi_squared(chance, free) == pytest.approx(stats.chi2.isf(chance, free), rel=0.03)


def test_odd_flights_do_not_hide_each_other_as_an_independent_robust_covariance_has_it():
    # MinCovDet: the minimum covariance determinant (Rousseeuw 1984) of scikit-learn.
    rng = np.random.default_rng(4)
    mixed = np.array([[1.5, 0.8, 0.0], [0.0, 1.2, 0.5], [0.0, 0.0, 1.4]])
    usual = rng.normal(0, 1, (150, 3)) @ mixed
    usual[::12] += [9.0, -9.0, 9.0]
    own = distances(usual, usual)
    reference = MinCovDet(random_state=0).fit(usual).mahalanobis(usual)
    odd = np.zeros(150, dtype=bool)
    odd[::12] = True
    assert own[odd].min() > 5.0 * own[~odd].max()
    assert own[~odd] == pytest.approx(reference[~odd], rel=0.25, abs=0.5)
    plain = np.einsum("ij,jk,ik->i", usual, np.linalg.inv(np.cov(usual.T)), usual)
    assert plain[odd].min() < own[odd].min() / 3.0
