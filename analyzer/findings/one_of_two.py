"""The rule on aircraft with two alternators: one is lost while the other holds the bus, and its load moves there."""

from __future__ import annotations

import numpy as np

from analyzer import quantity
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import LATE_START, OFFLINE
from analyzer.flights.trace import Trace
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.phrases import fixed
from analyzer.series import Floats, Mask, drop_short_runs, fill_short_gaps, median, percentile, running_median, runs


def one_of_two(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """alternator_offline for an alternator that gives nothing while its twin carries the bus.

    Innocent: a standby alternator, which rests until the main one fails; one that has given nothing through
    the whole flight is an advisory for that reason; one whose own engine stands still or idles; a second column
    where the fleet file says that there is one alternator. A loss of both is another rule's, and so is one that
    comes back a little later than its twin. Where the fleet file says that there are two and one ammeter is
    recorded, a held bus tells that the other one gives.
    """
    trace = flight.trace
    first, second = trace.alternator_current, trace.alternator_current_2
    if first is None or flight.aircraft.alternators == 1:
        return []
    if second is None:
        by_bus = flight.aircraft.alternators == 2 and flight.voltmeter.tells
        return _losses(flight, 1, first, None) if by_bus else []
    return [
        finding
        for number, (own, other) in enumerate(((first, second), (second, first)), 1)
        for finding in _losses(flight, number, own, other)
    ]


def _own_rpm_sufficient(flight: Flight, number: int) -> Mask:
    """Rows in which the alternator's own engine is fast enough for it; one engine turns both where it is alone."""
    trace = flight.trace
    own = trace.engine_speed_1 if number == 1 else trace.engine_speed_2
    if trace.engine_speed is None or trace.engine_speed_1 is None or own is None:
        return flight.rpm_sufficient
    turning = trace.engine_speed[flight.running & np.isfinite(trace.engine_speed)]
    high = percentile(turning, limit_value("high_speed_percentile")) if turning.size else 0.0
    floor = max(limit_value("fast_share") * high, limit_value("fast_lowest"))
    rpm_sufficient = flight.rpm_sufficient & (running_median(own, 3) >= floor)
    for first, end in runs(~rpm_sufficient):  # it needs moments after its engine has sped up
        rpm_sufficient[first : end + trace.rows_in(limit_value("spin_up"))] = False
    return rpm_sufficient


def _with_both_lost(flight: Flight, span: tuple[int, int]) -> bool:
    """Whether a loss of one only begins or ends a loss of both: the pilot resets one after the other."""
    time = flight.trace.time
    first, last = float(time[span[0]]), float(time[span[1] - 1])
    for outage in flight.outages:
        lost, back = float(time[outage.first]), float(time[outage.end - 1])
        touching = first - back < limit_value("losses_apart") and lost - last < limit_value("losses_apart")
        soon = last - first < max(back - lost, limit_value("one_alone_beside"))
        if outage.kind in (OFFLINE, LATE_START) and touching and soon:
            return True
    return False


def _losses(flight: Flight, number: int, own: Floats, other: Floats | None) -> list[Finding]:
    """Losses of one alternator; ``other`` is None where no ammeter shows what the other one gives."""
    trace, least = flight.trace, limit_value("output_smallest")
    silent = running_median(own, 5) < limit_value("output_silent")
    rpm_sufficient = _own_rpm_sufficient(flight, number)
    alone = rpm_sufficient & flight.alternator_online & silent
    if other is not None:
        alone &= running_median(other, 5) > least
    alone = fill_short_gaps(alone, trace.time, limit_value("losses_apart"))
    alone = drop_short_runs(alone, trace.time, limit_value("one_alone_shortest"))
    spans = [span for span in runs(alone) if not _with_both_lost(flight, span)]
    ever = bool((rpm_sufficient & (own > least)).any())
    if other is None and not ever:
        return []  # an ammeter that shows nothing in the whole flight may as well be off
    outputs = (own, other)
    return [_finding(flight, number, outputs, span, len(spans), ever) for span in spans[: None if ever else 1]]


def _finding(
    flight: Flight, number: int, outputs: tuple[Floats, Floats | None], span: tuple[int, int], times: int, ever: bool
) -> Finding:
    trace, own = flight.trace, outputs[0]
    first, end = span
    from_s, to_s = float(trace.time[first]), float(trace.time[end - 1])
    minutes = (to_s - from_s) / 60.0
    after = _gives(own, flight.rpm_sufficient, slice(end, end + trace.rows_in(limit_value("one_alone_beside"))))
    before = _gives(
        own, flight.rpm_sufficient, slice(max(0, first - trace.rows_in(limit_value("one_alone_beside"))), first)
    )
    evidence = {
        "alternator": quantity.count(number),
        "duration_min": quantity.minutes(minutes),
        "times": quantity.count(times),
    }
    held = "the other held the bus"
    held += f" at {median(trace.bus_voltage[first:end]):.1f} V" if flight.voltmeter.tells else ""
    says = f"Alternator {number} gave no output for {minutes:.0f} min with the engine fast enough; {held}."
    moved = _moved_load(trace, outputs, span) if ever else None
    if moved is not None:
        own_before, other_before, other_then = moved
        evidence |= {
            "output_before_a": quantity.amperes(own_before),
            "other_before_a": quantity.amperes(other_before),
            "other_then_a": quantity.amperes(other_then),
        }
        says += f" Its {fixed(own_before)} A moved to the other: {fixed(other_before)} A to {other_then:.0f} A."
    if not ever:
        says += " No output in the whole flight: normal for a standby alternator, not for one of a pair."
    signs = {
        "one_of_two": True,
        "voltage_rose_before": False,
        "restored": after,
        "repeated": times > 1,
        "never_on": not ever,
        "from_the_start": not before,
    }
    if after:
        signs["back_soon"] = minutes <= limit_value("reset_longest")
    return Finding(
        FindingName.ALTERNATOR_OFFLINE,
        Severity.CAUTION if ever else Severity.ADVISORY,
        from_s,
        to_s,
        evidence,
        says,
        signs,
    )


def _moved_load(
    trace: Trace, outputs: tuple[Floats, Floats | None], span: tuple[int, int]
) -> tuple[float, float, float] | None:
    """What the alternator gave before it was lost, and the other one before and then [A]; None where none moved."""
    own, other = outputs
    if other is None:
        return None
    beside = trace.rows_in(limit_value("output_before"))
    before = slice(max(0, span[0] - beside), max(1, span[0] - 2))
    then = slice(span[0] + 2, min(span[1], span[0] + 2 + beside))
    amps = median(own[before]), median(other[before]), median(other[then])
    rises = amps[2] - amps[1] > limit_value("moved_load_share") * amps[0] and amps[0] > limit_value("output_smallest")
    return (round(amps[0], 1), round(amps[1], 1), round(amps[2], 1)) if rises else None


def _gives(own: Floats, rpm_sufficient: Mask, rows: slice) -> bool:
    """Whether the alternator gives something in most of the rows with the engine fast enough."""
    output = own[rows][rpm_sufficient[rows]]
    return output.size > 0 and bool(np.nan_to_num(median(output)) > limit_value("output_smallest"))
