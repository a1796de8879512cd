"""Fourteen kinds of trouble that people had, flown from the physics: are finding, causes and checks right?

Each test says what the readings show and what was found in the end. Where readings cannot tell causes apart,
no cause may be called nearly certain, and the ground checks must separate them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from analyzer.aircraft import Aircraft
from analyzer.review import FlightReview, review_log
from analyzer.simulator import (
    Alternator,
    Ammeter,
    OvervoltageProtection,
    Scenario,
    SimulatedFlight,
    Starting,
    simulate,
)
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import LeftLow, ReadingFault, Worn
from analyzer.simulator.healthy import healthy, night
from analyzer.simulator.system_faults import (
    FieldOpen,
    FullField,
    Hunting,
    LooseOutput,
    NuisanceTrip,
    OutputFade,
    SetPoint,
)
from tests.flown import causes, judged, names, the, with_table

#: A cause that readings alone can hardly prove must stay below this.
NOT_PROVEN = 0.6


def case(flown: Scenario | SimulatedFlight) -> FlightReview:
    """The review of a case's flight, in which no finding calls a cause nearly certain."""
    review = judged(flown)
    certain = {
        (finding.name, cause.words)
        for finding in review.findings
        for cause in finding.likely
        if cause.weight >= NOT_PROVEN
    }
    assert certain == set()
    return review


def weight(review: FlightReview, name: str, part: str) -> float:
    """Weight of the causes of a finding whose words hold ``part``."""
    return sum(cause.weight for cause in the(review, name).likely if part in cause.words)


def planned(scenario: Scenario, **changes: object) -> Scenario:
    return replace(scenario, plan=replace(scenario.plan, **changes))  # type: ignore[arg-type]


def among_first(words: list[str], *parts: str, first: int = 3) -> bool:
    return any(part in cause for cause in words[:first] for part in parts)


def test_one_of_two_alternators_that_comes_and_goes_points_to_its_brushes() -> None:
    # A 28 V twin: one alternator's current falls to nothing twice for minutes, the bus stays up on the other.
    # Found: brushes that touched their slip rings only at times.
    scenario = replace(healthy(11, 28), ammeters=(Ammeter(kind="battery"), Ammeter(kind="alternator")))
    flight = simulate(scenario)
    seconds, output = pl.col("time_s"), pl.col("alternator_current")
    lost = seconds.is_between(1500, 2100) | seconds.is_between(3000, 3300)
    half = (0.5 * output).round(1)
    twin = with_table(
        flight,
        alternator_current=pl.when(lost).then(output).otherwise(half),
        alternator_current_2=pl.when(lost).then(0.0).otherwise(half),
    )
    review = case(twin)
    assert names(review) == {"alternator_offline"}
    assert len(review.findings) == 2
    assert the(review, "alternator_offline").evidence["alternator"].value == 2.0
    assert "brushes" in causes(review, "alternator_offline")[0]
    # nothing rose, and it stayed away for longer than a reset takes: hardly the protection
    assert weight(review, "alternator_offline", "Overvoltage sensor") < 0.15
    assert any("rotor is turned by hand" in check for check in the(review, "alternator_offline").check)
    (of_one,) = review_log(as_log(twin), Aircraft(alternators=1)).flights
    assert "alternator_offline" not in names(of_one)  # the fleet file knows of no second one


def test_a_breaker_that_opens_under_the_recharge_of_a_dead_battery_is_named() -> None:
    # Started by hand with a dead battery: the current stays at the alternator's limit, then nothing, in one row.
    # Found: the breaker opened under the recharge; the battery was discharged, not ruined.
    scenario = planned(healthy(12), starting=Starting(attempts_s=(0.3,)), outside_c=18.0)
    scenario = replace(
        scenario, alternator=Alternator(rated_a=60.0), battery=replace(scenario.battery, capacity_ah=34.0)
    )
    off = scenario.times.engine_start_s + 1300.0
    review = case(scenario.with_fault(LeftLow(charge=0.12), FieldOpen(from_s=off)))
    assert "alternator_offline" in names(review)
    assert not names(review) & {"overvoltage_trip", "recharge_never_settles", "slow_recharge", "reading_fault"}
    assert among_first(causes(review, "alternator_offline"), "high current of recharging")
    checks = " ".join(the(review, "alternator_offline").check)
    assert "breaker's rating" in checks
    assert "capacity-test" in checks


