"""Several engines, recorders that begin anew, and power that goes off: where a flight begins and what a crank is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from msgspec import structs

from analyzer.findings.finding import Finding
from analyzer.flights.cut import cut_flights
from analyzer.logs.log import Log
from analyzer.review import FlightReview, review_log
from analyzer.simulator import Ammeter, Recorder, Scenario, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY
from tests.made import log_from

TWO_KINDS = (Ammeter(kind="battery"), Ammeter(kind="alternator"))


def twin(scenario: Scenario, stopped: tuple[float, float] | None = None, engine: int = 1) -> pl.DataFrame:
    """A twin whose alternators share the load; one engine may be shut down between two times."""
    table = simulate(replace(scenario, ammeters=TWO_KINDS)).table
    whole, rpm = pl.col("alternator_current"), pl.col("engine_speed")
    out = pl.col("time_s").is_between(*stopped) if stopped else pl.lit(value=False)
    own = pl.when(out).then(0.0).otherwise(0.5 * whole)
    other = pl.when(out).then(whole).otherwise(0.5 * whole)
    still = pl.when(out).then(0.0).otherwise(rpm)
    first, second = ((own, still), (other, rpm)) if engine == 1 else ((other, rpm), (own, still))
    return table.with_columns(
        alternator_current=first[0],
        alternator_current_2=second[0],
        engine_speed=first[1],
        engine_speed_2=second[1],
    )


def named(review: FlightReview, name: str) -> list[Finding]:
    return [finding for finding in review.findings if finding.name == name]


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("engine", [1, 2])
@pytest.mark.parametrize("known", [True, False])
def test_a_twin_that_shuts_one_engine_down_in_the_air_is_one_sound_flight(volts: int, engine: int, known: bool) -> None:
    table = twin(healthy(3, volts), (1500.0, 2100.0), engine)
    if not known and engine == 2:
        return  # without its engine speed a silent alternator cannot be told from a lost one
    if not known:
        table = table.drop("engine_speed_2")
    (review,) = review_log(log_from(table)).flights
    assert named(review, "alternator_offline") == []
    assert review.measures["start_attempts"].value == 1
    assert review.measures["offline_time"].value == 0.0


def test_an_alternator_lost_beside_its_own_running_engine_is_still_found() -> None:
    table = twin(healthy(3, 28), (1500.0, 2100.0), engine=2).with_columns(engine_speed_2=pl.col("engine_speed"))
    (review,) = review_log(log_from(table)).flights
    (lost,) = named(review, "alternator_offline")
    assert lost.evidence["alternator"].value == 2
    assert lost.from_s == pytest.approx(1500.0, abs=10.0)


@pytest.mark.parametrize("volts", [14, 28])
def test_both_alternators_of_a_twin_lost_at_once_are_one_loss(volts: int) -> None:
    scenario = FAULTY["alternator_lost"](1, volts, "battery")
    table = twin(scenario)
    (review,) = review_log(log_from(table)).flights
    assert len(named(review, "alternator_offline")) == 1
    # and where one comes back two minutes before the other
    table = twin(FAULTY["trip_with_reset"](1, volts, "battery"))
    (review,) = review_log(log_from(table)).flights
    before = {finding.name for finding in review.findings}
    back_s = named(review, "overvoltage_trip")[0].to_s
    late = pl.col("time_s").is_between(back_s - 5.0, back_s + 65.0)
    both = pl.col("alternator_current") + pl.col("alternator_current_2")
    table = table.with_columns(
        alternator_current=pl.when(late).then(both).otherwise(pl.col("alternator_current")),
        alternator_current_2=pl.when(late).then(0.0).otherwise(pl.col("alternator_current_2")),
    )
    (review,) = review_log(log_from(table)).flights
    assert {finding.name for finding in review.findings} == before, [f.says for f in review.findings]


def test_a_turbine_runs_by_its_core_speed_and_its_long_start_is_no_weak_crank() -> None:
    scenario = healthy(4, 28)
    table = simulate(scenario).table
    time, rpm = table["time_s"].to_numpy(), table["engine_speed"].to_numpy()
    begin = float(time[np.argmax(rpm >= 400.0)])
    run_up = np.clip((time - begin + 30.0) / 30.0 * 55.0, 0.0, 55.0)
    core = np.where(time < begin, run_up, np.where(rpm >= 400.0, 60.0 + rpm / 100.0, 0.0))
    volts = np.where((run_up > 0.0) & (time < begin), 17.0 + 0.2 * (time - begin + 30.0), table["bus_voltage"])
    table = table.drop("engine_speed").with_columns(engine_speed_percent=pl.Series(core), bus_voltage=pl.Series(volts))
    (review,) = review_log(log_from(table)).flights
    assert review.flight.run.basis == "core speed"
    assert review.flight.trace.time[review.flight.run.start] == pytest.approx(begin, abs=5.0)
    assert review.measures["start_attempts"].value == 1
    assert review.measures["cranking_time"].value == pytest.approx(28.0, abs=3.0)
    assert named(review, "weak_cranking") == []


def anew(table: pl.DataFrame, at_s: float, pause_s: float) -> Log:
    """A recorder that loses its power at a time and begins anew after a pause."""
    kept = table.filter(~pl.col("time_s").is_between(at_s, at_s + pause_s, closed="left"))
    row = int(np.searchsorted(kept["time_s"].to_numpy(), at_s))
    return structs.replace(log_from(kept), breaks=(row,))


@pytest.mark.parametrize("volts", [14, 28])
def test_a_recorder_that_begins_anew_in_the_air_keeps_one_flight_and_tells_of_its_power(volts: int) -> None:
    (review,) = review_log(anew(simulate(healthy(5, volts)).table, 1800.0, 120.0)).flights
    (told,) = review.findings
    assert (told.name, told.severity) == ("reading_fault", "advisory")
    assert "bus power may have been lost" in told.says
    assert told.evidence["unrecorded_s"].value == pytest.approx(121.0, abs=2.0)


def test_no_measure_goes_across_a_restart_in_the_air() -> None:
    table = twin(FAULTY["alternator_lost"](1, 14, "battery"))
    (whole,) = review_log(log_from(table)).flights
    (lost,) = named(whole, "alternator_offline")
    (review,) = review_log(anew(table, lost.from_s + 100.0, 300.0)).flights
    assert len(review.flight.run.restarts) == 1
    restart = review.flight.run.restarts[0]
    assert not [gap for gap in review.flight.outages if gap.first < restart < gap.end]
    assert whole.measures["offline_time"].value is not None
    assert review.measures["offline_time"].value == pytest.approx(whole.measures["offline_time"].value - 5.0, abs=0.4)


def test_a_restart_after_which_the_battery_is_recharged_is_the_bus_that_let_go() -> None:
    table = simulate(healthy(6, 14)).table
    after = (pl.col("time_s") - 1920.0).clip(lower_bound=0.0)
    charge = pl.when(pl.col("time_s") >= 1920.0).then(15.0 * (-after / 150.0).exp()).otherwise(0.0)
    (review,) = review_log(
        anew(table.with_columns(battery_current=pl.col("battery_current") + charge), 1800.0, 120.0)
    ).flights
    (told,) = named(review, "unsteady_connection")
    assert told.severity == "caution"


def test_a_recorder_that_begins_anew_on_the_ground_begins_a_flight() -> None:
    table = simulate(healthy(5)).table
    first, second = cut_flights(anew(table, 300.0, 60.0))
    assert first.to_s < 300.0
    assert second.begins_running
    assert second.from_s >= 360.0


def test_a_start_is_not_taken_from_another_power_cycle() -> None:
    table = simulate(healthy(5)).table
    caught = float(table["time_s"].to_numpy()[np.argmax(table["engine_speed"].to_numpy() >= 400.0)])
    (review,) = review_log(anew(table, caught - 0.5, 30.0)).flights
    assert review.flight.begins_running
    for name in ("start_attempts", "cranking_voltage", "resting_voltage", "prestart_discharge"):
        assert review.measures[name].value is None


def test_a_recording_joined_to_one_that_ends_with_the_engine_running_is_another_flight() -> None:
    table = simulate(healthy(5)).table
    cut = table.filter(pl.col("time_s") < 1800.0)
    both = pl.concat([cut, table.with_columns(pl.col("time_s") + 1800.0)])
    first, second = review_log(structs.replace(log_from(both), breaks=(cut.height,))).flights
    assert first.flight.rows == cut.height
    assert second.flight.from_s == 1800.0
    (alone,) = review_log(log_from(table)).flights
    for name in ("resting_voltage", "start_attempts", "cranking_voltage", "recharge_time_constant"):
        assert second.measures[name].value == pytest.approx(alone.measures[name].value)


def test_volts_that_run_on_down_to_nothing_are_power_switched_off_and_no_crank() -> None:
    table = simulate(healthy(5)).table
    time = pl.col("time_s")
    off = pl.when(time.is_between(20.0, 26.0)).then(0.0).when(time == 19.0).then(7.0).otherwise(pl.col("bus_voltage"))
    (sound,) = cut_flights(log_from(table))
    (review,) = review_log(log_from(table.with_columns(bus_voltage=off))).flights
    assert review.measures["start_attempts"].value == 1
    assert review.flight.trace.time[review.flight.first_crank] == sound.trace.time[sound.first_crank]


@pytest.mark.parametrize("fades_s", [1.0, 3.0])
def test_a_supply_that_empties_itself_slowly_is_no_crank_either(fades_s: float) -> None:
    table = simulate(replace(healthy(5), recorder=Recorder(period_s=0.5))).table
    seconds = table["time_s"].to_numpy()
    fall = 11.0 * np.exp(-(seconds - 20.0) / fades_s)
    volts = np.where((seconds >= 20.0) & (seconds < 50.0), fall, table["bus_voltage"].to_numpy()).round(1)
    (review,) = review_log(log_from(table.with_columns(bus_voltage=pl.Series(volts)))).flights
    assert review.measures["start_attempts"].value == 1


@pytest.mark.long(keep=3)
@pytest.mark.parametrize("period", [0.25, 0.5, 1.0, 2.0])
@pytest.mark.parametrize("spins_up_s", [0.0, 1.5])
def test_the_time_of_cranking_is_true_on_the_whole_at_every_period(period: float, spins_up_s: float) -> None:
    errors = []
    for seed in range(1, 7):
        for volts in (14, 28):
            scenario = healthy(seed, volts)
            flight = simulate(replace(scenario, recorder=Recorder(period_s=period)))
            table = flight.table
            start = flight.truth.engine_start_s
            assert start is not None
            since = table["time_s"] - start  # the engine has caught, and takes a while to run up
            slow = pl.Series(np.where(since.is_between(0.0, spins_up_s), 250.0, table["engine_speed"]))
            flight = replace(flight, table=table.with_columns(engine_speed=slow))
            (review,) = review_log(as_log(flight)).flights
            measure, truth = review.measures["cranking_time"], flight.truth.measures["cranking_time"].value
            assert measure.value is not None
            assert measure.low is not None
            assert measure.high is not None
            assert truth is not None
            assert measure.low <= truth <= measure.high
            errors.append(measure.value - truth)
    assert abs(np.mean(errors)) < 0.1 + 0.25 * period
