"""The vocabulary of recorder headers: what each word of a header means, and which unit it names."""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from pathlib import Path

from msgspec import Struct

from analyzer.corrections import in_effect, rests_on_corrections
from analyzer.logs.remembered import remembered
from analyzer.logs.units import QUANTITY_OF_UNIT
from analyzer.shipped_tables import read_table

WORDS_FILE = Path(__file__).with_name("header_words.toml")
MIN_STEM = 4  # letters of the shortest part of a compound word that counts


class RoleRule(Struct, frozen=True):
    """What a header must and should say to fit a role."""

    quantity: str
    needs: frozenset[str]
    also: frozenset[str]
    prefers: dict[str, float]
    rejects: frozenset[str]


class Vocabulary(Struct, frozen=True):
    """``header_words.toml``, turned around for looking words up."""

    concepts: dict[tuple[str, ...], frozenset[str]]
    longest: int
    stems: tuple[tuple[str, str], ...]
    implied: dict[tuple[str, ...], tuple[str, str]]
    units: dict[str, str]
    missing: frozenset[str]
    months: dict[str, int]
    metadata: dict[str, frozenset[str]]
    nationality: frozenset[str]
    roles: dict[str, RoleRule]


class Meaning(Struct, frozen=True):
    """What one header says.

    ``unexplained`` holds the words that the vocabulary does not know; ``unit`` is a key of
    ``UNITS``, ``"other"`` for a unit of no role, or None when the header names none; ``bare`` says
    that it stands among the words ("OAT C") and not apart from them, so that a units row overrules it.
    """

    concepts: frozenset[str]
    quantities: frozenset[str]
    words: tuple[str, ...]
    unexplained: tuple[str, ...]
    unit: str | None
    bare: bool


def fold(text: str) -> str:
    """Lower case without accents: ``"Régime"`` and ``"REGIME"`` are one word."""
    if text.isascii():
        return text.lower()
    text = text.casefold().replace("ł", "l").replace("ø", "o").replace("æ", "ae").replace("đ", "d")
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z]{2})")
_WORD = re.compile(r"[^\W\d_]+|\d+(?:[.,]\d+)?")


def split_words(text: str) -> tuple[str, ...]:
    """The words and numbers of a header: ``"OilP2"`` gives ``("oil", "p", "2")``."""
    return tuple(_WORD.findall(fold(_CAMEL.sub(" ", text))))


@rests_on_corrections
@cache
def vocabulary() -> Vocabulary:
    """The vocabulary with the words that were added to it, read once a process."""
    raw = read_table(WORDS_FILE)
    concepts: dict[tuple[str, ...], set[str]] = {}
    added = in_effect().header_words
    for concept, words in raw["words"].items():
        for word in (*words, *added.get(concept, ())):
            concepts.setdefault(tuple(fold(word).split()), set()).add(concept)
    implied = {
        tuple(fold(word).split()): (concept, raw["implies"][concept])
        for concept, words in raw["only_alone"].items()
        for word in words
    }
    for phrase, (concept, _) in implied.items():
        concepts.setdefault(phrase, set()).add(concept)
    return Vocabulary(
        concepts={phrase: frozenset(found) for phrase, found in concepts.items()},
        longest=max(map(len, concepts)),
        stems=tuple((stem, concept) for concept, stems in raw["stems"].items() for stem in stems),
        implied=implied,
        units={unit_key(spelling): unit for unit, all_ in raw["units"].items() for spelling in all_},
        missing=frozenset(raw["missing"]["marks"]),
        months={name: int(number) for number, names in raw["months"].items() for name in names},
        metadata={kind: frozenset(words) for kind, words in raw["metadata"].items()},
        nationality=frozenset(raw["nationality"]["marks"]),
        roles={role: _role_rule(rule) for role, rule in raw["roles"].items()},
    )


def _role_rule(rule: dict[str, object]) -> RoleRule:
    def names(key: str) -> frozenset[str]:
        found = rule.get(key, [])
        return frozenset(found if isinstance(found, list) else [])

    prefers = rule.get("prefers", {})
    return RoleRule(
        quantity=str(rule["quantity"]),
        needs=names("needs"),
        also=names("also"),
        prefers={k: float(v) for k, v in prefers.items()} if isinstance(prefers, dict) else {},
        rejects=names("rejects"),
    )


def unit_key(text: str) -> str:
    """One spelling of a unit, brought to the form in which the vocabulary keeps it."""
    text = text.strip().replace("°", "deg").replace("º", "deg").replace("˚", "deg").replace("\ufffd", "deg")
    text = fold(text.replace("²", "2").replace("⁻¹", "-1").replace("·", "").replace("−", "-"))
    return re.sub(r"\s+", " ", text).rstrip(".") or text


@remembered(4096)
def unit_of(text: str) -> str | None:
    """The unit that ``text`` spells, or None: ``"°F"`` gives ``"degF"``, ``"Volts"`` gives ``"V"``."""
    known = vocabulary().units
    key = unit_key(text).strip("()[]{}<>").strip()
    if key in known:
        return known[key]
    if key.startswith("deg") and key[3:].strip() in ("c", "f", "k"):
        return known["deg" + key[3:].strip()]
    return known.get(key.replace(" ", ""))


_BRACKETS = re.compile(r"[\(\[\{<]\s*([^()\[\]{}<>]*?)\s*[\)\]\}>]")
_AFTER_MARK = re.compile(r"(?:,|;|:|/|\bin\b|\s-\s)\s*([^,;:]{1,8})$")
_PERCENT = re.compile(r"\s*%\s*$")


