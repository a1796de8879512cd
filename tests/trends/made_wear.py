"""Invented wear whose end is known, seen through scatter and odd flights, and questions put at shares of its life.

Two sets of ways to wear: what the forecast was set up on (``even``, ``quickening``, ``bent``), and others by other
formulas (``OTHER_KINDS``) that it never saw: they are for tests alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyzer.trends.wear import Reach, reach_of

Array = np.ndarray
SHARES = np.linspace(0.0, 1.0, 2001)
Wear = Callable[[np.random.Generator], Array]
NOISES = (0.03, 0.06, 0.1)


def even(rng: np.random.Generator) -> Array:
    began = rng.choice([0.0, rng.uniform(0.0, 0.3)])
    return np.maximum(SHARES - began, 0.0) / (1.0 - began)


def quickening(rng: np.random.Generator) -> Array:
    power, rate = rng.uniform(1.4, 2.6), rng.uniform(1.0, 2.5)
    return SHARES**power if rng.random() < 0.5 else np.expm1(rate * SHARES) / np.expm1(rate)


def bent(rng: np.random.Generator) -> Array:
    bends, faster = rng.uniform(0.35, 0.7), rng.uniform(2.0, 5.0)
    worn = SHARES + (faster - 1.0) * np.maximum(SHARES - bends, 0.0)
    return worn / worn[-1]


def in_fits(rng: np.random.Generator) -> Array:
    """Steady on the whole, by steps of random size (a gamma process)."""
    worn = np.concatenate([[0.0], rng.gamma(rng.uniform(0.05, 0.2), size=SHARES.size - 1).cumsum()])
    return worn / worn[-1]


def of_two_kinds(rng: np.random.Generator) -> Array:
    """A steady part, and one that comes with the fourth power."""
    steady = rng.uniform(0.3, 0.8)
    return steady * SHARES + (1.0 - steady) * SHARES**4


def feeding_itself(rng: np.random.Generator) -> Array:
    """Each part lost loads the rest: by the logarithm of what is left."""
    lost = rng.uniform(0.6, 0.9)
    return np.log1p(-lost * SHARES) / np.log1p(-lost)


def at_random_pace(rng: np.random.Generator) -> Array:
    """At a pace that only rises, by a dozen steps of random size at random moments."""
    pace = np.full(SHARES.size, rng.uniform(0.3, 1.0))
    for moment, faster in zip(rng.uniform(0.0, 1.0, 12), rng.exponential(0.15, 12), strict=True):
        pace[moment < SHARES] += faster
    worn = np.concatenate([[0.0], pace[1:].cumsum()])
    return worn / worn[-1]


def bent_softly(rng: np.random.Generator) -> Array:
    """Two paces with a soft bend between them."""
    bends, faster, soft = rng.uniform(0.35, 0.65), rng.uniform(2.0, 5.0), rng.uniform(0.03, 0.08)
    rate = 1.0 + (faster - 1.0) / (1.0 + np.exp(-(SHARES - bends) / soft))
    worn = np.concatenate([[0.0], ((rate[1:] + rate[:-1]) / 2.0).cumsum()])
    return worn / worn[-1]


SMOOTH_KINDS: tuple[Wear, ...] = (even, quickening)
OTHER_SMOOTH: tuple[Wear, ...] = (in_fits, of_two_kinds, feeding_itself, at_random_pace)
KNEES: tuple[Wear, ...] = (bent, bent_softly)
ALL_KINDS: tuple[Wear, ...] = (*SMOOTH_KINDS, *OTHER_SMOOTH, *KNEES)


@dataclass(frozen=True)
class Asked:
    """A question put at some share of a part's life, and its answer."""

    reach: Reach
    left_h: float


def ask(worn: Array, life_share: float, noise: float, rng: np.random.Generator) -> Asked:
    """Wear from 10 down to 8, seen through scatter and a few odd flights up to a share of its life."""
    life = rng.uniform(80.0, 400.0)
    hours = np.cumsum(rng.uniform(0.5, 2.0, int(life)))
    hours = hours[hours <= life_share * life]
    values = 10.0 - 2.0 * np.interp(hours / life, SHARES, worn) + rng.normal(0.0, 2.0 * noise, hours.size)
    odd = rng.random(hours.size) < 0.03
    values[odd] += rng.normal(0.0, 8.0 * noise, odd.sum())
    spread = np.full(hours.size, 2.0 * noise * rng.uniform(0.7, 1.3))
    return Asked(reach_of(hours, values, spread, 8.0), life - float(hours[-1]))


def asked(kind: Wear, life_share: float, count: int, seed: int, noise: tuple[float, ...] = NOISES) -> list[Asked]:
    """Questions about parts of a kind."""
    rng = np.random.default_rng(seed)
    return [ask(kind(rng), life_share, float(rng.choice(noise)), rng) for _ in range(count)]
