"""One part of a report: where it begins and ends, and what its words mean that speak of the electrical system."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from analyzer.squawk.readings import (
    A_SHIP,
    CHARGING_AMPS,
    DECIMAL,
    HIGH_VOLTS,
    LOWER_LIMIT,
    NUMBER,
    UPPER_LIMIT,
    USUAL,
    VOLTS_READ,
    Concept,
    Readings,
    numbers_read,
)
from analyzer.squawk.tokens import Token, parts_of
from analyzer.squawk.vocabulary import LINKED, NOT, Phrase, Vocabulary, concepts_in, load_vocabulary

#: Words between the first and the last of a phrase.
SPAN = 6
#: A part is looked at so many words at a time: no phrase is longer, and time grows with the square of it.
PART_LONGEST = 40
_OTHER_SYSTEM, _VESSEL, _DEVICE = "other_system", "vessel", "device"
_BREAKER, _LIGHT = "breaker", "one_light"
_LIGHTS = frozenset({_LIGHT, "light", "lights"})
_KEPT_LIMIT, _LASTING = "kept_limit", "lasting"
#: Readings that a lower limit keeps high.
_HIGH_ONES = frozenset({HIGH_VOLTS, CHARGING_AMPS})
#: Beside a height or revs, 500 and more, "above" says under what, not how much.
_HIGH, _LOW, _RUNNING = "high", "low", "running"
_NO_READING = re.compile(r"[0-9]{1,2},?[0-9]{3}|[5-9][0-9]{2}")
#: Words of what should be, and how many at most only deny it.
_SHOULD, _FEW = frozenset({"should", "ought", "supposed", "meant"}), 3
#: Units of a reading that says nothing else, and what says that something is empty.
_UNITS, _EMPTY = frozenset({"v", "volt", "volts"}), frozenset({"dead", "battery_down", "discharged"})
#: Of what is back: words that say so alone, those that do with the next one, and what else may come back or return.
_BACK_ALONE = frozenset({"returned", "reappeared", "recurred", "resurfaced"})
_BACK_BOTH = frozenset(
    {("came", "back"), ("comes", "back"), ("come", "back"), ("starts", "again"), ("started", "again")}
)
_BACK_WELL = frozenset(
    {"to", "normal", "aircraft", "airplane", "line", "online", "on-line", "ok", "fine", "good", "clean"}
)
#: What else may be back, besides things that are electrical.
_MAY_BE_BACK = frozenset({"voltage", "charge", "ammeter", "volts", "power"})
#: Says that a lamp was lit no longer.
_LAMP_OUT = frozenset({"light_out", "is_out"})
#: "No longer below 12.5" says that it was so: no limit.
_LONGER = "longer"


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase of the vocabulary found in one part of the report, and the places of its words."""

    phrase: Phrase
    places: frozenset[int]

    @property
    def symptom(self) -> str:
        """The symptom that it tells of."""
        return self.phrase.symptom

    @property
    def holds_not(self) -> bool:
        """Whether a denial is a word of its own."""
        return NOT in self.phrase.concepts

    @property
    def between(self) -> int:
        """Words that stand between its own."""
        return max(self.places) + 1 - min(self.places) - len(self.places)


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a report, with what its words can mean."""

    tokens: tuple[Token, ...]
    concepts: tuple[Concept, ...]
    phrases: tuple[Found, ...] = ()
    ends_elsewhere: bool = False  # its last words speak of a vessel or a device

    @property
    def names(self) -> frozenset[str]:
        """Concepts that stand in it."""
        return frozenset(one.name for one in self.concepts)

    def written(self, places: frozenset[int] | range) -> str:
        """Words at some places, as the report has them."""
        return " ".join(token.written for place, token in enumerate(self.tokens) if place in places)


def parts_in(report: str) -> Iterator[tuple[Token, ...]]:
    """The report's parts.

    One that only names a circumstance belongs to the next one ("in cruise, 12.3 V"), or to the last; one that says
    what was usual to the one beside it ("normally 14.1, now 15.2").
    """
    parts: list[list[Token]] = []
    held: list[Token] = []
    for part in (half for whole in parts_of(report) for half in _halves(whole)):
        held += part
        if len(held) <= SPAN and (_only_circumstances(held) or (not parts and _only_says_which_ship(held))):
            continue
        if parts and _only_denies(held, parts[-1]):
            should = next(place for place, token in enumerate(parts[-1]) if token.word in _SHOULD)
            parts[-1][should:should] = held
        elif parts and _belongs_to(held, parts[-1]):
            parts[-1] += held
        else:
            parts.append(held)
        held = []
    if parts and len(parts[-1]) < PART_LONGEST:
        parts[-1] += held
    elif held:
        parts.append(held)
    for tokens in parts:
        for first in range(0, len(tokens), PART_LONGEST):
            yield tuple(tokens[first : first + PART_LONGEST])


def _halves(tokens: Sequence[Token]) -> Iterator[Sequence[Token]]:
    """A part in one; in two where a lamp in it was out, and is back: "light went out and came back on"."""
    out = [one.end for one in concepts_in(_words(tokens)) if one.name in _LAMP_OUT]
    back = is_back(tokens, min(out)) if out else None
    if back is None:
        yield tokens
    else:
        yield tokens[:back]
        yield tokens[back:]


def is_back(tokens: Sequence[Token], first: int = 0) -> int | None:
    """Where words begin that say that what was gone is back: "then came back", no "returned to service".

    They stand at this place or behind it, and not right behind what else is back: "once the alternator came back".
    """
    words = _words(tokens)
    others = load_vocabulary().other_systems.things | _MAY_BE_BACK
    named = {one.end for one in concepts_in(words) if one.name in others or words[one.end - 1] in _MAY_BE_BACK}
    for place in (place for place in range(first, len(words)) if place not in named):
        alone, both = words[place] in _BACK_ALONE, words[place : place + 2] in _BACK_BOTH
        behind = words[place + (1 if alone else 2) :][:2]
        if (alone or both) and not _BACK_WELL.intersection(behind):
            return place
    return None


def _words(tokens: Sequence[Token]) -> tuple[str, ...]:
    return tuple(token.word for token in tokens)


def _belongs_to(held: Sequence[Token], before: Sequence[Token]) -> bool:
    """Whether a part goes on with the one before it: by a reading, or by one to hold a reading against."""
    return (
        _only_goes_on(held)
        or _only_says_which_ship(held)
        or _is_what_is_left(held, before)
        or ((_says_what_is_usual(held) or _says_what_is_usual(before)) and _has_number(held) and _has_number(before))
        or _is_read_by_two(held, before)
    )


def _has_number(tokens: Sequence[Token]) -> bool:
    """Whether words hold a number: without one there is nothing to hold what is usual against."""
    return any(NUMBER.fullmatch(token.word) for token in tokens)


def _is_read_by_two(held: Sequence[Token], before: Sequence[Token]) -> bool:
    """Whether two parts tell what two meters read: "panel shows 11.5 volts, handheld meter 14.2"."""
    both = (_words(before), _words(held))
    if any(len(words) > SPAN + 1 or sum(_is_decimal(word) for word in words) > 1 for words in both):
        return False
    meters = load_vocabulary().readings.concepts["second_meter"]
    named = [any(one.name in meters for one in concepts_in(words)) for words in both]
    numbers = [any(NUMBER.fullmatch(word) for word in words) for words in both]
    return any(named) and all(numbers)


def _is_decimal(word: str) -> bool:
    return DECIMAL.fullmatch(word) is not None


def _says_what_is_usual(tokens: Sequence[Token]) -> bool:
    """Whether a short part only says what was usual, with its number."""
    words = _words(tokens)
    numbers = sum(NUMBER.fullmatch(word) is not None for word in words)
    return numbers == 1 and len(words) <= SPAN and any(one.name == USUAL for one in concepts_in(words))


def _only_goes_on(tokens: Sequence[Token]) -> bool:
    """Whether a part is the reading of what was named before, or says how long it lasted: "low voltage alarm, 11.9"."""
    if len(tokens) == 1 and NUMBER.fullmatch(tokens[0].word) is not None:
        return True
    return bool(tokens) and len(tokens) <= SPAN and _only_of(tokens, frozenset({_LASTING}))


def _is_what_is_left(tokens: Sequence[Token], before: Sequence[Token]) -> bool:
    """Whether a part is only the volts of what the one before calls empty: "battery was flat, 9 V"."""
    return (
        len(tokens) > 1
        and NUMBER.fullmatch(tokens[0].word) is not None
        and {token.word for token in tokens[1:]} <= _UNITS
        and any(one.name in _EMPTY for one in concepts_in(_words(before)))
    )


def _only_denies(tokens: Sequence[Token], before: Sequence[Token]) -> bool:
    """Whether a part only denies what the one before says should be: "should fall off, doesn't"."""
    should = any(token.word in _SHOULD for token in before)
    return (
        should
        and len(tokens) <= _FEW
        and any(one.name == NOT for one in concepts_in(_words(tokens)))
        and _only_of(tokens, frozenset({NOT}))
    )


def _only_circumstances(tokens: Sequence[Token]) -> bool:
    return _only_of(tokens, load_vocabulary().circumstances)


def _only_says_which_ship(tokens: Sequence[Token]) -> bool:
    """Whether words only say how many volts the aircraft has: "this is a 24 volt ship"."""
    of_ship = frozenset({A_SHIP})
    return _only_of(tokens, of_ship) and any(one.name in of_ship for one in concepts_in(_words(tokens)))


def _only_of(tokens: Sequence[Token], names: frozenset[str]) -> bool:
    """Whether words say nothing besides these concepts."""
    words = _words(tokens)
    concepts = list(concepts_in(words))
    within = {place for one in concepts for place in range(one.first, one.end)}
    return all(one.name in names for one in concepts) and all(
        place in within or word in load_vocabulary().small_words for place, word in enumerate(words)
    )


def meant(tokens: tuple[Token, ...], vocabulary: Vocabulary, *, shorter: bool = False) -> Part:
    """Give the concepts of one part without those that speak of another system, with its names and numbers read.

    With ``shorter`` the words of a longer way of writing keep their own meanings beside it.
    """
    words = _words(tokens)
    concepts = _named(words, _under_what(words, concepts_in(words, shorter), vocabulary.readings), vocabulary)
    elsewhere, ends_elsewhere = _of_other_systems(words, concepts, vocabulary)
    elsewhere |= _lights_of_others(words, concepts, vocabulary)
    kept = [one for one in concepts if one.first not in elsewhere]
    numbers = numbers_read(words, kept, vocabulary.readings, vocabulary.small_words)
    kept += [one for one in numbers if one.first not in elsewhere]
    limits = list(_said_as_limits(words, kept, vocabulary.readings))
    within = {place for one in limits for place in range(one.first, one.end)}
    kept = [
        one for one in kept if one.first not in within or one.name in vocabulary.readings.concepts["volts"]
    ] + limits
    return Part(tokens, tuple(sorted(kept, key=lambda one: one.first)), ends_elsewhere=ends_elsewhere)


def _under_what(words: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> list[Concept]:
    """Concepts, with a limit of height or revs taken as when it happened: "flickers above 7500" is nothing high."""
    limits = readings.words[UPPER_LIMIT] | readings.words[LOWER_LIMIT]
    found = {
        one.first: Concept(_RUNNING, one.first, one.end + 1)
        for one in concepts
        if one.name in {_HIGH, _LOW}
        and words[one.end - 1] in limits
        and one.end == one.first + 1 < len(words)
        and _NO_READING.fullmatch(words[one.end])
    }
    within = {place for one in found.values() for place in range(one.first, one.end)}
    return sorted([*(one for one in concepts if one.first not in within), *found.values()], key=lambda one: one.first)


def _said_as_limits(words: Sequence[str], concepts: Sequence[Concept], readings: Readings) -> Iterator[Concept]:
    """Give the words that make a voltage a limit: "volts never above 12.5" is read as 12.5 itself, no denial.

    An upper limit tells of what is low only, a lower one of what is high: "never above 14.9" denies that it was.
    Amperes of charge that stay above a limit are high.
    """
    denials = {one.end: one.first for one in concepts if one.name == NOT and words[one.end - 1] != _LONGER}
    naming = {
        place for one in concepts if one.name in readings.concepts["volts"] for place in range(one.first, one.end)
    }
    passed = {place for place, word in enumerate(words) if word in readings.words["to_a_limit"]} | naming
    for number in (one for one in concepts if one.name in VOLTS_READ | {CHARGING_AMPS}):
        limits = readings.words[LOWER_LIMIT if number.name in _HIGH_ONES else UPPER_LIMIT]
        limit = number.first - 1
        while limit >= 0 and words[limit] in readings.words["at_a_limit"]:
            limit -= 1
        if limit < 0 or words[limit] not in limits:
            continue
        place = limit
        while place not in denials and place - 1 in passed:
            place -= 1
        if place in denials:
            yield Concept(_HIGH if number.name == CHARGING_AMPS else _KEPT_LIMIT, denials[place], number.first)


def _named(words: Sequence[str], concepts: Sequence[Concept], vocabulary: Vocabulary) -> list[Concept]:
    """Concepts with those in a row that name one thing taken as that thing: "discharge warning light"."""
    at: dict[int, list[Concept]] = {}
    for one in concepts:
        at.setdefault(one.first, []).append(one)
    found: list[Concept] = []
    for first in sorted(at):
        if found and first < found[-1].end:
            continue
        rows = [row for one in at[first] for row in vocabulary.names.get(one.name, ())]
        ends = [(name, _end_of(row, first, at, words, vocabulary.linking)) for name, row in rows]
        name, end = max(ends, key=lambda one: one[1], default=("", 0))
        if end:
            found.append(Concept(name, first, end))
    within = {place for one in found for place in range(one.first, one.end)}
    return sorted([*(one for one in concepts if one.first not in within), *found], key=lambda one: one.first)


def _end_of(
    row: Sequence[str], first: int, at: dict[int, list[Concept]], words: Sequence[str], linking: frozenset[str]
) -> int:
    """Where concepts that stand in a row from a place on end; 0 where they do not."""
    place, linked = first, False
    for name in row:
        if name == LINKED:
            linked = True
            continue
        one = next((one for one in at.get(place, []) if one.name == name), None)
        while one is None and linked and place < len(words) and words[place] in linking:
            place += 1
            one = next((one for one in at.get(place, []) if one.name == name), None)
        if one is None:
            return 0
        place, linked = one.end, False
    return place


def _of_other_systems(
    words: Sequence[str], concepts: Sequence[Concept], vocabulary: Vocabulary
) -> tuple[set[int], bool]:
    """Places of what is said of other systems, and whether the last word is of a vessel or a device.

    It reaches from the system's name up to the next electrical thing, and a word before; of a device's own electrical
    things all is said of it. "Breaker for the flap motor" only says whose breaker.
    """
    others = vocabulary.other_systems
    spared = {
        place for one in concepts if one.name in vocabulary.circumstances | {NOT} for place in range(one.first, one.end)
    }
    joining = {place for place, word in enumerate(words) if word in others.until}
    ended_by = {_OTHER_SYSTEM: others.things, _VESSEL: others.things_of_vessels, _DEVICE: frozenset[str]()}
    found: set[int] = set()
    to_the_end = False
    for named in (one for one in concepts if one.name in ended_by):
        if _is_whose(named, words, concepts, others.whose):
            found |= set(range(named.first, named.end))
            continue
        ends = joining | {one.first for one in concepts if one.name in ended_by[named.name]}
        end = min((place for place in ends if place >= named.end), default=len(words))
        belongs = others.before if named.name == _OTHER_SYSTEM else others.before_vessels
        before = {one.end: one.first for one in concepts if one.name in belongs}
        found |= set(range(before.get(named.first, named.first), end))
        to_the_end |= named.name != _OTHER_SYSTEM and end == len(words)
    return found - spared, to_the_end


def _is_whose(named: Concept, words: Sequence[str], concepts: Sequence[Concept], whose: frozenset[str]) -> bool:
    """Whether another system only says whose breaker is spoken of."""
    behind = max((one.end for one in concepts if one.name == _BREAKER and one.end <= named.first), default=None)
    if behind is None or words[behind] not in whose:
        return False
    others = {place for one in concepts if one.name in (_OTHER_SYSTEM, _DEVICE) for place in range(one.first, one.end)}
    return all(words[place] in whose or place in others for place in range(behind, named.first))


def _lights_of_others(words: Sequence[str], concepts: Sequence[Concept], vocabulary: Vocabulary) -> set[int]:
    """Places of lights that are named by a word that is not known, in a part that names nothing electrical."""
    if any(one.name in vocabulary.other_systems.things for one in concepts):
        return set()
    known = {place for one in concepts for place in range(one.first, one.end)}
    plain = vocabulary.small_words | vocabulary.light_names
    lights = [one.first for one in concepts if one.name == _LIGHT and one.first]
    return {
        place
        for place in lights
        if place - 1 not in known and words[place - 1] not in plain and not NUMBER.fullmatch(words[place - 1])
    }


def only_behaves(part: Part, vocabulary: Vocabulary, *, vessels: bool = False) -> bool:
    """Whether a part names nothing electrical, and all its words are known: none is left that speaks of another system.

    ``vessels`` lets it name what a vessel has as well: a charge, a discharge.
    """
    others = vocabulary.other_systems
    naming = (others.things_of_vessels if vessels else others.things) | _LIGHTS
    numbers = {place for place, token in enumerate(part.tokens) if NUMBER.fullmatch(token.word)}
    named = any(one.name in naming and one.first - 1 not in numbers for one in part.concepts)  # no unit: "30 amps"
    known = numbers | {place for one in part.concepts for place in range(one.first, one.end)}
    return not named and all(
        place in known or token.word in vocabulary.small_words for place, token in enumerate(part.tokens)
    )
