"""A report in plain words becomes symptoms: which words told, which were denied, which were not understood."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from analyzer.squawk.part import PART_LONGEST, SPAN, Found, Part, is_back, meant, only_behaves, parts_in
from analyzer.squawk.readings import DECIMAL, NUMBER, USUAL, VOLTS_READ, Concept
from analyzer.squawk.taken_back import GONE, LOOKED_AT, SEEN_TO, TAKES_BACK, taken_back
from analyzer.squawk.tokens import Token
from analyzer.squawk.vocabulary import NOT, Phrase, Vocabulary, concepts_in, load_vocabulary

#: Words that may join two tales, and how soon behind them the second one's thing is named.
_WITH = "with"
_JOINS, _SOON = frozenset({"and", _WITH}), 3
#: Words by which a part says that what stands before it is as it should be.
_NORMAL = frozenset({"normal", "expected"})
#: What else names a thing, and says how it fares.
_NAMED_WITH_IT = frozenset({"well", "lamp_test", "warning", "normality"})
#: Words of a part that may still speak of the vessel or device before it.
_FEW = 3
#: Words before a phrase for a denial to reach it.
_REACH = 4
#: Longest report that is read [letters]: a hundred times a usual one, half a second's work.
LONGEST_REPORT = 10_000
#: Words that were not understood are listed up to this many.
_MOST_UNKNOWN = 30
_WELL, _LIVELY, _DEAD_ALTERNATOR = "well", "lively", "dead_alternator"
#: Gauges, of which some show a current; what each may do next, and where one that shows a current stands for how long.
_OF_CURRENT = frozenset({"ammeter", "charge"})
_GAUGES = frozenset({"volt_gauge", "voltage"}) | _OF_CURRENT
_OF_A_GAUGE = frozenset({"jumps", "faulty"})
_STANDS = frozenset({"high", "minus", "right_of", "needle_right"})
_HOW_LONG = frozenset({"stays", "lasting", "running"})
_NOW = "now"
#: Lamps that may be lit, and what says so: how, and when; breakers, and what they do.
_LAMPS = frozenset({"charging_lamp", "one_light", "light"})
_OTHER_LIGHT, _BURNED = "other_light", "burned"
#: What a lamp that burned out may be said to be besides.
_BURNED_LAMP = _LAMPS | {_BURNED, "on", "lit", "open", "tripped", "hot", "out", "is_out", "broken", "off"}
_LAMP_SEEN_TO = frozenset({"light_out", "lamp_test"})
_IS_LIT, _WHEN_LIT = frozenset({"lit", "flicker", "on"}), frozenset({"running", "lasting", "again", "intermittent"})
#: Words by which what was well, or denied, is not.
_STILL = frozenset({"but", "then", "yet", "still", "again", "back"})
#: What else is named, and what it may do next: "battery not old but dead".
_DOES = {
    "battery": frozenset({"dead", "hot", "leaks", "swollen"}),
    "starter": frozenset({"slow"}),
    "radio": frozenset({"noise"}),
}
#: A thing that only says when: "no light at start".
_WHEN = frozenset({"start"})
_BREAKERS, _OPENS = frozenset({"breaker"}), "open"
_SETTLES = frozenset({NOT, "settle"})
#: Words of two parts that are one sentence in fragments: "whine. both headsets".
_FRAGMENTS = 4
#: Says that what was told comes from what is named with it: "something steamed, the battery was the culprit".
_CULPRIT = "culprit"
#: Says that a part tells of the same as the one before, though that was well: the concept, and words it begins with.
_AGAIN, _BUT = "again", frozenset({"but", "however", "then"})
#: Words by which it is otherwise under something: "cranks fine cold, slow when hot".
_UNDER = frozenset({"when", "whenever", "once", "unless"})
#: Where something is well that may fail in flight: "tested good in the shop, quits in flight".
_ON_THE_GROUND = frozenset({"shop", "bench", "ground", "hangar"})
_RUNNING, _RAIN = "running", "rain"
#: Words by which what was well was so for a time.
_SO_FAR = frozenset({"until", "till", "first", "before"})
#: Of a part after which the next one speaks of something else.
_ENDS_A_TALE = frozenset({_WELL, GONE, SEEN_TO, LOOKED_AT})
#: Concepts of a phrase that denies all of its subject: "ammeter did not".
_SUBJECT_ONLY = 2
#: Denials that stand before what they deny.
_VERBAL = frozenset({"not", "never", "couldnt", "didnt", "doesnt", "dont", "wont", "wouldnt", "isnt", "wasnt"})
#: Words that deny what stands with them.
_SAYS_NO = frozenset({"no", "nothing", "nor"})
#: Words behind which a "not" before them denies nothing more.
_ENDS_A_DENIAL = frozenset({"after", "until", "since", "because"})


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
    denied: tuple[str, ...]  # words of phrases that the report denies, or takes back as gone or as it should be
    named: tuple[Circumstance, ...]  # under which, as the report says; no symptom by themselves
    not_understood: tuple[str, ...]

    @property
    def circumstances(self) -> tuple[str, ...]:
        """The circumstances, as written."""
        return tuple(one.words for one in self.named)


@dataclass(frozen=True, slots=True)
class Named:
    """A thing that a report speaks of, as it names it."""

    words: tuple[Token, ...]
    is_of: frozenset[str]  # its concepts

    @property
    def of_current(self) -> bool:
        """Whether it shows amperes or a charge."""
        return bool(self.is_of & _OF_CURRENT)


def understand(report: str) -> Understood:
    """Give the symptoms that a report's words tell of; what goes beyond the longest report is not read.

    >>> [match.symptom for match in understand("ALT light flickered, volts did not read high").matches]
    ['charging_light']
    """
    vocabulary = load_vocabulary()
    parts = _each_tale(_with_phrases(_meant(report[:LONGEST_REPORT], vocabulary), vocabulary), vocabulary)
    parts = _read_again(_joined(parts, vocabulary), vocabulary)
    found: dict[str, tuple[list[str], list[str]]] = {}
    denied: list[str] = []
    unknown: list[str] = []
    named: list[Circumstance] = []
    for place, part in enumerate(parts):
        refused = _denied(part.phrases, part) + taken_back(parts, place, vocabulary.other_systems.things)
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


def _meant(report: str, vocabulary: Vocabulary) -> list[Part]:
    """Give the report's parts with their meaning; what belongs to a vessel or a device goes on behind a comma."""
    parts: list[Part] = []
    for tokens in parts_in(report):
        part = meant(tokens, vocabulary)
        if len(tokens) <= _FEW and parts and parts[-1].ends_elsewhere and only_behaves(part, vocabulary, vessels=True):
            part = Part(tokens, (), ends_elsewhere=True)
        if parts and _is_lamp_of(parts[-1], part):
            part = Part(tokens, ())
        parts.append(part)
    return parts


