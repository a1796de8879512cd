"""Moments, seconds long, in which the bus or the alternator's output drops out, and what each is.

A drop of the bus reading is told by what the currents do at that moment. An output that falls to nothing, or a
battery that suddenly carries the load, is the alternator's lead, however little the bus gives way: a charged
battery holds it to within half a volt for some seconds. A bus that steps down while no current answers is the
way to the voltmeter, since tenths of a volt move tens of amperes into or out of a battery.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from msgspec import Struct

from analyzer.flights.alternator_online import regulated_estimate, shown_current
from analyzer.flights.at_power import altitude_tells, power_held
from analyzer.flights.outage_kinds import GROUND_CHECK, LATE_START, LOW_RPM, OFFLINE, OUTPUT_LIMITED, AlternatorOutage
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    Floats,
    Mask,
    finite_of,
    hold,
    median,
    percentile,
    resolution,
    running_median,
    running_percentile,
    runs,
    step_noise,
)


class DipKind(StrEnum):
    """What dropped out."""

    LEAD = "lead"  # the alternator was gone
    PATH = "path"  # no current answers
    UNTOLD = "untold"  # no ammeter tells


LEAD, PATH, UNTOLD = DipKind


class Dip(Struct, frozen=True):
    """One such moment; rows, end exclusive."""

    first: int
    end: int
    kind: DipKind
    depth: float  # of the bus below its own level [V]


def find_dips(
    trace: Trace,
    running: Mask,
    rpm_sufficient: Mask,
    alternator_on_row: int | None,
    outages: list[AlternatorOutage],
    limits: Limits,
) -> list[Dip]:
    """Dips in time order.

    Parameters
    ----------
    trace : one flight, cleaned, currents under the kind they are
    running, rpm_sufficient : rows in which the engine runs, and in which it turns fast enough for the alternator
    alternator_on_row : row at which the alternator takes the bus, None when it never does
    outages : of the alternator; a dip within one that lasts is no dip
    """
    if alternator_on_row is None or not np.isfinite(trace.bus_voltage).any():
        return []
    open_to = running & rpm_sufficient
    open_to[:alternator_on_row] = False
    beside = trace.rows_in(limit_value("loss_beside"))
    for outage in outages:
        lasts = trace.time[outage.end - 1] - trace.time[outage.first] > limit_value("connection_longest")
        if outage.kind == OUTPUT_LIMITED or (lasts and outage.kind == OFFLINE):
            ahead = trace.rows_in(limit_value("limited_ahead")) if outage.kind == OUTPUT_LIMITED else 5
            open_to[max(0, outage.first - ahead) : outage.end + beside] = False
    if not (_may_be_gone(trace, open_to) or _may_drop(trace, open_to, limits)):
        return []
    open_to &= _steady_speed(trace, rpm_sufficient)
    level = _level(trace.bus_voltage, trace)
    sure = _sure_of_speed(trace, running, outages)
    held_from = regulated_estimate(trace, running, limits) - limits["held_margin"]
    held = level > held_from
    by_battery = shown_current(trace) is trace.battery_current
    lead = _lead_dips(trace, level, open_to & sure & (held | (not by_battery)), limits)
    taken = np.zeros(trace.time.size, dtype=np.bool_)
    for dip in lead:
        taken[max(0, dip.first - 2) : dip.end + 2] = True
    if shown_current(trace) is None:
        calm = ~_recharging(trace, rpm_sufficient, outages, held_from)
        rest = _untold_dips(trace, level, open_to & sure & calm & held, limits)
    else:
        rest = _path_dips(trace, level, open_to & sure & ~taken & ~_before_losses(trace, outages), limits)
    return sorted([*lead, *rest], key=lambda dip: dip.first)


def _recharging(trace: Trace, rpm_sufficient: Mask, outages: list[AlternatorOutage], held_from: float) -> Mask:
    """Rows soon after, or just before, a stretch without enough from the alternator, idling for the most part.

    It is then at its limit, or comes to it, and lets every pulse of the loads through to the bus: until the bus has
    come up to ``held_from`` [V] for most of a minute, and for a while yet.
    """
    up = np.flatnonzero(running_median(trace.bus_voltage, trace.rows_in(limit_value("regulated_lasting"))) >= held_from)
    beside = np.zeros(trace.time.size, dtype=np.bool_)
    around = trace.rows_in(limit_value("calm_after_outage"))
    for outage in outages:
        idles = not rpm_sufficient[outage.first : outage.end].any()
        lasts = trace.time[outage.end - 1] - trace.time[outage.first] > limit_value("connection_longest")
        if idles or lasts or outage.kind in (GROUND_CHECK, LATE_START):
            back = up[np.searchsorted(up, outage.end) :][:1]
            come_up = int(back[0]) if back.size else trace.time.size
            beside[max(0, outage.first - around) : come_up + around] = True
    return beside


def _before_losses(trace: Trace, outages: list[AlternatorOutage]) -> Mask:
    """Rows in the minutes before a loss that lasts: an output that fades to nothing lets the loads' pulses through."""
    before = np.zeros(trace.time.size, dtype=np.bool_)
    for outage in outages:
        lasts = trace.time[outage.end - 1] - trace.time[outage.first] > limit_value("recharge_assumed")
        if outage.kind == OFFLINE and lasts:
            before[max(0, outage.first - trace.rows_in(limit_value("limited_ahead"))) : outage.first] = True
    return before


