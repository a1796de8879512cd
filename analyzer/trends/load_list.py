"""An aircraft's own loads, from the steps of its flights: how large, how often, before take-off or in flight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.loads import usual_loads
from analyzer.measures.own_loads import FlightLoads, LoadStep
from analyzer.quantity import Quantity
from analyzer.series import Z95


@dataclass(frozen=True, slots=True)
class OwnLoad:
    """Steps of one size; loads of the same size stand as one."""

    amps: Quantity
    on: int
    off: int
    flights: int
    before_take_off: int  # steps then; the others are in flight
    as_large_as: tuple[str, ...]  # usual loads of that size, in words: which it is nobody can say


@dataclass(frozen=True, slots=True)
class LoadList:
    """The loads of one aircraft, the largest first; ``because`` says why none can be told."""

    flights: int  # whose log shows the load
    loads: tuple[OwnLoad, ...]
    other_steps: int  # of sizes that came too seldom to be told
    because: str | None = None


def load_list(flights: Sequence[FlightLoads], nominal_voltage: int | None) -> LoadList:
    """Gather the steps of some flights into loads."""
    seen = [one for one in flights if one.because is None]
    if not seen:
        because = next((one.because for one in flights), None) or "no flight could be read"
        return LoadList(0, (), 0, because)
    told = sorted(
        ((abs(step.amps), place, step) for place, one in enumerate(seen) for step in one.steps), key=lambda one: one[0]
    )
    groups: list[list[tuple[float, int, LoadStep]]] = []
    for one in told:
        if not groups or one[0] - groups[-1][-1][0] > limit_value("own_load_apart"):
            groups.append([])
        groups[-1].append(one)
    kept = [group for group in groups if _often(group)]
    loads = tuple(_load(group, nominal_voltage) for group in reversed(kept))
    few = None if loads else "no size of step came often enough"
    return LoadList(len(seen), loads, len(told) - sum(len(group) for group in kept), few)


def _often(group: Sequence[tuple[float, int, LoadStep]]) -> bool:
    flights = {place for _, place, _ in group}
    return len(group) >= limit_value("own_load_fewest") and len(flights) >= 2


def _load(group: Sequence[tuple[float, int, LoadStep]], nominal_voltage: int | None) -> OwnLoad:
    sizes, steps = np.array([size for size, *_ in group]), [step for *_, step in group]
    value = float(np.median(sizes))
    own = float(np.median([step.error for step in steps]))
    scatter = Z95 * 1.2533 * max(float(sizes.std()), own) / np.sqrt(sizes.size)
    half = float(np.hypot(scatter, limit_value("own_load_error") * value))
    ends = floor(10.0 * (value - half)) / 10.0, ceil(10.0 * (value + half)) / 10.0  # rounding makes it no narrower
    amps = Quantity(round(value, 1), "A", *ends)
    on = sum(step.amps > 0.0 for step in steps)
    early = sum(not step.in_flight for step in steps)
    return OwnLoad(
        amps, on, len(steps) - on, len({place for _, place, _ in group}), early, _alike(value, nominal_voltage)
    )


def _alike(amps: float, nominal_voltage: int | None) -> tuple[str, ...]:
    """Usual loads whose usual amperes are near."""
    if nominal_voltage is None:
        return ()
    share = limit_value("own_load_alike")
    return tuple(one.words for one in usual_loads(nominal_voltage) if abs(one.amps - amps) <= share * amps)
