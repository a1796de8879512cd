"""A report's words, one by one: cut into parts at punctuation, and each word as it is usually written."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from analyzer.shipped_tables import read_table

SHORTHAND_FILE = Path(__file__).with_name("shorthand.toml")
#: Stands for the point of "c.b.", which ends no sentence, while a report is cut.
_POINT = "\ue000"
_ABBREVIATION = re.compile(r"\b([a-z])\.([a-z])\b\.?")
_TOKEN = re.compile(
    rf"""[0-9]+(?::[0-9][0-9])+                              # a time of day
    | [0-9]+(?:[.,][0-9]+)*(?=(?:v|vdc|volts?|a|amps?|c|f|h|hrs?|mins?|secs?)\b)  # a number with its unit
    | [0-9]+(?:[.,][0-9]+)+
    | \b[a-z][/{_POINT}][a-z]s?\b                            # c/b
    | [a-z0-9]+(?:[-'’][a-z0-9]+)*""",
    re.VERBOSE,
)
#: A point, comma or colon before a digit belongs to a number, a stroke between two letters to an abbreviation.
_PART = re.compile(
    r"(?:(?<![0-9])[.,]|[.,](?![0-9])|[;!?\n()|]|:(?!\s?[0-9])|(?<!\b[a-z])/|/(?![a-z]s?\b))+"
    r"|(?<![0-9])\s[-–—]{1,2}\s(?![0-9])"
    r"|\b(?=yet (?:the|it|my|our|i|we|she|a|an)\b)"
    r"|\b(?<!nothing )(?<!all off )(?<!thing off )(?<!else off )(?=but\b)|\b(?=however\b)|\b(?:al)?though\b"
    r"|\b(?<!now and )(?=then\b"
    r"(?! (?:back|returns?|comes?|came|jumps back|recover|up again|dim|bright|dark|(?:plus |minus )?\d)))"
)
#: A comma before what came back is no cut: "drops to zero, then returns".
_COMES_BACK = re.compile(
    r",(?= (?:and then |and |then )?(?:returns?|returned|recovers?|recovered"
    r"|comes? back|came back|back up|back to normal)\b)"
)
#: A minus or plus sign before a number, no dash between two; and one with the other.
_BEHIND_A_SIGN = r"\s?(?=\d|side|stop|end|ve\b)"
_MINUS = re.compile(rf"(?<!\w)(?<![0-9]\s)[-–−]{_BEHIND_A_SIGN}")
_PLUS = re.compile(rf"(?<!\w)\+{_BEHIND_A_SIGN}|(?:(?<=pinned )|(?<=pegged )|(?<=stuck ))\+")
_SIGNS = {"%": " percent ", "°": " ", "½": ".5", "&": " and "}
#: "20ish" is about 20.
_ABOUT = re.compile(r"(?<=[0-9])-?ish\b")
#: "Charge/discharge" is one word, of what two instruments or sides are called together.
_SIDES = re.compile(r"\b(charg\w*|chg|amps?|volts?)\s?/\s?(disch\w*|amps?|volts?)\b")
#: A word or two in brackets say more of what stands before them: "breaker #4 (alternator) out".
_BESIDE = re.compile(r"\(([A-Za-z/-]+(?: [A-Za-z/-]+)?)\)(?= ?\w)")
#: What "4th", like "fourth" in the table of shortened words, is usually written as.
_NTH = "nth"
#: A number in words from which on a digit behind it is a decimal.
_NO_LESS = 11
#: "15 point 8" is 15.8.
_SPOKEN_POINT = re.compile(r"(?<=\b[0-9][0-9]) (?:point|decimal) (?=[0-9]\b)")
#: "W/" is no cut between two parts.
_WITHOUT, _WITH = re.compile(r"\bw/o\b"), re.compile(r"\bw/")
#: Without spaces around it a stroke stands for "and": "nav/com".
_DASHES = re.compile(r"-{3,}|(?<=[a-z] )--(?=\s*(?:$|[.,;]))")
_AND = re.compile(r"(?<=[a-z]{2})/(?=[a-z]{2})")
_ORDINAL = re.compile(r"[0-9]+(?:th|rd)")
_FRACTIONS = {"1/2": "half", "3/4": "three-quarters", "1/4": "quarter"}
_FRACTION = re.compile(r"(?<![0-9/])(?:1/[24]|3/4)(?![0-9/])")
#: "Battery hot? No." denies what it asks; "no. 2" is a number.
_ANSWERED_NO = re.compile(r"\?\s*(?:no|none|nope|nil|negative)\b(?=\s*(?:[.,;!\n](?!\s?[0-9])|$))")
_EITHER_WAY = re.compile(r"\+\s?/?\s?[-–−]|±")


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a report."""

    written: str  # in lower case, as it stands in the report
    word: str  # as it is usually written: "discharge" for "disch"


@cache
def shorthand() -> tuple[Mapping[str, str], tuple[str, ...]]:
    """Give what each shortened or misspelled word means, and patterns of the trade's plain words."""
    document = read_table(SHORTHAND_FILE)
    usual = {word[:-1]: word for word in document["clipped"]["list"]}
    usual |= {short: word for word, shortened in document["means"].items() for short in shortened}
    names = document["is_or_of"]["list"]
    usual |= {f"{name}'s": usual.get(name, name) for name in names}
    return usual, tuple(document["trade_words"]["list"])


@cache
def _undotted() -> re.Pattern[str]:
    """A sentence's first word that is shortened, and whose point ends it not: "alt. bearing seized"."""
    dotted: list[str] = read_table(SHORTHAND_FILE)["dotted"]["list"]
    return re.compile(rf"((?:^|[.,;:!?\n]\s*)(?i:{'|'.join(dotted)}))\.(?=\s+[a-z0-9])")


@cache
def number_words() -> Mapping[str, int]:
    """Give the numbers that are written in words."""
    numbers: dict[str, int] = read_table(SHORTHAND_FILE)["numbers"]
    return numbers


def parts_of(report: str) -> list[list[Token]]:
    """Cut a report at punctuation and contrasting words, each part as its words.

    >>> [[token.word for token in part] for part in parts_of("Alt C/B popped; ammtr -12")]
    [['alt', 'breaker', 'popped'], ['ammeter', 'minus', '12']]
    """
    report = _undotted().sub(r"\1", _BESIDE.sub(r" \1 ", report)).lower()
    report = _WITH.sub("with ", _WITHOUT.sub("without", _ABOUT.sub(" ish", report)))
    report = _ANSWERED_NO.sub(" answered-no", report)
    report = _FRACTION.sub(lambda found: f" {_FRACTIONS[found[0]]} ", report)
    report = _SPOKEN_POINT.sub(".", _COMES_BACK.sub("", report))
    text = _SIDES.sub(r"\1-\2", _ABBREVIATION.sub(rf"\1{_POINT}\2", report))
    text = _DASHES.sub(" dashes ", _AND.sub(" ", text))
    for sign, word in _SIGNS.items():
        text = text.replace(sign, word)
    text = _PLUS.sub("plus ", _MINUS.sub("minus ", _EITHER_WAY.sub("plus minus ", text)))
    return [in_digits([_token(written) for written in _TOKEN.findall(part)]) for part in _PART.split(text)]


def in_digits(tokens: Sequence[Token]) -> list[Token]:
    """Give words with numbers in digits: "fifteen point four" is 15.4, "twelve and a half" 12.5, "twenty-eight" 28."""
    found: list[Token] = []
    place = 0
    while place < len(tokens):
        whole, end = _whole_number(tokens, place)
        if whole is None:
            found.append(tokens[place])
            place += 1
            continue
        decimals, end = _decimals(whole, tokens, end)
        written = " ".join(one.written for one in tokens[place:end])
        found.append(Token(written, f"{whole}{decimals}"))
        place = end
    return found


def _whole_number(tokens: Sequence[Token], place: int) -> tuple[int | None, int]:
    """Give a whole number that is written in words, and the place behind it; a "one" by itself is none."""
    known = number_words()
    first, _, rest = tokens[place].word.partition("-")
    if first not in known or (rest and rest not in known) or known[first] < 2:
        return None, place
    if rest:
        return known[first] + known[rest], place + 1
    value = known[first]
    behind = known.get(tokens[place + 1].word, 0) if place + 1 < len(tokens) else 0
    if value >= 20 and 0 < behind < 10:
        return value + behind, place + 2
    return value, place + 1


def _decimals(whole: int, tokens: Sequence[Token], place: int) -> tuple[str, int]:
    """Give what follows a whole number as decimals, and the place behind it: "fifteen eight" are volts, 15.8."""
    behind = [one.word for one in tokens[place : place + 3]]
    if behind == ["and", "a", "half"]:
        return ".5", place + 3
    if whole >= _NO_LESS and number_words().get("".join(behind[:1]), 0) in range(1, 10):
        return f".{number_words()[behind[0]]}", place + 1
    if behind[:1] == ["point"] and len(behind) > 1 and (digit := number_words().get(behind[1], 10)) < 10:
        return f".{digit}", place + 2
    return "", place


def _token(found: str) -> Token:
    written = found.replace("’", "'").replace(_POINT, ".")
    if _ORDINAL.fullmatch(written):
        return Token(written, _NTH)
    return Token(written, shorthand()[0].get(written.rstrip("."), written))
