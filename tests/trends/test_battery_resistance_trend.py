"""The battery's resistance over flights: found as it rises above the tail's own baseline, weather taken out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made_histories import made

from analyzer.trends.entries import Entry
from analyzer.trends.history import History, Reading, history_of
from analyzer.trends.tail_review import TailReview, review_tail

FLIGHTS = 50


def tail(growth: np.ndarray, seed: int = 1, entries: tuple[Entry, ...] = ()) -> History:
    """A sound tail whose battery's resistance grows by a factor, and by 0.8 % for each degree of cold."""
    sound = made("plain", seed, FLIGHTS).history
    rng = np.random.default_rng([seed, 9])
    flights = []
    for flight, factor in zip(sound.flights, growth, strict=True):
        air = flight.air_start or 15.0
        ohms = 14.0 * factor * np.exp(0.008 * (15.0 - air)) * np.exp(rng.normal(0.0, 0.05))
        reading = Reading(float(ohms), float(0.9 * ohms), float(1.1 * ohms))
        flights.append(replace(flight, readings={**flight.readings, "battery_resistance": reading}))
    return history_of("N0009T", flights, list(entries))


def rising(review: TailReview) -> list:
    return [finding for finding in review.findings if finding.name == "battery_resistance_rising"]


@pytest.mark.parametrize("seed", range(1, 6))
def test_a_year_of_weather_is_no_rise(seed):
    assert rising(review_tail(tail(np.ones(FLIGHTS), seed))) == []


@pytest.mark.parametrize("seed", range(1, 6))
def test_a_rise_is_found_once_it_is_a_fifth_for_sure(seed):
    growth = np.linspace(1.0, 1.9, FLIGHTS)
    [finding] = rising(review_tail(tail(growth, seed)))
    assert growth[finding.raised_flight] > 1.15
    assert finding.raised_flight < FLIGHTS - 5
    assert any("Battery worn" in cause.words for cause in finding.likely)
    assert any("between bus and battery" in cause.words for cause in finding.likely)


def test_severity_is_that_of_how_far_it_has_come():
    little = np.where(np.arange(FLIGHTS) < 25, 1.0, 1.4)
    far = np.where(np.arange(FLIGHTS) < 25, 1.0, 2.1)
    assert [finding.severity for finding in rising(review_tail(tail(little)))] == ["advisory"]
    assert [finding.severity for finding in rising(review_tail(tail(far)))] == ["caution"]


@pytest.mark.parametrize("kind", ["battery_replaced", "battery_serviced", "connection_repaired", "instrument_replaced"])
def test_work_on_battery_leads_and_meters_starts_it_anew(kind):
    growth = np.where(np.arange(FLIGHTS) < 25, 1.0, 1.6)
    history = tail(growth)
    entry = Entry("N0009T", history.flights[25].start - timedelta(hours=1), kind, "")
    assert rising(review_tail(tail(growth, entries=(entry,)))) == []
    other = Entry("N0009T", entry.when, "regulator_replaced", "")
    assert len(rising(review_tail(tail(growth, entries=(other,))))) == 1
