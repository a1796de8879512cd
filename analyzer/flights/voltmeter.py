"""A voltmeter that is wrong in its own way: off by a constant, behind a resistance, or frozen through the start.

Told from an electrical fault by what the battery makes impossible: it cannot rest above its own chemistry, it
cannot crank an engine when it is truly empty, and it cannot stand aside while the bus reads below it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.flights.alternator_online import shown_current
from analyzer.flights.battery_kind import BatteryKind, Chemistry
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import (
    OUTLIER,
    Floats,
    Mask,
    blocks,
    drop_short_runs,
    finite_of,
    highest_lasting,
    hold,
    median,
    middle_range,
    mostly,
    near,
    percentile,
    robust_sigma,
    running_median,
    runs,
)


class Voltmeter(Struct, frozen=True):
    """Whether a flight's bus voltage says anything; every later stage asks this and not the readings."""

    tells: bool
    because: str = ""  # why it does not, a plain phrase
    shows: float | None = None  # highest reading that lasts of a channel that is not connected [V]


RECORDED = Voltmeter(True)
ABSENT = Voltmeter(False, "no voltmeter is recorded")


def unconnected_rows(trace: Trace, breaks: tuple[int, ...], dead_below: float) -> Mask:
    """Rows of each power cycle in which the voltmeter shows nothing from end to end while the aircraft lives.

    Nothing is what stays below ``dead_below`` [V], blips left out. A power cycle ends at a break in the recording
    or a gap longer than ``recording_gap``. That the aircraft lives is told by engine speed, oil pressure or a
    current. A bus that was alive in the cycle and then falls to nothing is a fault of the aircraft, and is left
    as it reads.
    """
    rows = np.zeros(trace.time.size, dtype=np.bool_)
    if not np.isfinite(trace.bus_voltage).any():
        return rows
    gaps = np.flatnonzero(np.diff(trace.time) > limit_value("recording_gap")) + 1
    edges = sorted({0, trace.time.size, *breaks, *map(int, gaps)})
    for first, end in pairwise(edges):
        volts = trace.rows(first, end).bus_voltage
        if np.isfinite(volts).any() and _shows(volts, trace) <= dead_below:
            rows[first:end] = _lives(trace, first, end)
    return rows


def _shows(volts: Floats, trace: Trace) -> float:
    """Highest voltage that lasts [V]: blips left out."""
    return highest_lasting(volts, trace.rows_in(limit_value("nominal_lasting")))


def _lives(trace: Trace, first: int, end: int) -> bool:
    signs = (
        (trace.engine_speed, limit_value("engine_running_speed")),
        (trace.oil_pressure, limit_value("oil_pressure_running")),
        (trace.battery_current, limit_value("output_smallest")),
        (trace.alternator_current, limit_value("output_smallest")),
        (trace.ammeter_current, limit_value("output_smallest")),
    )
    for channel, least in signs:
        if channel is not None and np.isfinite(channel[first:end]).any():
            lasting = running_median(channel[first:end], trace.rows_in(limit_value("nominal_lasting")))
            if np.nanmax(np.abs(lasting)) >= least:
                return True
    return False


def voltmeter_of(trace: Trace, recorded: Floats, dead_below: float) -> tuple[Voltmeter, list[ReadingFault]]:
    """Whether a flight's voltage says anything, and the fault of one that does not.

    Parameters
    ----------
    trace : the flight, the rows of ``unconnected_rows`` taken out of its bus voltage
    recorded : its bus voltage as it was recorded [V]
    dead_below : voltage that a connected voltmeter passes [V]
    """
    if np.isfinite(trace.bus_voltage).any():
        return RECORDED, []
    if not np.isfinite(recorded).any():
        return ABSENT, []
    shows = _shows(recorded, trace)
    because = f"it never shows above {dead_below:.0f} V"
    fact = Voltmeter(False, f"the voltmeter is not connected: {because}", shows)
    from_s, to_s = float(trace.time[0]), float(trace.time[-1])
    because += ", while the aircraft runs on its bus"
    return fact, [ReadingFault("unconnected", "bus_voltage", from_s, to_s, 1, round(shows, 2), because)]


