"""The start: a slow crank, and a battery that was dead or nearly so."""

from __future__ import annotations

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.cranking import tries_seen, tries_words
from analyzer.measures.measure import taken_words
from analyzer.phrases import fixed
from analyzer.review import FlightReview
from analyzer.series import median
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import (
    Numbers,
    Occurrence,
    State,
    SymptomResult,
    not_observable,
    not_seen,
    number,
    seen,
)


def slow_crank(review: FlightReview) -> SymptomResult:
    """Cranking voltage low, time long or many tries for the temperature; one flight by itself.

    A start that passes is given with its rows, since the tail's other starts may yet call it slow
    (``across.across_flights``).
    """
    flight = review.flight
    turned, tries = review.measures["cranking_time"], review.measures["start_attempts"]
    if turned.value is None or turned.low is None:
        return not_observable(Reason(Unobservable.NOT_MEASURED, measure="cranking_time", because=str(turned.because)))
    rows = np.flatnonzero(flight.crank)
    numbers = crank_numbers(review)
    weak = [finding for finding in review.findings if finding.name == "weak_cranking"]
    often = tries_seen(tries) >= limit_value("tries_many")
    long = turned.low > limit_value("squawk_crank_long")
    if weak or often or long:
        sagged = [one for one in weak if not one.signs.get("long_only")]
        says = f"{_turned_words(review)}. {sagged[0].says}" if sagged else _crank_words(review)
        return seen([Occurrence(int(rows[0]), int(rows[-1]) + 1, says, numbers)])
    step = flight.trace.step_s
    if step > limit_value("squawk_crank_sampling"):
        return not_observable(Reason(Unobservable.SLOW_FOR_CRANK, {"step": number(step, "s")}), numbers)
    candidate = Occurrence(int(rows[0]), int(rows[-1]) + 1, _crank_words(review), numbers)
    return SymptomResult(State.NOT_SEEN, _crank_words(review), None, numbers, (candidate,))


def crank_numbers(review: FlightReview) -> Numbers:
    """Numbers of a start that was recorded."""
    shown = {}
    for name, unit, digits in (("cranking_voltage", "V", 2), ("cranking_time", "s", 1), ("start_attempts", "1", 0)):
        value = review.measures[name].value
        if value is not None:
            shown[name] = number(value, unit, digits)
    air = review.flight.air_at_start
    return shown | ({"outside_air_temperature": number(air, "degC")} if np.isfinite(air) else {})


def _turned_words(review: FlightReview) -> str:
    turned = review.measures["cranking_time"].value or 0.0
    return f"The starter turned for {turned:.0f} s in {tries_words(review.measures['start_attempts'])}"


def _crank_words(review: FlightReview) -> str:
    says = _turned_words(review)
    if (lowest := review.measures["cranking_voltage"].value) is not None:
        upper = " or less" if review.flight.trace.step_s >= limit_value("crank_sampled_well") else ""
        says += f", the bus down to {lowest:.1f} V{upper}"
    air = review.flight.air_at_start
    return says + (f", at {fixed(air)} °C" if np.isfinite(air) else "")


