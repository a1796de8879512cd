"""Readings that say something of the instrument, not of the aircraft: found, named, and taken out.

A reading fault is told from an electrical fault by what the rest of the log does at the same moment: a bus
that really jumps moves the current, lasts, or ends in a protection trip; a reading that jumps does none.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyzer.flights.at_power import in_the_air
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.phrases import figures
from analyzer.series import (
    Floats,
    Mask,
    finite_of,
    hold,
    median,
    middle,
    near,
    percentile,
    resolution,
    run_edges,
    running_median,
    runs,
    step_noise,
)

#: Channels of any ammeter, whatever it senses.
CURRENTS = ("battery_current", "alternator_current", "alternator_current_2", "ammeter_current")
_WORDS = {
    "bus_voltage": "bus voltage",
    "bus_voltage_2": "second bus voltage",
    "battery_current": "battery current",
    "alternator_current": "alternator current",
    "alternator_current_2": "second alternator's current",
    "ammeter_current": "ammeter",
}


class ReadingFault(Struct, frozen=True):
    """One kind of fault of one channel's readings."""

    kind: str  # "spike", "stuck", "dropout", "offset", "path", "unconnected"
    channel: str  # a role
    from_s: float
    to_s: float
    times: int  # how many readings, or episodes
    value: float | None  # the reading that stands out, or that is stuck, or the offset
    because: str  # why it is no electrical fault
    unsure: bool = False  # whether it may be one all the same, which ``because`` then says
    then_only: bool = False  # whether nothing says that it read wrong before and after as well
    by_stretches: bool = False  # whether only outages in which the voltmeter alone reads low say so

    @property
    def channel_words(self) -> str:
        """The channel's name for a person."""
        return _WORDS[self.channel]


def without_power(trace: Trace) -> Mask:
    """Rows recorded while main power was off or going off: the bus reads (nearly) nothing.

    As power goes off meters show absurd currents for a row or two; those rows are taken in as well.
    """
    dead = trace.bus_voltage < limit_value("bus_dead")
    engine = (
        (trace.oil_pressure, limit_value("oil_pressure_running"))
        if trace.engine_speed is None
        else (trace.engine_speed, limit_value("engine_running_speed"))
    )
    for channel, least in (engine, (trace.airspeed, limit_value("flying_speed"))):
        if channel is not None:  # an engine that runs and an aircraft that flies are not parked
            dead &= ~(hold(channel) >= least)
    dead &= ~in_the_air(trace)
    if not dead.any():
        return dead
    absurd = np.zeros(dead.size, dtype=np.bool_)
    for name in CURRENTS:
        current = getattr(trace, name)
        if current is not None:
            absurd |= np.abs(current) > limit_value("current_absurd")
    return dead | (near(dead, 2) & absurd)


def clean(trace: Trace, limits: Limits, cranking_or_stopped: Mask) -> tuple[Trace, list[ReadingFault]]:
    """Take faulty readings out of a trace (they become NaN) and list what was found.

    Parameters
    ----------
    trace : one flight
    limits : the aircraft's limits
    cranking_or_stopped : rows where the engine does not run by itself; a dip there is the starter
    """
    found: list[ReadingFault] = []
    channels: dict[str, Floats] = {}
    for name in ("bus_voltage", *CURRENTS):
        readings = getattr(trace, name)
        if readings is None or not np.isfinite(readings).any():
            continue
        volts = name == "bus_voltage"
        spike = (
            _voltage_spikes(trace, limits, cranking_or_stopped)
            if volts
            else _current_spikes(readings, trace, limits, cranking_or_stopped)
        )
        found += _spike_fault(name, readings, trace, spike)
        missing, rows = _dropout_faults(name, readings, trace, cranking_or_stopped, limits)
        found += missing
        faulty = spike | rows
        if faulty.any():
            readings = np.where(faulty, np.nan, readings)
        for first, end in _stuck(readings, trace, cranking_or_stopped, volts):
            found.append(_stuck_fault(name, readings, trace, first, end))
            readings = readings.copy()
            readings[first:end] = np.nan
        channels[name] = readings
    return trace.with_channels(**channels), found


