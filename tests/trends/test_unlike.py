"""The distance behind "unlike itself", against the truth that the flights were drawn from."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.trends.unlike import distances


@pytest.mark.parametrize("seed", range(6))
def test_odd_flights_do_not_hide_each_other(seed):
    rng = np.random.default_rng(seed)
    mixed = np.array([[1.5, 0.8, 0.0], [0.0, 1.2, 0.5], [0.0, 0.0, 1.4]])
    usual = rng.normal(0, 1, (150, 3)) @ mixed
    odd = np.arange(150) % 12 == 0
    usual[odd] += [9.0, -9.0, 9.0]
    true = squared_distances(usual, mixed.T @ mixed)
    own, plain = distances(usual, usual), squared_distances(usual, np.cov(usual.T))
    assert np.median(own[~odd] / true[~odd]) == pytest.approx(1.0, abs=0.3)
    assert own[odd].min() / own[~odd].max() > 5.0 * plain[odd].min() / plain[~odd].max()


def test_a_tail_that_was_steady_by_luck_is_not_thereby_strict():
    steady = np.random.default_rng(1).normal(0, 0.2, (60, 3))
    assert distances(np.array([[1.0, 1.0, 1.0]]), steady)[0] == pytest.approx(3.0, rel=0.15)


def test_where_no_measure_ever_moved_no_flight_is_far_from_the_others():
    assert distances(np.array([[1.0, 0.0], [0.0, 5.0]]), np.zeros((20, 2))).tolist() == [0.0, 0.0]


def squared_distances(away, covariance):
    return np.einsum("ij,jk,ik->i", away, np.linalg.inv(covariance), away)
