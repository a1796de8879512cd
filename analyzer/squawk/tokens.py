"""A report's words, one by one: cut into parts at punctuation, and each word as it is usually written."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

SHORTHAND_FILE = Path(__file__).with_name("shorthand.toml")
#: Stands for the point of "c.b.", which ends no sentence, while a report is cut.
_POINT = "\ue000"
_ABBREVIATION = re.compile(r"\b([a-z])\.([a-z])\b\.?")
_TOKEN = re.compile(
    rf"""[0-9]+(?::[0-9][0-9])+                              # a time of day
    | [0-9]+(?:[.,][0-9]+)*(?=(?:v|vdc|volts?|a|amps?)\b)    # a number written together with its unit
    | [0-9]+(?:[.,][0-9]+)+
    | \b[a-z][/{_POINT}][a-z]s?\b                            # c/b
    | [a-z0-9]+(?:[-'’][a-z0-9]+)*""",
    re.VERBOSE,
)
#: A point, comma or colon before a digit belongs to a number, a stroke between two letters to an abbreviation.
_PART = re.compile(
    r"(?:(?<![0-9])[.,]|[.,](?![0-9])|[;!?\n()|]|:(?!\s?[0-9])|(?<!\b[a-z])/|/(?![a-z]s?\b))+"
    r"|\bbut\b|\bhowever\b|\b(?<!now and )then\b|\balthough\b"
)
#: A minus or plus sign before a number, no dash between two; and one with the other.
_MINUS, _PLUS = re.compile(r"(?<!\w)(?<![0-9]\s)[-–−]\s?(?=\d)"), re.compile(r"(?<!\w)\+\s?(?=\d)")
_EITHER_WAY = re.compile(r"\+\s?/?\s?[-–−]|±")


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a report."""

    written: str  # in lower case, as it stands in the report
    word: str  # as it is usually written: "discharge" for "disch"


@cache
def shorthand() -> tuple[Mapping[str, str], tuple[str, ...]]:
    """Give what each shortened or misspelled word means, and patterns of the trade's plain words."""
    document = tomllib.loads(SHORTHAND_FILE.read_text("utf-8"))
    usual = {short: word for word, shortened in document["means"].items() for short in shortened}
    return usual, tuple(document["trade_words"]["list"])


def parts_of(report: str) -> list[list[Token]]:
    """Cut a report at punctuation and contrasting words, each part as its words.

    >>> [[token.word for token in part] for part in parts_of("Alt C/B popped; ammtr -12")]
    [['alt', 'breaker', 'popped'], ['ammeter', 'minus', '12']]
    """
    text = _ABBREVIATION.sub(rf"\1{_POINT}\2", report.lower())
    text = _PLUS.sub("plus ", _MINUS.sub("minus ", _EITHER_WAY.sub("plus minus ", text)))
    return [[_token(written) for written in _TOKEN.findall(part)] for part in _PART.split(text)]


def _token(found: str) -> Token:
    written = found.replace("’", "'").replace(_POINT, ".")
    return Token(written, shorthand()[0].get(written.rstrip("."), written))
