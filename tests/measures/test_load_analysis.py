"""The load-analysis form: the worked example, what ends early, and never from more charge than is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.measures.battery_life import Share
from analyzer.measures.load_analysis import form_minutes, load_analysis
from analyzer.measures.planning import Preset
from analyzer.reports.plan_text import form_words

GIVEN = Preset(
    load=20.0, capacity=30.0, charge=Share(1.0, 0.9, 1.0), temperature=25.0, condition=Share(0.9, 0.5, 1.0),
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
    """80 % of 30 Ah are 1440 A-min; less 5 at 20 A and 10 at 28 A (landing light 8 A), 1060 over 16 A: 66.3 min."""
    form = load_analysis(GIVEN, (), ("electric_pump",))
    assert (form.normal, form.cruise, form.landing) == (20.0, 16.0, 28.0)
    assert form.charge == pytest.approx(24.0, abs=0.02)
    assert form.minutes == pytest.approx(15.0 + 1060.0 / 16.0, abs=0.1)
    assert form.met


def test_it_never_begins_with_more_than_is_known() -> None:
    for less in (
        replace(GIVEN, condition=Share(0.5, 0.3, 0.8)),
        replace(GIVEN, charge=Share(0.6, 0.5, 0.7)),
        replace(GIVEN, temperature=0.0),
    ):
        assert load_analysis(less).charge < load_analysis(GIVEN).charge
    assert load_analysis(replace(GIVEN, temperature=40.0)).charge == pytest.approx(
        load_analysis(GIVEN).charge, abs=0.02
    )
    assert load_analysis(replace(GIVEN, condition=Share(1.0, 0.9, 1.0))).share == 0.8


def test_night_counts_and_the_landing_light_once() -> None:
    dark = load_analysis(GIVEN, ("position_lights", "landing_light"))
    assert dark.normal == dark.landing == pytest.approx(20.0 + 5.5 + 8.0)
    assert dark.minutes < load_analysis(GIVEN).minutes


def test_words_say_that_it_is_an_estimate() -> None:
    words = form_words(load_analysis(GIVEN))
    assert "30 min are met by this estimate; it is no finding of compliance." in words
    small = load_analysis(replace(GIVEN, capacity=10.0))
    assert not small.met
    assert f"{int(small.minutes)} min. 30 min are not met by this estimate" in form_words(small)
    assert load_analysis(replace(GIVEN, load=None)) is None
    assert load_analysis(replace(GIVEN, charge=None)) is None
