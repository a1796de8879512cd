"""The load-analysis form: the worked example, what ends early, and never from more charge than is known."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from msgspec import structs

from analyzer.aircraft import Battery
from analyzer.measures.battery_life import CapacityTest, Share, condition_by_test, usual_condition
from analyzer.measures.load_analysis import LoadAnalysis, form_minutes, load_analysis
from analyzer.measures.planning import Preset, plan
from analyzer.reports.plan_text import form_words

GIVEN = Preset(
    load=20.0, capacity=30.0, charge=Share(1.0, 1.0, 1.0), temperature=25.0, condition=Share(0.9, 0.85, 1.0),
    battery=None, nominal_voltage=14, floor=None, basis={},
)  # fmt: skip


def test_the_form_ends_where_the_charge_does() -> None:
    """60 A: 5 min take 5 Ah, 10 min of landing 10 Ah."""
    assert form_minutes(2.0, 60.0, 30.0, 60.0) == pytest.approx(2.0)
    assert form_minutes(5.0, 60.0, 30.0, 60.0) == pytest.approx(5.0)
    assert form_minutes(10.0, 60.0, 30.0, 60.0) == pytest.approx(10.0)
    assert form_minutes(15.0, 60.0, 30.0, 60.0) == pytest.approx(15.0)
    assert form_minutes(20.0, 60.0, 30.0, 60.0) == pytest.approx(25.0)


def test_a_plan_fills_in_the_form_by_hand() -> None:
    """80 % of 30 Ah are 1440 A-min; less 5 at 20 A and 10 at 28 A (landing light 8 A), 1046.7 over 16 A: 65.4 min.

    28 A out of 24 Ah, above its one-hour rate, take as much as 28 x (28/24)^0.3 = 29.3 A would.
    """
    form = load_analysis(GIVEN, (), ("electric_pump",))
    assert (form.normal, form.cruise, form.landing) == (20.0, 16.0, 28.0)
    assert form.charge == pytest.approx(24.0, abs=0.02)
    assert form.minutes == pytest.approx(15.0 + 1046.7 / 16.0, abs=0.1)
    assert form.met


@pytest.mark.parametrize("load", [4.0, 11.3, 20.0, 40.0, 80.0])
@pytest.mark.parametrize("condition", [Share(0.75, 0.5, 1.0), Share(0.95, 0.9, 1.0)])
@pytest.mark.parametrize("battery", [None, Battery.LITHIUM])
def test_the_form_never_outlasts_the_plan_at_its_cruise_load(
    load: float, condition: Share, battery: Battery | None
) -> None:
    given = structs.replace(
        GIVEN, load=load, capacity=14.6, charge=Share(0.87, 0.75, 0.95), condition=condition, temperature=-5.0,
        battery=battery, load_more=1.5,
    )  # fmt: skip
    for night, shed in (((), ()), (("position_lights", "strobes"), ()), (("strobes",), ("transponder",))):
        form, case = load_analysis(given, night, shed), plan(given, night, shed)[-1]
        assert form.cruise == pytest.approx(case.load)
        assert form.minutes <= case.lasts.low + 1e-6


def test_it_never_begins_with_more_than_is_known() -> None:
    for less in (
        structs.replace(GIVEN, condition=Share(0.5, 0.3, 0.8)),
        structs.replace(GIVEN, condition=Share(0.9, 0.5, 1.0)),
        structs.replace(GIVEN, charge=Share(0.6, 0.5, 0.7)),
        structs.replace(GIVEN, charge=Share(1.0, 0.9, 1.0)),
        structs.replace(GIVEN, temperature=0.0),
    ):
        assert load_analysis(less).charge < load_analysis(GIVEN).charge
    assert load_analysis(structs.replace(GIVEN, temperature=40.0)).charge == pytest.approx(
        load_analysis(GIVEN).charge, abs=0.02
    )
    assert load_analysis(structs.replace(GIVEN, condition=Share(1.0, 0.9, 1.0))).share == 0.8


def test_the_lower_ends_are_what_counts_by_hand() -> None:
    """24 Ah at 90 % (80 to 100) and 22 A: half worn 9.6 Ah or 576 A-min, less 141 in 5 min and the landing.

    22 A out of 9.6 Ah take as much as 22 x (22/9.6)^0.3 = 28.21 A would, 30 A as 30 x (30/9.6)^0.3 = 42.22: 10 min
    of landing take 422.2, and 12.7 are left over 28.21 A. By the likely 80 % of 90 % 17.28 Ah or 1036.8 A-min and the
    power 0.15: 22.81 and 32.59 A, so that 1036.8 - 114.1 - 325.9 = 596.8 are left over 22.81 A.
    """
    untested = structs.replace(
        GIVEN, load=22.0, capacity=24.0, charge=Share(0.9, 0.8, 1.0), condition=usual_condition(None)
    )
    form = load_analysis(untested)
    assert (form.charge, form.share) == pytest.approx((9.6, 0.4), abs=0.02)
    assert form.minutes == pytest.approx(15.0 + 12.7 / 28.21, abs=0.1)
    assert form.likely == pytest.approx(15.0 + 596.8 / 22.81, abs=0.1)
    assert form.met is None
    assert "Not enough is known to say whether 30 min are met: the likely charge and condition make 41 min;" in (
        form_words(form)
    )


def test_a_test_counts_for_less_as_it_ages() -> None:
    """82 % less 5 % of itself and 2 % a month: 0.779 at once, 0.55 after 350 days; of 80 % charge at the least."""
    today, given = datetime(2026, 6, 1), structs.replace(GIVEN, load=22.0, capacity=24.0, charge=Share(0.9, 0.8, 1.0))
    fresh, aged = (
        load_analysis(structs.replace(given, condition=condition_by_test(tested, today)))
        for tested in (CapacityTest(today - timedelta(days=days), 82.0) for days in (0, 350))
    )
    assert fresh.share == pytest.approx(0.8 * 0.779)
    assert fresh.met
    assert aged.share == pytest.approx(0.8 * (0.779 - 0.02 * 350.0 / 30.4375), abs=1e-3)
    assert aged.met is None


def test_an_assumed_capacity_says_nothing_either_way() -> None:
    for capacity in (30.0, 10.0):
        form = load_analysis(structs.replace(GIVEN, capacity=capacity, capacity_assumed=True))
        assert form.met is None
        assert "Not enough is known to say whether 30 min are met: the rated capacity is assumed;" in form_words(form)


def test_the_worked_example_is_met_where_both_ends_are_known() -> None:
    """Two aircraft equipment installation manuals: 0.75 of 35 Ah at 43.5, 34.0 and 48.1 A last 40.8 min; 30 are met."""
    minutes = form_minutes(0.75 * 35.0, 43.5, 34.0, 48.1)
    form = LoadAnalysis(minutes, minutes, 43.5, 34.0, 48.1, 0.75 * 35.0, 0.75, capacity_assumed=False)
    assert form.minutes == pytest.approx(40.779, abs=1e-3)
    assert form.met


def test_night_counts_and_the_landing_light_once() -> None:
    dark = load_analysis(GIVEN, ("position_lights", "landing_light"))
    assert dark.normal == dark.landing == pytest.approx(20.0 + 5.5 + 8.0)
    assert dark.minutes < load_analysis(GIVEN).minutes


def test_words_say_that_it_is_an_estimate() -> None:
    words = form_words(load_analysis(GIVEN))
    assert "This estimate meets the 30 min; it is not a finding of compliance." in words
    small = load_analysis(structs.replace(GIVEN, capacity=10.0))
    assert small.met is False
    assert f"{int(small.minutes)} min. This estimate does not meet the 30 min" in form_words(small)
    assert load_analysis(structs.replace(GIVEN, load=None)) is None
    assert load_analysis(structs.replace(GIVEN, charge=None)) is None


def test_a_load_that_may_be_higher_shortens_what_is_sure_alone() -> None:
    sure, doubtful = load_analysis(GIVEN), load_analysis(structs.replace(GIVEN, load_more=4.0))
    higher = load_analysis(structs.replace(GIVEN, load=GIVEN.load + 4.0))
    assert sure and doubtful and higher  # noqa: PT018
    assert doubtful.minutes == pytest.approx(higher.minutes)
    assert doubtful.minutes < sure.minutes
    assert doubtful.likely == sure.likely
