"""Flights without a clock in the records: the same trend as from the logs, on every face."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from kept_histories import keep_history

from analyzer.cli import main
from analyzer.findings.finding import FindingName, Severity
from analyzer.records.kept import kept_history, tail_review
from analyzer.records.latest import latest_flights
from analyzer.records.store import open_records
from analyzer.reports.digest_text import digest_text
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.trend_sheet import drawn_tail, trend_sheet
from analyzer.service.collect_digest import collect_digest
from analyzer.trends.entries import Entry
from analyzer.trends.history import FlightFinding, FlightSummary, History, Reading, history_of
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail

TAIL, FLIGHTS = "N0031C", 24
WORK = datetime(2026, 5, 1)


def bare() -> History:
    """Twenty-four flights of files 1 to 24, the regulated voltage 0.4 V lower from the fifteenth on."""
    volts = [14.2 + 0.01 * (place % 3) - 0.4 * (place >= 14) for place in range(FLIGHTS)]
    flights = [
        FlightSummary(
            None, None, 1.0 + place / 1000.0, 14, "alternator", 15.0, 12.0, None,
            {"regulated_voltage": Reading(own, own - 0.03, own + 0.03)}, file=f"logs/{place + 1}.csv", number=1,
        )
        for place, own in enumerate(volts)
    ]  # fmt: skip
    return history_of(TAIL, flights, [Entry(TAIL, WORK, "regulator_adjusted", "set")])


@pytest.fixture
def store(tmp_path):
    made = bare()
    jumbled = replace(made, flights=(*made.flights[9:], *made.flights[:9]))
    found = {place: [("unsteady_connection", "caution")] for place in (10, 12, 14)}  # of flights 20, 22 and 24
    with open_records(tmp_path / "r", create=True) as opened:
        keep_history(opened, TAIL, jumbled, found)
        yield opened


def expected() -> History:
    flights = list(bare().flights)
    for place in (19, 21, 23):
        flights[place] = replace(
            flights[place], findings=(FlightFinding(FindingName.UNSTEADY_CONNECTION, Severity.CAUTION),)
        )
    return replace(bare(), flights=tuple(flights))


def test_kept_flights_come_in_file_order_with_the_trend_of_the_logs(store):
    assert kept_history(store, TAIL).flights == expected().flights
    result = tail_review(store, TAIL)
    assert result.stale_flights == FLIGHTS, "written here, judged by nothing"
    assert replace(result, stale_flights=0) == tail_result(review_tail(expected()))
    assert result.flights == FLIGHTS
    (change,) = result.trends["regulated_voltage"].changes
    assert (change.start, change.flight) == (None, 14)
    assert change.after - change.before == pytest.approx(-0.4, abs=0.02)


def test_the_latest_flights_are_the_last_files(store):
    last = latest_flights(store, [TAIL], 3)[TAIL]
    kept = kept_history(store, TAIL).flights[-3:]
    assert [one.readings["regulated_voltage"].value for one in kept] == [
        one.readings["regulated_voltage"].value for one in expected().flights[-3:]
    ]
    assert [flight.id for flight in last] == [one.id for one in kept]
    assert [len(flight.findings) for flight in last] == [1, 0, 1]
    assert {flight.start for flight in last} == {None}


def test_text_sheet_digest_and_disposition_do_without_a_date(store, capsys):
    records = ["--records", str(store.folder)]
    assert main(["trend", TAIL, *records]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "24 of 24 flights without a clock: taken in file order" in text
    assert "stepped at flight 15 from 14.19 to 13.80" in text
    assert "raised at flight 24" in text
    assert main(["trend", TAIL, "--until", "2026-06-01", *records]) == 0
    assert f"began: {FLIGHTS}." in " ".join(capsys.readouterr().out.split())
    review = tail_review(store, TAIL)
    paper = html(trend_sheet([(review, drawn_tail(kept_history(store, TAIL), review))], date(2026, 6, 1)))
    assert "24 of 24 flights without a clock" in paper
    assert "24 flights, none dated" in paper
    told = collect_digest(store, datetime(2026, 5, 20), datetime(2026, 6, 1))
    assert told.new == ()
    assert {one.name for one in told.still_open} == {"regulator_drift", "unsteady_connection"}
    assert "raised at flight 24" in digest_text(told)
    collect_digest(
        store, WORK - timedelta(days=30), WORK - timedelta(days=20)
    )  # before an entry: nothing of the tail is dated
    said = ["dispose", TAIL, "unsteady_connection", "flight 24", "fixed", "--who", "A. Person", *records]
    assert main(said) == 0
    assert main([*said[:3], "flight 23", *said[4:]]) == 2
