"""A gauge that jumps, sticks or drops out: the instrument's doing, or a connection's."""

from __future__ import annotations

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.flights.reading_faults import CURRENTS, ReadingFault
from analyzer.limits import limit_value
from analyzer.review import FlightReview
from analyzer.series import Floats, Mask, near, running_median, runs
from analyzer.squawk.sighting import (
    Numbers,
    Occasion,
    Sighting,
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

#: Kinds of reading faults that a pilot sees as a gauge that jumps, sticks or drops out.
_JUMPING = ("spike", "stuck", "dropout")


def gauge_jumps(review: FlightReview) -> Sighting:
    """Readings that jump, stick or vanish: without an answer elsewhere the instrument, with one a connection."""
    flight = review.flight
    volts = flight.trace.bus_voltage
    rows = supposed_rows(flight)
    occasions = [one for fault in flight.reading_faults if fault.kind in _JUMPING for one in _fault(flight, fault)]
    for finding in review.findings:
        if finding.name == "unsteady_connection":
            numbers = {"largest_step": number(finding.evidence.get("depth", 0.0), "V", 2)}
            occasions.append(of_finding(flight, finding, numbers))
    watched = rows & np.isfinite(volts)
    swinging = any(one.name in ("unsteady_connection", "regulator_hunting") for one in review.findings)
    away = volts - running_median(volts, 9)
    if not swinging:
        occasions += _single_jumps(flight, away, watched)
    if occasions:
        return seen(sorted(occasions, key=lambda one: one.first), watched)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    step = flight.trace.step_s
    if step > limit_value("squawk_slow_sampling"):
        return not_observable(f"one row every {step:.0f} s misses a jump of a moment; none was recorded")
    steady = watched & flight.carries & flight.fast
    largest = float(np.abs(away[steady]).max()) if steady.any() else 0.0
    says = f"at carried, fast-turning engine no reading stood more than {largest:.1f} V off its neighbours in "
    says += f"{watched_minutes(flight, watched):.0f} min, and none dropped out{_perhaps_stuck(flight, watched)}"
    return not_seen(says, {"largest_step": number(largest, "V", 2)}, watched)


def _perhaps_stuck(flight: Flight, watched: Mask) -> str:
    """A word of warning where a coarse meter showed one value for so long that it may have been stuck."""
    volts = flight.trace.bus_voltage
    same = np.concatenate(([False], np.diff(volts) == 0.0)) & watched
    longest = max((float(flight.trace.seconds[first:end].sum()) for first, end in runs(same)), default=0.0)
    if longest < 60.0 * limit_value("squawk_one_value"):
        return " or stuck"
    return f"; the bus showed one value for {longest / 60.0:.0f} min, as a steady bus does and a stuck gauge as well"


def _fault(flight: Flight, fault: ReadingFault) -> list[Occasion]:
    """Where a channel's readings were taken out as faulty."""
    channel: Floats | None = getattr(flight.trace, fault.channel)
    time = flight.trace.time
    inside = (time >= fault.from_s - 1e-6) & (time <= fault.to_s + 1e-6)
    gone = inside & ~np.isfinite(channel) if channel is not None else inside
    reading = "" if fault.value is None else f" at {fault.value:.4g} {'V' if 'voltage' in fault.channel else 'A'}"
    said = {"spike": "jumped", "stuck": "stuck", "dropout": "dropped out"}[fault.kind]
    says = f"The {fault.channel_words} {said}{reading}; {fault.because}: the instrument or its wiring"
    numbers: Numbers = {} if fault.value is None else {"reading": (round(fault.value, 2), _unit(fault.channel))}
    spans = stretches(flight, gone) or [tuple(np.flatnonzero(inside)[[0, -1]] + [0, 1])] if inside.any() else []
    return [Occasion(int(first), int(end), says, numbers) for first, end in spans]


def _unit(channel: str) -> str:
    return "V" if "voltage" in channel else "A"


def _single_jumps(flight: Flight, away: Floats, watched: Mask) -> list[Occasion]:
    """One or two rows far off a steady bus, at cruise speed and away from any absence of the alternator."""
    calm = watched & flight.carries & flight.fast
    edges = np.zeros(calm.size, dtype=np.bool_)
    for absence in flight.absences:
        edges[absence.first : absence.end] = True
    calm &= ~near(edges, flight.trace.rows_in(limit_value("spin_up")))
    jumps = calm & (np.abs(np.nan_to_num(away)) > flight.limits["connection_drop"])
    found = []
    for first, end in stretches(flight, jumps):
        depth = float(np.nanmax(np.abs(away[first:end])))
        answered = _answered(flight, first, end)
        says = f"The bus voltage jumped by {depth:.1f} V for {len(runs(jumps[first:end]))} moment(s); "
        says += {
            True: "the current answered: a connection or a heavy load rather than the gauge",
            False: "the current did not answer: the gauge or its wiring",
            None: "no ammeter tells whether it was the bus or only the gauge",
        }[answered]
        found.append(Occasion(first, end, says, {"largest_step": number(depth, "V", 2)}))
    return found


def _answered(flight: Flight, first: int, end: int) -> bool | None:
    """Whether a current moved with the voltage; None without an ammeter."""
    around = slice(max(0, first - 1), end + 1)
    moves = [
        np.nanmax(np.abs(current - running_median(current, 9))[around])
        for name in CURRENTS
        if (current := getattr(flight.trace, name)) is not None and np.isfinite(current[around]).any()
    ]
    return bool(max(moves) > limit_value("connection_answer")) if moves else None
