"""The rule on a recorder that starts anew in the air: its supply was lost, and with it perhaps the bus's."""

from __future__ import annotations

import numpy as np

from analyzer import quantity
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.phrases import times
from analyzer.series import Floats, median


def restarted_in_flight(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """unsteady_connection or reading_fault: the recorder began anew with the aircraft in the air.

    Once, with volts and amperes the same on both sides, it is the data that are missing, and a possible loss of
    bus power is said. Where it comes again, or the battery takes more after it than before, something on the bus
    let go. Innocent: a recorder switched off and on by hand, which the words ask for.
    """
    restarts = flight.run.restarts
    if not restarts:
        return []
    trace = flight.trace
    first, last = restarts[0], restarts[-1]
    unknown_s = sum(float(trace.time[row] - trace.time[row - 1]) for row in restarts)
    evidence = {"restarts": quantity.count(len(restarts)), "unrecorded_s": quantity.seconds(unknown_s)}
    words = ""
    before, after = _beside(flight, trace.bus_voltage, first)
    if np.isfinite(before) and np.isfinite(after):
        evidence |= {"voltage_before": quantity.volts(before), "voltage_after": quantity.volts(after)}
        words = f" Bus {before:.1f} V before, {after:.1f} V after."
    charge = 0.0
    if trace.battery_current is not None:
        flows = [_beside(flight, trace.battery_current, row) for row in restarts]
        charge = max((then - earlier for earlier, then in flows if np.isfinite(then - earlier)), default=0.0)
    drained = charge > flight.limits["restart_recharge"]
    if drained:
        evidence["charge_more_a"] = quantity.amperes(charge)
        words += f" Battery took {charge:.0f} A more afterwards: it had carried the bus."
    says = (
        f"Recorder restarted {times(len(restarts))} in the air, {unknown_s:.0f} s not recorded: "
        f"bus power may have been lost, unless someone switched it off.{words}"
    )
    from_s, to_s = float(trace.time[first - 1]), float(trace.time[last])
    if drained or len(restarts) >= limit_value("restarts_telling"):
        return [Finding(FindingName.UNSTEADY_CONNECTION, Severity.CAUTION, from_s, to_s, evidence, says)]
    return [Finding(FindingName.READING_FAULT, Severity.ADVISORY, from_s, to_s, evidence, says, {"dropout": True})]


def _beside(flight: Flight, channel: Floats, row: int) -> tuple[float, float]:
    """Typical reading just before and just after a row."""
    width = flight.trace.rows_in(limit_value("restart_beside"))
    return median(channel[max(0, row - width) : row]), median(channel[row : row + width])