def _is_lamp_of(light: Part, part: Part) -> bool:
    """Whether a lamp that burned out is that of the light named before it: "beacon inop, lamp burnt"."""
    of_another = _OTHER_LIGHT in light.names and not light.names & _LAMPS
    return of_another and part.names <= _BURNED_LAMP and bool(part.names & _LAMPS) and _BURNED in part.names


def _each_tale(parts: Sequence[Part], vocabulary: Vocabulary) -> list[Part]:
    """Give each tale as a part of its own where an "and" joins two: "battery dead and ammeter normal".

    Where the next part says that all of it is normal or seen to, it stays one.
    """
    everywhere = frozenset().union(*(part.names for part in parts))
    tales: list[Part] = []
    for place, part in enumerate(parts):
        behind = parts[place + 1] if place + 1 < len(parts) else None
        whole = behind is not None and not behind.phrases and _says_of_all(behind)
        tales += [part] if whole else _tales(part, everywhere, vocabulary)
    return tales


def _says_of_all(part: Part) -> bool:
    """Whether a part may take back all of the one before it: "light on and amps negative, normal"."""
    return bool(part.names & TAKES_BACK) or any(token.word in _NORMAL for token in part.tokens)


def _tales(part: Part, everywhere: frozenset[str], vocabulary: Vocabulary) -> list[Part]:
    """A part as it is, or cut at the first word that joins what tells something to words of another thing."""
    for place in _joints(part, vocabulary):
        halves = (meant(part.tokens[:place], vocabulary), meant(part.tokens[place + 1 :], vocabulary))
        left, right = (replace(half, phrases=tuple(_phrases(half, everywhere, vocabulary))) for half in halves)
        denies = part.tokens[place + 1].word in _SAYS_NO
        under_it = part.tokens[place].word == _WITH and right.phrases and not denies  # "light on with alternator off"
        if left.phrases and not under_it and not _belongs_to_both(right):
            return [left, *_tales(right, everywhere, vocabulary)]
    return [part]


