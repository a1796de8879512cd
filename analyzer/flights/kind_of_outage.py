"""Which kind an outage is, by what the bus, the ammeters and the engine do in it."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyzer.flights.alternator_online import shown_current
from analyzer.flights.at_power import altitude_tells, power_held
from analyzer.flights.outage_kinds import BRIEF, LOW_RPM, OFFLINE, OUTPUT_LIMITED, VOLTMETER_ONLY, OutageKind
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import Mask, drop_short_runs, median, percentile, running_median, runs


def _battery_at_ease(trace: Trace, first: int, end: int, rows: Mask) -> bool:
    """Whether the battery gives nothing though the bus reads less than it holds: then only the reading is low."""
    if trace.battery_current is None or not np.isfinite(trace.battery_current[first:end][rows]).any():
        return False
    return median(trace.battery_current[first:end][rows]) > -limit_value("discharge_smallest")


def _lacks_charge(trace: Trace, end: int, limits: Limits) -> bool:
    """Whether the battery has by row ``end`` given far more than it was given.

    On a held bus it would take a high current: one that takes none says that the bus is as low as it reads.
    """
    if trace.battery_current is None:
        return False
    net = float(np.nansum(trace.battery_current[:end] * trace.seconds[:end])) / 3600.0
    return -net > limits["unseen_discharge"]


def _climbs(trace: Trace, first: int, end: int, limits: Limits) -> bool:
    """Whether the bus climbs from row ``first`` to ``end``: it is being charged, and a battery by itself sags."""
    third = max(1, (end - first) // 3)
    volts = trace.bus_voltage
    return median(volts[end - third : end]) - median(volts[first : first + third]) > limits["carrying_smallest_rise"]


def _speed_holds(trace: Trace, first: int) -> bool:
    """Whether the engine turns as fast just after row ``first`` as just before: no throttle was closed."""
    speed = trace.engine_speed
    if speed is None:
        return False
    rows = trace.rows_in(limit_value("spin_up"))
    before, after = median(speed[max(0, first - rows) : first]), median(speed[first : first + rows + 1])
    return abs(after - before) < limit_value("steady_speed_swing")


def _lost_at_power(trace: Trace, first: int, end: int) -> bool:
    """Whether the engine went on at power after row ``first``, which a closed throttle takes away.

    For logs without an engine speed: by altitude and airspeed together, where no altitude is recorded by airspeed and
    the way the current left.
    """
    if trace.altitude is None or not np.isfinite(trace.altitude).any():
        return _lost_at_speed(trace, first, end)
    window = trace.rows_in(limit_value("power_window"))
    at_power = power_held(trace)
    since = min(first + window // 2, trace.time.size - 1)
    if at_power[since : since + window].mean() > limit_value("power_share"):
        return True
    # where an airspeed tells as well, that of a closed throttle is gone before half as long; a descent may begin then
    moving = trace.airspeed if trace.airspeed is not None else trace.ground_speed
    tells = moving is not None and np.isfinite(moving[first : first + window]).any()
    return bool(tells and at_power[first : first + window].mean() > limit_value("power_share_at_once"))


def _lost_at_speed(trace: Trace, first: int, end: int) -> bool:
    """Whether the current leaves in one step while the airspeed of before is held on: a throttle closes otherwise.

    For logs without an engine speed. False where no airspeed or no ammeter tells.
    """
    moving = trace.airspeed if trace.airspeed is not None else trace.ground_speed
    flow = shown_current(trace)
    if moving is None or flow is None or trace.step_s > limit_value("dip_at_once"):
        return False
    ago = slice(max(0, first - trace.rows_in(limit_value("airspeed_before"))), first)
    was, worst = median(moving[ago]), moving[first:end] - median(moving[ago])
    if not was >= limit_value("flying_speed") or not np.isfinite(worst).any():
        return False
    if not np.nanmax(np.abs(worst)) < limit_value("airspeed_holds"):
        return False
    within = max(1.5 * trace.step_s, limit_value("dip_at_once"))
    about = slice(max(0, first - 3 * trace.rows_in(within)), min(end, first + 3 * trace.rows_in(within)))
    before, gone = median(flow[ago]), median(flow[first:end])
    still = np.flatnonzero(flow[about] > before - 0.25 * (before - gone))
    outage_row = np.flatnonzero(flow[about] < before - 0.75 * (before - gone))
    later = outage_row[outage_row > still[-1]] if still.size else outage_row
    times = trace.time[about]
    return bool(still.size and later.size and times[later[0]] - times[still[-1]] <= within)


def _may_idle(trace: Trace, first: int, end: int, fast_s: float, running: Mask) -> bool:
    """Whether an engine of unknown speed may idle from row ``first`` to ``end``, ``fast_s`` seconds of it at speed.

    It idles for minutes at a time, and longer while it taxies out and in, if no airspeed says that it flies; where an
    altitude is recorded, as long as the aircraft is not seen to hold height and speed. Without one a bus
    that is low from then until the engine stops, and one that never came up, are none of that.
    """
    if fast_s < limit_value("offline_shortest_blind"):
        return True
    rows = np.flatnonzero(running)
    if altitude_tells(trace, first, end):  # neither the ground nor a descent shows that the engine is fast
        at_power = power_held(trace)[first:end]
        return float(trace.seconds[first:end][at_power].sum()) < limit_value("at_power_sure")
    if trace.airspeed is not None or trace.ground_speed is not None or not rows.size or end > rows[-1]:
        return False
    begins, stops = float(trace.time[rows[0]]), float(trace.time[rows[-1]])
    taxi = limit_value("idle_blind_ends")
    return bool(trace.time[end - 1] - begins < taxi or stops - trace.time[first] < taxi)


def kind_of(
    trace: Trace,
    first: int,
    end: int,
    rpm_sufficient: Mask,
    limits: Limits,
    holds: BatteryHolds,
    *,
    rose: bool,
    running: Mask,
) -> OutageKind:
    """Tell low engine speed from an alternator that gives nothing and from one that gives too little.

    ``rose``: the bus ran up before row ``first``, as no closing throttle makes it.
    """
    whole = trace.time[min(end, trace.time.size - 1)] - trace.time[first]
    gives = trace.alternator_output is not None and (
        median(trace.alternator_output[first:end]) > limit_value("output_smallest")
    )
    if rose and not gives and whole >= limit_value("offline_shortest") and _speed_holds(trace, first):
        return OFFLINE  # whatever the engine's speed: it is as it was when the alternator was still there
    rows = drop_short_runs(rpm_sufficient[first:end], trace.time[first:end], limit_value("fast_shortest"))
    settle = trace.rows_in(limit_value("spin_up"))
    for start, _ in runs(rows):
        if first + start > 0 and not rpm_sufficient[first + start - 1]:
            rows[start : start + settle] = False  # an alternator needs seconds after the engine speeds up
    if not rows.any():
        return LOW_RPM
    seconds = float(trace.seconds[first:end][rows].sum())
    blind = trace.engine_speed is None and not rose and not _lost_at_power(trace, first, end)
    if blind and whole >= limit_value("offline_shortest") and _may_idle(trace, first, end, seconds, running):
        return LOW_RPM
    if whole - trace.step_s < limit_value("offline_shortest"):  # it may have ended just after the last row but one
        return BRIEF
    if seconds < limit_value("offline_shortest"):
        return LOW_RPM
    if trace.battery_current is not None and _battery_at_ease(trace, first, end, rows):
        if median(trace.battery_current[first:end][rows]) > limits["never_settles"]:
            return LOW_RPM  # a low battery takes all that the alternator gives
        return OUTPUT_LIMITED if _lacks_charge(trace, end, limits) else VOLTMETER_ONLY
    if trace.alternator_output is None:
        return _kind_by_volts(trace, first, end, rpm_sufficient, rows, limits, holds, rose=rose)
    output = median(trace.alternator_output[first:end][rows])
    if not output >= limit_value("output_smallest"):  # nothing, or not recorded
        return OFFLINE
    before = slice(max(0, first - trace.rows_in(limit_value("output_before"))), max(1, first - 1))
    usual = median(trace.alternator_output[before])
    alike = abs(output - usual) < max(limit_value("output_smallest"), limit_value("output_alike") * usual)
    return VOLTMETER_ONLY if alike else OUTPUT_LIMITED


def _kind_by_volts(
    trace: Trace,
    first: int,
    end: int,
    rpm_sufficient: Mask,
    rows: Mask,
    limits: Limits,
    holds: BatteryHolds,
    *,
    rose: bool,
) -> OutageKind:
    """The same where no output is recorded: a loss unless the bus itself says that a source still lifts it.

    ``rows``, counted from ``first``, are those in which the engine has turned fast enough for some seconds.
    """
    if trace.battery_current is not None or rose:
        return OFFLINE
    slow = idled(trace, first, end, rpm_sufficient)
    if slow and (_answers_throttle(trace, first, end, rows, limits) or _climbs(trace, first, end, limits)):
        return LOW_RPM
    if not _stands_above_a_battery(trace, first, end, rows, holds, limits):
        return OFFLINE
    return LOW_RPM if slow else VOLTMETER_ONLY


def idled(trace: Trace, first: int, end: int, rpm_sufficient: Mask) -> bool:
    """Whether the engine turned slowly as the bus fell at row ``first``, or within the minute before."""
    slow = ~rpm_sufficient[first:end]
    lately = rpm_sufficient[max(0, first - trace.rows_in(limit_value("climb_after"))) : first]
    return not lately.all() or bool(slow.any() and not rpm_sufficient[min(first + 1, end - 1)])


def _answers_throttle(trace: Trace, first: int, end: int, rows: Mask, limits: Limits) -> bool:
    """Whether the bus comes up as the throttle opens, from the minute before to the minute after: a source gives.

    ``rows``, counted from ``first``, are those of a fast engine. By the median of all such moments, since loads are
    switched at some.
    """
    beside, volts = trace.rows_in(limit_value("climb_after")), trace.bus_voltage[first:end]
    settle = trace.rows_in(limit_value("spin_up"))
    rises = [
        median(volts[start : min(stop, start + beside)])
        - median(volts[max(0, start - settle - beside) : start - settle])
        for start, stop in runs(rows)
        if start > settle
    ]
    return bool(rises) and median(np.array(rises)) > limits["carrying_smallest_rise"]


class BatteryHolds(Struct, frozen=True):
    """How high a battery may hold the bus [V] while it gives the load."""

    rested: float
    lastingly: float  # seen for long enough that it would have sagged
    at_first: float  # with surface charge


def battery_holds(rest: float, limits: Limits, *, charged: bool) -> BatteryHolds:
    """What a battery of that rest [V] holds; of one whose rest is unknown, NaN, what any battery does.

    One that no alternator has ``charged`` since it rested holds no more than that.
    """
    full = limits["full_battery"]
    known = bool(np.isfinite(rest))
    most = max(rest, full) if known else limits["charging_for_sure"] if charged else full
    if known and rest > limits["lithium_resting_low"]:
        most = max(most, limits["lithium_full_battery"])  # it may be one, which hardly sags
    if not charged or not known:
        return BatteryHolds(most, most, most)
    return BatteryHolds(most, most + limits["sag_least"], most + limits["carrying_smallest_rise"])


def _stands_above_a_battery(
    trace: Trace, first: int, end: int, rows: Mask, holds: BatteryHolds, limits: Limits
) -> bool:
    """Whether a low bus stays above what its battery ``holds`` and does not sag, as no battery does under the load.

    What lifts it is an alternator at its limit, or it is only the reading that is low. In one that lasts hardly a
    reading may lie lower; in a short one, where a contact falls in several steps, a part of it above says so.
    """
    volts = trace.bus_voltage[first:end][rows]
    shown = running_median(volts[np.isfinite(volts)], max(3, trace.rows_in(limit_value("outage_smoothed"))))
    if not shown.size:
        return False
    moves = np.diff(shown[1:-1])
    steps = np.abs(moves) > max(limits["load_step_least"], limit_value("load_step_readings") * trace.voltage_step)
    sank = -float(moves[~steps].sum())
    lasts = trace.time[end - 1] - trace.time[first] > limit_value("connection_longest")
    level = percentile(shown, limit_value("outage_level_lasting" if lasts else "outage_level_short"))
    shows = limits["sag_least"] + trace.voltage_step  # of a sag, by then, or of a charge that goes on
    would_sag = limits["battery_sinks"] * float(trace.seconds[first:end][rows].sum()) / 3600.0
    least = holds.rested if sank < -shows else holds.lastingly if would_sag > shows else holds.at_first
    return level > least and sank < limits["sag_least"] + limit_value("sag_readings") * trace.voltage_step
