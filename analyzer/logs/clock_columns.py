"""Which columns make the clock: found by their headers and the shape of their cells."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from msgspec import Struct

from analyzer.corrections import rests_on_corrections
from analyzer.logs import moments
from analyzer.logs.remembered import HEADS, remembered
from analyzer.logs.units import SECONDS
from analyzer.logs.words import meaning, split_words, unit_of, vocabulary

CLOCK_CONCEPTS = frozenset(
    {"date", "time", "timestamp", "elapsed", "epoch", "counter", "session", "utc", "local", "zone"}
    | {"year", "month", "day", "hour", "minute", "second_of_time", "fraction"}
)
PARTS = ("year", "month", "day", "hour", "minute", "second_of_time")
#: What makes no clock alone.
NEEDS_OTHERS = frozenset({*PARTS, "fraction", "session"})


class ClockColumn(Struct, frozen=True):
    """A column whose header or cells belong to a clock."""

    index: int
    concepts: frozenset[str]
    shape: str | None
    unit: str | None


class ClockPlan(Struct, frozen=True):
    """Which columns the clock is read from, and how."""

    kind: str  # "stamp", "date and time", "parts", "time", "elapsed", "counter", "none"
    columns: tuple[int, ...] = ()
    by_part: tuple[tuple[str, int], ...] = ()
    zone: int | None = None
    utc: bool = False
    other: tuple[int, ...] = ()  # the same moment in UTC, to find the offset by
    unit: str | None = None
    two_parts: bool = False  # "09:12" under a header that does not say what of

    @property
    def needed(self) -> tuple[int, ...]:
        """Columns to read."""
        extra = (self.zone,) if self.zone is not None else ()
        return (*self.columns, *(i for _, i in self.by_part), *self.other, *extra)


@rests_on_corrections
@remembered(4096)
def clock_concepts(name: str) -> frozenset[str]:
    """What a header says of time, when it says nothing else; empty otherwise."""
    known = vocabulary().concepts
    words = split_words(re.sub(r"[\(\[][^)\]]*[\)\]]", " ", name))
    found: set[str] = set()
    at = 0
    while at < len(words):
        for size in range(min(4, len(words) - at), 0, -1):
            concepts = known.get(words[at : at + size], frozenset())
            if concepts & CLOCK_CONCEPTS:
                found |= concepts & CLOCK_CONCEPTS
                at += size
                break
        else:
            unit = unit_of(words[at])
            if "neutral" not in known.get(words[at : at + 1], frozenset()) and unit not in (
                *SECONDS,
                "clock",
            ):
                return frozenset()
            at += 1
    return frozenset(found)


@rests_on_corrections
@remembered(4096)
def means_something_else(name: str) -> bool:
    """Whether every word of time in a header means another thing too: "CAS" is an airspeed and, elsewhere, time."""
    known = vocabulary().concepts
    words = split_words(re.sub(r"[\(\[][^)\]]*[\)\]]", " ", name))
    meanings = [known.get((word,), frozenset()) for word in words]
    of_time = [found for found in meanings if found & CLOCK_CONCEPTS]
    return bool(of_time) and all(found - CLOCK_CONCEPTS - {"neutral", "foreign"} for found in of_time)


@rests_on_corrections
@remembered(HEADS)
def columns_of_time(names: tuple[str, ...]) -> tuple[tuple[int, frozenset[str]], ...]:
    """The columns whose headers say something of time and nothing else, each with what it says."""
    return tuple((index, concepts) for index, name in enumerate(names) if (concepts := clock_concepts(name)))


def _rise(cells: Sequence[str]) -> bool:
    """Whether numbers from the beginning, the middle and the end of a log only ever rise."""
    texts = [cell.replace(",", ".") for cell in cells]
    numbers = [float(text) for text in texts if re.fullmatch(r"[+-]?\d+(?:\.\d+)?", text)]
    return len(numbers) > 2 and numbers == sorted(numbers) and numbers[-1] > numbers[0]


def clock_columns(
    names: tuple[str, ...], units: Sequence[str], sample: Callable[[int], Sequence[str]], taken: frozenset[int]
) -> list[ClockColumn]:
    """Columns that may belong to the clock, by header; by the shape of their cells if no header says so."""
    found = []
    for index, concepts in columns_of_time(names):
        if index not in taken:
            name = names[index]
            unit = meaning(name).unit or (unit_of(units[index]) if units[index] else None)
            cells = sample(index)
            shape = "offset" if "zone" in concepts and _are_offsets(cells) else moments.shape(cells)
            if concepts & {"year", "month", "day"} and not any(_counts(cell) for cell in cells):
                shape = None  # a date that was never set
            if shape == "number" and means_something_else(name) and unit not in SECONDS and not _rise(cells):
                concepts &= NEEDS_OTHERS  # a second of the minute needs hour and minute beside it
                if not concepts:
                    continue
            found.append(ClockColumn(index, concepts, shape, unit))
    if not any(c.shape in ("stamp", "time", "date", "two parts", "number") for c in found):
        for index in range(len(names)):
            shape = moments.shape(sample(index))
            if shape in ("stamp", "date", "time") and index not in taken:
                found.append(ClockColumn(index, frozenset({"time"}), shape, None))
    return found


def named_column(index: int, concept: str, name: str, unit: str, cells: Sequence[str]) -> ClockColumn:
    """A column that the user named for the clock: what its header says of zones counts on, the rest does not."""
    concepts = frozenset({concept}) | (clock_concepts(name) & {"utc", "local"})
    return ClockColumn(index, concepts, moments.shape(cells), meaning(name).unit or (unit_of(unit) if unit else None))


def beside(named: Sequence[ClockColumn], found: Sequence[ClockColumn]) -> list[ClockColumn]:
    """Columns that may go with those that the user named: the date of a time, the time of a date, the zone."""
    said = frozenset[str]().union(*(one.concepts for one in named))
    if "elapsed" in said:
        return []
    of_zones = {"utc", "local"}
    return [one for one in found if one.shape in ("date", "time", "offset") and not one.concepts & said - of_zones]


def _counts(cell: str) -> bool:
    """Whether a cell holds anything but zeros and marks of a missing value."""
    return bool(cell.strip("0. ")) and cell.lower() not in vocabulary().missing


def _are_offsets(cells: Sequence[str]) -> bool:
    """Whether most cells are offsets from UTC."""
    filled = [cell for cell in cells if cell.lower() not in vocabulary().missing]
    return 2 * sum(1 for cell in filled if moments.parse_offset(cell) is not None) > len(filled)


def plan_clock(columns: Sequence[ClockColumn]) -> ClockPlan:
    """The best clock that the columns make: a dated one, else a time of day, elapsed time, a counter."""
    zone = next((c.index for c in columns if c.shape == "offset"), None)
    usable = [c for c in columns if c.shape and c.index != zone and c.concepts - {"zone", "session"}]
    for make in (_stamp_plan, _date_and_time_plan, _parts_plan, _number_plan, _time_plan, _elapsed_plan):
        plan = make(usable, zone)
        if plan:
            return plan
    counter = next((c for c in usable if "counter" in c.concepts and c.shape == "number"), None)
    return ClockPlan("counter", (counter.index,)) if counter else ClockPlan("none")


def _by_place(columns: Sequence[ClockColumn]) -> list[ClockColumn]:
    """Local clocks first, then those that do not say, then UTC."""
    rank = {True: 0, False: 1}
    return sorted(
        columns,
        key=lambda c: 2 if "utc" in c.concepts and "local" not in c.concepts else rank["local" in c.concepts],
    )


def _is_utc(column: ClockColumn) -> bool:
    return "utc" in column.concepts and "local" not in column.concepts


def _stamp_plan(columns: Sequence[ClockColumn], zone: int | None) -> ClockPlan | None:
    found = _by_place([c for c in columns if c.shape == "stamp"])
    if not found:
        return None
    other = next((c.index for c in found[1:] if _is_utc(c) and not _is_utc(found[0])), None)
    others = () if other is None else (other,)
    return ClockPlan("stamp", (found[0].index,), zone=zone, utc=_is_utc(found[0]), other=others)


def _date_and_time_plan(columns: Sequence[ClockColumn], zone: int | None) -> ClockPlan | None:
    dates = [c for c in columns if c.shape == "date" or ("date" in c.concepts and c.shape == "number")]
    times = _by_place([c for c in columns if c.shape in ("time", "two parts") and "elapsed" not in c.concepts])
    times = times or _by_place([c for c in columns if c.shape == "number" and "time" in c.concepts and dates])
    times = [c for c in times if c not in dates]
    if not dates or not times:
        return None
    time = times[0]
    date = min(dates, key=lambda c: (_is_utc(c) != _is_utc(time), abs(c.index - time.index)))
    utc_time = next((c for c in times[1:] if _is_utc(c) and not _is_utc(time)), None)
    columns_in_order = tuple(sorted((date.index, time.index)))
    by_part = (("date", date.index), ("time", time.index))
    other = (utc_time.index,) if utc_time else ()
    return ClockPlan("date and time", columns_in_order, by_part, zone, _is_utc(time), other)


def _parts_plan(columns: Sequence[ClockColumn], zone: int | None) -> ClockPlan | None:
    """Hours, minutes and seconds in columns of their own, with or without year, month and day."""
    numbers = _by_place([c for c in columns if c.shape == "number"])
    found: dict[str, ClockColumn] = {}
    for part in (*PARTS, "fraction"):
        for column in numbers:
            if part in column.concepts and column not in found.values():
                found[part] = column
                break
    if not {"hour", "minute"} <= found.keys():
        return None
    if not {"year", "month", "day"} <= found.keys():
        found = {part: column for part, column in found.items() if part not in ("year", "month", "day")}
        date = next((c for c in columns if c.shape == "date"), None)
        if date:
            found["date"] = date
    if "fraction" in found and not {"second_of_time"} <= found.keys():
        del found["fraction"]
    by_part = tuple((part, column.index) for part, column in found.items())
    indexes = tuple(sorted(column.index for column in found.values()))
    return ClockPlan("parts", indexes, by_part, zone, any(map(_is_utc, found.values())))


def _number_plan(columns: Sequence[ClockColumn], zone: int | None) -> ClockPlan | None:
    """Epoch seconds or spreadsheet days; their values are checked when they are read."""
    for column in columns:
        if column.shape == "number" and column.concepts & {"epoch", "timestamp", "date"}:
            return ClockPlan("number", (column.index,), zone=zone, utc=_is_utc(column), unit=column.unit)
    return None


def _time_plan(columns: Sequence[ClockColumn], zone: int | None) -> ClockPlan | None:
    found = _by_place([c for c in columns if c.shape == "time" and not c.concepts & {"elapsed", "counter"}])
    if found:
        return ClockPlan("time", (found[0].index,), zone=zone, utc=_is_utc(found[0]))
    return None


def _elapsed_plan(columns: Sequence[ClockColumn], zone: int | None) -> ClockPlan | None:
    found = [c for c in columns if c.shape in ("time", "two parts", "number") and "elapsed" in c.concepts]
    found += [c for c in columns if c.shape in ("two parts", "number") and "time" in c.concepts and c not in found]
    if not found:
        return None
    best = min(found, key=lambda c: ("counter" in c.concepts, c.concepts == {"second_of_time"}))
    open_parts = best.shape == "two parts" and "elapsed" not in best.concepts
    return ClockPlan("elapsed", (best.index,), zone=zone, unit=best.unit, two_parts=open_parts)
