"""Rules on the battery: how it comes back from the start, what it settles at, how it rests and cranks."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from analyzer import quantity
from analyzer.aircraft import Source
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.battery_kind import Chemistry, charging_cliff
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import OUTPUT_LIMITED, VOLTMETER_ONLY
from analyzer.flights.recharge import Recharge, total_output
from analyzer.limits import Limits, limit_value
from analyzer.measures.cranking import tries_seen, tries_words
from analyzer.measures.measure import Measure, taken_words
from analyzer.measures.recharge import plain_interval
from analyzer.measures.regulation import held_level
from analyzer.phrases import fixed
from analyzer.quantity import Quantity
from analyzer.series import Floats, median, running_median, runs


def slow_recharge(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """Charging current after start decays too slowly, and the discharge before it does not explain it.

    Innocent: a long wait with radios on, many cranks, a battery that was low to begin with (that is its own
    finding), cold, an alternator at its limit, a regulator that holds too little, idling or losses of the alternator
    that draw on the battery again and again before it has come back. A current that never settles is another finding,
    and one that settles in time is none however it got there.
    """
    if flight.battery.is_lithium:
        return _slow_lithium(flight)
    if flight.recharge is None or flight.battery.chemistry is Chemistry.NOT_PLAIN:
        return []
    settled = measures["maintenance_current"]
    if measures["recharge_time_constant"].value is None and (settled.low or 0.0) >= flight.limits["never_settles"]:
        return []  # what was not seen to settle is then the other finding's
    for seen in (_time_constant(flight, measures), _plain_time_constant(flight, flight.recharge)):
        if seen is None or seen.value <= limit_value("slow_time_constant"):  # whatever else a flight's may be longer by
            continue
        slow = _decay_and_limit(flight, flight.recharge, measures, seen)
        if slow.longer_than_sound and not _explained(flight, flight.recharge, measures, slow):
            return [_slow_finding(flight, flight.recharge, measures, slow)]
    return []


class _Seen(Struct, frozen=True):
    """A time constant as the flight shows it."""

    value: float  # [min]
    low: float  # its lower end [min]
    says: str  # both, in words
    plain: bool = False  # by a stretch between outages and loads alone


class _Slow(Struct, frozen=True):
    """A decay of the charging current beside what a sound battery's may be."""

    value: float  # time constant [min]
    low: float  # its lower end [min]
    says: str  # both, in words
    limit: float  # longest of a sound battery as cold, drawn on and interrupted as this [min]
    sure: float  # the lower end must lie above this [min]
    before_ah: float  # drawn before the alternator took the bus
    meanwhile_ah: float  # drawn since

    @property
    def longer_than_sound(self) -> bool:
        return self.value > self.limit and self.low > self.sure


def _decay_and_limit(flight: Flight, recharge: Recharge, measures: dict[str, Measure], seen: _Seen) -> _Slow:
    before = 0.0 if flight.begins_running else discharge_before(flight, measures)
    meanwhile = _discharge_meanwhile(flight, recharge, measures)
    held = _share_held(flight, recharge, plain=seen.plain)
    doubles = flight.limits["slow_drawn_doubles"]
    colder = float(np.exp(limit_value("slow_for_cold") * _colder(flight)))  # less than 1 in the warm
    deeper = 1.0 + max(0.0, before - flight.limits["start_draws"]) / doubles
    # idling counts once: as the time in which nothing came back, or as what was drawn in it
    interrupted = max(1.0 + meanwhile / doubles, 1.0 / held if held > 0.0 else np.inf)
    longer = max(1.0, colder * deeper) * interrupted
    # an alternator's ammeter shows loads as well, and where no air is recorded the cold is only assumed
    clear = flight.ammeter.kind == "battery" and not flight.begins_running and np.isfinite(flight.air_at_start)
    return _Slow(
        seen.value,
        seen.low,
        seen.says,
        limit=limit_value("slow_time_constant") * longer,
        sure=limit_value("slow_for_sure" if clear else "slow_time_constant") * longer,
        before_ah=before,
        meanwhile_ah=meanwhile,
    )


