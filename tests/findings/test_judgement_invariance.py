"""What must not change a judgement: a later clock, another sampling, the system's voltage, the columns' order,
and a load that is switched on."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs

from analyzer.logs.readings import Readings
from analyzer.review import review_log
from analyzer.simulator import LoadEvent, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from tests.flown import judged, names, with_event, with_table

#: Scenarios that last longer than any sampling tried here.
LASTING = (
    "healthy", "avionics_in_recharge", "touch_and_goes", "slow_recharge", "regulator_high", "regulator_low",
    "regulator_drift", "full_field", "alternator_lost", "alternator_never_on", "overloaded", "left_low",
    "trip_with_reset",
)  # fmt: skip
MAKERS = {**HEALTHY, **FAULTY}
scenarios = st.sampled_from(LASTING)
few = settings(max_examples=8, deadline=None, derandomize=True, database=None)


@few
@given(name=scenarios, seed=st.integers(1, 40), later=st.floats(0.5, 40000.0))
def test_a_shift_in_time_changes_no_finding(name: str, seed: int, later: float) -> None:
    flight = simulate(MAKERS[name](seed))
    shifted = with_table(flight, time_s=pl.col("time_s") + round(later, 3))
    before, after = judged(flight), judged(shifted)
    assert [f.name for f in before.findings] == [f.name for f in after.findings]
    for one, other in zip(before.findings, after.findings, strict=True):
        assert other.from_s - one.from_s == pytest.approx(round(later, 3), abs=1e-6)


@few
@given(name=scenarios, seed=st.integers(1, 40), period=st.sampled_from([0.5, 2.0]))
def test_another_sampling_changes_no_finding(name: str, seed: int, period: float) -> None:
    scenario = MAKERS[name](seed)
    other = replace(scenario, recorder=replace(scenario.recorder, period_s=period))
    # a trip's run-up may fall between two rows; the loss is then what is left to see
    same = {"overvoltage_trip": "alternator_offline"}
    assert {same.get(n, n) for n in names(judged(scenario))} == {same.get(n, n) for n in names(judged(other))}


@few
@given(name=scenarios, seed=st.integers(1, 40))
def test_a_28_volt_aircraft_is_judged_like_a_14_volt_one_with_the_same_troubles(name: str, seed: int) -> None:
    small, large = simulate(MAKERS[name](seed, 14)), simulate(MAKERS[name](seed, 28))
    for flight in (small, large):
        assert names(judged(flight)) <= flight.truth.allowed
        for fault in flight.truth.faults:
            assert fault.optional or names(judged(flight)) & {fault.finding, *fault.accepted}


@few
@given(name=scenarios, seed=st.integers(1, 40), order=st.randoms(use_true_random=False))
def test_the_order_of_columns_changes_nothing(name: str, seed: int, order: object) -> None:
    log = as_log(simulate(MAKERS[name](seed)))
    columns = log.table.columns
    order.shuffle(columns)  # type: ignore[attr-defined]
    turned = structs.replace(log, readings=Readings.of(log.table.select(columns)))
    one, other = review_log(log).flights[0], review_log(turned).flights[0]
    assert one.findings == other.findings
    assert one.measures == other.measures


@few
@given(name=scenarios, seed=st.integers(1, 40), amps=st.floats(2.0, 9.0), share=st.floats(0.1, 0.8))
def test_an_innocent_load_changes_no_finding(name: str, seed: int, amps: float, share: float) -> None:
    scenario = MAKERS[name](seed)
    times = scenario.times
    on = times.take_off_s + share * (times.landing_s - times.take_off_s)
    lit = with_event(scenario, LoadEvent(name="light", amps=amps, from_s=on, to_s=times.landing_s))
    assert names(judged(scenario)) == names(judged(lit))