def dead_battery(review: FlightReview) -> SymptomResult:
    """A battery low before the start, a start on external power, or a recharge that speaks of an empty battery."""
    flight = review.flight
    numbers = _battery_numbers(review)
    rest = review.measures["resting_voltage"]
    told = [one for one in review.findings if one.name == "low_resting_voltage"]
    if told:
        return seen([Occurrence(0, max(1, flight.first_crank), told[0].says, numbers)])
    if (volts := external_power(review)) is not None:
        says = f"The bus stood at {volts:.1f} V before the first crank, more than a battery gives: external power"
        return seen([Occurrence(0, max(1, flight.first_crank), says, numbers)])
    if (emptied := _emptied(review)) is not None:
        on = flight.alternator_on_row if flight.alternator_on_row is not None else flight.run.start
        end = int(np.searchsorted(flight.trace.time, flight.recharge.settled_s)) if flight.recharge else on + 1
        return seen([Occurrence(on, max(on + 1, end), emptied, numbers)])
    if (sagged := _deep_sag(review)) is not None:
        rows = np.flatnonzero(flight.crank)
        return seen([Occurrence(int(rows[0]), int(rows[-1]) + 1, sagged, numbers)])
    if rest.value is None:
        returned = {name: one for name, one in numbers.items() if name == "recharge_returned"}
        reason = Reason(Unobservable.NOT_MEASURED, returned, measure="resting_voltage", because=str(rest.because))
        return not_observable(reason, numbers)
    charge = review.measures["resting_charge"]
    says = f"the battery rested at {rest.value:.2f} V before the start"
    if charge.value is not None:
        says += f", about {charge.value:.0f} % charged{taken_words(charge)}"
    if (lowest := review.measures["cranking_voltage"].value) is not None:
        says += f", and the bus stayed at {lowest:.1f} V or above while cranking, as far as rows show it"
    return not_seen(says, numbers)


def _battery_numbers(review: FlightReview) -> Numbers:
    wanted = (
        ("resting_voltage", "V", 2),
        ("prestart_discharge", "Ah", 2),
        ("cranking_voltage", "V", 2),
        ("recharge_peak_current", "A", 1),
        ("recharge_returned", "Ah", 2),
    )
    measured = [(name, review.measures[name].value, unit, digits) for name, unit, digits in wanted]
    return {name: number(value, unit, digits) for name, value, unit, digits in measured if value is not None}


def external_power(review: FlightReview) -> float | None:
    """Bus voltage before the first crank when something else than the battery held it [V], else None.

    A battery that gives current by its own ammeter holds the bus itself, whatever its voltage.
    """
    flight = review.flight
    flow = flight.trace.battery_current
    if flow is not None and median(flow[: flight.first_crank]) < -limit_value("current_at_rest"):
        return None
    volts = flight.trace.bus_voltage[: flight.first_crank]
    level = median(volts[-flight.trace.rows_in(limit_value("rest_window")) :])
    return level if level > flight.limits["squawk_external_power"] else None


def _deep_sag(review: FlightReview) -> str | None:
    """Words for a bus that fell while cranking as only a spent battery lets it; None for another start."""
    weak = [one for one in review.findings if one.name == "weak_cranking" and not one.signs.get("long_only")]
    if weak:
        return weak[0].says
    lowest = review.measures["cranking_voltage"].value
    limits = review.flight.limits
    if lowest is None or lowest >= limits["crank_lowest"] - limits["crank_far_below"]:
        return None
    return f"The bus fell to {lowest:.1f} V while the starter turned: the battery was nearly spent by the last try"


def _drawn_in_flight(review: FlightReview) -> float:
    """Charge that the battery gave after the alternator had come on [Ah]: it went back in the same flight."""
    flight = review.flight
    flow = flight.trace.battery_current
    if flow is None or flight.alternator_on_row is None:
        return 0.0
    given = np.minimum(np.nan_to_num(flow[flight.alternator_on_row : flight.run.stop]), 0.0)
    return -float((given * flight.trace.seconds[flight.alternator_on_row : flight.run.stop]).sum()) / 3600.0


def _emptied(review: FlightReview) -> str | None:
    """Words for a recharge that gave back a large share of the capacity; None for an ordinary one."""
    returned = review.measures["recharge_returned"].value
    if returned is None:
        return None
    returned -= _drawn_in_flight(review)
    capacity = review.flight.limits["battery_capacity"]
    share = returned / capacity
    if share < limit_value("squawk_emptied"):
        return None
    return (
        f"{returned:.1f} Ah went back into the battery after the start, {100.0 * share:.0f} % of a capacity of "
        f"{capacity:.0f} Ah: it had been low"
    )
