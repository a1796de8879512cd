"""The rows in which the regulator holds the bus at its own level: the recharge is over, nothing is at its limit."""

from __future__ import annotations

import numpy as np

from analyzer.flights.alternator_online import feeds_at_rest_voltage
from analyzer.flights.outage_kinds import AlternatorOutage
from analyzer.flights.reading_faults import CURRENTS
from analyzer.flights.recharge import Recharge
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import Mask, hold, median, mostly, running_median


def regulated_rows(
    trace: Trace,
    alternator_online: Mask,
    rpm_sufficient: Mask,
    found: list[AlternatorOutage],
    recharge: Recharge | None,
    limits: Limits,
) -> Mask:
    """Rows in which the alternator carries the bus and the recharge is over.

    Fast engine speed where there is enough of it. After an outage the bus is left out until it is back
    where the regulator holds it.

    Parameters
    ----------
    trace : one flight, cleaned
    alternator_online : rows, engine running, in which the alternator carries the bus
    rpm_sufficient : rows in which the engine turns fast enough for that
    found : outages of the alternator
    recharge : of the flight; None when the alternator never takes the bus, and then no row is regulated
    limits : the aircraft's limits
    """
    if recharge is None:
        return np.zeros(trace.time.size, dtype=np.bool_)
    by_voltage = bool(np.isfinite(trace.bus_voltage).any())
    held = (
        alternator_online & np.isfinite(trace.bus_voltage) & _above_a_battery(trace, alternator_online, limits)
        if by_voltage
        else alternator_online.copy()
    )
    for outage in found:
        apart = trace.rows_in(limit_value("spin_up"))
        held[max(0, outage.first - apart) : outage.end + apart] = False
    settled = held & (trace.time >= recharge.settled_s)
    enough = limit_value("regulated_shortest")
    if float(trace.seconds[settled].sum()) < enough:
        settled = held & (trace.time >= recharge.origin_s)
    quick = settled & rpm_sufficient
    rows = quick if float(trace.seconds[quick].sum()) >= enough else settled
    if not by_voltage:
        return rows
    rows = _without_first_climb(trace, rows & ~_takes_all(trace, limits), limits)
    return _without_recovery(trace, rows, alternator_online, found, limits)


def _above_a_battery(trace: Trace, alternator_online: Mask, limits: Limits) -> Mask:
    """Rows in which the bus stands above what a battery holds by itself, or something else says who feeds it.

    A current does, or without any, that the bus stands above its own battery's rest though nowhere above any battery's.
    """
    most = limits["full_battery"] + limits["carrying_smallest_rise"]
    above = trace.bus_voltage > most
    if all(getattr(trace, name) is None for name in CURRENTS):
        held = median(trace.bus_voltage[alternator_online])
        return above if held > most else alternator_online
    if trace.battery_current is not None:
        above |= running_median(trace.battery_current, 5) > limit_value("charge_for_sure")
    elif trace.alternator_output is not None:
        above |= feeds_at_rest_voltage(trace, limits)
    return above


def _takes_all(trace: Trace, limits: Limits) -> Mask:
    """Rows in which the battery takes a high current from a bus below the band: the alternator gives all it has.

    A regulator that holds too little leaves the battery uncharged, and then no high current flows.
    """
    flow = trace.battery_current
    if flow is None:
        return np.zeros(trace.time.size, dtype=np.bool_)
    width = trace.rows_in(limit_value("regulated_lasting"))
    low = mostly(hold(trace.bus_voltage) < limits["regulated_low"], width)
    return low & mostly(hold(flow) > limits["never_settles"], width)


def _without_first_climb(trace: Trace, rows: Mask, limits: Limits) -> Mask:
    """Leave out the first climb of the bus while a low battery takes all that the alternator gives.

    Told from a regulator that drifts up by the charging current, which stands far above what it is later.
    """
    flow = trace.battery_current
    if flow is None or not rows.any():
        return rows
    volts, last = trace.bus_voltage, np.flatnonzero(rows)[-1]
    level = median(volts[rows][-int(rows.sum()) // 2 :]) - 0.5 * limits["held_margin"]
    reached = int(np.argmax(rows & (volts >= level)))
    climb = rows & (np.arange(rows.size) < reached)
    if not climb.any() or reached >= last:
        return rows
    more = median(flow[climb]) - median(flow[rows][-int(rows.sum()) // 4 :])
    return rows & ~climb if more > limits["climb_charge"] else rows


def _without_recovery(
    trace: Trace, rows: Mask, alternator_online: Mask, found: list[AlternatorOutage], limits: Limits
) -> Mask:
    """Leave out the climb of the bus after each outage, while the alternator is at its limit.

    It ends where the bus is back at the level of before, or at what it holds once it must have recovered: idling
    before the outage, or a regulator that drifts, make one of the two too low. What was drawn in the outage is
    back within a few times as long; a bus that stays low for longer is held there.
    """
    kept = rows.copy()
    if not found:
        return kept
    recovered, step = 0, trace.step_s
    lasting = running_median(trace.bus_voltage, trace.rows_in(limit_value("regulated_lasting")))
    whole = median(trace.bus_voltage[rows])
    soon, late = trace.rows_in(limit_value("recharge_assumed")), trace.rows_in(2.0 * limit_value("recharge_assumed"))
    for outage in found:
        before = slice(max(recovered, outage.first - trace.rows_in(limit_value("level_shortest"))), outage.first - 2)
        after = slice(outage.end + soon, outage.end + late)
        levels = [median(trace.bus_voltage[part][alternator_online[part]]) for part in (before, after) if part.stop > 0]
        level = max((level for level in levels if np.isfinite(level)), default=whole)
        gone = step * (outage.end - outage.first)
        longest = trace.rows_in(limit_value("recovery_least") + limit_value("recovery_share") * gone)
        back = np.flatnonzero(lasting[outage.end : outage.end + longest] >= level - 0.5 * limits["held_margin"])
        recovered = outage.end + (int(back[0]) if back.size else longest)
        kept[outage.end : recovered] = False
    return kept
