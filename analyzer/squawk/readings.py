"""Numbers in a report's words: which of them are volts or amperes, and what so many mean."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)*")
#: What can be volts or amperes: "15", "15.2", in some countries "15,2"; not "1,800".
_READING = re.compile(r"[0-9]+(?:[.,][0-9]{1,2})?")
DECIMAL = re.compile(r"[0-9]+[.,][0-9]{1,2}")
#: Words between "normally" and the number that was usual, and from it to its unit.
_USUAL_REACH = 3
#: Concepts that a number can mean.
USUAL = "usual"
COMPARED = ("above_usual_volts", "below_usual_volts", "above_usual_amps", "below_usual_amps")
CHARGING_AMPS, MINUS_AMPS = "charging_amps", "minus_amps"
ABSURD_AMPS, HIGH_VOLTS = "absurd_amps", "high_volts"
_LOW_VOLTS, _CRANK_VOLTS = "low_volts", "crank_volts"
#: A number and the meter that it is read off.
_ON_A_METER = "than_reference"
#: What says that an aircraft has 28 V.
A_SHIP, _OF_28_V = "a_ship", frozenset({"24", "28"})
#: Concepts that a number of volts can mean.
ABSURD_VOLTS = "absurd_volts"
VOLTS_READ = frozenset({HIGH_VOLTS, "low_volts", "flat_volts", "crank_volts", "terminal_volts", ABSURD_VOLTS})
_MINUS, _PLUS = frozenset({"minus", "negative"}), "plus"
#: A number at which it begins is its rating: "5 A fuse".
_RATED = "breaker"
#: Words that make a number a limit.
UPPER_LIMIT, LOWER_LIMIT = "upper_limit", "lower_limit"
#: What two meters' readings mean that differ.
_DIFFERS = "differs"
#: Words between readings in a row: "19 then 6 then 14".
_NEXT = frozenset({"then", "to", "and"})
#: What readings in a row that go up and down mean.
_JUMPS = "jumps"
#: What the numbers of a reading are called in the file.
_NUMBERS = ("volts", "amperes", "number")


@dataclass(frozen=True, slots=True)
class Concept:
    """A concept found in one part of the report: tokens ``first`` up to ``end``."""

    name: str
    first: int
    end: int


@dataclass(frozen=True, slots=True)
class AgainstUsual:
    """How far a reading must stand from what was usual to mean something."""

    volts: float  # of a 14 V aircraft [V]
    amperes: float  # [A]
    times: float  # a higher current is as many times the usual one at least [1]
    share: float  # a lower one is this share of it at most [1]
    system_over: float  # a voltage above this is of a 28 V aircraft [V]
    bus_from: float  # and what two meters read of a bus lies from here [V]
    bus_to: float  # to here [V]


@dataclass(frozen=True, slots=True)
class Readings:
    """How numbers are read as volts and amperes; each as the vocabulary's file says."""

    spans: Mapping[
        str, tuple[tuple[float, float], ...]
    ]  # concept -> from, up to [V or A], volts of 14 and 28 V aircraft
    units: Mapping[str, frozenset[str]]  # concept -> the units of which one must follow the number, where it has any
    written: Mapping[str, str]  # concept -> how a person writes it, around its numbers
    concepts: Mapping[str, frozenset[str]]  # what they tell about a number -> concepts
    words: Mapping[str, frozenset[str]]  # the same -> words
    nominal: frozenset[float]  # voltages that are a name [V]
    named_by_them: tuple[str, ...]  # patterns of what is named so
    against_usual: AgainstUsual
    up_and_down: Mapping[str, float]  # readings in a row that no trend explains: so many, so far apart [V or A]

    def phrase(self, concept: str) -> str:
        """A concept for a person: numbers in place of a reading's name."""
        if concept not in self.spans:
            return concept
        return self.written[concept].format(" or ".join(f"{first:g} to {end:g}" for first, end in self.spans[concept]))

    def holds(self, concept: str, value: float) -> bool:
        """Whether so many volts or amperes mean a concept."""
        return any(first <= value < end for first, end in self.spans[concept])


