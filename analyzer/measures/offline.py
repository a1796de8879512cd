"""The bus without its alternator: for how long, and what that drew from the battery; and the steady load."""

from __future__ import annotations

import numpy as np

from analyzer.flights.dips import LEAD
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import BRIEF, LATE_START, OFFLINE, AlternatorOutage
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure, measured, not_measurable
from analyzer.measures.resting import drawn_charge
from analyzer.series import Z95, Floats, Mask, autocorrelation_length, median, robust_sigma, runs


def bus_load(flight: Flight) -> Measure:
    """Typical load in steady flight: the alternator's output, less what goes into the battery.

    That is what a battery ammeter shows, less its error at zero; without one, the fitted decay, and where nothing was
    fitted only the time after the recharge tells. Loads that come and go have no one typical value: the interval holds
    the mean beside the median.
    """
    name = "bus_load"
    output = total_output(flight.trace)
    if output is None:
        return not_measurable(name, "no alternator ammeter shows the load")
    charge = _into_battery(flight)
    rows = flight.regulated if charge is None else flight.regulated | _carried_in_flight(flight)
    load = output if charge is None else output - charge
    readings = load[rows & np.isfinite(load)]
    if not flight.regulated.any() or readings.size < limit_value("rest_fewest_rows"):
        return not_measurable(name, "there was no steady flight with the alternator on the bus")
    centre = median(readings)
    independent = max(1.0, readings.size / autocorrelation_length(readings - centre))
    error = float(np.hypot(1.2533 * robust_sigma(readings) / np.sqrt(independent), limit_value("ammeter_zero_error")))
    note = None if flight.trace.battery_current is not None else "includes the battery's settled charging current"
    low, high = sorted((centre, float(readings.mean())))
    if flight.ammeter.charge_at_rest:  # which the panel's load, unknown, has made too small
        high += limit_value("panel_load")
    return measured(name, centre, low - Z95 * error, high + Z95 * error, note)


def _into_battery(flight: Flight) -> Floats | None:
    """Charging current [A]: recorded, or that of the fitted decay above its settled level; None where neither is."""
    if flight.trace.battery_current is not None:
        return flight.trace.battery_current - flight.ammeter.charge_at_rest
    found = flight.recharge
    if found is None or found.decay is None:
        return None
    since = flight.trace.time - found.origin_s
    level = found.decay.level + sum(size * (since >= at) for at, size in found.decay.steps)
    return np.where(since >= 0.0, found.decay.curve(since) - level, np.nan)


def _carried_in_flight(flight: Flight) -> Mask:
    """Rows from take-off on in which a fast enough alternator carries the bus, no outage among them."""
    rows = flight.alternator_online & flight.rpm_sufficient
    rows[: flight.takeoff] = False
    for outage in flight.outages:
        rows[outage.first : outage.end] = False
    return rows


def offline(flight: Flight, load: Measure) -> list[Measure]:
    """Minutes without the alternator at fast enough engine speed, and the charge drawn in them."""
    kinds = (OFFLINE, LATE_START, BRIEF)
    spans = [(a.first, a.end) for a in flight.outages if a.kind in kinds and not _still_gives(flight, a)]
    gone = np.zeros(flight.trace.time.size, dtype=np.bool_)
    for first, end in spans:
        gone[first:end] = True
    lost = runs(gone)
    for dip in flight.dips:
        if dip.kind == LEAD:
            gone[dip.first : dip.end] = True
    return [_offline_time(flight, lost, gone), _offline_discharge(flight, runs(gone), load)]


def _not_seen_again(flight: Flight, lost: list[tuple[int, int]]) -> Mask:
    """Rows after some losses, engine running, in which nothing shows the alternator on line again."""
    rows = np.zeros(flight.trace.time.size, dtype=np.bool_)
    for _, end in lost:
        later = np.flatnonzero(flight.alternator_online[end : flight.run.stop])
        rows[end : end + int(later[0]) if later.size else flight.run.stop] = True
    for first, end in lost:
        rows[first:end] = False
    return rows


def _surely_fast(flight: Flight) -> Mask:
    """Rows in which the engine surely turns fast enough for an alternator."""
    speed = flight.trace.engine_speed
    return flight.rpm_sufficient if speed is None else flight.rpm_sufficient & ~_idles(flight)


