"""When the engine ran, when it was cranked, and where one flight of a log ends and the next begins."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from analyzer.flights.at_power import changes_height, in_the_air
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    Floats,
    Mask,
    drop_short_runs,
    fill_short_gaps,
    highest_lasting,
    hold,
    median,
    middle_range,
    near,
    running_median,
    runs,
)


class EngineRun(Struct, frozen=True):
    """One engine run of a log, in rows of the whole trace; ends are exclusive."""

    first: int  # first row of the flight, engine still stopped when it was recorded
    end: int
    start: int  # first row with the engine running
    stop: int  # first row after it stopped, ``end`` when it still ran
    basis: str  # what told that the engine ran
    restarts: tuple[int, ...] = ()  # rows in the air before which the recorder lost power and began anew

    def from_row(self, row: int) -> EngineRun:
        """Give the same run with its rows counted from ``row``."""
        anew = tuple(restart - row for restart in self.restarts)
        return EngineRun(self.first - row, self.end - row, self.start - row, self.stop - row, self.basis, anew)


def engine_runs(trace: Trace, limits: Limits, breaks: tuple[int, ...], dead: Mask) -> list[EngineRun]:
    """Cut a trace into engine runs with the rows before and after each.

    A pause shorter than the limit ``engine_pause`` belongs to the run (a stall, a second try), and so does any
    while the aircraft flies. A boundary is hard where recording began anew, or paused for longer than
    ``recording_gap``: no flight goes on across it and none takes rows from beyond it. Two breaks are not hard: a
    short one with the aircraft in the air on both sides, and one that the starter itself makes as it pulls the bus
    down.

    Parameters
    ----------
    trace : the whole log
    breaks : rows before which the recorder began anew
    dead : rows recorded without main power
    """
    running, basis = engine_running(trace, limits, dead)
    in_the_air = tuple(row for row in breaks if _flies_across(row, trace))
    hard = _hard_boundaries(trace, limits, [row for row in breaks if row not in in_the_air], running)
    spans = _join_pauses(runs(running), trace, hard)
    found = []
    for number, (start, stop) in enumerate(spans):
        before = spans[number - 1][1] if number else 0
        after = spans[number + 1][0] if number + 1 < len(spans) else trace.time.size
        opens = [row for row in hard if before <= row <= start]
        closes = [row for row in hard if stop <= row <= after]
        first = opens[-1] if opens else 0 if number == 0 else _parting(before, start, trace, dead)
        last = number + 1 == len(spans)
        end = closes[0] if closes else trace.time.size if last else _parting(stop, after, trace, dead)
        anew = tuple(row for row in in_the_air if start < row < stop)
        found.append(EngineRun(first, end, start, stop, basis, anew))
    return found


def _flies_across(row: int, trace: Trace) -> bool:
    """Whether the aircraft is in the air on both sides of a pause in the recording that is no longer than a stop."""
    inside = 0 < row < trace.time.size
    if not inside or trace.time[row] - trace.time[row - 1] > limit_value("recording_gap"):
        return False
    return bool(trace.airborne[row - 1] and trace.airborne[row])


def _hard_boundaries(trace: Trace, limits: Limits, breaks: list[int], running: Mask) -> list[int]:
    """Rows that no flight goes across, in order."""
    gaps = np.flatnonzero(np.diff(trace.time) > limit_value("recording_gap")) + 1
    anew = [row for row in breaks if 0 < row < trace.time.size and not _starter_reset(row, trace, limits, running)]
    return sorted({*map(int, gaps), *anew})


def _starter_reset(row: int, trace: Trace, limits: Limits, running: Mask) -> bool:
    """Whether a recorder began anew because the starter pulled the bus down: it turns in the very next rows."""
    if trace.time[row] - trace.time[row - 1] > limit_value("engine_pause"):
        return False
    beside = slice(max(0, row - trace.rows_in(limit_value("rest_first"))), row + 1)
    if running[beside].any():
        return False  # the fall from charging to rest is no crank
    early = slice(row, row + trace.rows_in(limit_value("starter_resets_within")))
    rest = median(trace.bus_voltage[max(0, row - trace.rows_in(limit_value("rest_first"))) : row])
    turning = trace.bus_voltage[early] < rest - limits["crank_dip"]
    if trace.engine_speed is not None:
        turning |= trace.engine_speed[early] >= limit_value("crank_speed")
    return bool(turning.any())


def engine_running(trace: Trace, limits: Limits, dead: Mask) -> tuple[Mask, str]:
    """Rows in which an engine runs by itself, and what told."""
    mask = np.zeros(trace.time.size, dtype=np.bool_)
    told = []
    if trace.engine_speed is not None:
        mask |= running_median(trace.engine_speed, 3) >= limit_value("engine_running_speed")
        told.append("engine speed")
    if trace.engine_speed_percent is not None:
        mask |= running_median(trace.engine_speed_percent, 3) >= limit_value("core_running")
        told.append("core speed")
    if not told and trace.oil_pressure is not None:
        mask = hold(trace.oil_pressure) >= limit_value("oil_pressure_running")
        told.append("oil pressure")
    if not told and np.isfinite(trace.bus_voltage).any():
        return _running_from_voltage(trace, limits, dead), "bus voltage"
    if not told:
        return _running_from_current(trace), "ammeter"
    mask = fill_short_gaps(mask, trace.time, limit_value("engine_change_shortest"))
    return drop_short_runs(mask, trace.time, limit_value("engine_change_shortest")), " and ".join(told)


def _running_from_voltage(trace: Trace, limits: Limits, dead: Mask) -> Mask:
    """Without engine speed: from the starter's dip (or the first charging row) to the last charging row.

    A sag at idle or a lost alternator in between belongs to the run. When the alternator never charges,
    the run begins with the dip and lasts as long as the log.
    """
    volts = running_median(trace.bus_voltage, 5)
    charging = volts >= limits["charging_for_sure"]
    charging = drop_short_runs(charging, trace.time, limit_value("engine_change_shortest"))
    # a bus without power charges nothing: what is held over from before it died is no charge
    powered = fill_short_gaps(np.isfinite(trace.bus_voltage), trace.time, limit_value("gap_longest_counted"))
    charging &= powered
    charging |= trace.airborne | _source_gives(trace)
    rest = median(trace.bus_voltage[: trace.rows_in(limit_value("rest_first"))])
    dips = np.flatnonzero((trace.bus_voltage < rest - limits["crank_dip"]) & ~_power_changes(trace, dead))
    mask = np.zeros(trace.time.size, dtype=np.bool_)
    if not charging.any():
        if dips.size:
            mask[dips[0] + 1 :] = True
        return mask
    stretches = runs(fill_short_gaps(_flown_on(trace, charging, limits), trace.time, limit_value("recording_gap")))
    end = stretches[-1][1] if stretches else 0
    flew_on = _goes_on_without(trace, end, rest, limits) or changes_height(trace, end, trace.time.size)
    if stretches and powered.any() and flew_on:
        stretches[-1] = (stretches[-1][0], int(np.flatnonzero(powered)[-1]) + 1)
    elif stretches:
        stretches[-1] = (stretches[-1][0], _slides_to(trace, stretches[-1][1], limits))
    if stretches and stretches[0][0] == 0:
        stretches[0] = (_crank_inside(trace, stretches[0][1], dips, rest, limits), stretches[0][1])
    for first, end in stretches:
        if first >= end:  # the starter's last turn is the log's last row
            continue
        earlier = dips[(dips < first) & (trace.time[dips] > trace.time[first] - limit_value("late_alternator"))]
        start = int(earlier[-1]) + 1 if earlier.size else first
        mask[start:end] = True
    return mask


def _crank_inside(trace: Trace, end: int, dips: NDArray[np.int64], rest: float, limits: Limits) -> int:
    """Row after the crank in a log that seems to charge from its first row to ``end``; 0 where none shows.

    A voltmeter that reads high shows a rest as high as a charge. It stands level until the starter pulls it down, far
    further than any contact or load, and the alternator then lifts it above that level.
    """
    deep = dips[(dips < end) & (trace.bus_voltage[dips] < rest - limits["crank_inside_dip"])]
    if not deep.size or deep[0] < 2:
        return 0
    before = trace.bus_voltage[: deep[0]]
    after = slice(deep[0], deep[0] + trace.rows_in(limit_value("late_alternator")))
    lifted = highest_lasting(trace.bus_voltage[after], trace.rows_in(limit_value("nominal_lasting")))
    level = middle_range(before[np.isfinite(before)], limit_value("rest_level_middle")) < limits["rest_level_most"]
    if not level or not lifted - median(before) > limits["offline_least_fall"]:
        return 0
    tries = deep[trace.time[deep] - trace.time[deep[0]] < limit_value("engine_pause")]
    return int(tries[-1]) + 1


def _running_from_current(trace: Trace) -> Mask:
    """Without engine speed and voltage: from the first row in which a source gives current to the last.

    A source shows on an alternator's ammeter as what stands above zero, on a battery's as what stands above the
    discharge of the stopped aircraft, in both as a rise above the lowest level that lasts. A log whose current
    never rises so begins with the engine running, if it ever runs.
    """
    currents = (trace.alternator_output, trace.battery_current, trace.ammeter_current)
    flow = next((one for one in currents if one is not None and np.isfinite(one).any()), None)
    moving = trace.airborne
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
    given = drop_short_runs(gives | moving, trace.time, limit_value("engine_change_shortest"))
    given = fill_short_gaps(given, trace.time, limit_value("recording_gap"))
    end = int(np.flatnonzero(given)[-1]) + 1 if given.any() else given.size
    drained = median(flow[end:]) < rest - limit_value("current_at_rest_clear")
    if drained and trace.time[-1] - trace.time[end - 1] >= limit_value("drained_after_charging"):
        given[end:] = True  # more is drawn than at rest, for long: the alternator was lost, the engine runs on
    return given


def _source_gives(trace: Trace) -> Mask:
    """Rows in which an ammeter of any kind shows a source: well above zero, and above what it shows at rest.

    A battery that was left low holds the bus below what tells charging for minutes. Rest is the lower of what the log
    begins and ends with, so that a meter that is off at zero shows none; one that shows a source at both ends tells
    only what stands above.
    """
    gives = np.zeros(trace.time.size, dtype=np.bool_)
    rows = trace.rows_in(limit_value("rest_first"))
    for flow in (trace.alternator_current, trace.battery_current, trace.ammeter_current):
        if flow is not None and np.isfinite(flow).any():
            lasting = running_median(flow, 5)
            ends = np.array([median(lasting[:rows]), median(lasting[-rows:])])
            rest = float(np.nanmin(ends)) if np.isfinite(ends).any() else 0.0
            gives |= lasting > max(rest, 0.0) + limit_value("source_rise")
    return drop_short_runs(gives, trace.time, limit_value("engine_change_shortest"))


def _flown_on(trace: Trace, charging: Mask, limits: Limits) -> Mask:
    """Rows of ``charging`` and those between two stretches of it in which the aircraft stayed in the air.

    It climbs or comes down meanwhile; or it is high above the lowest of the log all the while, and no starter brings
    the charge back though the rows are close enough to show one.
    """
    flown, high, volts = charging.copy(), in_the_air(trace), trace.bus_voltage
    about = running_median(volts, 2 * trace.rows_in(limit_value("crank_longest")) + 1)
    cranked = (volts < about - limits["crank_dip"]) | (trace.step_s >= limit_value("crank_rows_apart"))
    for (_, first), (end, _) in pairwise(runs(charging)):
        if changes_height(trace, first, end) or (high[first:end].all() and not cranked[first + 1 : end].any()):
            flown[first:end] = True
    return flown


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


def _slides_to(trace: Trace, end: int, limits: Limits) -> int:
    """Row up to which an alternator goes on giving under a bus that slid below what tells charging at row ``end``.

    A stop is a step of the bus, and ends the output; a regulator that drifts down takes the bus with it slowly.
    """
    beside = trace.rows_in(limit_value("rest_first"))
    volts = trace.bus_voltage
    fall = median(volts[max(0, end - beside) : end]) - median(volts[end : end + beside])
    if not fall < 0.5 * limits["offline_least_fall"]:
        return end
    furthest = end
    for flow in (trace.alternator_current, trace.ammeter_current):
        if flow is not None:
            gone = np.flatnonzero(~(running_median(flow[end:], 5) > limit_value("output_smallest")))
            furthest = max(furthest, end + int(gone[0]) if gone.size else flow.size)
    return furthest


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


def _join_pauses(spans: list[tuple[int, int]], trace: Trace, hard: list[int]) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for start, stop in spans:
        parts = list(pairwise([start, *(row for row in hard if start < row < stop), stop]))
        if joined and not _parted(joined[-1][1], parts[0][0], trace, hard):
            parts[0] = (_start_of(joined.pop(), parts[0], trace), parts[0][1])
        joined += parts
    return joined


def _start_of(earlier: tuple[int, int], later: tuple[int, int], trace: Trace) -> int:
    """Where a joined run starts: a first run of a few seconds is a start that failed."""
    caught = trace.time[earlier[1] - 1] - trace.time[earlier[0]] >= limit_value("start_caught")
    return earlier[0] if caught else later[0]


def _parted(stop: int, start: int, trace: Trace, hard: list[int]) -> bool:
    if any(stop <= row <= start for row in hard):
        return True
    pause = trace.time[start] - trace.time[stop - 1]
    return bool(pause > limit_value("engine_pause") and not trace.airborne[stop - 1 : start + 1].all())


def _parting(stop: int, start: int, trace: Trace, dead: Mask) -> int:
    """First row of the later flight, between one engine stop and the next engine start without a hard boundary.

    The last row without power, else the longest gap, else the middle.
    """
    powerless = np.flatnonzero(dead[stop:start])
    if powerless.size:
        return stop + int(powerless[-1]) + 1
    steps = np.diff(trace.time[stop - 1 : start + 1])
    if steps.max() > limit_value("gap_longest_counted"):
        return stop + int(np.argmax(steps))
    return (stop + start) // 2


def cranking(trace: Trace, start: int, limits: Limits, dead: Mask) -> Mask:
    """Rows before the engine start in which the starter turns the engine.

    Told by the bus: it falls from its rest by more than ``crank_dip``, and is back as soon as it has come half of
    the way up, however long the engine then takes to run up to speed. An engine speed below running tells where no
    reading of the bus answers. Volts that run on down to nothing (``dead``, rows without power) are power
    switched off.
    """
    rows = np.zeros(trace.time.size, dtype=np.bool_)
    if start == 0:
        return rows
    volts = np.where(_power_changes(trace, dead)[:start], np.nan, trace.bus_voltage[:start])
    rest = running_median(volts, 2 * trace.rows_in(limit_value("crank_longest")) + 1)
    rest = np.fmax(rest, median(volts))
    rows[:start] = _dips(volts, rest, limits)
    if trace.engine_speed is not None:
        speed = trace.engine_speed[:start]
        turning = (speed >= limit_value("crank_speed")) & (speed < limit_value("engine_running_speed"))
        rows[:start] &= ~(speed >= limit_value("engine_running_speed"))
        silent = not rows.any()
        rows[:start] |= turning & (silent | ~np.isfinite(volts))
    return rows


def _dips(volts: Floats, rest: Floats, limits: Limits) -> Mask:
    """Rows in which the starter holds the bus down: below the middle between rest and what it falls to."""
    low = volts < rest - limits["crank_dip"]
    for first, end in runs(low):
        middle = 0.5 * (rest[first:end] + median(volts[first:end]))
        low[first:end] &= volts[first:end] < np.fmin(middle, rest[first:end] - limits["crank_dip"])
    return low


def _power_changes(trace: Trace, dead: Mask) -> Mask:
    """Rows without power that run on, and those beside them in which the supply falls or comes back.

    A supply that empties itself falls from row to row all the way down, however slowly; a starter holds the bus at
    a level.
    """
    off = np.zeros(dead.size, dtype=np.bool_)
    falling = np.zeros(dead.size, dtype=np.bool_)
    for first, end in runs(dead):
        if trace.time[min(end, dead.size - 1)] - trace.time[first] >= limit_value("power_off_lasting"):
            off[first:end] = True
            row = first - 1
            while row > 0 and trace.bus_voltage[row - 1] > trace.bus_voltage[row]:
                row -= 1
            falling[max(0, row) : first] = True
    return near(off, trace.rows_in(limit_value("supply_decays"))) | falling if off.any() else off
