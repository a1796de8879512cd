"""When the alternator carries the bus, and what kind of outage each stretch is in which it does not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np

from analyzer.aircraft import Source
from analyzer.flights.at_power import altitude_tells, power_held
from analyzer.flights.outage import Evidence, limit_or_reading, odds
from analyzer.flights.run_up import run_up
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    Floats,
    Mask,
    drop_short_runs,
    fill_short_gaps,
    finite_of,
    hold,
    median,
    middle_range,
    percentile,
    readings_in,
    resolution,
    running_median,
    runs,
)

#: Channels of any ammeter, whatever it senses.
CURRENTS = ("battery_current", "alternator_current", "alternator_current_2", "ammeter_current")


class OutageKind(StrEnum):
    """Why the alternator does not (fully) carry the bus."""

    LOW_RPM = "low_rpm"  # the engine turns too slowly, or the bus still climbs back from that or from a low battery
    OFFLINE = "offline"  # it gives nothing
    OUTPUT_LIMITED = "output_limited"  # it gives something but not enough
    GROUND_CHECK = "ground_check"  # switched off for a moment on the ground, or just before the engine
    LATE_START = "late_start"  # not yet on after start
    BRIEF = "brief"  # over before anyone could tell
    VOLTMETER_ONLY = "voltmeter_only"  # only the voltage says so, its output goes on


LOW_RPM, OFFLINE, OUTPUT_LIMITED, GROUND_CHECK, LATE_START, BRIEF, VOLTMETER_ONLY = OutageKind


@dataclass(frozen=True, slots=True)
class Clue:
    """One thing that an outage shows, with its score for each explanation of ``alternatives.EXPLANATIONS``."""

    name: str
    value: float  # scaled: see ``outage_evidence.toml``
    scores: tuple[float, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """One explanation of an outage with its chance; those of one outage add up to 1."""

    explanation: OutageKind
    chance: float


@dataclass(frozen=True, slots=True)
class AlternatorOutage:
    """A stretch, engine running, in which the alternator does not (fully) carry the bus; rows, end exclusive."""

    first: int
    end: int
    kind: OutageKind
    evidence: tuple[Evidence, ...] = ()  # on OUTPUT_LIMITED against VOLTMETER_ONLY, where both were possible
    rose: bool = False  # the bus ran up before it, as only a surge makes it
    clues: tuple[Clue, ...] = ()  # what it shows of its explanation
    alternatives: tuple[Alternative, ...] = ()  # by these, the likeliest first; none where nothing tells


def regulated_estimate(trace: Trace, running: Mask, limits: Limits) -> float:
    """Highest bus voltage that lasts about a minute with the engine running [V], NaN without any.

    Capped at the top of the normal band, so that a regulator that runs away does not make its own earlier
    health look like an outage.
    """
    volts = readings_in(trace.bus_voltage, running)
    if not np.isfinite(volts).any():
        return float("nan")
    lasting = running_median(volts, trace.rows_in(limit_value("regulated_lasting")))
    return min(float(np.nanmax(lasting)), limits["carrying_cap"])


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


def outages(
    trace: Trace,
    running: Mask,
    alternator_online: Mask,
    rpm_sufficient: Mask,
    held: float,
    limits: Limits,
    restarts: tuple[int, ...] = (),
    rest: float = float("nan"),
) -> list[AlternatorOutage]:
    """Every stretch of the engine run in which the alternator does not carry the bus, with its kind.

    ``rpm_sufficient`` are the rows of ``rpm_sufficient_rows``, ``held`` the voltage of ``regulated_estimate`` [V].
    No stretch goes on across ``restarts``, rows before which the recorder began anew: what came between is not known.
    ``rest`` is the bus voltage with the engine stopped [V], NaN when unknown.
    """
    missing = running & ~alternator_online & _told(trace)
    missing = fill_short_gaps(missing, trace.time, limit_value("outage_shortest")) & running
    missing = drop_short_runs(missing, trace.time, limit_value("outage_shortest"))
    taken = taken_row(trace, alternator_online)
    alternator_on_row = trace.time.size if taken is None else taken
    stop = int(np.flatnonzero(running)[-1]) if running.any() else 0
    off_ground = takeoff_row(trace, running)
    found = []
    silences = _silences(trace, missing & rpm_sufficient)
    for first, end in _parts(missing, (*restarts, *silences)):
        outage_row = max([_outage_row(trace, first), *(row for row in restarts if row <= first)])
        before = run_up(trace, alternator_online, outage_row, end, limits)
        rose = before.rose and _falls_below(trace, first, end, before.level - 0.5 * limits["trip_rise"])
        holds = _battery_holds(rest, limits, charged=not end <= alternator_on_row < trace.time.size)
        kind = _kind(trace, first, end, rpm_sufficient, limits, holds, rose=rose, running=running)
        if kind == OFFLINE and not rose and _stays_lifted(trace, first, end, rest, limits):
            kind = LOW_RPM if _idled(trace, first, end, rpm_sufficient) else VOLTMETER_ONLY
        if kind == LOW_RPM and _never_came_up(trace, first, end, rpm_sufficient):
            at_speed_row = first + int(np.argmax(rpm_sufficient[first:end]))
            if first < at_speed_row:
                found.append(AlternatorOutage(first, at_speed_row, LOW_RPM))
            first, kind = at_speed_row, OUTPUT_LIMITED
        first = outage_row if kind == OFFLINE else first
        silent = _silent_row(trace, first, end, rpm_sufficient) if kind == OFFLINE else first
        lasts = trace.time[end - 1] - trace.time[silent]
        # what follows at idling speed tells no more of it
        at_speed = float(trace.seconds[first:end][rpm_sufficient[first:end]].sum())
        if kind == OFFLINE and end <= alternator_on_row < trace.time.size:
            kind = LATE_START
        elif (
            kind == OFFLINE
            and not rose
            and min(lasts, at_speed) <= limit_value("ground_check_longest")
            and (end <= off_ground or end > stop)
        ):
            kind = GROUND_CHECK
        if first < silent:
            found.append(AlternatorOutage(first, silent, LOW_RPM))
        found.append(AlternatorOutage(max(first, silent), end, kind, rose=rose))
    found = _weighed(trace, _recovering(trace, found, held, limits), rpm_sufficient, limits)
    return _short_ones(trace, running & rpm_sufficient, _join_offline(trace, found, restarts), held, limits)


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


def _kind(
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
    idled = _idled(trace, first, end, rpm_sufficient)
    if idled and (_answers_throttle(trace, first, end, rows, limits) or _climbs(trace, first, end, limits)):
        return LOW_RPM
    if not _stands_above_a_battery(trace, first, end, rows, holds, limits):
        return OFFLINE
    return LOW_RPM if idled else VOLTMETER_ONLY


def _idled(trace: Trace, first: int, end: int, rpm_sufficient: Mask) -> bool:
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


@dataclass(frozen=True, slots=True)
class BatteryHolds:
    """How high a battery may hold the bus [V] while it gives the load."""

    rested: float
    lastingly: float  # seen for long enough that it would have sagged
    at_first: float  # with surface charge


def _battery_holds(rest: float, limits: Limits, *, charged: bool) -> BatteryHolds:
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
