"""Texts that stand in a CSV file, so that no spreadsheet takes one for a formula; they are read back as they were.

A text that begins with a formula's mark gets an apostrophe before it, and so does one that begins with apostrophes and
such a mark, so that taking one apostrophe away gives every text back.
"""

from __future__ import annotations

import re

#: A text cell that begins so, but for the apostrophes, is a formula to a spreadsheet.
PATTERN = "^'*[=+\\-@\\t\\r\\n]"
_FORMULA, _GUARDED = re.compile(PATTERN), re.compile("'" + PATTERN[1:])


def guarded(text: str) -> str:
    """A text as it is written into a CSV file."""
    return "'" + text if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """The text that ``guarded`` was given."""
    return text[1:] if _GUARDED.match(text) else text
