"""The log of changes as CSV."""

from __future__ import annotations

import json
from collections.abc import Iterable

from analyzer.cells import csv_of
from analyzer.records.changes import Change

HEAD = ("number", "when (UTC)", "who", "role", "by", "what", "about", "tail", "before", "after", "damaged")


def changes_csv(found: Iterable[Change]) -> str:
    """Give changes as a CSV file, in the order given; no spreadsheet takes a cell of it for a formula."""
    return csv_of(HEAD, map(_row, found))


def _row(one: Change) -> tuple[object, ...]:
    told = [json.dumps(value, ensure_ascii=False) if value is not None else "" for value in (one.before, one.after)]
    damaged = "damaged" if one.damaged else ""
    return one.id, one.at, one.who, one.role, one.by, one.what, one.about, one.tail or "", *told, damaged