def still_ammeters(trace: Trace, running: Mask) -> tuple[Trace, list[ReadingFault]]:
    """Take out the ammeters that show one value all the while, with no voltmeter to say that nothing flows.

    An engine run moves any ammeter that is connected: by the recharge, by loads, or by its own noise.
    """
    found: list[ReadingFault] = []
    channels: dict[str, Floats | None] = {}
    for name in CURRENTS:
        readings = getattr(trace, name)
        if readings is None or not running.any():
            continue
        shown = readings[np.isfinite(readings)]
        lasts = float(trace.seconds[running & np.isfinite(readings)].sum())
        if lasts >= limit_value("still_shortest") and np.ptp(shown) == 0.0:
            because = "it never moves in the whole flight"
            from_s, to_s = float(trace.time[0]), float(trace.time[-1])
            found.append(ReadingFault("stuck", name, from_s, to_s, 1, float(shown[0]), because))
            channels[name] = None
    return trace.with_channels(**channels), found


def _single(candidate: Mask, calm: Mask) -> Mask:
    """Runs of at most two candidate rows with calm readings on both sides."""
    spike = np.zeros(candidate.size, dtype=np.bool_)
    for first, end in runs(candidate):
        inside = first > 0 and end < candidate.size
        if end - first <= 2 and inside and calm[first - 1] and calm[end]:
            spike[first:end] = True
    return spike


def _voltage_spikes(trace: Trace, limits: Limits, excluded: Mask) -> Mask:
    """One or two readings far off, normal before and after, with no answer in the current.

    Upwards any such reading counts that the bus does not ordinarily show (between two sags at idle it may
    come up for one row); downwards only one that a battery on the bus makes impossible, since
    a smaller drop is what a loose connection does. Where no ammeter can answer, a surge of the bus itself looks alike
    as long as it stays below what the overvoltage protection lets pass.
    """
    volts = trace.bus_voltage
    away = volts - running_median(volts, 9)
    far = limits["voltage_spike"]
    perhaps = (np.abs(away) > far) & ~excluded | (volts > limits["voltage_impossible_high"])
    if not perhaps.any():
        return perhaps
    far = max(far, limit_value("voltage_spike_noise") * step_noise(volts))
    calm_within = limit_value("spike_calm") * far
    high = away > far
    if high.any():
        running = volts[~excluded & np.isfinite(volts)]
        ordinary = percentile(running, limit_value("spike_ordinary")) if running.size else np.inf
        high &= volts > ordinary + calm_within
    high |= volts > limits["voltage_impossible_high"]
    if all(getattr(trace, name) is None for name in CURRENTS):
        high &= volts > limits["overvoltage"]
    low = (away < -far) & (volts < limits["voltage_impossible_low"])
    low &= ~_under_a_flat_battery(trace, low, limits)
    spike = _single((high | low) & ~excluded, np.abs(away) < calm_within)
    if spike.any():
        spike &= ~_bus_moves(volts, calm_within)
    spike |= volts > limits["voltage_impossible_high"]
    if not spike.any():
        return spike
    for name in CURRENTS:
        current = getattr(trace, name)
        if current is not None:
            answer = np.abs(current - running_median(current, 9))
            moved = answer > max(limit_value("current_answer"), limit_value("answer_noise") * step_noise(current))
            spike &= ~(moved & (volts < limits["voltage_impossible_high"]))
    return spike


