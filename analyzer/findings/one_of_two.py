"""The rule on aircraft with two alternators: one is lost while the other holds the bus."""

from __future__ import annotations

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.series import Floats, Mask, drop_short_runs, fill_short_gaps, median, running_median, runs


def one_of_two(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """alternator_offline for an alternator that gives nothing while its twin carries the bus.

    Innocent: a standby alternator, which rests until the main one fails; one that has given nothing through
    the whole flight is an advisory for that reason. A loss of both is another rule's.
    """
    trace = flight.trace
    first, second = trace.alternator_current, trace.alternator_current_2
    if first is None or second is None:
        return []
    return [
        finding
        for number, (own, other) in enumerate(((first, second), (second, first)), 1)
        for finding in _losses(flight, number, own, other)
    ]


def _losses(flight: Flight, number: int, own: Floats, other: Floats) -> list[Finding]:
    trace, least = flight.trace, limit_value("output_smallest")
    silent = running_median(own, 5) < limit_value("output_silent")
    alone = flight.fast & flight.carries & silent & (running_median(other, 5) > least)
    alone = fill_short_gaps(alone, trace.time, limit_value("losses_apart"))
    alone = drop_short_runs(alone, trace.time, limit_value("one_alone_shortest"))
    spans = runs(alone)
    ever = bool((flight.fast & (own > least)).any())
    return [_finding(flight, number, own, span, len(spans), ever) for span in spans[: None if ever else 1]]


def _finding(flight: Flight, number: int, own: Floats, span: tuple[int, int], times: int, ever: bool) -> Finding:
    trace = flight.trace
    first, end = span
    from_s, to_s = float(trace.time[first]), float(trace.time[end - 1])
    minutes = (to_s - from_s) / 60.0
    after = _gives(own, flight.fast, slice(end, end + trace.rows_in(limit_value("one_alone_beside"))))
    before = _gives(own, flight.fast, slice(max(0, first - trace.rows_in(limit_value("one_alone_beside"))), first))
    evidence = {"alternator": float(number), "duration_min": round(minutes, 2), "times": float(times)}
    held = "the other one held the bus"
    held += f" at {median(trace.bus_voltage[first:end]):.1f} V" if flight.voltmeter.tells else ""
    says = f"Alternator {number} gave nothing for {minutes:.0f} min with the engine fast enough, while {held}."
    if not ever:
        says += " It gave nothing in the whole flight: a standby alternator rests like this, one of a pair does not."
    signs = {
        "voltage_rose_before": False,
        "restored": after,
        "repeated": times > 1,
        "never_on": not ever,
        "from_the_start": not before,
    }
    if after:
        signs["back_soon"] = minutes <= limit_value("reset_longest")
    return Finding("alternator_offline", "caution" if ever else "advisory", from_s, to_s, evidence, says, signs)


def _gives(own: Floats, fast: Mask, rows: slice) -> bool:
    """Whether the alternator gives something in most of the rows with the engine fast enough."""
    output = own[rows][fast[rows]]
    return output.size > 0 and bool(np.nan_to_num(median(output)) > limit_value("output_smallest"))
