"""The stretches in which the alternator does not (fully) carry the bus, each with its kind."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.flights.alternator_online import shown_current
from analyzer.flights.kind_of_outage import battery_holds, idled, kind_of
from analyzer.flights.limit_or_reading import limit_or_reading, odds
from analyzer.flights.outage_kinds import (
    GROUND_CHECK,
    LATE_START,
    LOW_RPM,
    OFFLINE,
    OUTPUT_LIMITED,
    VOLTMETER_ONLY,
    AlternatorOutage,
    OutageKind,
)
from analyzer.flights.run_up import run_up
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    Floats,
    Mask,
    drop_short_runs,
    fill_short_gaps,
    hold,
    median,
    middle_range,
    running_median,
    runs,
)


def outages(
    trace: Trace,
    running: Mask,
    alternator_online: Mask,
    rpm_sufficient: Mask,
    alternator_on_row: int | None,
    takeoff: int,
    held: float,
    limits: Limits,
    restarts: tuple[int, ...] = (),
    rest: float = float("nan"),
) -> list[AlternatorOutage]:
    """Every stretch of the engine run in which the alternator does not carry the bus, with its kind.

    ``rpm_sufficient``, ``alternator_on_row`` and ``takeoff`` are those of ``rpm_sufficient_rows``, ``taken_row`` and
    ``takeoff_row``, ``held`` the voltage of ``regulated_estimate`` [V].
    No stretch goes on across ``restarts``, rows before which the recorder began anew: what came between is not known.
    ``rest`` is the bus voltage with the engine stopped [V], NaN when unknown.
    """
    missing = running & ~alternator_online & _told(trace)
    missing = fill_short_gaps(missing, trace.time, limit_value("outage_shortest")) & running
    missing = drop_short_runs(missing, trace.time, limit_value("outage_shortest"))
    run = _Run(
        trace=trace,
        running=running,
        alternator_online=alternator_online,
        rpm_sufficient=rpm_sufficient,
        limits=limits,
        restarts=restarts,
        rest=rest,
        alternator_on_row=trace.time.size if alternator_on_row is None else alternator_on_row,
        stop=int(np.flatnonzero(running)[-1]) if running.any() else 0,
        off_ground=takeoff,
    )
    stretches = _parts(missing, (*restarts, *_silences(trace, missing & rpm_sufficient)))
    free = [0, *(end for _, end in stretches)]  # from where on no stretch before it claims the rows
    found = [outage for after, part in zip(free, stretches, strict=False) for outage in _told_apart(run, after, *part)]
    found = _weighed(trace, _recovering(trace, found, held, limits), rpm_sufficient, limits)
    return _short_ones(trace, running & rpm_sufficient, _join_offline(trace, found, restarts), held, limits)


class _Run(Struct, frozen=True):
    """What telling an outage of an engine run needs to know; rows and voltages as in ``outages``."""

    trace: Trace
    running: Mask
    alternator_online: Mask
    rpm_sufficient: Mask
    limits: Limits
    restarts: tuple[int, ...]
    rest: float
    alternator_on_row: int  # at which the alternator first takes the bus; behind the last row if never
    stop: int  # last row of the engine
    off_ground: int

    @property
    def taken(self) -> bool:
        """Whether the alternator ever takes the bus."""
        return self.alternator_on_row < self.trace.time.size


def _told_apart(run: _Run, after: int, first: int, end: int) -> list[AlternatorOutage]:
    """A stretch that no alternator carries, with its kind, and before it what of it is another's.

    However long before the bus the current says that the alternator left, not before row ``after``: those are of the
    stretch before.
    """
    trace, rpm_sufficient = run.trace, run.rpm_sufficient
    outage_row = max([_outage_row(trace, first), after, *(row for row in run.restarts if row <= first)])
    before = run_up(trace, run.alternator_online, outage_row, end, run.limits)
    rose = before.rose and _falls_below(trace, first, end, before.level - 0.5 * run.limits["trip_rise"])
    kind = _by_the_bus(run, first, end, rose)
    found = []
    if kind == LOW_RPM and _never_came_up(trace, first, end, rpm_sufficient):
        at_speed_row = first + int(np.argmax(rpm_sufficient[first:end]))
        if first < at_speed_row:
            found.append(AlternatorOutage(first, at_speed_row, LOW_RPM))
        first, kind = at_speed_row, OUTPUT_LIMITED
    if kind == OFFLINE:
        first = outage_row
        silent = _silent_row(trace, first, end, rpm_sufficient)
        kind = _offline_when(run, first, silent, end, rose)
        if first < silent:
            found.append(AlternatorOutage(first, silent, LOW_RPM))
        first = max(first, silent)
    return [*found, AlternatorOutage(first, end, kind, rose=rose)]


def _by_the_bus(run: _Run, first: int, end: int, rose: bool) -> OutageKind:
    """Kind of a stretch by its readings alone, whenever in the flight it is."""
    trace, rest = run.trace, run.rest
    holds = battery_holds(rest, run.limits, charged=not (run.taken and end <= run.alternator_on_row))
    kind = kind_of(trace, first, end, run.rpm_sufficient, run.limits, holds, rose=rose, running=run.running)
    if kind == OFFLINE and not rose and _stays_lifted(trace, first, end, rest, run.limits):
        return LOW_RPM if idled(trace, first, end, run.rpm_sufficient) else VOLTMETER_ONLY
    return kind


def _offline_when(run: _Run, first: int, silent: int, end: int, rose: bool) -> OutageKind:
    """Kind of a stretch without an alternator, silent from a row on, by when in the flight it is."""
    if run.taken and end <= run.alternator_on_row:
        return LATE_START
    lasts = run.trace.time[end - 1] - run.trace.time[silent]
    # what follows at idling speed tells no more of it
    at_speed = float(run.trace.seconds[first:end][run.rpm_sufficient[first:end]].sum())
    short = min(lasts, at_speed) <= limit_value("ground_check_longest")
    on_ground = end <= run.off_ground or end > run.stop
    return GROUND_CHECK if short and on_ground and not rose else OFFLINE


def _parts(mask: Mask, edges: tuple[int, ...]) -> list[tuple[int, int]]:
    """Runs of True, parted at some rows."""
    return [
        part
        for first, end in runs(mask)
        for part in pairwise([first, *sorted({row for row in edges if first < row < end}), end])
    ]


def _silences(trace: Trace, at_speed: Mask) -> tuple[int, ...]:
    """Rows at which the output falls silent, or comes back, in a low bus at fast engine speed.

    An alternator that gives too little and one that gives nothing are two outages, though the bus is low all the while.
    """
    output = trace.alternator_output
    if output is None:
        return ()
    shown = np.isfinite(output)
    lasting, shortest = running_median(output, 3), limit_value("offline_shortest")
    gives = drop_short_runs(at_speed & shown & (lasting > limit_value("output_smallest")), trace.time, shortest)
    silent = drop_short_runs(at_speed & shown & (lasting < limit_value("output_silent")), trace.time, shortest)
    beside = trace.rows_in(shortest)
    return tuple(
        edge
        for first, end in runs(silent)
        for edge, near in ((first, slice(max(0, first - beside), first)), (end, slice(end, end + beside)))
        if gives[near].any()
    )


def _recovering(trace: Trace, found: list[AlternatorOutage], held: float, limits: Limits) -> list[AlternatorOutage]:
    """Take a short fall for idling still where the bus has not come up since to what the regulator holds, ``held``.

    An alternator at its limit, as after idling, lets every pulse of a load through to the bus. A longer fall is told.
    For logs in which no ammeter tells.
    """
    if shown_current(trace) is not None:
        return found
    settled: list[AlternatorOutage] = []
    for outage in found:
        last = settled[-1] if settled else None
        lasts = trace.time[outage.end - 1] - trace.time[outage.first]
        if last is not None and last.kind == LOW_RPM and outage.kind == OFFLINE and not outage.rose:
            since = median(trace.bus_voltage[last.end : outage.first])
            soon = trace.time[outage.first] - trace.time[last.end - 1] < limit_value("losses_apart")
            below = soon or not since > held - limits["held_margin"]
            if below and lasts <= limit_value("connection_longest"):
                outage = replace(outage, kind=LOW_RPM)
        settled.append(outage)
    return settled


def _weighed(
    trace: Trace, found: list[AlternatorOutage], rpm_sufficient: Mask, limits: Limits
) -> list[AlternatorOutage]:
    """Settle by all that such outages of the flight show together whether output is short or a reading low."""
    doubtful = [outage for outage in found if outage.kind in (OUTPUT_LIMITED, VOLTMETER_ONLY)]
    rows = np.zeros(trace.time.size, dtype=np.bool_)
    for outage in doubtful:
        rows[outage.first : outage.end] = True
    evidence = limit_or_reading(trace, rows & rpm_sufficient, rpm_sufficient, limits)
    if not evidence:
        return found
    alike = limit_value("odds_alike")
    settled = []
    for outage in found:
        if outage.kind in (OUTPUT_LIMITED, VOLTMETER_ONLY):
            told = odds(evidence) + (alike if outage.kind == OUTPUT_LIMITED else -alike)
            outage = AlternatorOutage(
                outage.first, outage.end, OUTPUT_LIMITED if told > 0.0 else VOLTMETER_ONLY, evidence
            )
        settled.append(outage)
    return settled


def _told(trace: Trace) -> Mask:
    """Rows in which a voltage, or where none is recorded a current, tells what carries the bus."""
    known = np.isfinite(trace.bus_voltage)
    flow = None if known.any() else shown_current(trace)
    return known if flow is None else np.isfinite(flow)


def _short_ones(
    trace: Trace, at_speed: Mask, found: list[AlternatorOutage], held: float, limits: Limits
) -> list[AlternatorOutage]:
    """Tell, by a battery ammeter, an alternator at its limit from one that gives nothing.

    When a load goes off and a short alternator takes the bus again it still is at its limit: the battery is charged,
    but the bus stays below what the regulator holds, and the current has swung by no more than a load. An alternator
    that comes back from nothing swings the current by its whole output, and the bus is back at once. What one outage of
    a flight shows holds for its others with a like discharge, unless far more of them end with the bus back at once;
    and one that swings the current by more than a load speaks for all. ``at_speed`` are the rows of an engine that
    turns fast enough: one that idles has any alternator at its limit.
    """
    flow = trace.battery_current
    if flow is None:
        return found
    found = [
        AlternatorOutage(a.first, a.end, OUTPUT_LIMITED)
        if a.kind == OFFLINE and not _gives_nothing(trace, a) and _answers_speed(trace, a.first, a.end)
        else a
        for a in found
    ]
    found = _limited_throughout(trace, found)
    low = trace.bus_voltage < held - limits["held_margin"]
    drawn: list[float] = []
    swings: list[float] = []
    back_at_once = 0
    for outage in found:
        until = trace.time[outage.end - 1] + limit_value("limited_within")
        after = slice(outage.end - 1, int(np.searchsorted(trace.time, until, side="right")))
        at_limit = at_speed[after] & low[after] & (flow[after] > limit_value("discharge_smallest"))
        swing = median(flow[after][at_limit]) - median(flow[outage.first : outage.end])
        lasts = float(trace.seconds[after][at_limit].sum())
        off = outage.kind == OFFLINE and not outage.rose and not _gives_nothing(trace, outage)
        if off and lasts >= limit_value("limited_shortest"):
            drawn.append(median(flow[outage.first : outage.end]))
            swings.append(swing)
        back_at_once += off and lasts < limit_value("limited_shortest")
    if back_at_once > limit_value("short_unlike") * len(drawn):
        return found  # a battery that gave for long takes all there is for a while, whatever was wrong
    if not drawn or not max(swings) < limit_value("load_share_most") * limits["alternator_rating"]:
        return found
    most = limit_value("short_discharge_most") * min(drawn)
    return [
        AlternatorOutage(a.first, a.end, OUTPUT_LIMITED)
        if a.kind == OFFLINE and not a.rose and not _gives_nothing(trace, a) and median(flow[a.first : a.end]) > most
        else a
        for a in found
    ]


def _gives_nothing(trace: Trace, outage: AlternatorOutage) -> bool:
    """Whether the alternator's own ammeter shows that it gives nothing: then it is at no limit of its output."""
    output = trace.alternator_output
    return output is not None and median(output[outage.first : outage.end]) < limit_value("output_silent")


