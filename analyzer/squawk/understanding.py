"""A report in plain words becomes symptoms: which words told, which were denied, which were not understood."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from analyzer.squawk.readings import NUMBER, USUAL, Concept, numbers_read
from analyzer.squawk.tokens import Token, parts_of
from analyzer.squawk.vocabulary import NOT, Phrase, Vocabulary, concepts_in, load_vocabulary

#: Words between the first and the last of a phrase, and before it for a denial to reach it.
_SPAN, _REACH = 6, 4
#: Longest report that is read [letters]: a hundred times a usual one, half a second's work.
LONGEST_REPORT = 10_000
#: Words that were not understood are listed up to this many.
_MOST_UNKNOWN = 30
#: A part is looked at so many words at a time: no phrase is longer, and time grows with the square of it.
_PART_LONGEST = 40
_WELL, _GONE, _SEEN_TO, _LIGHT_OUT = "well", "gone", "seen_to", "light_out"
_OTHER_SYSTEM, _VESSEL = "other_system", "vessel"
#: Words behind which "gone" speaks of something else: "came on and went away".
_JOINING = frozenset({"and", "until", "when", "with", "after"})


@dataclass(frozen=True, slots=True)
class Match:
    """One symptom that the words tell of, and the words as written that told it."""

    symptom: str
    matched: tuple[str, ...]
    phrases: tuple[str, ...]  # of the vocabulary


@dataclass(frozen=True, slots=True)
class Circumstance:
    """Under what something happened, and the conditions that a recording can tell it by, the best first."""

    words: str  # as written
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Understood:
    """What a report's words mean."""

    matches: tuple[Match, ...]  # in the order in which they stand in the report
    denied: tuple[str, ...]  # words of phrases that the report says did not happen
    named: tuple[Circumstance, ...]  # under which, as the report says; no symptom by themselves
    not_understood: tuple[str, ...]

    @property
    def circumstances(self) -> tuple[str, ...]:
        """The circumstances, as written."""
        return tuple(one.words for one in self.named)


@dataclass(frozen=True, slots=True)
class _Found:
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
class _Part:
    """One part of a report, with what its words can mean."""

    tokens: tuple[Token, ...]
    concepts: tuple[Concept, ...]
    phrases: tuple[_Found, ...] = ()

    @property
    def names(self) -> frozenset[str]:
        """Concepts that stand in it."""
        return frozenset(one.name for one in self.concepts)

    def written(self, places: frozenset[int] | range) -> str:
        """Words at some places, as the report has them."""
        return " ".join(token.written for place, token in enumerate(self.tokens) if place in places)


def understand(report: str) -> Understood:
    """Give the symptoms that a report's words tell of; what goes beyond the longest report is not read.

    >>> [match.symptom for match in understand("ALT light flickered, volts did not read high").matches]
    ['charging_light']
    """
    vocabulary = load_vocabulary()
    parts = _with_phrases([_meant(tokens, vocabulary) for tokens in _parts(report[:LONGEST_REPORT])], vocabulary)
    found: dict[str, tuple[list[str], list[str]]] = {}
    denied: list[str] = []
    unknown: list[str] = []
    named: list[Circumstance] = []
    for place, part in enumerate(parts):
        refused = _denied(part.phrases, part.concepts) + _taken_back(parts, place)
        for one in part.phrases:
            said = part.written(one.places)
            if one in refused:
                denied.append(said)
                continue
            matched, told = found.setdefault(one.symptom, ([], []))
            matched.append(said)
            told.append(one.phrase.words)
        unknown += _unknown(part, vocabulary)
        named += [
            Circumstance(part.written(places), vocabulary.conditions_of([part.tokens[one].word for one in places]))
            for concept in part.concepts
            if concept.name in vocabulary.circumstances
            for places in [range(concept.first, concept.end)]
        ]
    matches = tuple(
        Match(symptom, tuple(dict.fromkeys(matched)), tuple(dict.fromkeys(told)))
        for symptom, (matched, told) in found.items()
    )
    told_of, under = tuple(dict.fromkeys(denied)), tuple(dict.fromkeys(named))[:_MOST_UNKNOWN]
    return Understood(matches, told_of, under, tuple(dict.fromkeys(unknown))[:_MOST_UNKNOWN])


