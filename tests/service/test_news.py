"""What is worth a message: each thing has one key for each time that it comes up, and never hides a graver one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest

from analyzer.records.changing import add_entries, dispose
from analyzer.records.store import open_records
from analyzer.reports.news_words import message_of
from analyzer.service.aircraft_settings import keep_settings
from analyzer.service.news import InFlights, News, gather_news
from analyzer.trends.entries import Entry
from analyzer.trends.history import History
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import flights_that_count
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made

PLAIN = "N0001D"
LATER = datetime(2027, 1, 1)
LOST = "alternator_offline"


def history_of_some(flights: int) -> History:
    whole = made("plain", 7).history
    return replace(whole, flights=whole.flights[:flights], entries=())


def news_of(
    folder: Path, flights: int, found: dict[int, str], work: Sequence[Entry] = (), settled: int | None = None
) -> list[News]:
    """The news of an aircraft with a finding of some severity in some of its flights, by their places."""
    history = history_of_some(flights)
    shown = {place: [(LOST, severity)] for place, severity in found.items() if place < flights}
    with open_records(folder / f"{flights}-{len(found)}-{len(work)}-{settled}", create=True) as store:
        keep_history(store, PLAIN, history, shown)
        add_entries(store, work)
        if settled is not None:
            dispose(store, PLAIN, LOST, history.flights[settled].start.isoformat(), "fixed", "K. Reed")
        return [one for one in gather_news(store, history.flights[-1].start) if isinstance(one.about, InFlights)]


def told(news: Sequence[News], before: set[str]) -> list[News]:
    new = [one for one in news if one.key not in before and not before.intersection(one.covered_by)]
    before |= {one.key for one in new}
    return new


def test_a_finding_of_flights_is_told_once_for_each_time_that_it_comes_up(tmp_path: Path) -> None:
    gap = flights_that_count()
    found = {8: "warning", 8 + gap: "warning", 9 + 3 * gap: "warning"}
    before: set[str] = set()
    at = [flights for flights in range(8, 11 + 3 * gap) if told(news_of(tmp_path, flights, found), before)]
    assert at == [9, 10 + 3 * gap], "once for flights that follow each other, again after it had lapsed"


def test_of_a_finding_of_flights_the_number_and_the_days_are_told(tmp_path: Path) -> None:
    (one,) = news_of(tmp_path, 11, {9: "warning", 10: "caution"})
    assert isinstance(one.about, InFlights)
    assert (one.about.flights, one.severity) == (2, "warning")
    flights = history_of_some(11).flights
    text = message_of([one]).text
    assert f"In 2 flights, {flights[9].start:%Y-%m-%d} to {flights[10].start:%Y-%m-%d}." in text
    assert text.index("WARNING  N0001D") < text.index(f"Seen: {LOST}.") < text.index("In 2 flights")
    assert "http" not in text, "no link where no address was given"


def test_what_grows_graver_is_told_again_and_what_grows_milder_is_not(tmp_path: Path) -> None:
    for severities, times in ((("caution", "warning"), 2), (("warning", "caution"), 1), (("advisory", "caution"), 1)):
        before: set[str] = set()
        found = dict(zip((8, 9), severities, strict=True))
        new = [told(news_of(tmp_path / severities[0] / severities[1], flights, found), before) for flights in (9, 10)]
        assert sum(map(len, new)) == times, severities
    assert news_of(tmp_path / "none", 10, {9: "advisory"}) == []


def test_it_is_told_again_after_work_that_ends_it_or_a_word_that_settles_it(tmp_path: Path) -> None:
    found, flights = {8: "warning", 9: "warning"}, history_of_some(10).flights
    (first,) = news_of(tmp_path, 9, found)
    between = flights[8].start + (flights[9].start - flights[8].start) / 2
    (after,) = news_of(tmp_path, 10, found, [Entry(PLAIN, between, "alternator_replaced", "")])
    assert after.key != first.key
    (after,) = news_of(tmp_path, 10, found, settled=8)
    assert after.key != first.key
    (other,) = news_of(tmp_path / "other", 10, found, [Entry(PLAIN, between, "battery_serviced", "")])
    assert other.key == first.key, "work that does not end it is none"
    assert news_of(tmp_path, 9, found, settled=8) == []


@pytest.fixture(scope="module")
def drifting(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drift") / "records"
    with open_records(folder, create=True) as store:
        keep_history(store, PLAIN, made("drift_up", 7).history)
    return folder


def test_what_is_due_soon_is_told_and_told_again_when_it_is_overdue(drifting: Path) -> None:
    before: set[str] = set()
    with open_records(drifting) as store:
        keep_settings(store, PLAIN, {"battery_fitted": date(2024, 5, 20)})
        for (month, day), due in (((4, 19), 0), ((4, 20), 1), ((5, 19), 0), ((5, 20), 1), ((6, 1), 0)):
            news = gather_news(store, datetime(2027, month, day, 9))
            age = [one for one in told(news, before) if "battery_age" in one.key]
            assert len(age) == due, (month, day)
    assert "DUE  N0001D  Battery age: due since 2027-05-20" in message_of(news).text


def test_a_trend_s_finding_is_told_with_its_number(drifting: Path) -> None:
    with open_records(drifting) as store:
        (one,) = (found for found in gather_news(store, LATER) if isinstance(found.about, TrendFinding))
    assert one.key.split("|")[:3] == [PLAIN, "regulator_drift", "over many flights"]
    message = message_of([one], "https://club.example")
    assert message.title == f"taper: 1 {one.severity}: {PLAIN}"
    assert message.text.index(one.about.says) < message.text.index("First check: ")
    assert f"https://club.example/aircraft/{PLAIN}\n" in message.text


def test_a_title_counts_and_names_few(drifting: Path) -> None:
    with open_records(drifting) as store:
        (one,) = (found for found in gather_news(store, LATER) if isinstance(found.about, TrendFinding))
    many = [replace(one, tail=f"N{place:04d}D") for place in range(6)]
    assert message_of(many).title == f"taper: 6 {one.severity}s: N0000D, N0001D, N0002D, N0003D and 2 more"
