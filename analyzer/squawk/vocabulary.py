"""The words that are known of pilots' reports, and what each word of a report can mean by them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product
from operator import itemgetter
from pathlib import Path
from typing import Any

from analyzer.corrections import in_effect, rests_on_corrections
from analyzer.shipped_tables import read_table
from analyzer.squawk.readings import Concept, Readings, is_written, readings_of
from analyzer.squawk.tokens import shorthand

VOCABULARY_FILE = Path(__file__).with_name("vocabulary.toml")
#: Words of this length and more may have one wrong letter, of the second length two; longer than the third is no word.
_LONG_WORD, _VERY_LONG_WORD, _NO_WORD = 6, 10, 25
#: Most letters that may be wrong.
_MOST_WRONG = 2
NOT = "not"
#: A way of several words: the place of its letter and its own among those, its concept, and its words.
Group = tuple[tuple[int, int], str, tuple[str, ...]]
#: Stands in a row of concepts for any number of linking words: "stuck on the minus side".
LINKED = "~"
#: What stands before a concept of a phrase that must not stand beside it, nor anywhere in the report; and that must.
_BESIDE, _ANYWHERE, _SOMEWHERE = "-", "!", "^"


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase of the vocabulary."""

    symptom: str
    concepts: tuple[str, ...]  # that must stand near each other
    needed: frozenset[str]  # the same, each once
    beside: frozenset[str] = frozenset()  # that must not stand in the same part
    anywhere: frozenset[str] = frozenset()  # nor these in the report
    somewhere: frozenset[str] = frozenset()  # of which one must stand in the report

    @property
    def words(self) -> str:
        """As the vocabulary's file has it."""
        return " ".join(self.concepts)


@dataclass(frozen=True, slots=True)
class OtherSystems:
    """What belongs to another system than the electrical one."""

    until: frozenset[str]  # words that end it
    things: frozenset[str]  # concepts that end it
    things_of_vessels: frozenset[str]  # concepts that end what belongs to a vessel
    before: frozenset[str]  # concepts that belong to it where they stand just before its words
    before_vessels: frozenset[str]  # and these to a vessel
    whose: frozenset[str]  # words between a breaker and whose it is


@dataclass(frozen=True, slots=True)
class Clauses:
    """How a part of a report falls into clauses."""

    begin: frozenset[str]  # words that begin one which tells under what something happened
    of_the_same: frozenset[str]  # words behind these by which it goes on about what stands before them
    circumstances: frozenset[str]  # concepts that make a phrase together with what stands before such a word


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The vocabulary's file, ready to match."""

    concepts: Mapping[str, tuple[tuple[str, ...], ...]]  # concept -> variants, each some word patterns in a row
    phrases: tuple[Phrase, ...]  # longer ones first
    phrases_from: Mapping[str, tuple[tuple[int, Phrase], ...]]  # first concept -> phrases and their places
    faster_than_a_log: frozenset[str]
    small_words: frozenset[str]
    readings: Readings
    other_systems: OtherSystems
    told_by: tuple[tuple[str, tuple[str, ...]], ...]  # condition of a recording, and a circumstance's words for it
    # first concept of a row -> the concept that the row names, and the row; longer rows first
    names: Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]]
    linking: frozenset[str]  # words that may stand where a row has LINKED
    clauses: Clauses
    stress: frozenset[str]  # words that only stress the next one
    sound: frozenset[str]  # words that say that what is named is well
    light_names: frozenset[str]  # words by which a light may be named and still be the charging one
    whole: frozenset[str]  # concepts whose longer ways never keep the shorter meanings of their words
    turning: frozenset[str]  # words that have no meaning of their own within a longer way

    @property
    def circumstances(self) -> frozenset[str]:
        """Concepts under which something happened; no symptoms by themselves."""
        return self.readings.concepts["circumstances"]

    def conditions_of(self, words: Sequence[str]) -> tuple[str, ...]:
        """Conditions that a recording can tell a circumstance by, the best first; none for one that it cannot."""
        return tuple(dict.fromkeys(condition for condition, variant in self.told_by if _fits(tuple(words), variant)))

    def phrases_of(self, symptom: str) -> list[str]:
        """Phrases of a symptom, for a person."""
        return [self._told(phrase) for phrase in self.phrases if phrase.symptom == symptom]

    def phrases_within(self, names: frozenset[str]) -> list[Phrase]:
        """Phrases of which every concept is among these, longer ones first."""
        beginning = [one for name in names for one in self.phrases_from.get(name, ())]
        return [phrase for _, phrase in sorted((one for one in beginning if one[1].needed <= names), key=itemgetter(0))]

    def _told(self, phrase: Phrase) -> str:
        words = " ".join(self.readings.phrase(one) for one in phrase.concepts)
        without = sorted(phrase.beside | phrase.anywhere)
        return f"{words} (not with {' or '.join(map(self.readings.phrase, without))})" if without else words


