"""What looks like trouble and is none: no finding, or an advisory at the most."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.simulator import LoadEvent, Starting
from analyzer.simulator.healthy import Kind, Volts, healthy
from analyzer.simulator.scenarios import HEALTHY
from tests.flown import judged, names, with_event

SEEDS = (2, 31)


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