def test_drops_before_the_loss_bring_the_output_terminal_to_the_top() -> None:
    # Drops of volts and amperes for an hour, then the alternator is gone for good.
    # Found: the ring terminal of the output lead, fatigued and broken.
    scenario = planned(healthy(13), cruise_min=60.0)
    cruise = scenario.times.cruise_s
    loose = LooseOutput(from_s=cruise, to_s=cruise + 2400.0, every_s=70.0, open_s=2.5)
    review = case(scenario.with_fault(loose, FieldOpen(from_s=cruise + 2500.0)))
    assert {"unsteady_connection", "alternator_offline"} <= names(review)
    assert "regulator_low" not in names(review)
    assert "output lead" in causes(review, "alternator_offline")[0]
    assert any("output" in check and "terminal" in check for check in the(review, "alternator_offline").check[:2])


def test_a_clean_step_down_that_no_reset_brings_back_is_wiring_not_protection() -> None:
    # 14 V to 12 V in one step at steady speed, nothing rose before, nothing came back.
    # Found: a broken connector or field terminal.
    scenario = healthy(14)
    review = case(scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 1000.0)))
    assert names(review) == {"alternator_offline"}
    assert among_first(causes(review, "alternator_offline"), "Field wire")
    assert weight(review, "alternator_offline", "Overvoltage sensor") < 0.1


def test_output_that_sinks_for_twenty_minutes_is_the_belt_before_brushes_and_electronics() -> None:
    # Night and rain: the alternator's current falls slowly at steady speed and the bus sags.
    # Found: a wet belt that slipped.
    scenario = night(15, 14, "alternator")
    fade = OutputFade(from_s=scenario.times.cruise_s + 300.0, to_fraction=0.08, over_s=1200.0)
    review = case(scenario.with_fault(fade))
    assert names(review) & {"output_short", "alternator_offline"}
    assert "overvoltage_trip" not in names(review)
    words = causes(review, "output_short")
    assert "belt" in words[0]
    assert "brushes" in words[1]
    assert "belt's tension" in " ".join(the(review, "output_short").check)


def test_a_low_and_ragged_voltage_with_charge_flowing_puts_the_plug_above_the_regulator() -> None:
    # Low and ragged at cruise speed while some charge flows; a new battery changed nothing.
    # Found: corrosion in the regulator's plug.
    scenario = healthy(16)
    start = scenario.times.engine_start_s
    ragged = Hunting(from_s=start, volts=0.25, period_s=9.0, restless=True)
    review = case(scenario.with_fault(SetPoint(volts=-0.85), ragged))
    assert names(review) & {"regulator_low", "unsteady_connection"}
    assert not names(review) & {"alternator_offline", "weak_cranking", "low_resting_voltage", "slow_recharge"}
    words = causes(review, "regulator_low")
    assert "Plug" in words[0]
    assert not any("Battery" in cause for cause in words)
    assert "corrosion" in " ".join(the(review, "regulator_low").check)


def test_one_weak_start_in_the_cold_with_sound_charging_is_the_battery_with_cold_as_a_share() -> None:
    # Cold: the bus falls far under the starter, 13.9 V from taxi speed up, a sag at 640 rpm.
    # Found: a worn battery; alternator and regulator were sound.
    cold = planned(
        healthy(17), outside_c=-4.0, idle_rpm=640.0, starting=Starting(attempts_s=(4.0, 3.0), turning_ohm=0.045)
    )
    review = case(cold.with_fault(Worn(health=0.4, resistance_factor=2.0)))
    assert names(review) <= {"weak_cranking", "low_resting_voltage"}
    words = causes(review, "weak_cranking")
    assert "Battery worn" in words[0]
    assert among_first(words, "Cold")
    assert "capacity" in " ".join(the(review, "weak_cranking").check)


def test_one_step_and_a_shallow_sag_without_an_ammeter_has_the_output_fuse_among_the_first() -> None:
    # Volts alone are recorded: one step down, then a slow sag.
    # Found: the fuse in the alternator's output had opened.
    scenario = healthy(18, 14, "none")
    review = case(scenario.with_fault(FieldOpen(from_s=scenario.times.take_off_s + 400.0)))
    assert names(review) == {"alternator_offline"}
    assert among_first(causes(review, "alternator_offline"), "Fuse")
    assert any("continuity" in check for check in the(review, "alternator_offline").check[:4])


def test_slow_cranking_with_no_charge_at_all_points_to_the_engine_ground() -> None:
    # The engine turns slowly for half a minute while the bus stays high, and the alternator never takes the bus.
    # Found: no ground strap left between engine and airframe.
    slow = planned(healthy(19), starting=Starting(attempts_s=(9.5, 10.0, 11.0), turning_ohm=0.095, stalled_ohm=0.06))
    review = case(slow.with_fault(FieldOpen()))
    assert {"alternator_offline", "weak_cranking"} <= names(review)
    for name in ("alternator_offline", "weak_cranking"):  # each speaks for the other's cause
        assert among_first(causes(review, name), "ground strap", first=1)
    assert "straps between engine and airframe" in " ".join(the(review, "alternator_offline").check[:3])


