"""After a jump start: how much charge is back in the battery at the least. It is never a go."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec import Struct

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.series import Z95

GAVE_LATER = "the bus was low for minutes later in the flight, and no battery ammeter shows what the battery gave"


class ChargeBack(Struct, frozen=True):
    """What came back between the start and the engine's stop; ``because`` says why nothing can be told."""

    signs: tuple[str, ...]  # what speaks for a start with help, in words; empty where nothing does
    amp_hours: float | None  # at the least [Ah]
    capacity: float | None  # rated [Ah]; None where nobody knows it
    because: str | None = None
    shows_start: bool = True  # whether the log shows anything from before the start, by which signs could be seen

    @property
    def share(self) -> float | None:
        """The same as a share of the rated capacity, at the least."""
        return None if self.amp_hours is None or self.capacity is None else self.amp_hours / self.capacity


def charge_back(flight: Flight, measures: Mapping[str, Measure]) -> ChargeBack:
    """Give it: the lower end of the charge returned, less what turned into gas, less what a lost alternator drew.

    What went back while the current was at its settled level is not counted, for it may be gas.
    """
    signs, capacity = tuple(_signs(flight, measures)), flight.aircraft.battery_capacity
    shows = flight.first_crank > 0 and measures["resting_charge"].value is not None
    returned, drawn = measures["recharge_returned"], measures["offline_discharge"]
    least = returned.low if returned.value is not None else returned.at_least
    if least is None:
        return ChargeBack(signs, None, capacity, f"the charge returned is not measurable: {returned.because}", shows)
    if drawn.high is None:
        return ChargeBack(signs, None, capacity, f"what was drawn since is not known: {drawn.because}", shows)
    gave = _given_since(flight)
    if gave is None:
        return ChargeBack(signs, None, capacity, GAVE_LATER, shows)
    back = max(0.0, limit_value("charge_efficiency_least") * least - max(drawn.high, gave))
    return ChargeBack(signs, back, capacity, None, shows)


def _given_since(flight: Flight) -> float | None:
    """What the battery gave after the alternator first took the bus [Ah]; None where nothing shows it and it may have.

    By its own ammeter, with that meter's error at zero; where that shows nothing, none as long as the bus was carried.
    """
    trace, on = flight.trace, flight.alternator_on_row
    since = np.zeros(trace.time.size, dtype=np.bool_)
    since[trace.time.size if on is None else on : flight.run.stop] = True
    flow = np.full(trace.time.size, np.nan) if trace.battery_current is None else trace.battery_current
    if flight.ammeter.charge_at_rest:
        flow = np.full(trace.time.size, np.nan)
    unseen = since & ~flight.alternator_online & ~np.isfinite(flow)
    if float(trace.seconds[unseen].sum()) > limit_value("jump_low_longest"):
        return None
    error = Z95 * limit_value("ammeter_zero_error")
    gives = since & (np.nan_to_num(flow) < -error)
    return float(((error - flow[gives]) * trace.seconds[gives]).sum()) / 3600.0


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
