"""Rules on the regulator: set high or low, drifting within a flight, or hunting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.findings.alternator import drained
from analyzer.findings.finding import Finding
from analyzer.flights.carrying import OFFLINE, SHORT
from analyzer.flights.flight import Flight
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.measures.regulation import minute_means
from analyzer.series import MIDDLE_95, Floats, Mask, fill_short_gaps, median, near, running_median, runs


def regulator_level(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """regulator_high and regulator_low: the whole interval of the regulated voltage lies outside the band.

    In cold air a temperature-compensated regulator may hold more, and that is allowed for. An alternator at
    its limit holds less, which is no matter of the regulator.
    """
    held = measures["regulated_voltage"]
    if held.value is None or held.low is None or held.high is None:
        return []
    rows = np.flatnonzero(flight.regulated)
    from_s, to_s = float(flight.trace.time[rows[0]]), float(flight.trace.time[rows[-1]])
    low, high = (
        flight.limits["regulated_low"],
        flight.limits["regulated_high"] + _cold_allowance(flight, measures),
    )
    evidence = {"regulated_voltage": round(held.value, 2), "lowest": low, "highest": round(high, 2)}
    words = f"The regulator held the bus at {held.value:.2f} V ({held.low:.2f} to {held.high:.2f} V)"
    if held.low > high:
        over = held.value - high
        severity = "warning" if over > flight.limits["regulated_far_off"] else "caution"
        says = f"{words}, above the band's {high:.1f} V: it overcharges the battery."
        return [Finding("regulator_high", severity, from_s, to_s, evidence, says)]
    short = any(absence.kind == SHORT for absence in flight.absences) or _takes_all(flight) or drained(flight).any()
    if held.high < low and not short:
        severity = "warning" if low - held.value > flight.limits["regulated_far_below"] else "caution"
        says = f"{words}, below the band's {low:.1f} V: the battery is never brought to full charge."
        signs = {"ragged": _ragged(measures, flight)}
        flow = flight.trace.battery_current
        if flow is not None and np.isfinite(flow[flight.carries]).any():
            signs["charge_flows"] = median(flow[flight.carries]) > -limit_value("discharge_smallest")
        return [Finding("regulator_low", severity, from_s, to_s, evidence, says, signs)]
    return []


def _takes_all(flight: Flight) -> bool:
    """Whether the battery takes a high current at a low voltage: what the alternator gives is all there is."""
    flow = flight.trace.battery_current
    return flow is not None and median(flow[flight.regulated]) > flight.limits["never_settles"]


def _cold_allowance(flight: Flight, measures: dict[str, Measure]) -> float:
    """How much more a compensated regulator may hold in this air [V].

    Compensation follows what the cold battery takes; where the battery still takes a raised current once it
    has settled, the voltage is too high for it whatever the air.
    """
    air = flight.trace.outside_air_temperature
    settled = measures["maintenance_current"].low
    if air is None or (settled is not None and settled > limit_value("maintenance_raised")):
        return 0.0
    ground = median(air[: flight.takeoff])  # the engine compartment is nearer to that than to the air aloft
    colder = max(0.0, limit_value("compensation_from") - (ground if np.isfinite(ground) else median(air)))
    return min(flight.limits["compensation_most"], flight.limits["temperature_compensation"] * colder)


def _ragged(measures: dict[str, Measure], flight: Flight) -> bool:
    scatter = measures["regulation_scatter"].value
    return scatter is not None and scatter > flight.limits["hunting_scatter"]


def regulator_drift(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The regulated voltage moves within the flight by more than outside temperature explains.

    Compared are five-minute medians of the minutes' means, so that steps of seconds, idling and loads do not
    count; a rise that ends in overvoltage, and an alternator short of output, are left to those rules. Innocent is
    the surface charge that holds the bus up for a while after a stop that only the bus shows.
    """
    short = sum(float(flight.trace.seconds[a.first : a.end].sum()) for a in flight.absences if a.kind == SHORT)
    if short >= limit_value("short_shortest"):
        return []
    rows = flight.regulated & ~_overvoltage_rows(flight)
    if flight.run.basis == "bus voltage":  # when the engine stopped is then not known to the minute
        rows &= flight.trace.time < flight.stop_s - limit_value("stop_unsure")
    if float(flight.trace.seconds[rows].sum()) < limit_value("drift_shortest"):
        return []
    time, volts = minute_means(flight.trace.time[rows], flight.trace.bus_voltage[rows])
    if time.size < limit_value("drift_fewest_minutes"):
        return []
    level = running_median(volts, int(limit_value("drift_smoothed_minutes")))
    lowest, highest = int(np.argmin(level)), int(np.argmax(level))
    move = float(level[highest] - level[lowest]) * (1.0 if highest > lowest else -1.0)
    first, last = sorted((lowest, highest))
    explained = _explained_by_air(flight, time[first], time[last], move)
    limit = flight.limits["drift_within_flight"] + explained
    if abs(move) < limit or time[last] - time[first] < limit_value("drift_between"):
        return []
    minutes = (time[last] - time[first]) / 60.0
    evidence = {
        "from_voltage": round(float(level[first]), 2),
        "to_voltage": round(float(level[last]), 2),
        "minutes": round(float(minutes), 1),
        "limit": round(limit, 2),
    }
    says = (
        f"The regulated voltage moved by {move:+.2f} V within {minutes:.0f} min, from {level[first]:.2f} V to "
        f"{level[last]:.2f} V, more than outside temperature explains."
    )
    severity = "caution"
    return [
        Finding(
            "regulator_drift",
            severity,
            float(time[first]),
            float(time[last]),
            evidence,
            says,
            {"rises": move > 0.0},
        )
    ]


