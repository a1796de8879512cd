"""When the alternator carries the bus, and when the engine turns fast enough for it."""

from __future__ import annotations

import numpy as np

from analyzer.aircraft import Source
from analyzer.flights.reading_faults import CURRENTS
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    Floats,
    Mask,
    drop_short_runs,
    finite_of,
    highest_lasting,
    hold,
    median,
    percentile,
    readings_in,
    resolution,
    running_median,
    runs,
)


def regulated_estimate(trace: Trace, running: Mask, limits: Limits) -> float:
    """Highest bus voltage that lasts about a minute with the engine running [V], NaN without any.

    Capped at the top of the normal band, so that a regulator that runs away does not make its own earlier
    health look like an outage.
    """
    volts = readings_in(trace.bus_voltage, running)
    if not np.isfinite(volts).any():
        return float("nan")
    return min(highest_lasting(volts, trace.rows_in(limit_value("regulated_lasting"))), limits["carrying_cap"])


def online_by_voltage(trace: Trace, running: Mask, held: float, limits: Limits) -> Mask:
    """Rows in which the bus voltage says that the alternator carries the bus.

    The bus rests on the higher source. A battery does not hold the share ``carrying_share`` of the way
    from its rest to what the regulator holds in this flight, ``held`` [V] by ``regulated_estimate``.
    """
    full = limits["full_battery"]
    if not held > full + limits["carrying_smallest_rise"]:
        return np.zeros(trace.time.size, dtype=np.bool_)
    volts = running_median(trace.bus_voltage, 3)
    return running & (volts >= full + limit_value("carrying_share") * (held - full))


def online_rows(
    trace: Trace, running: Mask, by_voltage: Mask, limits: Limits, rest: float, *, metered: bool = True
) -> Mask:
    """Rows in which the alternator carries the bus: by its voltage, or by a battery that is not drained.

    ``by_voltage`` are those of ``online_by_voltage``. ``rest`` is the bus voltage with the engine stopped [V],
    NaN when unknown: a discharged battery keeps the bus low for minutes while it is being charged, above its own
    rest. ``metered`` is whether the ammeters show all alternators: the silence of one tells nothing of another.
    """
    mask = by_voltage.copy()
    if not running.any():
        return mask
    volts = running_median(trace.bus_voltage, 3)
    full = limits["full_battery"]
    rise = limits["carrying_smallest_rise"]
    lifted = volts > (min(rest, full) if np.isfinite(rest) else full) + rise
    if trace.battery_current is not None:
        flow = np.where(np.isfinite(trace.battery_current), running_median(trace.battery_current, 3), -np.inf)
        mask |= running & (volts > full - rise) & (flow > -limit_value("discharge_smallest"))
        mask |= running & lifted & (flow > limit_value("discharge_smallest"))
    elif trace.alternator_output is not None:
        given = trace.alternator_output
        output = np.where(np.isfinite(given), running_median(given, 3), np.nan)
        mask |= running & (lifted | feeds_at_rest_voltage(trace, limits)) & (output > limit_value("output_smallest"))
        shown = output[running & np.isfinite(output)]
        high = percentile(shown, limit_value("output_high_percentile")) if shown.size else 0.0
        if metered and high > limit_value("alternator_load_likely"):
            mask &= ~(output < limit_value("output_silent"))
    elif not by_voltage.any():
        mask |= lifted_above_rest(trace, running, rest, limits)
    return mask


def lifted_above_rest(trace: Trace, running: Mask, rest: float, limits: Limits) -> Mask:
    """Rows in which the bus stands above a full battery's rest, and by more above what it rested at before the start.

    A battery that gives the load stands lower than it rested, and sinks: what lifts it for long, and does not let it
    sink, is an alternator, however little its regulator holds. ``rest`` is the bus voltage with the engine stopped [V];
    none where it is not known.
    """
    lifted = np.zeros(trace.time.size, dtype=np.bool_)
    least = max(rest + limits["carrying_smallest_rise"], limits["full_battery"])
    volts = running_median(trace.bus_voltage, trace.rows_in(limit_value("regulated_lasting")))
    above = running & (volts > least)
    if not float(trace.seconds[above].sum()) >= limit_value("lifted_shortest"):
        return lifted
    rows = np.flatnonzero(above)
    third = rows.size // 3
    sank = median(trace.bus_voltage[rows[:third]]) - median(trace.bus_voltage[rows[-third:]])
    return lifted if sank > limits["sag_least"] + 0.5 * trace.voltage_step else above


def feeds_at_rest_voltage(trace: Trace, limits: Limits) -> Mask:
    """Rows in which the alternator gives the load at a voltage that a battery holds only while it gives nothing.

    Not those in which it gives the most of the flight: at its limit the bus is where the battery is.
    """
    if trace.alternator_output is None:
        return np.zeros(trace.time.size, dtype=np.bool_)
    least = limits["full_battery"] + 0.5 * limits["carrying_smallest_rise"]
    width = trace.rows_in(limit_value("regulated_lasting"))
    volts, output = running_median(trace.bus_voltage, width), running_median(trace.alternator_output, width)
    now = running_median(trace.bus_voltage, 3)
    most = limit_value("at_limit_share") * percentile(finite_of(output), limit_value("output_highest"))
    return np.asarray((np.minimum(volts, now) > least) & (output > limits["alternator_feeds"]) & (output < most))


def shown_current(trace: Trace) -> Floats | None:
    """The current that tells of the alternator where no voltage does: its own, else the battery's; None without."""
    currents = (trace.alternator_output, trace.battery_current)
    return next((flow for flow in currents if flow is not None and np.isfinite(flow).any()), None)


