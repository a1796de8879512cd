"""When the engine ran, when it was cranked, and where one flight of a log ends and the next begins."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import Mask, drop_short_runs, fill_short_gaps, hold, median, running_median, runs


@dataclass(frozen=True, slots=True)
class EngineRun:
    """One engine run of a log, in rows of the whole trace; ends are exclusive."""

    first: int  # first row of the flight, engine still stopped when it was recorded
    end: int
    start: int  # first row with the engine running
    stop: int  # first row after it stopped, ``end`` when it still ran
    basis: str  # what told that the engine ran


def engine_runs(trace: Trace, limits: Limits, breaks: tuple[int, ...], dead: Mask) -> list[EngineRun]:
    """Cut a trace into engine runs with the rows before and after each.

    A pause shorter than the limit ``engine_pause`` belongs to the run (a stall, a second try); a break in
    the recording while the engine stands still always parts two flights; so does a gap in the recording
    longer than ``recording_gap``.
    """
    running, basis = engine_running(trace, limits)
    spans = _join_pauses(runs(running), trace, breaks)
    found = []
    for number, (start, stop) in enumerate(spans):
        before = spans[number - 1][1] if number else 0
        after = spans[number + 1][0] if number + 1 < len(spans) else trace.time.size
        first = before if number == 0 else _parting(before, start, trace, breaks, dead)
        end = trace.time.size if number + 1 == len(spans) else _parting(stop, after, trace, breaks, dead)
        found.append(EngineRun(first, end, start, stop, basis))
    return found


def engine_running(trace: Trace, limits: Limits) -> tuple[Mask, str]:
    """Rows in which the engine runs by itself, and what told."""
    if trace.engine_speed is not None:
        speed = running_median(trace.engine_speed, 3)
        mask = speed >= limit_value("engine_running_speed")
        basis = "engine speed"
    elif trace.oil_pressure is not None:
        mask = hold(trace.oil_pressure) >= limit_value("oil_pressure_running")
        basis = "oil pressure"
    elif np.isfinite(trace.bus_voltage).any():
        return _running_from_voltage(trace, limits), "bus voltage"
    else:
        return _running_from_current(trace), "ammeter"
    mask = fill_short_gaps(mask, trace.time, limit_value("engine_blip"))
    return drop_short_runs(mask, trace.time, limit_value("engine_blip")), basis


def _running_from_voltage(trace: Trace, limits: Limits) -> Mask:
    """Without engine speed: from the starter's dip (or the first charging row) to the last charging row.

    A sag at idle or a lost alternator in between belongs to the run. When the alternator never charges,
    the run begins with the dip and lasts as long as the log.
    """
    volts = running_median(trace.bus_voltage, 5)
    charging = volts >= limits["charging_for_sure"]
    charging = drop_short_runs(charging, trace.time, limit_value("engine_blip"))
    # a bus without power charges nothing: what is held over from before it died is no charge
    powered = fill_short_gaps(np.isfinite(trace.bus_voltage), trace.time, limit_value("gap_longest_counted"))
    charging &= powered
    moving = _moving(trace)
    charging |= moving
    rest = median(trace.bus_voltage[: trace.rows_in(limit_value("rest_first"))])
    dips = np.flatnonzero(trace.bus_voltage < rest - limits["crank_dip"])
    mask = np.zeros(trace.time.size, dtype=np.bool_)
    if not charging.any():
        if dips.size:
            mask[dips[0] + 1 :] = True
        return mask
    stretches = runs(fill_short_gaps(charging, trace.time, limit_value("recording_gap")))
    if stretches and _goes_on_without(trace, stretches[-1][1], rest, limits):
        stretches[-1] = (stretches[-1][0], int(np.flatnonzero(powered)[-1]) + 1)
    for first, end in stretches:
        earlier = dips[(dips < first) & (trace.time[dips] > trace.time[first] - limit_value("late_alternator"))]
        start = int(earlier[-1]) + 1 if earlier.size else first
        mask[start:end] = True
    return mask


def _running_from_current(trace: Trace) -> Mask:
    """Without engine speed and voltage: from the first row in which a source gives current to the last.

    A source shows on an alternator's ammeter as what stands above zero, on a battery's as what stands above the
    discharge of the stopped aircraft, in both as a rise above the lowest level that lasts. A log whose current
    never rises so begins with the engine running, if it ever runs.
    """
    currents = (trace.alternator_current, trace.battery_current, trace.ammeter_current)
    flow = next((one for one in currents if one is not None and np.isfinite(one).any()), None)
    moving = _moving(trace)
    if flow is None:
        return moving
    lasting = running_median(flow, trace.rows_in(limit_value("rest_first")))
    lowest, highest = float(np.nanmin(lasting)), float(np.nanmax(lasting))
    rise = limit_value("source_rise")
    rests = lowest < limit_value("current_at_rest_clear")
    if highest - lowest < rise:
        return moving if rests else moving | np.isfinite(flow)
    first_level = float(lasting[0])
    rest = first_level if first_level < highest - rise else lowest
    gives = lasting > rest + 0.5 * rise if rests else np.isfinite(flow)
    given = drop_short_runs(gives | moving, trace.time, limit_value("engine_blip"))
    given = fill_short_gaps(given, trace.time, limit_value("recording_gap"))
    end = int(np.flatnonzero(given)[-1]) + 1 if given.any() else given.size
    drained = median(flow[end:]) < rest - limit_value("current_at_rest_clear")
    if drained and trace.time[-1] - trace.time[end - 1] >= limit_value("drained_after_charging"):
        given[end:] = True  # more is drawn than at rest, for long: the alternator was lost, the engine runs on
    return given


def _goes_on_without(trace: Trace, end: int, rest: float, limits: Limits) -> bool:
    """Whether the engine seems to run on after the last charging row: the alternator is lost, not stopped.

    After a shutdown the bus rests where it rested before, or where a charged battery does, however long the master
    stays on; it climbs back, or eases ever more slowly. A battery that stands lower and goes on sinking carries an
    aircraft.
    """
    left = trace.time[-1] - trace.time[min(end, trace.time.size - 1)]
    if left < limit_value("drained_after_charging"):
        return False
    charged = limits["full_battery"] - limits["carrying_smallest_rise"]  # of a log that begins running
    if not median(trace.bus_voltage[end:]) < (rest if rest < limits["charging_for_sure"] else charged):
        return False
    return not _eases(trace, end, limits)


def _eases(trace: Trace, end: int, limits: Limits) -> bool:
    """Whether the bus climbs after row ``end``, or in a long time hardly sinks any more: a battery left to itself."""
    rows = np.flatnonzero(np.isfinite(trace.bus_voltage[end:])) + end
    third = rows.size // 3
    if third < 2:
        return False
    middle, late = rows[third : 2 * third], rows[-third:]
    sinks = float(trace.bus_voltage[middle].mean() - trace.bus_voltage[late].mean())
    hours = float(trace.time[late].mean() - trace.time[middle].mean()) / 3600.0
    long = trace.time[rows[-1]] - trace.time[rows[0]] >= limit_value("ease_shortest")
    return bool(sinks < 0.0 or (long and sinks < limits["ease_slowest"] * hours))


def _moving(trace: Trace) -> Mask:
    """Rows in which the aircraft moves as no stopped engine lets it."""
    for speed in (trace.airspeed, trace.ground_speed):
        if speed is not None:
            return running_median(speed, 5) >= limit_value("flying_speed")
    return np.zeros(trace.time.size, dtype=np.bool_)


def _join_pauses(spans: list[tuple[int, int]], trace: Trace, breaks: tuple[int, ...]) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for start, stop in spans:
        parts = _split_at_gaps(start, stop, trace)
        if joined and not _parted(joined[-1][1], parts[0][0], trace, breaks):
            parts[0] = (_start_of(joined.pop(), parts[0], trace), parts[0][1])
        joined += parts
    return joined


def _start_of(earlier: tuple[int, int], later: tuple[int, int], trace: Trace) -> int:
    """Where a joined run starts: a first run of a few seconds is a start that failed."""
    caught = trace.time[earlier[1] - 1] - trace.time[earlier[0]] >= limit_value("start_caught")
    return earlier[0] if caught else later[0]


def _split_at_gaps(start: int, stop: int, trace: Trace) -> list[tuple[int, int]]:
    gaps = np.flatnonzero(np.diff(trace.time[start:stop]) > limit_value("recording_gap")) + start + 1
    edges = [start, *map(int, gaps), stop]
    return list(pairwise(edges))


def _parted(stop: int, start: int, trace: Trace, breaks: tuple[int, ...]) -> bool:
    pause = trace.time[start] - trace.time[stop - 1]
    return pause > limit_value("engine_pause") or any(stop <= row <= start for row in breaks)


def _parting(stop: int, start: int, trace: Trace, breaks: tuple[int, ...], dead: Mask) -> int:
    """First row of the later flight, between one engine stop and the next engine start.

    The break of the recording with the longest pause (a recorder may start anew again as the starter pulls
    the bus down), else the last row without power, else the longest gap, else the middle.
    """
    inside = [row for row in breaks if stop <= row <= start]
    if inside:
        return max(inside, key=lambda row: trace.time[row] - trace.time[row - 1])
    powerless = np.flatnonzero(dead[stop:start])
    if powerless.size:
        return stop + int(powerless[-1]) + 1
    steps = np.diff(trace.time[stop - 1 : start + 1])
    if steps.max() > limit_value("gap_longest_counted"):
        return stop + int(np.argmax(steps))
    return (stop + start) // 2


def cranking(trace: Trace, start: int, limits: Limits) -> Mask:
    """Rows before the engine start in which the starter turns the engine.

    Told by an engine speed below running, or by the bus falling from its rest by more than ``crank_dip``.
    """
    rows = np.zeros(trace.time.size, dtype=np.bool_)
    if start == 0:
        return rows
    volts = trace.bus_voltage[:start]
    rest = running_median(volts, 2 * trace.rows_in(limit_value("crank_longest")) + 1)
    turning = volts < np.fmax(rest, median(volts)) - limits["crank_dip"]
    if trace.engine_speed is not None:
        speed = np.nan_to_num(trace.engine_speed[:start])
        turning |= (speed >= limit_value("crank_speed")) & (speed < limit_value("engine_running_speed"))
        turning &= speed < limit_value("engine_running_speed")
    rows[:start] = turning
    return rows