def _under_a_flat_battery(trace: Trace, low: Mask, limits: Limits) -> Mask:
    """Rows among some low ones beside which the bus is as low as a flat battery holds it: any load pulls that down.

    By the lower readings of a minute to both sides: an alternator that idles lifts others of them.
    """
    flat = np.zeros(low.size, dtype=np.bool_)
    beside, part = trace.rows_in(limit_value("spent_window")), 100.0 - limit_value("spent_was_low")
    for first, end in runs(low):
        around = (trace.bus_voltage[max(0, first - beside) : first], trace.bus_voltage[end : end + beside])
        near = finite_of(np.concatenate(around))
        flat[first:end] = near.size > 0 and percentile(near, part) < limits["resting_very_low"]
    return flat


def _bus_moves(volts: Floats, far: float) -> Mask:
    """Rows around which the bus goes from one level to another: a surge that ends in a loss is the bus's own."""
    held = hold(volts)
    before = running_median(np.roll(held, 3), 3)
    after = running_median(np.roll(held, -3), 3)
    return np.asarray(np.abs(after - before) > far)


def _current_spikes(current: Floats, trace: Trace, limits: Limits, excluded: Mask) -> Mask:
    """One or two currents that nothing on board can draw or give, while the voltage does not move."""
    away = current - running_median(current, 9)
    candidate = np.abs(away) > limit_value("current_spike")
    volts_moved = np.abs(trace.bus_voltage - running_median(trace.bus_voltage, 9)) > limits["voltage_answer"]
    candidate &= ~volts_moved
    if not candidate.any():
        return candidate
    beside = near(excluded, trace.rows_in(limit_value("crank_beside")))
    if not (candidate & ~beside).any():
        return np.zeros(candidate.size, dtype=np.bool_)
    candidate &= np.abs(away) > limit_value("current_spike_noise") * step_noise(current)
    calm = np.abs(away) < limit_value("spike_calm") * limit_value("current_spike")
    return _single(candidate, calm) & ~beside


def _spike_fault(name: str, readings: Floats, trace: Trace, spike: Mask) -> list[ReadingFault]:
    rows = np.flatnonzero(spike)
    if not rows.size:
        return []
    around = running_median(readings, 9)[rows]
    worst = rows[int(np.argmax(np.abs(readings[rows] - around)))]
    return [
        ReadingFault(
            "spike",
            name,
            float(trace.time[rows[0]]),
            float(trace.time[rows[-1]]),
            len(runs(spike)),
            float(readings[worst]),
            "the readings before and after it are normal and nothing else on board moves with it",
        )
    ]


def _dropout_faults(
    name: str, readings: Floats, trace: Trace, excluded: Mask, limits: Limits
) -> tuple[list[ReadingFault], Mask]:
    """Stretches where a channel is blank or zero while the engine runs and other channels go on; and their rows.

    A blank must last to be worth a word; a bus at zero with the engine running never is the bus. Neither is a
    fault where the battery was spent just before: then the bus died, and its meters with it. Where only the air data
    go on, which a recorder may have from elsewhere, the channel must come back.
    """
    rows = np.zeros(readings.size, dtype=np.bool_)
    alive = np.zeros(readings.size, dtype=np.bool_)
    for other in ("engine_speed", "oil_pressure", "bus_voltage", *CURRENTS):
        channel = getattr(trace, other)
        if other != name and channel is not None:
            alive |= np.isfinite(channel)
    blank = ~np.isfinite(readings)
    if name == "bus_voltage":
        blank |= readings < limit_value("bus_dead")
    filled = np.flatnonzero(~blank)
    back = int(filled[-1]) if filled.size else 0
    for channel in (trace.airspeed, trace.altitude):
        if channel is not None:
            alive[:back] |= np.isfinite(channel[:back])
    blank &= alive & ~excluded
    if not blank.any():
        return [], rows
    spacing = middle(np.diff(trace.time[filled])) if filled.size > 1 else trace.step_s
    steps = limit_value("dropout_fewest_steps" if spacing > 1.5 * trace.step_s else "dropout_fewest_rows")
    shortest = max(limit_value("dropout_shortest"), steps * spacing)
    found = []
    cranked = near(excluded, trace.rows_in(limit_value("crank_beside")))
    for first, end in runs(blank):
        lasts = trace.time[min(end, readings.size - 1)] - trace.time[first]
        zero = name == "bus_voltage" and bool(np.isfinite(readings[first:end]).all()) and not cranked[first]
        dead = _battery_spent(trace, first, end, limits) or (zero and current_gone_too(trace, first, end))
        if (lasts >= shortest or zero) and not dead:
            found.append((first, end))
    if not found:
        return [], rows
    for first, end in found:
        rows[first:end] = True
    because = "the other channels go on as before"
    from_s, to_s = float(trace.time[found[0][0]]), float(trace.time[min(found[-1][1], readings.size - 1)])
    return [ReadingFault("dropout", name, from_s, to_s, len(found), None, because)], rows


