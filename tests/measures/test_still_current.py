"""A current that stands still, as an ammeter that sticks shows it."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from analyzer.measures.recharge import between_pulses


@pytest.mark.parametrize("amps", [0.7, 0.1, 12.3])
def test_a_current_that_stands_still_is_its_own_mean_and_warns_of_nothing(amps: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        middle, spread = between_pulses(np.full(551, amps))
    assert middle == pytest.approx(amps)
    assert spread == pytest.approx(0.0, abs=1e-9)