def _level(values: Floats, trace: Trace) -> Floats:
    """A channel's own level from row to row: a high percentile of minutes, which even frequent dips leave alone."""
    width = trace.rows_in(limit_value("connection_level_window")) | 1
    return running_percentile(values, width, limit_value("connection_level_percentile"))


def _may_be_gone(trace: Trace, open_to: Mask) -> bool:
    """Whether a current shows, in some row open to a dip, what one with the alternator gone shows at the most."""
    flow = shown_current(trace)
    if flow is None:
        return False
    by_output = flow is trace.alternator_output
    most = limit_value("dip_output_left") * float(np.nanmax(flow)) if by_output else -limit_value("discharge_smallest")
    return bool((open_to & (flow < most)).any())


def _may_drop(trace: Trace, open_to: Mask, limits: Limits) -> bool:
    """Whether the bus stands, in some row open to a dip, so far below its highest that it may be below its level."""
    highest = float(np.nanmax(trace.bus_voltage))
    return bool((open_to & (highest - trace.bus_voltage > _far_below(trace, limits))).any())


def _lead_dips(trace: Trace, level: Floats, open_to: Mask, limits: Limits) -> list[Dip]:
    """Moments in which the alternator is gone: its output falls to nothing, or the battery carries the load."""
    flow = shown_current(trace)
    if flow is None or not _may_be_gone(trace, open_to):
        return []
    usual, noise = _level(flow, trace), step_noise(flow)
    if flow is trace.alternator_output:
        left = limit_value("dip_output_left")
        there = usual > max(limit_value("output_smallest"), limit_value("dip_noise") * noise)
        gone = there & (flow < left * usual)
        half = 0.5 * usual
    else:
        fall = max(limit_value("connection_answer"), limit_value("dip_noise") * noise)
        gone = (flow < usual - fall) & (flow < -limit_value("discharge_smallest"))
        half = np.minimum(usual - 0.5 * fall, 0.0)
    found = []
    sag = max(limit_value("dip_volts_noise") * step_noise(trace.bus_voltage), trace.voltage_step)
    for first, end in runs(gone):
        lasts = trace.time[min(end, trace.time.size - 1)] - trace.time[first]
        if lasts > limit_value("connection_longest") or not open_to[first:end].all():
            continue
        depth = _depth(trace, level, first, end + 1)
        if depth < sag or not _at_once(trace, flow, half, first, end):
            continue
        if flow is trace.battery_current and _at_limit(trace, first, end, limits):
            continue
        found.append(Dip(first, end, LEAD, depth))
    if flow is trace.battery_current and _flashing(trace.time[[dip.first for dip in found]]):
        return []
    return found


