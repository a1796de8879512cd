"""What is sent page by page: the rows that a grid asks for, and the points that a long chart draws."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from analyzer.trends.followed_tail import Trend
from dashboards.figures.trend_chart import ChartSeries, is_window, shown_points, trend_chart
from dashboards.grid import rows_asked

ROWS = [
    {"start": "2026-03-01", "volts": 14.1},
    {"start": "2026-02-01", "volts": 13.2},
    {"start": "2026-01-01"},
    {"start": "2025-12-01", "volts": 14.3},
]


def asked(sort: str | None = None, at: str = "volts", **filters: object) -> list[str]:
    sorting = [{"colId": at, "sort": sort}] if sort else []
    told = rows_asked(ROWS, {"startRow": 0, "endRow": 100, "sortModel": sorting, "filterModel": filters})
    assert told["rowCount"] == len(told["rowData"])
    return [row["start"][:7] for row in told["rowData"]]


def number(kind: str, wanted: float | None = None, last: float | None = None) -> dict[str, object]:
    return {"filterType": "number", "type": kind, "filter": wanted, "filterTo": last}


def test_a_page_is_a_part_of_all_rows_and_says_how_many_there_are() -> None:
    told = rows_asked(ROWS, {"startRow": 1, "endRow": 3, "sortModel": [], "filterModel": {}})
    assert told == {"rowData": ROWS[1:3], "rowCount": 4}


def test_rows_are_sorted_over_all_pages_and_what_is_missing_counts_least() -> None:
    assert asked("desc") == ["2025-12", "2026-03", "2026-02", "2026-01"]
    assert asked("asc") == ["2026-01", "2026-02", "2026-03", "2025-12"]
    assert asked("asc", "start")[0] == "2025-12"


def test_a_column_may_be_sorted_by_another_cell_in_both_directions() -> None:
    rows = [{"worst": worst, "rank": rank} for worst, rank in (("good", -1), ("warning", 2), ("caution", 1))]

    def sorted_by(way: str) -> list[str]:
        told = {"startRow": 0, "endRow": 9, "sortModel": [{"colId": "worst", "sort": way}], "filterModel": {}}
        return [row["worst"] for row in rows_asked(rows, told, {"worst": "rank"})["rowData"]]

    assert sorted_by("desc") == ["warning", "caution", "good"]
    assert sorted_by("asc") == ["good", "caution", "warning"]


@pytest.mark.parametrize(
    "wrong",
    [
        {"filterModel": []}, {"filterModel": None}, {"filterModel": {"volts": []}}, {"sortModel": {}, "startRow": "x"},
        {"sortModel": [7]}, {"endRow": 1e400}, {"filterModel": {"volts": number("equals")}}, None,
        {"filterModel": {"volts": {"operator": "AND", "conditions": [{"operator": "AND", "conditions": []}]}}},
    ],
)  # fmt: skip
def test_what_no_grid_asks_is_answered_with_no_rows(wrong: dict[str, object] | None) -> None:
    plain: dict[str, object] = {"startRow": 0, "endRow": 9, "sortModel": [], "filterModel": {}}
    told = rows_asked(ROWS, plain | wrong if wrong is not None else [])
    assert told == {"rowData": [], "rowCount": 0}
    assert rows_asked(ROWS, plain)["rowCount"] == 4


@pytest.mark.parametrize(
    ("filtered", "left"),
    [
        (number("lessThan", 14.1), ["2026-02"]),
        (number("lessThanOrEqual", 14.1), ["2026-03", "2026-02"]),
        (number("greaterThan", 14.1), ["2025-12"]),
        (number("greaterThanOrEqual", 14.1), ["2026-03", "2025-12"]),
        (number("equals", 13.2), ["2026-02"]),
        (number("notEqual", 13.2), ["2026-03", "2025-12"]),
        (number("inRange", 14.0, 14.2), ["2026-03"]),
        (number("blank"), ["2026-01"]),
        (number("notBlank"), ["2026-03", "2026-02", "2025-12"]),
        ({"operator": "OR", "conditions": [number("equals", 14.3), number("equals", 13.2)]}, ["2026-02", "2025-12"]),
        ({"operator": "AND", "conditions": [number("lessThan", 14.2), number("greaterThan", 14.0)]}, ["2026-03"]),
    ],
)
def test_a_filter_of_numbers(filtered: dict[str, object], left: list[str]) -> None:
    assert asked(volts=filtered) == left


@pytest.mark.parametrize(
    ("kind", "wanted", "left"),
    [
        ("contains", "6-0", ["2026-03", "2026-02", "2026-01"]),
        ("notContains", "2026", ["2025-12"]),
        ("startsWith", "2025", ["2025-12"]),
        ("endsWith", "02-01", ["2026-02"]),
        ("equals", "2026-03-01", ["2026-03"]),
    ],
)
def test_a_filter_of_words(kind: str, wanted: str, left: list[str]) -> None:
    found = asked(start={"filterType": "text", "type": kind, "filter": wanted})
    assert found == left


@pytest.fixture
def long() -> ChartSeries:
    """Two thousand flights a day apart; the thousandth as measured far below, the 1,500th far above once corrected."""
    many = 2000
    value = 14.0 + 0.05 * np.sin(np.arange(many))
    adjusted = value.copy()
    value[1000], adjusted[1500] = 12.9, 15.2
    starts = tuple(datetime(2020, 1, 1) + timedelta(days=place) for place in range(many))
    return ChartSeries(
        "regulated_voltage", starts, np.arange(many) * 1.5, value, value - 0.1, value + 0.1, adjusted,
        tuple(range(1, many + 1)), (), tuple(range(many)),
    )  # fmt: skip


def test_a_long_chart_draws_few_points_and_leaves_out_no_extreme(long: ChartSeries) -> None:
    raw, corrected = trend_chart(long, Trend("regulated_voltage", 2000)).data
    assert len(raw.x) == len(corrected.x) < 400
    assert min(raw.y) == 12.9
    assert max(corrected.y) == 15.2
    assert raw.customdata[0][0] == 1
    assert raw.customdata[-1][0] == 2000
    at = list(raw.y).index(12.9)
    assert raw.customdata[at][0] == 1001, "the point leads to its own flight"


@pytest.mark.parametrize(
    ("along", "window"),
    [("date", ("2021-01-01", "2021-04-30 12:00:00.5")), ("hours", (549.0, 730.0))],
)
def test_a_zoom_draws_every_flight_of_its_window(long: ChartSeries, along: str, window: tuple[str, str]) -> None:
    raw = shown_points(long, Trend("regulated_voltage", 2000), window, along=along, shown="raw")[0]
    drawn = [one[0] for one in raw["customdata"]]
    first, last = (367, 486) if along == "date" else (367, 487)
    assert set(range(first, last + 1)) <= set(drawn)
    assert len(drawn) < 400
    whole = shown_points(long, Trend("regulated_voltage", 2000), None, along=along, shown="raw")[0]
    assert list(whole["y"]) == list(trend_chart(long, Trend("regulated_voltage", 2000), along=along).data[0].y)


def test_words_are_no_window_of_an_axis_of_numbers(long: ChartSeries) -> None:
    dates, without = ("2021-01-01", "2021-04-30"), replace(long, starts=(None, *long.starts[1:]))
    assert is_window(long, "date", dates)
    assert is_window(long, "hours", (549.0, 730.0))
    assert not is_window(long, "hours", dates)
    assert not is_window(without, "date", (1.0, "2021-04-30"))


def test_a_short_chart_draws_all(long: ChartSeries) -> None:
    few = long.at(np.arange(100))
    assert few.days == long.days[:100]
    assert len(trend_chart(replace(few, limits=()), Trend("regulated_voltage", 100)).data[0].x) == 100
