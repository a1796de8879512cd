"""Rows, pages of lists and words on the pages, from a few flights counted by hand and without a browser."""

from __future__ import annotations

from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

pytest.importorskip("dash")

from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.findings.finding import Severity
from analyzer.trends.entries import Entry
from analyzer.trends.history import History
from dashboards.fleet_rows import matches, soonest_words
from dashboards.flight_words import ammeter_words, day_words, finding_label, when_words
from dashboards.grid import rows_asked
from dashboards.parts import of_how_many, one_page
from dashboards.searching import FRESH_S, Asked, Search
from dashboards.table_files import file_name
from dashboards.tail_series import FLIGHT_ORDER, decimals, entry_marks, flight_columns, flight_rows, table_measures
from tests.records.few_flights import flight

MAY = [datetime(2026, 5, day, 10, 3) for day in range(1, 11)]


@settings(max_examples=40)
@given(rows=st.lists(st.integers()), size=st.integers(1, 9))
def test_the_pages_of_a_list_add_up_to_it(rows: list[int], size: int) -> None:
    """A row on two pages, or on none, would be a log or an entry that nobody finds."""
    first = one_page(rows, 1, size)
    pages = [one_page(rows, number, size) for number in range(1, first.pages + 1)]
    assert [row for page in pages for row in page.rows] == rows
    assert [page.first for page in pages] == [1 + size * place for place in range(first.pages)]
    assert all(len(page.rows) == size for page in pages[:-1])
    assert all(page.alone == (len(rows) <= size) for page in pages)


@pytest.mark.parametrize(
    ("rows", "number", "shown", "told"),
    [
        pytest.param(0, 1, (1, 1, 0), None, id="an empty list has one page"),
        pytest.param(10, 1, (1, 1, 10), None, id="just one page"),
        pytest.param(11, 1, (1, 2, 10), "1 to 10 of 11", id="one row more takes two"),
        pytest.param(11, 2, (2, 2, 1), "11 to 11 of 11", id="the second"),
        pytest.param(11, 3, (2, 2, 1), "11 to 11 of 11", id="beyond the last: the last"),
        pytest.param(25, 0, (1, 3, 10), "1 to 10 of 25", id="before the first: the first"),
        pytest.param(25, -7, (1, 3, 10), "1 to 10 of 25", id="far before it"),
        pytest.param(25, 3, (3, 3, 5), "21 to 25 of 25", id="what is left"),
    ],
)
def test_which_page_of_a_list_is_shown(rows: int, number: int, shown: tuple[int, int, int], told: str | None) -> None:
    page = one_page(list(range(rows)), number, 10)
    assert (page.number, page.pages, len(page.rows)) == shown
    assert [part.children for part in of_how_many(page)] == ([] if told is None else [told])


@pytest.mark.parametrize(
    ("earliest", "words"), [(-3.0, "past its limit"), (0.3, "limit in less than 1 h"), (12.4, "limit in 12 h")]
)
def test_the_fleets_row_tells_the_earliest_end_and_never_none(earliest: float, words: str) -> None:
    """ "Limit in 0 h" would read as one that is passed."""
    ahead = SimpleNamespace(earliest=earliest, past=earliest < 0.0)
    limit: Any = SimpleNamespace(measure="regulated_voltage", reached=ahead)
    assert soonest_words(limit) == f"Regulated voltage: {words}"


def review(start: datetime | None, from_s: float, to_s: float) -> Any:
    return SimpleNamespace(flight=SimpleNamespace(clock_start=start, from_s=from_s, to_s=to_s))


