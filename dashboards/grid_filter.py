"""Whether a cell passes the filter that a person set on its column, as the grid writes it down."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

#: What is asked of a word and of what is looked for, both in small letters.
WORDS: dict[str, Callable[[str, str], bool]] = {
    "contains": lambda word, wanted: wanted in word,
    "notContains": lambda word, wanted: wanted not in word,
    "equals": lambda word, wanted: word == wanted,
    "notEqual": lambda word, wanted: word != wanted,
    "startsWith": lambda word, wanted: word.startswith(wanted),
    "endsWith": lambda word, wanted: word.endswith(wanted),
}
#: What is asked of a number, of what it is compared with, and of the end of a range.
NUMBERS: dict[str, Callable[[float, float, float], bool]] = {
    "equals": lambda number, wanted, _: number == wanted,
    "notEqual": lambda number, wanted, _: number != wanted,
    "lessThan": lambda number, wanted, _: number < wanted,
    "lessThanOrEqual": lambda number, wanted, _: number <= wanted,
    "greaterThan": lambda number, wanted, _: number > wanted,
    "greaterThanOrEqual": lambda number, wanted, _: number >= wanted,
    "inRange": lambda number, wanted, last: wanted < number < last,
}


def passes(value: Any, asked: dict[str, Any]) -> bool:
    """Whether a cell passes a filter of its column: one condition, or some of which all or any must hold.

    Raises
    ------
    KeyError, ValueError, TypeError
        When the filter is none that the grid writes.
    """
    if "conditions" in asked:
        held = (_holds(value, one) for one in asked["conditions"])
        return all(held) if asked["operator"] == "AND" else any(held)
    return _holds(value, asked)


def _holds(value: Any, asked: dict[str, Any]) -> bool:
    kind = asked["type"]
    if kind in ("blank", "notBlank"):
        empty: bool = value is None or value == ""
        return empty if kind == "blank" else not empty
    if asked["filterType"] == "number":
        wanted, last = float(asked["filter"]), float(asked.get("filterTo") or 0.0)
        return value is not None and NUMBERS[kind](float(value), wanted, last)
    return WORDS[kind](str("" if value is None else value).lower(), str(asked["filter"]).lower())
