"""What is known of a simulated flight: its events, its faults and what each measure should come to.

Times are seconds from the log's first row.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analyzer.simulator.battery import Battery
from analyzer.simulator.electrical import BATTERY, LIMITED, REGULATED, Course
from analyzer.simulator.faults import (
    BatteryFault,
    Fault,
    LeftLow,
    NeverSettles,
    Sulphated,
    Worn,
)
from analyzer.simulator.flight_plan import Timeline
from analyzer.simulator.instruments import Ammeter, Voltmeter
from analyzer.simulator.system_faults import (
    FieldOpen,
    FullField,
    IntermittentField,
    NuisanceTrip,
    OutputFade,
    RisingTrip,
    Runaway,
)

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Window = tuple[float, float]

#: A loss of the alternator shorter than this is a contact, not an outage [s].
SHORTEST_OUTAGE_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A measure's truth with the range of its honest definitions, or why the log cannot show it."""

    value: float | None = None
    low: float | None = None
    high: float | None = None
    because: str | None = None
    ambiguous: bool = False  # "not measurable" is as fair an answer


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFault:
    """A fault as far as this log can show it."""

    finding: str
    from_s: float
    to_s: float
    accepted: tuple[str, ...]  # other names that are right
    tolerated: tuple[str, ...]  # findings that may follow from it
    optional: bool = False  # the log's ammeter cannot tell it from something innocent


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of a flight. A time is None when it lies outside the log or never came."""

    nominal_voltage: Literal[14, 28]
    ammeter: Literal["battery", "alternator", "none"]
    sample_period_s: float
    first_crank_s: float | None
    engine_start_s: float | None
    engine_stop_s: float | None
    alternator_on_s: float | None  # takes the bus for the first time
    trips_s: tuple[float, ...]
    resets_s: tuple[float, ...]
    offline: tuple[Window, ...]  # engine fast enough, battery carrying the bus, for whatever reason
    measures: dict[str, Value]
    faults: tuple[KnownFault, ...]

    @property
    def findings(self) -> frozenset[str]:
        """Names that should be found."""
        return frozenset(fault.finding for fault in self.faults if not fault.optional)

    @property
    def allowed(self) -> frozenset[str]:
        """Names that are no false alarm: those to be found, their equals and what follows from them."""
        return frozenset().union(*((f.finding, *f.accepted, *f.tolerated) for f in self.faults))


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """All that the truth is worked out from. Arrays lie on the course's grid, times count from master on."""

    course: Course
    times: Timeline
    table: pl.DataFrame
    log_begins_s: float
    battery: Battery
    battery_c: float  # at the end
    around_c: float  # on the ground before start
    nominal_voltage: Literal[14, 28]
    droop_ohm: float
    temperature_v: Floats  # what the regulator's temperature moves its set point by
    overvoltage_v: float
    voltmeter: Voltmeter
    ammeters: tuple[Ammeter, ...]
    faults: tuple[Fault, ...]
    could_carry: Flags  # the alternator, were it well, could feed the load at this engine speed
    switched_on: Flags  # by the pilot
    period_s: float

    @property
    def log_ends_s(self) -> float:
        """The last row [s from the master going on]."""
        return self.log_begins_s + float(self.table["time_s"][-1])

    @property
    def running(self) -> Flags:
        """Grid times with the engine running."""
        time_s = self.course.time_s
        return np.asarray((time_s >= self.times.engine_start_s + 3.0) & (time_s < self.times.engine_stop_s))