def _battery_spent(trace: Trace, first: int, end: int, limits: Limits) -> bool:
    """Whether the bus reads nothing from row ``first`` to ``end`` and had sunk below an empty battery's just before.

    Over the minute before, or in its last readings, where an alternator that comes and goes lifted it meanwhile. One
    that falls on from a crank had been low before it.
    """
    volts = trace.bus_voltage
    minute = volts[max(0, first - trace.rows_in(limit_value("spent_window"))) : first]
    if (volts[first:end] >= limit_value("bus_dead")).any():
        return False
    few, part = int(limit_value("spent_readings")), limit_value("spent_was_low")
    after = volts[end : end + few]
    if median(after[after >= limit_value("bus_dead")]) < limits["resting_very_low"]:
        return True  # it comes back through volts that a meter's contact steps over
    lowest = min(median(minute), median(minute[-few:]))
    was_low = np.isfinite(minute).any() and percentile(finite_of(minute), part) < limits["resting_low"]
    return bool(median(minute) < limits["resting_very_low"] or (was_low and lowest < limits["resting_very_low"]))


def current_gone_too(trace: Trace, first: int, end: int) -> bool:
    """Whether the ammeters fell silent with the bus from row ``first`` to ``end``, having shown a current before.

    Then the bus itself is gone. A small current that fell by far more than its noise in the same moment says so
    too, that of a settled battery; one that stood at zero before tells nothing, and one that only fades later is
    no answer. One that goes on says that the bus is alive.
    """
    if trace.time[end - 1] - trace.time[first] < limit_value("battery_dead_shortest"):
        return False
    minute = trace.rows_in(limit_value("spent_window"))
    told = False
    for flow in (getattr(trace, name) for name in CURRENTS):
        if flow is None:
            continue
        beside = flow[max(0, first - minute) : first], flow[first + 1 : min(end, first + 1 + minute)]
        moved = abs(median(beside[0]) - median(beside[1]))
        before, after = abs(median(beside[0])), abs(median(beside[1]))
        silent = max(after, abs(median(flow[first:end]))) < limit_value("current_at_rest_clear")
        if before >= limit_value("output_smallest"):
            if not silent:
                return False
            told = True
            continue
        noise = max(step_noise(one) for one in beside)
        least = max(limit_value("current_gone_noise") * noise, 2.0 * resolution(flow))
        told |= silent and moved >= max(least, 0.5 * before)
    return told


