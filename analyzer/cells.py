"""Texts that stand in a CSV file, so that no spreadsheet takes one for a formula; they are read back as they were.

A text that begins with a formula's mark gets an apostrophe before it, and so does one that begins with apostrophes and
such a mark, so that taking one apostrophe away gives every text back.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

#: A text cell that begins so, but for the apostrophes, is a formula to a spreadsheet; in some languages also with the
#: wide forms of these marks (OWASP's page on CSV injection, from memory).
PATTERN = "^'*[=+\\-@\\t\\r\\n\uff1d\uff0b\uff0d\uff20]"
_FORMULA, _GUARDED = re.compile(PATTERN), re.compile("'" + PATTERN[1:])


def guarded(text: str) -> str:
    """A text as it is written into a CSV file."""
    return "'" + text if _FORMULA.match(text) else text


def csv_of(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """A table as the text of a CSV file; no spreadsheet takes a cell of it for a formula."""
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(head)
    out.writerows([guarded(str(value)) for value in row] for row in rows)
    return text.getvalue()


def unguarded(text: str) -> str:
    """The text that ``guarded`` was given."""
    return text[1:] if _GUARDED.match(text) else text