def online_by_current(trace: Trace, running: Mask, stopped: Mask) -> Mask:
    """Rows in which the alternator carries the bus, by the ammeter alone: no voltage is recorded.

    An alternator's own ammeter leaves zero; a battery's shows no discharge. Where the battery's current with
    the engine running stands well above that of the ``stopped`` rows, an alternator gives the difference: what
    the meter then shows below zero is its own error at zero, and only a fall below its usual level is a discharge.
    """
    flow = shown_current(trace)
    if flow is None or not np.isfinite(flow[running]).any():
        return np.zeros(trace.time.size, dtype=np.bool_)
    lasting = running_median(flow, 3)
    if flow is trace.alternator_output:
        return running & (lasting > limit_value("output_silent"))
    floor = -limit_value("discharge_smallest") - resolution(flow)
    usual = median(flow[running])
    if usual - median(flow[stopped]) > limit_value("source_rise"):
        floor = min(floor, usual - limit_value("source_rise"))
    return running & (lasting > floor)


def without_shallow_falls(
    trace: Trace, running: Mask, alternator_online: Mask, rpm_sufficient: Mask, limits: Limits
) -> Mask:
    """Rows in which the alternator carries the bus, with falls too small for its loss taken for what they are.

    Only where the engine is fast. Where no ammeter tells: a bus that hovers about the level that tells carrying, as
    behind a voltmeter that reads low, is neither lost nor found each time. A battery by itself lies lower, and sags.
    Where a battery's ammeter tells: a bus that slides below that level while the battery gives next to nothing is
    still fed by the alternator, whose regulator holds too little.
    """
    whole = alternator_online.copy()
    if any(getattr(trace, name) is not None for name in CURRENTS):
        if not regulated_estimate(trace, running, limits) >= limits["regulated_low"]:
            return whole  # a bus that never stood in the band has not left it
        for first, end in runs(running & ~alternator_online):
            if _slides(trace, whole, first, end, limits):
                whole[first:end] |= rpm_sufficient[first:end]
        return whole
    beside = trace.rows_in(limit_value("level_window"))
    volts = trace.bus_voltage
    for first, end in runs(running & ~alternator_online):
        late = volts[first:end][rpm_sufficient[first:end]]
        late = late[late.size // 2 :]
        near = slice(max(0, first - beside), end + beside)
        level = median(volts[near][alternator_online[near]])
        if np.isfinite(late).any() and level - median(late) < limits["offline_least_fall"]:
            whole[first:end] |= rpm_sufficient[first:end]
    return whole


def _slides(trace: Trace, alternator_online: Mask, first: int, end: int, limits: Limits) -> bool:
    """Whether a carried bus comes to row ``first`` without a step, and the battery gives next to nothing to ``end``."""
    flow, beside = trace.battery_current, trace.rows_in(limit_value("outage_beside"))
    if flow is None or first < beside or not np.isfinite(flow[first:end]).any():
        return False
    if not alternator_online[first - beside : first].all():
        return False
    fall = median(trace.bus_voltage[first - beside : first]) - median(trace.bus_voltage[first : first + beside])
    given = -percentile(finite_of(running_median(flow[first:end], 5)), 10.0)
    return fall < 0.5 * limits["offline_least_fall"] and given < 2.0 * limit_value("discharge_smallest")


def rpm_sufficient_rows(trace: Trace, running: Mask, source: Source | None = None) -> Mask:
    """Rows in which the engine turns fast enough for a sound alternator to carry the bus.

    A share of the flight's own high engine speed, since geared engines turn at twice the speed of direct
    ones; a d.c. generator needs more of it than an alternator; a turbine's core turns its generator fast enough
    whenever it runs. Without an engine speed, flying is fast enough; without that either, any running row.
    """
    if trace.engine_speed_percent is not None:
        return running & (hold(trace.engine_speed_percent) >= limit_value("core_running"))
    if trace.engine_speed is not None:
        speed = running_median(trace.engine_speed, 3)
        if not np.isfinite(speed[running]).any():
            return np.zeros_like(running)
        high = percentile(finite_of(speed[running]), limit_value("high_speed_percentile"))
        generator = source is Source.DC_GENERATOR
        share = limit_value("generator_fast_share") if generator else limit_value("fast_share")
        floor = max(share * high, limit_value("fast_lowest"))
        return running & (speed >= floor)
    for moving in (trace.airspeed, trace.ground_speed):
        if moving is not None:
            return running & (hold(moving) >= limit_value("flying_speed"))
    return running


def takeoff_row(trace: Trace, running: Mask) -> int:
    """First row of the first stretch at high power or flying speed; the last row when there is none."""
    if trace.airspeed is not None:
        flying = running & (running_median(trace.airspeed, 5) >= limit_value("flying_speed"))
    elif trace.engine_speed is not None and np.isfinite(trace.engine_speed[running]).any():
        speed = running_median(trace.engine_speed, 5)
        cruise = percentile(finite_of(speed[running]), limit_value("high_speed_percentile"))
        high = limit_value("takeoff_share") * cruise
        flying = drop_short_runs(running & (speed >= high), trace.time, limit_value("takeoff_shortest"))
    else:
        flying = running
    return int(np.argmax(flying)) if flying.any() else trace.time.size - 1


def taken_row(trace: Trace, alternator_online: Mask) -> int | None:
    """Row at which the alternator takes the bus for more than a moment, None when it never does."""
    lasting = drop_short_runs(alternator_online, trace.time, limit_value("outage_shortest"))
    return int(np.argmax(lasting)) if lasting.any() else None
