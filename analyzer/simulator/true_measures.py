"""What each measure of a simulated flight should come to, with the range of its honest definitions.

Worked out on the noiseless course. Volts are as the instrument shows them where a person would compare
them with the panel: the constant error of the voltmeter is in, its noise is not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.simulator.battery import capacity_temperature_factor, peukert_capacity
from analyzer.simulator.electrical import REGULATED
from analyzer.simulator.true_recharge import ranging, recharge, steps
from analyzer.simulator.truth import Known, Value, offline, takes_bus_s

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def _charge_ah(known: Known, flags: Flags, current_a: Floats) -> float:
    return float((current_a * steps(known.course.time_s))[flags].sum() / 3600.0)


def measures(known: Known) -> dict[str, Value]:
    """Every measure by its name."""
    return {
        **_before_start(known),
        **recharge(known),
        **_steady(known),
        **_offline(known),
        **_extremes(known),
    }


def _before_start(known: Known) -> dict[str, Value]:
    names = ("resting_voltage", "resting_charge", "prestart_discharge", "cranking_time", "start_attempts")
    cranks, course, begins = known.times.cranks, known.course, known.log_begins_s
    if begins >= cranks[0][0]:
        return dict.fromkeys(names, Value(because="the log begins with the engine already running"))
    before = (course.time_s >= begins) & (course.time_s < cranks[0][0])
    meter = known.voltmeter
    no_load = float(np.median(course.no_load_v[before])) + meter.offset_v
    loaded = float(np.median((course.bus_v - meter.path_ohm * course.load_a)[before])) + meter.offset_v
    drawn = -_charge_ah(known, before, course.battery_a)
    turning = sum(end - begin for begin, end in cranks)
    return {
        "resting_voltage": ranging(no_load, loaded, slack=meter.resolution_v / 2),
        "resting_charge": ranging(100.0 * float(course.charge[before][0]), slack=8.0),
        "prestart_discharge": ranging(drawn, slack=0.05 * drawn + 0.02),
        "cranking_time": ranging(turning, slack=known.period_s * len(cranks)),
        "start_attempts": ranging(float(len(cranks))),
    }


def _steady_place(known: Known) -> Flags | str:
    """Where the alternator holds the bus with the recharge over and the engine at flying speed."""
    taken, course = takes_bus_s(known), known.course
    if taken is None:
        return "the alternator never takes the bus"
    begin = max(taken + 600.0, known.times.take_off_s, known.log_begins_s)
    place = (course.fed_by == REGULATED) & (course.time_s >= begin) & (course.time_s < known.times.landing_s)
    ends = [*course.resets_s, known.times.engine_stop_s]
    for tripped, reset in zip(course.trips_s, ends, strict=False):
        place &= ~((course.time_s > tripped - 60.0) & (course.time_s < reset + 5.0))
    if steps(course.time_s)[place].sum() < 300.0:
        return "the alternator holds the bus for less than five minutes after the recharge"
    return np.asarray(place)


def _steady(known: Known) -> dict[str, Value]:
    names = (
        "regulated_voltage",
        "regulation_scatter",
        "regulation_slope",
        "regulation_droop",
        "bus_load",
        "maintenance_current",
    )
    place = _steady_place(known)
    if isinstance(place, str):
        return dict.fromkeys(names, Value(because=place))
    course, meter = known.course, known.voltmeter
    shown = (course.bus_v - meter.path_ohm * course.load_a)[place] + meter.offset_v
    hours, load = course.time_s[place] / 3600.0, course.load_a[place]
    middle = float(np.median(shown))
    scatter = 1.4826 * float(np.median(np.abs(shown - middle)))
    slope = float(np.polyfit(hours, shown, 1)[0])
    droop = 1000.0 * (known.droop_ohm + meter.path_ohm)
    late = place & (course.time_s > course.time_s[place][-1] - 900.0)
    kept = float(np.median(course.battery_a[late]))
    offset = sum(a.offset_a for a in known.ammeters if a.kind == "battery")
    charging_kind = any(ammeter.kind == "battery" for ammeter in known.ammeters)
    return {
        "regulated_voltage": ranging(middle, float(np.mean(shown)), slack=meter.resolution_v / 2),
        "regulation_scatter": ranging(
            scatter, float(np.hypot(scatter, meter.noise_v)), slack=meter.resolution_v / 2
        ),
        "regulation_slope": ranging(slope, slack=0.02 + 0.2 * abs(slope)),
        "regulation_droop": ranging(droop, slack=1.5 + 0.2 * droop),
        "bus_load": ranging(float(np.median(load)), float(np.mean(load)), slack=0.5)
        if any(ammeter.kind == "alternator" for ammeter in known.ammeters)
        else Value(because="only an alternator ammeter shows the load"),
        "maintenance_current": ranging(kept, kept + offset, slack=0.2)
        if charging_kind
        else Value(because="only a battery ammeter shows it"),
    }


def _offline(known: Known) -> dict[str, Value]:
    course, flags = known.course, offline(known)
    flags &= (course.time_s >= known.log_begins_s) & (course.time_s <= known.log_ends_s)
    faulty = flags & known.switched_on
    minutes = [float(steps(course.time_s)[place].sum() / 60.0) for place in (flags, faulty)]
    drawn = [-_charge_ah(known, place, np.minimum(course.battery_a, 0.0)) for place in (flags, faulty)]
    return {
        "offline_time": ranging(*minutes, slack=0.1),
        "offline_discharge": ranging(*drawn, slack=0.02 + 0.05 * drawn[0]),
        "endurance": _endurance(known),
    }


def _endurance(known: Known) -> Value:
    """Minutes until the rate's available charge is drawn, from the charge at landing at the flight's load."""
    course, battery = known.course, known.battery
    flying = (course.time_s > known.times.take_off_s) & (course.time_s < known.times.landing_s)
    load, missing = float(np.median(course.load_a[flying])), float(course.missing_ah[flying][-1])
    temperature = capacity_temperature_factor(known.battery_c)
    rated = peukert_capacity(battery.capacity_ah, load, battery.peukert_exponent)
    left = [rated * health * temperature - missing for health in (battery.health, 1.0)]
    hours = [max(ah, 0.0) / load for ah in left]
    return Value(value=60 * hours[0], low=0.7 * 60 * hours[0], high=1.3 * 60 * max(hours))


def _extremes(known: Known) -> dict[str, Value]:
    """Extremes as the log can show them; what happened between its rows is for nobody to see."""
    course, meter = known.course, known.voltmeter
    sampled = np.searchsorted(
        course.time_s, np.round(known.table["time_s"].to_numpy() + known.log_begins_s, 3)
    )
    volts = (course.bus_v - meter.path_ohm * course.load_a)[sampled] + meter.offset_v
    turning = np.zeros(sampled.size, dtype=np.bool_)
    for begin, end in known.times.cranks:
        turning |= (course.time_s[sampled] >= begin) & (course.time_s[sampled] < end)
    slack = meter.resolution_v / 2 + 2 * meter.noise_v
    lowest = (
        ranging(float(volts[turning].min()), slack=slack)
        if turning.any()
        else Value(because="no row while cranking")
    )
    powered = course.time_s[sampled] < known.times.master_off_s
    return {"cranking_voltage": lowest, "highest_voltage": ranging(float(volts[powered].max()), slack=slack)}
