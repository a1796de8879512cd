"""No measure is given whose interval says too little."""

from __future__ import annotations

import pytest

from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import around
from analyzer.measures.widest import CEILINGS, narrow_enough


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("name", CEILINGS)
def test_an_interval_is_given_up_to_its_ceiling_or_half_the_value_and_no_wider(name: str, volts: int) -> None:
    limits = Limits(volts, {})
    ceiling = limits[CEILINGS[name]]
    small = around(name, 0.1 * ceiling, 0.99 * ceiling)
    assert narrow_enough(small, limits) is small
    assert narrow_enough(around(name, 0.1 * ceiling, 1.01 * ceiling), limits).value is None
    large = around(name, 10.0 * ceiling, limit_value("widest_share") * 9.9 * ceiling)
    assert narrow_enough(large, limits) is large
    assert (
        narrow_enough(around(name, -10.0 * ceiling, limit_value("widest_share") * 10.1 * ceiling), limits).value is None
    )


def test_what_is_left_open_says_from_what_to_what_and_keeps_the_bound_that_still_tells() -> None:
    left = narrow_enough(around("recharge_time_constant", 10.0, 6.0), Limits(14, {}))
    assert left.because == "it may be anything from 4.0 to 16.0 min"
    assert left.at_least == 4.0
    assert narrow_enough(around("regulation_slope", 0.1, 5.0), Limits(14, {})).at_least is None


def test_a_measure_without_a_ceiling_is_left_as_it_is() -> None:
    wide = around("offline_time", 10.0, 9.0)
    assert narrow_enough(wide, Limits(14, {})) is wide
