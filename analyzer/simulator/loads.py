"""What draws current from the bus, and when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadEvent:
    """One consumer, switched on for a window of seconds from the master switch going on."""

    name: str
    amps: float
    from_s: float
    to_s: float
    period_s: float = 0.0  # above zero: pulsed, as a strobe or a cycling heater
    duty: float = 1.0  # share of each period that it draws current

    def current(self, time_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Current [A] at each time [s]."""
        on = (time_s >= self.from_s) & (time_s < self.to_s)
        if self.period_s > 0.0:
            on &= np.mod(time_s - self.from_s, self.period_s) < self.duty * self.period_s
        return np.where(on, self.amps, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """Base load with the master on, avionics from after start on, and whatever else is switched."""

    base_a: float = 3.0
    avionics_a: float = 6.0
    avionics_after_start_s: float = 30.0  # from the engine running to the avionics switch
    noise_a: float = 0.05
    events: tuple[LoadEvent, ...] = ()

    def current(self, time_s: NDArray[np.float64], engine_start_s: float, engine_stop_s: float) -> NDArray[np.float64]:
        """Total current [A] at each time [s]; avionics go off half a minute before the engine."""
        on, off = engine_start_s + self.avionics_after_start_s, engine_stop_s - 30.0
        total = self.base_a + np.where((time_s >= on) & (time_s < off), self.avionics_a, 0.0)
        for event in self.events:
            total = total + event.current(time_s)
        return np.asarray(total, dtype=np.float64)
