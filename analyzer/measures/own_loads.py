"""Loads that come on and go off in a flight, as lasting steps of what an ammeter shows of the load."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyzer.decay import load_steps
from analyzer.flights.flight import Flight
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.series import Floats, Mask, drop_short_runs, median, resolution, robust_sigma, runs


class LoadStep(Struct, frozen=True):
    """One load that came on (above zero) or went off."""

    at_s: float  # seconds from the log's first row
    amps: float
    error: float  # one standard deviation [A]
    in_flight: bool  # else before take-off


class FlightLoads(Struct, frozen=True):
    """The steps of one flight; ``because`` says why its log shows none."""

    steps: tuple[LoadStep, ...]
    because: str | None = None


def flight_loads(flight: Flight) -> FlightLoads:
    """Give a flight's load steps, with the alternator on the bus.

    With a battery ammeter beside the alternator's the load is the difference of the two. Behind an alternator ammeter
    alone the fitted charging current is taken off first; without a fit only what comes after the recharge counts.
    """
    output = total_output(flight.trace)
    if output is None:
        return FlightLoads((), "no alternator ammeter shows the load")
    rows = _calm(flight)
    if flight.trace.battery_current is not None:
        load = output - flight.trace.battery_current
    else:
        load, begins = _without_charge(flight, output)
        rows &= flight.trace.time >= begins
    width = max(5, flight.trace.rows_in(limit_value("own_load_lasting")))
    steps: list[LoadStep] = []
    for first, end in runs(rows & np.isfinite(load)):
        steps += _steps(flight, load, slice(first, end), width)
    return FlightLoads(tuple(steps))


def _calm(flight: Flight) -> Mask:
    """Rows clear of every stretch in which the alternator does not carry the bus, in runs long enough to judge."""
    calm = flight.alternator_online & flight.running
    settled = flight.trace.rows_in(limit_value("own_load_lasting"))
    for outage in flight.outages:
        calm[max(0, outage.first - settled) : outage.end + settled] = False
    return drop_short_runs(calm, flight.trace.time, 3.0 * limit_value("own_load_lasting"))


def _without_charge(flight: Flight, output: Floats) -> tuple[Floats, float]:
    """The output less the fitted charging current [A], and from when on that is the load [s]."""
    found = flight.recharge
    if found is None:
        return output, flight.from_s
    if found.decay is None:
        return output, found.settled_s
    fit, since = found.decay, flight.trace.time - found.origin_s
    charge = fit.amplitude * np.exp(-np.maximum(since, 0.0) / fit.tau)
    return output - charge, found.origin_s


def _steps(flight: Flight, load: Floats, rows: slice, width: int) -> list[LoadStep]:
    time, amps = flight.trace.time[rows], load[rows]
    if amps.size < 3 * width:
        return []
    smallest, most = limit_value("own_load_smallest"), int(limit_value("own_load_most"))
    found = []
    for at in load_steps(time, amps, smallest=smallest, width=width, most=most):
        row = int(np.argmin(np.abs(time - at)))
        before, after = amps[max(0, row - width) : max(1, row - 1)], amps[row + 1 : row + 1 + width]
        if min(before.size, after.size) < 3:
            continue
        noise = np.hypot(robust_sigma(before), robust_sigma(after)) / np.sqrt(min(before.size, after.size))
        error = float(np.hypot(1.2533 * noise, resolution(amps) / np.sqrt(6.0)))
        found.append(LoadStep(float(at), median(after) - median(before), error, rows.start + row >= flight.takeoff))
    return found
