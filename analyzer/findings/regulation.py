"""Rules on the regulator: set high or low, drifting within a flight, or hunting."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from analyzer import quantity
from analyzer.findings.alternator import drained_stretches
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.alternator_online import shown_current
from analyzer.flights.battery_kind import Chemistry
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import LOW_RPM, OFFLINE, OUTPUT_LIMITED
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.measures.regulation import held_level, minute_means
from analyzer.quantity import Quantity
from analyzer.series import (
    MIDDLE_95,
    TOGETHER,
    Floats,
    Mask,
    fill_short_gaps,
    hold,
    median,
    middle,
    near,
    percentile,
    percentiles,
    readings_in,
    running_median,
    runs,
)


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
    evidence = {
        "regulated_voltage": held.quantity(2),
        "lowest": Quantity(low, "V"),
        "highest": quantity.volts(high),
    }
    words = f"Bus held at {held.value:.2f} V ({held.low:.2f} to {held.high:.2f})"
    if held.low > high:
        over = held.value - high
        severity = Severity.WARNING if over > flight.limits["regulated_far_off"] else Severity.CAUTION
        says = f"{words}, above {high:.1f} V: the battery is overcharged."
        return [Finding(FindingName.REGULATOR_HIGH, severity, from_s, to_s, evidence, says)]
    if held.high < low and not _gives_too_little(flight):
        severity = Severity.WARNING if low - held.value > flight.limits["regulated_far_below"] else Severity.CAUTION
        says = f"{words}, below {low:.1f} V: the battery is never fully charged."
        says += _held_by_lithium(flight, measures, held.value)
        signs = {"ragged": _ragged(measures, flight)}
        flow = flight.trace.battery_current
        if flow is not None and np.isfinite(flow[flight.alternator_online]).any():
            signs["charge_flows"] = median(flow[flight.alternator_online]) > -limit_value("discharge_smallest")
        return [Finding(FindingName.REGULATOR_LOW, severity, from_s, to_s, evidence, says, signs)]
    return []


def _held_by_lithium(flight: Flight, measures: dict[str, Measure], volts: float) -> str:
    """What to look at first where a bus may be held [V] by a lithium battery alone; nothing where it cannot be.

    It rests this high and hardly sinks, so that without an ammeter a lost alternator looks like a low regulator. One
    that rested lower before the start is none; how it rested may not be known.
    """
    rest = measures["resting_voltage"].value
    lower = rest is not None and rest < flight.limits["lithium_resting_low"]
    possible = flight.battery.chemistry is not Chemistry.LEAD_ACID and not lower
    if shown_current(flight.trace) is not None or not possible or volts > flight.limits["lithium_carries"]:
        return ""
    return " A lithium battery can hold that on its own: check first that the alternator was on line."


def _gives_too_little(flight: Flight) -> bool:
    """Whether the alternator is at its limit, or the battery takes all that it has left or gives to the bus as well."""
    limited = any(outage.kind == OUTPUT_LIMITED for outage in flight.outages)
    return limited or _takes_all(flight) or bool(drained_stretches(flight))


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
    if air is None or (settled is not None and settled > flight.limits["maintenance_raised"]):
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
    count; a rise that ends in overvoltage, and an alternator short of output, are left to those rules. Innocent are
    the climb of a bus whose alternator charges a low battery at its limit, and the surface charge that holds the bus
    up for a while after a stop that only the bus shows.
    """
    short = sum(float(flight.trace.seconds[a.first : a.end].sum()) for a in flight.outages if a.kind == OUTPUT_LIMITED)
    if short >= limit_value("short_shortest"):
        return []
    rows = _drift_rows(flight)
    if float(flight.trace.seconds[rows].sum()) < limit_value("drift_shortest"):
        return []
    if np.array_equal(rows, flight.regulated_rows):  # whose minutes were asked for before
        rows = flight.regulated_rows
    time, volts = minute_means(readings_in(flight.trace.time, rows), readings_in(flight.trace.bus_voltage, rows))
    reached = _climbed_into_band(volts, flight)
    time, volts = time[reached:], volts[reached:]
    if time.size < limit_value("drift_fewest_minutes"):
        return []
    smoothed = int(limit_value("drift_smoothed_minutes"))
    level = running_median(volts, smoothed)
    if np.ptp(level) < flight.limits["drift_within_flight"]:
        return []  # as most do: no two of its times are as far apart
    by_air = _moved_by_air(flight, time, volts) + _moved_by_load(flight, time)
    own = running_median(volts - by_air, smoothed)
    first, last = sorted((int(np.argmin(own)), int(np.argmax(own))))
    move, explained = float(level[last] - level[first]), float(by_air[last] - by_air[first])
    unknown = flight.limits["drift_air_unknown"] if _air(flight) is None else 0.0
    limit = flight.limits["drift_within_flight"] + unknown + max(0.0, explained * np.sign(move))
    if move < 0.0 and (_battery_pulls(flight, float(time[last])) or _gives_its_most(flight, time[[first, last]])):
        return []
    if abs(own[last] - own[first]) < flight.limits["drift_within_flight"] or abs(move) < limit:
        return []
    if time[last] - time[first] < limit_value("drift_between"):
        return []
    says_too = _held_by_lithium(flight, measures, float(level[last])) if move < 0.0 else ""
    between = float(time[first]), float(time[last])
    return [_drifted(between, (float(level[first]), float(level[last])), limit, says_too)]


