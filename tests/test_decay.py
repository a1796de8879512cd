"""The decay fit: certified values, a truth put in that comes out, and intervals that cover."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.decay import _best_and_interval, fit_decay, load_steps

TAUS = (20.0, 7200.0)


def made(
    amplitude: float, tau: float, noise: float, seed: int, steps: tuple[tuple[float, float], ...] = ()
) -> tuple[np.ndarray, np.ndarray]:
    t = np.arange(0.0, 2400.0, 4.0)
    y = 3.0 + amplitude * np.exp(-t / tau) + np.random.default_rng(seed).normal(0.0, noise, t.size)
    for at, size in steps:
        y = y + size * (t >= at)
    return t, y


@pytest.mark.parametrize("tau", [70.0, 180.0, 420.0])
def test_a_time_constant_put_in_comes_out(tau: float) -> None:
    fit = fit_decay(*made(12.0, tau, 0.1, 1), tau_range=TAUS)
    assert fit is not None
    assert fit.tau == pytest.approx(tau, rel=0.03)
    assert fit.amplitude == pytest.approx(12.0, rel=0.03)
    assert fit.level == pytest.approx(3.0, abs=0.1)


def test_load_steps_in_the_middle_of_the_decay_do_not_move_it() -> None:
    put_in = ((200.0, 4.0), (620.0, -2.5), (1500.0, 3.0))
    t, y = made(10.0, 200.0, 0.2, 2, put_in)
    smooth = fit_decay(t, y, tau_range=TAUS)
    assert smooth is not None
    steps = load_steps(t, y - smooth.curve(t), smallest=0.8, width=5, most=10)
    assert [round(at) for at in steps] == [200, 620, 1500]
    fit = fit_decay(t, y, tau_range=TAUS, steps=steps, smallest_step=0.4)
    assert fit is not None
    assert fit.tau == pytest.approx(200.0, rel=0.06)
    assert [size for _, size in fit.steps] == pytest.approx([4.0, -2.5, 3.0], abs=0.3)


def test_what_a_fit_leaves_of_a_fast_decay_holds_no_step() -> None:
    t, y = made(20.0, 60.0, 0.1, 3)
    fit = fit_decay(t, y, tau_range=TAUS)
    assert fit is not None
    assert load_steps(t, y - fit.curve(t), smallest=0.8, width=5, most=10) == ()


def test_a_renewed_decay_after_an_idling_is_fitted_as_one() -> None:
    t, y = made(10.0, 180.0, 0.1, 4)
    y = y + 6.0 * np.where(t >= 900.0, np.exp(-np.maximum(t - 900.0, 0.0) / 180.0), 0.0)
    fit = fit_decay(t, y, tau_range=TAUS, restarts=(900.0,))
    assert fit is not None
    assert fit.tau == pytest.approx(180.0, rel=0.04)
    assert fit.restarts[0][1] == pytest.approx(6.0, rel=0.1)


def test_spikes_do_not_move_the_fit() -> None:
    t, y = made(10.0, 180.0, 0.2, 5)
    y[::40] += 15.0
    fit = fit_decay(t, y, tau_range=TAUS)
    assert fit is not None
    assert fit.tau == pytest.approx(180.0, rel=0.06)


def test_a_current_that_rises_has_no_falling_decay() -> None:
    t = np.arange(0.0, 1200.0, 4.0)
    fit = fit_decay(t, 5.0 - 4.0 * np.exp(-t / 200.0), tau_range=TAUS)
    assert fit is None or fit.amplitude < 0.1


def test_too_few_readings_give_no_fit() -> None:
    assert fit_decay(np.arange(6.0), np.arange(6.0)[::-1].copy(), tau_range=TAUS) is None


@pytest.mark.parametrize("with_steps", [False, True])
def test_the_interval_of_the_time_constant_covers_it_as_often_as_it_says(with_steps: bool) -> None:
    generator = np.random.default_rng(8)
    inside = 0
    for seed in range(100):
        tau = float(np.exp(generator.uniform(np.log(80.0), np.log(400.0))))
        size = float(generator.uniform(4.0, 20.0))
        put_in = tuple((float(at), 3.0) for at in generator.uniform(100.0, 2000.0, 2)) if with_steps else ()
        t, y = made(size, tau, 0.3, seed, put_in)
        fit = fit_decay(t, y, tau_range=TAUS, steps=tuple(sorted(at for at, _ in put_in)))
        assert fit is not None
        inside += fit.tau_low <= tau <= fit.tau_high
    assert inside >= 90


def test_a_level_that_cannot_be_is_left_out() -> None:
    """A fall that is still straight where it ends fits a long decay to far below zero as well as a short one."""
    t = np.arange(0.0, 1200.0, 4.0)
    y = 1.0 + 12.0 * np.exp(-t / 900.0) + np.random.default_rng(9).normal(0.0, 0.4, t.size)
    free = fit_decay(t, y - 3.0, tau_range=TAUS)
    held = fit_decay(t, y - 3.0, tau_range=TAUS, lowest_level=0.0)
    assert free is not None
    assert held is not None
    assert free.level < 0.0 <= held.level
    assert held.tau < free.tau


def test_three_costs_whose_parabola_falls_below_zero_still_give_an_interval() -> None:
    """Next to no noise: the lowest cost is a hundredth of its neighbour's, and as low as the one on the other side."""
    taus = np.geomspace(60.0, 600.0, 5)
    tau, low, high = _best_and_interval(taus, np.array([4.0, 1.0, 0.01, 0.011, 1.0]), 2, 1.2)
    assert taus[2] < tau < taus[3]
    assert 0.0 < low < tau < high
    plain = _best_and_interval(taus, np.array([9.0, 2.0, 1.0, 2.0, 9.0]), 2, 1.2)
    ratio = taus[1] / taus[0]
    width = np.sqrt(2.0 * 0.2 / 2.0)
    assert plain == pytest.approx((taus[2], taus[2] * ratio**-width, taus[2] * ratio**width))


@pytest.mark.parametrize("seed", [16, 52, 86])
def test_a_coarse_meter_leaves_the_interval_as_wide_as_it_is(seed: int) -> None:
    """Under steps of 2 A time constants far apart leave the same; one that a first look put far off may be the true."""
    t = np.linspace(0.0, 300.0, 60)
    noise = np.random.default_rng(seed).normal(0.0, 0.2, t.size)
    shown = 2.0 * np.round((1.5 + 8.0 * np.exp(-t / 300.0) + noise) / 2.0)
    found = fit_decay(t, shown, tau_range=(5.0, 3600.0), noise_floor=0.1, smallest_step=1.0, lowest_level=-5.0)
    assert found is not None
    assert found.tau_low < 300.0 < found.tau_high
