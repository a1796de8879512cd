"""The battery off the bus, made from sound flights by what its loss does to the meters; and what only looks like it."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.review import FlightReview
from analyzer.simulator import SimulatedFlight, simulate
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen, Hunting
from tests.flown import causes, judged, names, the, with_table

FROM_S, TO_S = 1500.0, 2600.0


def flown(seed: int, system: int = 14) -> SimulatedFlight:
    return simulate(healthy(seed, system, "battery"))  # type: ignore[arg-type]


def battery_off(seed: int, system: int = 14, swing: float = 0.15, zero_a: float = 0.0) -> FlightReview:
    """The contactor opens from FROM_S to TO_S: the bus grows restless, the ammeter shows its zero and its noise."""
    flight, noise = flown(seed, system), np.random.default_rng(seed)
    seconds = flight.table["time_s"].to_numpy()
    off = (seconds >= FROM_S) & (seconds <= TO_S)
    volts = flight.table["bus_voltage"].to_numpy() + np.where(
        off, noise.normal(0.0, swing * system / 14, off.size), 0.0
    )
    amps = flight.table["battery_current"].to_numpy().copy()
    amps[off] = zero_a + noise.normal(0.0, 0.05, int(off.sum()))
    return judged(with_table(flight, bus_voltage=pl.Series(volts.round(2)), battery_current=pl.Series(amps.round(1))))


@pytest.mark.parametrize("system", [14, 28])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_a_restless_bus_that_the_battery_does_not_answer_is_a_battery_off_the_bus(seed: int, system: int) -> None:
    review = battery_off(seed, system)
    assert "battery_offline" in names(review)
    assert not names(review) & {"regulator_hunting", "unsteady_connection", "alternator_offline", "reading_fault"}
    found = the(review, "battery_offline")
    assert found.severity == "warning"
    assert found.from_s == pytest.approx(FROM_S, abs=75.0)
    assert found.to_s == pytest.approx(TO_S, abs=75.0)
    assert found.evidence["scatter"].value == pytest.approx(0.15 * system / 14, rel=0.1)
    assert found.evidence["duration_min"].value == pytest.approx((TO_S - FROM_S) / 60.0, abs=2.5)
    assert abs(found.evidence["answer_a_per_v"].value) < 1.0
    assert any("contactor" in words for words in causes(review, "battery_offline")[:2])
    assert found.check[0].startswith("Do not fly")
    assert "contactor" in " ".join(found.check[:3])


@pytest.mark.parametrize("seed", [5, 6, 7])
@pytest.mark.parametrize("restless", [True, False])
def test_a_regulator_that_hunts_drives_current_through_the_battery_and_is_no_battery_off_the_bus(
    seed: int, restless: bool
) -> None:
    scenario = healthy(seed, 14, "battery")
    review = judged(scenario.with_fault(Hunting(from_s=FROM_S, volts=0.3, period_s=12.0, restless=restless)))
    assert "battery_offline" not in names(review)
    assert names(review) & {"regulator_hunting", "unsteady_connection"}


@pytest.mark.parametrize("seed", range(10, 18))
def test_an_ammeter_at_zero_alone_is_a_settled_battery(seed: int) -> None:
    flight = flown(seed)
    amps = pl.when(pl.col("time_s") > FROM_S).then(0.0).otherwise(pl.col("battery_current"))
    assert "battery_offline" not in names(judged(with_table(flight, battery_current=amps)))
    assert names(judged(flight)) == set()


def test_a_voltmeter_that_moves_while_a_settled_battery_rests_is_not_the_battery() -> None:
    flight, noise = flown(20), np.random.default_rng(20)
    volts = flight.table["bus_voltage"].to_numpy()
    late = flight.table["time_s"].to_numpy() > FROM_S
    volts = volts + np.where(late, noise.normal(0.0, 0.15, volts.size), 0.0)
    settled = pl.when(pl.col("time_s") > 600.0).then(0.1).otherwise(pl.col("battery_current"))
    review = judged(with_table(flight, bus_voltage=pl.Series(volts.round(2)), battery_current=settled))
    assert "battery_offline" not in names(review)


def vanishing(to_a: float, over_s: float) -> FlightReview:
    """A charging current of 12 A that goes to ``to_a`` within ``over_s`` in cruise."""
    flight = flown(21)
    seconds = flight.table["time_s"].to_numpy()
    course = np.interp(seconds, [FROM_S, FROM_S + over_s], [12.0, to_a])
    running = flight.table["engine_speed"].to_numpy() > 500.0
    amps = np.where(running & (seconds > 900.0), course, flight.table["battery_current"].to_numpy())
    return judged(with_table(flight, battery_current=pl.Series(amps.round(1))))


def test_a_known_current_that_is_gone_in_one_step_is_the_battery_off_the_bus() -> None:
    review = vanishing(0.0, 0.5)
    found = the(review, "battery_offline")
    assert found.evidence["current_before"].value == pytest.approx(12.0, abs=0.2)
    assert found.evidence["current"].value == pytest.approx(0.0, abs=0.1)
    assert found.from_s == pytest.approx(FROM_S, abs=5.0)


@pytest.mark.parametrize(("to_a", "over_s"), [(0.0, 240.0), (3.0, 0.5), (-6.0, 0.5)])
def test_a_current_that_fades_or_goes_elsewhere_is_not(to_a: float, over_s: float) -> None:
    assert "battery_offline" not in names(vanishing(to_a, over_s))


def dead(amps_too: bool) -> FlightReview:
    """Bus, and with it the alternator's ammeter or not, at nothing for a minute in cruise."""
    flight = simulate(healthy(22, 14, "alternator"))
    gone = pl.col("time_s").is_between(FROM_S, FROM_S + 60.0)
    columns = {"bus_voltage": pl.when(gone).then(0.0).otherwise(pl.col("bus_voltage"))}
    if amps_too:
        columns["alternator_current"] = pl.when(gone).then(0.0).otherwise(pl.col("alternator_current"))
    return judged(with_table(flight, **columns))