def _stuck(readings: Floats, trace: Trace, excluded: Mask, volts: bool) -> list[tuple[int, int]]:
    """Runs of one value so long that the channel's own noise elsewhere in the flight rules them out.

    The chance that n readings in a row repeat is p^n with p the share of repeats elsewhere, and the run
    must outlast every other by far. A coarse meter repeats by nature, in long runs: it is never called
    stuck on that ground. Where the run is most of a flight, the minutes just beside it tell of an ammeter; a bus
    that a regulator holds comes to stand still by itself. An ammeter that rests on zero is a source that gives nothing.
    """
    held = hold(readings)
    usable = np.isfinite(readings) & ~excluded
    same = np.concatenate(([False], np.diff(held) == 0.0)) & usable
    firsts, ends = run_edges(same)
    lasting = np.count_nonzero(trace.time[ends - 1] - trace.time[firsts] >= limit_value("stuck_shortest"))
    if not lasting:
        return []
    lively = volts and _values_a_minute(held, trace) >= limit_value("stuck_values_a_minute")
    longest_first = np.argsort(firsts - ends, kind="stable")[: lasting + 1]
    spans = list(zip(firsts[longest_first].tolist(), ends[longest_first].tolist(), strict=True))
    stuck: list[tuple[int, int]] = []
    outside = usable.copy()
    for place, (first, end) in enumerate(spans):
        if trace.time[end - 1] - trace.time[first] < limit_value("stuck_shortest"):
            break
        if not volts and abs(held[first]) < limit_value("current_at_rest"):
            continue
        if not (lively if volts else _lively_beside(held, trace, usable, (first, end))):
            break
        if not volts and _at_limit(readings, trace, first, end):
            continue
        outside[first:end] = False
        changes = int((outside & ~same).sum())
        if changes < limit_value("stuck_changes_elsewhere"):
            break
        surprise = (end - first) * -np.log1p(-min(0.999, changes / max(1, int(outside.sum()))))
        next_longest = spans[place + 1][1] - spans[place + 1][0] if place + 1 < len(spans) else 1
        if surprise < limit_value("stuck_surprise"):
            break
        if end - first >= limit_value("stuck_outlasts") * next_longest:
            return [(max(0, start - 1), stop) for start, stop in [*stuck, (first, end)]]
        stuck.append((first, end))
    return []


def _at_limit(readings: Floats, trace: Trace, first: int, end: int) -> bool:
    """Whether a current stands still at its highest while the bus climbs: a source that gives all it has does that."""
    highest = median(readings[first:end]) >= limit_value("at_limit_share") * percentile(
        finite_of(readings), limit_value("output_highest")
    )
    third = max(1, (end - first) // 3)
    climbed = median(trace.bus_voltage[end - third : end]) - median(trace.bus_voltage[first : first + third])
    return bool(highest and climbed > limit_value("limit_climb_steps") * trace.voltage_step)


def _values_a_minute(held: Floats, trace: Trace) -> float:
    """How many different values a usual minute of a channel shows; 0 for less than a minute."""
    rows = trace.rows_in(60.0)
    minutes = held[: held.size // rows * rows].reshape(-1, rows)
    different = 1 + np.count_nonzero(np.diff(np.sort(minutes, axis=1), axis=1), axis=1)
    return percentile(different, limit_value("stuck_usual_percentile")) if different.size else 0.0


def _lively_beside(held: Floats, trace: Trace, usable: Mask, span: tuple[int, int]) -> bool:
    """Whether a channel shows several values a minute up to a run of one value and, where recorded, after it."""
    reach = trace.rows_in(limit_value("stuck_beside"))
    first, end = span
    sides = (slice(max(0, first - reach), first), slice(end, end + reach))
    shown = [held[side][usable[side]] for side in sides]
    told = [one for one in shown if one.size >= 0.5 * reach]
    lasts = trace.time[end - 1] - trace.time[first]
    sides_needed = 1 if lasts >= limit_value("still_shortest") else 2  # loads may have gone off for the last minutes
    return len(told) >= sides_needed and all(
        _values_a_minute(one, trace) >= limit_value("stuck_values_a_minute") for one in told
    )


def _stuck_fault(name: str, readings: Floats, trace: Trace, first: int, end: int) -> ReadingFault:
    lasts, inside = float(trace.time[end - 1] - trace.time[first]) / 60.0, readings[first:end]
    return ReadingFault(
        "stuck",
        name,
        float(trace.time[first]),
        float(trace.time[end - 1]),
        1,
        float(inside[np.isfinite(inside)][0]),  # the stretch may begin with rows that lack the reading
        f"it shows one value for {lasts:.0f} min though it moves by {figures(resolution(readings), 2)} "
        "and more elsewhere in the flight",
    )