@pytest.mark.parametrize(
    ("start", "from_s", "to_s", "words"),
    [
        (MAY[8], 0.0, 4737.0, "2026-05-09, 10:03 to 11:21 (79 min)"),
        (MAY[8], 600.0, 690.0, "2026-05-09, 10:13 to 10:14 (2 min)"),
        (datetime(2026, 5, 9, 23, 50), 0.0, 1200.0, "2026-05-09, 23:50 to 00:10 (20 min)"),
        (None, 0.0, 4737.0, "79 min, from minute 0 of a log without a clock"),
        (None, 3629.0, 7259.0, "60 min, from minute 60 of a log without a clock"),
    ],
)
def test_when_a_flight_was(start: datetime | None, from_s: float, to_s: float, words: str) -> None:
    assert when_words(review(start, from_s, to_s)) == words


def test_words_where_something_is_not_known() -> None:
    assert day_words(None) == "day unknown"
    assert day_words(MAY[0]) == "2026-05-01"
    assert ammeter_words("odd") == "ammeter of unknown kind"
    assert ammeter_words("none") == "no ammeter recorded"
    assert finding_label("regulator_drift", over_many=True) != finding_label("regulator_drift")
    assert finding_label("weak_cranking", over_many=True) == finding_label("weak_cranking")


ROW = {
    "tail": "N012LF",
    "why": "Overvoltage trip, 2 more",
    "next": "Note whether",
    "last_flight": "2026-05-09",
    "condition": "caution",
}


@pytest.mark.parametrize(
    ("search", "condition", "found"),
    [
        ("", "all", True),
        ("n012", "all", True),
        ("TRIP n012lf", "caution", True),
        ("trip n037", "all", False),
        ("2026-05", "all", True),
        ("", "warning", False),
        ("trip", "warning", False),
        ("   ", "caution", True),
    ],
)
def test_an_aircraft_is_found_by_every_word_and_its_condition(search: str, condition: str, found: bool) -> None:
    assert matches(ROW, search, condition) is found


@pytest.mark.parametrize(
    ("caption", "name"),
    [
        ("What is due, the most urgent first", "what-is-due-the-most-urgent-first.csv"),
        ("Flights, the latest first", "flights-the-latest-first.csv"),
        ("  Reg., V (mΩ)!", "reg-v-m.csv"),
    ],
)
def test_the_name_of_a_table_s_file(caption: str, name: str) -> None:
    assert file_name(caption) == name


def view(*flights: Any, worst: dict[int, Severity] | None = None, entries: tuple[Entry, ...] = ()) -> Any:
    """What the page of an aircraft is made from: flights in order, numbered from 101."""
    history = History("N0001V", tuple(flights))
    numbered = [SimpleNamespace(
        id=101 + place, start=one.start, hours=one.hours, worst=(worst or {}).get(place)
    ) for place, one in enumerate(flights)]  # fmt: skip
    for place, one in enumerate(flights):
        object.__setattr__(one, "id", 101 + place)
    return SimpleNamespace(history=history, flights=numbered, entries=[SimpleNamespace(entry=one) for one in entries])


def test_rows_of_flights_the_latest_first_with_the_digits_of_each_measure() -> None:
    told = flight_rows(
        view(
            flight(MAY[0], 1.25, regulated_voltage=14.1249, maintenance_current=0.449),
            flight(MAY[1], 0.5083, cranking_voltage=9.875),
            worst={1: Severity.WARNING},
        )
    )
    assert [(row["start"], row["minutes"], row["worst"], row["rank"]) for row in told] == [
        ("2026-05-02 10:03", 30, "warning", Severity.WARNING.rank), ("2026-05-01 10:03", 75, "good", -1),
    ]  # fmt: skip
    assert told[1]["regulated_voltage"] == pytest.approx(14.12)
    assert "cranking_voltage" not in told[1]
    assert told[0]["href"] == "/flight/102"


