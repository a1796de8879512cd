"""All measures of one flight: the stage's pipeline."""

from __future__ import annotations

from collections.abc import Mapping

from analyzer.flights.flight import Flight
from analyzer.measures.battery_life import worn_condition
from analyzer.measures.cranking import cranking
from analyzer.measures.endurance import endurance
from analyzer.measures.measure import MEASURES, Measure, needs_voltmeter, not_measurable
from analyzer.measures.offline import bus_load, offline
from analyzer.measures.recharge import recharge
from analyzer.measures.regulation import regulation
from analyzer.measures.resistance import battery_resistance, resistance_at_rest, resistance_seen
from analyzer.measures.resting import resting
from analyzer.measures.widest import narrow_enough


def measure_flight(flight: Flight) -> dict[str, Measure]:
    """Give every measure of MEASURES, each with a value or a reason, in that order."""
    load = bus_load(flight)
    seen = resistance_seen(flight)
    rest = resting(flight, resistance_at_rest(flight, seen))
    found = [
        *rest,
        *cranking(flight),
        *recharge(flight),
        *regulation(flight),
        load,
        *offline(flight, load),
        battery_resistance(flight, seen),
        endurance(flight, load, rest[1]),
    ]
    by_name = {measure.name: measure for measure in found}
    if not flight.voltmeter.tells:
        by_name |= {name: not_measurable(name, flight.voltmeter.because) for name in MEASURES if needs_voltmeter(name)}
    return {name: narrow_enough(by_name[name], flight.limits) for name in MEASURES}


def endurance_worn(flight: Flight, measures: Mapping[str, Measure]) -> Measure:
    """Give the endurance anew where the flight's findings show a worn battery; it is never longer than before."""
    return endurance(flight, measures["bus_load"], measures["resting_charge"], worn_condition())
