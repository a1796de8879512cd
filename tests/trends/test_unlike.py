"""The distance behind "unlike itself", against independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from sklearn.covariance import MinCovDet

from analyzer.trends.unlike import chi_squared, distances, within


@pytest.mark.parametrize("free", [2, 3, 5, 8])
@pytest.mark.parametrize("chance", [0.025, 0.001])
def test_chi_squared_points_are_those_of_an_independent_library(free, chance):
    assert chi_squared(chance, free) == pytest.approx(stats.chi2.isf(chance, free), rel=0.03)
    assert within(stats.chi2.isf(chance, free), free) == pytest.approx(1.0 - chance, abs=0.003)


@pytest.mark.parametrize("seed", range(6))
def test_odd_flights_do_not_hide_each_other_as_an_independent_robust_covariance_has_it(seed):
    # MinCovDet: the minimum covariance determinant (Rousseeuw 1984) of scikit-learn.
    rng = np.random.default_rng(seed)
    mixed = np.array([[1.5, 0.8, 0.0], [0.0, 1.2, 0.5], [0.0, 0.0, 1.4]])
    usual = rng.normal(0, 1, (150, 3)) @ mixed
    odd = np.arange(150) % 12 == 0
    usual[odd] += [9.0, -9.0, 9.0]
    true = squared_distances(usual, mixed.T @ mixed)
    own, reference = distances(usual, usual), MinCovDet(random_state=0).fit(usual).mahalanobis(usual)
    assert np.median(own[~odd] / true[~odd]) == pytest.approx(1.0, abs=0.2)
    apart = own[odd].min() / own[~odd].max()
    assert apart > 0.7 * reference[odd].min() / reference[~odd].max()
    plain = squared_distances(usual, np.cov(usual.T))
    assert apart > 5.0 * plain[odd].min() / plain[~odd].max()


def squared_distances(away, covariance):
    return np.einsum("ij,jk,ik->i", away, np.linalg.inv(covariance), away)
