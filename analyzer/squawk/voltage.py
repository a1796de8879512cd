"""The voltage's symptoms: too high, and restless."""

from __future__ import annotations

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.phrases import duration
from analyzer.review import FlightReview
from analyzer.series import Floats, Mask, drop_short_runs, median, running_median
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import (
    Occurrence,
    SymptomResult,
    finding_rows,
    meter_doubt,
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

#: Findings that by themselves say that the voltage was high.
_HIGH = ("overvoltage", "regulator_high")


def voltage_high(review: FlightReview) -> SymptomResult:
    """Bus above the regulated band for a while, or above the overvoltage limit at all."""
    flight = review.flight
    volts = flight.trace.bus_voltage
    watched = flight.running & np.isfinite(volts)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    if (doubt := meter_doubt(flight)) is not None and doubt.kind != Unobservable.VOLTMETER_BEHIND_RESISTANCE:
        return not_observable(doubt)
    band = band_top(flight)
    lasting_level = running_median(volts, flight.trace.rows_in(limit_value("squawk_voltage_smoothed")))
    occasions = _too_high(flight, volts, lasting_level, watched, band)
    for finding in review.findings:
        first, end = finding_rows(flight, finding)
        told = any(one.first < end and first < one.end for one in occasions)
        if not told and finding.signs.get("voltage_rose_before"):
            occasions.append(_before_a_trip(volts, finding, first, end))
        elif not told and finding.name in _HIGH and np.isfinite(volts[first:end]).any():
            most = float(np.nanmax(volts[first:end]))
            occasions.append(of_finding(flight, finding, {"highest_voltage": number(most, "V", 2)}))
    if occasions:
        return seen(sorted(occasions, key=lambda one: one.first), watched)
    most, minutes = float(lasting_level[watched].max()), watched_minutes(flight, watched)
    says = f"highest lasting bus {most:.1f} V over {minutes:.0f} min, band up to {band:.1f} V"
    numbers = {"highest_voltage": number(most, "V", 2), "band_up_to": number(band, "V", 2)}
    return not_seen(f"{says}; a surge between two rows is not seen", numbers, watched)


def band_top(flight: Flight) -> float:
    """Highest voltage that a sound regulator holds in this air [V]; a compensated one holds more in the cold."""
    air = flight.air_at_start
    colder = max(0.0, limit_value("compensation_from") - air) if np.isfinite(air) else 0.0
    more = min(flight.limits["compensation_most"], flight.limits["temperature_compensation"] * colder)
    return flight.limits["regulated_high"] + more


def _too_high(flight: Flight, volts: Floats, level: Floats, watched: Mask, band: float) -> list[Occurrence]:
    above = watched & (level > band + flight.limits["squawk_high_margin"])
    above = drop_short_runs(above, flight.trace.time, limit_value("squawk_voltage_lasting"))
    over = watched & (np.nan_to_num(volts) > flight.limits["overvoltage"])
    return [_high(flight, volts, band, first, end) for first, end in stretches(flight, above | over)]


def _high(flight: Flight, volts: Floats, band: float, first: int, end: int) -> Occurrence:
    trace = flight.trace
    inside = volts[first:end]
    span, most = float(trace.time[end - 1] - trace.time[first]) + trace.step_s, float(np.nanmax(inside))
    kind = "lasting" if span >= limit_value("squawk_voltage_lasting") else "transient"
    says = f"Bus at {median(inside):.1f} V, up to {most:.1f} V, for {duration(span)} ({kind}); "
    says += f"the band ends at {band:.1f} V"
    if most > flight.limits["overvoltage"]:
        says += f", overvoltage begins at {flight.limits['overvoltage']:.1f} V"
    numbers = {
        "highest_voltage": number(most, "V", 2),
        "band_up_to": number(band, "V", 2),
        "lasted": number(span, "s", 0),
    }
    return Occurrence(first, end, says, numbers)


def _before_a_trip(volts: Floats, finding: Finding, first: int, end: int) -> Occurrence:
    """The rise of moments before the alternator left the bus."""
    peak = first + int(np.argmax(np.nan_to_num(volts[first:end])))
    told = finding.evidence.get("peak_voltage")
    most = float(np.nanmax(volts[first:end])) if told is None else told.value
    return Occurrence(first, peak + 1, f"{finding.says} (transient)", {"highest_voltage": number(most, "V", 2)})


def noise_or_pulsing(review: FlightReview) -> SymptomResult:
    """The bus hunts or is restless. Only a slow pulsing can show; ``document`` says so of noise."""
    flight = review.flight
    watched = supposed_rows(flight) & np.isfinite(flight.trace.bus_voltage)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    scatter = review.measures["regulation_scatter"]
    told = [one for one in review.findings if one.name in ("regulator_hunting", "unsteady_connection")]
    numbers = {} if scatter.value is None else {"scatter": number(scatter.value, "V", 3)}
    if told:
        return seen([of_finding(flight, finding, numbers) for finding in told], watched)
    step = flight.trace.step_s
    if step > limit_value("squawk_slow_sampling"):
        return not_observable(Reason(Unobservable.SLOW_FOR_PULSING, {"step": number(step, "s")}), numbers)
    if scatter.value is None:
        return not_observable(
            Reason(Unobservable.NOT_MEASURED, measure="regulation_scatter", because=str(scatter.because))
        )
    says = f"the settled bus was restless by {scatter.value:.2f} V (one standard deviation) and did not hunt"
    return not_seen(says, numbers, watched)
