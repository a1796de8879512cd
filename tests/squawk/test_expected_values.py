"""What a mechanic is told to expect, against published values; both systems alike."""

from __future__ import annotations

import re

import pytest

from analyzer.limits import load_limits
from analyzer.squawk.known import SYMPTOMS, ToMeasure, load_symptoms

STEPS = [(name, one) for name in SYMPTOMS for one in load_symptoms()[name].measure_first]


def volts_in(words: str) -> list[float]:
    """Numbers before "V" in words, both ends of "12.6 to 12.9 V" among them."""
    ends = re.findall(r"([0-9.]+) to ([0-9.]+) V", words)
    alone = re.findall(r"([0-9.]+) V", words)
    return [float(one) for one in dict.fromkeys([*(n for pair in ends for n in pair), *alone])]


def step_about(name: str, words: str) -> ToMeasure:
    (found,) = [one for one in load_symptoms()[name].measure_first if words in one.what]
    return found


@pytest.mark.parametrize(("name", "one"), STEPS, ids=lambda value: value if isinstance(value, str) else value.what[:40])
def test_levels_of_a_28_volt_system_are_twice_those_of_a_14_volt_one(name: str, one: ToMeasure) -> None:
    at_14, at_28 = (volts_in(one.expected[volts]) for volts in (14, 28))
    assert len(at_14) == len(at_28)
    for low, high in zip(at_14, at_28, strict=True):
        # drops along a wire are what the current makes them, and gauges' tolerances need not double
        assert high == pytest.approx(2.0 * low) if low >= 1.0 else low <= high <= 2.0 * low


@pytest.mark.parametrize(
    ("name", "words"), [("slow_crank", "at rest, surface charge gone"), ("dead_battery", "at its posts at rest")]
)
def test_a_full_battery_rests_where_its_cells_do(name: str, words: str) -> None:
    # Open-circuit voltage of six cells, specific gravity + 0.84 to + 0.845 V a cell (common practice): 12.63 to 12.66 V
    # at 1.265, 12.84 to 12.87 V at 1.300; rested BCI table: 12.65 V at 1.265
    low, high = volts_in(step_about(name, words).expected[14])[:2]
    assert low == pytest.approx(6 * (1.265 + 0.84), abs=0.05)
    assert high == pytest.approx(6 * (1.300 + 0.845), abs=0.05)


def test_a_half_empty_battery_is_that_of_the_rested_table() -> None:
    # BCI rested table: 12.24 V at half charge
    half = volts_in(step_about("dead_battery", "at its posts at rest").expected[14])[2]
    assert half == pytest.approx(12.24, abs=0.05)


def test_a_cranking_battery_holds_what_load_testers_ask_of_it() -> None:
    # 9.6 V for six cells is the usual floor of a load test at 21 degC (common practice, from memory)
    assert volts_in(step_about("slow_crank", "while cranking, warm").expected[14]) == [9.6]


def test_the_light_and_the_idle_agree_with_the_limit() -> None:
    light = load_limits()["low_voltage"]
    idle = step_about("charging_light", "Bus voltage at idle").expected
    assert volts_in(idle[14])[0] == light.at_14
    assert volts_in(idle[28])[0] == light.at_28


@pytest.mark.parametrize("name", SYMPTOMS)
def test_no_symptom_types_the_regulated_band_by_itself(name: str) -> None:
    for one in load_symptoms()[name].measure_first:
        for volts, words in one.expected.items():
            assert not any(13.3 * volts / 14 < value < 15.0 * volts / 14 for value in volts_in(words))
