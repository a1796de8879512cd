"""A log is cut into flights: the stage's pipeline, one step a line."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft
from analyzer.flights.alternatives import Setting, settled, still_read_low, weighed
from analyzer.flights.alternator_online import (
    online_by_current,
    online_by_voltage,
    online_rows,
    regulated_estimate,
    rpm_sufficient_rows,
    shown_current,
    taken_row,
    takeoff_row,
    without_shallow_falls,
)
from analyzer.flights.ammeter import Ammeter, sort_currents
from analyzer.flights.battery_kind import BatteryKind, battery_kind
from analyzer.flights.dips import find_dips
from analyzer.flights.engine import EngineRun, cranking, engine_runs
from analyzer.flights.flight import Flight
from analyzer.flights.limit_or_reading import odds
from analyzer.flights.outage_kinds import OUTPUT_LIMITED, VOLTMETER_ONLY, AlternatorOutage
from analyzer.flights.outages import outages
from analyzer.flights.phases import phases_of
from analyzer.flights.reading_faults import CURRENTS, ReadingFault, clean, still_ammeters, without_power
from analyzer.flights.recharge import Recharge, find_recharge
from analyzer.flights.regulated import regulated_rows
from analyzer.flights.trace import Trace, downsampled, trace_of
from analyzer.flights.voltmeter import (
    CARRYING_LEVELS,
    Voltmeter,
    charged_below_rest,
    follows_load,
    frozen_start,
    reads_low,
    reads_low_by,
    reads_or_is_low,
    stands_still_below,
    steps_unanswered,
    unconnected_rows,
    voltage_offset,
    voltmeter_of,
    voltmeter_path,
)
from analyzer.limits import Limits, limit_value
from analyzer.series import Mask, highest_lasting, median, shared

if TYPE_CHECKING:
    from analyzer.logs.log import Log


def cut_flights(log: Log, aircraft: Aircraft = UNKNOWN_AIRCRAFT) -> list[Flight]:
    """Give every engine run of a log as a flight, all at once."""
    return list(each_flight(log, aircraft))


def each_flight(log: Log, aircraft: Aircraft = UNKNOWN_AIRCRAFT) -> Iterator[Flight]:
    """Give every engine run of a log as a flight, one after the other; none when the engine never runs in it.

    Parameters
    ----------
    log : as read
    aircraft : what is known of the tail; its values overrule what the readings suggest
    """
    whole, breaks = downsampled(trace_of(log), log.breaks)
    if whole.time.size < 2:
        return
    recorded = whole.bus_voltage
    dead_below = aircraft.limits(nominal_voltage(whole, aircraft)[0] or 14)["voltmeter_dead"]
    unconnected = unconnected_rows(whole, breaks, dead_below)
    if unconnected.any():
        whole = whole.with_channels(bus_voltage=np.where(unconnected, np.nan, recorded))
    dead = without_power(whole)
    whole = _blank(whole, dead)
    if not np.isfinite(whole.bus_voltage).any() and all(getattr(whole, name) is None for name in CURRENTS):
        return
    nominal, basis = nominal_voltage(whole, aircraft)
    limits = aircraft.limits(nominal)
    start = clock_start(log, float(whole.time[-1]))
    for run in engine_runs(whole, limits, breaks, dead):
        part = whole.rows(run.first, run.end)
        volts = voltmeter_of(part, recorded[run.first : run.end], dead_below)
        yield _flight(part, dead[run.first : run.end], volts, run, aircraft, (nominal, basis), start)


def clock_start(log: Log, last_s: float) -> datetime | None:
    """The clock at the log's first row; None without one, or where it would run beyond the calendar's last year."""
    if log.clock.start is None:
        return None
    start = datetime.fromisoformat(log.clock.start)
    return start if last_s < (datetime.max - start).total_seconds() else None


def nominal_voltage(trace: Trace, aircraft: Aircraft) -> tuple[int | None, str]:
    """Nominal voltage of the system, 14 or 28 [V], and what told; None where nothing does.

    The highest voltage that lasts half a minute: a 14 V system does not hold above ``system_28_above``
    even with its regulator failed, a 28 V system passes it on its battery alone unless that is flat.
    """
    if aircraft.nominal_voltage is not None:
        return aircraft.nominal_voltage, "the aircraft's settings say so"
    if not np.isfinite(trace.bus_voltage).any():
        return None, "neither a voltmeter nor the aircraft's settings tell"
    highest = highest_lasting(trace.bus_voltage, trace.rows_in(limit_value("nominal_lasting")))
    nominal = 28 if highest > limit_value("system_28_above") else 14
    return nominal, f"the bus holds up to {highest:.1f} V"


def _blank(trace: Trace, dead: Mask) -> Trace:
    """Take the rows without main power out of volts and amperes."""
    if not dead.any():
        return trace
    channels = {}
    for name in ("bus_voltage", "bus_voltage_2", *CURRENTS):
        readings = getattr(trace, name)
        if readings is not None:
            channels[name] = np.where(dead, np.nan, readings)
    return trace.with_channels(**channels)


def _flight(
    recorded: Trace,
    dead: Mask,
    volts: tuple[Voltmeter, list[ReadingFault]],
    placed: EngineRun,
    aircraft: Aircraft,
    nominal: tuple[int | None, str],
    clock: datetime | None,
) -> Flight:
    run = placed.from_row(placed.first)
    limits = aircraft.limits(nominal[0])
    voltmeter, unconnected = volts
    seen = _sorted(recorded, dead, voltmeter, run, aircraft, limits)
    trace, usable, running = seen.trace, seen.usable, seen.running
    rpm_sufficient = rpm_sufficient_rows(trace, running, aircraft.source)
    alternator_online = _online(seen, voltmeter, rpm_sufficient, aircraft, limits)
    alternator_on_row = taken_row(trace, alternator_online)
    battery = battery_kind(usable, seen.first_crank, alternator_on_row, alternator_online, aircraft, limits)
    off = voltage_offset(trace, seen.first_crank, seen.crank, alternator_online, limits, battery)
    limits = limits.shifted(("overvoltage", "regulated_low"), sum(fault.value or 0.0 for fault in off))
    takeoff = takeoff_row(trace, running)
    lost, path = _lost(seen, alternator_online, rpm_sufficient, alternator_on_row, takeoff, battery, run, limits)
    recharge = _recharge(trace, run, alternator_on_row, alternator_online, rpm_sufficient, lost, seen.ammeter, limits)
    return Flight(
        trace=trace,
        run=run,
        aircraft=aircraft,
        limits=limits,
        nominal_voltage=nominal[0],
        nominal_basis=nominal[1],
        ammeter=seen.ammeter,
        battery=battery,
        running=running,
        crank=seen.crank,
        alternator_online=alternator_online,
        rpm_sufficient=rpm_sufficient,
        takeoff=takeoff,
        outages=tuple(lost),
        dips=tuple(find_dips(usable, running, rpm_sufficient, alternator_on_row, lost, limits)),
        alternator_on_row=alternator_on_row,
        recharge=recharge,
        regulated=regulated_rows(trace, alternator_online, rpm_sufficient, lost, recharge, limits),
        phases=phases_of(trace, run, seen.first_crank, alternator_on_row, recharge, lost),
        reading_faults=tuple(unconnected + seen.faults + ((seen.off + off) or path)),
        clock_start=clock,
        rows=recorded.time.size,
        begins_running=run.start == 0,
        voltmeter=voltmeter,
    )


class _Sorted(Struct, frozen=True):
    """An engine run without its faulty readings, whose currents are known for what they are."""

    trace: Trace
    usable: Trace  # the same without a battery ammeter that shows charge with the engine stopped
    running: Mask
    crank: Mask
    first_crank: int
    stopped: Mask
    ammeter: Ammeter
    shown: Limits  # limits as this voltmeter shows them
    held: float  # what the regulator seems to hold [V]
    by_voltage: Mask
    rest: float  # bus voltage with the engine stopped [V], NaN when unknown
    faults: list[ReadingFault]
    off: list[ReadingFault]  # ammeters that are off at zero or count the wrong way


def _sorted(
    recorded: Trace, dead: Mask, voltmeter: Voltmeter, run: EngineRun, aircraft: Aircraft, limits: Limits
) -> _Sorted:
    """Take faulty readings out of a run and tell its currents apart."""
    running = np.zeros(recorded.time.size, dtype=np.bool_)
    running[run.start : run.stop] = True
    running = shared(running)
    crank = cranking(recorded, run.start, limits, dead)
    trace, faults = _cleaned(recorded, voltmeter, run, running, limits)
    rows = np.flatnonzero(crank)
    first_crank = int(rows[0]) if rows.size else run.start
    stopped = _rested(trace, run, first_crank)
    shown = limits.shifted(CARRYING_LEVELS, reads_low_by(trace, first_crank, crank, running, limits))
    held = regulated_estimate(trace, running, shown)
    by_voltage = online_by_voltage(trace, running, held, shown)
    seen_at_rest = run.basis != "bus voltage" or bool(crank.any())
    trace, ammeter, off = sort_currents(
        trace, stopped, by_voltage, running, aircraft, limits, seen_at_rest=seen_at_rest
    )
    usable = trace if not ammeter.charge_at_rest else trace.with_channels(battery_current=None)
    rest = median(trace.bus_voltage[:first_crank])
    return _Sorted(
        trace,
        usable,
        running,
        crank,
        first_crank,
        stopped,
        ammeter,
        shown,
        held,
        by_voltage,
        rest,
        faults,
        off,
    )


def _online(seen: _Sorted, voltmeter: Voltmeter, rpm_sufficient: Mask, aircraft: Aircraft, limits: Limits) -> Mask:
    """Rows in which the alternator carries the bus."""
    trace, usable, running = seen.trace, seen.usable, seen.running
    if voltmeter.tells:
        metered = aircraft.alternators != 2 or trace.alternator_current_2 is not None
        online = online_rows(usable, running, seen.by_voltage, seen.shown, seen.rest, metered=metered)
    else:
        online = online_by_current(trace, running, seen.stopped)
    return without_shallow_falls(usable, running, online, rpm_sufficient, limits)


def _cleaned(
    recorded: Trace, voltmeter: Voltmeter, run: EngineRun, running: Mask, limits: Limits
) -> tuple[Trace, list[ReadingFault]]:
    """Take faulty readings out, those of ammeters that never move and of a voltmeter that froze through the start."""
    trace, faults = clean(recorded, limits, ~running)
    if not voltmeter.tells:
        trace, still = still_ammeters(trace, running)
        faults += still
    frozen = frozen_start(trace, run.start, limits)
    for fault in frozen:
        stands = (trace.time >= fault.from_s) & (trace.time <= fault.to_s) & (trace.time >= trace.time[run.start])
        trace = trace.with_channels(bus_voltage=np.where(stands, np.nan, trace.bus_voltage))
    return trace, faults + frozen


def _lost(
    seen: _Sorted,
    alternator_online: Mask,
    rpm_sufficient: Mask,
    alternator_on_row: int | None,
    takeoff: int,
    battery: BatteryKind,
    run: EngineRun,
    limits: Limits,
) -> tuple[list[AlternatorOutage], list[ReadingFault]]:
    """The outages, weighed against what else they may be; and the resistance before the voltmeter, if one shows."""
    trace, running, held, rest = seen.usable, seen.running, seen.held, seen.rest
    found = outages(
        trace, running, alternator_online, rpm_sufficient, alternator_on_row, takeoff, held, limits, run.restarts, rest
    )
    found, path = _told_from_path(seen, found, rpm_sufficient, alternator_on_row, battery, limits)
    setting = Setting(trace, running, rpm_sufficient, takeoff, alternator_on_row is not None, held, rest, limits)
    lost = settled(weighed(setting, found))
    return lost, still_read_low(path, seen.trace, lost)


def _told_from_path(
    seen: _Sorted,
    lost: list[AlternatorOutage],
    rpm_sufficient: Mask,
    alternator_on_row: int | None,
    battery: BatteryKind,
    limits: Limits,
) -> tuple[list[AlternatorOutage], list[ReadingFault]]:
    """The outages, those named in which only the voltmeter reads low; and the resistance before it, if one shows."""
    trace, rest = seen.usable, seen.rest
    at_limit = any(one.kind == OUTPUT_LIMITED and odds(one.evidence) >= limit_value("odds_sure") for one in lost)
    ohm = None if at_limit else follows_load(trace, rpm_sufficient, limits)
    lost, low = _reading_only(trace, lost, ohm, rpm_sufficient, rest, battery, limits)
    below_rest = charged_below_rest(trace, seen.running, rest, limits)
    stands_still = low.any() and shown_current(trace) is None
    if alternator_on_row is None and not below_rest.any() and not stands_still:
        # what was never held says nothing of the way to the meter, unless the battery does
        return lost, reads_or_is_low(trace, low)
    steps = steps_unanswered(trace, rpm_sufficient, limits)
    return lost, voltmeter_path(trace, ohm, low, steps, below_rest)


def _recharge(
    trace: Trace,
    run: EngineRun,
    alternator_on_row: int | None,
    alternator_online: Mask,
    rpm_sufficient: Mask,
    lost: list[AlternatorOutage],
    ammeter: Ammeter,
    limits: Limits,
) -> Recharge | None:
    """The recharge up to the next restart of the recorder; None where the alternator never takes the bus."""
    if alternator_on_row is None:
        return None
    recorded_to = min([run.stop, *(row for row in run.restarts if row > alternator_on_row)])
    seen = run.start > 0 or _seen_to_take_the_bus(trace, alternator_on_row, rpm_sufficient, limits)
    return find_recharge(
        trace, alternator_on_row, recorded_to, alternator_online, lost, ammeter, limits, start_recorded=seen
    )


def _seen_to_take_the_bus(trace: Trace, alternator_on_row: int, rpm_sufficient: Mask, limits: Limits) -> bool:
    """Whether a log that begins with the engine running shows the alternator take the bus from a battery.

    It takes it at row ``alternator_on_row``. The recharge then has its beginning, though the start has not. An engine
    that idled until then and has just sped up says nothing: the alternator may have charged before the log began.
    """
    if alternator_on_row == 0 or (not rpm_sufficient[:alternator_on_row].any() and _sped_up(trace, alternator_on_row)):
        return False
    before = trace.bus_voltage[:alternator_on_row]
    most = limits["full_battery"] + limits["carrying_smallest_rise"]
    return bool(np.isfinite(before).any() and np.nan_to_num(before).max() < most)


def _sped_up(trace: Trace, alternator_on_row: int) -> bool:
    """Whether the engine turns faster in the moments after row ``alternator_on_row`` than in those before."""
    if trace.engine_speed is None:
        return False
    beside = trace.rows_in(limit_value("spin_up"))
    before, after = (
        trace.engine_speed[max(0, alternator_on_row - beside) : alternator_on_row],
        trace.engine_speed[alternator_on_row : alternator_on_row + beside],
    )
    return median(after) > (1.0 + limit_value("sped_up_share")) * median(before)


def _reading_only(
    trace: Trace,
    found: list[AlternatorOutage],
    ohm: float | None,
    rpm_sufficient: Mask,
    rest: float,
    battery: BatteryKind,
    limits: Limits,
) -> tuple[list[AlternatorOutage], Mask]:
    """Name the outages in which only the voltmeter reads low; and the rows of those that say so by themselves."""
    sure = np.zeros(trace.time.size, dtype=np.bool_)
    named = []
    for gap in found:
        short = gap.kind == OUTPUT_LIMITED and odds(gap.evidence) < limit_value("odds_sure")
        doubtful = short and odds(gap.evidence) <= limit_value("odds_highest")
        alone = doubtful and reads_low(trace, gap.first, gap.end, rpm_sufficient, limits)
        alone |= not gap.rose and stands_still_below(trace, gap.first, gap.end, rpm_sufficient, rest, battery, limits)
        lasts = trace.time[gap.end - 1] - trace.time[gap.first] > limit_value("connection_longest")
        spare = lasts and odds(gap.evidence) < 0.0
        if alone or (gap.kind == VOLTMETER_ONLY and (spare or trace.battery_current is not None)):
            sure[gap.first : gap.end] = True
        named.append(
            AlternatorOutage(gap.first, gap.end, VOLTMETER_ONLY) if alone or (short and ohm is not None) else gap
        )
    return named, sure


def _rested(trace: Trace, run: EngineRun, first_crank: int) -> Mask:
    """Rows with the engine stopped: before the first crank and, after a pause to run down, after the stop."""
    mask = np.zeros(trace.time.size, dtype=np.bool_)
    mask[:first_crank] = True
    if run.stop < trace.time.size:
        stop_s = trace.time[run.stop - 1]
        mask |= trace.time > stop_s + limit_value("run_down")
    return mask & np.isfinite(trace.bus_voltage) if np.isfinite(trace.bus_voltage).any() else mask
