"""The rule on a battery that is off the bus: its contactor, lead or protection opened while the engine ran.

A battery on the bus is a wide reservoir: it smooths the bus, and takes or gives many amperes for each volt that the bus
moves. Without it the alternator alone holds the bus, which grows restless, while the battery's ammeter stands still; or
a current that flowed is gone in one step; or, with the alternator gone as well, bus and ammeter go dead.
An ammeter at zero alone is a settled battery.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer import quantity
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.flight import Flight
from analyzer.flights.reading_faults import current_gone_too
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.quantity import Quantity
from analyzer.series import (
    MIDDLE_95,
    Floats,
    Mask,
    drop_short_runs,
    fill_short_gaps,
    median,
    middle,
    middle_of_rows,
    percentile,
    percentiles,
    resolution,
    robust_sigma,
    running_median,
    runs,
)


def battery_offline(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """battery_offline: bus and ammeter dead, else a restless bus that the battery does not answer, else a step to none.

    Innocent, and left out: a settled battery, whose ammeter stands at zero on a quiet bus; a regulator that hunts,
    which drives current in and out of the battery; a closed throttle; a voltmeter that fails while the current goes on.
    """
    return _dead(flight) or _restless(flight) or _vanished(flight)


def _dead(flight: Flight) -> list[Finding]:
    """The bus reads nothing with the engine running, and so does every ammeter that showed a current before."""
    trace = flight.trace
    gone = flight.running & (trace.bus_voltage < limit_value("bus_dead"))  # which a blank is not
    gone = drop_short_runs(gone, trace.time, limit_value("battery_dead_shortest")) if gone.any() else gone
    if not gone.any():
        return []
    first, end = runs(gone)[0]
    before = median(trace.bus_voltage[max(0, first - trace.rows_in(limit_value("spent_window"))) : first])
    if not np.isfinite(before) or before < flight.limits["resting_very_low"]:
        return []  # a battery that was spent is not one that came off
    if not current_gone_too(trace, first, end):
        return []
    minutes = float(trace.time[end - 1] - trace.time[first]) / 60.0
    evidence = {
        "voltage_before": quantity.volts(before),
        "voltage": quantity.volts(median(trace.bus_voltage[first:end])),
    }
    evidence["duration_min"] = quantity.minutes(minutes)
    says = (
        f"Bus went from {before:.1f} V to zero with the engine running, and the current with it, for {minutes:.1f} "
        "min: neither battery nor alternator was on the bus."
    )
    return [_found(flight, first, end, evidence, says, {"bus_dead": True})]


def _restless(flight: Flight) -> list[Finding]:
    """The bus moves far more than in this flight's calm, and a battery ammeter does not answer it."""
    trace = flight.trace
    flow = trace.battery_current
    if flow is None or flight.ammeter.charge_at_rest:
        return []
    rows = np.flatnonzero(flight.running & flight.rpm_sufficient & np.isfinite(trace.bus_voltage) & np.isfinite(flow))
    length = max(int(limit_value("hunting_fewest_rows")), trace.rows_in(limit_value("hunting_stretch")))
    count = rows.size // length
    if count < limit_value("battery_restless_stretches"):
        return []
    rows = rows[: count * length]
    wide = trace.rows_in(limit_value("battery_restless_window"))
    volts = (trace.bus_voltage[rows] - running_median(trace.bus_voltage[rows], wide)).reshape(count, length)
    swing = volts.std(axis=1)
    quiet = percentile(swing, limit_value("hunting_quiet"))
    # a quiet bus between two steps of a coarse voltmeter toggles
    least = float(np.hypot(flight.limits["battery_restless"], limit_value("toggling_share") * trace.voltage_step))
    restless = swing > max(least, limit_value("hunting_ratio") * quiet)
    if not restless.any():
        return []
    amps = (flow[rows] - running_median(flow[rows], wide)).reshape(count, length)
    level = np.abs(middle_of_rows(flow[rows].reshape(count, length)))
    answer = (volts * amps).sum(axis=1) / np.maximum((volts**2).sum(axis=1), 1e-9) * flight.limits.scale
    still = (np.abs(answer) < limit_value("battery_answer_least")) & (level < limit_value("battery_still"))
    still &= amps.std(axis=1) < limit_value("battery_noise_alone") * _noise(flow, amps)
    # what a battery would have answered must show on this ammeter
    shows = limit_value("battery_answer_shows") * _smallest_shown(flight, flow) * flight.limits.scale
    still &= swing * limit_value("battery_answer_least") > shows
    off = np.zeros(trace.time.size, dtype=np.bool_)
    for stretch in np.flatnonzero(restless & still):
        off[rows[stretch * length] : rows[(stretch + 1) * length - 1] + 1] = True
    off = fill_short_gaps(off, trace.time, limit_value("hunting_gap"))
    spans = [span for span in runs(off) if _lasts(flight, span) >= limit_value("hunting_shortest")]
    if not spans:
        return []
    first, end = spans[0][0], spans[-1][1]
    if _moved(flow, rows, (first, end), flight) < limit_value("battery_stilled") or _drops(
        trace.bus_voltage, first, end
    ):
        return []
    inside: Mask = (rows[::length] >= first) & (rows[::length] < end) & restless & still
    return [_swung(flight, (first, end), (middle(swing[inside]), quiet), middle(np.abs(answer[inside])))]