def _idles(flight: Flight) -> Mask:
    """Rows in which the engine turns too slowly for any alternator."""
    speed = flight.trace.engine_speed
    if speed is None:
        return np.zeros(flight.trace.time.size, dtype=np.bool_)
    return np.asarray(np.nan_to_num(speed, nan=np.inf) < limit_value("fast_lowest"))


def _still_gives(flight: Flight, outage: AlternatorOutage) -> bool:
    """Whether a brief outage is only one of an alternator with low output, which goes on giving what it has."""
    output = flight.trace.alternator_output
    if outage.kind != BRIEF or output is None:
        return False
    return median(output[outage.first : outage.end]) >= limit_value("output_smallest")


def _offline_time(flight: Flight, lost: list[tuple[int, int]], gone: Mask) -> Measure:
    """Time of the losses; the lower end counts only surely fast rows, the upper one idle and brief moments too.

    And the time after a loss in which nothing shows the alternator again.
    """
    name = "offline_time"
    if not flight.bus_told:
        return not_measurable(name, f"{flight.voltmeter.because}, and no ammeter of known kind shows it")
    if flight.voltmeter.tells and not np.isfinite(flight.trace.bus_voltage[flight.running]).any():
        return not_measurable(name, "no bus voltage was recorded with the engine running")
    trace = flight.trace
    if not gone.any():  # as in most flights
        return measured(name, 0.0, 0.0, trace.step_s / 60.0)
    idle, fast = _idles(flight), _surely_fast(flight)
    turning = surely = 0.0
    for first, end in lost:
        seconds = trace.seconds[first:end]
        turning += float(seconds[~idle[first:end]].sum())
        surely += float(seconds[fast[first:end]].sum())
    edge = trace.step_s * (1 + len(lost))
    brief = trace.step_s * (len(runs(gone)) - len(lost))
    most = float(trace.seconds[gone | _not_seen_again(flight, lost)].sum()) + edge + max(0.0, brief)
    return measured(name, turning / 60.0, max(0.0, surely - edge) / 60.0, most / 60.0)


def _offline_discharge(flight: Flight, lost: list[tuple[int, int]], load: Measure) -> Measure:
    name = "offline_discharge"
    if not lost:
        return measured(name, 0.0, 0.0, 0.0)
    if flight.ammeter.charge_at_rest:
        return not_measurable(name, "the ammeter shows charge with the engine stopped")
    if flight.trace.battery_current is not None:
        return _shown_discharge(name, flight, lost)
    if load.value is None:
        return not_measurable(name, "neither the battery's current nor the load is known")
    hours = sum(float(flight.trace.seconds[first:end].sum()) for first, end in lost) / 3600.0
    least, most = limit_value("offline_load_least"), limit_value("offline_load_most")
    note = "from the load before and after, some of which may have been shed"
    charge = load.value * hours
    return measured(name, charge, charge * least, charge * most, note)


def _shown_discharge(name: str, flight: Flight, lost: list[tuple[int, int]]) -> Measure:
    """The same by a battery ammeter; its interval leaves out what is no sure part of the losses, and lets more in.

    No sure part is what was drawn at idle, where no alternator carries all; more is what was drawn until the
    alternator was next seen on line.
    """
    parts = [drawn_charge(name, flight, slice(first, end)) for first, end in lost]
    blank = next((part for part in parts if part.value is None), None)
    if blank is not None:
        return blank
    total = sum(part.value or 0.0 for part in parts)
    half = sum((part.high or 0.0) - (part.value or 0.0) for part in parts)
    trace, away = flight.trace, np.zeros(flight.trace.time.size, dtype=np.bool_)
    for first, end in lost:
        away[first:end] = True
    drawn = np.zeros(away.size)
    if trace.battery_current is not None:
        drawn = np.maximum(0.0, -np.nan_to_num(trace.battery_current)) * trace.seconds / 3600.0
    unsure, later = away & ~_surely_fast(flight), _not_seen_again(flight, lost)
    return measured(name, total, total - float(drawn[unsure].sum()) - half, total + float(drawn[later].sum()) + half)
