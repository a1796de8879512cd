"""An aircraft's own loads, from the steps of its flights: how large, how often, before take-off or in flight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor
from types import MappingProxyType

import numpy as np

from analyzer.limits import limit_value
from analyzer.loads import loads_of
from analyzer.measures.own_loads import FlightLoads, LoadStep
from analyzer.quantity import Quantity
from analyzer.series import Z95

NONE_OWN: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class OwnLoad:
    """Steps of one size; loads of the same size stand as one."""

    amps: Quantity
    on: int
    off: int
    flights: int
    before_take_off: int  # steps then; the others are in flight
    as_large_as: tuple[str, ...]  # loads of that size, in words: which it is nobody can say
    named: bool = False  # whether those are loads whose amperes the aircraft's settings give


@dataclass(frozen=True, slots=True)
class LoadList:
    """The loads of one aircraft, the largest first; ``because`` says why none can be told."""

    flights: int  # whose log shows the load
    loads: tuple[OwnLoad, ...]
    other_steps: int  # of sizes that came too seldom to be told
    because: str | None = None


def load_list(
    flights: Sequence[FlightLoads], nominal_voltage: int | None, own: Mapping[str, float] = NONE_OWN
) -> LoadList:
    """Gather the steps of some flights into loads; ``own`` is what the aircraft's settings say of some, by name [A]."""
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
    loads = tuple(_load(group, nominal_voltage, own) for group in reversed(kept))
    few = None if loads else "no size of step came often enough"
    return LoadList(len(seen), loads, len(told) - sum(len(group) for group in kept), few)


def _often(group: Sequence[tuple[float, int, LoadStep]]) -> bool:
    flights = {place for _, place, _ in group}
    return len(group) >= limit_value("own_load_fewest") and len(flights) >= 2


def _load(
    group: Sequence[tuple[float, int, LoadStep]], nominal_voltage: int | None, own: Mapping[str, float]
) -> OwnLoad:
    sizes, steps = np.array([size for size, *_ in group]), [step for *_, step in group]
    value = float(np.median(sizes))
    error = float(np.median([step.error for step in steps]))
    scatter = Z95 * 1.2533 * max(float(sizes.std()), error) / np.sqrt(sizes.size)
    half = float(np.hypot(scatter, limit_value("own_load_error") * value))
    ends = floor(10.0 * (value - half)) / 10.0, ceil(10.0 * (value + half)) / 10.0  # rounding makes it no narrower
    amps = Quantity(round(value, 1), "A", *ends)
    on = sum(step.amps > 0.0 for step in steps)
    early = sum(not step.in_flight for step in steps)
    return OwnLoad(
        amps, on, len(steps) - on, len({place for _, place, _ in group}), early, *_alike(value, nominal_voltage, own)
    )


def _alike(amps: float, nominal_voltage: int | None, own: Mapping[str, float]) -> tuple[tuple[str, ...], bool]:
    """Loads whose amperes are near, in words, and whether they are of the aircraft's settings, which go first.

    Where no voltage is known none is usual, and those of the settings alone are near.
    """
    share = limit_value("own_load_alike")
    known = [one for one in loads_of(nominal_voltage or 14, own) if one.own or nominal_voltage is not None]
    near = [one for one in known if abs(one.amps - amps) <= share * amps]
    named = any(one.own for one in near)
    return tuple(one.words for one in near if one.own or not named), named
