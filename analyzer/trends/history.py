"""What trends are made of: one summary a flight, the maintenance entries, and both of one tail in order.

Flights with a clock come first, by their start. Those without one follow in file order: by the name of the file, its
numbers read as numbers, then by their place in the file. Only the former can be set against a date.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from functools import cached_property
from math import isfinite
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft
from analyzer.findings.battery import discharge_before
from analyzer.findings.finding import FindingName, Severity
from analyzer.flights.flight import Flight
from analyzer.measures.measure import MEASURES
from analyzer.results import clock_at
from analyzer.series import Floats, Mask
from analyzer.trends.deduplicate import deduplicate

if TYPE_CHECKING:
    from analyzer.review import FlightReview
    from analyzer.trends.entries import Entry


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure of one flight that could be measured, with its 95 % interval."""

    value: float
    low: float
    high: float


#: Where each measure stands in a table of readings, and the value, low and high of one that was not measured.
_PLACES = {name: place for place, name in enumerate(MEASURES)}
_NOT_MEASURED = (np.nan, np.nan, np.nan)


class ReadingsRow(Mapping[str, Reading]):
    """One flight's readings in a table of many flights': value, low and high of each of ``MEASURES``, NaN for none.

    Thousands of flights are read for few of their measures each, so that a reading is made where it is asked for.
    """

    __slots__ = ("place", "table")

    def __init__(self, table: NDArray[np.float64], place: int) -> None:
        self.table = table
        self.place = place

    @property
    def row(self) -> NDArray[np.float64]:
        """Its own readings."""
        return np.asarray(self.table[self.place])

    def __getitem__(self, name: str) -> Reading:
        value, low, high = self.table[self.place, _PLACES[name]].tolist()
        if not isfinite(value):
            raise KeyError(name)
        return Reading(value, low, high)

    def __iter__(self) -> Iterator[str]:
        told = np.isfinite(self.row[:, 0]).tolist()
        return (name for name, known in zip(MEASURES, told, strict=True) if known)

    def __len__(self) -> int:
        return int(np.isfinite(self.row[:, 0]).sum())


def _row_of(readings: Mapping[str, Reading]) -> NDArray[np.float64]:
    if isinstance(readings, ReadingsRow):
        return readings.row
    told = (readings.get(name) for name in MEASURES)
    return np.array([_NOT_MEASURED if one is None else (one.value, one.low, one.high) for one in told])


@dataclass(frozen=True, slots=True)
class FlightFinding:
    """A finding of one flight, as far as its recurrence needs it."""

    name: FindingName
    severity: Severity


@dataclass(frozen=True, slots=True)
class FlightSummary:
    """One flight as the trends see it."""

    start: datetime | None  # None without a clock
    end: datetime | None
    hours: float  # engine running [h]
    nominal_voltage: int | None  # None where nothing tells
    ammeter: str
    air_start: float | None  # outside air at the start [degC]
    air_flight: float | None  # outside air while the bus is regulated [degC]
    drawn_ah: float | None  # charge drawn before the alternator took the bus [Ah]
    readings: Mapping[str, Reading]
    findings: tuple[FlightFinding, ...] = ()
    file: str = ""  # that it comes from
    number: int = 0  # place in that file
    id: int | None = field(default=None, compare=False)  # in the records


def flights_by_columns(columns: Mapping[str, Sequence[Any]]) -> list[FlightSummary]:
    """Give many flights' summaries by what each of their fields is, flight by flight.

    Their slots are set column by column, which takes a fifth of the time that it takes to make one after the other.
    """
    if len(sizes := {len(columns[one.name]) for one in fields(FlightSummary)}) != 1:
        raise ValueError("every flight needs every field")
    made = [object.__new__(FlightSummary) for _ in range(sizes.pop())]
    for one in fields(FlightSummary):
        filled = map(getattr(FlightSummary, one.name).__set__, made, columns[one.name])
        deque(filled, maxlen=0)  # only goes through them
    return made


