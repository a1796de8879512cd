"""What is said of a flight rests on the flights up to it: every alarm stood that very day, and none is added later."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_histories import made

from analyzer.trends import detection
from analyzer.trends.followed_tail import follow_tail, trends_of
from analyzer.trends.history import History, Reading
from analyzer.trends.judging import judge_tail
from analyzer.trends.tracked_series import reset_points

VOLTAGES = ("regulated_voltage", "resting_voltage")


def unsettled(kind: str, seed: int) -> History:
    """A made tail with three more steps and a drift; the air is lost in some of its last flights."""
    history, rng = made(kind, seed).history, np.random.default_rng(seed)
    flights = len(history.flights)
    cuts, sizes, rate = sorted(rng.integers(3, flights, 3)), rng.normal(0.0, 0.35, 3), rng.normal(0.0, 0.01)
    changed = []
    for place, flight in enumerate(history.flights):
        moved = sum(size for cut, size in zip(cuts, sizes, strict=True) if place >= cut)
        moved = (moved + rate * max(0, place - cuts[0])) * flight.nominal_voltage / 14
        readings = dict(flight.readings)
        for measure in VOLTAGES[: 1 + (sizes[0] > 0.0)]:
            if measure in readings:
                own = readings[measure]
                readings[measure] = Reading(own.value + moved, own.low + moved, own.high + moved)
        air = flight.air_flight if place < flights - 6 or rng.random() < 0.7 else None
        changed.append(replace(flight, readings=readings, air_flight=air))
    return replace(history, flights=tuple(changed))


def as_known_at(history: History, place: int) -> History:
    return history.until(history.flights[place].start)


def alarms(history: History) -> list[tuple[str, str, int, int, float]]:
    """Every alarm: its measure and shape, the flights at which it was raised and began, how far it moved."""
    tail = follow_tail(history)
    return [
        (measure, one.shape, int(flight[one.raised]), int(flight[one.began]), round(one.moved, 9))
        for measure, followed in tail.followed.items()
        for flight in [tail.series[measure].flight]
        for one in followed.alarms
    ]


@pytest.mark.parametrize(
    ("kind", "seed"), [("season", 301), ("plain", 305), ("drift_down", 305), ("no_air", 302), ("loosening", 303)]
)
def test_every_alarm_was_known_at_its_flight_and_none_is_added_afterwards(kind, seed):
    history = unsettled(kind, seed)
    last = len(history.flights) - 1
    every = alarms(history)
    assert every
    for place in range(8, last):
        assert alarms(as_known_at(history, place)) == [one for one in every if one[2] <= place]


@pytest.mark.parametrize(
    ("kind", "seed"), [("season", 301), ("drift_down", 305), ("instrument", 302), ("battery_replaced", 301)]
)
def test_a_whole_series_tells_what_was_known_at_each_of_its_points(kind, seed):
    history = unsettled(kind, seed)
    tail = follow_tail(history)
    assert any(followed.steps for followed in tail.followed.values())
    for measure in VOLTAGES:
        series = tail.series[measure]
        resets = reset_points(history, series.kind, series.flight)
        for count in range(1, series.n + 1):
            known = detection.as_known_at(series, tail.followed[measure], count)
            anew = detection.follow(series.upto(count), [place for place in resets if place < count])
            assert known.alarms == anew.alarms
            assert known.steps == anew.steps
            assert [told(one) for one in known.stretches] == [told(one) for one in anew.stretches]


def told(stretch: detection.Stretch) -> tuple[object, ...]:
    own = (stretch.series.value, stretch.series.hours, stretch.series.prior_mean, stretch.series.prior_sd)
    return stretch.first, stretch.end, stretch.drift, *(values.tolist() for values in own)


@pytest.mark.parametrize(("kind", "seed"), [("load_change", 303), ("drift_up", 301), ("step", 304)])
def test_the_figures_of_a_finding_are_those_of_the_flight_that_raised_it(kind, seed):
    history = unsettled(kind, seed)
    tail = follow_tail(history)
    found = [one for one in judge_tail(tail, trends_of(tail)) if one.shift]
    assert found
    for one in found:
        then = follow_tail(as_known_at(history, one.raisings[-1].flight))
        same = [
            f for f in judge_tail(then, trends_of(then)) if (f.name, f.raised_flight) == (one.name, one.raised_flight)
        ]
        assert [(f.shift, f.says) for f in same] == [(one.shift, one.says)]
