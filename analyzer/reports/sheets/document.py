"""What a sheet is made of, whatever it is printed with."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Any, ClassVar

from analyzer import __version__
from analyzer.reports.wording import printable

#: Characters of a title that the foot of a page has room for.
TITLE_LENGTH = 70


@dataclass(frozen=True, slots=True)
class Heading:
    """A title inside the sheet; it stays with what follows it."""

    kind: ClassVar[str] = "heading"
    words: str
    level: int = 2  # 2 or 3
    mark: str = ""  # a severity or a verdict, framed before the words


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Plain sentences."""

    kind: ClassVar[str] = "paragraph"
    words: str
    small: bool = False  # where a number comes from, and other notes


@dataclass(frozen=True, slots=True)
class Facts:
    """Short facts, each with its label, two beside each other."""

    kind: ClassVar[str] = "facts"
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of words under headings. A width of 0 takes what the words need, others share the rest."""

    kind: ClassVar[str] = "table"
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[int, ...]

    def __post_init__(self) -> None:
        if any(len(row) != len(self.head) for row in (*self.rows, self.widths)):
            raise ValueError(f"each row of a table needs {len(self.head)} cells")


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing as SVG with what it shows in words."""

    kind: ClassVar[str] = "chart"
    svg: str
    words: str  # caption, and what is read aloud in its place
    captioned: bool = True  # False where the drawing has a title of its own


@dataclass(frozen=True, slots=True)
class Charts:
    """Small charts side by side, two a row."""

    kind: ClassVar[str] = "charts"
    charts: tuple[Chart, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """Something to check or to measure on the ground."""

    words: str
    expected: str = ""  # the value that a sound system shows, where one can be told


@dataclass(frozen=True, slots=True)
class Checks:
    """Ground checks in order, each with a box to tick and a line for the reading."""

    kind: ClassVar[str] = "checks"
    checks: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class FormLines:
    """Labels with empty lines to write on: (label, lines); 0 lines share a row with their neighbours."""

    kind: ClassVar[str] = "form"
    fields: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """What has to be known wherever results are read."""

    kind: ClassVar[str] = "cautions"
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins on a page of its own."""

    kind: ClassVar[str] = "page"


Part = Heading | Paragraph | Facts | Table | Chart | Charts | Checks | FormLines | Cautions | NewPage


@dataclass(frozen=True, slots=True)
class Sheet:
    """One document to print."""

    title: str
    made: date
    parts: tuple[Part, ...]
    version: str = __version__  # of the analysis

    @property
    def foot(self) -> str:
        """What stands at the foot of every page, before the page's number."""
        title = self.title if len(self.title) <= TITLE_LENGTH else f"{self.title[:TITLE_LENGTH]}…"
        return f"{title} · analysis taper {self.version} · sheet made {self.made.isoformat()}"


def as_data(sheet: Sheet) -> dict[str, Any]:
    """The sheet as plain dictionaries, lists and words for a template.

    Words from outside (file names, headers, a pilot's report) lose the characters that steer a printer or turn
    the direction of writing; a chart becomes base64.
    """
    return {
        "title": printable(sheet.title),
        "foot": printable(sheet.foot),
        "made": sheet.made.isoformat(),
        "parts": [_part(part) for part in sheet.parts],
    }


def _part(part: Part) -> dict[str, Any]:
    return {"kind": part.kind} | {field.name: _plain(field.name, getattr(part, field.name)) for field in fields(part)}


def _plain(name: str, value: Any) -> Any:
    if isinstance(value, str):
        return base64.b64encode(value.encode()).decode() if name == "svg" else printable(value)
    if isinstance(value, tuple):
        return [_plain(name, one) for one in value]
    if isinstance(value, Chart | Check):
        return {field.name: _plain(field.name, getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, int | Mapping):
        return value
    raise TypeError(f"a sheet holds no {type(value).__name__}")
