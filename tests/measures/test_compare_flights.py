"""Two flights held against each other: what differs, and at which moment they are laid over."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.measures.measure import MEASURES, Measure, measured, not_measurable
from analyzer.review import FlightReview
from analyzer.service.compare_flights import Align, compare_flights, compare_measures, moment_of
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.healthy import engine_already_running, healthy
from analyzer.simulator.system_faults import SetPoint
from tests.flown import judged

NONE = {name: not_measurable(name, "left out") for name in MEASURES}


def pair(one: Measure, other: Measure, *, alike: bool = True) -> bool | None:
    (found,) = compare_measures(NONE | {one.name: one}, NONE | {other.name: other}, alike=alike)
    return found.differs


@pytest.mark.parametrize(
    ("low", "high", "differs"), [(13.9, 14.1, False), (14.11, 14.3, True), (13.5, 13.89, True), (14.1, 14.2, False)]
)
def test_a_measure_differs_where_the_intervals_have_nothing_in_common(low: float, high: float, differs: bool) -> None:
    name = "regulated_voltage"
    assert pair(measured(name, 14.0, 13.9, 14.1), measured(name, low, low, high)) is differs


def test_what_hangs_on_the_systems_voltage_is_not_held_against_another() -> None:
    volts, minutes = "regulated_voltage", "recharge_time_constant"
    assert pair(measured(volts, 14.0, 13.9, 14.1), measured(volts, 28.0, 27.9, 28.1), alike=False) is None
    assert pair(measured(minutes, 3.0, 2.5, 3.5), measured(minutes, 9.0, 8.0, 9.9), alike=False) is True
    assert pair(measured(volts, 14.0, 13.9, 14.1), not_measurable(volts, "no voltmeter")) is None


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return healthy(881, 14, "battery")


@pytest.fixture(scope="module")
def flown(scenario: Scenario) -> FlightReview:
    return judged(scenario)


def test_a_set_point_that_is_higher_differs_and_another_flight_of_the_same_does_not(
    scenario: Scenario, flown: FlightReview
) -> None:
    again = judged(replace(scenario, seed=882))
    higher = judged(scenario.with_fault(SetPoint(volts=0.4)))

    def differs(other: FlightReview) -> set[str]:
        return {one.name for one in compare_flights(flown, other, Align.START).measures if one.differs}

    assert "regulated_voltage" not in differs(again)
    assert "regulated_voltage" in differs(higher)
    assert "cranking_time" not in differs(higher)


def test_the_moments_are_the_simulators(scenario: Scenario, flown: FlightReview) -> None:
    flight, times = flown.flight, simulate(scenario).scenario.times
    begins = simulate(scenario).log_begins_s
    assert moment_of(flight, Align.POWER_UP) == 0.0
    assert moment_of(flight, Align.START) == pytest.approx(times.engine_start_s - begins, abs=4.0)
    assert moment_of(flight, Align.TAKE_OFF) == pytest.approx(times.take_off_s - begins, abs=20.0)


def test_a_log_without_its_start_is_laid_over_from_its_first_row_and_says_so(flown: FlightReview) -> None:
    late = judged(engine_already_running(883, 14, "battery"))
    two = compare_flights(flown, late, Align.START)
    assert two.unaligned == "the second log begins with the engine running, so both begin at their first rows"
    assert two.origins == (flown.flight.from_s, late.flight.from_s)
    assert compare_flights(flown, late, Align.TAKE_OFF).unaligned == ""