def _explained(flight: Flight, recharge: Recharge, measures: dict[str, Measure], slow: _Slow) -> bool:
    """Whether something innocent makes a recharge slow."""
    rest = measures["resting_voltage"].value
    if rest is not None and rest < flight.limits["resting_low"]:
        return True
    bus = measures["regulated_voltage"].high
    if bus is not None and bus < flight.limits["regulated_low"]:
        return True  # any battery comes back slowly on so little
    if any(outage.kind == OUTPUT_LIMITED for outage in flight.outages):
        return True
    if flight.begins_running and _put_back(measures) > flight.limits["unseen_discharge"]:
        return True  # what goes in had come out before
    settling = measures["recharge_settling_time"].value
    return settling is not None and settling < limit_value("slow_settling")


def _slow_finding(flight: Flight, recharge: Recharge, measures: dict[str, Measure], slow: _Slow) -> Finding:
    settling, settled, unseen = (
        measures["recharge_settling_time"],
        measures["maintenance_current"].value,
        flight.begins_running,
    )
    evidence = {
        "time_constant_min": quantity.minutes(slow.value),
        "low": quantity.minutes(slow.low),
        "limit": quantity.minutes(slow.limit),
    }
    evidence |= {} if unseen else {"drawn_before_ah": quantity.ampere_hours(slow.before_ah)}
    evidence["drawn_meanwhile_ah"] = quantity.ampere_hours(slow.meanwhile_ah)
    if settling.value is not None:
        evidence["settling_min"] = settling.quantity(1)
        says = f"Charging current took {settling.value:.0f} min to settle ({slow.says})"
    else:
        says = f"Charging current falls too slowly: {slow.says}"
    if measures["recharge_returned"].value is not None:
        evidence["returned_ah"] = measures["recharge_returned"].quantity(2)
    if unseen:
        says += "; the log begins after the start, so charge drawn before is not known and may explain it."
    else:
        drawn = slow.before_ah + slow.meanwhile_ah
        had = f"only about {drawn:.1f} Ah" if drawn >= 0.05 else "less than 0.1 Ah"
        says += f"; {had} had been drawn, too little to explain it"
        if slow.limit > limit_value("slow_time_constant"):
            says += ": as cold, drawn on and interrupted as this, "
            says += f"a sound one's time constant is up to {slow.limit:.1f} min"
        says += "."
    signs = {} if settled is None else {"settled_high": settled > flight.limits["maintenance_raised"]}
    blind = not flight.voltmeter.tells and flight.trace.engine_speed is None
    if blind:
        says += " Neither voltage nor rpm shows whether the alternator was at its limit."
    severity = Severity.CAUTION if slow.low > slow.limit and not unseen and not blind else Severity.ADVISORY
    from_s, to_s = recharge.on_s, max(recharge.on_s, recharge.settled_s)
    return Finding(FindingName.SLOW_RECHARGE, severity, from_s, to_s, evidence, says, signs)


def _share_held(flight: Flight, recharge: Recharge, *, plain: bool) -> float:
    """Share of the recharge's time in which the bus was held: the alternator not away, too slow or at its limit.

    While it is not held the recharge stands still.
    ``plain``: of a stretch that was fitted by itself, only that.
    """
    trace = flight.trace
    from_s = max(recharge.knee_s, recharge.plain_s) if plain else recharge.knee_s
    during = (trace.time >= from_s) & (trace.time < max(recharge.settled_s, recharge.knee_s + 1.0))
    away = np.zeros(trace.time.size, dtype=np.bool_)
    for outage in flight.outages:
        if outage.kind != VOLTMETER_ONLY:
            away[outage.first : outage.end] = True
    level = held_level(flight)
    away |= trace.bus_voltage < level - flight.limits["held_margin"]
    whole = float(trace.seconds[during].sum())
    return 1.0 - float(trace.seconds[during & away].sum()) / whole if whole > 0.0 else 1.0


def _put_back(measures: dict[str, Measure]) -> float:
    """Charge that was surely put back [Ah]."""
    returned = measures["recharge_returned"]
    return max(returned.low or 0.0, returned.at_least or 0.0)


def _slow_lithium(flight: Flight) -> list[Finding]:
    """slow_recharge of a battery that the fleet file calls lithium: its current ends in a taper, not in a cliff.

    One that only looks like lithium is not judged.
    """
    if flight.battery.chemistry is not Chemistry.LITHIUM or flight.alternator_on_row is None:
        return []
    cliff = charging_cliff(flight.trace, flight.alternator_on_row, flight.alternator_online, flight.limits)
    limit = limit_value("lithium_fall_longest")
    if cliff is None or cliff.fall_s / 60.0 <= limit:
        return []
    evidence = {
        "fall_min": quantity.minutes(cliff.fall_s / 60.0, 1),
        "limit": Quantity(limit, "min"),
        "height_a": quantity.amperes(cliff.height_a),
    }
    says = (
        f"Charging current took {cliff.fall_s / 60.0:.0f} min to fall from {cliff.height_a:.0f} A at the end of the "
        f"recharge; a sound lithium battery stops charging within minutes."
    )
    return [Finding(FindingName.SLOW_RECHARGE, Severity.ADVISORY, cliff.on_s, cliff.gone_s, evidence, says)]


