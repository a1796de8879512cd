"""A fault put into a sound flight must be found; taken out again, the flight must be clear."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.simulator import OvervoltageProtection, Scenario, Starting, simulate
from analyzer.simulator.faults import Stuck
from analyzer.simulator.healthy import Volts
from analyzer.simulator.scenarios import FAULTY
from tests.flown import judged, names

#: Scenarios whose fault a log of one-second rows and a tenth of a volt can always show.
CLEAR = sorted(FAULTY.keys() - {"sense_wire", "volts_stuck"})


def _sound(scenario: Scenario) -> Scenario:
    """The same flight without its faults; a worn battery's hard start goes with it."""
    plan = replace(scenario.plan, starting=Starting(attempts_s=scenario.plan.starting.attempts_s[:1]))
    return replace(scenario, faults=(), protection=OvervoltageProtection(), plan=plan)


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("name", CLEAR)
def test_a_fault_is_found_and_its_removal_clears_the_flight(name: str, volts: Volts) -> None:
    scenario = FAULTY[name](5, volts)
    flight = simulate(scenario)
    review = judged(flight)
    assert flight.truth.faults, "the fault does not show in this flight"
    for fault in flight.truth.faults:
        assert names(review) & {fault.finding, *fault.accepted}, (fault, names(review))
    assert names(review) <= flight.truth.allowed
    assert names(judged(_sound(scenario))) == set()


def test_a_voltmeter_that_freezes_through_the_start_is_found_by_the_charge_that_flows() -> None:
    scenario = FAULTY["volts_stuck"](3, 14)
    frozen = replace(scenario, faults=(Stuck(from_s=20.0, to_s=scenario.times.take_off_s),))
    assert names(judged(frozen)) == {"reading_fault"}
    assert names(judged(_sound(scenario))) == set()