def _joints(part: Part, vocabulary: Vocabulary) -> Iterator[int]:
    """Places of each word in a part that may join two tales: a thing is named, or something denied, shortly behind."""
    naming = vocabulary.other_systems.things | _GAUGES | _LAMPS | _NAMED_WITH_IT
    named = {one.first for one in part.concepts if one.name in naming}
    within = {place for one in part.concepts for place in range(one.first, one.end)}
    for place, token in enumerate(part.tokens):
        if place and token.word in _JOINS and place not in within:
            denies = any(one.word in _SAYS_NO for one in part.tokens[place + 1 : place + 2])
            if denies or named.intersection(range(place + 1, place + 1 + _SOON)):
                yield place


def _belongs_to_both(part: Part) -> bool:
    """Whether words behind an "and" say something of what stands before it too: that it is gone, or how many volts."""
    return bool(part.names & VOLTS_READ or (part.phrases and part.names & TAKES_BACK))


def _joined(parts: Sequence[Part], vocabulary: Vocabulary) -> list[Part]:
    """Give parts that tell nothing alone together with the one before, where one only says how the other behaves.

    "The needle of the ammeter, when the lights are on, trembles."
    """
    everywhere = frozenset().union(*(part.names for part in parts))
    joined: list[Part] = []
    named: Named | None = None
    for part in parts:
        last = joined[-1] if joined else None
        both = None if last is None else _both(last, part, everywhere, vocabulary)
        if both is not None:
            joined[-1] = both
        else:
            joined.append(_with_what_is_named(named, part, everywhere, vocabulary))
        named = _named_last(part, named, vocabulary.other_systems.things)
    return joined


def _named_last(part: Part, before: Named | None, things: frozenset[str]) -> Named | None:
    """What is spoken of behind a part: its last thing, or where it names nothing what was before."""
    named = [one for one in part.concepts if one.name in (things | _GAUGES | _LAMPS) - _WHEN]
    lamp = _lamp_seen_to(part)
    if lamp is not None and not part.names & _LAMPS:
        return Named((lamp,), frozenset({"one_light"}))
    if not named:
        held = [token for token in part.tokens if _WELL in part.names and _names(token, _BREAKERS)]
        return Named((held[0],), _BREAKERS) if held else before
    last = [
        one for one in named if one.first == named[-1].first and one.name in _GAUGES | _LAMPS | _BREAKERS | _DOES.keys()
    ]
    if not last:
        return None
    first = last[0].first
    if last[0].name in _LAMPS:  # with whose it is: "alternator light"
        first = min((one.first for one in named if one.end == first), default=first)
    return Named(part.tokens[first : last[0].end], frozenset(one.name for one in last))


def _read_again(parts: Sequence[Part], vocabulary: Vocabulary) -> list[Part]:
    """Parts that tell nothing by the longest ways of writing, read by the shorter meanings of their words as well."""
    everywhere = frozenset().union(*(part.names for part in parts))
    again: list[Part] = []
    for part in parts:
        longer = any(one.end - one.first > 1 and one.name not in vocabulary.whole for one in part.concepts)
        if part.phrases or not longer or _WELL in part.names:
            again.append(part)
            continue
        shorter = meant(part.tokens, vocabulary, shorter=True)
        told = tuple(_phrases(shorter, everywhere | shorter.names, vocabulary))
        again.append(replace(shorter, phrases=told) if told else part)
    return again


def _with_what_is_named(named: Named | None, part: Part, everywhere: frozenset[str], vocabulary: Vocabulary) -> Part:
    """A part that only says what a thing did next, with the thing named before: "pegged, then erratic"."""
    if named is None or part.phrases or not _can_do(named, part) or not only_behaves(part, vocabulary):
        return part
    back = is_back(part.tokens)  # "but came back" is a coming back, whatever joins it
    both = meant(named.words + part.tokens[back or 0 :], vocabulary)
    told = tuple(_phrases(both, everywhere, vocabulary))
    return replace(both, phrases=told) if told else part


def _lamp_seen_to(part: Part) -> Token | None:
    """The lamp of a part that says that it went out, or was tested: "light tested ok"."""
    within = {place for one in part.concepts if one.name in _LAMP_SEEN_TO for place in range(one.first, one.end)}
    return next((part.tokens[place] for place in sorted(within) if _names(part.tokens[place], _LAMPS)), None)


def _names(token: Token, things: frozenset[str]) -> bool:
    return any(one.name in things for one in concepts_in((token.word,)))


