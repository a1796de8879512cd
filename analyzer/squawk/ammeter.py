"""The ammeter's symptoms: discharge, a current that stays high, and what it says of a hot battery."""

from __future__ import annotations

import numpy as np

from analyzer.findings.battery import discharge_before
from analyzer.findings.finding import Finding
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import OUTPUT_LIMITED
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.phrases import duration, fixed
from analyzer.review import FlightReview
from analyzer.series import Floats, Mask, drop_short_runs, median, running_median
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import (
    Numbers,
    Occurrence,
    SymptomResult,
    finding_rows,
    not_observable,
    not_seen,
    number,
    seen,
    short_look,
    stretches,
    supposed_rows,
    watched_minutes,
)


def ammeter_discharge(review: FlightReview) -> SymptomResult:
    """Battery ammeter below zero, or alternator ammeter at zero, with the engine running; the bus confirms or not."""
    flight = review.flight
    readings = _readings(flight)
    if isinstance(readings, Reason):
        return not_observable(readings)
    amps, kind = readings
    watched = supposed_rows(flight) & np.isfinite(amps)
    if (short := short_look(flight, watched)) is not None:
        return not_observable(short)
    away = _discharging(flight, amps, kind, watched)
    if away is None:
        usual = median(amps[watched & flight.alternator_online])
        return not_observable(Reason(Unobservable.OUTPUT_TOO_SMALL, {"current": number(usual, "A")}))
    away = _lasting_enough(flight, away)
    occasions = [_discharge(flight, amps, kind, first, end) for first, end in stretches(flight, away)]
    if occasions:
        return seen(occasions, watched)
    least, minutes = float(amps[watched].min()), watched_minutes(flight, watched)
    says = f"{kind} ammeter showed no lasting discharge in {minutes:.0f} min, {fixed(least, 1)} A at the lowest"
    if kind == "unknown":
        return not_observable(Reason(Unobservable.AMMETER_KIND_UNKNOWN, more=says))
    return not_seen(says, {"lowest_current": number(least, "A"), "watched": number(minutes, "min")}, watched)


def _readings(flight: Flight) -> tuple[Floats, str] | Reason:
    """An ammeter's readings and its kind, or why there is none to look at."""
    trace = flight.trace
    if flight.ammeter.charge_at_rest:
        return Reason(Unobservable.AMMETER_CHARGES_AT_REST, {"current": number(flight.ammeter.charge_at_rest, "A")})
    if trace.battery_current is not None:
        return trace.battery_current, "battery"
    if (output := total_output(trace)) is not None:
        return output, "alternator"
    if trace.ammeter_current is not None:
        return trace.ammeter_current, "unknown"
    return Reason(Unobservable.NO_AMMETER)


def _discharging(flight: Flight, amps: Floats, kind: str, watched: Mask) -> Mask | None:
    """Rows in which the ammeter shows it; None where an alternator's usual output is too small to tell."""
    if kind != "alternator":
        return np.asarray(watched & (amps < -limit_value("squawk_discharge")))
    usual = median(amps[watched & flight.alternator_online])
    if usual < limit_value("alternator_load_likely"):
        return None
    return np.asarray(watched & (amps < limit_value("output_smallest")))


def _lasting_enough(flight: Flight, away: Mask) -> Mask:
    """Rows of a discharge that lasts; where the bus shows it too, a shorter one counts."""
    time = flight.trace.time
    shown_by_bus = drop_short_runs(away & ~flight.alternator_online, time, limit_value("outage_shortest"))
    return shown_by_bus | drop_short_runs(away, time, limit_value("squawk_discharge_lasting"))


