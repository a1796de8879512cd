"""Rules on the battery just inside and just outside each of their limits, on one flight with its measures replaced."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from msgspec import structs

from analyzer.findings.battery import (
    discharge_before,
    low_resting_voltage,
    recharge_never_settles,
    slow_recharge,
    weak_cranking,
)
from analyzer.findings.finding import Finding
from analyzer.findings.regulation import _moved_by_load, regulator_level
from analyzer.findings.signs import _of_the_air
from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import Measure
from analyzer.review import FlightReview
from analyzer.simulator import simulate
from analyzer.simulator.healthy import Volts
from analyzer.simulator.scenarios import FAULTY
from tests.flown import judged

SYSTEMS = pytest.mark.parametrize("volts", [14, 28])


@cache
def base(volts: Volts) -> FlightReview:
    """A flight in 18 degC whose battery comes back slowly; a battery ammeter shows it."""
    scenario = FAULTY["slow_recharge"](5, volts, "battery")
    review = judged(simulate(replace(scenario, plan=replace(scenario.plan, outside_c=18.0))))
    assert review.flight.air_at_start > limit_value("slow_reference")
    return review


def measured(review: FlightReview, **values: float | tuple[float, float, float]) -> dict[str, Measure]:
    """The flight's measures with some others: a value, or a value with its interval."""
    given = {name: one if isinstance(one, tuple) else (one, one, one) for name, one in values.items()}
    return dict(review.measures) | {name: Measure(name, *one) for name, one in given.items()}


def slow(review: FlightReview, tau: float, **values: float | tuple[float, float, float]) -> list[Finding]:
    """What is found with a time constant [min] known to a hundredth."""
    settling = {"recharge_settling_time": 30.0, "resting_voltage": 12.6 * review.flight.limits.scale}
    return slow_recharge(
        review.flight,
        measured(review, **{**settling, "recharge_time_constant": (tau, 0.99 * tau, 1.01 * tau), **values}),
    )


@SYSTEMS
def test_a_slow_recharge_is_told_from_its_limit_on_and_not_below(volts: Volts) -> None:
    review = base(volts)
    limit = limit_value("slow_time_constant")
    assert slow(review, 0.98 * limit, prestart_discharge=0.1) == []
    (found,) = slow(review, 1.05 * limit, prestart_discharge=0.0)
    assert found.severity == "caution"
    assert found.evidence["limit"].value == pytest.approx(limit, abs=0.05)
    unsure = (1.05 * limit, 0.8 * limit, 1.3 * limit)  # the interval reaches below what a battery ammeter makes sure
    assert slow(review, 0.0, recharge_time_constant=unsure, prestart_discharge=0.1) == []


@SYSTEMS
def test_charge_drawn_before_the_start_explains_as_much_of_a_slow_recharge_as_it_is(volts: Volts) -> None:
    """A share of the battery that was drawn allows the limit once more, half of it half as much; without a step."""
    review = base(volts)
    share, usual = Limits(volts, {})["slow_drawn_doubles"], Limits(volts, {})["start_draws"]
    limit, warmer = limit_value("slow_time_constant"), review.flight.air_at_start - limit_value("slow_reference")
    beside = discharge_before(review.flight, measured(review, prestart_discharge=0.0))
    for times in (0.0, 0.5, 1.0, 3.0):
        drawn = usual + times * share - beside
        longest = limit * max(1.0, (1.0 + times) * np.exp(-limit_value("slow_for_cold") * warmer))
        assert slow(review, 0.98 * longest, prestart_discharge=drawn) == []
        (found,) = slow(review, 1.02 * longest, prestart_discharge=drawn)
        assert found.evidence["drawn_before_ah"].value == pytest.approx(usual + times * share, abs=0.02)
        assert found.evidence["limit"].value == pytest.approx(longest, abs=0.05)
        assert (f"a sound one's time constant is up to {longest:.1f} min" in found.says) == (times > 0.0)


@SYSTEMS
def test_a_low_battery_and_one_that_settles_in_time_are_no_slow_recharge(volts: Volts) -> None:
    review, limits = base(volts), Limits(volts, {})
    tau = 1.2 * limit_value("slow_time_constant")
    low = limits["resting_low"]
    assert slow(review, tau, resting_voltage=low - 0.01) == []
    assert len(slow(review, tau, resting_voltage=low + 0.01)) == 1
    assert slow(review, tau, recharge_settling_time=limit_value("slow_settling") - 0.1) == []
    assert len(slow(review, tau, recharge_settling_time=limit_value("slow_settling") + 0.1)) == 1


@SYSTEMS
def test_charge_drawn_counts_the_wait_and_every_second_of_the_starter(volts: Volts) -> None:
    review = base(volts)
    starter = Limits(volts, {})["starter_current"]
    none = discharge_before(review.flight, measured(review, prestart_discharge=0.0, cranking_time=0.0))
    whole = discharge_before(review.flight, measured(review, prestart_discharge=2.0, cranking_time=18.0))
    assert whole - none == pytest.approx(2.0 + 18.0 * starter / 3600.0, abs=1e-6)