def _can_do(named: Named, part: Part) -> bool:
    """Whether a part says what such a thing may do next: a lamp is lit, a breaker opens."""
    if named.is_of & _BREAKERS:
        return _OPENS in part.names and _WELL not in part.names
    goes_on = any(token.word in _STILL for token in part.tokens)
    if named.is_of & _LAMPS:
        return is_back(part.tokens) is not None or (
            bool(part.names & _IS_LIT) and (goes_on or bool(part.names & _WHEN_LIT))
        )
    does = frozenset[str]().union(*(_DOES[name] for name in named.is_of & _DOES.keys()))
    if does:
        return goes_on and bool(part.names & does) and not part.names & {NOT, _WELL}
    return _of_a_gauge(named, part)


def _of_a_gauge(gauge: Named, part: Part) -> bool:
    """Whether a part says what such a gauge did next, or its volts: of a current, also where it stood for how long."""
    if part.names & _OF_A_GAUGE:
        return True
    if not gauge.of_current and any(DECIMAL.fullmatch(token.word) for token in part.tokens):
        return True
    stands, now = part.names & _STANDS, any(token.word == _NOW for token in part.tokens)
    of_time = {place for one in part.concepts if one.name in _HOW_LONG for place in range(one.first, one.end)}
    reads = any(NUMBER.fullmatch(token.word) and place not in of_time for place, token in enumerate(part.tokens))
    how_long = part.names & _HOW_LONG and (stands or reads)
    return gauge.of_current and (part.names >= _SETTLES or bool(how_long or (stands and now)))


def _both(last: Part, part: Part, everywhere: frozenset[str], vocabulary: Vocabulary) -> Part | None:
    """Two parts as one that tells something; None where they stay apart."""
    tokens = last.tokens + part.tokens
    contrast = NOT in last.names and part.tokens[0].word in _BUT  # "battery not old but dead"
    if last.phrases or part.phrases or contrast or len(tokens) > PART_LONGEST:
        return None
    short = (len(tokens) <= _FRAGMENTS or _only_names(part, vocabulary)) and NOT not in last.names | part.names
    named_behind = (short and only_behaves(last, vocabulary, vessels=True)) or _CULPRIT in part.names
    if part.names & {_WELL, _LIVELY} or not (named_behind or only_behaves(part, vocabulary)):
        return None
    if _is_sound(last, vocabulary) and not (_goes_on_with_it(part) or _only_on_the_ground(last, part)):
        return None
    both = meant(last.tokens + _from_the_culprit(part, vocabulary), vocabulary)
    told = tuple(_phrases(both, everywhere, vocabulary))
    return replace(both, phrases=told) if told else None


def _from_the_culprit(part: Part, vocabulary: Vocabulary) -> tuple[Token, ...]:
    """A part's words; where it tells what a thing comes from, from there: "the mechanic traced it to the battery"."""
    first = next((one.first for one in part.concepts if one.name == _CULPRIT), 0)
    named = any(one.name in vocabulary.other_systems.things and one.first > first for one in part.concepts)
    return part.tokens[first:] if named else part.tokens


def _only_names(part: Part, vocabulary: Vocabulary) -> bool:
    """Whether a part only names something electrical: "wanders as it likes, ammeter"."""
    naming = vocabulary.other_systems.things | _GAUGES
    named = {place for one in part.concepts if one.name in naming for place in range(one.first, one.end)}
    return len(named) == len(part.tokens) > 0


def _is_sound(part: Part, vocabulary: Vocabulary) -> bool:
    """Whether a part says that what it names is well, or was seen to: "alternator ok. It quit raining"."""
    words = {token.word for token in part.tokens}
    done = {one.name for one in part.concepts if one.name != LOOKED_AT or one.end == len(part.tokens)}
    return not words & _SO_FAR and bool(done & _ENDS_A_TALE or words & vocabulary.sound)


def _goes_on_with_it(part: Part) -> bool:
    """Whether a part goes on with what was well before it: "annunciator tests fine but flickered"."""
    return _AGAIN in part.names or part.tokens[0].word in _BUT or any(one.word in _UNDER for one in part.tokens)


def _only_on_the_ground(last: Part, part: Part) -> bool:
    """Whether something was well on the ground, and the next part says what it does in flight: no "it quit raining"."""
    in_flight = _RUNNING in part.names and _RAIN not in part.names
    return in_flight and any(token.word in _ON_THE_GROUND for token in last.tokens)


