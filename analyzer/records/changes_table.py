"""The log of changes in words and as CSV."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from analyzer.cells import csv_of
from analyzer.records.changes import Change

HEAD = ("number", "when (UTC)", "who", "role", "by", "what", "about", "tail", "before", "after")
#: Longest value that is shown in a line [letters].
LONGEST = 160


def changes_csv(found: Iterable[Change]) -> str:
    """Give changes as a CSV file, in the order given; no spreadsheet takes a cell of it for a formula."""
    return csv_of(HEAD, map(_row, found))


def _row(one: Change) -> tuple[object, ...]:
    told = [json.dumps(value, ensure_ascii=False) if value is not None else "" for value in (one.before, one.after)]
    return one.id, one.at, one.who, one.role, one.by, one.what, one.about, one.tail or "", *told


def what_differs(one: Change) -> list[tuple[str, str, str]]:
    """Give what differs between before and after: name, before, after."""
    before, after = one.before or {}, one.after or {}
    names = list(dict.fromkeys([*before, *after]))
    return [
        (name.replace("_", " "), _shown(before.get(name)), _shown(after.get(name)))
        for name in names
        if before.get(name) != after.get(name)
    ]


def _shown(value: Any) -> str:
    if value is None:
        return ""
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]} ..."
