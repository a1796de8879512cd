"""Causes and rules know what charges the battery, whose meter it is, and that a switch may be off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analyzer.aircraft import Aircraft, Battery, Source
from analyzer.findings.causes import load_knowledge, weigh_causes
from analyzer.review import FlightReview, review_log
from analyzer.simulator import SimulatedFlight, Starting, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen
from tests.flown import causes, judged, names, the, with_table


def of(aircraft: Aircraft, flight: SimulatedFlight) -> FlightReview:
    (review,) = review_log(as_log(flight), aircraft).flights
    return review


@pytest.mark.parametrize("kind", ["battery", "alternator", "none"])
@pytest.mark.parametrize("seed", [1, 2])
def test_an_alternator_that_never_came_on_may_be_one_that_was_never_switched_on(seed: int, kind: str) -> None:
    review = judged(healthy(seed, 14, kind).with_fault(FieldOpen()))  # type: ignore[arg-type]
    assert any("switch off" in words for words in causes(review, "alternator_offline")[:3])
    first = " ".join(the(review, "alternator_offline").check[:3])
    assert "Ask whether the alternator switch was on" in first


def test_the_check_of_the_likeliest_cause_stands_first() -> None:
    knowledge = load_knowledge()
    for name in ("alternator_offline", "regulator_low", "weak_cranking", "slow_recharge", "output_short"):
        likely, check = weigh_causes(name, {})
        own = {cause.words: cause.checks[0] for cause in knowledge.causes}
        assert list(check[:3]) == [own[cause.words] for cause in likely[:3]]


def test_causes_have_words_of_their_own_and_a_check() -> None:
    knowledge = load_knowledge()
    assert len({cause.words for cause in knowledge.causes}) == len(knowledge.causes)
    for cause in knowledge.causes:
        assert cause.checks
        assert len(cause.words) <= 120


@pytest.mark.parametrize("kind", ["spike", "stuck", "dropout", "offset", "path"])
def test_a_voltmeter_is_never_explained_by_the_ammeters_shunt(kind: str) -> None:
    likely, check = weigh_causes("reading_fault", {kind: True, "voltmeter": True})
    assert likely
    assert not any("mmeter" in cause.words for cause in likely)
    assert not any("shunt" in words for words in check)
    of_amps, _ = weigh_causes("reading_fault", {"offset": True, "voltmeter": False})
    assert "Ammeter's zero" in of_amps[0].words


def test_a_permanent_magnet_source_has_no_brushes_and_no_field() -> None:
    for name in ("alternator_offline", "output_short"):
        usual = " ".join(cause.words for cause in weigh_causes(name, {"slow_fade": True})[0])
        magnets = " ".join(cause.words for cause in weigh_causes(name, {"slow_fade": True}, Source.PERMANENT_MAGNET)[0])
        assert "brushes" in usual
        assert "brushes" not in magnets
        assert "ield wire" not in magnets
    scenario = healthy(3)
    flight = simulate(scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 300.0)))
    review = of(Aircraft(source=Source.PERMANENT_MAGNET), flight)
    assert not any("rushes" in words or "ield wire" in words for words in causes(review, "alternator_offline"))


def test_a_dc_generator_that_gives_nothing_at_middling_speed_is_no_loss() -> None:
    flight = simulate(healthy(4, 14, "battery"))
    seconds = flight.table["time_s"].to_numpy()
    slow = (seconds > 2000.0) & (seconds < 2200.0)
    speed = np.where(slow, 1900.0, flight.table["engine_speed"].to_numpy())
    noise = np.random.default_rng(4).normal(0.0, 1.0, speed.size)
    volts = np.where(slow, 12.4 + 0.02 * noise, flight.table["bus_voltage"].to_numpy())
    amps = np.where(slow, -9.0 + 0.2 * noise, flight.table["battery_current"].to_numpy())
    made = with_table(
        flight, engine_speed=pl.Series(speed), bus_voltage=pl.Series(volts), battery_current=pl.Series(amps)
    )
    assert "alternator_offline" in names(of(Aircraft(), made))
    assert "alternator_offline" not in names(of(Aircraft(source=Source.DC_GENERATOR), made))


@pytest.mark.parametrize("told_by", ["fleet file", "core speed"])
def test_a_turbines_start_of_half_a_minute_is_no_weak_crank(told_by: str) -> None:
    scenario = healthy(5, 28)
    scenario = replace(scenario, plan=replace(scenario.plan, starting=Starting(attempts_s=(33.0,))))
    flight = simulate(scenario)
    assert "weak_cranking" in names(judged(flight))
    if told_by == "fleet file":
        review = of(Aircraft(source=Source.STARTER_GENERATOR), flight)
    else:
        review = judged(with_table(flight, engine_speed_percent=(pl.col("engine_speed") / 25.0)))
    assert "weak_cranking" not in names(review)
    assert not any("impulse coupling" in check for finding in review.findings for check in finding.check)


@pytest.mark.parametrize(("volts", "severity"), [(12.6, None), (12.1, "caution"), (11.2, "warning"), (24.1, "caution")])
def test_a_backup_battery_is_judged_for_itself(volts: float, severity: str | None) -> None:
    flight = simulate(healthy(6, 28))
    review = judged(with_table(flight, backup_voltage=pl.lit(volts)))
    if severity is None:
        assert names(review) == set()
        return
    found = the(review, "low_resting_voltage")
    assert (found.severity, found.evidence["battery"].value) == (severity, 2.0)
    assert found.evidence["resting_voltage"].value == pytest.approx(volts)
    assert "Backup battery" in found.says
    assert "Backup battery" in causes(review, "low_resting_voltage")[0]
    assert review.measures["resting_charge"].value is not None  # the main battery's own
    assert names(review) == {"low_resting_voltage"}


@pytest.mark.parametrize("kind", ["battery", "alternator"])
def test_a_high_rest_with_a_high_set_point_is_the_voltmeter_or_lithium_and_the_fleet_file_decides(kind: str) -> None:
    flight = simulate(healthy(7, 14, kind))  # type: ignore[arg-type]
    high = with_table(flight, bus_voltage=(pl.col("bus_voltage") + 0.75).round(2))
    unknown = judged(high)
    words = causes(unknown, "reading_fault")
    assert "Voltmeter off by a constant" in words[0]
    assert any("lithium" in cause for cause in words[:3])
    assert "no battery rests so high" not in the(unknown, "reading_fault").says
    assert unknown.measures["resting_charge"].value is None
    lead = of(Aircraft(battery=Battery.SEALED), high)
    assert "lithium" not in the(lead, "reading_fault").says
    lithium = of(Aircraft(battery=Battery.LITHIUM), high)
    assert "reading_fault" not in names(lithium)


def test_a_source_whose_current_answers_engine_speed_is_short_and_not_gone() -> None:
    # a permanent-magnet dynamo of 16 A at full speed under 20 A of loads: the battery gives the rest all flight
    noise = np.random.default_rng(8)
    flight = simulate(healthy(8, 14, "battery"))
    seconds, speed = flight.table["time_s"].to_numpy(), flight.table["engine_speed"].to_numpy()
    start = seconds[np.argmax(speed > 500.0)]
    running = (speed > 500.0) & (seconds > start + 30.0)
    amps = np.where(running, 16.0 * speed / 2500.0 - 20.0, flight.table["battery_current"].to_numpy())
    volts = np.where(running, 12.6 + 0.03 * amps - 0.0001 * (seconds - start), flight.table["bus_voltage"].to_numpy())
    made = with_table(
        flight,
        battery_current=pl.Series((amps + noise.normal(0.0, 0.2, amps.size)).round(1)),
        bus_voltage=pl.Series((volts + noise.normal(0.0, 0.01, amps.size)).round(2)),
    )
    review = of(Aircraft(source=Source.PERMANENT_MAGNET), made)
    assert "output_short" in names(review)
    assert "alternator_offline" not in names(review)
    assert "More load" in causes(review, "output_short")[0]


@pytest.mark.parametrize("name", ["low_resting_voltage", "slow_recharge", "weak_cranking", "recharge_never_settles"])
def test_a_lithium_battery_has_no_plates_that_sulphate_and_no_gravity_to_read(name: str) -> None:
    likely, check = weigh_causes(name, {"lithium": True})
    told = " ".join([*(cause.words for cause in likely), *check])
    assert "Battery worn" in told
    assert "sulphat" not in told
    assert "gravity" not in told
    assert "sulphat" in " ".join(cause.words for cause in weigh_causes(name, {})[0])


@pytest.mark.parametrize(("swing_a", "says"), [(0.0, "with the load steady"), (12.0, "alternator output swung")])
def test_a_regulator_hunts_beside_a_load_that_stands_still_or_an_output_that_swings(swing_a: float, says: str) -> None:
    flight = simulate(healthy(3, 14, "alternator"))
    dice = np.random.default_rng(3)
    seconds = flight.table["time_s"].to_numpy()
    late = (seconds > 1500.0) & (seconds < 2600.0)
    volts = flight.table["bus_voltage"].to_numpy() + np.where(late, dice.normal(0.0, 0.25, seconds.size), 0.0)
    calm = np.where(
        late, 20.0 + swing_a * (dice.random(seconds.size) - 0.5), flight.table["alternator_current"].to_numpy()
    )
    table = with_table(flight, bus_voltage=pl.Series(volts.round(2)), alternator_current=pl.Series(calm.round(1)))
    assert says in the(judged(table), "regulator_hunting").says
