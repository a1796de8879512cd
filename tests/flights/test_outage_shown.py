"""What an outage shows, read as a mechanic reads it, by hand; a row a second."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from msgspec.structs import asdict

from analyzer.flights.alternatives import Setting, _measured, _shown, _values
from analyzer.flights.outage_kinds import OFFLINE, OUTPUT_LIMITED, AlternatorOutage
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

ROWS = 1000


def course(usual: float, *parts: tuple[int, int, float]) -> Floats:
    values = np.full(ROWS, usual)
    for first, end, level in parts:
        values[first:end] = level
    return values


def setting(**channels: Any) -> Setting:
    """Five minutes of a low bus in flight: 12.8 V for 20 s, 12.6 V, and 12.4 V in the last third."""
    bus = course(14.0, (400, 420, 12.8), (420, 600, 12.6), (600, 700, 12.4))
    every, fast = np.ones(ROWS, dtype=np.bool_), np.ones(ROWS, dtype=np.bool_)
    fast[640:700] = False
    trace = Trace(time=np.arange(float(ROWS)), bus_voltage=bus, **channels)
    return Setting(trace, every, fast, 300, True, 14.0, 12.5, Limits(14, {"battery_capacity": 24.0}))


OUTAGE = AlternatorOutage(400, 700, OUTPUT_LIMITED)
METERS = {
    "engine_speed": np.full(ROWS, 2300.0),
    "battery_current": course(1.0, (400, 700, -6.0)),
    "alternator_current": course(20.0, (400, 700, 12.0)),
}


def test_what_a_stretch_shows_is_read_off_its_readings() -> None:
    read = asdict(_measured(setting(**METERS), OUTAGE, 3))
    assert np.isnan(read.pop("at_power"))
    assert read == pytest.approx({
        "lasts": 300.0, "bus": 12.6, "lowest": 12.4, "sank": 0.4, "fell": 1.2, "current": -6.0, "output": 12.0,
        "highest": 20.0, "output_before": 20.0, "times": 3, "place": 1, "speed": 0.8,
    })  # fmt: skip


def test_and_told_in_words() -> None:
    at = setting(**METERS)
    assert _shown(at, _measured(at, OUTAGE, 3)) == {
        "lasts": "5 min", "bus": "12.6 V", "lowest": "12.4 V", "full": "12.7 V", "held": "14.0 V", "rest": "12.5 V",
        "from_rest": "0.1 V above", "sank": "sinks by 0.4 V", "fell": "falls by 1.2 V", "current": "gives 6.0 A",
        "output": "12 A", "highest": "20 A", "output_before": "20 A", "times": "3 times", "place": "it is in flight",
        "fast": "80 %",
    }  # fmt: skip


def test_volts_are_shares_of_what_the_alternator_lifts_the_bus_by() -> None:
    # by 1.35 V from a full battery's 12.65 V to 14 V
    at = setting(**METERS)
    values = _values(at, OUTAGE, _measured(at, OUTAGE, 3))
    del values["taken_for"], values["at_power"]
    assert values == pytest.approx({
        "lasts": 2.47712, "height": -0.05 / 1.35, "lowest": -0.25 / 1.35, "above_rest": 0.1 / 1.35, "sank": 0.4 / 1.35,
        "fell_at_once": 1.2 / 1.35, "times": 3.0, "place": 1.0, "given": -0.25, "speed": 0.8, "output": 0.6,
        "output_kept": 0.6,
    }, abs=1e-5)  # fmt: skip


@pytest.mark.parametrize(("first", "end", "place"), [(100, 300, 0), (100, 301, 1), (800, 999, 1), (800, 1000, 2)])
def test_it_lies_before_the_take_off_in_flight_or_at_the_end_of_the_engine_run(
    first: int, end: int, place: int
) -> None:
    assert _measured(setting(), AlternatorOutage(first, end, OFFLINE), 1).place == place


def test_without_meters_nothing_is_read_of_them() -> None:
    read = _measured(setting(), OUTAGE, 1)
    assert np.isnan([read.current, read.output, read.highest, read.output_before, read.speed, read.at_power]).all()