def _time_constant(flight: Flight, measures: dict[str, Measure]) -> _Seen | None:
    """Time constant of the recharge, with the words for it.

    Where a decay had not settled when the log or the window ended, or the readings leave open how long it is, the
    least that it can have been.
    """
    tau = measures["recharge_time_constant"]
    if tau.value is not None and tau.low is not None:
        says = f"time constant {tau.value:.1f} min, {tau.low:.1f} to {tau.high:.1f}"
        return _Seen(tau.value, tau.low, says)
    least = tau.at_least
    unsettled = flight.recharge is not None and flight.recharge.unsettled
    if least is None or (flight.begins_running and not unsettled):
        return None  # too little is left of a decay that began before the log
    loads = flight.ammeter.kind != "battery" and not unsettled  # load steps may stand in for a decay
    sure = least / limit_value("slow_loads_margin") if loads else least
    says = f"time constant at least {least:.0f} min{', not settled when last seen' if unsettled else ''}"
    return _Seen(least, sure, says)


def _plain_time_constant(flight: Flight, recharge: Recharge) -> _Seen | None:
    """Time constant of the longest stretch between outages and loads, None where none shows one plainly."""
    if recharge.plain is None:
        return None
    low, high = (end / 60.0 for end in plain_interval(flight, recharge.plain))
    value = recharge.plain.tau / 60.0
    words = f"time constant {value:.1f} min, {low:.1f} to {high:.1f}, while no load was switched"
    return _Seen(value, low, words, plain=True)


def _colder(flight: Flight) -> float:
    """Degrees below the reference at the start [degC], negative in the warm; unrecorded, it may have been cold."""
    start = flight.air_at_start
    return limit_value("slow_reference") - (start if np.isfinite(start) else limit_value("slow_air_unknown"))


def discharge_before(flight: Flight, measures: dict[str, Measure]) -> float:
    """Charge taken out before the alternator took the bus [Ah]: waiting, cranking, running without it.

    Where no battery ammeter shows it, or one that is off at zero by an unknown amount, the wait is taken at the load
    of a lit panel.
    """
    shown = measures["prestart_discharge"].value
    trace = flight.trace
    waited = float(trace.time[flight.first_crank] - trace.time[0]) / 3600.0
    drawn = shown if shown is not None else waited * limit_value("panel_load")
    if flight.alternator_on_row is not None and flight.alternator_on_row > flight.run.start:
        idle = slice(flight.run.start, flight.alternator_on_row)
        if trace.battery_current is not None and not flight.ammeter.charge_at_rest:
            drawn += max(0.0, -float(np.nansum(trace.battery_current[idle] * trace.seconds[idle]))) / 3600.0
        else:
            drawn += float(trace.seconds[idle].sum()) / 3600.0 * limit_value("running_load")
    cranking = measures["cranking_time"].value or 0.0
    return drawn + cranking * flight.limits["starter_current"] / 3600.0


def _discharge_meanwhile(flight: Flight, recharge: Recharge, measures: dict[str, Measure]) -> float:
    """Charge taken out while the recharge went on, by idling and losses of the alternator [Ah].

    Where no battery ammeter shows it, what the alternator's output lacks of the steady load.
    """
    trace, steady = flight.trace, measures["bus_load"].value
    away = np.zeros(trace.time.size, dtype=np.bool_)
    for outage in flight.outages:
        if outage.kind != VOLTMETER_ONLY:
            away[outage.first : outage.end] = True
    away &= (trace.time >= recharge.on_s) & (trace.time < recharge.settled_s)
    if trace.battery_current is not None and not flight.ammeter.charge_at_rest:
        lacking = -trace.battery_current
    else:
        output = total_output(trace)
        load = steady if steady is not None else limit_value("running_load")
        lacking = load - (np.zeros(trace.time.size) if output is None else output)
    return max(0.0, float(np.nansum(lacking[away] * trace.seconds[away]))) / 3600.0