def _unit_in_header(name: str) -> tuple[str, str | None]:
    """Header without its unit, and the unit."""
    for found in reversed(list(_BRACKETS.finditer(name))):
        unit = unit_of(found[1])
        if unit:
            return name[: found.start()] + " " + name[found.end() :], unit
    after = _AFTER_MARK.search(name)
    if after and (unit := unit_of(after[1])) and name[: after.start()].strip():
        return name[: after.start()], unit
    share = _PERCENT.search(name)
    if share and name[: share.start()].strip():
        return name[: share.start()], "%"
    return name, None


#: Units that, as the last bare word of a header, are units and not words.
_BARE = frozenset({"V", "mV", "A", "mA", "degC", "degF", "K", "psi", "bar", "kPa", "hPa", "mbar", "inHg"}) | {
    *("kt", "mph", "km/h", "m/s", "ft", "m", "s", "ms", "min", "rpm", "%")
}
_BARE_OTHER = frozenset({"gal", "gph", "hr", "hrs", "hours", "fpm", "deg", "lbs", "ah", "hz", "lph", "pph"})


def _bare_unit(words: tuple[str, ...]) -> tuple[tuple[str, ...], str | None]:
    """Words without a unit that ends them ("OAT C", "oil_press_psi", "speed_km_h")."""
    for size in (2, 1):
        if len(words) <= size:
            continue
        last = "/".join(words[-size:])
        unit = vocabulary().units.get(last)
        if size == 2 and words[-2] in ("deg", "v", "volts", "amps"):
            unit = vocabulary().units.get(words[-2] + words[-1])
        if unit in ("V", "A") and last not in ("v", "a", "vdc", "adc"):
            continue  # "Bus Volts" names what is measured, not what the readings are in
        if unit in _BARE or (unit == "other" and last in _BARE_OTHER):
            return words[:-size], unit
    return words, None


#: A capital that only a change of case, or a number, parts from the word before it: "AltA", "Volt1V".
_ATTACHED = re.compile(r"(?<=[a-z])([VACFKMS])(?![A-Za-z])|(?<=[A-Za-z]\d)([VACFKMS])(?![A-Za-z])")
ATTACHED = "\ua78f"  # makes such a letter a word that nobody knows


def _without_attached_unit(name: str) -> str:
    """A header whose last letter is marked as no unit, when nothing but a change of case sets it apart.

    Where a word of the header names the quantity the letter may choose its unit ("OatF"); it never names
    the quantity by itself, for it may stand for anything ("BaroA", "AltA").
    """
    found = _ATTACHED.search(name)
    if found is None:
        return name
    letter = found[1] or found[2]
    concepts, implied, _ = _concepts(split_words(name[: found.start()]))
    if QUANTITY_OF_UNIT.get(unit_of(letter) or "") in implied | concepts:
        return name
    return f"{name[: found.start()]} {letter}{ATTACHED}{name[found.end() :]}"


@rests_on_corrections
@remembered(8192)
def meaning(name: str) -> Meaning:
    """What a header says: its concepts, its quantities, its unit, and the words nobody explained."""
    rest, unit = _unit_in_header(name)
    rest = _without_attached_unit(rest)
    all_words = words = split_words(rest)
    bare = False
    if unit is None:
        words, unit = _bare_unit(words)
        bare = unit is not None
    found, implied, unexplained = _concepts(words)
    if bare and unit != "%":
        found |= _concepts(all_words)[0]
    quantities = set(implied) | (found & QUANTITIES)
    if bare and unit is not None:
        quantities.add(QUANTITY_OF_UNIT.get(unit, "other"))
    return Meaning(frozenset(found), frozenset(quantities), all_words, unexplained, unit, bare)


def _concepts(words: tuple[str, ...]) -> tuple[set[str], set[str], tuple[str, ...]]:
    """Concepts and implied quantities of some words; longest phrases first; words left over."""
    known = vocabulary()
    found: set[str] = set()
    implied: set[str] = set()
    unexplained: list[str] = []
    at = 0
    while at < len(words):
        for size in range(min(known.longest, len(words) - at), 0, -1):
            phrase = words[at : at + size]
            if phrase in known.concepts:
                found |= known.concepts[phrase]
                if size > 1:
                    found |= _within(phrase, found)
                if phrase in known.implied:
                    implied.add(known.implied[phrase][1])
                at += size
                break
        else:
            _unknown_word(words, at, found, unexplained)
            at += 1
    return found, implied, tuple(unexplained)


QUANTITIES = frozenset({"voltage", "current", "rotation", "pressure", "temperature", "speed", "altitude"})


def _within(phrase: tuple[str, ...], found: set[str]) -> set[str]:
    """Quantities and numbers that single words of a phrase name besides what the phrase says."""
    known = vocabulary().concepts
    inner = {concept for digit, concept in (("1", "first"), ("2", "second")) if digit in phrase}
    for word in phrase:
        if len(word) > 1 and not (word == "alt" and "alternator" in found):
            inner |= known.get((word,), frozenset()) & QUANTITIES
    return inner


def _unknown_word(words: tuple[str, ...], at: int, found: set[str], unexplained: list[str]) -> None:
    """Explain a word by the parts it is made of, or by being a number; else keep it as unexplained."""
    word = words[at]
    if word[0].isdigit():
        following = words[at + 1] if at + 1 < len(words) else ""
        if following in ("v", "volt", "volts") and float(word.replace(",", ".")) not in (12, 14, 24, 28):
            found.add("foreign")  # "5V ref", "3.3 V rail": a reference, not a bus
        elif len(word) < 3 and following not in ("v", "volt", "volts"):
            found.add("second")
        return
    parts = {concept for stem, concept in vocabulary().stems if len(stem) >= MIN_STEM and stem in word}
    if parts:
        found |= parts
    else:
        unexplained.append(word)
