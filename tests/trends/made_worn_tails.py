"""Invented tails one measure of which wears to its limit, asked at shares of its life; and tails without wear.

Drawn wider than the forecast believes: exponents, pace and place of knees, scatter, odd flights, how fast and how long
is flown, seasons, flights that miss the measure. Nothing is drawn from the forecast's own net of ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp, log

import numpy as np

from analyzer.trends.followed_tail import Projection, Trend, follow_tail, trends_of
from analyzer.trends.history import FlightSummary, History, Reading, history_of
from tests.trends.made_wear import SHARES, Array, Wear


def steady(rng: np.random.Generator) -> Array:
    """One pace from the first flight to the limit."""
    return SHARES.copy()


def by_a_power(rng: np.random.Generator) -> Array:
    """Quickening as a power of the time, from hardly at all to a cubic and more."""
    return np.asarray(SHARES ** rng.uniform(1.15, 3.5))


def exponential(rng: np.random.Generator) -> Array:
    """Quickening by the same share in the same time."""
    rate = rng.uniform(0.4, 4.0)
    return np.asarray(np.expm1(rate * SHARES) / np.expm1(rate))


def pace_that_rises(rng: np.random.Generator) -> Array:
    """A steady part, and one that comes with a power of the time."""
    part = rng.uniform(0.2, 0.9)
    return np.asarray(part * SHARES + (1.0 - part) * SHARES ** rng.uniform(2.0, 5.0))


def knee(rng: np.random.Generator) -> Array:
    """Two paces, with a bend between them that is sharp or soft."""
    bends, faster, soft = rng.uniform(0.25, 0.8), exp(rng.uniform(log(1.6), log(8.0))), rng.uniform(0.002, 0.08)
    rate = 1.0 + (faster - 1.0) / (1.0 + np.exp(-np.clip((SHARES - bends) / soft, -50.0, 50.0)))
    worn = np.concatenate([[0.0], ((rate[1:] + rate[:-1]) / 2.0).cumsum()])
    return np.asarray(worn / worn[-1])


SMOOTH: tuple[Wear, ...] = (steady, by_a_power, exponential, pace_that_rises)


@dataclass(frozen=True)
class Measured:
    """How a measure of a 14 V system is when new, at its limit, and what else moves it; logarithms where worked so."""

    new: tuple[float, float]  # drawn between
    limit: float
    scatter: tuple[float, float]  # shares of the way from new to the limit
    half: float  # half its interval, in the same
    per_degc: tuple[float, float]
    logarithmic: bool = False
    aloft: bool = False  # moved by the air in flight and not by that at the start


#: Those that have a limit and wear. The scatter goes from a fiftieth to an eighth of the way to the limit.
MEASURED = {
    "cranking_voltage": Measured((9.4, 10.2), 8.4, (0.01, 0.12), 0.25, (0.01, 0.045)),
    "resting_voltage": Measured((12.55, 12.85), 12.24, (0.01, 0.12), 0.15, (-0.001, 0.003)),
    "recharge_time_constant": Measured((log(2.2), log(3.6)), log(6.0), (0.015, 0.15), 0.25, (-0.026, -0.01), True),
    "maintenance_current": Measured((0.4, 1.1), 2.5, (0.01, 0.12), 0.25, (0.0, 0.04), aloft=True),
    "regulated_voltage": Measured((13.95, 14.15), 14.5, (0.01, 0.1), 0.1, (-0.008, 0.0), aloft=True),
}


COOLER = 4.0  # air in flight than at the start [degC]


@dataclass(frozen=True)
class WornTail:
    """A history, the measure that wears in it, and the engine hours from its last flight until that is at its limit."""

    history: History
    measure: str
    left_h: float

    def trends(self) -> dict[str, Trend]:
        """What is said of it."""
        return trends_of(follow_tail(self.history))


@dataclass(frozen=True)
class Answer:
    """What was foretold [h], None where nothing was, and the truth [h]."""

    ahead: Projection | None
    left_h: float


def worn_tail(wear: Array | None, share: float, rng: np.random.Generator, measure: str | None = None) -> WornTail:
    """A tail up to a share of a part's life; one without any wear where ``wear`` is None."""
    name = measure or str(rng.choice(list(MEASURED)))
    life = rng.uniform(70.0, 400.0)
    hours = np.clip(rng.normal(rng.uniform(0.7, 2.0), 0.35, 1200), 0.4, 4.0)
    flown = np.concatenate([[0.0], hours.cumsum()[:-1]])
    count = max(12, int(np.searchsorted(flown, share * life)))
    starts, air = _weather(count, rng)
    values = {
        own: _values(kind, (flown[:count] / life, wear if own == name else None), air - COOLER * kind.aloft, rng)
        for own, kind in MEASURED.items()
    }
    missed = {own: rng.random(count) < rng.choice([0.0, 0.05, 0.2]) for own in MEASURED}
    flights = []
    for place, start in enumerate(starts):
        readings = {own: values[own][place] for own in MEASURED if not missed[own][place]}
        end = start + timedelta(hours=float(hours[place]))
        degc = float(air[place])
        flights.append(
            FlightSummary(start, end, float(hours[place]), 14, "battery", degc, degc - COOLER, 0.3, readings)
        )
    return WornTail(history_of("N0001W", flights), name, life - float(flown[count - 1]))


