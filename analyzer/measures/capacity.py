"""What a stretch on battery alone shows of the battery's capacity: at least so much, or a value once it was run down.

Until the bus falls off its plateau a battery has given what it gave and nobody knows how much it kept back; the rested
voltage does not tell either, for it follows the acid and not the plates that were lost.
"""

from __future__ import annotations

from msgspec import Struct

from analyzer.aircraft import Battery
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import OFFLINE, AlternatorOutage
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import Share
from analyzer.measures.endurance import battery_kind, battery_temperature, charge_share
from analyzer.measures.measure import Measure
from analyzer.measures.resting import drawn_charge
from analyzer.series import runs

#: Peukert's exponent: least, usual and most.
EXPONENTS = ("peukert_least", "peukert_typical", "peukert_most")


class CapacityShown(Struct, frozen=True):
    """What the longest stretch on battery alone shows."""

    minutes: float  # up to where it was run down
    given: float  # at least so much it holds, by what it gave until then [Ah]
    capacity: Share | None  # at the one-hour rate and 25 degC [Ah]; None where the battery was not run down


def capacity_shown(flight: Flight, charge: Measure) -> CapacityShown | None:
    """Give what the stretch in which most was drawn shows; None where there is none, or no ammeter tells the charge.

    ``charge`` is ``resting_charge``.
    """
    if flight.trace.battery_current is None or flight.ammeter.charge_at_rest:
        return None
    stretches = [one for one in flight.outages if one.kind == OFFLINE]
    rested = max(limit_value("knee_begun_floor"), charge_share(flight, charge)[0].low)
    begun = min(limit_value("knee_begun_least"), rested)
    shown = [found for one in stretches if (found := _of(flight, one, begun)) is not None]
    return max(shown, key=lambda found: found.given, default=None)


def _of(flight: Flight, outage: AlternatorOutage, begun: float) -> CapacityShown | None:
    knee = _knee(flight, outage)
    rows = slice(outage.first, outage.end if knee is None else knee)
    drawn = drawn_charge("offline_discharge", flight, rows)
    minutes = float(flight.trace.seconds[rows].sum()) / 60.0
    if drawn.value is None or drawn.low is None or drawn.high is None or drawn.low <= 0.0:
        return None
    if minutes < limit_value("knee_shortest"):
        return None
    hours, air = minutes / 60.0, battery_temperature(flight)
    capacity = None
    if knee is not None and battery_kind(flight) is not Battery.LITHIUM:
        ends = Share(drawn.value, drawn.low, drawn.high)
        capacity = run_down_capacity(ends, hours, air, begun, flight.limits["battery_capacity"])
    return CapacityShown(minutes, at_least(drawn.low, hours, air), capacity)


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


def at_least(drawn: float, hours: float, air: float) -> float:
    """Capacity at the one-hour rate and 25 degC [Ah] that is sure of a battery that gave so much [Ah], and went on.

    Given slowly and warm it is more than that rate and 25 degC would have had of it.
    """
    return drawn * min(1.0, *_at_one_hour(hours)) * _warmest(air)


def run_down_capacity(drawn: Share, hours: float, air: float, begun: float, rated: float) -> Share:
    """Capacity at the one-hour rate and 25 degC [Ah] of a battery that was run down, from what it gave [Ah].

    Peukert with H = 1 h, solved for the capacity: C = I t^(1/k) = drawn t^(1/k - 1). A capacity test draws the rated
    current, which empties a worn battery in less than an hour: by the same law it then gives drawn (I / rated)^(k - 1),
    and the lower end and the value are no more than that. The interval spans the exponents, the charge that it began
    with, what the knee leaves in it, and a battery as cold as the air or as warm as an engine makes it; the value takes
    it at 25 degC and nearly full, since nothing tells and too large a capacity is the worse mistake.

    Parameters
    ----------
    drawn : what it gave [Ah]
    hours : in which it gave it
    air : temperature of the air [degC]
    begun : least share of its charge with which it began
    rated : capacity when new, or what is taken for it [Ah]
    """
    rates = _at_one_hour(hours)
    tested = [min(1.0, drawn.low / hours / rated) ** (limit_value(name) - 1.0) for name in EXPONENTS]
    usual, kept = limit_value("knee_begun_least"), limit_value("knee_kept_most")
    low = drawn.low * min(*rates, *tested) * _warmest(air)
    high = drawn.high * max(rates) * max(1.0, temperature_factor(air)) / begun / (1.0 - kept)
    value = drawn.value * min(rates[1], tested[1]) / (0.5 + 0.5 * usual) / (1.0 - 0.5 * kept)
    return Share(min(max(value, low), high), low, high)


def _at_one_hour(hours: float) -> list[float]:
    """What a battery gives in an hour, for what it gave in so many, by each exponent."""
    return [hours ** (1.0 / limit_value(name) - 1.0) for name in EXPONENTS]


def _warmest(air: float) -> float:
    """What a battery gives at 25 degC, for what it gave as warm as an engine makes it; 1 where that is colder."""
    return min(1.0, temperature_factor(air + limit_value("knee_warmer_most")))