@dataclass(frozen=True, slots=True)
class FlightAt:
    """A flight by its place in the tail's history, from 0, and its start."""

    flight: int
    start: datetime | None  # None without a clock


@dataclass(frozen=True, slots=True)
class FlightSpan:
    """Some flights with a clock: how many, and the start of the first and of the last."""

    count: int
    first: datetime
    last: datetime


def span_of(starts: Sequence[datetime]) -> FlightSpan | None:
    """Give the span of some flights by their starts, in order; None for none."""
    return FlightSpan(len(starts), starts[0], starts[-1]) if starts else None


@dataclass(frozen=True)
class History:
    """One tail's flights in order (see above), and what was done to it.

    What is asked of all its flights is worked out once.
    """

    tail: str
    flights: tuple[FlightSummary, ...]
    entries: tuple[Entry, ...] = ()
    aircraft: Aircraft = field(default=UNKNOWN_AIRCRAFT)
    left_out: int = 0  # flights without a clock that no moment can be set against (see ``until``)

    @cached_property
    def begun(self) -> list[datetime]:
        """When the flights with a clock began, in order; they are the first of all."""
        return [flight.start for flight in self.flights if flight.start is not None]

    @property
    def without_clock(self) -> int:
        """Flights without a clock."""
        return len(self.flights) - len(self.begun)

    @cached_property
    def flown(self) -> Floats:
        """Engine hours at each flight's start, and at the end of the last one (n + 1,) [h]."""
        return np.cumsum([0.0, *(flight.hours for flight in self.flights)])

    @cached_property
    def clocked(self) -> Mask:
        """Whether each flight has a clock (n,)."""
        return np.array([flight.start is not None for flight in self.flights], dtype=np.bool_)

    @cached_property
    def air_start(self) -> Floats:
        """Outside air at each start (n,) [degC], NaN where not recorded."""
        return np.array([flight.air_start for flight in self.flights], dtype=np.float64)

    @cached_property
    def air_flight(self) -> Floats:
        """Outside air in each flight (n,) [degC], NaN where not recorded."""
        return np.array([flight.air_flight for flight in self.flights], dtype=np.float64)

    @cached_property
    def _table(self) -> NDArray[np.float64]:
        readings = [flight.readings for flight in self.flights]
        together = [one for one in readings if isinstance(one, ReadingsRow)]
        if together and len(together) == len(readings) and len({id(one.table) for one in together}) == 1:
            return np.asarray(together[0].table[[one.place for one in together]])  # many times sooner than row by row
        rows = [_row_of(one) for one in readings]
        return np.concatenate(rows or [np.empty(0)]).reshape(-1, len(MEASURES), len(_NOT_MEASURED))

    def shown(self, measure: str) -> NDArray[np.float64]:
        """Value, low and high of a measure in each flight (n, 3), NaN where it could not be measured."""
        return self._table[:, _PLACES[measure]]

    def first_from(self, moment: datetime) -> int:
        """Place of the first flight that is known to have begun at a moment or later; past the last where none is."""
        begun = self.begun
        place = bisect_left(begun, moment)
        return place if place < len(begun) else len(self.flights)

    def day(self, place: int) -> str:
        """Name the flight at a place: its day, or its number in file order where it has no clock."""
        start = self.flights[place].start
        return f"flight {place + 1}" if start is None else f"{start:%Y-%m-%d}"

    @property
    def hours(self) -> float:
        """Engine hours recorded [h]."""
        return float(sum(flight.hours for flight in self.flights))

    @cached_property
    def nominal_voltage(self) -> int | None:
        """Nominal voltage of most of the flights that tell it [V]; the fleet file's, or None, where none does."""
        told = [flight.nominal_voltage for flight in self.flights if flight.nominal_voltage is not None]
        if self.flights and not told:
            return self.aircraft.nominal_voltage
        return 28 if 2 * told.count(28) > len(told) else 14

    def until(self, moment: datetime | None) -> History:
        """Give the history as it was at a moment: flights begun and entries made up to it; all of it for None.

        Flights without a clock are left out, and counted: nothing tells whether they had begun.
        """
        if moment is None:
            return self
        return History(
            self.tail,
            tuple(flight for flight in self.flights if flight.start is not None and flight.start <= moment),
            tuple(entry for entry in self.entries if entry.when <= moment),
            self.aircraft,
            self.left_out + self.without_clock,
        )