def _with_phrases(parts: Sequence[Part], vocabulary: Vocabulary) -> list[Part]:
    """Parts with the phrases that stand in each, as far as the whole report lets them mean something."""
    everywhere = frozenset().union(*(part.names for part in parts))
    return [replace(part, phrases=tuple(_phrases(part, everywhere, vocabulary))) for part in parts]


def _phrases(part: Part, everywhere: frozenset[str], vocabulary: Vocabulary) -> list[Found]:
    """Phrases that stand in one part of the report, in its order; none that lies within a longer one."""
    places: dict[str, list[Concept]] = {}
    for one in part.concepts:
        places.setdefault(one.name, []).append(one)
    found: list[Found] = []
    names = part.names
    for phrase in vocabulary.phrases_within(names):
        if not _let(phrase, names, everywhere):
            continue
        for anchor in places[phrase.concepts[0]]:
            new = _nearest(phrase, anchor, places)
            if new is None or any(one.symptom == new.symptom and new.places <= one.places for one in found):
                continue
            if not _crosses(new, part, vocabulary) and not _is_out_of_reach(new, part):
                found.append(new)
    return sorted(_each_denial_once(_closest(found), part), key=lambda one: min(one.places))


def _crosses(one: Found, part: Part, vocabulary: Vocabulary) -> bool:
    """Whether a phrase lies on both sides of a "when": in "buzz quits when alternator off" no alternator quits.

    Circumstances may stand behind it, "volts fall to 8 while cranking", and what they interrupt may go on behind them:
    "the needle, when the lights are on, trembles".
    """
    if vocabulary.clauses.circumstances.intersection(one.phrase.concepts):
        return False
    first, last = min(one.places), max(one.places)
    clauses = [place for place in range(first + 1, last) if _begins_another(part, place, vocabulary)]
    inserted = [each for each in part.concepts if each.name in vocabulary.circumstances and each.end <= last]
    return any(not any(place < each.first <= place + 2 for each in inserted) for place in clauses)


def _begins_another(part: Part, place: int, vocabulary: Vocabulary) -> bool:
    """Whether a clause begins that speaks of something else: "charged battery because it was flat" does not."""
    words = [token.word for token in part.tokens[place : place + 2]]
    return words[0] in vocabulary.clauses.begin and words[1] not in vocabulary.clauses.of_the_same


def _is_out_of_reach(one: Found, part: Part) -> bool:
    """Whether a phrase's "not" denies something else: what stands before it, or what an "and" joins to that.

    "Reset breaker not popped", "light never came on and the ammeter was fine".
    """
    if not one.holds_not:
        return False
    denial = max((each.first for each in part.concepts if each.name == NOT and each.first in one.places), default=0)
    behind = [place for place in one.places if place > denial]
    word = part.tokens[denial].word
    if not behind:
        return len(one.phrase.concepts) > _SUBJECT_ONLY and _is_verbal(word)
    return any(token.word == "and" for token in part.tokens[denial : min(behind)])


def _is_verbal(word: str) -> bool:
    return word in _VERBAL or word.endswith("n't")


def _let(phrase: Phrase, beside: frozenset[str], everywhere: frozenset[str]) -> bool:
    """Whether nothing in the part or the report keeps a phrase from meaning its symptom."""
    kept_off = phrase.beside & beside or phrase.anywhere & everywhere
    return not kept_off and (not phrase.somewhere or bool(phrase.somewhere & everywhere))


def _closest(found: Sequence[Found]) -> list[Found]:
    """Phrases without those whose every word stands closer to another: "volts high, amps low" is no high ampere."""
    closest: dict[int, int] = {}
    for one in found:
        for place in one.places:
            closest[place] = min(one.between, closest.get(place, one.between))
    near = [one for one in found if any(one.between <= closest[place] for place in one.places)]
    return [one for one in near if not any(_is_said_of_another(one, other) for other in near)]


def _is_said_of_another(one: Found, other: Found) -> bool:
    """Whether what a phrase says stands between its thing and a nearer one: "amps high for 2 hours volts normal"."""
    said = one.places & other.places
    thing, nearer = one.places - said, other.places - said
    alike = one.symptom == other.symptom or one.holds_not or other.holds_not
    if alike or not (said and thing and nearer) or one.between <= other.between:
        return False
    return max(nearer) < min(said) <= max(said) < min(thing) or max(thing) < min(said) <= max(said) < min(nearer)


