"""What looks like trouble and is none: no finding, or an advisory at the most."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.review import review_log
from analyzer.simulator import LoadEvent, Starting
from analyzer.simulator.healthy import Kind, Volts, healthy
from analyzer.simulator.scenarios import HEALTHY
from analyzer.simulator.system_faults import FieldOpen
from tests.benchmarks.drawn_flights import drawn
from tests.flown import judged, names, with_event

SEEDS = (2, 31)


@pytest.mark.long(keep=50)
@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("kind", ["battery", "alternator", "none"])
@pytest.mark.parametrize("name", sorted(HEALTHY))
def test_a_sound_aircraft_has_nothing_worse_than_an_advisory(name: str, kind: Kind, volts: Volts, seed: int) -> None:
    review = judged(HEALTHY[name](seed, volts, kind))
    assert [f"{f.name}: {f.says}" for f in review.findings if f.severity != "advisory"] == []
    assert names(review) <= {"alternator_offline"}  # an alternator that is switched on late is worth a word
    assert not names(review) or name == "late_alternator"


@pytest.mark.parametrize("kind", ["battery", "alternator"])
def test_six_cranks_and_the_slow_recharge_that_they_earn_are_no_finding(kind: Kind) -> None:
    scenario = healthy(4, 14, kind)
    starting = Starting(attempts_s=(3.5, 3.5, 3.5, 3.0, 3.0, 2.5), pause_s=20.0)
    review = judged(replace(scenario, plan=replace(scenario.plan, starting=starting)))
    assert names(review) == set()
    assert review.measures["start_attempts"].value == 6.0


@pytest.mark.parametrize("volts", [14, 28])
def test_an_hour_of_radio_before_the_start_is_no_slow_recharge(volts: Volts) -> None:
    scenario = healthy(5, volts, "battery")
    scenario = replace(scenario, plan=replace(scenario.plan, before_start_s=3600.0))
    scenario = with_event(scenario, LoadEvent(name="radio", amps=4.0, from_s=60.0, to_s=3550.0))
    review = judged(scenario)
    assert names(review) == set()
    drawn = review.measures["prestart_discharge"].value
    assert drawn is not None
    assert drawn > 4.0


@pytest.mark.parametrize("kind", ["battery", "alternator"])
def test_flap_and_gear_motors_strobes_and_heaters_together_are_no_loose_connection(kind: Kind) -> None:
    scenario = healthy(6, 14, kind)
    start, up, down = scenario.times.engine_start_s, scenario.times.take_off_s, scenario.times.landing_s
    review = judged(
        with_event(
            scenario,
            LoadEvent(name="strobes", amps=7.0, from_s=start + 60, to_s=down, period_s=1.21, duty=0.25),
            LoadEvent(name="heater", amps=6.0, from_s=up, to_s=down, period_s=61.0, duty=0.5),
            LoadEvent(name="gear", amps=26.0, from_s=up + 35, to_s=up + 42),
            LoadEvent(name="gear", amps=26.0, from_s=down - 190, to_s=down - 184),
            LoadEvent(name="flaps", amps=14.0, from_s=down - 100, to_s=down - 94),
            LoadEvent(name="flaps", amps=14.0, from_s=down - 60, to_s=down - 54),
        )
    )
    assert names(review) == set()


@pytest.mark.parametrize("outside_c", [-10.0, 0.0, 36.0])
def test_a_temperature_compensated_regulator_and_a_sound_battery_are_well_in_any_weather(outside_c: float) -> None:
    scenario = healthy(7, 14, "battery")
    scenario = replace(
        scenario,
        plan=replace(scenario.plan, outside_c=outside_c),
        regulator=replace(scenario.regulator, per_degc_v=-0.012, set_point_v=14.1),
    )
    assert names(judged(scenario)) == set()


def test_circuits_whose_idling_draws_on_the_battery_again_and_again_are_no_slow_recharge() -> None:
    # seven landings with the throttle closed: each time the battery gives 20 A for two minutes
    flight = drawn(90205, "sound")
    assert "circuits" in flight.habits
    assert [finding.name for finding in review_log(flight.log).flights[0].findings] == []


def test_idling_after_the_start_is_not_taken_for_a_settled_charging_current() -> None:
    # ten minutes at an idle that gives nothing to the battery, then a recharge that is truly slow
    flight = drawn(70402, "slow recharge")
    review = review_log(flight.log).flights[0]
    settling, true = review.measures["recharge_settling_time"].value, flight.flight.truth.measures
    assert settling == pytest.approx(true["recharge_settling_time"].value, rel=0.25)
    assert names(review) == {"slow_recharge"}


@pytest.mark.parametrize("seed", range(4))
def test_strobes_that_an_alternator_at_its_limit_lets_through_are_no_loose_connection(seed: int) -> None:
    # a low battery takes all that a small alternator gives, and each flash shows on the bus meanwhile
    scenario = healthy(seed, 14, "none")
    scenario = replace(scenario, alternator=replace(scenario.alternator, rated_a=30.0))
    scenario = replace(scenario, battery=replace(scenario.battery, charge=0.6))
    start, down = scenario.times.engine_start_s, scenario.times.landing_s
    strobes = LoadEvent(name="strobes", amps=8.0, from_s=start + 60, to_s=down, period_s=1.7, duty=0.35)
    assert "unsteady_connection" not in names(judged(with_event(scenario, strobes)))


@pytest.mark.parametrize(("number", "kind"), [(70152, "stuck"), (90494, "runaway"), (90851, "sound")])
def test_pulses_over_an_idling_engine_of_unknown_speed_are_no_loose_connection(number: int, kind: str) -> None:
    flight = drawn(number, kind)
    assert "engine_speed" in flight.without
    assert "unsteady_connection" not in names(review_log(flight.log).flights[0])


@pytest.mark.parametrize("without", [(), ("engine_speed",)])
def test_a_battery_that_is_spent_in_flight_takes_the_meters_with_it_and_is_no_reading_fault(
    without: tuple[str, ...],
) -> None:
    scenario = healthy(10, 28, "battery")
    scenario = replace(scenario, plan=replace(scenario.plan, cruise_min=150.0))
    scenario = replace(scenario, battery=replace(scenario.battery, capacity_ah=11.0)).with_fault(FieldOpen())
    review = judged(scenario, without=without)
    assert names(review) == {"alternator_offline"}


def test_a_regulator_that_drifts_while_the_load_changes_has_no_resistance_before_its_voltmeter() -> None:
    flight = drawn(90689, "drift")
    assert flight.kind == "drift"
    assert names(review_log(flight.log).flights[0]) == {"regulator_drift"}


@pytest.mark.parametrize("number", [130016, 130291])
def test_a_bus_that_climbs_back_after_idling_is_no_lost_alternator_though_no_ammeter_tells(number: int) -> None:
    flight = drawn(number, "sound")
    assert not flight.flight.scenario.ammeters
    assert names(review_log(flight.log).flights[0]) == set()


def test_a_loss_at_fast_engine_speed_stays_a_loss_though_the_bus_climbs_back_slowly_and_no_ammeter_tells() -> None:
    flight = drawn(210338, "nuisance trip")  # tripped in climb, reset after three and a half minutes
    assert flight.kind == "nuisance trip"
    assert names(review_log(flight.log).flights[0]) & {"alternator_offline", "overvoltage_trip"}


@pytest.mark.parametrize(("number", "kind"), [(130594, "dropouts"), (130712, "stuck")])
def test_the_surface_charge_after_a_stop_that_only_the_bus_shows_is_no_drift(number: int, kind: str) -> None:
    assert "regulator_drift" not in names(review_log(drawn(number, kind).log).flights[0])


def test_a_short_check_of_the_alternator_does_not_hide_a_drift() -> None:
    flight = drawn(130409, "drift")
    assert flight.kind == "drift"
    assert "regulator_drift" in names(review_log(flight.log).flights[0])