def _parts(report: str) -> Iterator[tuple[Token, ...]]:
    """The report's parts.

    One that only names a circumstance belongs to the next one ("in cruise, 12.3 V"), or to the last; one that says
    what was usual to the one beside it ("normally 14.1, now 15.2").
    """
    parts: list[list[Token]] = []
    held: list[Token] = []
    for part in parts_of(report):
        held += part
        if len(held) <= _SPAN and _only_circumstances(held):
            continue
        if parts and (_says_what_is_usual(held) or _says_what_is_usual(parts[-1])):
            parts[-1] += held
        else:
            parts.append(held)
        held = []
    if parts and len(parts[-1]) < _PART_LONGEST:
        parts[-1] += held
    elif held:
        parts.append(held)
    for tokens in parts:
        for first in range(0, len(tokens), _PART_LONGEST):
            yield tuple(tokens[first : first + _PART_LONGEST])


def _words(tokens: Sequence[Token]) -> tuple[str, ...]:
    return tuple(token.word for token in tokens)


def _says_what_is_usual(tokens: Sequence[Token]) -> bool:
    """Whether a short part only says what was usual, with its number."""
    words = _words(tokens)
    numbers = sum(NUMBER.fullmatch(word) is not None for word in words)
    return numbers == 1 and len(words) <= _SPAN and any(one.name == USUAL for one in concepts_in(words))


def _only_circumstances(tokens: Sequence[Token]) -> bool:
    vocabulary = load_vocabulary()
    words = _words(tokens)
    concepts = list(concepts_in(words))
    within = {place for one in concepts for place in range(one.first, one.end)}
    return all(one.name in vocabulary.circumstances for one in concepts) and all(
        place in within or word in vocabulary.small_words for place, word in enumerate(words)
    )


def _meant(tokens: tuple[Token, ...], vocabulary: Vocabulary) -> _Part:
    """Concepts of one part without those that speak of another system, and with its numbers read."""
    words = _words(tokens)
    concepts = list(concepts_in(words))
    elsewhere = _of_other_systems(words, concepts, vocabulary)
    kept = [one for one in concepts if one.first not in elsewhere]
    numbers = numbers_read(words, kept, vocabulary.readings, vocabulary.small_words)
    kept += [one for one in numbers if one.first not in elsewhere]
    return _Part(tokens, tuple(sorted(kept, key=lambda one: one.first)))


def _of_other_systems(words: Sequence[str], concepts: Sequence[Concept], vocabulary: Vocabulary) -> set[int]:
    """Places of what is said of another system: from its name up to the next electrical thing, and a word before."""
    others = vocabulary.other_systems
    before = {one.end: one.first for one in concepts if one.name in others.before}
    spared = {
        place for one in concepts if one.name in vocabulary.circumstances | {NOT} for place in range(one.first, one.end)
    }
    joining = {place for place, word in enumerate(words) if word in others.until}
    found: set[int] = set()
    for named in (one for one in concepts if one.name in (_OTHER_SYSTEM, _VESSEL)):
        things = others.things if named.name == _OTHER_SYSTEM else others.things_of_vessels
        ends = joining | {one.first for one in concepts if one.name in things}
        end = min((place for place in ends if place >= named.end), default=len(words))
        found |= set(range(before.get(named.first, named.first), end))
    return found - spared


def _with_phrases(parts: Sequence[_Part], vocabulary: Vocabulary) -> list[_Part]:
    """Parts with the phrases that stand in each, as far as the whole report lets them mean something."""
    everywhere = frozenset().union(*(part.names for part in parts))
    return [_Part(part.tokens, part.concepts, tuple(_phrases(part, everywhere, vocabulary))) for part in parts]


def _phrases(part: _Part, everywhere: frozenset[str], vocabulary: Vocabulary) -> list[_Found]:
    """Phrases that stand in one part of the report, in its order; none that lies within a longer one."""
    places: dict[str, list[Concept]] = {}
    for one in part.concepts:
        places.setdefault(one.name, []).append(one)
    found: list[_Found] = []
    for phrase in vocabulary.phrases:
        if not all(name in places for name in phrase.concepts) or not _let(phrase, part.names, everywhere):
            continue
        for anchor in places[phrase.concepts[0]]:
            new = _nearest(phrase, anchor, places)
            if new and not any(one.symptom == new.symptom and new.places <= one.places for one in found):
                found.append(new)
    return sorted(_each_denial_once(_closest(found), part.concepts), key=lambda one: min(one.places))


def _let(phrase: Phrase, beside: frozenset[str], everywhere: frozenset[str]) -> bool:
    """Whether nothing in the part or the report keeps a phrase from meaning its symptom."""
    kept_off = phrase.beside & beside or phrase.anywhere & everywhere
    return not kept_off and (not phrase.somewhere or bool(phrase.somewhere & everywhere))