def test_flights_without_a_clock_come_last_in_file_order_and_have_their_own_readings() -> None:
    told = flight_rows(
        view(
            flight(MAY[0], bus_load=9.0), flight(None, file="log1.csv", bus_load=10.0),
            flight(None, file="log2.csv", bus_load=11.0),
        )
    )  # fmt: skip
    assert [(row["start"], row["bus_load"]) for row in told] == [
        ("flight 3, no clock", 11.0), ("flight 2, no clock", 10.0), ("2026-05-01 10:03", 9.0),
    ]  # fmt: skip
    sent = {"filterModel": {}, "sortModel": [{"colId": "start", "sort": "asc"}], "startRow": 0, "endRow": 9}
    assert [row["bus_load"] for row in rows_asked(told, sent, FLIGHT_ORDER)["rowData"]] == [9.0, 10.0, 11.0]


def test_a_table_has_columns_for_what_some_flight_measured_alone() -> None:
    shown = view(flight(MAY[0], bus_load=9.0), flight(MAY[1], battery_resistance=12.0))
    assert [name for name, _ in table_measures(shown)] == ["battery_resistance", "bus_load"]
    assert [one["field"] for one in flight_columns(shown)] == [
        "start", "worst", "minutes", "battery_resistance", "bus_load",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("measure", "digits"), [("regulated_voltage", 2), ("cranking_voltage", 2), ("bus_load", 1), ("start_attempts", 0)]
)
def test_digits_of_a_measure(measure: str, digits: int) -> None:
    assert decimals(measure) == digits


def test_work_stands_at_the_hours_that_were_flown_before_it() -> None:
    """1.0 h on the first of May, 1.5 on the second, 2.0 on the third: an entry at a flight's start is before it."""
    flights = [flight(MAY[place], 1.0 + 0.5 * place) for place in range(3)]
    entries = tuple(
        Entry("N0001V", when, "other", "")
        for when in (MAY[0] - timedelta(days=9), MAY[1], MAY[1] + timedelta(seconds=1), MAY[9])
    )
    assert [hours for _, hours, *_ in entry_marks(view(*flights, entries=entries))] == pytest.approx(
        [0.0, 1.0, 2.5, 4.5]
    )
    bare = view(flight(None, file="a"), entries=entries)
    assert entry_marks(bare) == [], "nothing tells when it was among these flights"


@pytest.mark.parametrize(
    ("query", "asked"),
    [
        ({}, Asked("", "", None, None)),
        ({"tail": "n012lf", "words": "volts high"}, Asked("N012LF", "volts high", None, None)),
        ({"symptom": "voltage_high,,battery_heat"}, Asked("", "", ("voltage_high", "battery_heat"), None)),
        ({"symptom": ","}, Asked("", "", None, None)),
        (
            {"since": "2026-05-01", "until": "2026-05-02T10:00"},
            Asked("", "", None, datetime(2026, 5, 1), datetime(2026, 5, 2, 10)),
        ),
        (
            {"since": "2026-05-01", "until": "2026-05-09"},
            Asked("", "", None, datetime(2026, 5, 1), datetime(2026, 5, 9, 23, 59, 59)),
        ),
        ({"since": "soon", "until": ""}, Asked("", "", None, None)),
    ],
    ids=["nothing", "words", "picks", "no picks", "a time", "a day from its beginning to its end", "no days"],
)
def test_what_an_address_asks_for(query: dict[str, str], asked: Asked) -> None:
    assert Asked.of(query) == asked


@pytest.mark.parametrize(
    ("over", "ago", "same", "good"),
    [
        pytest.param(False, 1e9, False, True, id="it still goes on"),
        pytest.param(True, 1e9, True, True, id="the records are as they were"),
        pytest.param(True, FRESH_S - 0.1, False, True, id="it was over just now"),
        pytest.param(True, FRESH_S, False, False, id="ten seconds ago"),
    ],
)
def test_a_search_is_done_again_once_the_records_have_changed(
    monkeypatch: pytest.MonkeyPatch, over: bool, ago: float, same: bool, good: bool
) -> None:
    monkeypatch.setattr("dashboards.searching.time.monotonic", lambda: 5000.0)
    search = Search(Asked("N0001V", "x", None, None), marks=(1,), ended=5000.0 - ago)
    if over:
        search.over.set()
    assert search.good((1,) if same else (2,)) is good
