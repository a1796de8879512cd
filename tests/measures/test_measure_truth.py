"""Each measure's 95 % interval against the simulator's truth, over sound and faulty flights."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from analyzer.measures.measure import MEASURES
from analyzer.simulator import simulate
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from tests.flown import judged

#: Those whose truth the scenarios below know in many flights, without a matter of words. The battery's resistance
#: has flights of its own in ``test_battery_resistance.py``: a voltmeter of these steps hardly shows it.
KNOWN = tuple(name for name in MEASURES if name not in ("endurance", "battery_resistance"))


@cache
def _outcomes() -> Counter[tuple[str, bool]]:
    """How often a measure's interval touches the range of its truth, or does not."""
    outcomes: Counter[tuple[str, bool]] = Counter()
    kinds = ("battery", "alternator")
    for place, (name, maker) in enumerate(sorted({**HEALTHY, **FAULTY}.items())):
        if name in ("volts_stuck", "volts_offset", "volts_path"):
            continue  # the voltmeter lies
        flight = simulate(maker(50 + place, 28 if place % 3 == 0 else 14, kinds[place % 2]))
        measures = judged(flight).measures
        for measure in KNOWN:
            true, got = flight.truth.measures[measure], measures[measure]
            if true.low is None or true.high is None or true.ambiguous or got.low is None or got.high is None:
                continue
            outcomes[measure, got.low <= true.high and got.high >= true.low] += 1
    return outcomes


@pytest.mark.parametrize("measure", KNOWN)
def test_nine_intervals_in_ten_hold_the_truth(measure: str) -> None:
    inside, outside = _outcomes()[measure, True], _outcomes()[measure, False]
    assert inside + outside >= 5, "too few flights to say"
    assert outside <= max(1, 0.1 * (inside + outside))
