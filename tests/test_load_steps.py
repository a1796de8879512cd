"""Load steps chosen under a decay: where they lie, that a coarse meter's rungs are none, and intervals that cover."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.load_steps import Stairs, choose_steps
from analyzer.series import Floats


def choose(t: Floats, y: Floats, *, smallest: float = 0.5, floor: float = 0.0) -> Stairs | None:
    return choose_steps(
        t,
        y,
        tau_range=(20.0, 7200.0),
        restarts=(),
        smallest=smallest,
        lasting=10.0,
        most=16,
        noise_floor=floor,
        misfit=0.0,
    )


def chosen(t: Floats, y: Floats, *, smallest: float = 0.5, floor: float = 0.0) -> Stairs:
    stairs = choose(t, y, smallest=smallest, floor=floor)
    assert stairs is not None
    return stairs


def made(amplitude: float, tau: float, seed: int, steps: tuple[tuple[float, float], ...] = ()) -> tuple[Floats, Floats]:
    t = np.arange(0.0, 2400.0, 6.0)
    y = 9.0 + amplitude * np.exp(-t / tau) + np.random.default_rng(seed).normal(0.0, 0.2, t.size)
    for at, size in steps:
        y = y + size * (t >= at)
    return t, y


def test_steps_are_found_where_they_were_put_in() -> None:
    stairs = chosen(*made(10.0, 200.0, 1, ((300.0, 4.0), (540.0, -3.0), (1500.0, 2.0))))
    assert stairs.steps == pytest.approx((300.0, 540.0, 1500.0), abs=6.0)
    assert stairs.tau[0] < 200.0 < stairs.tau[1] < 1.5 * stairs.tau[0]
    assert stairs.amplitude[0] < 10.3
    assert stairs.amplitude[1] > 9.7


def test_the_rungs_of_a_coarse_meter_are_no_loads() -> None:
    t, y = made(8.0, 220.0, 2)
    stairs = chosen(t, np.round(y), smallest=1.5, floor=1.0 / np.sqrt(12.0))
    assert stairs.steps == ()
    assert stairs.tau[0] < 220.0 < stairs.tau[1]


def test_a_staircase_alone_leaves_the_time_constant_open() -> None:
    t = np.arange(0.0, 2400.0, 6.0)
    y = 10.0 + np.random.default_rng(3).normal(0.0, 0.2, t.size) - 2.0 * (t >= 200.0) - 1.0 * (t >= 420.0)
    stairs = choose(t, y)
    assert stairs is None or stairs.tau[1] > 6.0 * stairs.tau[0]


def test_a_current_that_only_rises_has_no_decay() -> None:
    t = np.arange(0.0, 1200.0, 6.0)
    assert choose(t, 5.0 - 4.0 * np.exp(-t / 200.0), smallest=9.0) is None


def test_the_interval_covers_the_time_constant_with_steps_that_nobody_told() -> None:
    generator = np.random.default_rng(9)
    inside = 0
    for seed in range(40):
        tau, size = float(generator.uniform(100.0, 400.0)), float(generator.uniform(6.0, 20.0))
        steps = tuple(
            (float(at), float(generator.choice([-3.0, -1.5, 2.0, 4.0]))) for at in generator.uniform(100, 2000, 3)
        )
        low, high = chosen(*made(size, tau, seed, steps)).tau
        inside += low <= tau <= high
    assert inside >= 35
