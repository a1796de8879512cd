"""The aircraft page of flights without a clock: numbers of flights for days, nothing left out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.quantity import Quantity
from analyzer.records.kept import KeptFlight
from analyzer.records.stored import KeptFinding
from analyzer.trends.followed_tail import follow_tail
from analyzer.trends.history import FlightSummary, Reading, history_of
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail
from dashboards.grid import rows_asked
from dashboards.kept import TailView
from dashboards.tail_series import FLIGHT_ORDER, FLIGHT_SHOWN, entry_marks, flight_rows, open_of, points

FLIGHTS = 24


@pytest.fixture
def view() -> TailView:
    """Twenty-four flights of files 1 to 24, kept under ids 124 to 101; the voltage lower from the fifteenth on."""
    volts = [14.2 + 0.01 * (place % 3) - 0.4 * (place >= 14) for place in range(FLIGHTS)]
    flights = [
        FlightSummary(
            None, None, 1.0 + place / 1000.0, 14, "alternator", 15.0, 12.0, None,
            {"regulated_voltage": Reading(own, own - 0.03, own + 0.03)}, file=f"{place + 1}.csv", id=124 - place,
        )
        for place, own in enumerate(volts)
    ]  # fmt: skip
    history = history_of("N0032C", flights)
    kept = [KeptFlight(101 + k, 1, 1, "N0032C", None, None, 1.0, 14, "alternator", 0, None) for k in range(FLIGHTS)]
    seen = Finding(FindingName.OVERVOLTAGE, Severity.WARNING, 0.0, 9.0, {"peak_voltage": Quantity(16.4, "V")}, "Seen.")
    last = KeptFinding(seen, 101, "N0032C", None)
    return TailView(tail_result(review_tail(history)), history, kept, [last], [], [], follow_tail(history))


def test_points_are_the_flights_of_the_files_in_order(view):
    found = points(view, "regulated_voltage")
    assert found is not None
    assert found.flight_ids == tuple(range(124, 100, -1))
    assert found.flights == tuple(range(FLIGHTS))
    assert found.days[14] == "flight 15"
    assert found.value[14] - found.value[11] == pytest.approx(-0.4, abs=0.011)


def test_the_table_shows_the_last_file_first_with_its_readings(view):
    rows = flight_rows(view)
    assert [row["start"] for row in rows[:2]] == ["flight 24, no clock", "flight 23, no clock"]
    assert [row["href"] for row in rows[:2]] == ["/flight/101", "/flight/102"]
    assert rows[0]["regulated_voltage"] == pytest.approx(13.82)
    assert rows[-1]["regulated_voltage"] == pytest.approx(14.2)


def test_the_table_is_sorted_by_place_and_by_how_grave_a_finding_is(view):
    worst = {101: Severity.CAUTION, 104: Severity.WARNING, 107: Severity.ADVISORY}
    graded = replace(view, flights=[replace(one, worst=worst.get(one.id)) for one in view.flights])

    def sorted_by(column: str, way: str) -> list[str]:
        asked = {"startRow": 0, "endRow": 4, "sortModel": [{"colId": column, "sort": way}], "filterModel": {}}
        return [row[column] for row in rows_asked(flight_rows(graded), asked, FLIGHT_ORDER)["rowData"]]

    assert sorted_by("worst", "desc") == ["warning", "caution", "advisory", "good"]
    assert sorted_by("worst", "asc") == ["good"] * 4
    assert sorted_by("start", "asc") == [f"flight {place}, no clock" for place in (1, 2, 3, 4)]
    assert sorted_by("start", "desc") == [f"flight {place}, no clock" for place in (24, 23, 22, 21)]


def test_the_table_is_filtered_by_the_words_that_stand_in_it(view):
    graded = replace(
        view, flights=[replace(one, worst=Severity.CAUTION if one.id == 104 else None) for one in view.flights]
    )

    def filtered(column: str, wanted: str) -> list[str]:
        model = {column: {"filterType": "text", "type": "contains", "filter": wanted}}
        asked = {"startRow": 0, "endRow": 99, "sortModel": [], "filterModel": model}
        return [row["href"] for row in rows_asked(flight_rows(graded), asked, FLIGHT_ORDER, FLIGHT_SHOWN)["rowData"]]

    assert filtered("worst", "caution") == ["/flight/104"]
    assert len(filtered("worst", "nothing found")) == len(graded.flights) - 1
    assert filtered("worst", "good") == []


def test_what_stands_open_counts_the_last_files(view):
    stands = open_of(view)
    assert [one.flight_id for one in stands.of_flights] == [101]
    assert len(stands.over_many) == len(view.result.open_findings) > 0
    early = replace(view, findings=[replace(view.findings[0], flight_id=124)])
    assert open_of(early).of_flights == ()
    assert entry_marks(view) == []
