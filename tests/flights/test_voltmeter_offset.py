"""What a voltmeter's known error at zero does to the limits that its readings are held to."""

from __future__ import annotations

import pytest

from analyzer.limits import Limits
from analyzer.simulator.faults import Offset
from analyzer.simulator.healthy import healthy
from tests.flown import judged


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("off", [-1.6, 1.8])
def test_the_overvoltage_limit_is_read_on_the_same_voltmeter(volts, off):
    amount = off * volts / 14
    review = judged(healthy(5, volts).with_fault(Offset(amount=amount)))
    (fault,) = review.flight.reading_faults
    assert fault.value == pytest.approx(amount, abs=0.35 * volts / 14)
    shifted = review.flight.limits["overvoltage"] - Limits(volts, {})["overvoltage"]
    assert shifted == pytest.approx(amount, abs=0.35 * volts / 14)
