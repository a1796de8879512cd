"""What a report takes back of its own words: it went away, was seen to, is as it should be, or was done on purpose."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.squawk.part import Found, Part, is_back
from analyzer.squawk.readings import CHARGING_AMPS, COMPARED, MINUS_AMPS, NUMBER, USUAL, VOLTS_READ, Concept
from analyzer.squawk.vocabulary import NOT

GONE, SEEN_TO, LOOKED_AT = "gone", "seen_to", "looked_at"
_LIGHT_OUT, _CHARGES_AGAIN, _SOUGHT, _NOT_FOUND = "light_out", "charges_again", "sought", "not_found"
_EXPECTED, _ON_PURPOSE, _LAMP_TEST, _ANSWERED_NO = "expected", "on_purpose", "lamp_test", "answered_no"
_SETTLED, _UNTIL_START = "settled", "until_start"
#: What takes back words before it in its own part; and in the part before it too.
_ENDS = frozenset({GONE, _LIGHT_OUT, LOOKED_AT, _ANSWERED_NO})
_ENDS_BEHIND = frozenset({SEEN_TO, _CHARGES_AGAIN, _NOT_FOUND, _SETTLED})
#: Of these, by which a trouble goes, and may be back.
_GOES = frozenset({GONE, SEEN_TO, _LIGHT_OUT})
#: Concepts that take something back; no symptoms by themselves.
TAKES_BACK = _ENDS | _ENDS_BEHIND | {_SOUGHT, _EXPECTED, _ON_PURPOSE, _LAMP_TEST, _UNTIL_START}
#: Of a phrase that says that nothing is charged.
_NO_CHARGE = frozenset({NOT, "charge"})
_SINCE = "since"
#: Words before "as it should" in a part that speaks of what stands before it: "trips where it should".
_FEW = 2
#: Readings: what they should be is no verdict on them; nor is it behind a comparing word.
_READS = VOLTS_READ | frozenset({USUAL, CHARGING_AMPS, MINUS_AMPS, *COMPARED})
_COMPARING = frozenset({"than", "above", "below", "over", "under", "beyond", "past", "from", "of"})
#: What a part is made of that only says that all is normal.
_NORMAL = frozenset({"normal", "expected"})
_ALL_NORMAL = _NORMAL | {
    "this",
    "that",
    "which",
    "it",
    "all",
    "is",
    "was",
    "as",
    "indication",
    "operation",
    "behavior",
    "behaviour",
}
_ASKS = frozenset({"is", "was"})
#: What a part is made of that only says that something was repaired.
_CURED = frozenset({"fixed", "cured", "rectified", "repaired", "resolved", "sorted"})
_CURED_SINCE = _CURED | {
    "now",
    "since",
    "it",
    "has",
    "been",
    "and",
    "all",
    "out",
    "today",
    "later",
    "then",
    "this",
    "that",
    "week",
    "last",
}
#: What used to be, and what a later part says by which it is no more.
_USED_TO, _CURES = "used_to", frozenset({GONE, SEEN_TO, "cure"})
#: When something was so, what was done about it, and that all is well since.
_PAST, _REPAIRED, _GOOD_SINCE = "past_time", "repaired", frozenset({"good_since", SEEN_TO})
#: Of a light, as it should where nothing follows: "goes out at 1500 rpm" says until when it is lit.
_GOES_OUT = ("goes", "out")
#: Words by which it goes on, or is still to be repaired.
_NOT_YET = frozenset(
    {
        "still",
        "again",
        "worse",
        "daily",
        "every",
        "each",
        "needs",
        "need",
        "please",
        "order",
        "ordered",
        "request",
        "suggest",
    }
)
#: Words behind which "gone" speaks of something else: "came on and went away".
_JOINING = frozenset({"and", "until", "when", "with", "after"})
#: Of a phrase that says that it lasted.
_LASTS = frozenset({"lasting", "stays"})
#: Symptoms that lamps tell of, and those that somebody can bring about by a switch or by pulling a breaker: no
#: high voltage, upon which an alternator is switched off.
_BY_LAMPS = frozenset({"charging_light", "voltage_high"})
_BY_HAND = frozenset({"charging_light", "ammeter_discharge", "breaker_opened"})
#: Of a part that tells of a lamp and not of what it is for: an alternator quits in no lamp test.
_LAMPS = frozenset({"light", "one_light", "warning", "charging_lamp", "undervoltage", "overvoltage", "lit"})
#: Flights for something: "light on for the demo flight".
_FLIGHTS = frozenset({"flight", "flights", "hop", "ride", "trip", "session"})
#: Words behind which stands why somebody did something, and before which stands what was done about it.
_REASONS = frozenset({"because", "after", "since", "as", "due"})
_UPON = frozenset({"so", "and", "then", "until", "before"})
#: Words before "as it should" by which it is not so: "stopped charging as it should".
_FAILS = frozenset(
    {"not", "never", "no", "barely", "hardly", "scarcely", "unable", "without", "instead", "rather", "less"}
    | {"fail", "fails", "failed", "failing", "stops", "stopped", "ceased", "quit", "refuses", "refused"}
)
#: What a lamp test came to: a light that is lit behind that is lit by something else.
_TEST_WENT = frozenset({"ok", "okay", "good", "fine", "normal", "works", "worked", "passed", "satisfactory"})
#: Words behind a test before what happens besides, and how often that does.
_BESIDES, _OFTEN = frozenset({"and", "yet", "still"}), frozenset({"lasting", "running", "again"})
#: What a lamp does by a fault only, however it was tested.
_BY_A_FAULT = frozenset({"flicker", "flicks", "intermittent", "again"})
#: A light that is lit, and words before what it does next.
_LIT, _THEN = frozenset({"on", "lit"}), frozenset({"then", "but", "back"})
#: Of one that is lit at shutdown as it should be; "until after shutdown" is how long it was lit before.
_AT_SHUTDOWN, _TILL, _ONLY = "at_shutdown", frozenset({"until", "till"}), frozenset({"only"})
#: Of one that is lit while the engine stands, and is out once it runs.
_STANDS, _OUT, _RUNS = (
    frozenset({"master_on", "before_running", "at_start"}),
    frozenset({"is_out", _LIGHT_OUT}),
    "running",
)


def taken_back(parts: Sequence[Part], place: int, things: frozenset[str]) -> list[Found]:
    """Phrases of a part that other words take back: "ammeter squawk gone", "slow crank last week, normal now".

    Parameters
    ----------
    parts : of the report
    place : of the part among them
    things : concepts that name something electrical
    """
    part = parts[place]
    ends = _ends(part, _ENDS | _ENDS_BEHIND, things)
    behind = parts[place + 1] if place + 1 < len(parts) else None
    if (behind is not None and (_only_normal(behind) or _only_cured(behind))) or _is_called_expected(
        parts, place, things
    ):
        return list(part.phrases)
    later = [] if behind is None or behind.phrases else _ends(behind, _ENDS_BEHIND, things)
    if behind is not None and not behind.phrases and is_back(behind.tokens) is not None:  # "ok, then starts again"
        ends, later = [one for one in ends if one.name not in _GOES], []
    return [
        one
        for one in part.phrases
        if any(_takes_back(end, one, part) for end in ends)
        or any(_can_mean(end, one, part) for end in later)
        or _is_meant_to(one, parts, place)
        or _was_so_once(one, parts, place)
        or _was_repaired_since(parts, place)
    ]


def _was_so_once(one: Found, parts: Sequence[Part], place: int) -> bool:
    """Whether a phrase tells of what used to be, and a later part of a cure: "used to jump, nut tightened"."""
    once = any(each.name == _USED_TO and each.first <= max(one.places) for each in parts[place].concepts)
    later = parts[place + 1 :]
    cured = any(each.names & _CURES and NOT not in each.names for each in later)
    goes_on = any(each.phrases or any(token.word in _NOT_YET for token in each.tokens) for each in later)
    return once and cured and not goes_on


def _was_repaired_since(parts: Sequence[Part], place: int) -> bool:
    """Whether a part tells of a time before, and it was repaired and is well since.

    "Slow cranking last month, new cables fitted, spins fast now"; "battery swelled, replaced last month" alone may as
    well be a new battery that swelled.
    """
    told, later = parts[place], parts[place + 1 :]
    repair = next((each for each in (told, *later) if _REPAIRED in each.names and NOT not in each.names), None)
    if repair is None or _PAST not in told.names | repair.names:
        return False
    goes_on = any(each.phrases or _is_not_yet_well(each) for each in later)
    return not goes_on and any(each.names & _GOOD_SINCE and NOT not in each.names for each in later)


def _is_not_yet_well(part: Part) -> bool:
    """Whether words say that it goes on; in "steady on every flight since" none does."""
    well = {at for one in part.concepts if one.name in _GOOD_SINCE for at in range(one.first, one.end)}
    return any(token.word in _NOT_YET for at, token in enumerate(part.tokens) if at not in well)


def _only_cured(part: Part) -> bool:
    """Whether a part says no more than that what stands before it was repaired: "hot last year, fixed"."""
    words = [token.word for token in part.tokens]
    return words[0] not in _ASKS and bool(_CURED.intersection(words)) and _CURED_SINCE.issuperset(words)


def _only_normal(part: Part) -> bool:
    """Whether a part says no more than that what stands before it is normal: "then zero, normal"."""
    words = {token.word for token in part.tokens}
    return bool(_NORMAL & words) and words <= _ALL_NORMAL and part.tokens[0].word not in _ASKS


def _is_called_expected(parts: Sequence[Part], place: int, things: frozenset[str]) -> bool:
    """Whether a part ends in words like "as it should", or the next that tells anything says only that."""
    for part in parts[place:]:
        words = max((one for one in part.concepts if one.name == _EXPECTED), key=lambda one: one.end, default=None)
        if words is not None:
            own = part is parts[place] or (words.first <= _FEW and not part.names & things)
            return own and part.tokens[0].word not in _ASKS and _ends_as_expected(words, part)
        if part.phrases and part is not parts[place]:
            return False
    return False


def _ends_as_expected(words: Concept, part: Part) -> bool:
    """Whether nothing makes these words say otherwise: "not charging as it should", "15.2, 14 per the book"."""
    if part.names & _READS or len(part.tokens) > words.end:
        return False
    before = [token.word for token in part.tokens[: words.first]]
    denied = any(one.name == NOT and one.first < words.first for one in part.concepts)
    denied |= any(word in _FAILS or word.endswith("n't") for word in before)
    return not denied and (not words.first or part.tokens[words.first - 1].word not in _COMPARING)


def _is_meant_to(one: Found, parts: Sequence[Part], place: int) -> bool:
    """Whether a phrase tells what somebody brought about, or a light before the engine ran."""
    part, before = parts[place], parts[place - 1] if place else None
    done = _done_on_purpose(part)
    meant = bool(done or (before is not None and _done_on_purpose(before)))
    if one.symptom in _BY_HAND and meant and not _led_to_it(one, part, done):
        return True
    if one.symptom == "charging_light" and _only_goes_out(part):
        return True
    if one.symptom not in _BY_LAMPS or _BY_A_FAULT.intersection(one.phrase.concepts):
        return False
    tested = before is not None and _is_being_tested(before) and part.names & _LAMPS and _RUNS not in part.names
    in_a_test = _LAMP_TEST in part.names and not _goes_on_behind_a_test(one, part)
    return in_a_test or bool(tested) or _is_lit_before_start(parts, place)


def _done_on_purpose(part: Part) -> list[Concept]:
    """What a part says was done on purpose; a flight for training is no such thing."""
    return [
        one
        for one in part.concepts
        if one.name == _ON_PURPOSE and not {token.word for token in part.tokens[one.end : one.end + 1]} & _FLIGHTS
    ]


def _led_to_it(one: Found, part: Part, done: Sequence[Concept]) -> bool:
    """Whether something was done because of what a phrase tells: "light came on so he pulled the breaker"."""
    first, last = min(one.places), max(one.places)
    behind = any({token.word for token in part.tokens[each.end : first]} & _REASONS for each in done)
    return behind or any({token.word for token in part.tokens[last + 1 : each.first]} & _UPON for each in done)


def _goes_on_behind_a_test(one: Found, part: Part) -> bool:
    """Whether a part says what happens besides a test, and how often: "relay tested and trips every flight"."""
    ends = [each.end for each in part.concepts if each.name == _LAMP_TEST]
    goes_on = any(token.word in _BESIDES for end in ends for token in part.tokens[end : end + 1])
    return goes_on and max(one.places) >= min(ends) and bool(part.names & _OFTEN)


def _is_being_tested(part: Part) -> bool:
    """Whether a part tells of a lamp test and not yet what it came to: "annunciator test ok. ALT light steady"."""
    return _LAMP_TEST in part.names and not any(token.word in _TEST_WENT for token in part.tokens)


def _is_lit_before_start(parts: Sequence[Part], place: int) -> bool:
    """Whether a light is lit until the engine runs: "on with the master, out as soon as it started"."""
    part = parts[place]
    if _says_so_alone(part):
        return True
    if not (part.names & _STANDS and part.names & _LAMPS):
        return False
    own = bool(part.names & _OUT)
    follows = parts[place if own else place + 1 :]
    if not follows or not _stays_out(follows[0]) or any(_is_lit_again(one) for one in follows[1:]):
        return False
    return own or not follows[0].phrases


def _only_goes_out(part: Part) -> bool:
    """Whether a part says no more of a light than that it goes out: "cranks well, ALT light goes out"."""
    before = len(part.tokens) - len(_GOES_OUT)
    names_it = any(one.name in _LAMPS and one.end == before for one in part.concepts)
    goes_out = tuple(token.word for token in part.tokens[before:]) == _GOES_OUT
    return names_it and goes_out and NOT not in part.names and not part.names & (_BY_A_FAULT | _LIT)


def _stays_out(part: Part) -> bool:
    """Whether a part says that a light is out, and nothing behind that it is lit: "went out but came back on"."""
    out = max((one.end for one in part.concepts if one.name in _OUT), default=None)
    lit = [one.first for one in part.concepts if one.name in _LIT | _BY_A_FAULT]
    return out is not None and NOT not in part.names and not any(first >= out for first in lit)


def _is_lit_again(part: Part) -> bool:
    """Whether a part says of a light that was out that it is lit again, or as the engine runs."""
    words = {token.word for token in part.tokens}
    lit = bool(part.names & _LIT) and bool(_RUNS in part.names or words & _THEN)
    return lit or bool(part.names & _BY_A_FAULT)


def _says_so_alone(part: Part) -> bool:
    """Whether a part ends in "until start", or in "at shutdown" without a word of the engine running.

    "Until start of the descent" and "until after shutdown" say something else.
    """
    for one in part.concepts:
        ends = {token.word for token in part.tokens[one.end :]} <= _ONLY
        if one.name == _UNTIL_START and ends:
            return True
        if one.name == _AT_SHUTDOWN and ends and _RUNS not in part.names:
            return not (one.first and part.tokens[one.first - 1].word in _TILL)
    return False


def _ends(part: Part, names: frozenset[str], things: frozenset[str]) -> list[Concept]:
    """Concepts of a part that take something back: neither denied nor going on to say something else."""
    nots = {one.end for one in part.concepts if one.name == NOT}
    return [
        one for one in part.concepts if one.name in names and one.first not in nots and not _goes_on(one, part, things)
    ]


def _goes_on(end: Concept, part: Part, things: frozenset[str]) -> bool:
    """Whether what follows makes it say something else.

    What was gone is back; "now charging 20 amps" is a reading, "checked belt" what was done next, "since replaced
    battery" when it began.
    """
    behind = part.tokens[end.end :]
    if end.name in _GOES and is_back(part.tokens, end.end) is not None:
        return True
    if end.name == _CHARGES_AGAIN:
        return any(NUMBER.fullmatch(token.word) for token in behind)
    if part.tokens[end.first].word == _SINCE:
        return any(one.name in things and one.first >= end.end for one in part.concepts)
    return end.name == LOOKED_AT and bool(behind)


def _can_mean(end: Concept, phrase: Found, part: Part) -> bool:
    """Whether words can take back this phrase: a search that found nothing only what was looked for."""
    if end.name == _CHARGES_AGAIN:
        return set(phrase.phrase.concepts) >= _NO_CHARGE
    if end.name == _SETTLED:
        fell = "low" in phrase.phrase.concepts and any(
            token.word in _NORMAL for token in part.tokens[end.first : end.end]
        )
        return fell or (phrase.symptom == "ammeter_high" and not _LASTS.intersection(phrase.phrase.concepts))
    if end.name == _NOT_FOUND:
        return any(one.name == _SOUGHT and one.end in phrase.places for one in part.concepts)
    return True


def _takes_back(end: Concept, phrase: Found, part: Part) -> bool:
    last = max(phrase.places)
    if end.name == _SETTLED and phrase.holds_not:  # "did not drop back to normal after 30 minutes"
        return False
    if end.name == _LIGHT_OUT and phrase.symptom == "charging_light":
        return last < end.end
    if part.tokens[end.first].word == "as":  # "as usual" is said of all before it
        return last < end.first
    between = {token.word for token in part.tokens[last + 1 : end.first]}
    return last < end.first and not between & _JOINING and _can_mean(end, phrase, part)
