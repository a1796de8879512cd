"""A voltmeter that reads a volt or two below the truth, and nothing else to tell: the aircraft is not accused."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.review import FlightReview
from analyzer.simulator import simulate
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen
from tests.flown import judged, names, the, with_table


def read_low(seed: int, system: int, by: float, lost_after: float | None = None) -> FlightReview:
    scenario = healthy(seed, system, "none")  # type: ignore[arg-type]
    if lost_after is not None:
        scenario = scenario.with_fault(FieldOpen(from_s=scenario.times.take_off_s + lost_after))
    flight = simulate(scenario)
    return judged(with_table(flight, bus_voltage=(pl.col("bus_voltage") - by * system / 14).round(2)))


@pytest.mark.parametrize("system", [14, 28])
@pytest.mark.parametrize("by", [1.1, 1.5, 2.0])
@pytest.mark.parametrize("seed", [41, 42, 43])
def test_a_sound_aircraft_behind_it_is_not_accused_and_its_battery_is_not_judged(
    seed: int, by: float, system: int
) -> None:
    review = read_low(seed, system, by)
    assert not names(review) & {"alternator_offline", "output_short", "low_resting_voltage", "regulator_low"}
    assert names(review) == {"reading_fault"}
    assert the(review, "reading_fault").evidence["reading"].value == pytest.approx(
        -by * system / 14, abs=0.4 * system / 14
    )
    assert "Voltmeter" in the(review, "reading_fault").likely[0].words
    for name in ("resting_charge", "endurance"):
        assert review.measures[name].value is None
    assert review.flight.alternator_on_row is not None


@pytest.mark.parametrize("system", [14, 28])
@pytest.mark.parametrize("seed", [44, 45])
def test_an_alternator_that_is_really_lost_behind_it_is_found(seed: int, system: int) -> None:
    review = read_low(seed, system, 1.4, lost_after=500.0)
    lost = the(review, "alternator_offline")
    takeoff = healthy(seed, system, "none").times.take_off_s  # type: ignore[arg-type]
    assert lost.from_s == pytest.approx(takeoff + 500.0, abs=15.0)
    assert "low_resting_voltage" not in names(review)


def hovering(dips: int, depth: float) -> FlightReview:
    """A flight whose bus stands just where carrying ends, and falls for half a minute now and then."""
    flight = simulate(healthy(46, 14, "none"))
    seconds = flight.table["time_s"].to_numpy()
    after = seconds > 700.0
    volts = flight.table["bus_voltage"].to_numpy()
    low = np.zeros(seconds.size, dtype=bool)
    for dip in range(dips):
        low |= (seconds > 900.0 + 150.0 * dip) & (seconds < 940.0 + 150.0 * dip)
    held = float(np.median(volts[after]))
    volts = np.where(low, volts - depth, np.where(after & (seconds < 890.0), volts, volts))
    assert held > 13.0
    return judged(with_table(flight, bus_voltage=pl.Series(volts.round(2))))


def test_falls_too_shallow_for_a_loss_are_none_and_many_deep_ones_are_told_once() -> None:
    assert "alternator_offline" not in names(hovering(6, 0.45))
    review = hovering(6, 1.6)
    lost = [finding for finding in review.findings if finding.name == "alternator_offline"]
    assert len(lost) == 1
    assert lost[0].evidence["times"].value == 6.0
    assert lost[0].evidence["duration_min"].value == pytest.approx(6 * 40.0 / 60.0, abs=0.5)
    assert lost[0].from_s == pytest.approx(900.0, abs=5.0)
    assert lost[0].to_s == pytest.approx(1690.0, abs=5.0)


def stepping(seed: int, system: int, a_per_v: float) -> FlightReview:
    """A bus that reads lower four times for three minutes in cruise, a battery current that answers by ``a_per_v``."""
    scenario = healthy(seed, system, "battery")  # type: ignore[arg-type]
    flight, begins = simulate(scenario), scenario.times.cruise_s + 120.0
    since = flight.table["time_s"].to_numpy() - begins
    low = (since >= 0.0) & (since < 1600.0) & (since % 400.0 < 180.0)
    fall = np.where(low, 0.6 * system / 14, 0.0)
    return judged(
        with_table(
            flight,
            bus_voltage=(pl.col("bus_voltage") - pl.Series(fall)).round(2),
            battery_current=(pl.col("battery_current") + 1.0 - pl.Series(a_per_v * fall)).round(1),
        )
    )


@pytest.mark.parametrize("system", [14, 28])
@pytest.mark.parametrize(("a_per_v", "path"), [(0.0, True), (20.0, False)])
def test_a_bus_that_steps_while_the_battery_stands_aside_is_the_voltmeters_path(
    system: int, a_per_v: float, path: bool
) -> None:
    review = stepping(51, system, a_per_v)
    faults = [fault for fault in review.flight.reading_faults if fault.kind == "path"]
    assert bool(faults) is path
    if path:
        assert not names(review) & {"regulator_drift", "regulator_low"}
        assert "Path from bus to voltmeter" in the(review, "reading_fault").likely[0].words