def readings_of(document: Mapping[str, Any]) -> Readings:
    """Take the readings out of the vocabulary's file."""
    spans = {
        concept: tuple(
            (float(first), float(end)) for first, end in one.get("volts") or one.get("amperes") or one["number"]
        )
        for concept, one in document["readings"].items()
    }
    units = {concept: frozenset(one["units"]) for concept, one in document["readings"].items() if "units" in one}
    written = {concept: one["words"] for concept, one in document["readings"].items()}
    named = document["number_names"]
    return Readings(
        spans,
        units,
        written,
        {name: frozenset(listed) for name, listed in document["number_concepts"].items()},
        {name: frozenset(listed) for name, listed in document["number_words"].items()},
        frozenset(named["nominal"]),
        tuple(named["named_by_them"]),
        AgainstUsual(**document["against_usual"]),
        document["up_and_down"],
    )


def is_written(token: str, pattern: str) -> bool:
    """Whether a word is written as a pattern of the vocabulary says: "#" any number, an asterisk any ending."""
    if pattern == "#":
        return NUMBER.fullmatch(token) is not None
    return token.startswith(pattern[:-1]) if pattern.endswith("*") else token == pattern


def numbers_read(
    tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings, going_on: frozenset[str]
) -> Iterator[Concept]:
    """Give the numbers of one part that are volts or amperes, as the concepts that they mean.

    Parameters
    ----------
    tokens : words of one part of the report
    concepts : found in it, in order
    readings : of the vocabulary
    going_on : words after which a whole number may still be volts: "at 15 in cruise"
    """
    compared = _against_usual(tokens, concepts, readings)
    yield from (one for one in compared if one.name != USUAL)
    belied = _belied(tokens, concepts, readings)
    yield from belied
    swings = list(_up_and_down(tokens, readings))
    yield from swings
    taken = {one.first for one in compared} | {one.first for one in concepts if one.name == _RATED}
    taken |= {place for one in swings + belied for place in range(one.first, one.end)}
    meant = _meant_by(concepts, readings)
    for place, token in enumerate(tokens):
        if place in taken or not _READING.fullmatch(token):
            continue
        value = _value(token)
        yield from (Concept(concept, place, place + 1) for concept in _by_unit(place, tokens, value, readings))
        if meant and _is_volts(place, tokens, concepts, readings, going_on | readings.words["may_follow"]):
            yield from (Concept(one, place, place + 1) for one in _volts_mean(value, meant, tokens, concepts, readings))
        elif readings.holds(CHARGING_AMPS, value) and _is_charge(place, tokens, concepts, readings):
            yield Concept(CHARGING_AMPS, place, place + 1)
        elif readings.holds(ABSURD_AMPS, value) and _is_amperes(place, tokens, concepts, readings):
            yield Concept(ABSURD_AMPS, place, place + 1)
        elif readings.holds(MINUS_AMPS, value) and _is_drawn(place, tokens, readings):
            yield Concept(MINUS_AMPS, place, place + 1)
        elif DECIMAL.fullmatch(token) and _stands_alone(place, tokens, concepts, readings, going_on):
            yield from (Concept(one, place, place + 1) for one in _bare_volts(value, concepts, readings))
        elif _is_signed_alone(place, tokens, concepts, readings, going_on):
            sign = MINUS_AMPS if tokens[place - 1] in _MINUS else CHARGING_AMPS
            yield from [Concept(sign, place, place + 1)] if readings.holds(sign, value) else []


def _volts_mean(
    value: float, meant: Sequence[str], tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings
) -> Iterator[str]:
    """What so many volts mean of all that they can; where a 28 V aircraft is cranked, half as many as at 14 V."""
    named = next((one for one in concepts if one.name == A_SHIP), None)
    if _CRANK_VOLTS in meant and named is not None and _OF_28_V.intersection(tokens[named.first : named.end]):
        yield from [_CRANK_VOLTS] if readings.holds(_CRANK_VOLTS, value / 2.0) else []
        return
    yield from (one for one in (*meant, ABSURD_VOLTS) if readings.holds(one, value))


def _bare_volts(value: float, concepts: Sequence[Concept], readings: Readings) -> Iterator[str]:
    """What a number means that nothing else speaks of: high by itself, low where it falls as the engine runs."""
    names = {one.name for one in concepts}
    if names & readings.concepts["cranking"]:
        means = _CRANK_VOLTS
    elif names & readings.concepts["engine_runs"] and names & readings.concepts["falls"]:
        means = _LOW_VOLTS
    else:
        means = HIGH_VOLTS
    yield from [means] if readings.holds(means, value) else []