def _weather(count: int, rng: np.random.Generator) -> tuple[list[datetime], Array]:
    """When each flight began, and the air at its start [degC]."""
    days = np.cumsum(rng.exponential(rng.uniform(0.7, 8.0), count) + 0.1)
    first = datetime(2022, 1, 1) + timedelta(days=float(rng.integers(0, 360)))
    starts = [first + timedelta(days=float(day)) for day in days]
    year = np.array([start.timetuple().tm_yday for start in starts])
    swing, middle = rng.uniform(2.0, 12.0), rng.uniform(5.0, 22.0)
    return starts, middle - swing * np.cos(2.0 * np.pi * (year - 20) / 365.25) + rng.normal(0.0, 3.5, count)


def _values(kind: Measured, worn: tuple[Array, Array | None], air: Array, rng: np.random.Generator) -> list[Reading]:
    """A measure's readings; ``worn`` is each flight's share of the life, and the wear over it."""
    new = rng.uniform(*kind.new)
    room = kind.limit - new
    scatter = abs(room) * exp(rng.uniform(*np.log(kind.scatter)))
    gone = np.zeros(air.size) if worn[1] is None else np.interp(worn[0], SHARES, worn[1])
    in_minutes = np.log(exp(new) + (exp(kind.limit) - exp(new)) * gone)  # worn evenly in them, not in their logarithm
    course = in_minutes if kind.logarithmic else new + room * gone
    values = course + rng.uniform(*kind.per_degc) * (air - 15.0) + rng.normal(0.0, scatter, air.size)
    odd = rng.random(air.size) < 0.02
    values[odd] += rng.normal(0.0, 4.0 * scatter, int(odd.sum()))
    half = abs(room) * kind.half
    shown = [(value, value - half, value + half) for value in values.tolist()]
    return [Reading(*(exp(one) for one in three)) if kind.logarithmic else Reading(*three) for three in shown]


def answers(kind: Wear, share: float, count: int, seed: int, measure: str | None = None) -> list[Answer]:
    """What was foretold of so many tails at a share of the life."""
    rng = np.random.default_rng([seed, int(100 * share), *kind.__name__.encode()])
    tails = [worn_tail(kind(rng), share, rng, measure) for _ in range(count)]
    return [Answer(one.trends()[one.measure].projection, one.left_h) for one in tails]


def foretold_without_wear(count: int, seed: int) -> list[int]:
    """How many measures are foretold to reach a limit, a tail each, of tails without wear."""
    rng = np.random.default_rng([seed, 1])
    tails = [worn_tail(None, rng.uniform(0.3, 1.0), rng) for _ in range(count)]
    return [sum(trend.projection is not None for trend in one.trends().values()) for one in tails]
