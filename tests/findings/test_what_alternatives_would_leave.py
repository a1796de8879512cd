"""Made courses at 14 and 28 V on which two causes differ in one piece of evidence, and what is told of each."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.findings.finding import FindingName
from analyzer.flights.outage_kinds import OFFLINE, OUTPUT_LIMITED, AlternatorOutage
from analyzer.flights.outages import _short_ones
from analyzer.flights.run_up import run_up
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.review import FlightReview, review_log
from tests.made import log_from

SYSTEMS = pytest.mark.parametrize("volts", [14, 28])
Part = tuple[float, int]  # level, seconds


def _course(*parts: Part) -> np.ndarray:
    return np.concatenate([np.full(seconds, level) for level, seconds in parts])


def _flown(volts: int, bus: np.ndarray, speed: np.ndarray, every: int = 1, **channels: np.ndarray) -> FlightReview:
    """A flight of a course in a 14 V system, a row every so many seconds, by a voltmeter that shows 0.01 V."""
    bus = (bus + np.random.default_rng(3).normal(0.0, 0.004, bus.size)) * volts / 14.0
    table = {"time_s": np.arange(bus.size, dtype=np.float64), "bus_voltage": bus.round(2), "engine_speed": speed}
    return review_log(log_from(pl.DataFrame(table | channels)[::every])).flights[0]


def _found(review: FlightReview) -> set[FindingName]:
    return {finding.name for finding in review.findings}


def _two_levels(sinks: float, lifted: float = 13.8) -> tuple[np.ndarray, np.ndarray]:
    """Volts, engine speed: loads bring the bus to 11.8 and 11.2 V by turns, where it sinks by so much [V/h]."""
    lasts = 3600
    level = np.where(np.arange(lasts) // 900 % 2, 11.8, 11.2) - sinks * np.arange(lasts) / 3600.0
    bus = np.concatenate([_course((12.4, 60), (10.2, 3), (lifted, 90)), level, _course((lifted, 90), (12.4, 10))])
    return bus, _course((0.0, 60), (250.0, 3), (2300.0, 90 + lasts), (2000.0, 90), (0.0, 10))


@SYSTEMS
def test_a_bus_that_stands_still_at_each_of_its_levels_only_reads_low(volts: int) -> None:
    assert _found(_flown(volts, *_two_levels(0.0))) == {"reading_fault"}
    sinking = _found(_flown(volts, *_two_levels(0.5)))
    assert "alternator_offline" in sinking
    assert "reading_fault" not in sinking


@SYSTEMS
def test_a_bus_that_no_source_was_seen_to_lift_is_no_matter_of_the_voltmeter(volts: int) -> None:
    assert "reading_fault" not in _found(_flown(volts, *_two_levels(0.0, lifted=12.3)))


@SYSTEMS
@pytest.mark.parametrize(("climbs", "told"), [(0.0, True), (0.9, False)])
def test_a_bus_held_at_once_above_an_empty_rest_is_off_by_as_much(volts: int, climbs: float, told: bool) -> None:
    """An empty battery takes all that its alternator gives, and the bus climbs with its charge."""
    lasts = 4800
    bus = np.concatenate([_course((10.8, 60)), 12.4 - climbs + climbs * np.arange(lasts) / lasts, _course((10.9, 12))])
    review = _flown(volts, bus, _course((0.0, 60), (2300.0, lasts), (0.0, 12)), every=6)
    faults = [fault for fault in review.flight.reading_faults if fault.kind == "offset"]
    assert bool(faults) == told
    assert ("output_short" in _found(review)) == (not told)
    for fault in faults:
        assert fault.value == pytest.approx(-1.7 * volts / 14.0, abs=0.03 * volts / 14.0)


@SYSTEMS
@pytest.mark.parametrize(("later", "rose"), [(15.4, False), (14.6, True)])
def test_what_a_regulator_holds_again_after_idling_is_no_rise_before_a_loss(
    volts: int, later: float, rose: bool
) -> None:
    bus = _course((15.55, 200), (12.6, 300), (later, 2400)) * volts / 14.0
    online = _course((1.0, 200), (0.0, 300), (1.0, 2400)) > 0.5
    trace = Trace(time=np.arange(bus.size, dtype=np.float64), bus_voltage=bus)
    assert run_up(trace, online, 200, 500, Limits(volts, {})).rose is rose


def _recharged(tau_min: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Volts, speed, output: 9 A of charge decay under 12 A of load, a light to minute 12 and a heater that cycles."""
    lasts = 4200
    t = np.arange(lasts, dtype=np.float64)
    charge = 0.6 + 9.0 * np.exp(-t / (60.0 * tau_min))
    load = 12.0 + 7.0 * (t < 720.0) + 5.0 * (t % 75.0 < 35.0)
    output = np.concatenate([np.zeros(63), charge + load, np.zeros(30)])
    output = (output + np.random.default_rng(4).normal(0.0, 0.1, output.size)).round(1)
    bus = _course((12.5, 60), (10.4, 3), (14.1, lasts), (12.9, 30))
    return bus, _course((0.0, 60), (250.0, 3), (2300.0, lasts), (0.0, 30)), output