def windows(time_s: Floats, flags: Flags, shortest_s: float = 0.0) -> Iterator[Window]:
    """Runs of true flags as windows [s], those of at least a length."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    for first, past in edges.reshape(-1, 2):
        end = float(time_s[min(past, time_s.size - 1)])
        if end - time_s[first] >= shortest_s:
            yield float(time_s[first]), end


def offline(known: Known) -> Flags:
    """Grid times at which the battery carries the bus though the engine is fast enough."""
    flags = (known.course.fed_by == BATTERY) & known.could_carry & known.running
    sure = np.zeros_like(flags)
    for begin, end in windows(known.course.time_s, flags, SHORTEST_OUTAGE_S):
        sure |= (known.course.time_s >= begin) & (known.course.time_s < end)
    return np.asarray(sure)


def takes_bus_s(known: Known) -> float | None:
    """When the alternator first feeds bus and battery and goes on doing so for 10 s."""
    course = known.course
    feeding = np.isin(course.fed_by, (REGULATED, LIMITED)) & (course.battery_a > 0.0)
    began = [begin for begin, _ in windows(course.time_s, feeding, 10.0) if begin >= known.times.engine_start_s]
    return began[0] if began else None


def _trip_windows(known: Known) -> list[Window]:
    ends = [*known.course.resets_s, known.times.engine_stop_s]
    return list(zip(known.course.trips_s, ends, strict=False))


def _fault_windows(fault: Fault, known: Known) -> tuple[str, list[Window]]:
    """The finding by which a fault is known in this flight, and when it shows [s from master on]."""
    course, time_s = known.course, known.course.time_s
    inside = fault.inside(time_s)
    match fault:
        case FullField() | Runaway() | NuisanceTrip() | RisingTrip():
            if course.trips_s:
                return "overvoltage_trip", _trip_windows(known)
            over = list(windows(time_s, inside & (course.bus_v > known.overvoltage_v), 2.0))
            if over:
                return "overvoltage", over
            raised = inside & known.running & (course.alternator_a > 0)
            return "regulator_high", list(windows(time_s, raised, 60.0)) if not isinstance(fault, NuisanceTrip) else []
        case FieldOpen() | IntermittentField():
            return fault.name, list(windows(time_s, inside & offline(known)))
        case OutputFade():
            short = inside & known.running & known.could_carry & (course.battery_a < -0.5)
            return fault.name, list(windows(time_s, short, 30.0))
        case Worn():
            return fault.name, [(known.times.cranks[0][0], known.times.engine_start_s)]
        case LeftLow():
            return fault.name, [(0.0, known.times.cranks[0][0])]
        case BatteryFault():
            taken = takes_bus_s(known)
            return fault.name, [] if taken is None else [(taken, known.times.engine_stop_s)]
        case _:
            return fault.name, [(fault.from_s, min(fault.to_s, known.times.engine_stop_s))]


def _hidden(fault: Fault, known: Known) -> bool:
    """Whether the ammeter fitted leaves the fault in doubt: it shows in charging current alone."""
    kinds = {ammeter.kind for ammeter in known.ammeters}
    return (isinstance(fault, NeverSettles) and "battery" not in kinds) or (isinstance(fault, Sulphated) and not kinds)


def known_faults(known: Known) -> tuple[KnownFault, ...]:
    """The faults that show within the log, one entry a window."""
    entries = []
    for fault in known.faults:
        finding, shown = _fault_windows(fault, known)
        others = tuple(name for name in (fault.finding, *fault.accepted) if name != finding)
        entries += [(window, finding, others, fault.tolerated, _hidden(fault, known)) for window in shown]
    if not any(finding == "overvoltage_trip" for _, finding, *_ in entries):
        entries += [(window, "overvoltage_trip", (), (), False) for window in _trip_windows(known)]
    found: dict[tuple[str, Window], KnownFault] = {}
    for (begin, end), finding, others, tolerated, optional in entries:
        begin_s = max(begin, known.log_begins_s) - known.log_begins_s
        end_s = min(end, known.log_ends_s) - known.log_begins_s
        if end_s > begin_s:
            found[finding, (begin_s, end_s)] = KnownFault(
                finding=finding,
                from_s=begin_s,
                to_s=end_s,
                accepted=others,
                tolerated=tolerated,
                optional=optional,
            )
    return tuple(found.values())


def truth_of(known: Known) -> Truth:
    """Everything known of the flight."""
    from analyzer.simulator.true_measures import measures

    begin, end = known.log_begins_s, known.log_ends_s

    def seen(moment: float | None) -> float | None:
        return None if moment is None or not begin <= moment <= end else moment - begin

    time_s = known.course.time_s
    return Truth(
        nominal_voltage=known.nominal_voltage,
        ammeter=known.ammeters[0].kind if known.ammeters else "none",
        sample_period_s=known.period_s,
        first_crank_s=seen(known.times.cranks[0][0]),
        engine_start_s=seen(known.times.engine_start_s),
        engine_stop_s=seen(known.times.engine_stop_s),
        alternator_on_s=seen(takes_bus_s(known)),
        trips_s=tuple(at - begin for at in known.course.trips_s if begin <= at < inf),
        resets_s=tuple(at - begin for at in known.course.resets_s if begin <= at < inf),
        offline=tuple((first - begin, last - begin) for first, last in windows(time_s, offline(known)) if last > begin),
        measures=measures(known),
        faults=known_faults(known),
    )
