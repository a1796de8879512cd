"""The battery's resistance: what is put in must come out, and nothing where the readings do not hold it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from msgspec import structs

from analyzer.flights.reading_faults import ReadingFault
from analyzer.limits import Limits
from analyzer.measures.flight_measures import measure_flight
from analyzer.measures.measure import Measure
from analyzer.measures.resistance import battery_resistance, resistance_at_rest, resistance_seen
from analyzer.review import review_log
from analyzer.simulator import Ammeter, FlightPlan, LoadEvent, Scenario, simulate
from analyzer.simulator.as_log import as_log
from tests.made import log_from, log_of


def measured_in(
    ohm: float = 0.015,
    *,
    scale: int = 1,
    swing: float = 10.0,
    step_v: float = 0.01,
    off_v: float = 0.0,
    off_a: float = 0.0,
    role: str = "battery_current",
    over_v: float = 0.0,
) -> Measure:
    """A battery of plain resistance behind a bus that the alternator leaves for six minutes while loads come and go."""
    rng = np.random.default_rng(5)
    time = np.arange(0.0, 3600.0)
    away = (time >= 1800.0) & (time < 2160.0)
    drawn = 5.0 + swing * ((time // 45.0) % 2.0)
    amps = np.where(away, -drawn, 1.0)
    rest = scale * (12.6 - 1e-4 * np.maximum(time - 1800.0, 0.0)) + over_v * np.exp(
        -np.maximum(time - 1800.0, 0.0) / 6.0
    )
    volts = np.where(away, rest + ohm * amps, 14.1 * scale) + rng.normal(0.0, 0.01, time.size) + off_v
    table = pl.DataFrame(
        {
            "time_s": time,
            "bus_voltage": np.round(volts / step_v) * step_v,
            role: np.round(amps + rng.normal(0.0, 0.2, time.size) + off_a, 1),
            "engine_speed": np.full(time.size, 2350.0),
        }
    )
    [review] = review_log(log_from(table)).flights
    return review.measures["battery_resistance"]


@pytest.mark.parametrize(("ohm", "scale"), [(0.008, 1), (0.015, 1), (0.06, 1), (0.02, 2), (0.1, 2)])
def test_resistance_put_in_comes_out(ohm, scale):
    found = measured_in(ohm, scale=scale)
    assert found.value == pytest.approx(1000.0 * ohm, rel=0.05)
    assert found.low < 1000.0 * ohm < found.high
    assert found.high - found.low < 0.6 * found.value
    assert "1 to 10 s" in found.note


def test_constant_errors_of_the_meters_cancel():
    found = measured_in(off_v=-0.2, off_a=-0.8)
    assert found.value == pytest.approx(15.0, rel=0.05)


def test_the_end_of_charging_overvoltage_is_no_resistance():
    found = measured_in(over_v=2.0)
    assert found.value == pytest.approx(15.0, rel=0.1)


@pytest.mark.parametrize(
    ("given", "because"),
    [
        ({"role": "alternator_current"}, "the battery's current is not recorded"),
        ({"swing": 2.0}, "the battery's current varied by less than"),
        ({"step_v": 0.1}, "too little for the voltmeter's resolution"),
    ],
)
def test_what_does_not_hold_it_is_refused_with_the_reason(given, because):
    found = measured_in(**given)
    assert found.value is None
    assert because in found.because


def with_loads(seed: int, volts: int, factor: float, period_s: float) -> Scenario:
    """Loads that come and go while the pilot waits to start."""
    rng = np.random.default_rng(seed)
    scenario = Scenario(
        name="waiting",
        seed=seed,
        nominal_voltage=volts,
        plan=FlightPlan(before_start_s=260.0, outside_c=float(rng.uniform(-5.0, 35.0)), cruise_min=10.0),
        ammeters=(Ammeter(noise_a=float(rng.uniform(0.05, 0.3)), lag_s=float(rng.uniform(0.0, 0.8))),),
    )
    loads = scenario.loads
    places = rng.uniform(15.0, 200.0, 5)
    loads = replace(
        loads,
        events=tuple(
            LoadEvent(name="light", amps=float(rng.uniform(6.0, 14.0)), from_s=at, to_s=at + 40.0) for at in places
        ),
    )
    return replace(
        scenario,
        loads=loads,
        battery=replace(scenario.battery, resistance_factor=factor),
        voltmeter=replace(scenario.voltmeter, resolution_v=0.02),
        recorder=replace(scenario.recorder, period_s=period_s),
    )


def test_intervals_hold_the_truth_of_simulated_flights_and_are_no_wider_than_they_need():
    inside, halves = [], []
    for seed in range(16):
        volts, factor = (14, 28)[seed % 2], (1.0, 1.8)[seed // 2 % 2]
        flight = simulate(with_loads(900 + seed, volts, factor, (0.5, 1.0, 2.0, 5.0)[seed % 4]))
        true = flight.truth.measures["battery_resistance"]
        [review] = review_log(as_log(flight)).flights
        found = review.measures["battery_resistance"]
        assert found.value is not None, found.because
        inside.append(found.low <= true.high and found.high >= true.low)
        halves.append((found.high - found.low) / 2.0 / found.value)
    assert sum(inside) >= 15
    assert np.median(halves) < 0.25


def test_a_resting_voltage_is_brought_to_no_load_by_the_measured_resistance():
    scenario = with_loads(77, 14, 2.5, 1.0)
    [review] = review_log(log_of(scenario)).flights
    found, rest = review.measures["battery_resistance"], review.measures["resting_voltage"]
    flight = review.flight
    rows = flight.trace.time[: flight.first_crank] <= flight.trace.time[0] + 60.0
    shown = float(np.median(flight.trace.bus_voltage[: flight.first_crank][rows]))
    drawn = -float(np.median(flight.trace.battery_current[: flight.first_crank][rows]))
    assert found.value > 20.0
    assert rest.value == pytest.approx(shown + drawn * found.value / 1000.0, abs=0.002)


@pytest.mark.parametrize("scale", [1, 2])
def test_flashes_that_a_lagging_ammeter_shows_at_other_rows_do_not_flatten_it(scale: int) -> None:
    """Rows 6 s apart: one either side of a load's step shows a flash in the bus, another in the current."""
    rng, time, ohm = np.random.default_rng(8), np.arange(0.0, 5400.0, 6.0), 0.015 * scale
    away = (time >= 1800.0) & (time < 3600.0)
    load = 6.0 + 8.0 * ((time // 60.0) % 2.0)
    flashes = [4.0 * (rng.random(time.size) < 0.3) for _ in range(2)]
    rest = scale * (12.5 - 1e-4 * np.maximum(time - 1800.0, 0.0))
    volts = np.where(away, rest - ohm * (load + flashes[0]), 14.1 * scale) + rng.normal(0.0, 0.005, time.size)
    amps = np.where(away, -(load + flashes[1]), 1.0) + rng.normal(0.0, 0.2, time.size)
    table = {"time_s": time, "bus_voltage": volts.round(2), "battery_current": amps.round(1)}
    [review] = review_log(log_from(pl.DataFrame(table | {"engine_speed": np.full(time.size, 2350.0)}))).flights
    found = review.measures["battery_resistance"]
    assert found.low is not None
    assert found.high is not None
    assert found.low < 1000.0 * ohm < found.high
    assert found.value == pytest.approx(1000.0 * ohm, rel=0.2)


@pytest.mark.parametrize("scale", [1, 2])
def test_more_than_turns_any_engine_is_no_resistance_but_a_spent_battery(scale: int) -> None:
    most = Limits(14 * scale, {})["resistance_most"] / 1000.0
    assert "it was spent" in (measured_in(1.1 * most, scale=scale, swing=6.0).because or "")
    assert measured_in(0.9 * most, scale=scale, swing=6.0).value == pytest.approx(900.0 * most, rel=0.05)


@pytest.mark.parametrize("scale", [1, 2])
def test_behind_a_voltmeter_that_reads_low_by_the_loads_there_is_none(scale: int) -> None:
    (review,) = review_log(log_of(with_loads(77, 14 * scale, 2.5, 1.0))).flights
    path = ReadingFault("path", "bus_voltage", 0.0, 1.0, 1, None, "made")
    behind = structs.replace(review.flight, reading_faults=(path,))
    seen = resistance_seen(behind)
    assert seen.value is not None
    assert battery_resistance(review.flight, seen) == seen
    assert "by what all loads draw" in (battery_resistance(behind, seen).because or "")
    most = review.flight.limits["resistance_most"]
    assert resistance_at_rest(behind, seen) == seen
    spent = structs.replace(seen, value=1.1 * most, low=most, high=1.2 * most)
    assert resistance_at_rest(behind, spent).value is None, "a spent battery's fall lifts no rest"
    assert resistance_at_rest(behind, structs.replace(spent, value=0.9 * most)).value == 0.9 * most
    rests = measure_flight(behind)["resting_voltage"], measure_flight(review.flight)["resting_voltage"]
    assert rests[0].value == rests[1].value, "a rest is corrected by all that the voltmeter sees"