@SYSTEMS
def test_a_stretch_between_loads_shows_how_slowly_the_battery_comes_back(volts: int) -> None:
    def judged(tau_min: float) -> FlightReview:
        bus, speed, output = _recharged(tau_min)
        air = np.full(bus.size, 18.0)
        return _flown(volts, bus, speed, alternator_current=output, outside_air_temperature=air)

    slow = judged(15.0)
    assert slow.flight.recharge is not None
    assert slow.flight.recharge.plain is not None
    assert slow.flight.recharge.plain.tau == pytest.approx(900.0, rel=0.1)
    (finding,) = [one for one in slow.findings if one.name == FindingName.SLOW_RECHARGE]
    assert finding.evidence["low"].value < 15.0 < 60.0
    assert "slow_recharge" not in _found(judged(3.0))


@SYSTEMS
def test_one_long_loss_among_many_does_not_make_them_an_alternators_limit(volts: int) -> None:
    """After the long one the battery holds its alternator at its limit for a minute; after the others not."""
    limits, held = Limits(volts, {}), 14.0
    for short_ones, kind in ((2, OUTPUT_LIMITED), (int(limit_value("short_unlike")) + 1, OFFLINE)):
        parts = [((14.0, 0.5), 200), ((12.5, -9.0), 400), ((13.2, 15.0), 60)]
        spans = [(200, 600)]
        for number in range(short_ones):
            first = 660 + 240 * number + 200
            parts += [((14.0, 2.0), 200), ((12.5, -9.0), 40)]
            spans.append((first, first + 40))
        parts.append(((14.0, 2.0), 200))
        bus = _course(*((level[0], rows) for level, rows in parts)) * volts / 14.0
        flow = _course(*((level[1], rows) for level, rows in parts))
        trace = Trace(time=np.arange(bus.size, dtype=np.float64), bus_voltage=bus, battery_current=flow)
        outages = [AlternatorOutage(first, end, OFFLINE) for first, end in spans]
        told = _short_ones(trace, np.ones(bus.size, dtype=np.bool_), outages, held * volts / 14.0, limits)
        assert {outage.kind for outage in told} == {kind}


@pytest.mark.parametrize("begins", np.linspace(12.05, 12.25, 20))
def test_the_steps_of_a_coarse_voltmeter_are_no_loads_between_which_a_sinking_battery_stands(begins: float) -> None:
    """By 0.1 V a row, without noise: a battery alone that sinks by 0.2 V/h sinks, whatever its readings do."""
    sinks = begins - 0.2 * np.arange(3600) / 3600.0
    bus = np.concatenate([_course((12.5, 120), (10.2, 3), (14.1, 900)), sinks])
    table = {
        "time_s": np.arange(bus.size, dtype=np.float64),
        "bus_voltage": bus.round(1),
        "engine_speed": _course((0.0, 120), (250.0, 3), (2300.0, 4500)),
    }
    (review,) = review_log(log_from(pl.DataFrame(table))).flights
    assert _found(review) == {"alternator_offline"}