def test_a_voltage_that_moves_with_engine_speed_is_no_regulation_at_all() -> None:
    # The bus follows engine speed far above the set point and the current stays high.
    # Found: the regulator passed everything on.
    scenario = replace(healthy(20), protection=OvervoltageProtection(works=False))
    review = case(scenario.with_fault(FullField(from_s=scenario.times.take_off_s)))
    assert "overvoltage" in names(review)
    assert "overvoltage_trip" not in names(review)
    assert the(review, "overvoltage").severity == "warning"
    assert "full field" in causes(review, "overvoltage")[0]
    assert the(review, "overvoltage").check[0].startswith("Do not fly")


def test_the_end_of_a_28_volt_battery_is_no_14_volt_aircraft() -> None:
    # The alternator is lost early, and the complaint comes at the end of the battery, hours later.
    # Found: wiring of the charging system.
    scenario = planned(healthy(21, 28), cruise_min=110.0)
    scenario = replace(scenario, battery=replace(scenario.battery, capacity_ah=17.0))
    lost = scenario.times.take_off_s + 500.0
    review = case(scenario.with_fault(FieldOpen(from_s=lost)))
    assert review.flight.nominal_voltage == 28
    assert names(review) == {"alternator_offline"}
    assert abs(the(review, "alternator_offline").from_s - lost) < 10.0
    drawn = review.measures["offline_discharge"]
    assert drawn.value is not None
    assert drawn.value > 5.0


def test_volts_that_wander_while_amperes_stand_still_are_the_path_to_the_meter() -> None:
    # The recorder's supply sinks from 28 to 19 V for moments; battery and aircraft do not notice.
    # Found: a breaker with resistance between its contacts.
    @dataclass(frozen=True, slots=True, kw_only=True)
    class BadContact(ReadingFault):
        def distort(
            self, readings: dict[str, np.ndarray], channel: str, time_s: np.ndarray, rng: np.random.Generator
        ) -> None:
            for begin in (1500.0, 2200.0, 2900.0, 3400.0):
                rows = (time_s >= begin) & (time_s < begin + 45.0)
                sag = np.interp(time_s[rows], [begin, begin + 25.0, begin + 45.0], [2.5, 8.5, 1.5])
                readings[channel][rows] -= np.round(sag + rng.normal(0.0, 0.5, int(rows.sum())), 1)

    review = case(healthy(22, 28).with_fault(BadContact()))
    assert names(review) <= {"unsteady_connection", "reading_fault"}
    assert names(review)
    for finding in review.findings:
        assert "Path from bus to voltmeter" in finding.likely[0].words
        assert "meter at the battery" in " ".join(finding.check)


def test_a_low_battery_and_no_field_from_the_start_put_ground_and_field_supply_before_the_alternator() -> None:
    # A flat battery and no charge from the first minute on.
    # Found: the regulator stood on a painted surface and had no ground.
    scenario = planned(healthy(23), cruise_min=10.0)
    review = case(scenario.with_fault(LeftLow(charge=0.3), FieldOpen()))
    assert {"low_resting_voltage", "alternator_offline"} <= names(review)
    words = causes(review, "alternator_offline")
    assert among_first(words, "Regulator ground")
    assert not among_first(words, "Alternator itself")
    checks = " ".join(the(review, "alternator_offline").check)
    assert "field terminal" in checks
    assert "regulator's case" in checks


def test_losses_from_a_normal_voltage_that_resets_bring_back_name_the_sensor_beside_a_true_trip() -> None:
    # Abrupt full loss from a normal voltage, back within seconds of a reset, three times.
    # Found: the overvoltage sensor itself, opening when warm.
    scenario = healthy(24)
    cruise = scenario.times.cruise_s
    scenario = replace(scenario, protection=OvervoltageProtection(resets_after_s=(12.0, 20.0, 15.0)))
    review = case(scenario.with_fault(*(NuisanceTrip(from_s=cruise + at) for at in (300.0, 900.0, 1500.0))))
    assert names(review) <= {"alternator_offline", "overvoltage_trip"}
    finding = review.findings[0]
    assert "Overvoltage sensor" in causes(review, finding.name)[0]
    assert "a surge between two rows would not show" in finding.says
    assert "threshold, cold and warm" in " ".join(finding.check)