def voltage_offset(
    trace: Trace, first_crank: int, crank: Mask, alternator_online: Mask, limits: Limits, battery: BatteryKind
) -> list[ReadingFault]:
    """A constant error: the rest before the start and the held bus are off by about the same.

    Nothing is allowed for the cold, in which a compensated regulator holds more: a charger, or power from outside,
    lifts the rest as well, and an overcharged battery must not pass for a reading.

    Parameters
    ----------
    trace : one flight, cleaned
    first_crank : row of the first crank; what comes before is rest
    crank, alternator_online : rows in which the starter turns, and in which the alternator carries the bus
    battery : its kind; what a lead-acid battery cannot rest at a lithium battery can
    """
    volts = trace.bus_voltage
    rest = median(volts[:first_crank])
    if not (rest < limits["resting_very_low"] or rest > limits["charging_for_sure"]):
        return []  # no rest that any of this needs
    held = median(volts[alternator_online])
    charge = 0.0 if trace.battery_current is None else _late_charge(trace.battery_current, alternator_online)
    if not np.isfinite(held) or charge > limits["never_settles"]:
        return []  # a battery that takes so much is as empty as it reads
    off_rest = rest - limits["full_battery"]
    off_held = held - 0.5 * (limits["regulated_low"] + limits["regulated_high"])
    alike = abs(off_rest - off_held) < limits["offset_alike"]
    # a battery that is low, or a loss later on, keeps the bus below what the regulator holds for much of a flight
    top = percentile(finite_of(volts[alternator_online]), limit_value("offset_held_percentile"))
    alike_at_top = abs(off_rest - off_held - (top - held)) < limits["offset_alike"]
    cranks = _cranks_though_empty(volts, crank, rest, limits)
    held_at_once = _held_though_empty(trace, crank, alternator_online, rest, limits)
    flows = trace.battery_current is not None and charge < limits["maintenance_raised"]
    took = _took_back(trace, alternator_online)
    filled = took < limits["empty_takes_least"] and rest < limits["resting_very_low"]
    empty = cranks or filled or held_at_once or (flows and rest < limits["resting_very_low"])
    if rest > limits["charging_for_sure"] and held > limits["regulated_high"] and alike and not battery.is_lithium:
        because = "a rested lead-acid battery stands lower, and the bus with the alternator on is off by as much"
        if battery.chemistry is not Chemistry.LEAD_ACID:
            because += " (a lithium battery under a regulator that is set high would read the same)"
    elif alike_at_top and top < limits["regulated_low"] and empty:
        why = "turns no engine" if cranks else f"takes more than {max(0.0, charge):.1f} A"
        why = f"takes more than {took:.1f} Ah" if filled and not cranks and not flows else why
        why = "keeps the bus climbing for long" if held_at_once else why
        because = f"a battery so empty {why}, and the bus with the alternator on is off by as much"
    else:
        return []
    error = round(0.5 * (off_rest + off_held), 2)
    return [ReadingFault("offset", "bus_voltage", float(trace.time[0]), float(trace.time[-1]), 1, error, because)]


def _took_back(trace: Trace, rows: Mask) -> float:
    """Most charge that the battery can have taken by an alternator's output in some rows [Ah].

    All that the output stood above the level that it came down to: the rest went to loads that were on to the end.
    Infinite where no output tells, or the rows are too few for an empty battery to have come back in.
    """
    output = trace.alternator_output if trace.alternator_output is not None else trace.ammeter_current
    if output is None or trace.battery_current is not None:
        return float("inf")
    seen = np.flatnonzero(rows & np.isfinite(output))
    if float(trace.seconds[seen].sum()) < limit_value("recharge_window"):
        return float("inf")
    smooth = running_median(output[seen], trace.rows_in(limit_value("regulated_lasting")))
    above = np.maximum(smooth - percentile(smooth, limit_value("knee_bottom")), 0.0)
    return float((above * trace.seconds[seen]).sum()) / 3600.0