def _discharge(flight: Flight, amps: Floats, kind: str, first: int, end: int) -> Occurrence:
    trace = flight.trace
    rows = np.arange(first, end)[np.isfinite(amps[first:end])]
    volts, level = median(trace.bus_voltage[first:end]), median(amps[rows])
    span = float(trace.time[end - 1] - trace.time[first]) + trace.step_s
    says = f"{kind.capitalize()} ammeter at {fixed(level, 1)} A for {duration(span)}"
    numbers = {"lowest_current": number(float(amps[rows].min()), "A"), "lasted": number(span, "s", 0)}
    if np.isfinite(volts):
        numbers["bus_voltage"] = number(volts, "V", 2)
        if flight.alternator_online[first:end].mean() < 0.5:
            says += f"; the bus shows it too, at {volts:.1f} V"
        elif span >= limit_value("squawk_high_lasting"):
            says += f"; but the bus was held at {volts:.1f} V: look at the ammeter and its wiring as well"
        else:
            says += f"; too short for the bus to tell, at {volts:.1f} V"
    return Occurrence(first, end, says, numbers)


def ammeter_high(review: FlightReview) -> SymptomResult:
    """Charging current high long after the start, or an alternator near its rating; a high rush at first is none."""
    flight = review.flight
    readings = _readings(flight)
    if isinstance(readings, Reason):
        return not_observable(readings)
    amps, kind = readings
    if kind == "unknown":
        return not_observable(Reason(Unobservable.AMMETER_KIND_UNKNOWN))
    late = late_rows(flight, alternator_online=kind == "battery") & np.isfinite(amps)
    if (short := _too_early(flight, late)) is not None:
        return not_observable(short)
    limit, words = _high_limit(flight, kind)
    level = running_median(amps, flight.trace.rows_in(limit_value("squawk_current_smoothed")))
    shortest = limit_value("squawk_high_lasting")
    high = drop_short_runs(late & (level > limit), flight.trace.time, shortest)
    occasions = [_high(review, level, kind, words, span) for span in stretches(flight, high)]
    if not occasions:
        unsettled = [one for one in review.findings if one.name in ("recharge_never_settles", "slow_recharge")]
        amps_late = {"late_current": number(median(amps[late]), "A")}
        rows = np.flatnonzero(late)
        occasions = [Occurrence(int(rows[0]), int(rows[-1]) + 1, one.says, amps_late) for one in unsettled]
    if occasions:
        return seen(occasions, late)
    most = float(level[late].max())
    says = f"{kind} ammeter at {fixed(most, 1)} A at most from {limit_value('squawk_late'):.0f} min after the "
    says += "alternator came on"
    numbers: Numbers = {"late_current": number(most, "A"), "limit": number(limit, "A")}
    if (peak := review.measures["recharge_peak_current"].value) is not None:
        says += f" ({peak:.0f} A of charge at first)"
        numbers = {**numbers, "recharge_peak_current": number(peak, "A")}
    return not_seen(f"{says}; high is {words}", numbers, late)


def late_rows(flight: Flight, *, alternator_online: bool = True) -> Mask:
    """Rows from some minutes after the alternator came on, or came back after it had been away for a while.

    ``alternator_online`` leaves out those in which it does not carry the bus; an alternator at its limit does not.
    """
    time = flight.trace.time
    if flight.recharge is None:
        return np.zeros(time.size, dtype=np.bool_)
    since = np.full(time.size, flight.recharge.on_s)
    for outage in flight.outages:
        away = float(time[outage.end - 1] - time[outage.first])
        if outage.kind != OUTPUT_LIMITED and away >= limit_value("squawk_high_lasting"):
            since[outage.end :] = time[outage.end - 1]
    late = supposed_rows(flight)
    late &= time - since >= 60.0 * limit_value("squawk_late")
    return late & flight.alternator_online if alternator_online else late


def _too_early(flight: Flight, late: Mask) -> Reason | None:
    if watched_minutes(flight, late) * 60.0 >= limit_value("squawk_shortest_look"):
        return None
    if flight.recharge is None:
        return Reason(Unobservable.NEVER_CHARGED)
    wanted = limit_value("squawk_late")
    if flight.stop_s - flight.recharge.on_s >= 60.0 * wanted:
        return Reason(Unobservable.NEVER_HELD, {"wanted": number(wanted, "min", 0)})
    minutes = (flight.stop_s - flight.recharge.on_s) / 60.0
    return Reason(Unobservable.ENDS_EARLY, {"carried": number(minutes, "min", 0)})