def history_of(
    tail: str,
    flights: Iterable[FlightSummary],
    entries: Sequence[Entry] = (),
    aircraft: Aircraft = UNKNOWN_AIRCRAFT,
) -> History:
    """Give a tail's history in order, each flight once.

    Which of two copies of a flight counts is told by ``deduplicate``; of equally long ones that with more readings.
    Without a clock a flight is a copy of another whose readings are all the same.
    """
    given = list(flights)
    timed = [one for one in given if one.start is not None and one.end is not None]
    kept = deduplicate(timed, attrgetter("start", "end"), _fullness).kept
    bare = [one for one in given if one.start is None or one.end is None]
    bare.sort(key=_fullness, reverse=True)
    kept += _without_copies(sorted(bare, key=lambda one: in_file_order(one.file, one.number)))
    return History(tail, tuple(kept), tuple(sorted(entries, key=lambda entry: entry.when)), aircraft)


def _fullness(flight: FlightSummary) -> tuple[int, float]:
    """Key that brings the flights with most readings last, of those the longest."""
    return len(flight.readings), flight.hours


def in_file_order(file: str, number: int) -> tuple[list[tuple[int, str]], str, int]:
    """Key that brings flights into file order: the file's name, its numbers as numbers, then the place in it."""
    parts = re.split(r"(\d+)", file.rpartition("/")[2].casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts], file, number


def _without_copies(flights: Iterable[FlightSummary]) -> list[FlightSummary]:
    kept: list[FlightSummary] = []
    for one in flights:
        same = one.readings and any(own.hours == one.hours and own.readings == one.readings for own in kept)
        kept += [] if same else [one]
    return kept


def summarize(review: FlightReview, file: str = "", number: int = 0) -> FlightSummary:
    """Give a flight's summary; ``file`` is the file that it comes from, ``number`` its place in it."""
    flight = review.flight
    start, end = (clock_at(flight.clock_start, seconds) for seconds in (flight.from_s, flight.to_s))
    readings = {
        name: Reading(measure.value, measure.low, measure.high)
        for name, measure in review.measures.items()
        if measure.value is not None and measure.low is not None and measure.high is not None
    }
    air_start, air_flight, drawn = circumstances(review)
    return FlightSummary(
        start=start,
        end=end,
        hours=flight_hours(flight),
        nominal_voltage=flight.nominal_voltage,
        ammeter=flight.ammeter.kind,
        air_start=air_start,
        air_flight=air_flight,
        drawn_ah=drawn,
        readings=readings,
        findings=tuple(FlightFinding(finding.name, finding.severity) for finding in review.findings),
        file=file,
        number=number,
    )


def flight_hours(flight: Flight) -> float:
    """Time with the engine running [h]."""
    return max(0.0, flight.stop_s - float(flight.trace.time[flight.run.start])) / 3600.0


def circumstances(review: FlightReview) -> tuple[float | None, float | None, float | None]:
    """Give the air at the start and in flight [degC], and the charge drawn before the alternator came on [Ah].

    The charge is not known where the log begins with the engine running.
    """
    drawn = None
    if not review.flight.begins_running:
        drawn = round(discharge_before(review.flight, dict(review.measures)), 3)
    return *_air(review.flight), drawn


def _air(flight: Flight) -> tuple[float | None, float | None]:
    """Outside air at the start and while the bus is regulated [degC]."""
    air = flight.trace.outside_air_temperature
    if air is None:
        return None, None
    rows = flight.regulated
    start = flight.air_at_start
    return round(start, 2) if isfinite(start) else None, _middle(air[rows] if rows.any() else air[flight.running])


def _middle(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float | None:
    known = values[np.isfinite(values)]
    return round(float(np.median(known)), 2) if known.size else None