def _late_charge(flow: Floats, rows: Mask) -> float:
    """What a battery still takes in the later half of some rows [A], when a sound one's recharge is over."""
    found = np.flatnonzero(rows)
    return median(flow[found[found.size // 2 :]])


def _cranks_though_empty(volts: Floats, crank: Mask, rest: float, limits: Limits) -> bool:
    """Whether the rest reads as an empty battery's, yet falls under the starter no further than a sound one's."""
    if rest >= limits["resting_very_low"]:
        return False
    turning = volts[crank & np.isfinite(volts)]
    return turning.size > 0 and rest - float(turning.min()) < limits["offset_crank_fall"]


def _held_though_empty(trace: Trace, crank: Mask, rows: Mask, rest: float, limits: Limits) -> bool:
    """Whether the bus comes up from a rest that reads empty and then stands still, the alternator on line in some rows.

    So empty a battery takes all that the alternator gives, at any engine speed and with any load, and the bus climbs
    with its charge. For logs in which no ammeter tells, nor any reading under the starter.
    """
    seen = np.flatnonzero(rows & np.isfinite(trace.bus_voltage))
    known = shown_current(trace) is not None or np.isfinite(trace.bus_voltage[crank]).any()
    if known or not rest < limits["resting_very_low"] or not seen.size:
        return False
    if float(trace.seconds[seen].sum()) < limit_value("recharge_window"):
        return False
    volts = running_median(trace.bus_voltage[seen], trace.rows_in(limit_value("regulated_lasting")))
    stands = np.abs(volts - median(volts)) <= limits["held_margin"]
    soon = trace.time[seen] - trace.time[seen[0]] < limit_value("recharge_assumed")
    return bool(min(stands.mean(), stands[soon].mean()) > limit_value("path_fewest_kept"))


#: Levels that tell whether the alternator carries the bus: a voltmeter that reads low shows them lower.
CARRYING_LEVELS = ("full_battery", "carrying_cap")


def reads_low_by(trace: Trace, first_crank: int, crank: Mask, running: Mask, limits: Limits) -> float:
    """Volts by which the voltmeter shows too little, negative; 0 where nothing says so.

    The battery reads empty and yet turns the engine, or has a regulator hold the bus at once; the alternator then lifts
    the bus by as much as it lifts any, and even the highest that it is held at lies below the band. Where a battery
    ammeter shows that the battery takes a high current, it is as empty as it reads.
    """
    volts = trace.bus_voltage
    rest = median(volts[:first_crank])
    later = running & np.isfinite(volts)
    if not rest < limits["resting_very_low"] or not later.any():
        return 0.0
    held = highest_lasting(volts[later], trace.rows_in(limit_value("regulated_lasting")))
    lifted = later & (volts > held - limits["held_margin"])
    cranks = _cranks_though_empty(volts, crank, rest, limits)
    if not cranks and not _held_though_empty(trace, crank, lifted, rest, limits):
        return 0.0
    flow = trace.battery_current
    if flow is not None and _late_charge(flow, later) > limits["never_settles"]:
        return 0.0
    too_low = held - rest > limits["offline_least_fall"] and held < limits["regulated_low"]
    return rest - limits["full_battery"] if too_low else 0.0


def follows_load(trace: Trace, rpm_sufficient: Mask, limits: Limits) -> float | None:
    """Resistance [ohm] by which the reading falls with the load, None where it does not, or nothing tells.

    The bus of an alternator at its limit falls too, but then its output stands still and the battery's voltage
    sags on; behind a resistance, voltage follows the output step by step. A regulator that drifts falls with time,
    whatever the load does, so a slow course is taken out with the line. A reading that toggles between two steps of a
    coarse meter follows nothing, and a resistance explains every reading that lasts: where the bus stands off the line
    for minutes, as while an alternator at its limit fills a battery, something else moves it.
    """
    output = trace.alternator_output
    if output is None or not rpm_sufficient.any():
        return None
    rows = rpm_sufficient & np.isfinite(output) & np.isfinite(trace.bus_voltage)
    rows &= trace.time > trace.time[int(np.argmax(rpm_sufficient))] + limit_value("recharge_assumed")
    if rows.sum() < trace.rows_in(limit_value("path_shortest")):
        return None
    amps, volts = output[rows], trace.bus_voltage[rows]
    swing = middle_range(amps, 98.0)
    if swing < limit_value("path_least_swing"):
        return None
    kept = np.ones(amps.size, dtype=np.bool_)
    hours = trace.time[rows] / 3600.0
    design = np.stack([amps, hours - hours.mean(), np.ones(amps.size)], axis=1)
    scatter = slope = 0.0
    for _ in range(3):
        if not kept.any() or np.ptp(amps[kept]) == 0.0:
            return None
        terms = np.linalg.lstsq(design[kept], volts[kept], rcond=None)[0]
        slope, away = float(terms[0]), volts - design @ terms
        scatter = robust_sigma(away)
        kept = np.abs(away) <= max(OUTLIER * scatter, trace.voltage_step)
    steady = scatter < limits["path_scatter"] + 0.5 * trace.voltage_step
    steady &= kept.mean() > limit_value("path_fewest_kept")
    steady &= not drop_short_runs(~kept, trace.time[rows], limit_value("path_shortest")).any()
    fitting = limits["path_smallest"] < -1000.0 * slope <= limits["path_largest"]
    fitting &= -slope * swing >= limit_value("path_fewest_steps") * trace.voltage_step
    return -slope if steady and fitting else None


def reads_low(trace: Trace, first: int, end: int, rpm_sufficient: Mask, limits: Limits) -> bool:
    """Whether the bus only reads low from row ``first`` to ``end``: steadily, from an alternator with output to spare.

    One at its limit gives all it has; one that fades lets the battery sag. Ten minutes or more tell.
    """
    output = trace.alternator_output
    long = float(trace.seconds[first:end][rpm_sufficient[first:end]].sum()) >= limit_value("recharge_assumed")
    if output is None or not long or not np.isfinite(output).any():
        return False
    most = percentile(finite_of(output), limit_value("output_highest"))
    third = (end - first) // 3
    move = median(trace.bus_voltage[first : first + third]) - median(trace.bus_voltage[end - third : end])
    late = output[end - third : end][rpm_sufficient[end - third : end]]
    spare = median(late) < limit_value("path_output_most") * most
    return spare and abs(move) < limits["path_steady"]


def stands_still_below(
    trace: Trace, first: int, end: int, rpm_sufficient: Mask, rest: float, battery: BatteryKind, limits: Limits
) -> bool:
    """Whether the bus stands still from row ``first`` to ``end`` at less than the battery rested at, ``rest`` [V].

    A bus that were so low would have the battery carry the aircraft, and sink, at each level that the loads bring it
    to; and in this flight a source has lifted it. For logs in which no ammeter tells; a coarse voltmeter shows it only
    over a long time. A lithium battery stands as still, and so does a charged lead-acid one under a light load: only a
    bus lower than that tells, with a battery that is or is taken as lead-acid. One lower than an empty battery under a
    load is left to sink faster.
    """
    lead_acid = battery.chemistry in (Chemistry.LEAD_ACID, Chemistry.TAKEN_LEAD_ACID)
    if not lead_acid or shown_current(trace) is not None or not np.isfinite(rest):
        return False
    rows = np.flatnonzero(rpm_sufficient[first:end] & np.isfinite(trace.bus_voltage[first:end])) + first
    most = max(rest, limits["full_battery"]) + limits["carrying_smallest_rise"]
    lifted = finite_of(running_median(trace.bus_voltage, 3)) > most
    if rows.size < limit_value("speed_fewest_rows") or not lifted.any():
        return False
    time, levels, middles = _levels(trace.time[rows], trace.bus_voltage[rows])
    if levels.min() < limit_value("bus_dead"):
        return False
    shows, low = max(limits["sag_least"], 1.5 * trace.voltage_step), min(rest, limits["charged_stands"])
    stands = [one for one in _plateaus(levels, shows) if median(middles[one]) < low]
    lasts = np.array([one.stop - one.start for one in stands]) * limit_value("stands_block") / 3600.0
    empty = np.array([median(middles[one]) < limits["empty_under_load"] for one in stands], dtype=np.bool_)
    least = float((np.where(empty, limits["empty_sinks"], limits["battery_sinks"]) * lasts).sum())
    if not least > shows:  # a load that went off by itself may hide as much
        return False
    return bool(_sinks(time, levels, stands) * float(lasts.sum()) < limit_value("stands_still_share") * least)


def _levels(time: Floats, volts: Floats) -> tuple[Floats, Floats, Floats]:
    """Middle [s], level and median [V] of blocks of a minute or two; the level is the mean of its highest readings.

    Loads that come and go within a block, as of a heater or strobes, lower others of its readings.
    """
    parts = blocks(time, limit_value("stands_block"))
    highest = [np.sort(volts[part])[-max(1, (part.stop - part.start) // 4) :].mean() for part in parts]
    middles = np.array([median(volts[part]) for part in parts])
    return np.array([time[part].mean() for part in parts]), np.array(highest), middles


def _plateaus(levels: Floats, step: float) -> list[slice]:
    """Stretches of blocks between steps of the level; the blocks at both ends, which a step may cut, are left out."""
    edges = [0, *(np.flatnonzero(np.abs(np.diff(levels)) > step) + 1).tolist(), levels.size]
    inner = [slice(a + 1, b - 1) for a, b in pairwise(edges)]
    return [one for one in inner if one.stop - one.start >= limit_value("stands_fewest_blocks")]


def _sinks(time: Floats, levels: Floats, stands: list[slice]) -> float:
    """Common rate at which the level sinks within each of some stretches [V/h]: least squares, each its own level."""
    hours = np.concatenate([time[one] - time[one].mean() for one in stands]) / 3600.0
    volts = np.concatenate([levels[one] - levels[one].mean() for one in stands])
    return -float(hours @ volts) / float(hours @ hours)


def steps_unanswered(trace: Trace, rpm_sufficient: Mask, limits: Limits) -> tuple[int, int] | None:
    """First row and end of steps of the reading, down and up again, that the battery's current does not answer.

    A battery takes or gives many amperes for each volt that its bus moves, so only the reading moved: by the loads
    behind a resistance on the way to the meter. None where the ammeter never moves, or most steps are answered. One
    that stands at zero may be a battery off the bus, and tells nothing. A bus that moves over many rows is no step: a
    battery that fills, or comes from charge to discharge, or is spent, moves it by volts with hardly an ampere more.
    """
    flow = trace.battery_current
    if flow is None or np.isfinite(flow).sum() < 2 or not rpm_sufficient.any():
        return None
    wide = max(3, trace.rows_in(limit_value("path_step_beside")))
    reach = wide // 2 + 1
    if rpm_sufficient.size <= 2 * reach:
        return None
    beside = hold(trace.bus_voltage)[near(rpm_sufficient, wide // 2)]
    if not float(np.ptp(beside)) > limits["path_step_least"]:
        return None  # no medians of what moves so little lie further apart
    volts = running_median(trace.bus_voltage, wide)
    step = volts[2 * reach :] - volts[: -2 * reach]
    large = rpm_sufficient[2 * reach :] & rpm_sufficient[: -2 * reach] & (np.abs(step) > limits["path_step_least"])
    if not large.any():
        return None
    amps = running_median(flow, wide)
    if not float(np.ptp(amps)) > limit_value("path_ammeter_moves"):
        return None
    answer = amps[2 * reach :] - amps[: -2 * reach]
    large &= np.minimum(np.abs(amps[2 * reach :]), np.abs(amps[: -2 * reach])) > limit_value("battery_still")
    tops = (first + int(np.argmax(np.abs(step[first:end]))) for first, end in runs(large))
    rows = [row for row in tops if _at_once_and_still(trace.bus_voltage[row : row + 2 * reach + 1], float(step[row]))]
    answers = [float(answer[row] / step[row]) * limits.scale for row in rows]
    silent = [row for row, own in zip(rows, answers, strict=True) if own < limit_value("battery_answer_least")]
    if not rows or median(np.array(answers)) > limit_value("battery_answer_none"):
        return None  # each answer may be lost in the meter's steps, and all of them together still show
    down = sum(step[row] < 0.0 for row in silent)
    enough = min(down, len(silent) - down) >= limit_value("path_steps_fewest")
    if not enough or len(silent) < limit_value("path_fewest_kept") * len(rows):
        return None
    return silent[0] + reach, silent[-1] + reach + 1


def _at_once_and_still(volts: Floats, step: float) -> bool:
    """Whether readings go through a step [V] in their middle at once, and stand still before it and after.

    So a load that is switched moves them. A bus that climbs or falls does not do it at once, and one that hunts stands
    still on neither side.
    """
    share = limit_value("path_step_at_once") * abs(step)
    moves = np.abs(volts[2:] - volts[:-2])
    if not np.isfinite(moves).any():
        return False
    edge = int(np.nanargmax(moves)) + 1
    beside = (finite_of(volts[:edge]), finite_of(volts[edge + 1 :]))
    return bool(moves[edge - 1] > share and all(middle_range(part, 90.0) < share for part in beside if part.size))


def charged_below_rest(trace: Trace, running: Mask, rest: float, limits: Limits) -> Mask:
    """Rows in which the bus reads clearly less than the battery rested at, ``rest`` [V], while the battery is charged.

    No current flows into a battery from a lower voltage, so only the reading is low. What it rested at beyond a full
    battery's rest is surface charge, and counts for nothing; what rests higher than that explains is fed from outside,
    and says nothing of the battery. Not told where the ammeter never shows the battery give, as one would that shows
    something else; of a battery that has given much since, which stands lower by itself; nor of one that takes a high
    current, as with a cell that has just failed.
    """
    flow, none = trace.battery_current, np.zeros(trace.time.size, dtype=np.bool_)
    full = limits["full_battery"]
    if flow is None or not rest <= full + limits["surface_charge_most"] or not running.any():
        return none
    width, highest = trace.rows_in(limit_value("regulated_lasting")), min(rest, full) - limits["path_step_least"]
    if not (running & mostly(hold(trace.bus_voltage) < highest, width)).any():
        return none
    gives = running_median(flow, 3) < -limit_value("discharge_smallest")
    if float(trace.seconds[gives].sum()) < limit_value("offline_shortest"):
        return none
    lasting, volts = running_median(flow, width), running_median(trace.bus_voltage, width)
    charge = np.cumsum(np.nan_to_num(flow) * trace.seconds) / 3600.0
    stands = min(rest, full) - limits["given_falls"] * np.maximum(0.0, -charge) / limits["given_much"]
    below = running & (volts < stands - limits["path_step_least"]) & (charge > -limits["given_much"])
    below &= (lasting > limit_value("charge_for_sure")) & (lasting < limits["never_settles_far"])
    return drop_short_runs(below, trace.time, limit_value("path_shortest"))


def voltmeter_path(
    trace: Trace, ohm: float | None, reading_low: Mask, steps: tuple[int, int] | None, below_rest: Mask
) -> list[ReadingFault]:
    """A resistance before the voltmeter: by ``follows_load``, ``steps_unanswered``, or rows that only read low.

    ``below_rest`` are the rows of ``charged_below_rest``.
    """
    if ohm is not None:
        because = (
            f"the reading falls by {1000.0 * ohm:.0f} mohm with every load while the alternator's output follows it"
        )
        return [ReadingFault("path", "bus_voltage", float(trace.time[0]), float(trace.time[-1]), 1, None, because)]
    if steps is not None:
        because = "it steps down and up with the loads, and the battery's current answers none of it"
        from_s, to_s = float(trace.time[steps[0]]), float(trace.time[steps[1] - 1])
        return [ReadingFault("path", "bus_voltage", from_s, to_s, 1, None, because)]
    reading_low = (reading_low | below_rest) & (
        trace.bus_voltage >= limit_value("bus_dead")
    )  # no resistance takes all of it
    if float(trace.seconds[reading_low].sum()) < limit_value("short_shortest"):
        return []
    rows = np.flatnonzero(reading_low)
    from_s, to_s = float(trace.time[rows[0]]), float(trace.time[rows[-1]])
    because = "it stands steadily low while neither battery nor alternator is asked for more"
    if shown_current(trace) is None:
        because = "it stands still at less than the battery rested at; a battery that carried the aircraft would sink"
    if below_rest.any():
        because = "it reads less than the battery rested at while the battery is charged, which takes more"
    volts, then_only = round(median(trace.bus_voltage[rows]), 2), bool(below_rest.any())
    fault = ReadingFault("path", "bus_voltage", from_s, to_s, 1, volts, because, then_only=then_only)
    return [replace(fault, by_stretches=not then_only)]


def reads_or_is_low(trace: Trace, reading_low: Mask) -> list[ReadingFault]:
    """A bus that no alternator ever seems to hold while the battery is charged: read low, or truly held as low.

    For a battery whose open voltage tells neither. ``reading_low`` are the rows in which only the voltage is low.
    """
    if trace.battery_current is None:
        return []
    width = trace.rows_in(limit_value("regulated_lasting"))
    rows = reading_low & (running_median(trace.battery_current, width) > limit_value("charge_for_sure"))
    if float(trace.seconds[rows].sum()) < limit_value("recharge_assumed"):
        return []
    from_s, to_s = (float(trace.time[row]) for row in np.flatnonzero(rows)[[0, -1]])
    because = "the battery is charged meanwhile, by a bus that is read low or one that is truly held too low"
    volts = round(median(trace.bus_voltage[rows]), 2)
    return [ReadingFault("path", "bus_voltage", from_s, to_s, 1, volts, because, unsure=True)]


def frozen_start(trace: Trace, start: int, limits: Limits) -> list[ReadingFault]:
    """A voltage that stands exactly still from before the start on while the alternator's charge flows."""
    volts = trace.bus_voltage
    if start == 0 or not np.isfinite(volts[start - 1]):
        return []
    changed_rows = np.flatnonzero(volts[start:] != volts[start - 1])
    end = start + (int(changed_rows[0]) if changed_rows.size else volts.size - start)
    before = np.flatnonzero(volts[:start] != volts[start - 1])
    first = int(before[-1]) + 1 if before.size else 0
    lasts = trace.time[end - 1] - trace.time[start]
    lasting = trace.rows_in(limit_value("frozen_charge_lasting"))
    flows = [] if trace.battery_current is None else [trace.battery_current]
    outputs = [output for output in (trace.alternator_current, trace.ammeter_current) if output is not None]
    # what the loads take of an output lifts no bus
    flows += [output - max(0.0, float(np.nan_to_num(median(output[end:])))) for output in outputs]
    inside = [running_median(flow[start:end], lasting) for flow in flows if end > start]
    charge = max((float(np.nanmax(flow)) for flow in inside if np.isfinite(flow).any()), default=0.0)
    low = volts[start - 1] < limits["full_battery"] + limits["carrying_smallest_rise"]
    if lasts < limit_value("stuck_shortest") or not low or not charge > limits["never_settles"]:
        return []
    because = f"it stands still through the start while {charge:.0f} A flow, which lifts any bus"
    from_s, to_s = float(trace.time[first]), float(trace.time[end - 1])
    return [ReadingFault("stuck", "bus_voltage", from_s, to_s, 1, float(volts[start - 1]), because)]