def _drift_rows(flight: Flight) -> Mask:
    """Rows in which the regulator holds the bus and nothing innocent moves it."""
    rows = flight.regulated & ~_overvoltage_rows(flight)
    if flight.trace.engine_speed is None:
        rows &= ~_beside_idling(flight)
    for dip in flight.dips:
        rows[max(0, dip.first - 1) : dip.end + 1] = False
    if flight.run.basis == "bus voltage":  # when the engine stopped is then not known to the minute
        rows &= flight.trace.time < flight.stop_s - limit_value("stop_unsure")
    return rows


def _drifted(between: tuple[float, float], level: tuple[float, float], limit: float, says_too: str) -> Finding:
    """The finding: times [s] and levels [V] of its two ends, and the ``limit`` that the move exceeds [V]."""
    minutes, move = (between[1] - between[0]) / 60.0, level[1] - level[0]
    evidence = {
        "from_voltage": quantity.volts(level[0]),
        "to_voltage": quantity.volts(level[1]),
        "minutes": quantity.minutes(minutes, 1),
        "limit": quantity.volts(limit),
    }
    says = (
        f"Regulated voltage drifted {move:+.2f} V in {minutes:.0f} min, from {level[0]:.2f} to "
        f"{level[1]:.2f} V: more than air temperature explains."
    )
    rises = {"rises": move > 0.0}
    return Finding(FindingName.REGULATOR_DRIFT, Severity.CAUTION, *between, evidence, says + says_too, rises)


