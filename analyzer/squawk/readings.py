"""Numbers in a report's words: which of them are volts, and what so many volts mean."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)*")
#: What can be volts: "15", "15.2", in some countries "15,2"; not "1,800".
_VOLTS = re.compile(r"[0-9]+(?:[.,][0-9]{1,2})?")


@dataclass(frozen=True, slots=True)
class Notion:
    """A notion found in one part of the report: tokens ``first`` up to ``end``."""

    name: str
    first: int
    end: int


@dataclass(frozen=True, slots=True)
class Readings:
    """How numbers are read as volts; each as the vocabulary's file says."""

    spans: Mapping[str, tuple[tuple[float, float], ...]]  # notion -> from, up to [V], of 14 V and of 28 V aircraft
    written: Mapping[str, str]  # notion -> how a person writes it, around its numbers
    notions: Mapping[str, frozenset[str]]  # what they tell about a number -> notions
    words: Mapping[str, frozenset[str]]  # the same -> words
    nominal: frozenset[float]  # voltages that are a name [V]
    named_by_them: tuple[str, ...]  # patterns of what is named so

    def phrase(self, notion: str) -> str:
        """A notion for a person: numbers in place of a reading's name."""
        if notion not in self.spans:
            return notion
        return self.written[notion].format(" or ".join(f"{first:g} to {end:g}" for first, end in self.spans[notion]))


def readings_of(document: Mapping[str, Any]) -> Readings:
    """Take the readings out of the vocabulary's file."""
    spans = {
        notion: tuple((float(first), float(end)) for first, end in one["volts"])
        for notion, one in document["readings"].items()
    }
    written = {notion: one["words"] for notion, one in document["readings"].items()}
    named = document["number_names"]
    return Readings(
        spans,
        written,
        {name: frozenset(listed) for name, listed in document["number_notions"].items()},
        {name: frozenset(listed) for name, listed in document["number_words"].items()},
        frozenset(named["nominal"]),
        tuple(named["named_by_them"]),
    )


def is_written(token: str, pattern: str) -> bool:
    """Whether a word is written as a pattern of the vocabulary says: "#" any number, an asterisk any ending."""
    if pattern == "#":
        return NUMBER.fullmatch(token) is not None
    return token.startswith(pattern[:-1]) if pattern.endswith("*") else token == pattern


def volts_read(
    tokens: Sequence[str], notions: Sequence[Notion], readings: Readings, going_on: frozenset[str]
) -> Iterator[Notion]:
    """Give the numbers of one part that are volts, as the notions that they mean.

    Parameters
    ----------
    tokens : words of one part of the report
    notions : found in it, in order
    readings : of the vocabulary
    going_on : words after which a whole number may still be volts: "at 15 in cruise"
    """
    meant = _meant_by(frozenset(one.name for one in notions), readings)
    for place, token in enumerate(tokens):
        if meant and _VOLTS.fullmatch(token) and _is_volts(place, tokens, notions, readings, going_on):
            volts = float(token.replace(",", "."))
            for notion in meant:
                if any(first <= volts < end for first, end in readings.spans[notion]):
                    yield Notion(notion, place, place + 1)


def _meant_by(named: frozenset[str], readings: Readings) -> tuple[str, ...]:
    """What numbers can mean beside these notions: a battery at rest is judged otherwise than a bus that is fed."""
    beside = {name: bool(named & notions) for name, notions in readings.notions.items()}
    if beside["swing"]:
        return ()
    if beside["cranking"] and not beside["engine_stands"]:
        return ("high_volts",)
    at_rest = beside["engine_stands"] or (beside["battery"] and not beside["engine_runs"])
    return ("high_volts", "flat_volts" if at_rest else "low_volts")


def _is_volts(
    place: int, tokens: Sequence[str], notions: Sequence[Notion], readings: Readings, going_on: frozenset[str]
) -> bool:
    """Whether a number is volts by the unit behind it or by what is named last before it."""
    whole = tokens[place].isdigit()
    before, after = tokens[place - 1] if place else "", tokens[place + 1] if place + 1 < len(tokens) else ""
    if before in readings.words["changed_from"]:
        return False
    next_to_it = {one.name for one in notions if one.first == place + 1}
    naming = readings.notions["volts"] | readings.notions["battery"] | readings.notions["amperes"]
    if next_to_it & readings.notions["volts"] and not _names_the_next(place, tokens, notions, naming):
        return not (whole and _is_a_name(place, tokens, readings))
    if after in readings.words["other_units"] or (
        whole and after and after not in going_on and not next_to_it & readings.notions["circumstances"]
    ):
        return False
    named = [one.name for one in notions if one.end <= place and one.name in naming]
    return bool(named) and (
        named[-1] in readings.notions["volts"] or (named[-1] in readings.notions["battery"] and not whole)
    )


def _names_the_next(place: int, tokens: Sequence[str], notions: Sequence[Notion], naming: frozenset[str]) -> bool:
    """Whether the word behind a number names the next number: "amps 16 volts 14.1"."""
    return bool(NUMBER.fullmatch("".join(tokens[place + 2 : place + 3]))) and any(
        one.end == place and one.name in naming for one in notions
    )


def _is_a_name(place: int, tokens: Sequence[str], readings: Readings) -> bool:
    """Whether volts only say which kind: "a 12 volt battery"."""
    behind = tokens[place + 2] if place + 2 < len(tokens) else ""
    return float(tokens[place]) in readings.nominal and any(
        is_written(behind, pattern) for pattern in readings.named_by_them
    )
