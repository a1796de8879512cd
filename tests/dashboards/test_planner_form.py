"""The planner's page takes a capacity that nobody knows as assumed until another one is entered."""

from __future__ import annotations

import json

import pytest
from dash._utils import to_json  # as the page is sent
from msgspec.structs import replace

from analyzer.measures.battery_life import Share
from analyzer.measures.planning import Preset
from dashboards.planner import FIELDS, _field, _fixed, answer

GIVEN = Preset(
    load=5.0, capacity=24.0, charge=Share(0.95, 0.9, 1.0), temperature=25.0, condition=Share(0.8, 0.5, 1.0),
    battery=None, nominal_voltage=14, floor=None, basis={}, capacity_assumed=True,
)  # fmt: skip


@pytest.mark.parametrize(
    ("assumed", "capacity", "said"),
    [
        (True, 24.0, "Not enough is known to say whether 30 min are met: the rated capacity is assumed;"),
        (True, 25.0, "This estimate meets the 30 min;"),
        (False, 24.0, "This estimate meets the 30 min;"),
    ],
)
def test_an_assumed_capacity_stays_assumed_until_another_is_entered(assumed: bool, capacity: float, said: str) -> None:
    fixed = json.loads(to_json(_fixed(replace(GIVEN, capacity_assumed=assumed))))
    assert said in to_json(answer(5.0, capacity, 95.0, 25.0, "", [], [], fixed))


def test_a_number_that_a_field_does_not_take_gives_no_minutes_while_it_is_typed() -> None:
    fixed = json.loads(to_json(_fixed(replace(GIVEN, temperature=70.0))))
    assert "Minutes without the alternator" in to_json(answer(5.0, 24.0, 95.0, 70.0, "", [], [], fixed))
    for asked, said in (
        ((5.0, 24.0, 900, 70.0, ""), "Charge, %: enter 1 to 100."),
        ((5.0, 24.0, 95.0, 70.0, 1000), "Condition, % of rated capacity: enter 1 to 100."),
        ((5.0, 2400, 95.0, 71, ""), "Rated capacity, Ah: enter 1 to 200. Battery temperature, °C: enter -40 to 60."),
        ((-5, 24.0, 95.0, 70.0, ""), "Load, A: enter 0.1 to 300."),
    ):
        told = answer(*asked, [], [], fixed)[0]
        assert told.children == said


def test_what_stands_in_the_empty_field_of_the_condition_is_short_enough_to_be_read_whole() -> None:
    (field,) = [one for one in FIELDS if one[0] == "condition"]
    assert _field(field, None, GIVEN).placeholder == "50 to 100"
    assert "not tested" in field[5]