def _flashing(starts: Floats) -> bool:
    """Whether moments follow each other soon and evenly, as a flashing load's do."""
    apart = np.diff(starts)
    if apart.size < limit_value("flashes_fewest"):
        return False
    usual = median(apart)
    even = median(np.abs(apart - usual)) <= limit_value("flashes_even") * usual
    return usual < limit_value("flashes_apart") and even


def _depth(trace: Trace, level: Floats, first: int, end: int) -> float:
    volts = trace.bus_voltage[first:end]
    if not np.isfinite(volts).any():
        return 0.0
    return float(level[first] - np.nanmin(volts))


def _at_once(trace: Trace, flow: Floats, half: Floats, first: int, end: int) -> bool:
    """Whether the current leaves and returns within a moment: a throttle that closes and opens takes longer.

    Where no engine speed is recorded the rows must be close enough to show the difference, unless the altitude tells
    that the engine is at power: then only such rows are open to it.
    """
    within = limit_value("dip_at_once")
    if trace.engine_speed is None and trace.step_s > within and not altitude_tells(trace, first, end):
        return False
    within = max(1.5 * trace.step_s, within)
    before = np.flatnonzero(flow[max(0, first - trace.rows_in(within) - 1) : first] >= half[first])
    after = np.flatnonzero(flow[end : end + trace.rows_in(within) + 1] >= half[min(end, half.size - 1)])
    return bool(before.size and after.size)


def _far_below(trace: Trace, limits: Limits) -> float:
    """How far below its level the bus must fall to have dropped [V]; further where no ammeter tells more of it."""
    if shown_current(trace) is None:
        return limits["connection_drop"]
    steps = limit_value("connection_fewest_steps") * trace.voltage_step  # a held bus toggles between two of them
    return max(limits["connection_step"], limit_value("dip_noise") * step_noise(trace.bus_voltage), steps)


def _path_dips(trace: Trace, level: Floats, open_to: Mask, limits: Limits) -> list[Dip]:
    """Steps down of the bus reading that no current answers."""
    far = _far_below(trace, limits)
    low = level - trace.bus_voltage > far
    spans = _sudden_drops(trace, low & open_to, far)
    return [
        Dip(first, end, PATH, _depth(trace, level, first, end))
        for first, end in spans
        if not _at_limit(trace, first, end, limits) and _silent(trace, first, end)
    ]


def _silent(trace: Trace, first: int, end: int) -> bool:
    """Whether no current moves as the reading falls and as it returns; loads may be switched meanwhile.

    A current that falls with the reading and returns with it, each by more than its own noise, has answered however
    small it is: that of a settled battery which carries a few amperes of load.
    """
    width = max(2, trace.rows_in(limit_value("dip_at_once")))
    for current in (trace.alternator_output, trace.battery_current):
        if current is None or not np.isfinite(current).any():
            continue
        moved = max(limit_value("connection_answer"), limit_value("dip_noise") * step_noise(current))
        before, after = median(current[max(0, first - width) : first]), median(current[end : end + width])
        inside = current[first:end]
        falls, returns = median(inside[:width]) - before, after - median(inside[-width:])
        if abs(falls) > moved or abs(returns) > moved:
            return False
        noise = step_noise(current) / float(np.sqrt(min(width, inside.size)))
        if min(-falls, returns) > max(limit_value("dip_volts_noise") * noise, resolution(current)):
            return False
        away = np.abs(inside - before)
        if inside.size <= 2 and np.isfinite(away).any() and float(np.nanmax(away)) > moved:
            return False
    return True


