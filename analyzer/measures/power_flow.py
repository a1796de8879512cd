"""Where the power comes from and goes to at one moment of a flight: alternator, battery, loads, and what is assumed."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

import numpy as np
from msgspec import Struct

from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import GROUND_CHECK, LATE_START, OFFLINE, VOLTMETER_ONLY, OutageKind
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.quantity import Quantity, volts
from analyzer.series import Floats, Mask, finite_of, median

#: What a current rests on where no ammeter shows it.
BY_TAPER = "from the charging current's taper"
BY_STEADY_LOAD = "from the steady load of this flight"
BY_DIFFERENCE = "the difference of the other two"
STANDS_STILL = "the alternator is not turning"
GIVES_NOTHING = "the bus stands at battery voltage"


class Feeder(StrEnum):
    """What feeds the bus."""

    ALTERNATOR = "alternator"
    BOTH = "alternator_and_battery"  # the alternator gives what it can, if anything; the battery the rest
    BATTERY = "battery"
    STARTER = "battery_to_starter"
    OUTSIDE = "outside_power"  # the battery is charged with the engine stopped
    UNKNOWN = "unknown"


class Current(Struct, frozen=True):
    """A current [A] with what it rests on; ``basis`` is empty where an ammeter shows it."""

    amps: Quantity
    basis: str = ""


class PowerFlow(Struct, frozen=True):
    """One moment. A current that nothing tells is None; the battery's is positive into it."""

    at_s: float  # seconds from the log's first row
    feeder: Feeder
    bus: Quantity | None  # [V]
    alternator: Current | None
    battery: Current | None
    load: Current | None
    light_on: bool | None  # whether a low-voltage light would be on; None without a voltage
    light_at: (
        Quantity | None
    )  # where it comes on [V], assumed where the fleet file does not tell; None in no known system
    running: bool


def power_flow(flight: Flight, measures: Mapping[str, Measure], at_s: float) -> PowerFlow:
    """Give where the power goes at a moment.

    Readings are the median of the rows within ``moment_half`` seconds that are of the same state. What no ammeter
    shows is worked out by Kirchhoff's current law at the bus, ``alternator = battery + load``, from the taper of the
    charging current or the flight's steady load, and says so.

    Parameters
    ----------
    flight : the flight
    measures : of it, ``bus_load`` among them
    at_s : seconds from the log's first row; a moment outside the flight is taken as its nearest end
    """
    trace = flight.trace
    row = int(np.argmin(np.abs(trace.time - at_s)))
    at = float(trace.time[row])
    rows = _same_moment(flight, row)
    bus = _reading(trace.bus_voltage, rows) if flight.voltmeter.tells else None
    feeder = _feeder(flight, row, _reading(trace.battery_current, rows))
    alternator, battery, load = _currents(flight, measures, rows, at, feeder)
    threshold = flight.limits["low_voltage"]
    known = bool(np.isfinite(threshold))
    light_at = Quantity(threshold, "V", assumed=flight.aircraft.low_voltage is None) if known else None
    return PowerFlow(
        at,
        feeder,
        None if bus is None else volts(bus),
        alternator,
        battery,
        load,
        None if bus is None or feeder is Feeder.UNKNOWN or not known else bus < threshold,
        light_at,
        bool(flight.running[row]),
    )


def _same_moment(flight: Flight, row: int) -> Mask:
    """Rows near one whose state is its own: cranking or not, the alternator on the bus or not, running or not."""
    near = np.abs(flight.trace.time - flight.trace.time[row]) <= limit_value("moment_half")
    for state in (flight.crank, flight.alternator_online, flight.running):
        near &= state == state[row]
    return np.asarray(near, dtype=np.bool_)


def _reading(channel: Floats | None, rows: Mask) -> float | None:
    if channel is None or not finite_of(channel[rows]).size:
        return None
    return median(channel[rows])


def _feeder(flight: Flight, row: int, battery: float | None) -> Feeder:
    if flight.crank[row]:
        return Feeder.STARTER
    if not flight.running[row]:
        charges = battery is not None and battery > limit_value("settled_most")
        return Feeder.OUTSIDE if charges else Feeder.BATTERY
    if not flight.bus_told or _outage(flight, row) is VOLTMETER_ONLY:
        return Feeder.UNKNOWN
    charged = battery is not None and battery > limit_value("output_smallest")
    if charged:
        return Feeder.ALTERNATOR
    if not flight.alternator_online[row]:
        return Feeder.BATTERY if _gives_nothing(flight, row) else Feeder.BOTH
    adds = battery is not None and battery < -limit_value("output_smallest")
    return Feeder.BOTH if adds else Feeder.ALTERNATOR


