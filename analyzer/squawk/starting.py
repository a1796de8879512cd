"""The start: a slow crank, and a battery that was dead or nearly so."""

from __future__ import annotations

import numpy as np

from analyzer.limits import limit_value
from analyzer.review import FlightReview
from analyzer.squawk.sighting import (
    NOT_SEEN,
    Numbers,
    Occasion,
    Sighting,
    not_observable,
    number,
    seen,
    start_air,
)


def slow_crank(review: FlightReview) -> Sighting:
    """Cranking voltage low, time long or many tries for the temperature; one flight by itself.

    A start that passes is given with its rows, since the tail's other starts may yet call it slow
    (``across.across_flights``).
    """
    flight = review.flight
    turned, tries = review.measures["cranking_time"], review.measures["start_attempts"]
    if turned.value is None or turned.low is None or tries.value is None:
        return not_observable(str(turned.because))
    rows = np.flatnonzero(flight.crank)
    numbers = crank_numbers(review)
    weak = [finding for finding in review.findings if finding.name == "weak_cranking"]
    often = tries.value >= limit_value("tries_many")
    long = turned.low > limit_value("squawk_crank_long")
    if weak or often or long:
        says = _crank_words(review)
        says += f". {weak[0].says}" if weak else ": " + ("many tries" if often else "a long crank")
        return seen([Occasion(int(rows[0]), int(rows[-1]) + 1, says, numbers)])
    step = flight.trace.step_s
    if step > limit_value("squawk_crank_sampling"):
        return not_observable(f"one row every {step:.0f} s; a crank of seconds falls between rows", numbers)
    candidate = Occasion(int(rows[0]), int(rows[-1]) + 1, _crank_words(review), numbers)
    return Sighting(NOT_SEEN, _crank_words(review), numbers, (candidate,))


def crank_numbers(review: FlightReview) -> Numbers:
    """Numbers of a start that was recorded."""
    shown = {}
    for name, unit, digits in (("cranking_voltage", "V", 2), ("cranking_time", "s", 1), ("start_attempts", "1", 0)):
        value = review.measures[name].value
        if value is not None:
            shown[name] = number(value, unit, digits)
    air = start_air(review.flight)
    return shown | ({"outside_air_temperature": number(air, "degC")} if np.isfinite(air) else {})


def _crank_words(review: FlightReview) -> str:
    measures = review.measures
    turned, tries = measures["cranking_time"].value or 0.0, measures["start_attempts"].value or 1.0
    says = f"The starter turned for {turned:.0f} s in {tries:.0f} {'try' if tries == 1 else 'tries'}"
    if (lowest := measures["cranking_voltage"].value) is not None:
        upper = " or less" if review.flight.trace.step_s >= limit_value("crank_sampled_well") else ""
        says += f", the bus down to {lowest:.1f} V{upper}"
    air = start_air(review.flight)
    return says + (f", at {air:.0f} degC" if np.isfinite(air) else "")
