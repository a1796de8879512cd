"""A gauge that jumps, sticks or drops out: the instrument's doing, or a connection's."""

from __future__ import annotations

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.flights.reading_faults import CURRENTS, ReadingFault
from analyzer.limits import limit_value
from analyzer.phrases import duration, figures, fixed
from analyzer.review import FlightReview
from analyzer.series import (
    Floats,
    Mask,
    fill_short_gaps,
    hold,
    median,
    near,
    resolution,
    robust_sigma,
    running_median,
    runs,
)
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import (
    Numbers,
    Occurrence,
    SymptomResult,
    not_observable,
    not_seen,
    number,
    of_finding,
    seen,
    short_look,
    stretches,
    supposed_rows,
    watched_minutes,
)

#: Longest jump that stands out of the readings around it [rows].
_JUMP_ROWS = 4
#: Kinds of reading faults that a pilot sees as a gauge that jumps, sticks or drops out.
_JUMPING = ("spike", "stuck", "dropout")


def gauge_jumps(review: FlightReview) -> SymptomResult:
    """Readings that jump, stick or vanish: without an answer elsewhere the instrument, with one a connection."""
    flight = review.flight
    volts = flight.trace.bus_voltage
    rows = supposed_rows(flight)
    occasions = [one for fault in flight.reading_faults if fault.kind in _JUMPING for one in _fault(flight, fault)]
    for finding in review.findings:
        if finding.name == "unsteady_connection":
            depth = finding.evidence.get("depth")
            numbers = {} if depth is None else {"largest_step": number(depth.value, "V", 2)}
            occasions.append(of_finding(flight, finding, numbers))
    watched = rows & np.isfinite(volts)
    swinging = any(one.name in ("unsteady_connection", "regulator_hunting") for one in review.findings)
    away = volts - running_median(volts, 2 * _JUMP_ROWS + 1)
    if not swinging:
        occasions += _single_jumps(flight, away, watched)
    if occasions:
        return seen(sorted(occasions, key=lambda one: one.first), watched)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    step = flight.trace.step_s
    if step > limit_value("squawk_slow_sampling"):
        return not_observable(Reason(Unobservable.SLOW_FOR_JUMP, {"step": number(step, "s")}))
    steady = watched & _online_about(flight) & flight.rpm_sufficient
    largest = float(np.abs(away[steady]).max()) if steady.any() else 0.0
    says = f"engine fast enough and alternator on line, no reading was over {largest:.1f} V from its neighbours in "
    says += f"{watched_minutes(flight, watched):.0f} min, and none dropped out{_perhaps_stuck(flight, watched)}"
    return not_seen(says, {"largest_step": number(largest, "V", 2)}, watched)


def _perhaps_stuck(flight: Flight, watched: Mask) -> str:
    """A word of warning where a coarse meter showed one value for so long that it may have been stuck."""
    volts = flight.trace.bus_voltage
    same = np.concatenate(([False], np.diff(volts) == 0.0)) & watched
    longest = max((float(flight.trace.seconds[first:end].sum()) for first, end in runs(same)), default=0.0)
    if longest < 60.0 * limit_value("squawk_one_value"):
        return " or stuck"
    return f"; the bus showed one value for {longest / 60.0:.0f} min, as a steady bus or a stuck gauge would"


def _fault(flight: Flight, fault: ReadingFault) -> list[Occurrence]:
    """Where a channel's readings were taken out as faulty."""
    channel: Floats | None = getattr(flight.trace, fault.channel)
    time = flight.trace.time
    inside = (time >= fault.from_s - 1e-6) & (time <= fault.to_s + 1e-6)
    gone = inside & ~np.isfinite(channel) if channel is not None else inside
    said, where = {"spike": ("jumped", "to"), "stuck": ("stuck", "at"), "dropout": ("dropped out", "at")}[fault.kind]
    reading = "" if fault.value is None else f" {where} {figures(fault.value)} {_unit(fault.channel)}"
    says = f"The {fault.channel_words} {said}{reading}; {fault.because}: the instrument or its wiring"
    numbers: Numbers = {} if fault.value is None else {"reading": number(fault.value, _unit(fault.channel), 2)}
    spans = stretches(flight, gone) or [tuple(np.flatnonzero(inside)[[0, -1]] + [0, 1])] if inside.any() else []
    return [Occurrence(int(first), int(end), says, numbers) for first, end in spans]


def _unit(channel: str) -> str:
    return "V" if "voltage" in channel else "A"