def _up_and_down(tokens: Sequence[str], readings: Readings) -> Iterator[Concept]:
    """Give readings in a row that go up and down as a gauge that jumps: "14.1, 0.0, 14.1, 22"."""
    place = 0
    while place < len(tokens):
        end = place
        while end < len(tokens) and (_READING.fullmatch(tokens[end]) or (end > place and tokens[end] in _NEXT)):
            end += 1
        row = [_value(token) for token in tokens[place:end] if token not in _NEXT]
        a_trend = row in (sorted(row), sorted(row, reverse=True))
        far = readings.up_and_down
        if len(row) >= far["readings"] and not a_trend and max(row) - min(row) > far["apart"]:
            yield Concept(_JUMPS, place, end)
        place = max(end, place + 1)


def _belied(tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> list[Concept]:
    """Two voltages, one of them by a second meter, that lie as far apart as a fault: the gauge is wrong."""
    if not any(one.name in readings.concepts["second_meter"] for one in concepts):
        return []
    far = readings.against_usual
    numbers = [place for place, token in enumerate(tokens) if _READING.fullmatch(token)]
    places = [place for place in numbers if far.bus_from <= _value(tokens[place]) < far.bus_to]
    decimal = [place for place in places if DECIMAL.fullmatch(tokens[place])]
    if len(places) != 2 or not decimal:
        return []
    low, high = sorted(_value(tokens[place]) for place in places)
    apart = far.volts * (2.0 if low > far.system_over else 1.0)
    return [Concept(_DIFFERS, place, place + 1) for place in places] if apart <= high - low < low else []


def _by_unit(place: int, tokens: Sequence[str], value: float, readings: Readings) -> Iterator[str]:
    """Give what a number means by the unit behind it alone: "62 C"."""
    behind = [one for one in tokens[place + 1 : place + 3] if one not in readings.words["degrees"]]
    for concept, units in readings.units.items():
        if behind and behind[0] in units and readings.holds(concept, value):
            yield concept


def _value(token: str) -> float:
    return float(token.replace(",", "."))


def _a_meter_swings(concepts: Sequence[Concept], readings: Readings) -> bool:
    """Whether something swings or jumps that is no light: in "volts 15.5 and lights pulsing" the number stands."""
    of_meters = readings.concepts["volts"] | readings.concepts["amperes"] | readings.concepts["battery"]
    owners = [one for one in concepts if one.name in of_meters | readings.concepts["not_of_meters"]]
    for swing in (one for one in concepts if one.name in readings.concepts["swing"]):
        before = [one.name for one in owners if one.end <= swing.first]
        if not before or before[-1] not in readings.concepts["not_of_meters"]:
            return True
    return False


def _meant_by(concepts: Sequence[Concept], readings: Readings) -> tuple[str, ...]:
    """What numbers can mean beside these concepts: a battery at rest is judged otherwise than a bus that is fed."""
    named = frozenset(one.name for one in concepts)
    beside = {name: bool(named & listed) for name, listed in readings.concepts.items()}
    if _a_meter_swings(concepts, readings):
        return ()
    if beside["cranking"] and not beside["engine_stands"]:
        return ("high_volts", "crank_volts")
    if beside["terminals"] and not beside["engine_runs"]:
        return ("high_volts", "terminal_volts")
    at_rest = beside["engine_stands"] or (beside["battery"] and not beside["engine_runs"])
    return ("high_volts", "flat_volts", "terminal_volts") if at_rest else ("high_volts", "low_volts")


def _is_volts(
    place: int, tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings, going_on: frozenset[str]
) -> bool:
    """Whether a number is volts by the unit behind it or by what is named last before it."""
    whole = tokens[place].isdigit()
    before, after = tokens[place - 1] if place else "", tokens[place + 1] if place + 1 < len(tokens) else ""
    if before in readings.words["changed_from"] or before in _MINUS:
        return False
    next_to_it = {one.name for one in concepts if one.first == place + 1}
    naming = readings.concepts["volts"] | readings.concepts["battery"] | readings.concepts["amperes"]
    if next_to_it & readings.concepts["volts"] and not _names_the_next(place, tokens, concepts, naming):
        return not (whole and _is_a_name(place, tokens, readings))
    if after in readings.words["other_units"] or (
        whole and after and after not in going_on and not next_to_it & readings.concepts["circumstances"]
    ):
        return False
    if _is_read_off(place, tokens, concepts, readings) if whole else _stands_before_volts(place, concepts, readings):
        return True
    named = [one.name for one in concepts if one.end <= place and one.name in naming]
    return bool(named) and (
        named[-1] in readings.concepts["volts"] or (named[-1] in readings.concepts["battery"] and not whole)
    )


def _is_read_off(place: int, tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> bool:
    """Whether a whole number that would be high volts is read off what follows it: "16 and a bit on the voltmeter"."""
    behind = place + 1
    while behind < len(tokens) and tokens[behind] in readings.words["read_off"]:
        behind += 1
    named = any(one.first == behind and one.name in readings.concepts["volts"] for one in concepts)
    return named and "on" in tokens[place:behind] and readings.holds(HIGH_VOLTS, _value(tokens[place]))


def _names_the_next(place: int, tokens: Sequence[str], concepts: Sequence[Concept], naming: frozenset[str]) -> bool:
    """Whether the word behind a number names the next number: "amps 16 volts 14.1"."""
    return bool(NUMBER.fullmatch("".join(tokens[place + 2 : place + 3]))) and any(
        one.end == place and one.name in naming for one in concepts
    )


def _is_a_name(place: int, tokens: Sequence[str], readings: Readings) -> bool:
    """Whether volts only say which kind: "a 12 volt battery"."""
    behind = tokens[place + 2] if place + 2 < len(tokens) else ""
    return _value(tokens[place]) in readings.nominal and any(
        is_written(behind, pattern) for pattern in readings.named_by_them
    )


def _is_amperes(place: int, tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> bool:
    """Whether a number is amperes, by the unit behind it or by what is named last before it."""
    after = tokens[place + 1] if place + 1 < len(tokens) else ""
    if after in readings.words["amperes_behind"]:
        return True
    if after in readings.words["other_units"] or after == "or" or NUMBER.fullmatch(after):
        return False
    naming = readings.concepts["volts"] | readings.concepts["amperes"]
    named = [one.name for one in concepts if one.end <= place and one.name in naming]
    return bool(named) and named[-1] in readings.concepts["amperes"]


def _is_charge(place: int, tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> bool:
    """Whether a number is amperes of charge: by a plus sign, or since the battery or its charge is named."""
    if not _is_amperes(place, tokens, concepts, readings) and not _stands_before_amperes(place, concepts, readings):
        return False
    sign = tokens[place - 1] if place else ""
    if _goes_both_ways(tokens):
        return False
    if sign in readings.words["charging_sign"] or sign in _MINUS:
        return sign not in _MINUS
    named = {one.name for one in concepts}
    return bool(named & readings.concepts["charge"])


def _goes_both_ways(tokens: Sequence[str]) -> bool:
    """Whether numbers below and above zero stand together: "between -30 and +45" is no charge."""
    signs = {sign for sign, number in pairwise(tokens) if NUMBER.fullmatch(number)}
    return _PLUS in signs and bool(_MINUS & signs)


def _is_drawn(place: int, tokens: Sequence[str], readings: Readings) -> bool:
    """Whether a number is amperes by the unit behind it, and below zero: "-8 A", but not "+/- 8 A"."""
    signed = list(tokens[max(place - 2, 0) : place])
    return (
        bool(_MINUS.intersection(signed[-1:]))
        and signed[:1] != [_PLUS]
        and not _goes_both_ways(tokens)
        and bool(readings.words["amperes_behind"].intersection(tokens[place + 1 : place + 2]))
    )


def _is_signed_alone(
    place: int, tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings, going_on: frozenset[str]
) -> bool:
    """Whether a number has a sign and nothing else speaks of what it is: "+25 the entire flight" is of an ammeter."""
    signed = list(tokens[max(place - 2, 0) : place])
    if not {_PLUS, *_MINUS}.intersection(signed[-1:]) or (signed[0] == _PLUS and signed[-1] in _MINUS):
        return False
    if _goes_both_ways(tokens):
        return False
    if any(one.name in readings.concepts["cranking"] for one in concepts):
        return False
    return _stands_alone(place, tokens, concepts, readings, going_on)


def _stands_alone(
    place: int, tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings, going_on: frozenset[str]
) -> bool:
    """Whether nothing in a part speaks of what a number is: no unit, and no word that is not known."""
    known = {each for one in concepts for each in range(one.first, one.end)}
    units = readings.words["other_units"] | {"or"}
    amperes = any(one.name in readings.concepts["amperes"] for one in concepts)
    others = readings.concepts["volts"] | readings.concepts["swing"]
    signed = place > 0 and tokens[place - 1] in {_PLUS, *_MINUS}
    of_others = [one for one in concepts if one.name in others and not (signed and _is_a_unit(one, tokens))]
    return (
        not of_others
        and not units.intersection(tokens[place + 1 : place + 2])
        and not (amperes and DECIMAL.fullmatch(tokens[place]))
        and all(each in known or word in going_on or NUMBER.fullmatch(word) for each, word in enumerate(tokens))
    )


def _is_a_unit(one: Concept, tokens: Sequence[str]) -> bool:
    """Whether a word only says of what the number before it is so many: "+35 and 30.8 V"."""
    return one.end == one.first + 1 and one.first > 0 and NUMBER.fullmatch(tokens[one.first - 1]) is not None


def _stands_before_amperes(place: int, concepts: Sequence[Concept], readings: Readings) -> bool:
    """Whether a number stands by itself shortly before an ammeter that is named: "+15 on the ammeter"."""
    return any(one.name in readings.concepts["amperes"] and place < one.first <= place + 3 for one in concepts)


def _stands_before_volts(place: int, concepts: Sequence[Concept], readings: Readings) -> bool:
    """Whether a number stands shortly before a voltmeter or bus that is named, and behind none: "15.9 on the bus".

    Or it is what a meter reads: "15.6 on the meter".
    """
    if any(one.name == _ON_A_METER and one.first == place for one in concepts):
        return True
    named = [one for one in concepts if one.name in readings.concepts["volts"] | readings.concepts["amperes"]]
    return bool(named) and named[0].name in readings.concepts["volts"] and place < named[0].first <= place + 3


def _against_usual(tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> list[Concept]:
    """A reading held against the one that was usual, as a concept; and the usual one's place."""
    named = next((one for one in concepts if one.name == USUAL), None)
    numbers = [place for place, token in enumerate(tokens) if _READING.fullmatch(token)]
    ships = {place for one in concepts if one.name == A_SHIP for place in range(one.first, one.end)}
    numbers = [place for place in numbers if place not in ships and not _of_another_unit(place, tokens, readings)]
    if named is None:
        return []
    usual = next((place for place in numbers if named.first <= place < named.end + _USUAL_REACH), None)
    before = max((place for place in numbers if named.first - 2 <= place < named.first), default=None)
    if usual is not None and before is not None and _is_of_now(usual, tokens, readings):
        usual = before
    others = [place for place in numbers if place != usual]
    if usual is None:
        return []
    found = [Concept(USUAL, usual, usual + 1)]
    if others:
        now = min(others, key=lambda place: abs(place - usual))
        cranked = any(one.name in readings.concepts["cranking"] for one in concepts)
        in_volts = None if cranked else _in_volts((usual, now), tokens, concepts, readings)
        meant = _compared(_signed(usual, tokens), _signed(now, tokens), in_volts, readings)
        found += [Concept(meant, now, now + 1)] if meant else []
    return found


def _is_of_now(place: int, tokens: Sequence[str], readings: Readings) -> bool:
    """Whether a number is said to be today's: "14.2 usual, 15.4 today"."""
    return bool(readings.words["of_now"].intersection(tokens[max(place - 2, 0) : place + 2]))


def _of_another_unit(place: int, tokens: Sequence[str], readings: Readings) -> bool:
    after = tokens[place + 1] if place + 1 < len(tokens) else ""
    return after in readings.words["other_units"] - readings.words["amperes_behind"]


def _signed(place: int, tokens: Sequence[str]) -> float:
    return -_value(tokens[place]) if place and tokens[place - 1] in _MINUS else _value(tokens[place])


def _in_volts(
    places: tuple[int, int], tokens: Sequence[str], concepts: Sequence[Concept], readings: Readings
) -> bool | None:
    """Whether two readings are volts, or amperes; None where nothing tells."""
    names = {one.name for one in concepts}
    signs = {*_MINUS, *readings.words["charging_sign"]}
    signed = any(place and tokens[place - 1] in signs for place in places)
    if signed or any(_is_amperes(place, tokens, concepts, readings) for place in places) or names & {"ammeter"}:
        return False
    if names & readings.concepts["volts"] or all("." in tokens[place] or "," in tokens[place] for place in places):
        return True
    return None


def _compared(usual: float, now: float, in_volts: bool | None, readings: Readings) -> str | None:
    far = readings.against_usual
    if in_volts:
        apart = far.volts * (2.0 if usual > far.system_over else 1.0)
        if abs(now - usual) < apart or not 0.5 < now / max(usual, 1.0) < 1.5:
            return None
        return "above_usual_volts" if now > usual else "below_usual_volts"
    if in_volts is None:
        return None
    if now - usual >= far.amperes and now >= far.times * usual:
        return "above_usual_amps"
    return "below_usual_amps" if now <= far.share * usual and usual > 0.0 else None
