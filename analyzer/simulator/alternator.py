"""The alternator, its regulator and its overvoltage protection.

Every voltage here is that of a 14 V system; a 28 V scenario doubles it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternator:
    """What the machine can give, and when the pilot lets it.

    Windows are seconds from the master switch going on.
    """

    rated_a: float = 60.0
    cut_in_rpm: float = 620.0  # engine speed below which it gives nothing
    rise_rpm: float = 620.0  # engine speed above cut-in that brings 63 % of the rated output
    on_after_start_s: float = 0.0  # the pilot switches it on so long after the engine runs
    switched_off: tuple[tuple[float, float], ...] = ()  # by the pilot, as in a check on the ground

    def output_limit(self, engine_rpm: ArrayLike, air_c: ArrayLike = 20.0) -> NDArray[np.float64]:
        """Largest current [A] at an engine speed [rpm] and air temperature [degC] (any shapes).

        An alternator's limit rises from cut-in and levels off, since its own reactance grows with
        speed; hot windings lose 0.2 % a degC above 25 (common practice).
        """
        above = np.maximum(np.asarray(engine_rpm, dtype=np.float64) - self.cut_in_rpm, 0.0)
        warm = 1.0 - 0.002 * (np.asarray(air_c, dtype=np.float64) - 25.0)
        return np.asarray(self.rated_a * warm * (1.0 - np.exp(-above / self.rise_rpm)), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Regulator:
    """Where the bus is held: about 14.25 V (AMT Handbook Airframe, chapter 9) less what is lost."""

    set_point_v: float = 14.1  # at no load and 25 degC
    per_degc_v: float = -0.004  # of its own temperature; -18 mV would follow the battery's -3 mV a cell
    droop_ohm: float = 0.004  # wiring and regulator, what the bus falls with alternator current
    noise_v: float = 0.01  # standard deviation of the held voltage


@dataclass(frozen=True, slots=True, kw_only=True)
class OvervoltageProtection:
    """Opens the field when the bus passes its limit: about 16 V, 31.5 to 32 V on 28 V aircraft.

    Source: pilot's operating handbooks, Section 3; a 28 V regulator's component manual (32.0 V).
    """

    limit_v: float = 16.0
    delay_s: float = 0.02  # acts in milliseconds
    works: bool = True
    resets_after_s: tuple[float, ...] = ()  # from each trip to the pilot's reset; none further when used up
