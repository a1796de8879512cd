"""The rule on unsteady connections: a bus that drops for seconds with no load or engine speed to explain it."""

from __future__ import annotations

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.carrying import BRIEF, LOW_RPM, OFFLINE, READING, SHORT, regulated_estimate
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.series import Floats, Mask, hold, median, running_median, runs


def unsteady_connection(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """Steps or drops of the bus voltage that no load and no engine speed explains.

    Counted are drops of at least ``connection_drop`` below the bus's own level, sudden at both ends and
    seconds long, while the engine keeps its speed. Either the current does not answer (the path to the
    meter) or the alternator is gone for that moment (its lead). A voltage that swings to both sides is the
    regulator's.
    """
    trace = flight.trace
    drops, silent = _drops(flight)
    sure = silent or trace.alternator_current is not None
    fewest = limit_value("connection_fewest" if sure else "connection_fewest_unsure")
    if len(drops) < fewest:
        return []
    brief = sum(absence.kind in (BRIEF, READING) for absence in flight.absences)
    first, last = drops[0][0], drops[-1][1] - 1
    depth = float(np.median([_depth(flight, span) for span in drops]))
    evidence = {"drops": float(len(drops)), "depth": round(depth, 2), "brief_losses": float(brief)}
    minutes = (trace.time[last] - trace.time[first]) / 60.0
    what = "the alternator was gone for those moments"
    if not _shows_current(flight):
        what = "no ammeter tells whether the alternator was gone"
    elif silent:
        what = "the current did not answer"
    says = (
        f"Bus voltage dropped {len(drops)} times by about {depth:.1f} V within {minutes:.0f} min, for seconds each, "
        f"with no load or engine speed to explain it; {what}."
    )
    signs = {"current_silent": silent} if _shows_current(flight) else {}
    from_s, to_s = float(trace.time[first]), float(trace.time[last])
    return [Finding("unsteady_connection", "caution", from_s, to_s, evidence, says, signs)]


def _shows_current(flight: Flight) -> bool:
    return flight.trace.battery_current is not None or flight.trace.alternator_current is not None


def _level(flight: Flight) -> Floats:
    return running_median(flight.trace.bus_voltage, flight.trace.rows_in(limit_value("connection_level_window")))


def _depth(flight: Flight, span: tuple[int, int]) -> float:
    first, end = span
    volts = flight.trace.bus_voltage
    return median(volts[max(0, first - 5) : first]) - float(np.nanmin(volts[first:end]))


def _drops(flight: Flight) -> tuple[list[tuple[int, int]], bool]:
    """Drops as row spans, and whether the current is silent in most of them."""
    trace = flight.trace
    if flight.on is None:
        return [], False
    level = _level(flight)
    low = np.nan_to_num(level - trace.bus_voltage) > flight.limits["connection_drop"]
    # an alternator at its limit lets every pulse of a load through to the bus
    low &= level > regulated_estimate(trace, flight.running, flight.limits) - flight.limits["held_margin"]
    low &= flight.running & _steady_speed(flight)
    low[: flight.on] = False
    beside = trace.rows_in(limit_value("loss_beside"))
    idle = trace.rows_in(limit_value("idle_blind_shortest"))
    idle_beside = trace.rows_in(limit_value("idle_blind_beside"))
    for absence in flight.absences:
        if absence.kind in (OFFLINE, SHORT):
            low[max(0, absence.first - 5) : absence.end + beside] = False
        elif absence.kind == LOW_RPM and trace.engine_speed is None and absence.end - absence.first > idle:
            low[max(0, absence.first - idle_beside) : absence.end + idle_beside] = False
    found, quiet = [], 0
    for first, end in runs(low):
        seconds = trace.time[end - 1] - trace.time[first]
        sudden = _sudden(flight, first, end)
        answer = _answer(flight, first, end)
        if seconds > limit_value("connection_longest") or not sudden or answer == "load" or _at_limit(flight, first):
            continue
        quiet += answer == "silent"
        found.append((first, end))
    return found, 2 * quiet > len(found)


def _at_limit(flight: Flight, first: int) -> bool:
    """Whether the alternator gave all it can before row ``first``, so that any load's pulse shows on the bus."""
    trace = flight.trace
    before = slice(max(0, first - trace.rows_in(limit_value("at_limit_before"))), first)
    if trace.alternator_current is not None:
        output = trace.alternator_current[flight.running & np.isfinite(trace.alternator_current)]
        most = np.percentile(output, limit_value("output_highest")) if output.size else np.inf
        return median(trace.alternator_current[before]) > limit_value("at_limit_share") * float(most)
    if trace.battery_current is not None:
        return median(trace.battery_current[before]) > flight.limits["never_settles_far"]
    return False


def _steady_speed(flight: Flight) -> Mask:
    """Rows in which the engine holds its speed and is fast enough for the alternator."""
    speed = flight.trace.engine_speed
    if speed is None:
        return flight.fast
    held = hold(speed)
    width = flight.trace.rows_in(limit_value("steady_speed_window"))
    middle = running_median(held, width)
    calm = np.abs(held - middle) < limit_value("steady_speed_swing")
    for shift in (width, -width):
        calm &= np.abs(np.roll(middle, shift) - middle) < limit_value("steady_speed_apart")
    return calm & flight.fast


def _sudden(flight: Flight, first: int, end: int) -> bool:
    """Whether the bus falls and returns within two rows."""
    volts = flight.trace.bus_voltage
    half = flight.limits["connection_sudden"]
    before = median(volts[max(0, first - 3) : first])
    after = median(volts[end : end + 3])
    floor = float(np.nanmin(volts[first:end]))
    return before - floor > half and after - floor > half


def _answer(flight: Flight, first: int, end: int) -> str:
    """What the current does in a drop: "silent", "lost" (the alternator is gone), "load", or "unknown"."""
    trace = flight.trace
    moved = limit_value("connection_answer")
    if trace.alternator_current is not None:
        output = trace.alternator_current
        change = median(output[first:end]) - median(output[max(0, first - 6) : first])
        return "load" if change > moved else "lost" if change < -moved else "silent"
    if trace.battery_current is not None:
        flow = trace.battery_current
        change = median(flow[first:end]) - median(flow[max(0, first - 6) : first])
        return "lost" if change < -moved else "silent"
    return "unknown"