def _untold_dips(trace: Trace, level: Floats, open_to: Mask, limits: Limits) -> list[Dip]:
    """Drops of the bus that no switch of a load makes on a held bus; no ammeter tells more of them.

    An alternator at its limit lets every pulse of a load through to the bus, so the bus must be held before: only then
    are rows ``open_to`` it.
    """
    far = _far_below(trace, limits)
    spans = _sudden_drops(trace, (level - trace.bus_voltage > far) & open_to, far)
    return [Dip(first, end, UNTOLD, _depth(trace, level, first, end)) for first, end in spans]


def _sudden_drops(trace: Trace, low: Mask, far: float) -> list[tuple[int, int]]:
    """Spans of low rows that begin and end within two rows; none where they follow each other as a flashing load's.

    Rows too far apart to see each flash fall on them unevenly.
    """
    volts, found = trace.bus_voltage, []
    for first, end in runs(low):
        floor = float(np.nanmin(volts[first:end]))
        before, after = median(volts[max(0, first - 3) : first]), median(volts[end : end + 3])
        sudden = before - floor > 0.5 * far and after - floor > 0.5 * far
        if sudden and trace.time[end - 1] - trace.time[first] <= limit_value("connection_longest"):
            found.append((first, end))
    starts = trace.time[[first for first, _ in found]]
    soon = len(found) > 1 and median(np.diff(starts)) < limit_value("flashes_apart")
    uneven = trace.step_s <= limit_value("flashes_seen_within") and not _flashing(starts)
    return [] if soon and not uneven else found


def _sure_of_speed(trace: Trace, running: Mask, outages: list[AlternatorOutage]) -> Mask:
    """Rows in which an engine of unknown speed hardly idles: not about taxiing, the approach, or a bus long low.

    Where the altitude is recorded, those in which the aircraft is seen to hold height and speed, and no others.
    """
    sure = np.ones(trace.time.size, dtype=np.bool_)
    if trace.engine_speed is not None or not running.any():
        return sure
    away = limit_value("idle_blind_ends")
    rows = np.flatnonzero(running)
    if altitude_tells(trace, int(rows[0]), int(rows[-1]) + 1):
        return power_held(trace)
    sure &= (trace.time > trace.time[rows[0]] + away) & (trace.time < trace.time[rows[-1]] - away)
    idle, beside = (trace.rows_in(limit_value(name)) for name in ("idle_blind_shortest", "idle_blind_beside"))
    for outage in outages:
        if outage.kind == LOW_RPM and outage.end - outage.first > idle:
            sure[max(0, outage.first - beside) : outage.end + beside] = False
    return sure


def _at_limit(trace: Trace, first: int, end: int, limits: Limits) -> bool:
    """Whether the alternator gave all it can before row ``first`` or to ``end``, so that a load's pulse shows.

    A load that comes on may itself take the output the last amperes up to its limit, and the bus then falls.
    """
    before = slice(max(0, first - trace.rows_in(limit_value("at_limit_before"))), first)
    if trace.alternator_output is not None and np.isfinite(trace.alternator_output).any():
        smooth = running_median(trace.alternator_output, trace.rows_in(limit_value("outage_smoothed")))
        most = percentile(finite_of(smooth), limit_value("output_highest"))
        gives = max(median(trace.alternator_output[before]), median(trace.alternator_output[first:end]))
        return gives > limit_value("at_limit_share") * float(most)
    if trace.battery_current is not None:
        return median(trace.battery_current[before]) > limits["never_settles_far"]
    return False


def _steady_speed(trace: Trace, rpm_sufficient: Mask) -> Mask:
    """Rows in which the engine holds its speed and is fast enough for the alternator."""
    speed = trace.engine_speed
    if speed is None:
        return rpm_sufficient
    held = hold(speed)
    width = trace.rows_in(limit_value("steady_speed_window"))
    middle = running_median(held, width)
    calm = np.abs(held - middle) < limit_value("steady_speed_swing")
    for shift in (width, -width):
        calm &= np.abs(np.roll(middle, shift) - middle) < limit_value("steady_speed_apart")
    return calm & rpm_sufficient
