"""After a jump start: how much charge is back in the battery at the least. It is never a go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure


@dataclass(frozen=True, slots=True)
class ChargeBack:
    """What came back between the start and the engine's stop; ``because`` says why nothing can be told."""

    signs: tuple[str, ...]  # what speaks for a start with help, in words; empty where nothing does
    amp_hours: float | None  # at the least [Ah]
    capacity: float | None  # rated [Ah]; None where nobody knows it
    because: str | None = None

    @property
    def share(self) -> float | None:
        """The same as a share of the rated capacity, at the least."""
        return None if self.amp_hours is None or self.capacity is None else self.amp_hours / self.capacity


def charge_back(flight: Flight, measures: Mapping[str, Measure]) -> ChargeBack:
    """Give it: the lower end of the charge returned, less what turned into gas, less what a lost alternator drew.

    What went back while the current was at its settled level is not counted, for it may be gas.
    """
    signs, capacity = tuple(_signs(flight, measures)), flight.aircraft.battery_capacity
    returned, drawn = measures["recharge_returned"], measures["offline_discharge"]
    least = returned.low if returned.value is not None else returned.at_least
    if least is None:
        return ChargeBack(signs, None, capacity, f"the charge returned is not measurable: {returned.because}")
    if drawn.high is None:
        return ChargeBack(signs, None, capacity, f"what was drawn since is not known: {drawn.because}")
    back = max(0.0, limit_value("charge_efficiency_least") * least - drawn.high)
    return ChargeBack(signs, back, capacity)


def _signs(flight: Flight, measures: Mapping[str, Measure]) -> list[str]:
    """What speaks for power from outside, or for a battery that was too low to start by itself."""
    told = []
    before, flow = slice(0, flight.first_crank), flight.trace.battery_current
    if flow is not None and not flight.ammeter.charge_at_rest:
        charged = np.nan_to_num(flow[before]) > limit_value("settled_most")
        if float(flight.trace.seconds[before][charged].sum()) >= limit_value("outside_lasting"):
            told.append("the battery was charged with the engine stopped")
    charge = measures["resting_charge"]
    if charge.high is not None and charge.high < limit_value("jump_charge_most"):
        told.append(f"it rested at {charge.value:.0f} % charge, at most {charge.high:.0f} %")
    return told