def _limited_throughout(trace: Trace, found: list[AlternatorOutage]) -> list[AlternatorOutage]:
    """Take a low bus under which the battery rests for the alternator's limit, where it more often discharges.

    An alternator at its limit lets the battery give or take as the loads go, and now and then nothing; a battery
    behind a voltmeter that reads low gives nothing ever. For logs in which no output tells.
    """
    lasting = {
        kind: sum(float(trace.seconds[a.first : a.end].sum()) for a in found if a.kind == kind) for kind in OutageKind
    }
    if trace.alternator_output is not None or not lasting[OUTPUT_LIMITED] > lasting[VOLTMETER_ONLY]:
        return found
    return [replace(one, kind=OUTPUT_LIMITED) if one.kind == VOLTMETER_ONLY else one for one in found]


def _answers_speed(trace: Trace, first: int, end: int) -> bool:
    """Whether the battery gives less while the engine turns faster: then the source gives something, if too little.

    Both as the engine speeds up and as it slows down: loads that go off one by one on the way to the ramp, while it
    slows down anyhow, are no answer.
    """
    if trace.engine_speed is None or trace.battery_current is None:
        return False
    lag = trace.rows_in(limit_value("speed_lag"))
    flow = running_median(trace.battery_current[first:end], lag)
    speed = hold(trace.engine_speed[first:end])
    if flow.size < limit_value("speed_fewest_rows") + lag:
        return False
    within = middle_range(speed, 90.0)
    if not within > limit_value("outage_speed_swing") * median(speed):
        return False  # one setting of the throttle, with whatever the loads did beside it
    change, answer = speed[lag:] - speed[:-lag], flow[lag:] - flow[:-lag]
    swings = (np.abs(change) > limit_value("speed_swing")) & np.isfinite(answer)
    change, answer = change[swings], answer[swings]
    if change.size < limit_value("speed_fewest_changes"):
        return False
    return all(_follows_change(change[part], answer[part], within) for part in (change > 0.0, change < 0.0))


