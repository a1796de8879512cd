"""What a stretch on battery alone shows of the battery's capacity: at least so much, or a value once it was run down.

Until the bus falls off its plateau a battery has given what it gave and nobody knows how much it kept back; the rested
voltage does not tell either, for it follows the acid and not the plates that were lost.
"""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.aircraft import Battery
from analyzer.flights.alternator_online import OFFLINE, AlternatorOutage
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import Share
from analyzer.measures.endurance import battery_kind, battery_temperature
from analyzer.measures.resting import drawn_charge
from analyzer.series import runs


@dataclass(frozen=True, slots=True)
class CapacityShown:
    """What the longest stretch on battery alone shows."""

    minutes: float  # up to where it was run down
    given: float  # charge that it gave until then, the lower end [Ah]
    capacity: Share | None  # at the one-hour rate and 25 degC [Ah]; None where the battery was not run down


def capacity_shown(flight: Flight) -> CapacityShown | None:
    """Give what the stretch in which most was drawn shows; None where there is none, or no ammeter tells the charge."""
    if flight.trace.battery_current is None or flight.ammeter.charge_at_rest:
        return None
    stretches = [one for one in flight.outages if one.kind == OFFLINE]
    shown = [found for one in stretches if (found := _of(flight, one)) is not None]
    return max(shown, key=lambda found: found.given, default=None)


def _of(flight: Flight, outage: AlternatorOutage) -> CapacityShown | None:
    knee = _knee(flight, outage)
    rows = slice(outage.first, outage.end if knee is None else knee)
    drawn = drawn_charge("offline_discharge", flight, rows)
    minutes = float(flight.trace.seconds[rows].sum()) / 60.0
    if drawn.value is None or drawn.low is None or drawn.high is None or drawn.low <= 0.0:
        return None
    if minutes < limit_value("knee_shortest"):
        return None
    known = knee is not None and battery_kind(flight) is not Battery.LITHIUM
    ends = Share(drawn.value, drawn.low, drawn.high)
    capacity = run_down_capacity(ends, minutes / 60.0, battery_temperature(flight)) if known else None
    return CapacityShown(minutes, drawn.low, capacity)


def _knee(flight: Flight, outage: AlternatorOutage) -> int | None:
    """The row at which the bus fell off its plateau for good; None where it did not, or no voltmeter tells."""
    if not flight.voltmeter.tells:
        return None
    trace = flight.trace
    low = trace.bus_voltage[outage.first : outage.end] < flight.limits["knee_voltage"]
    for first, end in runs(low):
        begins, ends = outage.first + first, outage.first + end
        if float(trace.seconds[begins:ends].sum()) >= limit_value("knee_lasting"):
            return begins
    return None


def run_down_capacity(drawn: Share, hours: float, temperature: float) -> Share:
    """Capacity at the one-hour rate and 25 degC [Ah] of a battery that was run down, from what it gave [Ah].

    Peukert with H = 1 h, solved for the capacity: C = I t^(1/k) = drawn t^(1/k - 1). The interval spans the exponents,
    the charge that it began with, what the knee leaves in it, and a battery as cold as the air; the value takes it as
    warm, since nothing tells and too large a capacity is the worse mistake.
    """
    cold = temperature_factor(temperature)
    rates = [hours ** (1.0 / limit_value(name) - 1.0) for name in ("peukert_least", "peukert_typical", "peukert_most")]
    begun, kept = limit_value("knee_begun_least"), limit_value("knee_kept_most")
    low = drawn.low * min(rates) * min(1.0, cold)
    high = drawn.high * max(rates) * max(1.0, cold) / begun / (1.0 - kept)
    value = drawn.value * rates[1] / (0.5 + 0.5 * begun) / (1.0 - 0.5 * kept)
    return Share(min(max(value, low), high), low, high)