def _nearest(phrase: Phrase, anchor: Concept, places: Mapping[str, list[Concept]]) -> Found | None:
    """The concepts of a phrase nearest to its first one; None where they stand too far apart."""
    chosen = [anchor]
    for name in phrase.concepts[1:]:
        free = [one for one in places[name] if all(one.first >= c.end or one.end <= c.first for c in chosen)]
        if not free:
            return None
        chosen.append(min(free, key=lambda one: abs(one.first - anchor.first)))
    new = Found(phrase, frozenset(place for one in chosen for place in range(one.first, one.end)))
    return new if new.between <= SPAN else None


def _each_denial_once(found: list[Found], part: Part) -> Iterator[Found]:
    """Let each "not" serve one phrase: the longest that holds it, unless what it denies is part of a name.

    "Light did not go out" is a light that is on, no alternator that is not; "no charging light" is no light;
    "amps not high" is no ammeter that shows nothing.
    """
    plain = [one for one in found if not one.holds_not]
    named = [one for one in plain if one.between == 0]
    claimed: set[int] = set()
    nearest_first = sorted(found, key=lambda one: (-len(one.phrase.concepts), _behind_its_not(one, part)))
    for one in nearest_first:
        own = _denials(part, one)
        if one.holds_not:
            rest = {place for place in one.places if place not in own}
            at = min(own, default=0)
            in_a_name = any(
                rest < other.places and at < min(other.places) and not _says_no(other, part) for other in named
            )
            within = any(rest < other.places and min(other.places) < at < max(other.places) for other in plain)
            if not own or in_a_name or within or _of_what_is_named(rest, at, named, plain) or own & claimed:
                continue
            claimed |= own
            yield one
    yield from (one for one in plain if not _denials(part, one) & claimed)


def _says_no(one: Found, part: Part) -> bool:
    """Whether a phrase has a denial within its own words, so that one before it is another: "no crank no lights"."""
    return any(part.tokens[place].word in _SAYS_NO for place in one.places)


def _behind_its_not(one: Found, part: Part) -> int:
    """Words from a phrase's "not" to its next one: what a "not" denies stands behind it, as a rule."""
    denial = max((each.first for each in part.concepts if each.name == NOT and each.first in one.places), default=0)
    return min((place - denial for place in one.places if place > denial), default=PART_LONGEST)


def _of_what_is_named(rest: set[int], at: int, named: Sequence[Found], plain: Sequence[Found]) -> bool:
    """Whether a "not" behind a name denies what follows it: "charging light not on" is no light, not no charge."""
    names = [one.places for one in named if rest < one.places and max(one.places) < at]
    spans = [one.places for one in plain if min(one.places) < at < max(one.places)]
    return any(name & span for name in names for span in spans)


def _denied(phrases: Sequence[Found], part: Part) -> list[Found]:
    """Phrases with a "not" in or before them, and those of the same symptom that share a word with one of these.

    In "ALT light never came on" the denial of the light that came on is one of the ALT light as well.
    """
    denied = [one for one in phrases if not one.holds_not and _denials(part, one)]
    return denied + [
        one
        for one in phrases
        if one not in denied
        and not one.holds_not
        and any(one.symptom == other.symptom and one.places & other.places for other in denied)
    ]


def _denials(part: Part, phrase: Found) -> set[int]:
    """Places of each "not" in a phrase, or shortly before it: "would not reset after the light came on" is a light."""
    first, last = min(phrase.places), max(phrase.places)
    near = {one.first for one in part.concepts if one.name == NOT and first - _REACH <= one.first <= last}
    return {one for one in near if not _ends_before(one, phrase, part)}


def _ends_before(denial: int, phrase: Found, part: Part) -> bool:
    """Whether what a "not" denies ends before the phrase goes on: "amps won't taper and acid is running out"."""
    behind = min((place for place in phrase.places if place > denial), default=denial)
    if any(token.word in _ENDS_A_DENIAL for token in part.tokens[denial:behind]):
        return True
    joined = any(token.word == "and" for token in part.tokens[max(denial, behind - 2) : behind])
    return joined and behind == min(phrase.places) and _is_verbal(part.tokens[denial].word)


def _unknown(part: Part, vocabulary: Vocabulary) -> list[str]:
    """Words that fit no concept; where a part told of nothing, those too that only name a thing."""
    plain = vocabulary.circumstances | TAKES_BACK | {NOT, _WELL, USUAL, _DEAD_ALTERNATOR}
    known = {place for one in part.concepts if part.phrases or one.name in plain for place in range(one.first, one.end)}
    return [
        token.written
        for place, token in enumerate(part.tokens)
        if place not in known and token.word not in vocabulary.small_words and not NUMBER.fullmatch(token.word)
    ]