def _follows_change(change: Floats, answer: Floats, within: float) -> bool:
    """Whether a current answers changes of engine speed, by enough over a range ``within`` of it [rpm]."""
    if not change.size or not answer.any():
        return False
    sums = float((change * answer).sum()), float((change**2).sum()), float((answer**2).sum())
    follows = sums[0] > limit_value("correlation_telling") * np.sqrt(sums[1] * sums[2])
    return bool(follows and sums[0] / sums[1] * within > limit_value("speed_answer_least"))


def _never_came_up(trace: Trace, first: int, end: int, rpm_sufficient: Mask) -> bool:
    """Whether a low bus stays low from row ``first`` to the last of a fast engine, for longer than idling explains.

    A battery that was left low takes all that its alternator gives, but has had enough before so long; then an
    alternator that still does not hold the bus cannot. For logs with an engine speed in which no ammeter tells.
    """
    if shown_current(trace) is not None or trace.engine_speed is None or rpm_sufficient[end:].any():
        return False
    return float(trace.seconds[first:end][rpm_sufficient[first:end]].sum()) > limit_value("climb_longest")


def _stays_lifted(trace: Trace, first: int, end: int, rest: float, limits: Limits) -> bool:
    """Whether a low bus stays all the while above what any battery holds that gives the load.

    Then a source lifts it, at its limit after idling, say. One that comes back from a loss climbs there from below.
    For logs in which no ammeter tells; ``rest`` is the bus voltage with the engine stopped [V], above which a battery
    by itself sinks within moments.
    """
    if shown_current(trace) is not None or not np.isfinite(rest):
        return False
    volts = running_median(trace.bus_voltage[first:end], 3)
    shown = volts[np.isfinite(volts)]
    return shown.size > 0 and float(shown.min()) > max(rest, limits["full_battery"]) + limits["carrying_smallest_rise"]


