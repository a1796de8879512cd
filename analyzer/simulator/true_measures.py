"""What each measure of a simulated flight should come to, with the range of its honest definitions.

Worked out on the noiseless course. Volts are as the instrument shows them where a person would compare
them with the panel: the constant error of the voltmeter is in, its noise is not.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.battery import (
    ACID_TIME_S,
    OHM_ACID,
    OHM_PLAIN,
    OHM_REACTION,
    capacity_temperature_factor,
    charge_at_open_circuit,
    peukert_capacity,
)
from analyzer.simulator.electrical import LIMITED, REGULATED
from analyzer.simulator.faults import ReadingFault
from analyzer.simulator.instruments import rounded
from analyzer.simulator.true_recharge import ranging, recharge, steps
from analyzer.simulator.truth import Known, Value, offline, takes_bus_s

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def _charge_ah(known: Known, flags: Flags, current_a: Floats) -> float:
    return float((current_a * steps(known.course.time_s))[flags].sum() / 3600.0)


def measures(known: Known) -> dict[str, Value]:
    """Every measure by its name."""
    values = {
        **_before_start(known),
        **recharge(known),
        **_steady(known),
        **_offline(known),
        **_extremes(known),
        "battery_resistance": _resistance(known),
    }
    for name in _misread(known):
        values[name] = replace(values[name], ambiguous=True)
    return values


def _resistance(known: Known) -> Value:
    """Fall of the shown voltage per ampere given, 1 to 10 s after a step [mohm]: plates, reaction, part of the acid.

    Its range spans the charge and the warmth of the flight. The voltmeter's own path carries the load as well.
    """
    if not any(ammeter.kind == "battery" for ammeter in known.ammeters):
        return Value(because="only a battery ammeter shows the battery's current")
    battery, volts = known.battery, known.nominal_voltage
    polarised = float(np.mean(1.0 - np.exp(-np.linspace(1.0, 10.0, 10) / ACID_TIME_S)))
    cell = OHM_PLAIN + OHM_REACTION + OHM_ACID * polarised
    cells = volts / 14 * (6.0 - battery.shorted_cells)
    charges = (float(known.course.charge.min()), float(known.course.charge.max()))
    everything = [
        1000.0 * cell * cells * 34.0 / battery.capacity_ah * battery.resistance_factor
        * max(1.0 + 0.008 * (25.0 - warmth), 0.6) * (1.0 + 0.4 * (1.0 - charge))
        + 1000.0 * known.voltmeter.path_ohm
        for warmth in (known.around_c, known.battery_c)
        for charge in charges
    ]  # fmt: skip
    gains = [ammeter.gain for ammeter in known.ammeters if ammeter.kind == "battery"]
    return ranging(*(value / gains[0] for value in everything))


def _misread(known: Known) -> tuple[str, ...]:
    """Measures whose reading is itself at fault, so that none is the right answer."""
    if any(isinstance(fault, ReadingFault) and fault.channel == "bus_voltage" for fault in known.faults):
        return "resting_voltage", "resting_charge", "cranking_voltage", "highest_voltage"
    return ("resting_charge",) if known.voltmeter.path_ohm else ()


def _before_start(known: Known) -> dict[str, Value]:
    names = ("resting_voltage", "resting_charge", "prestart_discharge", "cranking_time", "start_attempts")
    cranks, course, begins = known.times.cranks, known.course, known.log_begins_s
    if begins >= cranks[0][0]:
        return dict.fromkeys(names, Value(because="the log begins with the engine already running"))
    before = (course.time_s >= begins) & (course.time_s < cranks[0][0])
    meter = known.voltmeter
    no_load = float(course.no_load_v[before][0]) + meter.offset_v  # later the load has polarised the acid
    loaded = float(np.median((course.bus_v - meter.path_ohm * course.load_a)[before])) + meter.offset_v
    drawn = -_charge_ah(known, before, course.battery_a)
    cells = 12 if known.nominal_voltage == 28 else 6
    implied = charge_at_open_circuit(no_load, cells, known.around_c)
    turning = sum(end - begin for begin, end in cranks)
    return {
        "resting_voltage": ranging(no_load, loaded, slack=meter.resolution_v / 2),
        "resting_charge": ranging(100.0 * float(implied), slack=8.0),
        "prestart_discharge": ranging(drawn, slack=0.05 * drawn + 0.02)
        if any(ammeter.kind == "battery" for ammeter in known.ammeters)
        else Value(because="only a battery ammeter shows it"),
        "cranking_time": ranging(turning, slack=known.period_s * len(cranks)),
        "start_attempts": ranging(float(len(cranks))),
    }


def _steady_place(known: Known) -> tuple[Flags, bool] | str:
    """Where the alternator carries the bus, recharge over, at flying speed; and whether it was held throughout.

    An alternator without regulation carries the bus too, but what it is then held at is a matter of words.
    """
    taken, course = takes_bus_s(known), known.course
    if taken is None:
        return "the alternator never takes the bus"
    begin = max(taken + 600.0, known.times.take_off_s, known.log_begins_s)
    place = (course.time_s >= begin) & (course.time_s < known.times.landing_s)
    ends = [*course.resets_s, known.times.engine_stop_s]
    for tripped, reset in zip(course.trips_s, ends, strict=False):
        place &= ~((course.time_s > tripped - 60.0) & (course.time_s < reset + 5.0))
    wild = place & (course.fed_by == LIMITED) & (course.battery_a > 0.0)
    place &= course.fed_by == REGULATED
    if steps(course.time_s)[place].sum() < 300.0:
        return "the alternator holds the bus for less than five minutes after the recharge"
    return np.asarray(place), not bool(steps(course.time_s)[wild].sum() > 60.0)


def _steady(known: Known) -> dict[str, Value]:
    names = ("regulated_voltage", "regulation_scatter", "regulation_slope", "regulation_droop")
    found = _steady_place(known)
    if isinstance(found, str):
        return dict.fromkeys((*names, "bus_load", "maintenance_current"), Value(because=found))
    place, held = found
    course, meter = known.course, known.voltmeter
    shown = (course.bus_v - meter.path_ohm * course.load_a)[place] + meter.offset_v
    hours = course.time_s[place] / 3600.0
    middle = float(np.median(shown))
    scatter = _scatter(shown)
    noisy = float(np.hypot(scatter, meter.noise_v))
    slopes = [float(np.polyfit(hours, volts, 1)[0]) for volts in (shown, shown - _explained(known)[place])]
    values = {
        "regulated_voltage": ranging(middle, float(np.mean(shown)), slack=meter.resolution_v / 2),
        "regulation_scatter": ranging(
            scatter, noisy, _scatter(rounded(shown, meter.resolution_v)), slack=meter.resolution_v / 2
        ),
        "regulation_slope": ranging(*slopes, slack=0.05 + 0.2 * abs(slopes[0])),
        **_of_load(known, place, shown),
        "maintenance_current": _maintenance(known, place),
    }
    return {name: replace(value, ambiguous=value.ambiguous or not held) for name, value in values.items()}


def _scatter(volts: Floats) -> float:
    """Robust standard deviation: 1.4826 times the median distance from the median."""
    return 1.4826 * float(np.median(np.abs(volts - np.median(volts))))


def _explained(known: Known) -> Floats:
    """What regulator temperature and alternator current move the shown voltage by [V]."""
    course = known.course
    lost = known.droop_ohm * course.alternator_a + known.voltmeter.path_ohm * course.load_a
    return known.temperature_v - lost


def _of_load(known: Known, place: Flags, shown: Floats) -> dict[str, Value]:
    """Bus load and droop: an alternator ammeter shows them, droop only where the load varies."""
    course = known.course
    load, output = course.load_a[place], course.alternator_a[place]
    droop = 1000.0 * (known.droop_ohm + known.voltmeter.path_ohm)
    straight = -1000.0 * float(np.polyfit(output, shown, 1)[0])
    shows_load = any(ammeter.kind == "alternator" for ammeter in known.ammeters)
    droops = ranging(droop, straight, slack=1.5 + 0.2 * droop)
    droops = replace(droops, ambiguous=not shows_load or float(np.std(load)) < 1.0)
    if not shows_load:
        because = "only an alternator ammeter shows the load"
        return {"regulation_droop": droops, "bus_load": Value(because=because)}
    # What a battery takes that never settles cannot be told from load by this ammeter.
    loads = [float(value) for value in (np.median(load), np.mean(load), np.median(output))]
    return {"regulation_droop": droops, "bus_load": ranging(*loads, slack=0.5)}


def _maintenance(known: Known, place: Flags) -> Value:
    """The current late in flight; ambiguous where it had not come to rest by then."""
    if not any(ammeter.kind == "battery" for ammeter in known.ammeters):
        return Value(because="only a battery ammeter shows it")
    course = known.course
    last = course.time_s[place][-1]
    current = course.battery_a[place & (course.time_s > last - 900.0)]
    longer = course.battery_a[place & (course.time_s > last - 1800.0)]
    low, high = (float(value) for value in np.quantile(longer, (0.1, 0.9)))
    offset = sum(ammeter.offset_a for ammeter in known.ammeters if ammeter.kind == "battery")
    value = float(np.median(current))
    others = [float(np.mean(current)), low, high]
    return replace(ranging(value, value + offset, *others, slack=0.2), ambiguous=high - low > 0.5 * max(value, 1.0))


def _offline(known: Known) -> dict[str, Value]:
    course, flags = known.course, offline(known)
    flags &= (course.time_s >= known.log_begins_s) & (course.time_s <= known.log_ends_s)
    faulty = flags & known.switched_on
    partly = flags | ((course.fed_by == LIMITED) & known.running & known.could_carry & (course.battery_a < -0.5))
    places = (flags, faulty, partly)
    minutes = [float(steps(course.time_s)[place].sum() / 60.0) for place in places]
    drawn = [-_charge_ah(known, place, np.minimum(course.battery_a, 0.0)) for place in places]
    # An alternator that gives something leaves the battery to carry the rest: offline by one reading of the words.
    battery_kind = any(ammeter.kind == "battery" for ammeter in known.ammeters)
    discharge = ranging(*drawn, slack=0.02 + 0.05 * drawn[0])
    return {
        "offline_time": ranging(*minutes, slack=0.1),
        "offline_discharge": replace(discharge, ambiguous=not battery_kind),
        "endurance": _endurance(known),
    }


def _endurance(known: Known) -> Value:
    """Minutes until the rate's available charge is drawn, from the charge at landing at the flight's load.

    Ambiguous, since no log tells a battery's rated capacity.
    """
    course, battery = known.course, known.battery
    flying = (course.time_s > known.times.take_off_s) & (course.time_s < known.times.landing_s)
    load, missing = float(np.median(course.load_a[flying])), float(course.missing_ah[flying][-1])
    temperature = capacity_temperature_factor(known.battery_c)
    rated = peukert_capacity(battery.capacity_ah, load, battery.peukert_exponent)
    left = [rated * health * temperature - missing for health in (battery.health, 1.0)]
    hours = [max(ah, 0.0) / load for ah in left]
    minutes = 60 * hours[0]
    return Value(value=minutes, low=0.7 * minutes, high=1.3 * 60 * max(hours), ambiguous=True)


def _extremes(known: Known) -> dict[str, Value]:
    """Extremes as the log can show them; what happened between its rows is for nobody to see."""
    course, meter = known.course, known.voltmeter
    sampled = np.searchsorted(course.time_s, np.round(known.table["time_s"].to_numpy() + known.log_begins_s, 3))
    volts = (course.bus_v - meter.path_ohm * course.load_a)[sampled] + meter.offset_v
    turning = np.zeros(sampled.size, dtype=np.bool_)
    for begin, end in known.times.cranks:
        turning |= (course.time_s[sampled] >= begin) & (course.time_s[sampled] < end)
    slack = meter.resolution_v / 2 + 2 * meter.noise_v
    lowest = (
        ranging(float(volts[turning].min()), slack=slack) if turning.any() else Value(because="no row while cranking")
    )
    powered = course.time_s[sampled] < known.times.master_off_s
    return {"cranking_voltage": lowest, "highest_voltage": ranging(float(volts[powered].max()), slack=slack)}
