"""When a limit is reached, on made wear whose end is known: in time, surely, and none too late."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from analyzer.trends.wear import Reach, reach_of

SHARES = np.linspace(0.0, 1.0, 2001)


@dataclass(frozen=True)
class Asked:
    """A question put at some share of a part's life, and its answer."""

    reach: Reach
    left_h: float


def even(rng: np.random.Generator) -> np.ndarray:
    began = rng.choice([0.0, rng.uniform(0.0, 0.3)])
    return np.maximum(SHARES - began, 0.0) / (1.0 - began)


def quickening(rng: np.random.Generator) -> np.ndarray:
    power, rate = rng.uniform(1.4, 2.6), rng.uniform(1.0, 2.5)
    return SHARES**power if rng.random() < 0.5 else np.expm1(rate * SHARES) / np.expm1(rate)


def bent(rng: np.random.Generator) -> np.ndarray:
    bends, faster = rng.uniform(0.35, 0.7), rng.uniform(2.0, 5.0)
    worn = SHARES + (faster - 1.0) * np.maximum(SHARES - bends, 0.0)
    return worn / worn[-1]


def ask(worn: np.ndarray, life_share: float, noise: float, rng: np.random.Generator) -> Asked:
    """Wear from 10 down to 8, seen through scatter and a few odd flights up to a share of its life."""
    life = rng.uniform(80.0, 400.0)
    hours = np.cumsum(rng.uniform(0.5, 2.0, int(life)))
    hours = hours[hours <= life_share * life]
    values = 10.0 - 2.0 * np.interp(hours / life, SHARES, worn) + rng.normal(0.0, 2.0 * noise, hours.size)
    odd = rng.random(hours.size) < 0.03
    values[odd] += rng.normal(0.0, 8.0 * noise, odd.sum())
    spread = np.full(hours.size, 2.0 * noise * rng.uniform(0.7, 1.3))
    return Asked(reach_of(hours, values, spread, 8.0), life - float(hours[-1]))


def asked(kind, life_share: float, count: int, seed: int, noise: tuple[float, ...] = (0.03, 0.06, 0.1)) -> list[Asked]:
    rng = np.random.default_rng(seed)
    return [ask(kind(rng), life_share, float(rng.choice(noise)), rng) for _ in range(count)]


def within(questions: list[Asked], share: float, chance: float = 0.4) -> float:
    return float(np.mean([abs(one.reach.within(chance) / one.left_h - 1.0) <= share for one in questions]))


def held(questions: list[Asked]) -> float:
    return float(np.mean([one.reach.within(0.02) <= one.left_h <= one.reach.within(0.98) for one in questions]))


def late(questions: list[Asked]) -> float:
    return float(np.mean([one.reach.within(0.4) > 1.25 * one.left_h for one in questions]))


@pytest.fixture(scope="module")
def of_even() -> list[Asked]:
    return asked(even, 0.7, 60, 21)


@pytest.fixture(scope="module")
def of_quickening() -> list[Asked]:
    return asked(quickening, 0.85, 60, 22)


def test_even_wear_comes_to_its_limit_when_said(of_even):
    assert within(of_even, 0.2) >= 0.7
    assert late(of_even) <= 0.05
    assert held(of_even) >= 0.9


def test_wear_that_quickens_is_not_said_to_last_as_if_it_were_even(of_quickening):
    assert within(of_quickening, 0.35) >= 0.7
    assert held(of_quickening) >= 0.85
    # A line through all flights says twice the true time and more.
    assert np.median([one.reach.within(0.4) / one.left_h for one in of_quickening]) < 1.25


def test_wear_that_bent_is_followed_at_its_new_pace():
    questions = asked(bent, 0.85, 40, 23)
    assert within(questions, 0.35) >= 0.65
    assert late(questions) <= 0.2


def line(per_hour: float, at_start: float = 10.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    hours = np.arange(0.0, 100.0, 1.5)
    values = at_start + per_hour * hours + np.tile([0.004, -0.004], 34)[: hours.size]
    return hours, values, np.full(hours.size, 0.01)


def test_a_plain_line_is_followed_to_its_end():
    hours, values, spread = line(-0.01)
    reach = reach_of(hours, values, spread, 8.0)  # 200 h from the first flight
    assert reach.within(0.5) == pytest.approx(200.0 - hours[-1], rel=0.05)
    assert reach.within(0.02) < 200.0 - hours[-1] < reach.within(0.98)


def test_what_does_not_move_reaches_nothing():
    hours, values, spread = line(0.0)
    assert reach_of(hours, values, spread, 8.0).within(0.98) == np.inf


def test_rising_is_told_as_falling_is_and_volts_scale_with_the_system():
    hours, values, spread = line(-0.01)
    said = reach_of(hours, values, spread, 8.0)
    for told in (reach_of(hours, -values, spread, -8.0), reach_of(hours, 2.0 * values, 2.0 * spread, 16.0)):
        np.testing.assert_allclose(told.chance, said.chance, atol=0.02)


def test_the_chance_only_grows():
    for one in asked(bent, 0.5, 5, 24):
        assert (np.diff(one.reach.chance) >= 0.0).all()
        assert one.reach.chance[-1] <= 1.0 + 1e-9
        assert one.reach.within(0.1) <= one.reach.within(0.5) <= one.reach.within(0.9)


def test_values_that_resemble_the_last_ones_tell_less_than_their_number():
    hours = np.linspace(0.0, 150.0, 1000)
    ratios = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        alike = np.zeros(hours.size)
        for place in range(1, hours.size):
            alike[place] = 0.7 * alike[place - 1] + rng.normal(0.0, 0.05)
        spread = np.full(hours.size, alike.std())
        wide, narrow = (
            reach_of(hours, 10.0 - 0.02 * hours + left, spread, 6.9) for left in (alike, rng.permutation(alike))
        )
        ratios.append((wide.within(0.9) - wide.within(0.1)) / (narrow.within(0.9) - narrow.within(0.1)))
    assert np.median(ratios) > 1.5
