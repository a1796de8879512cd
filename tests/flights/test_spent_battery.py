"""A bus that reads nothing: a battery that was spent, or a reading that failed."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.flights.reading_faults import _battery_spent
from analyzer.flights.trace import Trace
from analyzer.limits import Limits


def spent(nominal: int, before: float, last: float, after: float, lifted: float = 0.0) -> bool:
    """A reading a second: a minute before, its last three, ten of nothing, more; ``lifted`` is a share at charge."""
    limits = Limits(nominal, {})
    minute = np.full(57, before * limits["resting_low"])
    minute[: int(57 * lifted)] = limits["regulated_low"]
    volts = np.concatenate([minute, np.full(3, last * limits["resting_very_low"]), np.zeros(10), np.full(10, after)])
    return _battery_spent(Trace(np.arange(volts.size, dtype=np.float64), volts), 60, 70, limits)


@pytest.mark.parametrize("nominal", [14, 28])
def test_a_low_bus_that_sinks_to_nothing_was_a_spent_battery(nominal: int) -> None:
    back = Limits(nominal, {})["regulated_low"]
    assert spent(nominal, before=0.98, last=0.9, after=back), "its last readings say so"
    assert spent(nominal, before=0.98, last=0.9, after=back, lifted=0.05), "an alternator lifted a few before"
    assert not spent(nominal, before=0.98, last=0.9, after=back, lifted=0.3), "it was charged not long before"
    assert not spent(nominal, before=1.02, last=0.9, after=back), "a sound one, whose last readings only fall"
    assert not spent(nominal, before=0.98, last=1.01, after=back), "low, but not empty"
    assert spent(nominal, before=1.02, last=1.01, after=0.5 * back), "it climbs back through volts that contacts skip"