def _swung(flight: Flight, span: tuple[int, int], swing: tuple[float, float], unmoved: float) -> Finding:
    """The finding: the bus swung by so many volts, and in calm by so many, unanswered but for ``unmoved`` [1/ohm]."""
    (scatter, quiet), minutes = swing, _lasts(flight, span) / 60.0
    evidence = {
        "scatter": quantity.volts(scatter, 3),
        "quiet_scatter": quantity.volts(quiet, 3),
        "answer_a_per_v": Quantity(round(unmoved / flight.limits.scale, 2), "A/V"),
        "least_answer_a_per_v": Quantity(round(limit_value("battery_answer_least") / flight.limits.scale, 2), "A/V"),
        "duration_min": quantity.minutes(minutes, 1),
    }
    says = (
        f"Bus swung by {scatter:.2f} V for {minutes:.0f} min ({quiet:.2f} V when quiet) "
        "while the battery ammeter stood still: a battery on the bus would have moved it."
    )
    return _found(flight, *span, evidence, says, {"bus_restless": True})


def _noise(flow: Floats, amps: Floats) -> float:
    """The ammeter's own noise [A], by the quietest of the flight's stretches and its own step."""
    quiet = percentile(amps.std(axis=1), limit_value("battery_noise_quiet"))
    return max(quiet, resolution(flow) / float(np.sqrt(12.0)))


def _moved(flow: Floats, rows: NDArray[np.int64], span: tuple[int, int], flight: Flight) -> float:
    """How many times as far the ammeter stood from zero beside a stretch as in it, root mean square.

    An ammeter that stood at zero before as well tells nothing: its battery was settled, and only the reading moves.
    """
    beside = flight.trace.rows_in(limit_value("battery_beside"))
    near = rows[((rows >= span[0] - beside) & (rows < span[0])) | ((rows >= span[1]) & (rows < span[1] + beside))]
    inside = rows[(rows >= span[0]) & (rows < span[1])]
    if near.size < limit_value("hunting_fewest_rows"):
        return 0.0
    spread = float(np.sqrt(np.mean(flow[inside] ** 2)))
    return float(np.sqrt(np.mean(flow[near] ** 2))) / max(spread, 1e-6)


def _drops(bus: Floats, first: int, end: int) -> bool:
    """Whether the bus only drops from one level and comes back to it, as a contact lets the reading do."""
    inside = bus[first:end][np.isfinite(bus[first:end])]
    below, above = percentiles(inside, MIDDLE_95) - middle(inside)
    return bool(above < limit_value("one_sided") * -below)


def _smallest_shown(flight: Flight, flow: Floats) -> float:
    """The smallest current [A], either way, that the ammeter shows with the engine running; 0 where it shows none."""
    shown = np.abs(flow[flight.running & np.isfinite(flow) & (flow != 0.0)])
    return float(shown.min()) if shown.size else 0.0


def _vanished(flight: Flight) -> list[Finding]:
    """A battery current that flowed is gone in one step at steady engine speed, and the ammeter stands still since.

    A coarse ammeter, or one that shows nothing about zero, goes from its smallest reading to none whenever a current
    fades: only what stood well above the smallest reading of the flight can be gone.
    """
    trace = flight.trace
    flow = trace.battery_current
    if flow is None or flight.ammeter.charge_at_rest:
        return []
    least = flight.limits["battery_vanished_least"]
    least = max(least, limit_value("battery_vanished_over") * _smallest_shown(flight, flow))
    beside = trace.rows_in(limit_value("battery_vanished_beside"))
    after = trace.rows_in(limit_value("battery_vanished_for"))
    smooth = running_median(flow, 3)
    candidates = np.flatnonzero((np.abs(smooth[:-3]) >= least) & (np.abs(smooth[3:]) < limit_value("battery_still")))
    for row in candidates:
        first = int(row) + 2
        earlier, later = flow[max(0, first - 2 - beside) : first - 1], flow[first + 2 : first + 2 + after]
        inside = slice(max(0, first - beside), first + after)
        if later.size < after or not (flight.rpm_sufficient[inside].all() and np.isfinite(later).all()):
            continue
        level = median(earlier)
        held = abs(level) >= least and robust_sigma(earlier) < limit_value("battery_vanished_steady") * abs(level)
        quiet = float(np.abs(later).max()) < limit_value("battery_still") and flight.alternator_online[inside].all()
        if held and quiet:
            still = flight.running & (np.abs(smooth) < limit_value("battery_still"))
            still[:first] = False
            end = next((stop for start, stop in runs(still) if start <= first + 2 < stop), first + after)
            evidence = {"current_before": quantity.amperes(level), "current": quantity.amperes(median(later))}
            evidence["duration_min"] = quantity.minutes(_lasts(flight, (first, end)) / 60.0, 1)
            says = (
                f"Battery current of {level:.1f} A vanished in one step at steady rpm and stayed at zero for "
                f"{_lasts(flight, (first, end)) / 60.0:.0f} min; a charging current fades over minutes."
            )
            return [_found(flight, first, end, evidence, says, {"current_vanished": True})]
    return []


def _lasts(flight: Flight, span: tuple[int, int]) -> float:
    return float(flight.trace.time[span[1] - 1] - flight.trace.time[span[0]])


def _found(
    flight: Flight, first: int, end: int, evidence: dict[str, Quantity], says: str, signs: dict[str, bool]
) -> Finding:
    time = flight.trace.time
    back = bool((flight.running[end:] & np.isfinite(flight.trace.bus_voltage[end:])).sum() > flight.trace.rows_in(60.0))
    signs = {"battery_back": back} | signs
    return Finding(
        FindingName.BATTERY_OFFLINE, Severity.WARNING, float(time[first]), float(time[end - 1]), evidence, says, signs
    )
