"""A table of a page as a CSV file: what stands in its cells, in words, row for row.

The file of a table that stands on the page as a whole stands in the link itself, made with the table and so the same
as it; nothing is asked of the server for it. Of a table that is shown page by page the link leads to the whole: the
server names that file, and where it has none to give its answer is shown as a page and never saved as one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any
from urllib.parse import quote

from dash import html
from dash.development.base_component import Component

from analyzer.cells import csv_of
from dashboards.attributes import aria

#: Components whose words run on with those beside them; any other stands apart.
RUNS_ON = {"A", "B", "Code", "Del", "Em", "I", "Ins", "Link", "Span", "Strong", "Time"}


def csv_link(head: Sequence[str], rows: Iterable[Sequence[Any]], caption: str) -> html.P:
    """A link that saves a table as a file.

    Parameters
    ----------
    head : of the columns
    rows : their cells, plain values or components
    caption : of the table, by which the file is called
    """
    return _link(f"data:text/csv;charset=utf-8,{quote(csv_file(head, rows))}", caption, download=file_name(caption))


def csv_at(href: str, caption: str) -> html.P:
    """A link to an address of the server that gives the file of a table."""
    return _link(href, caption)


def _link(href: str, caption: str, **more: Any) -> html.P:
    link = html.A("CSV file", href=href, className="show", **more, **aria(label=f"CSV file: {caption}"))
    return html.P(link, className="sheet-links table-file no-print")


def csv_file(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The text of the file."""
    return csv_of(head, ([words_of(cell) for cell in row] for row in rows))


def file_name(caption: str) -> str:
    """What the file of a table is called, by its caption."""
    return f"{re.sub(r'[^a-z0-9]+', '-', caption.lower()).strip('-')}.csv"


def words_of(cell: Any) -> str:
    """What a person reads in a cell; neither what is hidden from who hears the page, nor buttons."""
    return " ".join(_told(cell).split())


def _told(part: Any) -> str:
    if part is None:
        return ""
    if isinstance(part, list | tuple):
        return "".join(map(_told, part))
    if not isinstance(part, Component):
        return str(part)
    kind = type(part).__name__
    if getattr(part, "aria-hidden", None) == "true" or kind == "Button":
        return ""
    words = _told(getattr(part, "children", None)) or _told(getattr(part, "label", None))
    return words if kind in RUNS_ON else f" {words} "
