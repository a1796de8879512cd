"""What the panel's instruments make of volts and amperes, and what the recorder keeps of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.electrical import Course

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Voltmeter:
    """A voltmeter on the bus, or behind a wire with resistance that the panel's load also flows through."""

    resolution_v: float = 0.1
    offset_v: float = 0.0
    noise_v: float = 0.02
    path_ohm: float = 0.0
    lag_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ammeter:
    """The battery kind shows charge and discharge, the alternator kind the alternator's output."""

    kind: Literal["battery", "alternator"] = "battery"
    resolution_a: float = 0.1
    offset_a: float = 0.0
    gain: float = 1.0
    noise_a: float = 0.08
    lag_s: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder:
    """When and what is written down."""

    period_s: float = 1.0
    begins: Literal["master_on", "engine_running", "in_flight"] = "master_on"
    rows_after_power_off: int = 0  # the first two show nonsense, the rest zero volts
    rows_missing: tuple[tuple[float, float], ...] = ()  # windows lost [s from the master going on]
    oil_pressure: bool = True
    second_bus: Voltmeter | None = None


def lagged(values: Floats, time_s: Floats, lag_s: float) -> Floats:
    """A first-order lag [s] of values on an uneven grid of times [s]."""
    if lag_s <= 0.0:
        return values
    share = (1.0 - np.exp(-np.diff(time_s) / lag_s)).tolist()
    out = [float(values[0])]
    for value, weight in zip(values[1:].tolist(), share, strict=True):
        out.append(out[-1] + weight * (value - out[-1]))
    return np.array(out)


def rounded(values: Floats, resolution: float) -> Floats:
    """Values to the nearest step of a resolution."""
    steps = 1.0 / resolution
    return np.asarray(np.round(np.asarray(values) * steps) / steps, dtype=np.float64)


def shown_volts(meter: Voltmeter, course: Course, at: NDArray[np.intp], rng: np.random.Generator) -> Floats:
    """Readings [V] at grid places ``at``."""
    behind = lagged(course.bus_v - meter.path_ohm * course.load_a, course.time_s, meter.lag_s)
    return rounded(behind[at] + meter.offset_v + rng.normal(0.0, meter.noise_v, at.size), meter.resolution_v)


def shown_amps(meter: Ammeter, course: Course, at: NDArray[np.intp], rng: np.random.Generator) -> Floats:
    """Readings [A] at grid places ``at``."""
    through = course.battery_a if meter.kind == "battery" else course.alternator_a
    behind = lagged(through, course.time_s, meter.lag_s)[at]
    return rounded(behind * meter.gain + meter.offset_a + rng.normal(0.0, meter.noise_a, at.size), meter.resolution_a)
