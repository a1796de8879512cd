"""Numbers that pilots write, at the edges from which they mean something, and one step beside them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.squawk.told import symptoms

#: What is written around a number; the number just outside and just inside, and what the one inside means.
EDGES = {
    # above 14.5 V at most and a quarter of a volt for a cold day; up to what overvoltage protection lets pass
    "high, 14 V": ("Voltmeter reads {}", "14.74", "14.75", "voltage_high"),
    "high, 14 V, its end": ("Voltmeter reads {}", "17.50", "17.49", "voltage_high"),
    "high, 28 V": ("Voltmeter reads {}", "29.49", "29.50", "voltage_high"),
    "high, 28 V, its end": ("Voltmeter reads {}", "35.00", "34.99", "voltage_high"),
    # more than any system has: the gauge itself
    "absurd": ("Voltmeter reads {}", "39.9", "40.0", "gauge_jumps"),
    # 13 and 26 V, where low-voltage warnings are set (AC 43.13-1B, 11-35b)
    "low, 14 V": ("bus at {} in cruise", "13.0", "12.9", "charging_light"),
    "low, 28 V": ("bus at {} in cruise", "26.0", "25.9", "charging_light"),
    "low, 28 V, its end": ("bus at {} in cruise", "17.9", "18.0", "charging_light"),
    # half empty at rest: 12.24 and 24.48 V (BCI's table)
    "flat, 14 V": ("battery {} V before start", "12.24", "12.23", "dead_battery"),
    "flat, 28 V": ("battery {} V before start", "24.48", "24.47", "dead_battery"),
    # half a volt below the 9.6 V that are asked for while cranking
    "cranking": ("{} volts while cranking", "9.1", "9.0", "slow_crank"),
    # charging stops at 50 degrees, 122 Fahrenheit
    "hot, Celsius": ("battery {} C", "49", "50", "battery_heat"),
    "hot, Fahrenheit": ("battery {} F", "121", "122", "battery_heat"),
    # against what was usual: half a volt at 14 V and a whole one at 28 V
    "below the usual": ("14.1 volts normally, {} today", "13.7", "13.6", "charging_light"),
    "above the usual": ("13.9 volts normally, {} today", "14.3", "14.4", "voltage_high"),
    "below the usual at 28 V": ("27.6 volts normally, {} today", "26.7", "26.6", "charging_light"),
    # two meters that lie half a volt apart
    "two meters": ("Panel voltmeter reads 12.4, handheld meter shows {}", "12.8", "12.9", "gauge_jumps"),
    # readings in a row that go up and down by more than 3 V
    "up and down": ("Voltmeter 14.0, {}, 14.0", "11.0", "10.9", "gauge_jumps"),
}


@pytest.mark.parametrize(("words", "outside", "inside", "symptom"), EDGES.values(), ids=EDGES)
@pytest.mark.parametrize("mark", [".", ","])
def test_a_number_means_something_from_its_edge_on(
    words: str, outside: str, inside: str, symptom: str, mark: str
) -> None:
    """A pilot who writes 14,75 for 14.75 is understood alike; a number one step off is no complaint of that kind."""
    said = {number: symptoms(words.format(number.replace(".", mark))) for number in (outside, inside)}
    assert symptom in said[inside]
    assert symptom not in said[outside]


@settings(max_examples=25)
@given(
    st.sampled_from(["Voltmeter reads {}", "bus at {} in cruise", "battery {} V before start", "volts went to {}"]),
    st.integers(600, 4500),
)
def test_a_comma_is_a_point_in_any_reading(words: str, hundredths: int) -> None:
    whole, part = divmod(hundredths, 100)
    point, comma = (symptoms(words.format(f"{whole}{mark}{part:02d}")) for mark in ".,")
    assert point == comma


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("altitude 1,500 ft, all good", []),  # a group of thousands is no reading
        ("at 2,350 rpm the voltmeter reads 14.1", []),
        ("amps at +8 normally, now +16", ["ammeter_high"]),  # twice as many, and eight more
        ("amps at +9 normally, now +16", []),  # not twice as many
        ("amps at +5 normally, now +12", []),  # twice as many, but seven more
        ("amps at +20 normally, now +5", ["ammeter_discharge"]),  # a quarter of what is usual
        ("amps at +20 normally, now +6", []),
        ("ammeter at -2 A", ["ammeter_discharge"]),
        ("ammeter shows 199 A", []),
        ("ammeter shows 200 A", ["gauge_jumps"]),
    ],
)
def test_amperes_are_held_against_the_usual_ones_and_groups_of_thousands_are_none(
    words: str, wanted: list[str]
) -> None:
    assert symptoms(words) == wanted
