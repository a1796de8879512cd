"""What is sure of the time without the alternator and of the charge drawn in it, and what may belong to it."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from analyzer.measures.measure import Measure
from analyzer.review import review_log
from tests.made import log_from

RUNNING, LOST, IDLE, BLANK = 1800, 600, 300, 240  # [s]


def _measured(volts: int, *, idle: int = 0, blank: int = 0) -> dict[str, Measure]:
    """An alternator lost for good in cruise, 10 A drawn; then so long idle, or so long without a voltage recorded."""
    lasts = (120, 3, RUNNING, LOST, idle, blank, 30)
    bus = np.repeat([12.6, 10.4, 14.1, 12.3, 12.3, np.nan, 12.5], lasts) * volts / 14.0
    flow = np.repeat([-2.0, -150.0, 1.0, -10.0, -10.0, -10.0, -2.0], lasts)
    speed = np.repeat([0.0, 250.0, 2350.0, 2350.0, 800.0, 2350.0, 0.0], lasts)
    noise = np.random.default_rng(2).normal(0.0, 0.005, bus.size)
    sag = np.where(np.arange(bus.size) > 1923, 1e-4 * (np.arange(bus.size) - 1923.0), 0.0) * volts / 14.0
    table = {
        "time_s": np.arange(bus.size, dtype=np.float64),
        "bus_voltage": (bus + noise - sag).round(2),
        "battery_current": flow,
        "engine_speed": speed,
    }
    return dict(review_log(log_from(pl.DataFrame(table))).flights[0].measures)


def _ends(measure: Measure) -> tuple[float, float]:
    assert measure.low is not None
    assert measure.high is not None
    return measure.low, measure.high


@pytest.mark.parametrize("volts", [14, 28])
def test_what_was_drawn_at_idle_is_no_sure_part_of_a_loss(volts: int) -> None:
    low, high = _ends(_measured(volts)["offline_discharge"])
    assert low < 10.0 * LOST / 3600.0 < high < 1.2 * 10.0 * LOST / 3600.0
    low, high = _ends(_measured(volts, idle=IDLE)["offline_discharge"])
    assert low < 10.0 * LOST / 3600.0
    assert high > 10.0 * (LOST + IDLE) / 3600.0


@pytest.mark.parametrize("volts", [14, 28])
def test_what_follows_a_loss_unrecorded_may_belong_to_it(volts: int) -> None:
    measures = _measured(volts, blank=BLANK)
    low, high = _ends(measures["offline_time"])
    assert low < LOST / 60.0 + 0.1
    assert high > (LOST + BLANK) / 60.0
    assert _ends(measures["offline_discharge"])[1] > 10.0 * (LOST + BLANK) / 3600.0
