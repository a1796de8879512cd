"""The start: how far the bus fell, how long the starter turned, how often it was tried."""

from __future__ import annotations

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure, measured, not_measurable
from analyzer.measures.resting import ALREADY_RUNNING
from analyzer.series import fill_short_gaps, median, runs

NAMES = ("cranking_voltage", "cranking_time", "start_attempts")


def cranking(flight: Flight) -> list[Measure]:
    """Lowest voltage, time and attempts of the start.

    The voltage at the first instant of a crank lasts a tenth of a second; a log that samples once a second
    or slower mostly misses it, and its lowest reading is an upper bound.
    """
    if flight.begins_running:
        return [not_measurable(name, ALREADY_RUNNING) for name in NAMES]
    if not flight.voltmeter.tells and flight.trace.engine_speed is None:
        return [not_measurable(name, flight.voltmeter.because) for name in NAMES]
    if not flight.crank.any():
        return [not_measurable(name, "no row fell into the crank") for name in NAMES]
    step = flight.trace.step_s
    volts = flight.trace.bus_voltage[flight.crank]
    if np.isfinite(volts).any():
        lowest = _lowest(flight, float(np.nanmin(volts)))
    else:
        lowest = not_measurable(NAMES[0], "no bus voltage was recorded during the crank")
    spans = attempts(flight)
    seconds = sum(float(flight.trace.time[end - 1] - flight.trace.time[first]) + step for first, end in spans)
    error = step * np.sqrt(len(spans))
    slow = None
    if step >= limit_value("crank_sampled_slowly"):
        slow = f"one row every {step:.2g} s: short cranks between rows are not seen"
    return [
        lowest,
        measured(NAMES[1], seconds, max(0.0, seconds - error), seconds + error, slow),
        measured(NAMES[2], len(spans), len(spans), len(spans), slow),
    ]


def _lowest(flight: Flight, lowest: float) -> Measure:
    step = flight.trace.step_s
    half = 0.5 * flight.trace.voltage_step
    if step < limit_value("crank_sampled_well"):
        return measured(NAMES[0], lowest, lowest - half, lowest + half)
    rest = median(flight.trace.bus_voltage[: flight.first_crank])
    missed = limit_value("crank_missed_share") * max(0.0, rest - lowest) if np.isfinite(rest) else 0.0
    missed = min(missed, flight.limits["crank_missed_most"])
    note = f"an upper bound: one row every {step:.2g} s misses the first instant"
    return measured(NAMES[0], lowest, lowest - half - missed, lowest + half, note)


def attempts(flight: Flight) -> list[tuple[int, int]]:
    """Rows of each try to start, first and end; cranks within moments of each other are one."""
    apart = max(limit_value("attempts_apart"), limit_value("attempts_apart_steps") * flight.trace.step_s)
    return runs(fill_short_gaps(flight.crank, flight.trace.time, apart))
