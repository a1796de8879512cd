"""One flight looked through for some symptoms: small, and ready to be sent from one process to another."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from analyzer.findings.causes import weigh_causes
from analyzer.findings.finding import Cause
from analyzer.findings.signs import flight_signs
from analyzer.flights.flight import Flight
from analyzer.review import FlightReview
from analyzer.squawk import ammeter, charging, gauges, starting, voltage
from analyzer.squawk.conditions import (
    exposure,
    low_rpm_below,
    masks,
    occasion_conditions,
    occasion_within,
    of_flight,
)
from analyzer.squawk.known import Symptom, load_symptoms
from analyzer.squawk.sighting import Occasion, Sighting, State, numbers_document

#: Looks for one symptom in one flight.
Look = Callable[[FlightReview], Sighting]
LOOKS: dict[str, Look] = {
    "charging_light": charging.charging_light,
    "ammeter_discharge": ammeter.ammeter_discharge,
    "ammeter_high": ammeter.ammeter_high,
    "breaker_opened": charging.breaker_opened,
    "slow_crank": starting.slow_crank,
    "dead_battery": starting.dead_battery,
    "noise_or_pulsing": voltage.noise_or_pulsing,
    "voltage_high": voltage.voltage_high,
    "battery_heat": ammeter.battery_heat,
    "gauge_jumps": gauges.gauge_jumps,
}


@dataclass(frozen=True, slots=True)
class OccasionEvidence:
    """One occasion by the document, and the conditions that it lies in."""

    document: dict[str, Any]
    within: Mapping[str, float]  # condition -> part of its time that lies in it [1]


@dataclass(frozen=True, slots=True)
class SymptomEvidence:
    """One symptom in one flight."""

    state: str
    says: str
    numbers: Mapping[str, dict[str, Any]]
    occasions: tuple[OccasionEvidence, ...]
    exposure: Mapping[str, tuple[float, float]]  # condition -> seconds in it and in all, watched
    watched_h: float
    likely: tuple[Cause, ...]
    check: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FlightEvidence:
    """One flight, looked through."""

    ref: Mapping[str, Any]  # id, source, number, start
    start: str | None
    end: str | None
    hours: float
    nominal_voltage: int | None
    band: tuple[float, float]  # of the regulated voltage, the aircraft's own where it is known [V]
    own_band: bool  # whether the fleet file tells it
    conditions: Mapping[str, bool]  # of the whole flight
    low_rpm_below: float | None
    findings: tuple[dict[str, Any], ...]  # finding, severity, says
    symptoms: Mapping[str, SymptomEvidence]


def examine(ref: Mapping[str, Any], review: FlightReview, symptoms: Sequence[str]) -> FlightEvidence:
    """Look through one flight.

    Parameters
    ----------
    ref : ``{"id", "source", "number", "start"}`` of the flight
    review : the flight, measured and judged
    symptoms : names of ``SYMPTOMS``
    """
    flight = review.flight
    known = load_symptoms()
    running_s = max(0.0, flight.stop_s - float(flight.trace.time[flight.run.start]))
    return FlightEvidence(
        ref=dict(ref),
        start=flight.clock(flight.from_s),
        end=flight.clock(flight.to_s),
        hours=running_s / 3600.0,
        nominal_voltage=flight.nominal_voltage,
        band=(flight.limits["regulated_low"], flight.limits["regulated_high"]),
        own_band="regulated_low" in flight.limits.overrides,
        conditions=of_flight(flight),
        low_rpm_below=low_rpm_below(flight),
        findings=tuple({"finding": one.name, "severity": one.severity, "says": one.says} for one in review.findings),
        symptoms={name: _symptom(ref, review, known[name], LOOKS[name](review)) for name in symptoms},
    )


def _symptom(ref: Mapping[str, Any], review: FlightReview, symptom: Symptom, sighting: Sighting) -> SymptomEvidence:
    flight = review.flight
    found = masks(flight)
    occasions = tuple(
        OccasionEvidence(_occasion(ref, flight, one), occasion_within(flight, found, one)) for one in sighting.occasions
    )
    likely, check = _causes(review, symptom, occasions) if sighting.state == State.SEEN else ((), ())
    watched = sighting.watched
    hours = 0.0 if watched is None else float(flight.trace.seconds[watched].sum()) / 3600.0
    return SymptomEvidence(
        sighting.state,
        sighting.says,
        numbers_document(sighting.numbers),
        occasions,
        exposure(flight, found, watched),
        hours,
        likely,
        check,
    )


def _occasion(ref: Mapping[str, Any], flight: Flight, occasion: Occasion) -> dict[str, Any]:
    trace = flight.trace
    from_s, to_s = float(trace.time[occasion.first]), float(trace.time[max(occasion.first, occasion.end - 1)])
    return {
        "flight": dict(ref),
        "from_s": from_s,
        "to_s": to_s,
        "at": flight.clock(from_s),
        "says": occasion.says,
        "numbers": numbers_document(occasion.numbers),
        "conditions": occasion_conditions(flight, occasion),
    }


def _causes(
    review: FlightReview, symptom: Symptom, occasions: tuple[OccasionEvidence, ...]
) -> tuple[tuple[Cause, ...], tuple[str, ...]]:
    """Causes of the flight's findings that are about the symptom; without any, those of the symptom itself."""
    about = [finding for finding in review.findings if finding.name in symptom.findings and finding.likely]
    if about and not symptom.own_causes:
        share = 1.0 / len(about)
        likely = [replace(one, weight=share * one.weight) for finding in about for one in finding.likely]
        return tuple(likely), tuple(check for finding in about for check in finding.check)
    signs = flight_signs(review.flight, review.measures, list(review.findings))
    for finding in about:
        signs |= finding.signs
    at_low_rpm = [one.within["low_rpm"] for one in occasions if "low_rpm" in one.within]
    if at_low_rpm:
        signs["only_at_low_rpm"] = min(at_low_rpm) > 0.5
    return weigh_causes(symptom.causes_of, signs)
