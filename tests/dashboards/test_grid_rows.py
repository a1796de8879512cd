"""The rows of a grid: which pass a filter, in which order they stand, and that its pages add up to the whole."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest

pytest.importorskip("dash_ag_grid")

from hypothesis import given, settings
from hypothesis import strategies as st

from dashboards.grid import grid_file, number_column, rows_asked
from dashboards.grid_filter import passes


def number(kind: str, wanted: float | None = None, last: float | None = None) -> dict[str, Any]:
    """A filter of numbers as the grid writes it."""
    return {"filterType": "number", "type": kind, "filter": wanted, "filterTo": last}


def word(kind: str, wanted: str | None = None) -> dict[str, Any]:
    """A filter of words as the grid writes it."""
    return {"filterType": "text", "type": kind, "filter": wanted}


@pytest.mark.parametrize(
    ("kind", "passing"),
    [
        # of 13.9, 14.0, 14.1 against 14.0
        ("equals", [14.0]),
        ("notEqual", [13.9, 14.1]),
        ("lessThan", [13.9]),
        ("lessThanOrEqual", [13.9, 14.0]),
        ("greaterThan", [14.1]),
        ("greaterThanOrEqual", [14.0, 14.1]),
    ],
)
def test_a_number_is_compared_at_the_limit_and_one_step_beside_it(kind: str, passing: list[float]) -> None:
    """Flights above 14.0 V must not hold the one at 14.0 V, nor miss it where the person asked for it."""
    assert [value for value in (13.9, 14.0, 14.1) if passes(value, number(kind, 14.0))] == passing
    assert not passes(None, number(kind, 14.0)), "a flight that did not measure it lies on neither side"


@pytest.mark.parametrize(("value", "inside"), [(9.9, False), (10.0, False), (10.1, True), (11.9, True), (12.0, False)])
def test_a_range_holds_what_lies_between_its_ends(value: float, inside: bool) -> None:
    assert passes(value, number("inRange", 10.0, 12.0)) is inside


def test_a_range_without_an_end_ends_at_zero() -> None:
    # The grid sends no end while it is being typed.
    assert passes(-3.0, number("inRange", -5.0))
    assert not passes(3.0, number("inRange", -5.0))


@pytest.mark.parametrize(
    ("kind", "wanted", "passing"),
    [
        ("contains", "TRIP", ["Overvoltage trip", "trip"]),
        ("notContains", "trip", ["Weak cranking", ""]),
        ("equals", "Trip", ["trip"]),
        ("notEqual", "trip", ["Overvoltage trip", "Weak cranking", ""]),
        ("startsWith", "over", ["Overvoltage trip"]),
        ("endsWith", "trip", ["Overvoltage trip", "trip"]),
    ],
)
def test_words_are_compared_whatever_their_capitals(kind: str, wanted: str, passing: list[str]) -> None:
    cells = ["Overvoltage trip", "Weak cranking", "trip", None]
    assert [cell or "" for cell in cells if passes(cell, word(kind, wanted))] == passing


@pytest.mark.parametrize(
    ("cell", "blank"), [(None, True), ("", True), (0, False), (0.0, False), ("0", False), (" ", False)]
)
def test_a_cell_of_zero_is_not_blank(cell: Any, blank: bool) -> None:
    assert passes(cell, word("blank")) is blank
    assert passes(cell, number("notBlank")) is not blank


@pytest.mark.parametrize(("operator", "passing"), [("AND", [14.0]), ("OR", [13.0, 14.0, 15.0])])
def test_two_conditions_hold_both_or_either(operator: str, passing: list[float]) -> None:
    asked = {"operator": operator, "conditions": [number("greaterThan", 13.5), number("lessThan", 14.5)]}
    assert [value for value in (13.0, 14.0, 15.0) if passes(value, asked)] == passing


ROWS = [
    {"start": "2026-05-01", "volts": 14.1, "rank": 0, "worst": "caution"},
    {"start": "2026-05-02", "volts": None, "rank": -1, "worst": "good"},
    {"start": "2026-05-03", "volts": 13.9, "rank": 2, "worst": "warning"},
    {"start": "2026-05-04", "volts": 14.1, "rank": -1, "worst": "good"},
]


def asked(
    sort: list[tuple[str, str]] | None = None, first: int = 0, end: int = 100, **filters: dict[str, Any]
) -> dict[str, Any]:
    """What the browser sends."""
    model = [{"colId": column, "sort": way} for column, way in sort or []]
    return {"filterModel": filters, "sortModel": model, "startRow": first, "endRow": end}


def days(given: dict[str, Any]) -> list[int]:
    return [int(row["start"][-1:]) for row in given["rowData"]]


@pytest.mark.parametrize(
    ("sort", "order"),
    [
        ([], [1, 2, 3, 4]),
        ([("start", "desc")], [4, 3, 2, 1]),
        ([("volts", "asc")], [2, 3, 1, 4]),
        ([("volts", "desc")], [1, 4, 3, 2]),
        ([("volts", "desc"), ("start", "desc")], [4, 1, 3, 2]),
        ([("worst", "asc")], [2, 4, 1, 3]),
        ([("worst", "desc"), ("volts", "asc")], [3, 1, 2, 4]),
    ],
)
def test_rows_stand_in_the_order_asked_for_what_was_not_measured_lowest(
    sort: list[tuple[str, str]], order: list[int]
) -> None:
    """Findings sort by how grave they are, and of equal ones the next column asked for decides."""
    assert days(rows_asked(ROWS, asked(sort), {"worst": "rank"})) == order


def test_a_filter_looks_at_the_words_that_stand_in_the_cell() -> None:
    told = [row | {"word": {"good": "Nothing found"}.get(str(row["worst"]), "Finding")} for row in ROWS]
    given = rows_asked(told, asked(worst=word("contains", "nothing")), shown={"worst": "word"})
    assert (days(given), given["rowCount"]) == ([2, 4], 2)


def test_the_count_is_of_all_that_pass_and_not_of_the_page() -> None:
    given = rows_asked(ROWS, asked(first=1, end=2, volts=number("greaterThan", 13.0)))
    assert (days(given), given["rowCount"]) == ([3], 3)


@pytest.mark.parametrize(
    "sent",
    [
        None,
        {},
        {"filterModel": {}},
        asked() | {"startRow": "x"},
        asked(volts={"filterType": "number", "type": "odd", "filter": 1}),
        asked([("nothing", "asc")]) | {"sortModel": [{}]},
    ],
)
def test_what_no_grid_sends_gets_no_rows(sent: Any) -> None:
    assert rows_asked(ROWS, sent) == {"rowData": [], "rowCount": 0}


FEW = settings(max_examples=40)
CELLS = st.fixed_dictionaries(
    {"a": st.none() | st.integers(-3, 3), "b": st.none() | st.floats(-9.0, 9.0), "id": st.integers()}
)


@FEW
@given(
    rows=st.lists(CELLS, max_size=30),
    page=st.integers(1, 7),
    sort=st.lists(st.tuples(st.sampled_from(["a", "b"]), st.sampled_from(["asc", "desc"])), max_size=2),
)
def test_pages_add_up_to_the_whole_each_row_once(
    rows: list[dict[str, Any]], page: int, sort: list[tuple[str, str]]
) -> None:
    """A row that two pages show, or none, would be a flight counted twice or lost."""
    paged: list[dict[str, Any]] = []
    for first in range(0, len(rows) + page, page):
        paged += rows_asked(rows, asked(sort, first, first + page))["rowData"]
    assert paged == rows_asked(rows, asked(sort))["rowData"]
    assert sorted(map(str, paged)) == sorted(map(str, rows))


@FEW
@given(rows=st.lists(CELLS, max_size=30), wanted=st.integers(-3, 3))
def test_what_passes_a_filter_and_what_passes_its_contrary_are_all_that_was_measured(
    rows: list[dict[str, Any]], wanted: int
) -> None:
    counts = [
        rows_asked(rows, asked(a=number(kind, wanted)))["rowCount"] for kind in ("lessThan", "equals", "greaterThan")
    ]
    assert sum(counts) == sum(row["a"] is not None for row in rows)


def test_the_file_of_a_grid_has_each_cell_with_the_digits_of_its_column() -> None:
    columns = [
        {"field": "start", "headerName": "Begins"},
        {"field": "worst", "headerName": "Worst finding", "cellRenderer": "Condition"},
        number_column("volts", "Reg., V", 2),
        number_column("rank", "Rank"),
    ]
    rows = [*ROWS[:2], {"start": "x", "volts": 13.995, "rank": 1.5, "worst": "warning"}]
    assert list(csv.reader(io.StringIO(grid_file(rows, columns)))) == [
        ["Begins", "Worst finding", "Reg., V", "Rank"],
        ["2026-05-01", "Caution", "14.10", "0"],
        ["2026-05-02", "Nothing found", "", "'-1"],
        ["x", "Warning", "13.99", "2"],  # 13.995 is stored a little lower, and halves go to the even one
    ]
