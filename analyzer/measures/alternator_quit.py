"""What if the alternator quit at a moment of a flight: the bus, the low-voltage light and the minutes that are left.

An estimate for planning on the ground. The minutes come from the planner's formula (``battery_life``) and no other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from enum import StrEnum

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import CHARGE_OF_VOLTAGE, REFERENCE_TEMPERATURE, VOLTAGE_TEMPERATURE
from analyzer.measures.battery_life import BatteryKnown, Share
from analyzer.measures.charge_now import ChargeUnknownError, charge_now
from analyzer.measures.endurance import observed_load, steady_load
from analyzer.measures.measure import Measure, not_measurable, remeasured
from analyzer.measures.planning import ESSENTIAL_ONLY, Case, Preset, basis_with, load_words, plan, preset
from analyzer.measures.power_flow import Feeder, PowerFlow, power_flow
from analyzer.quantity import Quantity


class Light(StrEnum):
    """When a low-voltage light would come on."""

    ON_ALREADY = "on_already"
    WITHIN_A_MINUTE = "within_a_minute"
    PERHAPS_LATER = "perhaps_later"  # at once or only as the bus sags, which of them is not known
    WITH_THE_BATTERY = "with_the_battery"  # not before the battery is nearly empty
    UNKNOWN = "unknown"


class AlternatorQuits(Struct, frozen=True):
    """What would follow. Where nothing can be told ``because`` says why and there is no case."""

    at_s: float  # seconds from the log's first row
    flow: PowerFlow  # where the power goes at that moment, before
    because: str | None = None
    load: Share | None = None  # that the battery would carry [A]
    charge: Share | None = None  # in the battery, a share of what it holds
    bus: Quantity | None = None  # in the first minute after [V]; None where no voltage can be told
    light: Light = Light.UNKNOWN
    cases: tuple[Case, ...] = ()
    basis: tuple[str, ...] = ()  # sentences: what it rests on and what is assumed


def alternator_quits(
    flight: Flight,
    measures: Mapping[str, Measure],
    known: BatteryKnown,
    today: datetime,
    at_s: float,
    night: Iterable[str] | None = None,
    shed: Iterable[str] = (),
    master_off: float = 0.0,
) -> AlternatorQuits:
    """Give what would follow if the alternator quit at a moment.

    Parameters
    ----------
    known : what the records know of the battery
    today : the day from which the age of a capacity test counts
    at_s : seconds from the log's first row; a moment outside the flight is taken as its nearest end
    night : names of usual loads that come on by night; when None the usual ones
    shed : names of those that are switched off after it
    master_off : minutes of the way with the master off [min]
    """
    flow = power_flow(flight, measures, at_s)
    if (because := _no_what_if(flow)) is not None:
        return AlternatorQuits(flow.at_s, flow, because)
    given = preset(flight, measures, known, today)
    load = _load(flight, measures, flow)
    if load is None:
        return AlternatorQuits(flow.at_s, flow, "no reading shows the load, and the aircraft's settings give none")
    row = int(np.argmin(np.abs(flight.trace.time - flow.at_s)))
    try:
        charge, told = charge_now(flight, measures, row, given.condition)
    except ChargeUnknownError as unknown:
        return AlternatorQuits(flow.at_s, flow, str(unknown), load[0])
    bus = _bus_after(flight, measures, load[0], charge, given)
    basis = basis_with(given.basis, {}, night_given=night is not None) | {"load": load[1], "charge": told}
    dark = given.night if night is None else tuple(night)
    return AlternatorQuits(
        flow.at_s,
        flow,
        None,
        load[0],
        charge,
        bus,
        _light(flow, bus),
        _cases(replace(given, charge=charge), load, dark, tuple(shed), master_off),
        tuple(basis.values()),
    )


def _no_what_if(flow: PowerFlow) -> str | None:
    """Why the question makes no sense at this moment, None where it does."""
    if not flow.running or flow.feeder is Feeder.STARTER:
        return "the engine is not running at that moment"
    if flow.feeder is Feeder.BATTERY:
        return "the battery already carries the bus at that moment"
    if flow.feeder is Feeder.OUTSIDE:
        return "external power feeds the bus at that moment"
    return None


def _load(flight: Flight, measures: Mapping[str, Measure], flow: PowerFlow) -> tuple[Share, str] | None:
    """What the battery would have to carry [A] and what tells it: the moment's load, or the steady one where higher."""
    usual, now = steady_load(flight, measures["bus_load"]), _now(flow)
    told = [one for one in (usual, now) if one is not None]
    if not told:
        return _without_meter(flight, measures)
    largest = max(told, key=lambda one: one.value)
    load = Share(largest.value, told[0].low, max(one.high for one in told))
    if largest is usual:
        return load, f"Load: the flight's steady load of {load.value:.0f} A; what is on later may differ."
    assumed = ", worked out and not recorded" if flow.load is None or flow.load.basis else ""
    return load, f"Load: the {load.value:.0f} A of that moment{assumed}; what is on later may differ."