def _gives_nothing(flight: Flight, row: int) -> bool:
    """Whether the alternator is off line with the engine running, and not merely short of what is asked of it."""
    if flight.alternator_on_row is None or row < flight.alternator_on_row:
        return True
    return _outage(flight, row) in (OFFLINE, LATE_START, GROUND_CHECK)


def _outage(flight: Flight, row: int) -> OutageKind | None:
    """The kind of outage that a row lies in, None for none."""
    return next((one.kind for one in flight.outages if one.first <= row < one.end), None)


def _currents(
    flight: Flight, measures: Mapping[str, Measure], rows: Mask, at: float, feeder: Feeder
) -> tuple[Current | None, Current | None, Current | None]:
    """The alternator's, the battery's and the loads' current, as far as readings and what follows from them tell."""
    trace = flight.trace
    alternator = _shown(_reading(trace.alternator_output, rows))
    battery = _shown(_reading(trace.battery_current, rows))
    if feeder is Feeder.STARTER:
        return alternator, None, None  # hundreds of amperes, which no ammeter of these shows
    if feeder is Feeder.OUTSIDE:
        return alternator, battery, None  # how much the source outside gives the loads is not recorded
    if alternator is None and feeder is Feeder.BATTERY:
        turning = flight.running[rows].any()
        alternator = Current(Quantity(0.0, "A", assumed=True), GIVES_NOTHING if turning else STANDS_STILL)
    if alternator is not None and battery is not None:
        return alternator, battery, _load(alternator, battery)
    if alternator is None:
        return None, battery, None
    battery = _by_taper(flight, rows, at) if feeder is Feeder.ALTERNATOR else None
    if battery is not None:
        return alternator, battery, _load(alternator, battery)
    load = _steady_load(flight, measures["bus_load"], at) if feeder in (Feeder.BATTERY, Feeder.BOTH) else None
    return alternator, None if load is None else _difference(alternator, load), load


def _shown(amps: float | None) -> Current | None:
    return None if amps is None else Current(Quantity(round(amps, 1), "A"))


def _load(alternator: Current, battery: Current) -> Current | None:
    """What is left for the loads; None where the two contradict each other, for no load gives current."""
    load = _difference(alternator, battery)
    most = load.amps.value if load.amps.high is None else load.amps.high
    return None if most < 0.0 else load


def _difference(one: Current, other: Current) -> Current:
    """One current less another, with the other's interval."""
    value = one.amps.value - other.amps.value
    assumed = one.amps.assumed or other.amps.assumed
    if other.amps.low is None or other.amps.high is None:
        return Current(Quantity(round(value, 1), "A", assumed=assumed), BY_DIFFERENCE)
    ends = sorted(one.amps.value - end for end in (other.amps.low, other.amps.high))
    return Current(Quantity(round(value, 1), "A", round(ends[0], 1), round(ends[1], 1), assumed), BY_DIFFERENCE)


def _by_taper(flight: Flight, rows: Mask, at: float) -> Current | None:
    """The charging current behind an alternator ammeter, from the fitted decay; None where it does not hold.

    It holds from its begin on, unless the bus stands above the regulator's band, which charges more.
    What a full battery takes for good is not known there: up to ``settled_most`` either way.
    """
    found, bus = flight.recharge, _reading(flight.trace.bus_voltage, rows)
    if found is None or found.decay is None or at < found.origin_s:
        return None
    if bus is None or bus > flight.limits["regulated_high"]:
        return None
    fit, t = found.decay, at - found.origin_s
    share = float(np.exp(-t / fit.tau))
    amps = fit.amplitude * share + sum(
        size * float(np.exp(-(t - begins) / fit.tau)) for begins, size in fit.restarts if t >= begins
    )
    slower, faster = (fit.amplitude * float(np.exp(-t / tau)) for tau in (fit.tau_high, fit.tau_low))
    half = 2.0 * fit.amplitude_error * share + max(slower - fit.amplitude * share, fit.amplitude * share - faster)
    half += limit_value("settled_most")
    return Current(Quantity(round(amps, 1), "A", round(amps - half, 1), round(amps + half, 1), True), BY_TAPER)


def _steady_load(flight: Flight, load: Measure, at: float) -> Current | None:
    """The flight's steady load, taken for another moment in the air; loads come and go, so within a share of it.

    On the ground much is off that is on in flight: nothing tells the load there.
    """
    flown = float(flight.trace.time[flight.takeoff]) <= at < flight.stop_s
    if not flown or load.value is None or load.low is None or load.high is None:
        return None
    spread = limit_value("load_elsewhere") * load.value
    low, high = round(load.low - spread, 1), round(load.high + spread, 1)
    return Current(Quantity(round(load.value, 1), "A", low, high, True), BY_STEADY_LOAD)
