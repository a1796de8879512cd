"""Readings that stand still, as a meter that sticks shows them, or that only go between two of its steps."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from analyzer.measures.recharge import between_pulses
from analyzer.measures.regulation import minute_means


@pytest.mark.parametrize("amps", [0.7, 0.1, 12.3])
def test_a_current_that_stands_still_is_its_own_mean_and_warns_of_nothing(amps: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        middle, spread = between_pulses(np.full(551, amps))
    assert middle == pytest.approx(amps)
    assert spread == pytest.approx(0.0, abs=1e-9)


def test_a_current_between_two_steps_of_its_meter_is_their_mean_and_no_pulses() -> None:
    """Nine readings in ten stand at one step, so that their scatter about the median is none."""
    flow = np.resize([2.0] * 9 + [3.0], 600)
    middle, spread = between_pulses(flow)
    assert middle == pytest.approx(2.1)
    assert spread == pytest.approx(0.3)


def test_a_bus_between_two_steps_of_its_meter_counts_with_both() -> None:
    _, volts = minute_means(np.arange(600.0), np.resize([14.0] * 9 + [14.1], 600))
    assert volts == pytest.approx([14.01] * 10)