def _outage_row(trace: Trace, first: int) -> int:
    """Row at which the alternator left, by the current: a battery just charged holds the bus up for a while yet."""
    if trace.battery_current is not None:
        gone = trace.battery_current < -limit_value("discharge_smallest")
    elif trace.alternator_output is not None:
        gone = trace.alternator_output < limit_value("output_silent")
    else:
        return first
    earliest = max(0, first - trace.rows_in(limit_value("held_up_longest")))
    there = np.flatnonzero(~gone[earliest:first])
    return earliest + int(there[-1]) + 1 if there.size else first


def _silent_row(trace: Trace, first: int, end: int, rpm_sufficient: Mask) -> int:
    """Row at which the output ends, in a low bus that began by idling with the alternator still there."""
    output = trace.alternator_output
    if output is None:
        return first
    gives = running_median(output[first:end], 3) > limit_value("output_smallest")
    silent = first + (int(np.argmin(gives)) if not gives.all() else 0)
    return first if rpm_sufficient[first:silent].any() else silent


def _falls_below(trace: Trace, first: int, end: int, volts: float) -> bool:
    """Whether the bus comes down below a voltage: a regulator that only lets go of a high one stops above it."""
    inside = trace.bus_voltage[first:end]
    return bool(np.isfinite(inside).any() and np.nanmin(inside) < volts)


def _gives(trace: Trace, outage: AlternatorOutage) -> bool:
    """Whether the alternator shows an output all the while."""
    output = trace.alternator_output
    return output is not None and median(output[outage.first : outage.end]) > limit_value("output_smallest")


def _join_offline(trace: Trace, found: list[AlternatorOutage], restarts: tuple[int, ...]) -> list[AlternatorOutage]:
    """A low engine speed next to an offline stretch belongs to it: the alternator is still not there.

    Not where the alternator's ammeter shows that it gives something.
    """
    joined: list[AlternatorOutage] = []
    for outage in found:
        last = joined[-1] if joined else None
        touching = last is not None and outage.first - last.end <= 1 and outage.first not in restarts
        if (
            last is not None
            and touching
            and OFFLINE in (last.kind, outage.kind)
            and not _one_gives(trace, last, outage)
        ):
            joined[-1] = AlternatorOutage(last.first, outage.end, OFFLINE, rose=last.rose or outage.rose)
        else:
            joined.append(outage)
    return joined


def _one_gives(trace: Trace, last: AlternatorOutage, outage: AlternatorOutage) -> bool:
    """Whether an output is shown in that of two neighbours which is no loss."""
    return any(one.kind != OFFLINE and _gives(trace, one) for one in (last, outage))
