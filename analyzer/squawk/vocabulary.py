"""A report in plain words becomes symptoms: which words told, which were denied, which were not understood."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from analyzer.corrections import in_effect, rests_on_corrections
from analyzer.squawk.readings import NUMBER, Notion, Readings, is_written, readings_of, volts_read

VOCABULARY_FILE = Path(__file__).with_name("vocabulary.toml")
#: Words of this length and more may have one wrong letter.
_LONG_WORD = 6
#: Of two words that differ in one letter at most, at least this much is alike (difflib's ratio, six letters).
_ALIKE = 0.83
#: Words between the first and the last of a phrase, and before it for a denial to reach it.
_SPAN, _REACH = 6, 4
#: Words that were not understood are listed up to this many.
_MOST_UNKNOWN = 30
_TOKEN = re.compile(
    r"""[0-9]+(?::[0-9][0-9])+                               # a time of day
    | [0-9]+(?:[.,][0-9]+)*(?=(?:v|vdc|volts?|a|amps?)\b)    # a number written together with its unit
    | [0-9]+(?:[.,][0-9]+)+
    | \b[a-z]/[a-z]s?\b                                      # c/b
    | [a-z0-9]+(?:[-'’][a-z0-9]+)*""",
    re.VERBOSE,
)
#: A point, comma or colon before a digit belongs to a number, a stroke between two letters to an abbreviation.
_PART = re.compile(
    r"(?:(?<![0-9])[.,]|[.,](?![0-9])|[;!?\n()|]|:(?!\s?[0-9])|(?<!\b[a-z])/|/(?![a-z]s?\b))+"
    r"|\bbut\b|\bhowever\b|\b(?<!now and )then\b|\balthough\b"
)
#: A minus sign before a number, no dash between two; and one with a plus sign.
_MINUS = re.compile(r"(?<!\w)(?<![0-9]\s)[-–−]\s?(?=\d)")
_EITHER_WAY = re.compile(r"\+\s?/?\s?[-–−]|±")
#: A part is looked at so many words at a time: no phrase is longer, and time grows with the square of it.
_PART_LONGEST = 40
_NOT, _WELL, _OTHER_SYSTEM = "not", "well", "other_system"


@dataclass(frozen=True, slots=True)
class Match:
    """One symptom that the words tell of, and the words as written that told it."""

    symptom: str
    matched: tuple[str, ...]
    phrases: tuple[str, ...]  # of the vocabulary


@dataclass(frozen=True, slots=True)
class Understood:
    """What a report's words mean."""

    matches: tuple[Match, ...]  # in the order in which they stand in the report
    denied: tuple[str, ...]  # words of phrases that the report says did not happen
    circumstances: tuple[str, ...]  # under which, as the report says; no symptom by themselves
    not_understood: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The vocabulary's file, ready to match."""

    notions: Mapping[str, tuple[tuple[str, ...], ...]]  # notion -> variants, each some word patterns in a row
    phrases: tuple[tuple[str, tuple[str, ...]], ...]  # (symptom, notions), longer phrases first
    faster_than_a_log: frozenset[str]
    small_words: frozenset[str]
    not_typos: frozenset[str]
    readings: Readings
    other_systems: Mapping[str, frozenset[str]]

    @property
    def circumstances(self) -> frozenset[str]:
        """Notions under which something happened; no symptoms by themselves."""
        return self.readings.notions["circumstances"]

    def phrases_of(self, symptom: str) -> list[str]:
        """Phrases of a symptom, for a person."""
        return [" ".join(map(self.readings.phrase, words)) for name, words in self.phrases if name == symptom]


@rests_on_corrections
@cache
def load_vocabulary() -> Vocabulary:
    """Read ``vocabulary.toml``, with the words that were added to it."""
    document: dict[str, Any] = tomllib.loads(VOCABULARY_FILE.read_text("utf-8"))
    for notion, more in in_effect().pilots_words.items():
        document["words"][notion] = [*document["words"][notion], *more]
    notions = {
        notion: tuple(tuple(_tokens_kept(variant)) for variant in variants)
        for notion, variants in document["words"].items()
    }
    phrases = [
        (symptom, tuple(phrase.split())) for symptom, listed in document["symptoms"].items() for phrase in listed
    ]
    phrases.sort(key=lambda pair: -len(pair[1]))
    return Vocabulary(
        notions,
        tuple(phrases),
        frozenset(document["noise"]["faster_than_a_log"]),
        frozenset(document["small_words"]["list"]),
        frozenset(document["not_typos"]["list"]),
        readings_of(document),
        {name: frozenset(listed) for name, listed in document["other_systems"].items()},
    )


def _tokens_kept(variant: str) -> list[str]:
    return variant.lower().split()


@dataclass(frozen=True, slots=True)
class _Phrase:
    """A phrase of the vocabulary found in one part of the report, and the places of its words."""

    symptom: str
    phrase: tuple[str, ...]
    places: frozenset[int]

    @property
    def between(self) -> int:
        """Words that stand between its own."""
        return max(self.places) + 1 - min(self.places) - len(self.places)


def understand(words: str) -> Understood:
    """Give the symptoms that a report's words tell of.

    >>> [match.symptom for match in understand("ALT light flickered, volts did not read high").matches]
    ['charging_light']
    """
    vocabulary = load_vocabulary()
    found: dict[str, tuple[list[str], list[str]]] = {}
    denied: list[str] = []
    unknown: list[str] = []
    named: list[str] = []
    for tokens in _parts(words):
        notions = _meant(tokens, vocabulary)
        phrases = list(_phrases(notions, vocabulary))
        refused = _denied(phrases, notions)
        for one in phrases:
            said = " ".join(token for place, token in enumerate(tokens) if place in one.places)
            if one in refused:
                denied.append(said)
                continue
            matched, told = found.setdefault(one.symptom, ([], []))
            matched.append(said)
            told.append(" ".join(one.phrase))
        unknown += _unknown(tokens, notions, bool(phrases), vocabulary)
        named += [" ".join(tokens[one.first : one.end]) for one in notions if one.name in vocabulary.circumstances]
    matches = tuple(
        Match(symptom, tuple(dict.fromkeys(matched)), tuple(dict.fromkeys(told)))
        for symptom, (matched, told) in found.items()
    )
    told_of, under = tuple(dict.fromkeys(denied)), tuple(dict.fromkeys(named))[:_MOST_UNKNOWN]
    return Understood(matches, told_of, under, tuple(dict.fromkeys(unknown))[:_MOST_UNKNOWN])


def _parts(words: str) -> Iterator[list[str]]:
    """The report cut at punctuation and contrasting words, each part as its lower-case words.

    A part that only names a circumstance belongs to the next one ("in cruise, 12.3 V"), or to the last.
    """
    parts: list[list[str]] = []
    held: list[str] = []
    for part in _PART.split(_MINUS.sub("minus ", _EITHER_WAY.sub("plus minus ", words.lower()))):
        held += [token.replace("’", "'") for token in _TOKEN.findall(part)]
        if len(held) > _SPAN or not _only_circumstances(held):
            parts.append(held)
            held = []
    if parts and len(parts[-1]) < _PART_LONGEST:
        parts[-1] += held
    elif held:
        parts.append(held)
    for tokens in parts:
        for first in range(0, len(tokens), _PART_LONGEST):
            yield tokens[first : first + _PART_LONGEST]


def _only_circumstances(tokens: Sequence[str]) -> bool:
    vocabulary = load_vocabulary()
    notions = list(_notions(tuple(tokens)))
    within = {place for one in notions for place in range(one.first, one.end)}
    return all(one.name in vocabulary.circumstances for one in notions) and all(
        place in within or token in vocabulary.small_words for place, token in enumerate(tokens)
    )


def _unknown(tokens: list[str], notions: list[Notion], told: bool, vocabulary: Vocabulary) -> list[str]:
    """Words that fit no notion; where a part told of nothing, those too that only name a thing."""
    plain = vocabulary.circumstances | {_NOT, _WELL}
    known = {place for one in notions if told or one.name in plain for place in range(one.first, one.end)}
    return [
        token
        for place, token in enumerate(tokens)
        if place not in known and token not in vocabulary.small_words and not NUMBER.fullmatch(token)
    ]


def _meant(tokens: Sequence[str], vocabulary: Vocabulary) -> list[Notion]:
    """Notions of one part without those that speak of another system, and with its numbers read as volts."""
    notions = list(_notions(tuple(tokens)))
    elsewhere = _of_other_systems(tokens, notions, vocabulary)
    kept = [one for one in notions if one.first not in elsewhere]
    volts = volts_read(tokens, kept, vocabulary.readings, vocabulary.small_words)
    return sorted([*kept, *(one for one in volts if one.first not in elsewhere)], key=lambda one: one.first)


def _of_other_systems(tokens: Sequence[str], notions: Sequence[Notion], vocabulary: Vocabulary) -> set[int]:
    """Places of what is said of another system: from its name up to the next electrical thing, and a word before."""
    others = vocabulary.other_systems
    ends = {one.first for one in notions if one.name in others["things"]}
    ends |= {place for place, token in enumerate(tokens) if token in others["until"]}
    before = {one.end: one.first for one in notions if one.name in others["before"]}
    spared = {
        place for one in notions if one.name in vocabulary.circumstances | {_NOT} for place in range(one.first, one.end)
    }
    found: set[int] = set()
    for named in (one for one in notions if one.name == _OTHER_SYSTEM):
        end = min((place for place in ends if place > named.first), default=len(tokens))
        found |= set(range(before.get(named.first, named.first), end))
    return found - spared


def _notions(tokens: tuple[str, ...]) -> Iterator[Notion]:
    """Notions in order, the longest way of writing first; a word belongs to every notion that it can mean."""
    place = 0
    while place < len(tokens):
        fits = [(1, notion) for notion in _meanings(tokens[place])]
        fits += [
            (len(variant), notion)
            for notion, variant in _word_groups()
            if _fits(tokens[place : place + len(variant)], variant)
        ]
        longest = max((length for length, _ in fits), default=1)
        for notion in dict.fromkeys(notion for length, notion in fits if length == longest):
            yield Notion(notion, place, place + longest)
        place += longest


@rests_on_corrections
@cache
def _word_groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Ways of writing a notion that take several words."""
    notions = load_vocabulary().notions
    return tuple((notion, variant) for notion in notions for variant in notions[notion] if len(variant) > 1)


def _fits(tokens: tuple[str, ...], variant: tuple[str, ...]) -> bool:
    return len(tokens) == len(variant) and all(map(is_written, tokens, variant))


@rests_on_corrections
@lru_cache(maxsize=4096)
def _meanings(token: str) -> tuple[str, ...]:
    """Notions that one word can mean; only where none is written so, one wrong letter is forgiven."""
    vocabulary = load_vocabulary()
    single = [(notion, v[0]) for notion, variants in vocabulary.notions.items() for v in variants if len(v) == 1]
    exact = tuple(dict.fromkeys(notion for notion, pattern in single if is_written(token, pattern)))
    if exact or token.endswith("n't"):
        return exact or (_NOT,)
    if len(token) < _LONG_WORD or token in vocabulary.not_typos or token in vocabulary.small_words:
        return ()
    return tuple(dict.fromkeys(notion for notion, pattern in single if _nearly(token, pattern)))


def _nearly(token: str, pattern: str) -> bool:
    """Whether a long word is the pattern's but for one letter."""
    stem = pattern.removesuffix("*")
    if len(stem) < _LONG_WORD - 1 or token[0] != stem[0]:
        return False
    heads = {token[: len(stem) + more] for more in (-1, 0, 1)} if pattern != stem else {token}
    return any(
        abs(len(head) - len(stem)) <= 1 and SequenceMatcher(None, head, stem, autojunk=False).ratio() >= _ALIKE
        for head in heads
    )


def _phrases(notions: Sequence[Notion], vocabulary: Vocabulary) -> list[_Phrase]:
    """Phrases that stand in one part of the report, in its order; none that lies within a longer one."""
    places: dict[str, list[Notion]] = {}
    for one in notions:
        places.setdefault(one.name, []).append(one)
    found: list[_Phrase] = []
    for symptom, phrase in vocabulary.phrases:
        if not all(name in places for name in phrase):
            continue
        for anchor in places[phrase[0]]:
            new = _nearest(symptom, phrase, anchor, places)
            if new and not any(one.symptom == symptom and new.places <= one.places for one in found):
                found.append(new)
    return sorted(_each_denial_once(_closest(found), notions), key=lambda one: min(one.places))


def _closest(found: Sequence[_Phrase]) -> list[_Phrase]:
    """Phrases without those whose every word stands closer to another: "volts high, amps low" is no high ampere."""
    closest: dict[int, int] = {}
    for one in found:
        for place in one.places:
            closest[place] = min(one.between, closest.get(place, one.between))
    return [one for one in found if any(one.between <= closest[place] for place in one.places)]


def _nearest(
    symptom: str, phrase: tuple[str, ...], anchor: Notion, places: Mapping[str, list[Notion]]
) -> _Phrase | None:
    """The notions of a phrase nearest to its first one; None where they stand too far apart."""
    chosen = [anchor]
    for name in phrase[1:]:
        free = [one for one in places[name] if all(one.first >= c.end or one.end <= c.first for c in chosen)]
        if not free:
            return None
        chosen.append(min(free, key=lambda one: abs(one.first - anchor.first)))
    own = frozenset(place for one in chosen for place in range(one.first, one.end))
    new = _Phrase(symptom, phrase, own)
    return new if new.between <= _SPAN else None


def _each_denial_once(found: list[_Phrase], notions: Sequence[Notion]) -> Iterator[_Phrase]:
    """Let each "not" serve one phrase: the longest that holds it, unless what it denies is part of a name.

    "Light did not go out" is a light that is on, no alternator that is not; "no charging light" is no light;
    "amps not high" is no ammeter that shows nothing.
    """
    plain = [one for one in found if _NOT not in one.phrase]
    named = [one for one in plain if one.between == 0]
    claimed: set[int] = set()
    for one in found:  # longer ones first
        own = _denials(notions, one)
        if _NOT in one.phrase:
            rest = {place for place in one.places if place not in own}
            at = min(own, default=0)
            in_a_name = any(rest < other.places and at < min(other.places) for other in named)
            within = any(rest < other.places and min(other.places) < at < max(other.places) for other in plain)
            if in_a_name or within or _of_what_is_named(rest, at, named, plain) or own & claimed:
                continue
            claimed |= own
            yield one
    yield from (one for one in plain if not _denials(notions, one) & claimed)


def _of_what_is_named(rest: set[int], at: int, named: Sequence[_Phrase], plain: Sequence[_Phrase]) -> bool:
    """Whether a "not" behind a name denies what follows it: "charging light not on" is no light, not no charge."""
    names = [one.places for one in named if rest < one.places and max(one.places) < at]
    spans = [one.places for one in plain if min(one.places) < at < max(one.places)]
    return any(name & span for name in names for span in spans)


def _denied(phrases: Sequence[_Phrase], notions: Sequence[Notion]) -> list[_Phrase]:
    """Phrases with a "not" in or before them, and those of the same symptom that share a word with one of these.

    In "ALT light never came on" the denial of the light that came on is one of the ALT light as well.
    """
    denied = [one for one in phrases if _NOT not in one.phrase and _denials(notions, one)]
    return denied + [
        one
        for one in phrases
        if one not in denied
        and _NOT not in one.phrase
        and any(one.symptom == other.symptom and one.places & other.places for other in denied)
    ]


def _denials(notions: Sequence[Notion], phrase: _Phrase) -> set[int]:
    """Places of each "not" in a phrase, or shortly before it."""
    first, last = min(phrase.places), max(phrase.places)
    return {one.first for one in notions if one.name == _NOT and first - _REACH <= one.first <= last}
