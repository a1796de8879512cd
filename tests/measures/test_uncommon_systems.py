"""Systems that few aircraft have, and instruments that are off: measured all the same, or said why not."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest

from analyzer.aircraft import Aircraft
from analyzer.review import review_log
from analyzer.simulator import Ammeter, Recorder, Scenario, Voltmeter, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import PathResistance
from analyzer.simulator.healthy import healthy, night
from analyzer.simulator.system_faults import OutputFade
from tests.flown import judged, names, the, with_table
from tests.made import log_from


def both_kinds(scenario: Scenario) -> Scenario:
    return replace(scenario, ammeters=(Ammeter(kind="battery"), Ammeter(kind="alternator")))


def test_a_second_bus_beside_the_first_changes_nothing() -> None:
    scenario = healthy(3)
    twin = replace(scenario, recorder=replace(scenario.recorder, second_bus=Voltmeter(offset_v=-0.1)))
    one, two = judged(scenario), judged(twin)
    assert two.flight.trace.bus_voltage_2 is not None
    assert names(two) == names(one) == set()
    assert two.measures["regulated_voltage"] == one.measures["regulated_voltage"]


def test_with_both_kinds_of_ammeter_the_load_and_the_charge_are_both_measured() -> None:
    flight = simulate(both_kinds(healthy(4)))
    review = judged(flight)
    assert names(review) == set()
    for name in ("bus_load", "maintenance_current"):
        truth, measure = flight.truth.measures[name], review.measures[name]
        assert truth.low is not None
        assert truth.high is not None
        assert measure.low is not None
        assert measure.high is not None
        assert measure.low <= truth.high
        assert measure.high >= truth.low


def test_two_alternators_that_share_the_load_are_added_up() -> None:
    flight = simulate(both_kinds(healthy(5, 28)))
    half = (0.5 * pl.col("alternator_current")).round(2)
    review = judged(with_table(flight, alternator_current=half, alternator_current_2=half))
    whole = judged(flight)
    assert names(review) == set()
    assert review.measures["bus_load"].value == pytest.approx(whole.measures["bus_load"].value, abs=0.1)


def test_a_standby_alternator_that_never_works_is_an_advisory_and_says_why() -> None:
    flight = simulate(both_kinds(healthy(6, 28)))
    review = judged(with_table(flight, alternator_current_2=pl.lit(0.0)))
    assert [finding.severity for finding in review.findings] == ["advisory"]
    assert "standby" in review.findings[0].says


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_28_volt_system_is_known_by_its_voltage(seed: int) -> None:
    review = judged(healthy(seed, 28))
    assert review.flight.nominal_voltage == 28
    held = review.measures["regulated_voltage"].value
    assert held is not None
    assert 27.0 < held < 29.0


def test_without_engine_speed_the_start_is_told_by_the_voltage() -> None:
    flight = simulate(healthy(7))
    review = judged(flight, without=("engine_speed", "oil_pressure"))
    assert names(review) == set()
    assert flight.truth.engine_start_s is not None
    start = float(review.flight.trace.time[review.flight.run.start])
    assert start == pytest.approx(flight.truth.engine_start_s, abs=5.0)


def test_without_an_ammeter_what_needs_one_says_so() -> None:
    review = judged(healthy(8, 14, "none"))
    assert review.flight.ammeter.kind == "none"
    assert names(review) == set()
    assert review.measures["regulated_voltage"].value is not None
    for name in ("recharge_time_constant", "maintenance_current", "bus_load"):
        assert review.measures[name].value is None
        assert "ammeter" in (review.measures[name].because or "")


def test_a_zero_error_of_an_alternator_ammeter_is_found_taken_out_and_said() -> None:
    scenario = healthy(9, 28, "alternator")
    shifted = replace(scenario, ammeters=(Ammeter(kind="alternator", offset_a=-0.8),))
    flight = simulate(shifted)
    review = review_log(as_log(flight, untyped=True))
    (judged_flight,) = review.flights
    assert judged_flight.flight.ammeter.kind == "alternator"
    assert judged_flight.flight.ammeter.zero_error == pytest.approx(-0.8, abs=0.15)
    assert any("-0.8 A with the engine stopped" in warning and "taken out" in warning for warning in review.warnings)
    truth, load = flight.truth.measures["bus_load"], judged_flight.measures["bus_load"]
    assert truth.value is not None
    assert load.value == pytest.approx(truth.value, abs=0.8)


@pytest.mark.parametrize("volts", [14, 28])
def test_a_voltmeter_behind_a_resistance_is_a_reading_and_not_the_regulator(volts: int) -> None:
    scenario = night(10, volts, "alternator")  # type: ignore[arg-type]
    review = judged(scenario.with_fault(PathResistance(ohm=0.06 * volts / 14)))
    assert "reading_fault" in names(review)
    assert not names(review) & {"regulator_low", "output_short", "alternator_offline"}
    assert "Path from bus to voltmeter" in the(review, "reading_fault").likely[0].words


def test_a_slow_recorder_says_that_the_lowest_voltage_is_an_upper_bound() -> None:
    scenario = replace(healthy(11), recorder=Recorder(period_s=1.0))
    lowest = judged(scenario).measures["cranking_voltage"]
    assert "or less" in (lowest.note or "")
    assert lowest.value is not None
    assert lowest.low is not None
    assert lowest.value - lowest.low > 0.3


def lost_one_of_two(seconds: tuple[float, float], metered: int) -> pl.DataFrame:
    """A 28 V twin whose first alternator gives nothing between two times; its load moves to the second."""
    table = simulate(replace(healthy(8, 28), ammeters=(Ammeter(kind="alternator"),))).table
    lost, whole = pl.col("time_s").is_between(*seconds), pl.col("alternator_current")
    second = pl.when(lost).then(whole).otherwise(0.5 * whole).round(1)
    table = table.with_columns(alternator_current_2=second)
    table = table.with_columns(alternator_current=pl.when(lost).then(0.0).otherwise(0.5 * whole).round(1))
    return table if metered == 2 else table.drop("alternator_current_2")


@pytest.mark.parametrize(("metered", "two"), [(2, None), (2, 2), (1, 2)])
def test_one_of_two_alternators_lost_moves_its_load_and_is_no_loss_of_the_bus(metered: int, two: int | None) -> None:
    table = lost_one_of_two((1500.0, 2400.0), metered)
    (review,) = review_log(log_from(table), Aircraft(alternators=two)).flights
    (found,) = review.findings
    assert (found.name, found.severity, found.evidence["alternator"].value) == ("alternator_offline", "caution", 1)
    assert found.from_s == pytest.approx(1500.0, abs=10.0)
    assert found.to_s == pytest.approx(2400.0, abs=10.0)
    assert review.measures["offline_time"].value == 0.0
    assert "the other held the bus at" in found.says
    assert any("two alternators" in cause.words for cause in found.likely)
    if metered == 2:
        own, before, then = (found.evidence[key].value for key in ("output_before_a", "other_before_a", "other_then_a"))
        assert own == pytest.approx(before, abs=0.5)
        assert then == pytest.approx(own + before, abs=1.5)
        assert "moved to the other:" in found.says


def test_without_a_word_on_a_second_alternator_one_ammeter_at_zero_is_taken_for_all() -> None:
    (review,) = review_log(log_from(lost_one_of_two((1500.0, 2400.0), 1))).flights
    assert not any("other one" in finding.says for finding in review.findings)
    assert not any("two alternators" in cause.words for finding in review.findings for cause in finding.likely)


def test_what_two_alternators_give_together_tells_whether_they_are_at_their_limit() -> None:
    scenario = replace(healthy(9, 14), ammeters=(Ammeter(kind="alternator"),)).with_fault(
        OutputFade(from_s=1200.0, to_fraction=0.12, over_s=600.0)
    )
    one = simulate(scenario).table
    half = (0.5 * pl.col("alternator_current")).round(2)
    (whole,) = review_log(log_from(one)).flights
    (parted,) = review_log(log_from(one.with_columns(alternator_current=half, alternator_current_2=half))).flights
    assert "output_short" in names(whole)
    assert names(parted) == names(whole)
    amps = the(whole, "output_short").evidence["output_a"].value
    assert the(parted, "output_short").evidence["output_a"].value == pytest.approx(amps, abs=0.2)
