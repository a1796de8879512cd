"""Two flights, of one aircraft or of two, held against each other: where they are laid over, and what differs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from analyzer.flights.flight import Flight
from analyzer.measures.measure import MEASURES, Measure
from analyzer.review import FlightReview

#: Units whose values depend on the voltage of the system.
_OF_THE_SYSTEM = frozenset({"V", "A", "Ah", "V/h", "mohm"})


class Align(StrEnum):
    """The moment at which two flights are laid over each other."""

    POWER_UP = "power_up"
    START = "start"
    TAKE_OFF = "take_off"


@dataclass(frozen=True, slots=True)
class Compared:
    """One measure of two flights; ``differs`` is None where they cannot be held against each other, with why."""

    name: str
    first: Measure
    second: Measure
    differs: bool | None
    because: str = ""


@dataclass(frozen=True, slots=True)
class TwoFlights:
    """Two flights laid over each other."""

    first: FlightReview
    second: FlightReview
    align: Align
    origins: tuple[float, float]  # seconds of each log at which its time is zero
    unaligned: str  # why they begin at their first rows instead; empty where they do not
    measures: tuple[Compared, ...]


def compare_flights(first: FlightReview, second: FlightReview, align: Align) -> TwoFlights:
    """Hold two flights against each other."""
    moments = [moment_of(one.flight, align) for one in (first, second)]
    lacking = next((place for place, at in enumerate(moments) if at is None), None)
    unaligned = "" if lacking is None else _why(align, lacking)
    starts = (first.flight.from_s, second.flight.from_s)
    origins = starts if unaligned else tuple(at for at in moments if at is not None)
    measures = compare_measures(
        first.measures, second.measures, alike=first.flight.nominal_voltage == second.flight.nominal_voltage
    )
    return TwoFlights(first, second, align, (origins[0], origins[1]), unaligned, measures)


def moment_of(flight: Flight, align: Align) -> float | None:
    """The moment of a flight [s], None where its log does not hold it."""
    if align is Align.TAKE_OFF:
        return None if flight.takeoff >= flight.trace.time.size - 1 else float(flight.trace.time[flight.takeoff])
    if flight.begins_running:
        return None
    return flight.from_s if align is Align.POWER_UP else float(flight.trace.time[flight.run.start])


def _why(align: Align, place: int) -> str:
    which = ("first", "second")[place]
    if align is Align.TAKE_OFF:
        return f"the {which} flight shows no take-off, so both begin at the first rows of their logs"
    return f"the {which} log begins with the engine running, so both begin at their first rows"


def compare_measures(
    first: Mapping[str, Measure], second: Mapping[str, Measure], *, alike: bool
) -> tuple[Compared, ...]:
    """Each measure that one of the flights has; it differs where the two 95 % intervals have nothing in common.

    ``alike`` is whether both systems have the same voltage.
    """
    return tuple(
        _compared(name, first[name], second[name], alike=alike)
        for name in MEASURES
        if first[name].value is not None or second[name].value is not None
    )


def _compared(name: str, one: Measure, other: Measure, *, alike: bool) -> Compared:
    if None in (one.low, one.high, other.low, other.high):
        return Compared(name, one, other, None, "measured in one of them only")
    if not alike and MEASURES[name] in _OF_THE_SYSTEM:
        return Compared(name, one, other, None, "systems of different voltage")
    assert one.low is not None
    assert one.high is not None
    assert other.low is not None
    assert other.high is not None
    return Compared(name, one, other, one.high < other.low or other.high < one.low)