def test_bus_and_ammeter_dead_together_are_the_battery_and_a_dead_voltmeter_alone_is_a_reading() -> None:
    review = dead(amps_too=True)
    found = the(review, "battery_offline")
    assert found.from_s == pytest.approx(FROM_S, abs=3.0)
    assert found.evidence["duration_min"].value == pytest.approx(1.0, abs=0.1)
    assert found.evidence["voltage_before"].value > 13.0
    assert not names(review) & {"alternator_offline", "reading_fault"}
    alone = dead(amps_too=False)
    assert "battery_offline" not in names(alone)
    assert "reading_fault" in names(alone)


@pytest.mark.parametrize("seed", [31, 32])
def test_a_calm_bus_that_grows_restless_where_no_battery_ammeter_tells_names_the_battery_among_the_first(
    seed: int,
) -> None:
    flight, noise = simulate(healthy(seed, 14, "alternator")), np.random.default_rng(seed)
    seconds = flight.table["time_s"].to_numpy()
    swing = np.where((seconds > FROM_S) & (seconds < TO_S), noise.normal(0.0, 0.25, seconds.size), 0.0)
    review = judged(with_table(flight, bus_voltage=(pl.col("bus_voltage") + pl.Series(swing)).round(2)))
    found = the(review, "regulator_hunting")
    assert found.signs["battery_untold"]
    assert any("contactor" in words for words in causes(review, "regulator_hunting")[:3])


@pytest.mark.parametrize(("then_a", "bus"), [(0.0, True), (1.2, False)])
def test_a_settled_batterys_small_current_that_falls_with_the_bus_tells_too(then_a: float, bus: bool) -> None:
    flight, noise = flown(24), np.random.default_rng(24)
    gone = pl.col("time_s") > FROM_S
    wander = pl.Series(noise.normal(0.0, 0.1, flight.table.height))
    settled = pl.when(pl.col("time_s") > FROM_S - 300.0).then(1.2).otherwise(pl.col("battery_current"))
    amps = (pl.when(gone).then(then_a).otherwise(settled) + wander).round(1)
    review = judged(
        with_table(flight, bus_voltage=pl.when(gone).then(0.0).otherwise(pl.col("bus_voltage")), battery_current=amps)
    )
    assert ("battery_offline" in names(review)) is bus
    assert ("reading_fault" in names(review)) is not bus


def test_a_lost_alternator_is_no_lost_battery() -> None:
    scenario = healthy(23, 14, "battery")
    review = judged(scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 300.0)))
    assert names(review) == {"alternator_offline"}


@pytest.mark.parametrize("step", [2.0, 4.0])
@pytest.mark.parametrize("seed", [31, 32])
def test_a_coarse_ammeter_goes_from_its_smallest_reading_to_none_as_a_current_fades(seed: int, step: float) -> None:
    flight = flown(seed)
    amps, seconds = flight.table["battery_current"].to_numpy(), flight.table["time_s"].to_numpy()
    running = seconds > 300.0
    fading = np.where(running, np.where(seconds < FROM_S, step, 0.0), (amps / step).round() * step)
    review = judged(with_table(flight, battery_current=pl.Series(fading)))
    assert "battery_offline" not in names(review)
    fine = np.where(running & (fading == 0.0), 0.1 * (np.arange(amps.size) % 2), fading + 4.0 * (fading == step))
    assert "battery_offline" in names(judged(with_table(flight, battery_current=pl.Series(fine))))