@rests_on_corrections
@cache
def load_vocabulary() -> Vocabulary:
    """Read ``vocabulary.toml``, with the words that were added to it."""
    document: dict[str, Any] = read_table(VOCABULARY_FILE)
    for concept, more in in_effect().pilots_words.items():
        document["words"][concept] = [*document["words"][concept], *more]
    concepts = {concept: tuple(_written_out(concept, document["words"])) for concept in document["words"]}
    phrases = [_phrase(symptom, phrase) for symptom, listed in document["symptoms"].items() for phrase in listed]
    phrases.sort(key=lambda phrase: -len(phrase.concepts))
    others = {name: frozenset(listed) for name, listed in document["other_systems"].items()}
    return Vocabulary(
        concepts,
        tuple(phrases),
        _by_first_concept(phrases),
        frozenset(document["noise"]["faster_than_a_log"]),
        frozenset(document["small_words"]["list"]),
        readings_of(document),
        OtherSystems(
            others["until"],
            others["things"],
            others["things"] - others["also_of_vessels"],
            others["before"],
            others["before"] | others["before_vessels"],
            others["whose"],
        ),
        tuple(
            (condition, tuple(variant.split()))
            for condition, variants in document["told_by"].items()
            for variant in variants
        ),
        _names(document["names"]),
        frozenset(document["linking"]["list"]),
        Clauses(**{name: frozenset(listed) for name, listed in document["clauses"].items()}),
        frozenset(document["stress"]["list"]),
        frozenset(document["sound"]["list"]),
        frozenset(document["light_names"]["list"]),
        frozenset(document["whole"]["list"]),
        frozenset(document["whole"]["turning"]),
    )


def _by_first_concept(phrases: Sequence[Phrase]) -> Mapping[str, tuple[tuple[int, Phrase], ...]]:
    found: dict[str, list[tuple[int, Phrase]]] = {}
    for place, phrase in enumerate(phrases):
        found.setdefault(phrase.concepts[0], []).append((place, phrase))
    return {first: tuple(listed) for first, listed in found.items()}


def _names(document: Mapping[str, Sequence[str]]) -> Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]]:
    named = [(name, row) for name, rows in document.items() for one in rows for row in in_rows(one)]
    by_first: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for name, row in sorted(named, key=lambda one: -len(one[1])):
        by_first.setdefault(row[0], []).append((name, row))
    return {first: tuple(rows) for first, rows in by_first.items()}


def _written_out(concept: str, words: Mapping[str, Sequence[str]]) -> Iterator[tuple[str, ...]]:
    """Every way in which a concept is written; "@other" stands for the ways of another concept."""
    for written in words[concept]:
        if written.startswith("@"):
            yield from _written_out(written[1:], words)
        else:
            yield from in_rows(written.lower())


def in_rows(written: str) -> Iterator[tuple[str, ...]]:
    """Each row of words that is meant: "to the? left|right" is four rows.

    >>> list(in_rows("to the? left"))
    [('to', 'the', 'left'), ('to', 'left')]
    """
    choices = [[*word.removesuffix("?").split("|"), *([""] if word.endswith("?") else [])] for word in written.split()]
    for row in product(*choices):
        yield tuple(filter(None, row))


def _phrase(symptom: str, written: str) -> Phrase:
    words = written.split()
    marked = {
        mark: frozenset(word[1:] for word in words if word[0] == mark) for mark in (_BESIDE, _ANYWHERE, _SOMEWHERE)
    }
    plain = tuple(word for word in words if word[0] not in marked)
    return Phrase(symptom, plain, frozenset(plain), marked[_BESIDE], marked[_ANYWHERE], marked[_SOMEWHERE])


@rests_on_corrections
@lru_cache(maxsize=256)
def concepts_in(words: tuple[str, ...], shorter: bool = False) -> tuple[Concept, ...]:
    """Concepts in order, of each place the longest way of writing; a word belongs to every concept that it can mean.

    The words of a longer way mean nothing else, unless ``shorter`` lets them keep their own meanings: all but those of
    the ways that are always meant whole, as "landing light" is no light.
    """
    return tuple(_concepts_in(words, shorter))


def _concepts_in(words: tuple[str, ...], shorter: bool) -> Iterator[Concept]:
    vocabulary = load_vocabulary()
    place = within = 0
    while place < len(words):
        turns = words[place] in vocabulary.turning
        fits = [] if turns and place < within else [(1, concept) for concept in _meanings(words[place])]
        rows = dict.fromkeys((tuple(range(place, len(words))), _without_stress(words, place, vocabulary.stress)))
        fits += [one for row in rows for one in _in_a_row(words, row)]
        longest = max((length for length, _ in fits), default=1)
        hides = not shorter or any(length == longest and concept in vocabulary.whole for length, concept in fits)
        for length, concept in dict.fromkeys(fits):
            if length == longest or not (hides or concept in vocabulary.whole or (turns and length == 1)):
                yield Concept(concept, place, place + length)
        within = max(within, place + longest)
        place += longest if hides else 1


def _without_stress(words: Sequence[str], place: int, stress: frozenset[str]) -> tuple[int, ...]:
    """Places from one on, without words that only stress the next: "went completely dark"."""
    return (place, *(one for one in range(place + 1, len(words)) if words[one] not in stress))


