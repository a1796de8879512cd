"""A log is cut into engine runs and phases, with and without an engine speed, whole or in pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from msgspec import structs

from analyzer.flights.cut import cut_flights
from analyzer.flights.flight import Flight
from analyzer.logs.log import Log
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.healthy import (
    alternator_check,
    engine_already_running,
    healthy,
    low_idle,
    power_off_rows,
    touch_and_goes,
)
from analyzer.simulator.scenarios import FAULTY
from tests.made import log_from, log_of


def only_flight(scenario: Scenario) -> Flight:
    (flight,) = cut_flights(log_of(scenario))
    return flight


def followed_by(first: pl.DataFrame, second: pl.DataFrame, pause_s: float) -> pl.DataFrame:
    """Two recordings in one log, the second ``pause_s`` seconds after the first."""
    later = second.with_columns(pl.col("time_s") + first["time_s"][-1] + pause_s)
    return pl.concat([first, later], how="diagonal")


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("kind", ["battery", "alternator"])
def test_nominal_voltage_and_ammeter_are_decided_with_a_stated_basis(volts: int, kind: str) -> None:
    table = simulate(healthy(seed=12, volts=volts, ammeter=kind)).table.rename({f"{kind}_current": "ammeter_current"})
    (flight,) = cut_flights(log_from(table))
    assert flight.nominal_voltage == volts
    assert "V" in flight.nominal_basis
    assert flight.ammeter.kind == kind
    assert len(flight.ammeter.basis.split()) > 3


def test_a_28_volt_aircraft_on_a_dying_battery_is_not_taken_for_a_14_volt_one() -> None:
    scenario = FAULTY["alternator_lost"](1, 28, "battery")
    table = simulate(scenario).table
    fade = np.interp(table["time_s"].to_numpy(), [2400.0, table["time_s"][-1]], [0.0, 11.0])
    (flight,) = cut_flights(log_from(table.with_columns(bus_voltage=table["bus_voltage"] - fade)))
    assert np.nanmin(flight.trace.bus_voltage[-200:]) < 15.0
    assert flight.nominal_voltage == 28


def test_engine_start_stop_and_first_crank_are_found_within_two_rows() -> None:
    scenario = healthy(seed=2)
    flight = only_flight(scenario)
    begins = simulate(scenario).log_begins_s
    times = scenario.times
    assert flight.trace.time[flight.run.start] == pytest.approx(times.engine_start_s - begins, abs=2.0)
    assert flight.stop_s == pytest.approx(times.engine_stop_s - begins, abs=2.0)
    assert flight.trace.time[flight.first_crank] == pytest.approx(times.cranks[0][0] - begins, abs=2.0)


def test_phases_tell_the_flight_in_order() -> None:
    names = [phase.name for phase in only_flight(healthy(seed=2)).phases]
    assert names[:2] == ["before_start", "cranking"]
    assert names[-1] == "shutdown"
    assert names.index("recharge") < names.index("steady")


@pytest.mark.parametrize("missing", [("engine_speed",), ("engine_speed", "airspeed"), ("engine_speed", "oil_pressure")])
def test_without_an_engine_speed_the_engine_run_is_still_found(missing: tuple[str, ...]) -> None:
    scenario = healthy(seed=3)
    table = simulate(scenario).table.drop(*missing, strict=False)
    (flight,) = cut_flights(log_from(table))
    (whole,) = cut_flights(log_of(scenario))
    assert flight.trace.time[flight.run.start] == pytest.approx(whole.trace.time[whole.run.start], abs=8.0)
    assert flight.stop_s == pytest.approx(whole.stop_s, abs=40.0)
    assert flight.run.basis != "engine speed"


def test_a_log_that_begins_with_the_engine_running_says_so() -> None:
    flight = only_flight(engine_already_running(seed=1))
    assert flight.begins_running
    assert flight.phases[0].name not in ("before_start", "cranking")


def test_touch_and_goes_are_one_flight() -> None:
    assert only_flight(touch_and_goes(seed=1)).rows > 1000


def test_a_second_start_after_a_pause_is_a_second_flight_and_shares_no_row_with_the_first() -> None:
    table = simulate(healthy(seed=2)).table
    first, second = cut_flights(log_from(followed_by(table, simulate(healthy(seed=4)).table, 900.0)))
    assert first.to_s < second.from_s
    assert first.rows + second.rows == 2 * table.height or first.rows + second.rows > table.height
    assert not second.begins_running


def test_a_stall_and_another_try_within_moments_is_the_same_flight() -> None:
    table = simulate(healthy(seed=2)).table
    stalled = table.with_columns(
        pl.when(pl.col("time_s").is_between(300.0, 340.0))
        .then(0.0)
        .otherwise(pl.col("engine_speed"))
        .alias("engine_speed")
    )
    assert len(cut_flights(log_from(stalled))) == 1


def test_recorders_that_start_anew_while_the_starter_pulls_the_bus_down_do_not_cut_the_start_off() -> None:
    table = simulate(healthy(seed=2)).table
    log = log_from(followed_by(table, table, 4000.0))
    crank = int(np.flatnonzero(table["engine_speed"].to_numpy() > 0)[0])
    broken = structs.replace(log, breaks=(table.height, table.height + crank))
    first, second = cut_flights(broken)
    assert first.rows == table.height
    assert not second.begins_running


def test_the_rows_in_which_power_goes_off_move_no_measure() -> None:
    with_rows = only_flight(power_off_rows(seed=2))
    assert np.nanmin(with_rows.trace.bus_voltage) > 5.0
    assert not [fault for fault in with_rows.reading_faults if fault.channel == "bus_voltage"]


def test_a_ground_run_without_take_off_is_a_flight_too() -> None:
    scenario = healthy(seed=2)
    plan = replace(scenario.plan, climb_min=0.0, cruise_min=0.0, descent_min=0.0)
    (flight,) = cut_flights(log_of(replace(scenario, plan=plan)))
    assert flight.alternator_online.any()


def test_a_log_without_an_engine_run_holds_no_flight() -> None:
    table = simulate(healthy(seed=2)).table
    assert cut_flights(log_from(table.filter(pl.col("time_s") < 40.0))) == []


def test_a_log_of_one_row_or_without_voltage_and_current_holds_no_flight() -> None:
    table = simulate(healthy(seed=2)).table
    assert cut_flights(log_from(table.head(1))) == []
    blank = table.with_columns(bus_voltage=pl.lit(None, dtype=pl.Float64)).drop("battery_current")
    assert cut_flights(log_from(blank)) == []


def test_idling_and_a_check_on_the_ground_are_not_phases_without_an_alternator() -> None:
    for scenario in (low_idle(seed=1), alternator_check(seed=1)):
        names = {phase.name for phase in only_flight(scenario).phases}
        assert "alternator_offline" not in names


def test_a_lost_alternator_is_a_phase() -> None:
    flight = only_flight(FAULTY["alternator_lost"](1, 14, "battery"))
    assert "alternator_offline" in {phase.name for phase in flight.phases}


def test_times_of_a_flight_are_those_of_its_log() -> None:
    table = simulate(healthy(seed=2)).table
    first, second = cut_flights(log_from(followed_by(table, table, 900.0)))
    assert first.from_s == 0.0
    assert second.to_s == pytest.approx(2.0 * float(table["time_s"][-1]) + 900.0)


def typed(log: Log) -> set[str]:
    return {flight.ammeter.kind for flight in cut_flights(log)}


def test_a_header_that_tells_the_kind_of_ammeter_is_believed() -> None:
    assert typed(log_of(healthy(seed=5, ammeter="alternator"))) == {"alternator"}
    assert typed(log_of(healthy(seed=5, ammeter="battery"))) == {"battery"}


def test_without_an_ammeter_there_is_none() -> None:
    table = simulate(healthy(seed=5)).table.drop("battery_current")
    assert typed(log_from(table)) == {"none"}
