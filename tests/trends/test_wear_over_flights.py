"""Forecasts from whole flights: weather and its season beside the wear, through the series to the projection."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import pytest
from made_wear import SHARES, Array, Wear, bent, even, quickening

from analyzer.trends.followed_tail import Projection, Trend, follow_tail, trends_of
from analyzer.trends.history import FlightSummary, Reading, history_of
from tests.trends.made_worn_tails import SMOOTH, answers, foretold_without_wear

#: Measure -> new, at its limit [V], scatter from flight to flight, half its interval, and what a degC of air moves it.
MEASURES = {"cranking_voltage": (9.8, 8.4, 0.1, 0.6, 0.02), "resting_voltage": (12.75, 12.24, 0.02, 0.05, 0.0)}


@dataclass(frozen=True)
class Tail:
    """The trends of a tail, and the engine hours that are left until its measure is at its limit."""

    trends: dict[str, Trend]
    left_h: float


def tail(measure: str | None, worn: Array, share: float, rng: np.random.Generator) -> Tail:
    """A 14 V tail up to a share of the life of its battery, one measure of which wears."""
    life = rng.uniform(80.0, 300.0)
    hours = rng.uniform(0.6, 1.8, 500)
    flown = np.concatenate([[0.0], hours.cumsum()[:-1]])
    count = int(np.searchsorted(flown, share * life))
    days = np.cumsum(rng.exponential(4.0, count) + 0.1)
    first = datetime(2025, 1, 1) + timedelta(days=float(rng.integers(0, 360)))
    starts = [first + timedelta(days=float(day)) for day in days]
    year = np.array([start.timetuple().tm_yday for start in starts])
    air = 12.0 - 10.0 * np.cos(2.0 * np.pi * (year - 20) / 365.25) + rng.normal(0.0, 3.5, count)
    flights = []
    for place, start in enumerate(starts):
        readings = {}
        for name, (new, limit, scatter, half, per_degc) in MEASURES.items():
            gone = float(np.interp(flown[place] / life, SHARES, worn)) if name == measure else 0.0
            volts = new + (limit - new) * gone + per_degc * (air[place] - 15.0) + rng.normal(0.0, scatter)
            readings[name] = Reading(volts, volts - half, volts + half)
        end = start + timedelta(hours=float(hours[place]))
        degc = float(air[place])
        flights.append(FlightSummary(start, end, float(hours[place]), 14, "battery", degc, degc - 4.0, 0.3, readings))
    return Tail(trends_of(follow_tail(history_of("N0001W", flights))), life - float(flown[count - 1]))


def asked(kind: Wear, share: float, count: int, seed: int, measure: str) -> list[tuple[Projection | None, float]]:
    """The projection at a share of the life of so many tails, and the truth."""
    rng = np.random.default_rng(seed)
    tails = [tail(measure, kind(rng), share, rng) for _ in range(count)]
    return [(one.trends[measure].projection, one.left_h) for one in tails]


def over_truth(given: list[tuple[Projection, float]]) -> Array:
    """The stated times over the true ones, of those that are told one number."""
    return np.array([ahead.likely / left for ahead, left in given if ahead.likely is not None])


@pytest.mark.long(keep=5)  # both measures: of 4 all would be of one
@pytest.mark.parametrize("measure", list(MEASURES))
@pytest.mark.parametrize(("kind", "share"), [(even, 0.7), (quickening, 0.7), (quickening, 0.85), (bent, 0.85)])
def test_a_limit_is_foretold_and_rather_early_than_late(kind: Wear, share: float, measure: str) -> None:
    questions = asked(kind, share, 30, 41, measure)
    given = [(ahead, left) for ahead, left in questions if ahead is not None]
    assert len(given) >= 0.9 * len(questions)
    ratio = over_truth(given)
    assert ratio.size >= 0.6 * len(given)
    assert (ratio > 1.25).mean() <= 0.2
    assert (np.abs(ratio - 1.0) <= 0.35).mean() >= 0.6
    assert np.mean([ahead.earliest <= left <= ahead.latest for ahead, left in given]) >= 0.9


def test_what_does_not_wear_comes_to_no_limit() -> None:
    rng = np.random.default_rng(43)
    tails = [tail(None, SHARES, 0.7, rng) for _ in range(60)]
    foretold = [any(trend.projection is not None for trend in one.trends.values()) for one in tails]
    assert np.mean(foretold) <= 0.05


def test_shapes_that_the_forecast_was_not_set_up_on_are_seldom_told_late() -> None:
    told = [one for kind in SMOOTH for one in answers(kind, 0.7, 16, 71)]
    given = [(one.ahead, one.left_h) for one in told if one.ahead is not None]
    assert len(given) >= 0.9 * len(told)
    ratio = over_truth(given)
    assert ratio.size >= 0.75 * len(given)
    assert (ratio > 1.25).mean() <= 0.08
    assert (np.abs(ratio - 1.0) <= 0.35).mean() >= 0.8
    assert np.mean([ahead.earliest <= left <= ahead.latest for ahead, left in given]) >= 0.9


def test_of_tails_without_wear_hardly_any_is_foretold_a_limit() -> None:
    assert np.mean([count == 0 for count in foretold_without_wear(24, 73)]) >= 0.95
