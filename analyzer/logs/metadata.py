"""What lines above the header say of time: when the log starts, and how far apart its rows are."""

from __future__ import annotations

import re
from collections.abc import Sequence

from analyzer.logs import moments
from analyzer.logs.numbers import parse_cell
from analyzer.logs.tail import pairs
from analyzer.logs.units import SECONDS
from analyzer.logs.words import split_words, unit_of, vocabulary

#: Neither a step nor a rate of a recorder lies outside these [s or 1/s]; in milliseconds a step may have thousands.
SHORTEST_S, LONGEST_S = 1e-4, 1e6
_KILOHERTZ = re.compile(r"\bkHz\b", re.IGNORECASE)


def period(metadata: Sequence[str], delimiter: str) -> float | None:
    """Seconds between rows that a line above the header gives, as a rate or as an interval."""
    kinds = vocabulary().metadata
    for name, value in pairs(metadata, delimiter):
        words = [w for w in split_words(_KILOHERTZ.sub("", name)) if unit_of(w) not in SECONDS and w != "hz"]
        phrase = " ".join(words)
        found = re.match(r"(?:every\s+|alle\s+)?([\d.,]+)\s*(.*)", value.strip())
        number = (
            parse_cell(found[1], ",") if found and "," in found[1] else parse_cell(found[1], ".") if found else None
        )
        if not found or not isinstance(number, float) or not SHORTEST_S <= number <= LONGEST_S:
            continue
        unit = unit_of(found[2].split()[0]) if found[2].split() else None
        unit = unit or next((unit_of(w) for w in split_words(name) if unit_of(w) in SECONDS), None)
        if phrase in kinds["interval"] or (phrase in kinds["rate"] and unit in SECONDS):
            return number * SECONDS.get(unit or "s", 1.0)
        if phrase in kinds["rate"]:
            return 1.0 / (1000.0 * number if _KILOHERTZ.search(f"{name} {found[2]}") else number)
    return None


def start(metadata: Sequence[str], delimiter: str, hints: str) -> tuple[float | None, float | None, bool]:
    """When the log starts, as a line above the header says.

    Returns
    -------
    Day number or None; seconds of the day or None; whether the order of day and month is certain.
    """
    day: float | None = None
    clock: float | None = None
    certain = True
    names = vocabulary().metadata["start"]
    hinted = moments.hinted_order(hints)
    for name, value in pairs(metadata, delimiter):
        if " ".join(split_words(name)) not in names:
            continue
        for order in ("ymd", hinted or "dmy", "mdy"):
            stamp = moments.parse_stamp(value, order)
            found = stamp[0] if stamp else moments.parse_date(value, order)
            if found is not None and day is None:
                day = float(found)
                certain = order == "ymd" or hinted is not None or _reads_one_way(value)
                clock = stamp[1] if stamp else clock
                break
        if clock is None and (time := moments.parse_time(value)):
            clock = time[0]
    return day, clock, certain


def _reads_one_way(value: str) -> bool:
    """Whether a date reads the same, or not at all, with day and month changed over."""
    days = {found for order in ("dmy", "mdy") if (found := _day_in(value, order)) is not None}
    return len(days) == 1 or re.match(r"\d{1,2}\.", value.strip()) is not None


def _day_in(value: str, order: moments.Order) -> float | None:
    stamp = moments.parse_stamp(value, order)
    return stamp[0] if stamp else moments.parse_date(value, order)