def _overvoltage_rows(flight: Flight) -> Mask:
    """Rows about an overvoltage, and those before each loss of the alternator, in which it may have built up."""
    high = running_median(flight.trace.bus_voltage, 3) > flight.limits["overvoltage"]
    left_out = near(high, flight.trace.rows_in(limit_value("overvoltage_beside")))
    for absence in flight.absences:
        if absence.kind == OFFLINE:
            onset = flight.trace.time[absence.first]
            left_out |= (flight.trace.time > onset - limit_value("slow_rise_window")) & (flight.trace.time <= onset)
    return left_out


def _explained_by_air(flight: Flight, first_s: float, last_s: float, move: float) -> float:
    """How far a compensated regulator moves for the change of the air's temperature, if that way round [V]."""
    air = flight.trace.outside_air_temperature
    if air is None:
        return 0.0
    time = flight.trace.time
    before = median(air[np.abs(time - first_s) < limit_value("air_beside")])
    after = median(air[np.abs(time - last_s) < limit_value("air_beside")])
    change = -flight.limits["temperature_compensation"] * (after - before)
    return abs(change) if np.isfinite(change) and change * move > 0.0 else 0.0


def regulator_hunting(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The regulated voltage swings restlessly or periodically with no load cause.

    Judged minute by minute on the bus about its running median, against a limit and against the quiet
    minutes of the same flight. Drops to one side only are an unsteady connection's.
    """
    trace = flight.trace
    rows = flight.regulated & ~_beside_losses(flight)
    rows &= running_median(trace.bus_voltage, 3) < flight.limits["overvoltage"]  # nothing regulates there
    if float(trace.seconds[rows].sum()) < limit_value("hunting_shortest"):
        return []
    time, volts = trace.time[rows], trace.bus_voltage[rows]
    around = volts - running_median(volts, trace.rows_in(limit_value("hunting_window")))
    starts, ends, swing = _swings(
        around, max(int(limit_value("hunting_fewest_rows")), trace.rows_in(limit_value("hunting_stretch")))
    )
    if not swing.size:
        return []
    quiet = float(np.percentile(swing, limit_value("hunting_quiet")))  # a regulator may hunt for nearly all of a flight
    # a held bus between two steps of a coarse voltmeter toggles, by half a step's standard deviation
    toggling = limit_value("toggling_share") * trace.voltage_step
    limit = float(np.hypot(flight.limits["hunting_scatter"], toggling))
    restless = swing > max(limit, limit_value("hunting_ratio") * quiet)
    restless |= swing > limit_value("hunting_certain") * limit
    restless = fill_short_gaps(restless, time[starts], limit_value("hunting_gap"))
    spans = [
        (a, b) for a, b in runs(restless) if time[ends[b - 1] - 1] - time[starts[a]] >= limit_value("hunting_shortest")
    ]
    if not spans:
        return []
    first, last = int(starts[spans[0][0]]), int(ends[spans[-1][1] - 1]) - 1
    size = float(np.median(swing[restless]))
    if _toggles(volts[first:last], trace.voltage_step) or _one_sided(time, volts, first, last):
        return []
    if _answers_load(flight, rows, around, first, last):
        return []
    below, above = np.percentile(around[first:last], MIDDLE_95)
    peak_to_peak = float(above - below)
    period = _period(around[first:last], trace.step_s)
    evidence = {"swing": round(peak_to_peak, 2), "scatter": round(size, 3), "limit": round(limit, 3)}
    words = "restlessly"
    if period is not None:
        evidence["period_s"] = round(period, 1)
        words = f"about every {period:.0f} s"
    says = (
        f"The regulated voltage swung by {peak_to_peak:.2f} V {words} for {(time[last] - time[first]) / 60.0:.0f} min"
    )
    says += " while the load stood still." if total_output(trace) is not None else "; no ammeter shows the load."
    signs = {"periodic": period is not None}
    return [Finding("regulator_hunting", "caution", float(time[first]), float(time[last]), evidence, says, signs)]


def _toggles(volts: Floats, step: float) -> bool:
    """Whether the bus only goes to and fro between two steps of the voltmeter."""
    below, above = np.percentile(volts, MIDDLE_95)
    return bool(above - below < limit_value("toggling_steps") * step)


def _one_sided(time: Floats, volts: Floats, first: int, last: int) -> bool:
    """Whether the swing reaches down from the bus's level in the calm beside it, and hardly up."""
    beside = np.abs(time - np.clip(time, time[first], time[last])) <= limit_value("calm_beside")
    beside[first:last] = False
    level = median(volts[beside]) if beside.any() else median(volts)
    below, above = np.percentile(volts[first:last], MIDDLE_95) - level
    return bool(above < limit_value("one_sided") * -below)


def _beside_losses(flight: Flight) -> Mask:
    """The minute before and after each loss of the alternator: the run-up and the return are the loss's."""
    beside = np.zeros(flight.trace.time.size, dtype=np.bool_)
    minute = flight.trace.rows_in(limit_value("loss_beside"))
    for absence in flight.absences:
        if absence.kind == OFFLINE:
            beside[max(0, absence.first - minute) : absence.end + minute] = True
    return beside


def _answers_load(flight: Flight, rows: Mask, around: Floats, first: int, last: int) -> bool:
    """Whether the bus falls when the alternator gives more: pulsed loads, not the regulator."""
    output = total_output(flight.trace)
    if output is None:
        return False
    amps = output[rows][first:last]
    amps = amps - running_median(amps, flight.trace.rows_in(limit_value("hunting_window")))
    both = np.isfinite(amps)
    if (
        both.sum() < limit_value("pulses_fewest_rows")
        or amps[both].std() == 0.0
        or around[first:last][both].std() == 0.0
    ):
        return False
    correlation = float(np.corrcoef(amps[both], around[first:last][both])[0, 1])
    return correlation < -limit_value("pulses_telling")


def _swings(around: Floats, rows: int) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """First rows, ends and scatter of each stretch of ``rows`` readings, about a minute.

    The scatter is the standard deviation with the lowest and highest twentieth drawn in, so that a drop or two
    do not make a minute restless.
    """
    count = around.size // rows
    ordered = np.sort(around[: count * rows].reshape(count, rows), axis=1)
    low, high = rows // 20, rows - 1 - rows // 20
    swing = np.clip(ordered, ordered[:, [low]], ordered[:, [high]]).std(axis=1) if count else np.zeros(0)
    starts = np.arange(count, dtype=np.int64) * rows
    return starts, starts + rows, swing


def _period(values: Floats, step_s: float) -> float | None:
    """Period of a swing [s] from the highest peak of its spectrum, None when no peak stands out."""
    if values.size < limit_value("periodic_fewest_rows"):
        return None
    power = np.abs(np.fft.rfft(values - values.mean())) ** 2
    power[0] = 0.0
    best = int(np.argmax(power))
    width = limit_value("periodic_width")
    beside = power[int((1.0 - width) * best) : int((1.0 + width) * best) + 2].sum()
    if beside < limit_value("periodic_share") * power.sum():
        return None
    return float(values.size * step_s / best)