def _high_limit(flight: Flight, kind: str) -> tuple[float, str]:
    """Current above which it is high [A], and the words for it."""
    if kind == "battery":
        limit = limit_value("squawk_high_charge")
        return limit, f"above {limit:.1f} A into the battery"
    share, rating = limit_value("output_hard_share"), flight.limits["alternator_rating"]
    known = "" if "alternator_rating" in flight.limits.overrides else " (assumed)"
    return share * rating, f"above {100 * share:.0f} % of the alternator's {rating:.0f} A{known}"


def _high(review: FlightReview, level: Floats, kind: str, words: str, span_rows: tuple[int, int]) -> Occurrence:
    flight, (first, end) = review.flight, span_rows
    trace = flight.trace
    amps, volts = level[first:end], median(trace.bus_voltage[first:end])
    span = float(trace.time[end - 1] - trace.time[first])
    after = (float(trace.time[first]) - flight.recharge.on_s) / 60.0 if flight.recharge is not None else 0.0
    says = f"{kind.capitalize()} ammeter at {median(amps):.1f} A for {duration(span)}, {words}, "
    says += f"{after:.0f} min after the alternator came on, bus at {volts:.1f} V"
    third = max(1, amps.size // 3)
    early, later = median(amps[:third]), median(amps[-third:])
    if later - early > limit_value("still_falling") * early:
        says += f"; it rose from {early:.1f} to {later:.1f} A"
    says += "; it did not settle" if end >= flight.run.stop - trace.rows_in(limit_value("squawk_high_lasting")) else ""
    drawn = 0.0 if flight.begins_running else discharge_before(flight, dict(review.measures))
    if drawn > flight.limits["slow_explained_by"]:
        says += f"; {drawn:.1f} Ah had been drawn before, which explains a long recharge"
    numbers = {
        "late_current": number(float(amps.max()), "A"),
        "lasted": number(span, "s", 0),
        "bus_voltage": number(volts, "V", 2),
    }
    return Occurrence(first, end, says, numbers)


def battery_heat(review: FlightReview) -> SymptomResult:
    """A battery's heat is never recorded: a high current or voltage late in flight speaks for it, indirectly."""
    flight = review.flight
    current = ammeter_high(review) if flight.ammeter.kind == "battery" else None
    late = late_rows(flight)
    told = [one for one in review.findings if one.name in ("recharge_never_settles", "overvoltage")]
    charging = flight.ammeter.kind == "battery" and not flight.ammeter.charge_at_rest
    flow, volts = flight.trace.battery_current, median(flight.trace.bus_voltage[late])
    amps = float("nan") if flow is None or not charging else median(flow[late])
    numbers = {}
    if np.isfinite(amps):
        numbers["late_current"] = number(amps, "A")
    if np.isfinite(volts):
        numbers["late_voltage"] = number(volts, "V", 2)
    if told:
        return seen([_indirect(flight, one, numbers, late) for one in told])
    indirectly = current.occasions[0].says if current is not None and current.occasions else None
    return not_observable(Reason(Unobservable.BATTERY_HEAT, numbers, more=indirectly), numbers)


def _indirect(flight: Flight, finding: Finding, numbers: Numbers, late: Mask) -> Occurrence:
    """A finding that speaks of a hot battery; an unsettled current's rows are the late ones, not all from the start."""
    says = f"Indirectly, since the battery's temperature is not recorded: {finding.says}"
    rows = np.flatnonzero(late)
    if finding.name != "recharge_never_settles" or not rows.size:
        return Occurrence(*finding_rows(flight, finding), says, numbers)
    settled = {"late_current": number(finding.evidence["settled_a"].value, "A")}
    return Occurrence(int(rows[0]), int(rows[-1]) + 1, says, {**numbers, **settled})