def _climbed_into_band(volts: Floats, flight: Flight) -> int:
    """First of some minutes in which the bus has come up to what is held later, where it begins below the band.

    An alternator at its limit charges a low battery at first, and the bus climbs with it.
    """
    if not volts.size or volts[0] >= flight.limits["regulated_low"]:
        return 0
    level = median(volts[volts.size // 2 :])
    if level < flight.limits["regulated_low"]:
        return 0
    return int(np.argmax(volts >= level - 0.5 * flight.limits["held_margin"]))


def _beside_idling(flight: Flight) -> Mask:
    """Rows about each fall of the bus that may be idling: an engine of unknown speed idles between them as well."""
    return _beside_outages(flight, LOW_RPM, limit_value("idle_blind_beside"))


def _beside_outages(flight: Flight, kind: str, around_s: float) -> Mask:
    """Rows of each outage of a kind, with so many seconds to either side."""
    beside = np.zeros(flight.trace.time.size, dtype=np.bool_)
    around = flight.trace.rows_in(around_s)
    for outage in flight.outages:
        if outage.kind == kind:
            beside[max(0, outage.first - around) : outage.end + around] = True
            if kind == OFFLINE:  # while the battery comes back the bus climbs
                away = float(flight.trace.seconds[outage.first : outage.end].sum())
                back = flight.trace.rows_in(min(away, limit_value("recharge_assumed")))
                beside[outage.end : outage.end + back] = True
    return beside


def _overvoltage_rows(flight: Flight) -> Mask:
    """Rows about an overvoltage, and those before each loss of the alternator, in which it may have built up."""
    high = running_median(flight.trace.bus_voltage, 3) > flight.limits["overvoltage"]
    left_out = near(high, flight.trace.rows_in(limit_value("overvoltage_beside")))
    for outage in flight.outages:
        if outage.kind == OFFLINE:
            onset = flight.trace.time[outage.first]
            left_out |= (flight.trace.time > onset - limit_value("slow_rise_window")) & (flight.trace.time <= onset)
    return left_out


def _battery_pulls(flight: Flight, at_s: float) -> bool:
    """Whether the battery takes so much about a time [s] that it pulls the bus down, whatever the regulator holds."""
    flow = flight.trace.battery_current
    if flow is None:
        return False
    beside = 60.0 * limit_value("drift_smoothed_minutes")
    return median(flow[np.abs(flight.trace.time - at_s) <= beside]) > flight.limits["never_settles_far"]


def _gives_its_most(flight: Flight, between: Floats) -> bool:
    """Whether an alternator's output has grown between two times [s] by a battery's worth, to its highest.

    Whatever asks for it then, a battery with a shorted cell or more loads, pulls the bus down from the regulator. So it
    does where the output stays near its highest, not far from what such alternators are rated for.
    """
    output = total_output(flight.trace)
    if output is None or not np.isfinite(output).any():
        return False
    beside = 60.0 * limit_value("drift_smoothed_minutes")
    was, then = (median(output[np.abs(flight.trace.time - at) <= beside]) for at in between)
    shown = output[flight.alternator_online & np.isfinite(output)]
    if not shown.size:
        return False
    most = percentile(shown, limit_value("output_highest"))
    full = then > limit_value("output_full_share") * flight.limits["alternator_rating"]
    grown = then - was > flight.limits["never_settles_far"]
    return then > limit_value("at_limit_share") * most and (grown or full)


def _moved_by_load(flight: Flight, time: Floats) -> Floats:
    """What the bus may fall by with the current at some times [s], through leads and the regulator's droop [V].

    The alternator's output, or what the battery takes of it: a battery that asks for ever more pulls the bus down.
    """
    output = total_output(flight.trace)
    flow = flight.trace.battery_current if output is None else output
    if flow is None or not np.isfinite(flow).any():
        return np.zeros(time.size)
    smooth = running_median(hold(flow), flight.trace.rows_in(60.0 * limit_value("drift_smoothed_minutes")))
    amps = np.interp(time, flight.trace.time, smooth)
    return np.asarray(-(amps - amps.mean()) * flight.limits["drift_droop"] / 1000.0)


def _air(flight: Flight) -> Floats | None:
    """Outside air temperature [degC]; None where hardly any is recorded."""
    air = flight.trace.outside_air_temperature
    return None if air is None or np.isfinite(air).sum() < limit_value("rest_fewest_rows") else air


def _moved_by_air(flight: Flight, time: Floats, volts: Floats) -> Floats:
    """What a compensated regulator's voltage [V] moves by with the air's temperature at some times [s].

    Compensation is one constant for the whole flight, between none and ``temperature_compensation``, so it is
    fitted to all of it: a voltage that moves while the air does not is not explained by air that moves elsewhere.
    """
    air = _air(flight)
    if air is None:
        return np.zeros(time.size)
    smooth = running_median(air, flight.trace.rows_in(limit_value("air_beside")))
    warmer = np.interp(time, flight.trace.time, smooth)
    warmer = warmer - warmer.mean()
    spread = float(warmer @ warmer)
    per_degc = float(warmer @ (volts - volts.mean())) / spread if spread > 0.0 else 0.0
    return np.asarray(np.clip(per_degc, -flight.limits["temperature_compensation"], 0.0) * warmer)


def regulator_hunting(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The regulated voltage swings restlessly or periodically with no load cause.

    Judged minute by minute on the bus about its running median, against a limit and against the quiet
    minutes of the same flight. Drops to one side only are an unsteady connection's.
    """
    trace = flight.trace
    rows = (flight.regulated | _held_in_recharge(flight)) & ~_beside_losses(flight)
    rows &= running_median(trace.bus_voltage, 3) < flight.limits["overvoltage"]  # nothing regulates there
    if float(trace.seconds[rows].sum()) < limit_value("hunting_shortest"):
        return []
    time, volts = trace.time[rows], trace.bus_voltage[rows]
    around = _around(time, volts, trace.rows_in(limit_value("hunting_window")))
    restless = _restless(flight, time, volts, around)
    if restless is None:
        return []
    swinging, step = restless.swinging, trace.voltage_step
    if _toggles(volts[swinging], step) or _one_sided(time, volts, restless, step):
        return []
    first, last = restless.first, restless.last
    if _answers_load(flight, rows, around, first, last):
        return []
    peak_to_peak = _peak_to_peak(volts[swinging], trace.rows_in(limit_value("hunting_window")))
    period = _period(around[slice(*max(runs(swinging), key=lambda span: span[1] - span[0]))], trace.step_s)
    evidence = {
        "swing": quantity.volts(peak_to_peak),
        "scatter": quantity.volts(restless.scatter, 3),
        "limit": quantity.volts(restless.limit, 3),
    }
    words = "irregularly"
    if period is not None:
        evidence["period_s"] = quantity.seconds(period)
        words = f"about every {period:.0f} s"
    says = f"Regulated voltage swung {peak_to_peak:.2f} V {words} for {(time[last] - time[first]) / 60.0:.0f} min"
    says += _beside_the_output(flight, rows, first, last)
    signs = {"periodic": period is not None}
    if trace.battery_current is None and period is None:  # nothing shows that the battery is on the bus
        signs["battery_untold"] = restless.begins_later
    from_s, to_s = float(time[first]), float(time[last])
    return [Finding(FindingName.REGULATOR_HUNTING, Severity.CAUTION, from_s, to_s, evidence, says, signs)]


class _Restless(Struct, frozen=True):
    """Where the held bus swings; rows count those of a held bus."""

    swinging: Mask
    calm: Floats  # readings of the quiet stretches [V]
    scatter: float  # of the restless minutes [V]
    limit: float  # that a sound bus's minutes stay below [V]
    begins_later: bool  # quiet minutes come before

    @property
    def first(self) -> int:
        return int(np.argmax(self.swinging))

    @property
    def last(self) -> int:
        return int(np.flatnonzero(self.swinging)[-1])


def _restless(flight: Flight, time: Floats, volts: Floats, around: Floats) -> _Restless | None:
    """The minutes in which the bus goes to and fro by more than its quiet ones, for long enough; None without."""
    trace = flight.trace
    starts, ends, swing = _swings(
        around, max(int(limit_value("hunting_fewest_rows")), trace.rows_in(limit_value("hunting_stretch")))
    )
    if not swing.size:
        return None
    # a held bus between two steps of a coarse voltmeter toggles, by half a step's standard deviation
    toggling = limit_value("toggling_share") * trace.voltage_step
    limit = float(np.hypot(flight.limits["hunting_scatter"], toggling))
    if not (swing > min(1.0, limit_value("hunting_certain")) * limit).any():
        return None  # as in most flights
    quiet = percentile(swing, limit_value("hunting_quiet"))  # a regulator may hunt for nearly all of a flight
    to_and_fro = _turns(around[: ends[-1]], swing) >= limit_value("hunting_fewest_turns")
    certain = to_and_fro & (swing > limit_value("hunting_certain") * limit)
    restless = certain | (to_and_fro & (swing > max(limit, limit_value("hunting_ratio") * quiet)))
    quiet_ones = ~restless
    restless = fill_short_gaps(restless, time[starts], limit_value("hunting_gap"))
    spans = [
        (a, b)
        for a, b in runs(restless)
        if time[ends[b - 1] - 1] - time[starts[a]]
        >= limit_value("hunting_shortest_certain" if certain[a:b].any() else "hunting_shortest")
    ]
    if not spans:
        return None
    calm = volts[: ends[-1]].reshape(swing.size, -1)[quiet_ones].ravel()
    swinging = np.zeros(time.size, dtype=np.bool_)
    for a, b in spans:
        swinging[starts[a] : ends[b - 1]] = True
    return _Restless(swinging, calm, middle(swing[restless]), limit, begins_later=spans[0][0] > 0)


def _beside_the_output(flight: Flight, rows: Mask, first: int, last: int) -> str:
    """What the alternators' output did meanwhile, in words: it shows the load, and what a moving bus drives to and fro.

    ``first`` and ``last`` count the rows of ``rows``.
    """
    output = total_output(flight.trace)
    amps = np.zeros(0) if output is None else output[rows][first:last]
    amps = amps[np.isfinite(amps)]
    if not amps.size:
        return "; no ammeter shows the load."
    swung = _peak_to_peak(amps, flight.trace.rows_in(limit_value("hunting_window")))
    if swung <= limit_value("load_stands_still"):
        return " with the load steady."
    return f"; alternator output swung {swung:.0f} A as well."


def _peak_to_peak(values: Floats, rows: int) -> float:
    """How far some readings usually swing from end to end within so many rows: their middle 95 %, by the median.

    Not about their running median, which goes to and fro with a swing: with two levels, one beside the other. Of a slow
    log in parts of ``hunting_fewest_rows`` at least: the ends of two or three readings tell no swing.
    """
    rows = max(rows, int(limit_value("hunting_fewest_rows")))
    parts = values[: values.size // rows * rows].reshape(-1, rows) if values.size >= rows else values[None]
    below, above = np.array([percentiles(part, MIDDLE_95) for part in parts]).T
    return middle(above - below)


def _held_in_recharge(flight: Flight) -> Mask:
    """Rows before those of ``regulated`` in which the regulator holds the bus already, at the level of later."""
    trace, level = flight.trace, held_level(flight)
    if flight.recharge is None or not np.isfinite(level):
        return np.zeros(trace.time.size, dtype=np.bool_)
    held = flight.alternator_online & flight.rpm_sufficient & (trace.time >= flight.recharge.origin_s)
    held &= ~flight.regulated & np.isfinite(trace.bus_voltage)
    for outage in flight.outages:
        held[outage.first : outage.end + trace.rows_in(limit_value("spin_up"))] = False
    if not held.any():
        return held
    width = trace.rows_in(limit_value("regulated_lasting"))
    first, last = np.flatnonzero(held)[[0, -1]]
    asked = slice(max(0, first - width), last + 1 + width)  # of most flights a small part
    lasting = running_median(hold(trace.bus_voltage)[asked], width)
    held[asked] &= np.abs(lasting - level) < flight.limits["held_margin"]
    return held


def _toggles(volts: Floats, step: float) -> bool:
    """Whether the bus only goes to and fro between two steps of the voltmeter."""
    below, above = percentiles(volts, MIDDLE_95)
    return bool(above - below < limit_value("toggling_steps") * step)


def _one_sided(time: Floats, volts: Floats, restless: _Restless, step: float) -> bool:
    """Whether the swing reaches down from the bus's level in the calm, and hardly up.

    Up to that level is what the regulator holds; an alternator at its limit lets the bus fall below it with every
    pulse of the loads, and never lets it rise above. The calm is that of the minutes beside the swing, or where it
    stands higher, that of all quiet stretches of the flight. A coarse voltmeter, of some ``step`` [V], shows a level
    between two of its readings by both, so it is their mean.
    """
    beside = np.abs(time - np.clip(time, time[restless.first], time[restless.last])) <= limit_value("calm_beside")
    beside &= ~restless.swinging
    level = np.fmax(_between_steps(volts[beside] if beside.any() else volts, step), _between_steps(restless.calm, step))
    below, above = percentiles(volts[restless.swinging], MIDDLE_95) - level
    return bool(above < limit_value("one_sided") * -below)


def _between_steps(volts: Floats, step: float) -> float:
    """Mean of the readings at their median and one voltmeter's step [V] either side of it; NaN without any."""
    near_it = volts[np.abs(volts - median(volts)) < 1.5 * step]
    return float(near_it.mean()) if near_it.size else median(volts)


def _beside_losses(flight: Flight) -> Mask:
    """The minute before and after each loss of the alternator: the run-up and the return are the loss's."""
    return _beside_outages(flight, OFFLINE, limit_value("loss_beside"))


def _answers_load(flight: Flight, rows: Mask, around: Floats, first: int, last: int) -> bool:
    """Whether the bus falls when the alternator gives more: pulsed loads, not the regulator.

    On a held bus a pulse shows only as far as the regulator's droop lets it; a bus that swings by more than that
    drives the current into and out of the battery, and at some rates of sampling seems to fall as it rises.
    """
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
    ohm = float(around[first:last][both].std() / amps[both].std())
    return correlation < -limit_value("pulses_telling") and ohm < flight.limits["pulses_droop_most"] / 1000.0


def _swings(around: Floats, rows: int) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """First rows, ends and scatter of each stretch of ``rows`` readings, about a minute.

    The scatter is the standard deviation with the lowest and highest twentieth drawn in, one reading at least, so
    that a drop or two do not make a minute restless.
    """
    count = around.size // rows
    stretches = around[: count * rows].reshape(count, rows)
    together = max(1, TOGETHER // rows)
    swing = [_drawn_in_scatter(stretches[first : first + together]) for first in range(0, count, together)]
    starts = np.arange(count, dtype=np.int64) * rows
    return starts, starts + rows, np.concatenate(swing) if swing else np.zeros(0)


def _drawn_in_scatter(stretches: Floats) -> Floats:
    """Standard deviation of each row with its lowest and highest twentieth drawn in."""
    ordered = np.sort(stretches, axis=1)
    rows = ordered.shape[1]
    drawn_in = max(1, rows // 20)
    lowest, highest = ordered[:, [drawn_in]], ordered[:, [rows - 1 - drawn_in]]
    return np.asarray(np.clip(ordered, lowest, highest, out=ordered).std(axis=1))


def _around(time: Floats, volts: Floats, width: int) -> Floats:
    """The bus about its running median over ``width`` rows, which does not reach across what was left out."""
    apart = np.flatnonzero(np.diff(time) > limit_value("hunting_window")) + 1
    parts = np.split(volts, apart)
    return np.concatenate([part - running_median(part, width) for part in parts])


def _turns(around: Floats, swing: Floats) -> NDArray[np.int64]:
    """How often the bus goes from one side of its middle to the other in each stretch, by half its scatter or more.

    The stretches are equally long, and make up all of ``around``.
    """
    inside = around.reshape(swing.size, -1)
    together = max(1, TOGETHER // inside.shape[1])
    places = [slice(first, first + together) for first in range(0, swing.size, together)]
    return np.concatenate([_turns_of_each(inside[some], swing[some]) for some in places])


def _turns_of_each(inside: Floats, swing: Floats) -> NDArray[np.int64]:
    """The same of some stretches, a row each."""
    stretch, place = np.nonzero(np.abs(inside) > 0.5 * swing[:, None])
    above = inside[stretch, place] > 0.0
    turned = (above[1:] != above[:-1]) & (stretch[1:] == stretch[:-1])
    return np.bincount(stretch[1:][turned], minlength=swing.size)


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
