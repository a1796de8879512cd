"""What a sheet hands to a shop: nothing is left out of it without being counted."""

from __future__ import annotations

from typing import Any

from analyzer.findings.finding import Cause
from analyzer.reports.sheets.document import Checks, Paragraph, Table
from analyzer.reports.sheets.shop import REASONS_SHOWN, cause_table, check_list


def cause(place: int, reasons: int) -> Cause:
    return Cause(f"cause_{place}", f"Cause {place}", 0.1, tuple(f"reason {one}" for one in range(reasons)), ())


def words_of(parts: list[Any]) -> list[str]:
    return [part.words for part in parts if isinstance(part, Paragraph)]


def test_causes_and_their_reasons_that_have_no_room_are_counted() -> None:
    likely = [cause(0, REASONS_SHOWN + 2), cause(1, REASONS_SHOWN), cause(2, 0), cause(3, 1)]
    parts = cause_table([("", likely)], 2)
    (table,) = (part for part in parts if isinstance(part, Table))
    assert [row[-1] for row in table.rows] == ["reason 0; reason 1; reason 2; 2 more", "reason 0; reason 1; reason 2"]
    assert words_of(parts) == ["Left out here: 2 more causes of no more weight."]


def test_checks_that_have_no_room_are_counted() -> None:
    parts = check_list([("", ("one", "two", "three"))], 2)
    (listed,) = (part for part in parts if isinstance(part, Checks))
    assert len(listed.checks) == 2
    assert words_of(parts) == ["Left out here: 1 more later check."]
