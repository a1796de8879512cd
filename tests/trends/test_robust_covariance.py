"""The robust covariance against scikit-learn's, an independent implementation of the same algorithm."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from sklearn.covariance import MinCovDet

from analyzer.trends.robust_covariance import robust_covariance


def plain(rng, count, width):
    return rng.normal(size=(count, width)) @ rng.normal(size=(width, width))


def with_odd_rows(rng, count, width):
    rows = plain(rng, count, width)
    rows[rng.random(count) < 0.1] += 8.0
    return rows


def of_a_coarse_meter(rng, count, width):
    """Many rows alike, and a value that hardly ever moves, so that halves are singular."""
    rows = np.round(2.0 * plain(rng, count, width)) / 2.0
    rows[:, 0] = np.where(rng.random(count) < 0.05, 1.0, 0.0)
    rows[0, 0] = 1.0
    return rows


@pytest.mark.parametrize("made", [plain, with_odd_rows, of_a_coarse_meter])
@pytest.mark.parametrize("seed", range(8))
def test_it_is_that_of_scikit_learn(made, seed):
    rng = np.random.default_rng(seed)
    rows = made(rng, int(rng.integers(30, 201)), 2 + seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of halves that are singular
        expected = MinCovDet(random_state=0).fit(rows).covariance_
    assert robust_covariance(rows) == pytest.approx(expected, rel=1e-12, abs=1e-15)


def test_of_one_value_it_is_that_of_scikit_learn():
    rows = with_odd_rows(np.random.default_rng(3), 120, 1)
    assert robust_covariance(rows) == pytest.approx(MinCovDet(random_state=0).fit(rows).covariance_, rel=1e-12)


def test_rows_most_of_which_are_alike_have_the_covariance_of_all():
    rows = np.array([[0.0]] * 18 + [[3.0], [6.0]])  # more than half have no width: none is odd by it
    # the mean is 0.45, the squares sum to 45: 45 / 20 - 0.45^2 = 2.0475, by Croux and Haesbroeck's factor for 97.5 %
    # of normal values of one kind: 0.975 over the share of chi-squared with 3 degrees of freedom below 5.0239, which
    # is 2.2414^2: 0.975 - sqrt(2 * 5.0239 / pi) * exp(-5.0239 / 2) = 0.975 - 1.78841 * 0.08111 = 0.82994
    assert robust_covariance(rows)[0, 0] == pytest.approx(2.0475 * 0.975 / 0.82994, rel=1e-4)