@SYSTEMS
@pytest.mark.parametrize("side", ["high", "low"])
def test_a_regulated_voltage_is_judged_by_the_whole_of_its_interval(volts: Volts, side: str) -> None:
    review, limits = base(volts), Limits(volts, {})
    sign = 1.0 if side == "high" else -1.0
    edge = limits[f"regulated_{side}"]
    far = limits["regulated_far_off" if side == "high" else "regulated_far_below"]

    def found(near: float, value: float) -> list[Finding]:
        low, high = sorted((edge + sign * near, edge + sign * (2.0 * value - near)))
        return regulator_level(review.flight, measured(review, regulated_voltage=(edge + sign * value, low, high)))

    assert found(-0.01, 0.1) == []
    (one,) = found(0.01, 0.1)
    assert one.name == f"regulator_{side}"
    assert one.severity == "caution"
    assert one.evidence[f"{side}est"].value == pytest.approx(edge, abs=0.005)
    assert [found(0.01, value)[0].severity for value in (far - 0.02, far + 0.02)] == ["caution", "warning"]


@SYSTEMS
def test_a_rest_is_low_below_its_limit_and_grave_where_no_reading_leaves_it_empty(volts: Volts) -> None:
    review, limits = base(volts), Limits(volts, {})
    low, empty = limits["resting_low"], limits["resting_very_low"]

    def found(value: float, high: float) -> list[Finding]:
        rest = (value, value - 0.1, high)
        return low_resting_voltage(review.flight, measured(review, resting_voltage=rest))

    assert found(low + 0.01, low + 0.1) == []
    (one,) = found(low - 0.01, low + 0.1)
    assert one.severity == "caution"
    assert one.evidence["limit"].value == low
    assert found(empty - 0.1, empty + 0.01)[0].severity == "caution"
    assert found(empty - 0.1, empty - 0.01)[0].severity == "warning"


@SYSTEMS
def test_a_starter_that_turns_for_too_long_is_told_by_the_least_that_it_can_have_been(volts: Volts) -> None:
    review = base(volts)
    longest = limit_value("crank_longest_total")
    levels = {"start_attempts": 4.0}
    sure = measured(review, cranking_time=(longest + 3.0, longest + 0.1, longest + 6.0), **levels)
    unsure = measured(review, cranking_time=(longest + 3.0, longest - 0.1, longest + 6.0), **levels)
    (one,) = weak_cranking(review.flight, sure)
    assert one.severity == "advisory"
    assert one.signs["long_only"]
    assert one.signs["tried_often"]
    assert "4 tries" in one.says
    assert weak_cranking(review.flight, unsure) == []


@SYSTEMS
def test_a_current_never_settles_by_the_least_that_it_can_be(volts: Volts) -> None:
    scenario = FAULTY["never_settles"](5, volts, "battery")
    review = judged(simulate(replace(scenario, plan=replace(scenario.plan, outside_c=15.0))))
    limit, far = Limits(volts, {})["never_settles"], Limits(volts, {})["never_settles_far"]

    def found(value: float, low: float) -> list[Finding]:
        settled = (value, low, 2.0 * value - low)
        return recharge_never_settles(review.flight, measured(review, maintenance_current=settled))

    assert found(limit + 1.0, limit - 0.1) == []
    assert found(limit + 1.0, limit + 0.1)[0].severity == "caution"
    assert found(far + 0.1, limit + 0.1)[0].severity == "warning"


@SYSTEMS
def test_a_rest_under_an_unknown_load_is_judged_as_under_that_of_a_lit_panel(volts: Volts) -> None:
    scenario = FAULTY["slow_recharge"](5, volts, "alternator")
    review, limits = judged(simulate(scenario)), Limits(volts, {})
    lifted = limit_value("panel_load") * limits["assumed_battery_resistance"] / 1000.0
    assert lifted > 0.05

    def found(value: float) -> list[Finding]:
        rest = (value, value - 0.1, value + 0.1)
        return low_resting_voltage(review.flight, measured(review, resting_voltage=rest))

    assert found(limits["resting_low"] - lifted + 0.02) == []
    assert len(found(limits["resting_low"] - lifted - 0.02)) == 1


def test_more_output_lets_the_bus_down_by_the_droop_and_not_up() -> None:
    review = judged(simulate(FAULTY["slow_recharge"](5, 14, "alternator")))
    time = np.array([review.flight.trace.time[0], review.flight.trace.time[-1]])
    trace = review.flight.trace
    ramp = np.linspace(10.0, 30.0, trace.time.size)
    moved = _moved_by_load(structs.replace(review.flight, trace=trace.with_channels(alternator_current=ramp)), time)
    # 20 A through the droop of leads and regulator
    assert moved[1] - moved[0] == pytest.approx(-20.0 * Limits(14, {})["drift_droop"] / 1000.0, rel=0.15)


@pytest.mark.parametrize(("degrees", "hot", "cold"), [(-3.0, False, True), (15.0, False, False), (36.0, True, False)])
def test_the_air_is_hot_or_cold_by_its_own_number(degrees: float, hot: bool, cold: bool) -> None:
    flight = base(14).flight
    air = np.full(flight.trace.time.size, degrees)
    shown = structs.replace(flight, trace=flight.trace.with_channels(outside_air_temperature=air))
    assert _of_the_air(shown) == {"hot": hot, "cold": cold}