def recharge_never_settles(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """Charging current stays high and level to the end of a long flight.

    A battery that was deeply discharged still takes current late, but less and less: a current that keeps
    falling is left out. So is one into a battery that has not had back what it gave, as when losses of the
    alternator draw on it again and again: it recharges anew after each. A current that falls is that of no recharge
    once the battery has been given more than it can ever take.
    """
    settled = measures["maintenance_current"]
    if settled.value is None or settled.low is None or flight.recharge is None:
        return []
    limit = flight.limits["never_settles"] * _gassing(flight)
    if settled.low < limit:
        return []
    rows = np.flatnonzero(flight.regulated)
    since_s = max(flight.recharge.on_s, _drawn_on_until(flight, rows)) if rows.size else flight.recharge.on_s
    carried_min = (flight.trace.time[rows[-1]] - since_s) / 60.0 if rows.size else 0.0
    held = measures["regulated_voltage"].value
    if carried_min < limit_value("never_settles_after"):
        return []
    if held is not None and held < flight.limits["regulated_low"]:
        return []  # an alternator at its limit gives what it has left
    early, late = _second_half(flight, rows)
    given, had_back = _given_and_had_back(flight, int(rows[-1]))
    falling = early > 0.0 and (early - late) / early > limit_value("still_falling")
    if falling and had_back < flight.limits["full_for_sure"]:
        return []
    if had_back < limit_value("given_back") * given:
        return []
    rises = early > 0.0 and (late - early) / early > limit_value("still_falling")
    evidence = {
        "settled_a": settled.quantity(1),
        "limit": Quantity(round(limit, 2), "A"),
        "after_min": quantity.minutes(carried_min, 0),
    }
    course = f"from {fixed(early, 1)} to {fixed(late, 1)} A"
    course = f"rising {course}" if rises else f"falling {course}" if falling else "no longer falling"
    says = (
        f"Battery still charging at {settled.value:.1f} A after {carried_min:.0f} min, {course}; "
        f"a sound battery takes less than {limit:.1f} A by then."
    )
    signs = {"current_rises": rises}
    if held is not None:
        signs["overcharged"] = held > flight.limits["regulated_high"]
    far = flight.limits["never_settles_far"] * _gassing(flight)
    severity = Severity.WARNING if settled.value > far else Severity.CAUTION
    from_s, to_s = flight.recharge.on_s, float(flight.trace.time[rows[-1]])
    return [Finding(FindingName.RECHARGE_NEVER_SETTLES, severity, from_s, to_s, evidence, says, signs)]


def _gassing(flight: Flight) -> float:
    """How many times as much a sound battery's settled current is in this warmth as at the reference."""
    if not np.isfinite(flight.air_at_start):
        return 1.0
    warm = max(0.0, min(flight.air_at_start, limit_value("gassing_most")) - limit_value("gassing_from"))
    return float(np.exp(limit_value("gassing_for_warmth") * warm))


def _given_and_had_back(flight: Flight, last: int) -> tuple[float, float]:
    """Charge [Ah] that the battery has given and has been given up to row ``last``; nothing where it is not known.

    By its own current since the log began; what the starter took, which no ammeter shows, is beside that little.
    """
    flow, seconds = flight.trace.battery_current, flight.trace.seconds[: last + 1]
    if flow is None:
        return 0.0, 0.0
    charge = np.nan_to_num(flow[: last + 1]) * seconds / 3600.0
    return -float(charge[charge < 0.0].sum()), float(charge[charge > 0.0].sum())


def _drawn_on_until(flight: Flight, rows: NDArray[np.int64]) -> float:
    """When the battery last gave [s] while it lacked charge worth a word; the log's begin where it never did.

    From then on it recharges anew, and settles no sooner than after a start. What it lacks grows by what it gives and
    shrinks by what it is given, less what is lost in charging. ``rows`` are those of a held bus, in order.
    """
    flow = flight.trace.battery_current
    if flow is None:
        return flight.from_s
    last = int(rows[-1])
    flow = np.nan_to_num(flow[: last + 1])
    giving = running_median(flow, 3) < -limit_value("discharge_smallest")
    lacks = _charge_lacking(flow, flight.trace.seconds[: last + 1])
    gave = np.flatnonzero(giving & (lacks > flight.limits["drawn_on_anew"]))
    return float(flight.trace.time[gave[-1]]) if gave.size else flight.from_s


def _charge_lacking(flow: Floats, seconds: Floats) -> Floats:
    """What the battery lacks in each row for what it has given before [Ah], never less than nothing."""
    lacks = flow * seconds / -3600.0
    np.divide(lacks, limit_value("given_back"), out=lacks, where=lacks < 0.0)
    np.cumsum(lacks, out=lacks)
    least = np.minimum(lacks, 0.0)
    lacks -= np.minimum.accumulate(least, out=least)
    return lacks


def _second_half(flight: Flight, rows: NDArray[np.int64]) -> tuple[float, float]:
    """Charging current early and late in the second half of the regulated time [A]; 0 where it is not known."""
    flow: Floats | None = flight.trace.battery_current
    if flow is None or rows.size < limit_value("still_falling_fewest"):
        return 0.0, 0.0
    half = rows[rows.size // 2 :]
    fifth = max(1, half.size // 5)
    return median(flow[half[:fifth]]), median(flow[half[-fifth:]])


def weak_cranking(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The bus falls too far while the starter turns, or the starter turns too long, for the temperature.

    Judged on what the bus falls to in each try once the first instant is over, which falls further in any
    aircraft. Innocent: a turbine, whose starter-generator turns it for half a minute, far down.
    """
    if flight.source is Source.STARTER_GENERATOR or flight.trace.engine_speed_percent is not None:
        return []
    lowest, seconds = measures["cranking_voltage"], measures["cranking_time"]
    if lowest.value is None or seconds.value is None:
        return []
    level = _turning_level(flight, lowest.value)
    degrees, known = _start_temperature(flight)
    cold = max(0.0, limit_value("crank_reference") - degrees)
    limit = flight.limits["crank_lowest"] - flight.limits["crank_for_cold"] * cold
    if not _turning_seen(flight):
        limit -= flight.limits["crank_instant_deeper"]
    times = tries_seen(measures["start_attempts"])
    evidence = {
        "lowest_voltage": lowest.quantity(2),
        "turning_voltage": quantity.volts(level),
        "limit": quantity.volts(limit),
        "cranking_s": seconds.quantity(0),
        "temperature": Quantity(round(degrees, 0), "degC", assumed=not known),
    }
    signs = {"tried_often": times >= limit_value("tries_many")}
    if known:
        signs["cold"] = degrees < limit_value("cold_start")
    rows = np.flatnonzero(flight.crank)
    from_s, to_s = float(flight.trace.time[rows[0]]), float(flight.trace.time[rows[-1]])
    where = f" at {fixed(degrees)} °C" if known else ""
    if level < limit:
        says = (
            f"Bus {level:.1f} V while cranking{where} (lowest reading {lowest.value:.1f} V); "
            f"at least {limit:.1f} V expected."
        )
        severity = Severity.WARNING if level < limit - flight.limits["crank_far_below"] else Severity.CAUTION
        return [Finding(FindingName.WEAK_CRANKING, severity, from_s, to_s, evidence, says, signs)]
    if seconds.low is not None and seconds.low > limit_value("crank_longest_total"):
        words = tries_words(measures["start_attempts"])
        says = f"Starter turned {seconds.value:.0f} s in {words}{where} before the engine ran."
        return [
            Finding(
                FindingName.WEAK_CRANKING, Severity.ADVISORY, from_s, to_s, evidence, says, signs | {"long_only": True}
            )
        ]
    return []


def _turning_level(flight: Flight, lowest: float) -> float:
    """Bus voltage while the starter turns [V]: the median over the tries of a low quartile of each.

    Rows of the first instant are left out where others follow. Those in which the starter is engaged or let go, and
    what a slow meter shows after either, lie higher; so the lower readings are nearest. ``lowest`` stands in where no
    try has a reading.
    """
    levels = []
    for first, end in runs(flight.crank):
        since = flight.trace.time[first:end] - flight.trace.time[first]
        volts = flight.trace.bus_voltage[first:end]
        later = volts[(since >= limit_value("crank_first_instant")) & np.isfinite(volts)]
        shown = later if later.size else volts[np.isfinite(volts)]
        if shown.size:
            levels.append(float(np.sort(shown)[(shown.size - 1) // 4]))
    return median(np.array(levels)) if levels else lowest


def _turning_seen(flight: Flight) -> bool:
    """Whether a reading shows the starter turning for sure: one that follows another in a try, not rows apart.

    A lone reading may be that of the first instant, and so may each of rows that are further apart than tries last.
    """
    trace = flight.trace
    followed = any(
        trace.time[end - 1] - trace.time[first] >= limit_value("crank_first_instant")
        for first, end in runs(flight.crank & np.isfinite(trace.bus_voltage))
    )
    return followed and trace.step_s < limit_value("crank_rows_apart")


def _start_temperature(flight: Flight) -> tuple[float, bool]:
    start = flight.air_at_start
    return (start, True) if np.isfinite(start) else (limit_value("temperature_assumed"), False)


def below_empty(flight: Flight, rest: float) -> bool:
    """Whether a rest lies below an empty battery's [V]: a cell may be dead."""
    return rest < flight.limits["resting_very_low"] - flight.limits["dead_cell_margin"]


def _charge_words(flight: Flight, charge: Measure) -> str:
    """A charge at rest with what was taken for granted beside it."""
    if flight.battery.chemistry is Chemistry.LITHIUM:
        return f"a charge of {charge.low:.0f} to {charge.high:.0f} % in a lithium battery"
    return f"about {charge.value:.0f} % charge{taken_words(charge)}"


def low_resting_voltage(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The main battery, or a backup battery, rests too low before the start."""
    return _main_rests_low(flight, measures) + _backup_rests_low(flight)


def _backup_rests_low(flight: Flight) -> list[Finding]:
    """low_resting_voltage of a backup battery by its own voltage, ``battery`` 2 in the evidence.

    Before the start it rests, or feeds what it backs up; where the log begins with the engine running, by what it
    stands at while it should be charged. It is judged by a lead-acid battery's rest, as small backups are.
    """
    channel = flight.trace.backup_voltage
    if channel is None:
        return []
    rows = slice(0, flight.first_crank) if flight.first_crank > 0 else slice(0, channel.size)
    rest = median(channel[rows])
    if not np.isfinite(rest) or rest < limit_value("bus_dead"):
        return []
    cells = 2.0 if rest > limit_value("system_28_above") else 1.0
    limit, empty = (cells * Limits(14, {})[name] for name in ("resting_low", "resting_very_low"))
    if rest >= limit:
        return []
    evidence = {"battery": quantity.count(2), "resting_voltage": quantity.volts(rest), "limit": Quantity(limit, "V")}
    when = "before the start" if flight.first_crank > 0 else "with the engine running"
    says = f"Backup battery {rest:.2f} V {when}, below {limit:.2f} V."
    to_s = float(flight.trace.time[rows.stop - 1])
    severity = Severity.WARNING if rest < empty else Severity.CAUTION
    return [Finding(FindingName.LOW_RESTING_VOLTAGE, severity, flight.from_s, to_s, evidence, says, {"backup": True})]


def _main_rests_low(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The battery rests too low before the start, brought to no load."""
    rest, charge = measures["resting_voltage"], measures["resting_charge"]
    if rest.value is None or rest.high is None:
        return []
    limit = flight.limits["resting_low"]
    judged = rest.value
    if flight.trace.battery_current is None:  # under an unknown load, taken as that of a lit panel
        judged += limit_value("panel_load") * flight.limits["assumed_battery_resistance"] / 1000.0
    if judged >= limit:
        return []
    evidence = {"resting_voltage": rest.quantity(2), "limit": Quantity(limit, "V")}
    says = f"Battery rested at {rest.value:.2f} V ({rest.low:.2f} to {rest.high:.2f}) before the start"
    if charge.value is not None:
        evidence["charge"] = charge.quantity(0)
        says += f": {_charge_words(flight, charge)}."
    else:
        says += f"; {charge.because}."
    severity = Severity.WARNING if rest.high < flight.limits["resting_very_low"] else Severity.CAUTION
    if any(
        fault.kind == "path" and fault.channel == "bus_voltage" and not fault.unsure for fault in flight.reading_faults
    ):
        severity = Severity.ADVISORY
        says += " The voltmeter reads low through a resistance, so the battery may rest higher: check the voltmeter's "
        says += "wiring first."
    to_s = float(flight.trace.time[flight.first_crank])
    signs = {"below_empty": below_empty(flight, rest.value), "backup": False}
    return [Finding(FindingName.LOW_RESTING_VOLTAGE, severity, flight.from_s, to_s, evidence, says, signs)]
