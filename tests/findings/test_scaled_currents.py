"""Limits on currents go with the battery's capacity, in one place; what a rule says holds the numbers of the truth."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.aircraft import Aircraft
from analyzer.limits import FOR_EACH_AH, Limits, limit_value, load_limits
from analyzer.review import review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.scenarios import FAULTY

SCALED = [name for name, limit in load_limits().items() if limit.unit in FOR_EACH_AH]


@pytest.mark.parametrize("name", SCALED)
def test_a_limit_for_each_ah_comes_in_amperes_of_this_battery(name: str) -> None:
    own = load_limits()[name].at_14
    assert Limits(14, {})[name] == pytest.approx(own * Limits(14, {})["battery_capacity"])
    assert Limits(28, {"battery_capacity": 12.0})[name] == pytest.approx(own * 12.0)
    with pytest.raises(ValueError, match="battery"):
        limit_value(name)


@pytest.mark.parametrize("volts", [14, 28])
def test_a_current_that_never_settles_is_told_with_its_own_numbers(volts: int) -> None:
    flight = simulate(FAULTY["never_settles"](5, volts, "battery"))
    true = flight.truth.measures["maintenance_current"]
    review = review_log(as_log(flight)).flights[0]
    found = next(one for one in review.findings if one.name == "recharge_never_settles")
    assert true.low is not None
    assert true.high is not None
    assert true.low - 0.5 <= found.evidence["settled_a"].value <= true.high + 0.5
    assert found.evidence["limit"].value == pytest.approx(Limits(volts, {})["never_settles"], abs=0.01)
    settled = found.evidence["settled_a"].value
    large = review_log(as_log(flight), Aircraft(battery_capacity=settled / limit_value_of("never_settles") + 5.0))
    assert "recharge_never_settles" not in {one.name for one in large.flights[0].findings}


def limit_value_of(name: str) -> float:
    """The limit for each Ah."""
    return load_limits()[name].at_14


@pytest.mark.parametrize("volts", [14, 28])
def test_a_weak_crank_is_told_by_what_the_bus_falls_to_and_not_by_its_edges(volts: int) -> None:
    flight = simulate(FAULTY["worn_battery"](5, volts, "battery"))
    course = flight.course
    turning = np.zeros(course.time_s.size, dtype=np.bool_)
    for begin, end in flight.scenario.times.cranks:
        turning |= (course.time_s > begin + 0.5) & (course.time_s < end)
    review = review_log(as_log(flight)).flights[0]
    found = next(one for one in review.findings if one.name == "weak_cranking")
    true = float(np.median(course.bus_v[turning]))
    assert found.evidence["turning_voltage"].value == pytest.approx(true, abs=0.35 * volts / 14)
    assert found.evidence["lowest_voltage"].value <= found.evidence["turning_voltage"].value