def _closest(found: Sequence[_Found]) -> list[_Found]:
    """Phrases without those whose every word stands closer to another: "volts high, amps low" is no high ampere."""
    closest: dict[int, int] = {}
    for one in found:
        for place in one.places:
            closest[place] = min(one.between, closest.get(place, one.between))
    return [one for one in found if any(one.between <= closest[place] for place in one.places)]


def _nearest(phrase: Phrase, anchor: Concept, places: Mapping[str, list[Concept]]) -> _Found | None:
    """The concepts of a phrase nearest to its first one; None where they stand too far apart."""
    chosen = [anchor]
    for name in phrase.concepts[1:]:
        free = [one for one in places[name] if all(one.first >= c.end or one.end <= c.first for c in chosen)]
        if not free:
            return None
        chosen.append(min(free, key=lambda one: abs(one.first - anchor.first)))
    new = _Found(phrase, frozenset(place for one in chosen for place in range(one.first, one.end)))
    return new if new.between <= _SPAN else None


def _each_denial_once(found: list[_Found], concepts: Sequence[Concept]) -> Iterator[_Found]:
    """Let each "not" serve one phrase: the longest that holds it, unless what it denies is part of a name.

    "Light did not go out" is a light that is on, no alternator that is not; "no charging light" is no light;
    "amps not high" is no ammeter that shows nothing.
    """
    plain = [one for one in found if not one.holds_not]
    named = [one for one in plain if one.between == 0]
    claimed: set[int] = set()
    for one in found:  # longer ones first
        own = _denials(concepts, one)
        if one.holds_not:
            rest = {place for place in one.places if place not in own}
            at = min(own, default=0)
            in_a_name = any(rest < other.places and at < min(other.places) for other in named)
            within = any(rest < other.places and min(other.places) < at < max(other.places) for other in plain)
            if in_a_name or within or _of_what_is_named(rest, at, named, plain) or own & claimed:
                continue
            claimed |= own
            yield one
    yield from (one for one in plain if not _denials(concepts, one) & claimed)


def _of_what_is_named(rest: set[int], at: int, named: Sequence[_Found], plain: Sequence[_Found]) -> bool:
    """Whether a "not" behind a name denies what follows it: "charging light not on" is no light, not no charge."""
    names = [one.places for one in named if rest < one.places and max(one.places) < at]
    spans = [one.places for one in plain if min(one.places) < at < max(one.places)]
    return any(name & span for name in names for span in spans)


def _denied(phrases: Sequence[_Found], concepts: Sequence[Concept]) -> list[_Found]:
    """Phrases with a "not" in or before them, and those of the same symptom that share a word with one of these.

    In "ALT light never came on" the denial of the light that came on is one of the ALT light as well.
    """
    denied = [one for one in phrases if not one.holds_not and _denials(concepts, one)]
    return denied + [
        one
        for one in phrases
        if one not in denied
        and not one.holds_not
        and any(one.symptom == other.symptom and one.places & other.places for other in denied)
    ]


def _denials(concepts: Sequence[Concept], phrase: _Found) -> set[int]:
    """Places of each "not" in a phrase, or shortly before it."""
    first, last = min(phrase.places), max(phrase.places)
    return {one.first for one in concepts if one.name == NOT and first - _REACH <= one.first <= last}


def _taken_back(parts: Sequence[_Part], place: int) -> list[_Found]:
    """Phrases of a part that words behind them take back: "ammeter squawk gone", "slow crank last week, normal now"."""
    part = parts[place]
    behind = parts[place + 1] if place + 1 < len(parts) else None
    if behind is not None and _SEEN_TO in behind.names and not behind.phrases:
        return list(part.phrases)
    ends = [one for one in part.concepts if one.name in (_GONE, _SEEN_TO, _LIGHT_OUT)]
    return [one for one in part.phrases if any(_takes_back(end, one, part.tokens) for end in ends)]


def _takes_back(end: Concept, phrase: _Found, tokens: Sequence[Token]) -> bool:
    last = max(place for place in phrase.places)
    if end.name == _LIGHT_OUT and phrase.symptom == "charging_light":
        return last < end.end
    between = {token.word for token in tokens[last + 1 : end.first]}
    return last < end.first and not between & _JOINING


def _unknown(part: _Part, vocabulary: Vocabulary) -> list[str]:
    """Words that fit no concept; where a part told of nothing, those too that only name a thing."""
    plain = vocabulary.circumstances | {NOT, _WELL, _GONE, _SEEN_TO, _LIGHT_OUT, USUAL}
    known = {place for one in part.concepts if part.phrases or one.name in plain for place in range(one.first, one.end)}
    return [
        token.written
        for place, token in enumerate(part.tokens)
        if place not in known and token.word not in vocabulary.small_words and not NUMBER.fullmatch(token.word)
    ]