def _without_meter(flight: Flight, measures: Mapping[str, Measure]) -> tuple[Share, str] | None:
    """What an outage showed or the fleet file says, where no ammeter shows the load."""
    amps, source = observed_load(flight, measures["bus_load"])
    return None if amps is None else (amps, load_words(flight, amps.value, source))


def _now(flow: PowerFlow) -> Share | None:
    """The moment's load [A]; all that the alternator gives where what the battery takes of it is not known."""
    least = limit_value("output_smallest")
    if flow.load is not None:
        amps = flow.load.amps
        low, high = (amps.value if end is None else end for end in (amps.low, amps.high))
        return Share(amps.value, max(least, low), high) if amps.value >= least else None
    if flow.alternator is None or flow.feeder is not Feeder.ALTERNATOR or flow.alternator.amps.value < least:
        return None
    most = flow.alternator.amps.value
    return Share(most, max(least, (1.0 - limit_value("load_elsewhere")) * most), most)


def _bus_after(
    flight: Flight, measures: Mapping[str, Measure], load: Share, charge: Share, given: Preset
) -> Quantity | None:
    """The bus in the first minute [V]: the battery's rest at its charge less what its resistance takes of it.

    A lithium battery's rest hangs too little on its charge to tell; with no voltage known nothing is told either.
    """
    if flight.battery.is_lithium or flight.nominal_voltage is None:
        return None
    measure, spread = measures["battery_resistance"], limit_value("resistance_spread")
    ohms = flight.limits["assumed_battery_resistance"] / 1000.0
    least, most = ohms * (1.0 - spread), ohms * (1.0 + spread) / given.condition.low
    if measure.value is not None and measure.low is not None and measure.high is not None:
        ohms, least, most = (one / 1000.0 for one in (measure.value, measure.low, measure.high * (1.0 + spread)))
    surface = flight.limits["surface_charge_most"]
    low = _rest(flight, charge.low, given.temperature) - load.high * most
    high = _rest(flight, charge.high, given.temperature) + surface - load.low * least
    value = _rest(flight, charge.value, given.temperature) - load.value * ohms
    return Quantity(round(value, 1), "V", round(min(low, value), 1), round(max(high, value), 1), assumed=True)


def _rest(flight: Flight, charge: float, temperature: float) -> float:
    """Voltage at which a lead-acid battery of this system rests [V], by the table of charge."""
    cells = 12 if flight.nominal_voltage == 28 else 6
    volts, percent = zip(*CHARGE_OF_VOLTAGE, strict=True)
    rest = float(np.interp(100.0 * charge, percent, volts)) * cells / 6.0
    return rest + cells * VOLTAGE_TEMPERATURE * (temperature - REFERENCE_TEMPERATURE)


def _light(flow: PowerFlow, bus: Quantity | None) -> Light:
    """When the light comes on; what is between the ends of the bus voltage nobody can say."""
    if flow.light_on:
        return Light.ON_ALREADY
    if bus is None or bus.low is None or bus.high is None or flow.light_at is None:
        return Light.UNKNOWN
    if bus.high < flow.light_at.value:
        return Light.WITHIN_A_MINUTE
    return Light.WITH_THE_BATTERY if bus.low >= flow.light_at.value else Light.PERHAPS_LATER


def _cases(
    given: Preset, told: tuple[Share, str], night: tuple[str, ...], shed: tuple[str, ...], master_off: float
) -> tuple[Case, ...]:
    """The planner's cases, each end with the load that makes it; with the master off the battery carries nothing."""
    load, source = told
    given = replace(given, load_more=0.0)  # the load's interval is that of this moment
    at, heavy, light = (plan(replace(given, load=amps), night, shed) for amps in (load.value, load.high, load.low))
    cases = tuple(
        replace(one, lasts=_spanning(one.lasts, worst.lasts, best.lasts))
        for one, worst, best in zip(at, heavy, light, strict=True)
    )
    if ESSENTIAL_ONLY in source:
        cases = tuple(replace(one, words=one.words.replace("At this load", "At the essential load")) for one in cases)
    if master_off <= 0.0:
        return cases
    day = cases[1] if shed else cases[0]
    words = f"{day.words}, master off for {master_off:.0f} min of the way"
    return (*cases, Case(words, day.load, _later(day.lasts, master_off)))


def _spanning(one: Measure, worst: Measure, best: Measure) -> Measure:
    """A case's minutes with the interval that the load's own adds."""
    if one.value is None or worst.low is None or best.high is None:
        return one if one.value is None else not_measurable(one.name, worst.because or best.because or "")
    return remeasured(one, one.value, worst.low, best.high)


def _later(lasts: Measure, minutes: float) -> Measure:
    """The same minutes on the battery with others between them in which it gives nothing."""
    if lasts.value is None or lasts.low is None or lasts.high is None:
        return lasts
    return remeasured(lasts, lasts.value + minutes, lasts.low + minutes, lasts.high + minutes)