def _single_jumps(flight: Flight, away: Floats, watched: Mask) -> list[Occurrence]:
    """Rows far off a steady bus, out and back at once, at cruise speed and away from any outage of the alternator."""
    calm = watched & _online_about(flight) & flight.rpm_sufficient
    edges = np.zeros(calm.size, dtype=np.bool_)
    for outage in flight.outages:
        edges[outage.first : outage.end] = True
    calm &= ~near(edges, flight.trace.rows_in(limit_value("spin_up")))
    calm &= _steady_speed(flight)
    jumps = _out_and_back(flight, calm & (np.abs(np.nan_to_num(away)) > flight.limits["connection_drop"]))
    return [_jump(flight, away, jumps, first, end) for first, end in stretches(flight, jumps)]


def _online_about(flight: Flight) -> Mask:
    """Rows in which the alternator carries the bus, and jumps of the bus between such rows."""
    return fill_short_gaps(flight.alternator_online, flight.trace.time, (_JUMP_ROWS + 1.5) * flight.trace.step_s)


def _out_and_back(flight: Flight, far: Mask) -> Mask:
    """Runs of rows that begin and end with a step of the size of a jump; a bus that slides there is no jump."""
    volts, least = flight.trace.bus_voltage, flight.limits["connection_drop"]
    kept = np.zeros(far.size, dtype=np.bool_)
    for first, end in runs(far):
        if first > 0 and end < far.size and min(np.abs(volts[[first, end]] - volts[[first - 1, end - 1]])) > least:
            kept[first:end] = True
    return kept


def _jump(flight: Flight, away: Floats, jumps: Mask, first: int, end: int) -> Occurrence:
    inside = np.zeros(jumps.size, dtype=np.bool_)
    inside[first:end] = jumps[first:end]
    spans = runs(inside)
    depth, longest = float(np.abs(away[inside]).max()), max(b - a for a, b in spans)
    times = "" if len(spans) == 1 else f" {len(spans)} times"
    rows = "one row" if longest == 1 else f"{'' if len(spans) == 1 else 'up to '}{longest} rows"
    lasted = duration(longest * flight.trace.step_s)
    down = float(np.median(away[inside])) < 0.0
    says = f"The bus voltage jumped by {depth:.1f} V{times} for {rows} ({lasted}); {_answer(flight, inside, down)}"
    return Occurrence(first, end, says, {"largest_step": number(depth, "V", 2)})


def _steady_speed(flight: Flight) -> Mask:
    """Rows about which the engine speed does not move; a throttle that opens or closes moves the bus."""
    speed = flight.trace.engine_speed
    if speed is None:
        return np.ones(flight.trace.time.size, dtype=np.bool_)
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    held, width = hold(speed), max(3, flight.trace.rows_in(limit_value("steady_speed_window")))
    return np.asarray(maximum_filter1d(held, width) - minimum_filter1d(held, width) < limit_value("steady_speed_swing"))


def _answer(flight: Flight, jumped: Mask, down: bool) -> str:
    """What a current did in the rows in which the voltage jumped, in words; the clearest current is asked."""
    reach = flight.trace.rows_in(limit_value("squawk_beside"))
    beside = near(jumped, reach) & ~near(jumped, 1)
    told = []
    for name in CURRENTS:
        current = getattr(flight.trace, name)
        if current is not None and np.isfinite(current[jumped]).any() and np.isfinite(current[beside]).sum() > 1:
            usual = current[beside & np.isfinite(current)]
            wander = limit_value("squawk_answer_apart") * max(robust_sigma(usual), resolution(current))
            wander = max(wander, limit_value("squawk_answer_least"))
            told.append((name, median(current[jumped]) - median(usual), wander, median(usual)))
    if not told:
        return "no ammeter shows whether it was the bus or only the gauge"
    name, moved, wander, usual = max(told, key=lambda one: abs(one[1]) / one[2])
    if abs(moved) <= wander:
        if abs(usual) <= wander:
            unsteady = f"the ammeter, at {fixed(usual, 1)} A and unsteady by {wander:.1f} A"
            return f"{unsteady}, cannot tell the bus from the gauge"
        return f"the ammeter did not move with it by more than {wander:.1f} A: the gauge or its wiring"
    if down and moved > 0.0 and name.startswith("alternator"):
        return f"the alternator gave {moved:.1f} A more: a heavy load rather than the gauge"
    return f"the ammeter moved with it by {moved:+.1f} A: a connection or a heavy load rather than the gauge"
