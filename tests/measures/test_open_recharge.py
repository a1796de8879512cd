"""A recharge that idling breaks up, and the load that stands beside the charging current."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from msgspec import structs

from analyzer.flights.flight import Flight
from analyzer.measures.endurance import endurance
from analyzer.measures.measure import Measure, measured
from analyzer.simulator import Ammeter, LoadEvent, Scenario, simulate
from analyzer.simulator.faults import Offset, Sulphated
from analyzer.simulator.healthy import healthy
from tests.flown import judged, names, the, with_event, with_table


def idled_twice(slower: float) -> Scenario:
    """Flown behind an alternator's ammeter: too slow an idle for the alternator, and loads switched as it ends."""
    scenario = healthy(11, 14, "alternator")
    plan = replace(scenario.plan, idle_rpm=640.0, taxi_rpm=1150.0, warm_up_s=150.0, taxi_s=240.0, outside_c=24.0)
    scenario = replace(scenario, plan=plan, alternator=replace(scenario.alternator, cut_in_rpm=720.0))
    off = scenario.times.run_up_s
    scenario = replace(scenario, alternator=replace(scenario.alternator, switched_off=((off, off + 25.0),)))
    light = LoadEvent(name="light", amps=7.0, from_s=off + 25.0, to_s=off + 400.0)
    return with_event(scenario, light).with_fault(Sulphated(slower=slower, charge=0.92))


def test_the_longest_stretch_after_idling_tells_how_slowly_a_battery_comes_back_at_least() -> None:
    flight = simulate(idled_twice(6.0))
    review = judged(flight)
    tau, true = review.measures["recharge_time_constant"], flight.truth.measures["recharge_time_constant"]
    assert tau.value is None
    assert 8.0 < (tau.at_least or 0.0) < (true.high or 0.0)
    recharge = review.flight.recharge
    assert recharge is not None
    assert recharge.plain is not None
    assert 60.0 * (tau.at_least or 0.0) < 0.9 * recharge.plain.tau  # what loads may hide is taken off
    assert f"at least {tau.at_least:.0f} min" in the(review, "slow_recharge").says
    assert "slow_recharge" not in names(judged(idled_twice(1.0)))


def test_a_stretch_after_idling_that_fits_nothing_is_none() -> None:
    """The whole recharge is then what the bus was held in."""
    flight = simulate(idled_twice(6.0))
    amps, time = flight.table["alternator_current"].to_numpy(), flight.table["time_s"].to_numpy()
    flat = 22.0 + np.random.default_rng(3).normal(0.0, 0.1, time.size)
    late = pl.Series(np.where(time > 590.0, flat, amps))
    recharge = judged(with_table(flight, alternator_current=late)).flight.recharge
    assert recharge is not None
    assert (recharge.plain, recharge.plain_s) == (None, 0.0)


@pytest.mark.parametrize("system", [14, 28])
@pytest.mark.parametrize("kinds", [("alternator",), ("battery", "alternator")])
def test_the_load_is_that_of_the_whole_flight_and_not_of_what_is_left_after_the_recharge(
    system: int, kinds: tuple[str, ...]
) -> None:
    """A heater takes 12 A in the later part only, of which the interval holds the median and the mean."""
    scenario = healthy(12, system, "alternator")  # type: ignore[arg-type]
    scenario = replace(scenario, ammeters=tuple(Ammeter(kind=kind) for kind in kinds))  # type: ignore[arg-type]
    times = scenario.times
    late = times.take_off_s + 0.45 * (times.landing_s - times.take_off_s)
    flight = simulate(with_event(scenario, LoadEvent(name="heater", amps=12.0, from_s=late, to_s=times.landing_s)))
    load, true = judged(flight).measures["bus_load"], flight.truth.measures["bus_load"]
    assert (load.low or 99.0) <= (true.high or 0.0)
    assert (load.high or 0.0) >= (true.low or 99.0)
    assert (load.high or 0.0) - (load.low or 99.0) > 3.0


def test_the_load_leaves_out_what_a_battery_ammeter_is_off_at_zero() -> None:
    scenario = replace(healthy(13, 14), ammeters=(Ammeter(kind="battery"), Ammeter(kind="alternator")))
    flight = simulate(scenario)
    wrong = simulate(scenario.with_fault(Offset(channel="ammeter", amount=8.0)))
    true, load = flight.truth.measures["bus_load"], judged(wrong).measures["bus_load"]
    assert (load.low or 99.0) - 0.5 < (true.value or 0.0) < (load.high or 0.0) + 0.5


def test_no_endurance_is_longer_than_the_most_that_the_load_may_be_allows() -> None:
    """Its low end is that of the highest load; behind a battery ammeter that is off at zero its value too."""
    review = judged(healthy(14, 14, "alternator"))
    charge = review.measures["resting_charge"]

    def lasts(flight: Flight, value: float, low: float, high: float) -> Measure:
        return endurance(flight, measured("bus_load", value, low, high), charge)

    wide, usual, most = (lasts(review.flight, *load) for load in ((20.0, 15.0, 30.0), (20.0,) * 3, (30.0,) * 3))
    assert (wide.value, wide.low, wide.high) == (usual.value, most.low, usual.high)
    flight = structs.replace(review.flight, ammeter=structs.replace(review.flight.ammeter, charge_at_rest=5.0))
    off = lasts(flight, 20.0, 15.0, 30.0)
    assert (off.value, off.low) == (most.value, most.low)
    assert "the most that the steady load may be, 30 A" in (off.note or "")