def _in_a_row(words: Sequence[str], row: Sequence[int]) -> Iterator[tuple[int, str]]:
    """Ways of several words that the words at some places are, each with how many words it takes up."""
    said = tuple(words[one] for one in row)
    for concept, variant in _groups_from(said[:2]):
        length = len(variant)
        if length <= len(said) and all(map(is_written, said[2:length], variant[2:])):  # its first two are written so
            yield row[length - 1] + 1 - row[0], concept


@rests_on_corrections
@cache
def _by_letter() -> Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]]:
    """Ways of writing every concept, by the first letter of the first word; a word's pattern tells its own."""
    found: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for concept, variants in load_vocabulary().concepts.items():
        for variant in variants:
            found.setdefault(variant[0][0], []).append((concept, variant))
    return {letter: tuple(listed) for letter, listed in found.items()}


@rests_on_corrections
@cache
def _singles(letter: str) -> list[tuple[str, str]]:
    """Ways of one word that begin with a letter."""
    return [(concept, way[0]) for concept, way in _by_letter().get(letter, ()) if len(way) == 1]


@rests_on_corrections
@cache
def _groups(letter: str) -> tuple[Mapping[str, list[Group]], Mapping[str, list[Group]]]:
    """Ways of several words that begin with a letter, by their first word; apart those of which that is a pattern."""
    exact: dict[str, list[Group]] = {}
    begun: dict[str, list[Group]] = {}
    letters = list(_by_letter())
    for place, (concept, way) in enumerate(_by_letter().get(letter, ())):
        if len(way) > 1:
            listed = begun if way[0].endswith("*") or way[0] == "#" else exact
            listed.setdefault(way[0], []).append(((letters.index(letter), place), concept, way))
    return exact, begun


@rests_on_corrections
@lru_cache(maxsize=4096)
def _groups_from(words: tuple[str, ...]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Ways of writing a concept that take several words of which the first two may be these."""
    if len(words) == 1:
        exact, begun = _groups(words[0][0])
        patterns = {**begun, **_groups("#")[1]}.items()
        ways = [one for pattern, listed in patterns if is_written(words[0], pattern) for one in listed]
        return tuple((concept, way) for _, concept, way in sorted([*exact.get(words[0], ()), *ways]))
    return tuple((concept, way) for concept, way in _groups_from(words[:1]) if is_written(words[1], way[1]))


def _fits(words: tuple[str, ...], variant: tuple[str, ...]) -> bool:
    return len(words) == len(variant) and all(map(is_written, words, variant))


@rests_on_corrections
@lru_cache(maxsize=4096)
def _meanings(word: str) -> tuple[str, ...]:
    """Concepts that one word can mean; only where none is written so, a wrong letter is forgiven."""
    vocabulary = load_vocabulary()
    single = _singles(word[0])
    exact = tuple(dict.fromkeys(concept for concept, pattern in single if is_written(word, pattern)))
    if exact or word.endswith("n't"):
        return exact or (NOT,)
    if not _LONG_WORD <= len(word) <= _NO_WORD or not word.isalpha() or word in vocabulary.small_words:
        return ()
    plain = min((_apart(word, pattern) for pattern in shorthand()[1]), default=_LONG_WORD)
    near = [
        (apart, concept)
        for concept, pattern in single
        if (apart := _apart(word, pattern)) <= min(_forgiven(word, pattern), plain - 1)
    ]
    nearest = min((apart for apart, _ in near), default=0)
    return tuple(dict.fromkeys(concept for apart, concept in near if apart == nearest))


def _forgiven(word: str, pattern: str) -> int:
    """Letters that may be wrong, by the shorter one: the end that an asterisk stands for tells nothing."""
    return _MOST_WRONG if min(len(word), len(pattern.removesuffix("*"))) >= _VERY_LONG_WORD else 1


def _apart(word: str, pattern: str) -> int:
    """Letters by which a word differs from a pattern; only long patterns with the same first letter are compared."""
    stem = pattern.removesuffix("*")
    if stem == pattern:
        if len(word) > len(stem) + _MOST_WRONG or not _comparable(word, stem):
            return 0 if word == stem else _LONG_WORD
        return _letters_apart(word, stem)
    if word.startswith(stem):
        return 0
    if not _comparable(word, stem):
        return _LONG_WORD
    return min(_letters_apart(word[: len(stem) + more], stem) for more in (-1, 0, 1))


def _comparable(word: str, stem: str) -> bool:
    return len(stem) >= _LONG_WORD and word[0] == stem[0] and len(word) >= len(stem) - 1


def _letters_apart(one: str, other: str) -> int:
    """Letters to put in, leave out, change or swap with the next one to make one word the other.

    The optimal string alignment distance (any text on approximate matching of strings).
    """
    before: list[int] = []
    last = list(range(len(other) + 1))
    for row, letter in enumerate(one, 1):
        line = [row]
        for column, wanted in enumerate(other, 1):
            best = min(last[column] + 1, line[-1] + 1, last[column - 1] + (letter != wanted))
            swapped = row > 1 and column > 1 and letter == other[column - 2] and one[row - 2] == wanted
            line.append(min(best, before[column - 2] + 1) if swapped else best)
        before, last = last, line
    return last[-1]
