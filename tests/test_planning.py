"""The endurance planner's arithmetic, against published capacity tables and by hand."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from analyzer.aircraft import Battery
from analyzer.limits import limit_value
from analyzer.loads import usual_loads
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import Share, battery_life, usual_condition, worn_condition
from analyzer.measures.load_analysis import load_analysis
from analyzer.measures.measure import Measure
from analyzer.measures.planning import Preset, about, load_after, plan, planned_endurance


def planned(load: float, capacity: float, charge: float, temperature: float, condition: float) -> Measure:
    """What a person plans: a charge and a condition in %, each known to within a tenth."""
    return planned_endurance(load, capacity, about(charge), temperature, about(condition))


def test_the_one_hour_rate_carries_the_rated_capacity_for_one_hour() -> None:
    # By definition of the rating: C amperes for one hour at 25 degC, whatever the exponent.
    plan = planned(24.0, 24.0 * temperature_factor(25.0), 100.0, 25.0, 100.0)
    assert plan.value == pytest.approx(60.0, rel=1e-9)


def test_a_quarter_of_the_load_lasts_more_than_four_times_as_long() -> None:
    # Peukert: t = H (C / (I H))^k with k > 1.
    full = planned(20.0, 24.0, 100.0, 25.0, 100.0).value
    quarter = planned(5.0, 24.0, 100.0, 25.0, 100.0).value
    assert full is not None
    assert quarter is not None
    assert quarter > 4.0 * full


@pytest.mark.parametrize("worse", [{"charge": 60.0}, {"temperature": -10.0}, {"condition": 70.0}, {"load": 14.0}])
def test_less_charge_cold_age_and_load_each_shorten_it(worse: dict[str, float]) -> None:
    usual = {"load": 10.0, "capacity": 24.0, "charge": 95.0, "temperature": 20.0, "condition": 90.0}
    best, less = planned(**usual), planned(**(usual | worse))
    assert best.value is not None
    assert less.value is not None
    assert less.value < best.value


def test_the_interval_holds_the_value_and_is_never_a_point() -> None:
    plan = planned(8.0, 26.0, 90.0, 15.0, 85.0)
    assert plan.value is not None
    assert plan.low is not None
    assert plan.high is not None
    assert plan.low < plan.value < plan.high


@pytest.mark.parametrize("field", ["load", "capacity", "charge", "condition"])
def test_nothing_is_said_where_a_value_is_not_above_zero(field: str) -> None:
    usual = {"load": 10.0, "capacity": 24.0, "charge": 95.0, "temperature": 20.0, "condition": 90.0}
    plan = planned(**(usual | {field: 0.0}))
    assert plan.value is None
    says = "nothing may be left in the battery" if field == "charge" else "above zero"
    assert says in (plan.because or "")


def test_shedding_stops_at_what_stays_on_and_never_adds() -> None:
    assert load_after(20.0, [], [4.0, 3.0], 9.0) == pytest.approx(13.0)
    assert load_after(20.0, [], [8.0, 8.0], 9.0) == pytest.approx(9.0)
    assert load_after(6.7, [], [], 7.0) == pytest.approx(6.7)
    assert load_after(10.0, [5.0, 2.0], [], 9.0) == pytest.approx(17.0)


@pytest.mark.parametrize("nominal", [14, 28])
def test_the_usual_loads_are_loads_and_some_are_for_the_night(nominal: int) -> None:
    loads = usual_loads(nominal)
    assert all(load.amps > 0.0 for load in loads)
    assert 0 < sum(load.night for load in loads) < len(loads)


def test_a_28_volt_aircraft_needs_fewer_amperes_for_the_same_equipment() -> None:
    for low, high in zip(usual_loads(14), usual_loads(28), strict=True):
        assert high.amps < low.amps


def test_each_end_of_the_interval_comes_from_its_own_charge_and_condition() -> None:
    # By hand: C = 30 Ah / factor(10 degC) x charge x condition, t = 60 (C / I)^k; at the upper end what is missing
    # shortens the time of the whole battery by its share.
    life = battery_life(10.0, 30.0, Share(0.9, 0.8, 1.0), 10.0, Share(0.9, 0.7, 1.0), None)
    capacity = 30.0 / temperature_factor(10.0)
    ks = (limit_value("peukert_least"), limit_value("peukert_most"))
    assert life.value == pytest.approx(60.0 * (capacity * 0.81 / 10.0) ** limit_value("peukert_typical"), rel=1e-9)
    assert life.low == pytest.approx(min(60.0 * (capacity * 0.56 / 10.0) ** k for k in ks), rel=1e-9)
    assert life.high == pytest.approx(max(60.0 * capacity / 30.0 * (30.0 / 10.0) ** k for k in ks), rel=1e-9)
    short = battery_life(60.0, 30.0, Share(0.9, 0.8, 1.0), 25.0, Share(0.8, 0.7, 0.9), None)
    assert short.high == pytest.approx(60.0 * 0.9 * 0.5 ** ks[0], rel=0.01), "above the one-hour rate too"


def test_a_worn_battery_is_taken_to_last_well_below_a_sound_one_and_never_to_its_whole_rating() -> None:
    sound = planned_endurance(12.0, 30.0, about(100.0), 15.0, usual_condition(None))
    worn = planned_endurance(12.0, 30.0, about(100.0), 15.0, worn_condition())
    assert worn.value is not None
    assert sound.value is not None
    assert worn.value < 0.6 * sound.value
    assert worn.high is not None
    assert sound.high is not None
    assert worn.high < 0.85 * sound.high


def test_a_lithium_battery_in_the_cold_never_lasts_longer_than_in_the_warmth() -> None:
    band, kind = Share(0.25, 0.25, 1.0), Battery.LITHIUM
    warm, cold = (battery_life(20.0, 20.0, band, degrees, usual_condition(kind), kind) for degrees in (25.0, -10.0))
    assert cold.value < 0.8 * warm.value
    assert cold.low < 0.8 * warm.low
    assert warm.value == pytest.approx(60.0 * (20.0 * 0.25 * 0.8 / 20.0) ** limit_value("lithium_peukert"), rel=0.01)


def test_a_load_that_may_be_higher_shortens_the_low_end_alone() -> None:
    kept = (30.0, about(90.0), 20.0, about(80.0))
    sure, more, higher = (
        planned_endurance(load, *kept, more=extra) for load, extra in ((10.0, 0.0), (10.0, 5.0), (15.0, 0.0))
    )
    assert (more.value, more.high, more.low) == (sure.value, sure.high, higher.low)
    assert higher.low < sure.low


def test_a_plan_and_the_form_count_with_the_aircrafts_own_loads() -> None:
    # By hand: 10 A as flown, a landing light of 3 A instead of the usual 8 A.
    usual = Preset(
        load=10.0, capacity=30.0, charge=about(90.0), temperature=25.0, condition=about(90.0), battery=None,
        nominal_voltage=14, floor=None, basis={},
    )  # fmt: skip
    own = replace(usual, own_loads={"landing_light": 3.0})
    lit = {given.own_loads.get("landing_light"): plan(given, ["landing_light"], ["strobes"]) for given in (usual, own)}
    assert [case.load for case in lit[None]] == pytest.approx([10.0, 5.0, 18.0, 13.0])
    assert [case.load for case in lit[3.0]] == pytest.approx([10.0, 5.0, 13.0, 8.0])
    assert lit[3.0][2].lasts == planned_endurance(13.0, 30.0, about(90.0), 25.0, about(90.0))
    forms = [load_analysis(given) for given in (usual, own)]
    assert [form.landing for form in forms if form] == pytest.approx([18.0, 13.0])
    assert [one.name for one in own.loads if one.own] == ["landing_light"]
    assert len(own.loads) == len(usual_loads(14))
