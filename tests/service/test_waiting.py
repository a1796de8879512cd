"""What waiting costs: counted by hand, silent without enough events, and never more favourable than it may be."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from msgspec import structs

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft, Fleet
from analyzer.cli import main
from analyzer.findings.finding import FindingName, Severity
from analyzer.limits import limit_value
from analyzer.records.changing import add_entries
from analyzer.records.kept import tail_reviews
from analyzer.records.store import Store, open_records
from analyzer.reports.waiting_words import waiting_words
from analyzer.reports.wording import finding_label
from analyzer.service import waiting
from analyzer.service.due_result import DueKind
from analyzer.service.waiting import Waiting, waiting_of
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import Present, Projection, Trend
from analyzer.trends.history import FlightFinding, History
from analyzer.trends.open_findings import OfFlight
from analyzer.trends.risk import EventRecord, Exposure, chance_of_an_event, events_of, reached_by
from analyzer.trends.tail_result import TailResult
from tests.made_results import DAY, PASSED, trend, trend_finding
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made

PLAIN, WEARS = "N0001W", "N0002W"
LOST = FlightFinding(FindingName.ALTERNATOR_OFFLINE, Severity.WARNING)
LATE = FlightFinding(FindingName.ALTERNATOR_OFFLINE, Severity.ADVISORY)


def flown(*lost: int, late: int | None = None) -> History:
    """Twelve flights of an hour with losses in some of them."""
    flights = [
        replace(one, hours=1.0, findings=(LOST,) if place in lost else (LATE,) if place == late else ())
        for place, one in enumerate(made("plain", 7, 12).history.flights)
    ]
    return replace(made("plain", 7, 12).history, flights=tuple(flights))


def test_events_and_hours_count_apart_by_what_stood_open_before_the_flight() -> None:
    history = flown(3, 4, 8, late=10)
    open_from_6 = trend_finding(raised_flight=6)
    record = events_of(history, [open_from_6])
    assert record == EventRecord(Exposure(1, 7.0), Exposure(1, 5.0)), "two flights on end are one loss"
    lapsed = trend_finding(raised_flight=2, lapsed_flight=4, lapsed_at=history.flights[4].start)
    assert events_of(history, [lapsed]) == EventRecord(Exposure(1, 11.0), Exposure(1, 1.0))
    raised_then = trend_finding(raised_flight=8)
    assert events_of(history, [raised_then]).warned == Exposure(0, 3.0), "a warning of that flight came too late"
    when = history.flights[10].start - timedelta(hours=1)
    stranded = replace(history, entries=(Entry("N0W", when, "stranded", ""), Entry("N0W", when, "other", "")))
    assert events_of(stranded, [open_from_6]).warned == Exposure(2, 5.0)


def stranded_after(place: int, *between: Entry) -> History:
    """The twelve flights without a loss, and a stranding a day after one of them with work behind it."""
    start = flown().flights[place].start
    assert start is not None
    return replace(flown(), entries=(Entry("N0W", start + timedelta(hours=4), "stranded", ""), *between))


def test_a_stranding_counts_with_what_stood_open_when_it_happened() -> None:
    ended_by_work = trend_finding(raised_flight=3, lapsed_flight=8, lapsed_at=DAY, lapsed_by=DAY)
    work = Entry("N0W", DAY, "battery_replaced", "")
    assert events_of(stranded_after(7, work), [ended_by_work]) == EventRecord(Exposure(0, 8.0), Exposure(1, 4.0))
    raised_by_the_last = trend_finding(raised_flight=7)
    assert events_of(stranded_after(7), [raised_by_the_last]).warned == Exposure(1, 4.0)
    lapsed_before = trend_finding(raised_flight=3, lapsed_flight=7, lapsed_at=DAY)
    assert events_of(stranded_after(7), [lapsed_before]) == EventRecord(Exposure(1, 9.0), Exposure(0, 3.0))
    assert events_of(stranded_after(11), [trend_finding(raised_flight=11)]).warned == Exposure(1, 0.0)


def test_an_overvoltage_trip_that_leaves_the_alternator_off_is_a_loss() -> None:
    tripped = FlightFinding(FindingName.OVERVOLTAGE_TRIP, Severity.WARNING)
    back = FlightFinding(FindingName.OVERVOLTAGE_TRIP, Severity.CAUTION)
    other = FlightFinding(FindingName.WEAK_CRANKING, Severity.WARNING)  # a warning, but of no loss
    history = flown(3)
    flights = [
        replace(one, findings={6: (tripped,), 9: (back,), 11: (other,)}.get(place, one.findings))
        for place, one in enumerate(history.flights)
    ]
    assert events_of(replace(history, flights=tuple(flights)), []).events == 2


def test_the_chance_is_that_of_made_rates() -> None:
    """The mean of 1 - exp(-rate h) over the gamma distribution, drawn; its interval holds the rates' own."""
    record = EventRecord(Exposure(4, 900.0), Exposure(9, 300.0))
    told = chance_of_an_event(record, 20.0, 30.0)
    rng = np.random.default_rng(5)
    calm, warned = rng.gamma(4.5, 1 / 900.0, 200_000), rng.gamma(9.5, 1 / 300.0, 200_000)
    drawn = 1.0 - np.exp(-calm * 20.0 - warned * 30.0)
    assert told.value == pytest.approx(drawn.mean(), abs=2e-3)
    assert told.low < np.quantile(drawn, 0.025) < np.quantile(drawn, 0.975) < told.high
    assert chance_of_an_event(record, 50.0, 0.0).value < told.value, "something open is worse here"
    assert chance_of_an_event(EventRecord(Exposure(10, 500.0), Exposure(0, 0.0)), 10.0, 0.0).value > 0.1


def test_the_chance_by_hand() -> None:
    # Ten events in 500 h: by Jeffreys' prior a gamma of 10.5 events, so that none comes in 50 h with (500 / 550)^10.5,
    # 36.8 %. The ends are the gamma's own, half of chi-square with 21 degrees of freedom: 10.283 and 35.479 by any
    # table, over 2 x 500 h and times 50 h.
    told = chance_of_an_event(EventRecord(Exposure(10, 500.0), Exposure(0, 0.0)), 50.0, 0.0)
    assert told.value == pytest.approx(1.0 - 0.36762, abs=1e-4)
    assert (told.low, told.high) == pytest.approx((1.0 - np.exp(-0.51415), 1.0 - np.exp(-1.77394)), abs=1e-4)


def test_a_forecast_is_read_between_the_hours_that_it_tells() -> None:
    first, last = limit_value("projection_earliest"), limit_value("projection_latest")
    foretold = Projection(90.0, 40.0, 200.0, 60.0, 100.0, 150.0)
    chances = [reached_by(foretold, hours) for hours in (0.0, 20.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0, 900.0)]
    assert chances == pytest.approx([0.0, first / 2, first, 0.1, 0.3, 0.5, 0.9, last, last])
    assert reached_by(replace(foretold, earliest=0.0, one_in_ten=0.0, one_in_two=0.0), 0.0) == 0.5


def kept(folder: Path) -> Iterator[Store]:
    """Records of an aircraft whose measures stand and of one whose voltage drifts."""
    with open_records(folder / "records", create=True) as opened:
        keep_history(opened, PLAIN, made("plain", 7, 150).history)
        keep_history(opened, WEARS, made("drift_up", 7).history)
        yield opened


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    yield from kept(tmp_path_factory.mktemp("calm"))


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """With ten strandings, five an aircraft."""
    for opened in kept(tmp_path_factory.mktemp("waiting")):
        for tail, kind, count in ((PLAIN, "plain", 150), (WEARS, "drift_up", None)):
            flights = made(kind, 7, count).history.flights
            days = [flights[place].start for place in range(2, 12, 2)]
            add_entries(opened, [Entry(tail, day - timedelta(hours=1), "stranded", "") for day in days if day])
        yield opened


def now_of(kind: str, count: int | None = None) -> datetime:
    start = made(kind, 7, count).history.flights[-1].start
    assert start is not None
    return start + timedelta(days=1)


def test_without_ten_events_the_forecast_stands_alone(calm: Store) -> None:
    told = waiting_of(calm, WEARS, now_of("drift_up"), (now_of("drift_up") + timedelta(days=200)).date())
    assert told.chance is None
    assert "the records hold 0 losses and strandings" in str(told.because)
    assert told.coming[0].measure == "regulated_voltage"
    assert 0.0 < told.coming[0].chance <= 1.0
    assert told.costs.expected is None
    assert any("not known, because" in words for words in waiting_words(told))


def test_with_ten_events_it_is_told_with_its_costs_where_they_are_set(
    store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    fitted = now_of("plain", 150).date() - timedelta(days=300)
    known = Aircraft(tail=PLAIN, battery_fitted=fitted, check_hours=1.5, stranded_hours=12.0)
    told = waiting_of(store, PLAIN, now_of("plain", 150), None, Fleet({PLAIN: known}))
    assert told.record.events == 10
    assert told.visit is not None
    assert (told.visit.what, told.visit.on > told.as_of) == (DueKind.CAPACITY_TEST, True)
    assert told.hours is not None
    assert told.chance is not None
    expected = chance_of_an_event(told.record, told.hours, 0.0)
    assert told.chance == expected, "nothing stands open of it and nothing is foretold"
    assert told.costs.expected is not None
    costs = told.costs.expected
    assert (costs.value, costs.low, costs.high) == pytest.approx(
        (12.0 * expected.value, 12.0 * expected.low, 12.0 * expected.high)
    )
    bare = waiting_of(store, PLAIN, now_of("plain", 150), told.visit.on, Fleet())
    assert (bare.chance, bare.costs.expected) == (expected, None), "no hours that nobody gave"
    words = " ".join(waiting_words(told))
    assert "A check takes 1.5 h. Waiting costs" in words
    assert "at least" in words.split("Waiting costs")[1]
    assert "No forecast tells a day for a check" in words
    assert main(["waiting", WEARS, "--visit", "2020-01-01", "--records", str(store.folder)]) == 2
    capsys.readouterr()
    assert main(["waiting", WEARS, "--records", str(store.folder), "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed["record"]["calm"]["events"] >= 1
    assert [one["unit"] for one in printed["coming"]] == ["V"]
    assert printed["stands"]["over_many"][0]["finding"] == "regulator_drift"


def test_a_state_in_which_hardly_an_hour_was_flown_tells_no_chance(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = waiting_of(store, WEARS, now_of("drift_up"), (now_of("drift_up") + timedelta(days=30)).date())
    assert told.chance is None
    assert "while something stood open; 100 are needed" in str(told.because)
    monkeypatch.setattr(waiting, "limit_value", lambda name: 1.0)
    told = waiting_of(store, WEARS, now_of("drift_up"), (now_of("drift_up") + timedelta(days=30)).date())
    assert told.hours is not None
    assert told.chance == chance_of_an_event(told.record, 0.0, told.hours), "something stands open all the while"


def test_a_check_is_suggested_before_a_limit_may_be_reached_together_with_other_work(store: Store) -> None:
    now = now_of("drift_up")
    alone = waiting_of(store, WEARS, now)
    assert alone.check_by is not None
    assert alone.with_item is None
    between = now.date() + (alone.check_by - now.date()) / 2
    fitted = between.replace(year=between.year - 1) if between.month != 2 else between - timedelta(days=365)
    known = Fleet({WEARS: Aircraft(tail=WEARS, battery_fitted=fitted)})
    told: Waiting = waiting_of(store, WEARS, now, None, known)
    assert told.with_item is not None
    assert told.with_item.what is DueKind.CAPACITY_TEST
    assert isinstance(told.with_item.on, date)
    assert told.with_item.on <= told.check_by
    assert "best together with battery capacity test" in waiting_words(told)[-1]


COSTLY = Aircraft(tail=PLAIN, check_hours=1.5, stranded_hours=12.0)


def told_of(
    store: Store,
    monkeypatch: pytest.MonkeyPatch,
    known: Aircraft = UNKNOWN_AIRCRAFT,
    visit_in: int | None = None,
    **more: object,
) -> Waiting:
    """What is told of the plain aircraft, whose result has something else in it."""

    def with_more(*asked: object) -> list[TailResult]:
        results = tail_reviews(*asked)  # type: ignore[arg-type]
        bare = {"findings": (), "in_latest_flights": (), "trends": {}}
        return [replace(one, **(bare | more)) if one.tail == PLAIN else one for one in results]  # type: ignore[arg-type]

    monkeypatch.setattr(waiting, "tail_reviews", with_more)
    now = now_of("plain", 150)
    visit = None if visit_in is None else now.date() + timedelta(days=visit_in)
    return waiting_of(store, PLAIN, now, visit, Fleet({PLAIN: known}))


def test_overdue_work_is_no_visit(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A test due for months made the next visit today, and every chance before it next to none."""
    today = now_of("plain", 150).date()
    old = Aircraft(tail=PLAIN, battery_fitted=today - timedelta(days=500))
    told = told_of(store, monkeypatch, old, trends={"regulated_voltage": trend()})
    assert [one.what for one in told.overdue] == [DueKind.CAPACITY_TEST]
    assert told.visit is not None
    assert told.visit.what is DueKind.BATTERY_AGE
    assert told.visit.on > today
    assert told.coming[0].chance is not None
    assert told.coming[0].chance > 0.0
    words = " ".join(waiting_words(told))
    assert f"Battery capacity test: overdue since {told.overdue[0].on}; name the day." in words
    named = told_of(store, monkeypatch, old, 30)
    assert "name the day" not in " ".join(waiting_words(named))
    older = told_of(store, monkeypatch, structs.replace(old, battery_fitted=today - timedelta(days=5000)))
    assert (len(older.overdue), older.visit, older.chance) == (2, None, None)


def test_what_stands_open_is_told_before_any_date(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    weak = OfFlight(FlightFinding(FindingName.WEAK_CRANKING, Severity.CAUTION), 149, DAY)
    for more, says in (
        ({"findings": (trend_finding(),)}, "regulator_drift"),
        ({"in_latest_flights": (weak,)}, "weak_cranking"),
    ):
        told = told_of(store, monkeypatch, COSTLY, 30, **more)
        first, *_, last = waiting_words(told)
        assert first.startswith("Check before flight: ")
        assert finding_label(says) in first
        assert last.startswith("Check what stands open before flight.")
        assert told.costs.expected is None
        assert told.hours is not None
        if told.record.warned.hours >= limit_value("waiting_shortest"):
            assert told.chance == chance_of_an_event(told.record, 0.0, told.hours), "all hours ahead are flown so"
        else:
            assert "while something stood open" in str(told.because)
        assert "Waiting costs" not in " ".join(waiting_words(told))
    monkeypatch.setattr(
        waiting, "settled_findings", lambda kept: {PLAIN: frozenset({("weak_cranking", DAY.isoformat())})}
    )
    assert not told_of(store, monkeypatch, COSTLY, 30, in_latest_flights=(weak,)).stands.every, "a person settled it"


@pytest.mark.parametrize(
    "passed",
    [
        trend(ends=PASSED),
        Trend("cranking_voltage", 30, now=Present(8.1, None, 8.4, None, None, past=True)),  # without a slope
    ],
)
def test_a_limit_that_is_passed_is_said_to_be_and_is_no_chance(
    store: Store, monkeypatch: pytest.MonkeyPatch, passed: Trend
) -> None:
    told = told_of(store, monkeypatch, COSTLY, 30, trends={"one": passed})
    assert (told.coming[0].past, told.coming[0].chance, told.check_by) == (True, 1.0, told.as_of)
    words = waiting_words(told)
    assert any("is past its limit of" in one and "chance" not in one for one in words)
    assert "check today" in words[-1]
    assert told.costs.expected is None


def test_without_a_visit_the_forecasts_are_told_with_their_one_in_ten_day(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = told_of(store, monkeypatch, trends={"one": trend(ends=(150.0, 40.0, 300.0))})
    assert told.visit is None
    (coming,) = told.coming
    assert (coming.chance, coming.one_in_ten) == (None, told.check_by)
    words = waiting_words(told)
    assert f"Regulated voltage reaches 14.50 V: one in ten by {told.check_by}." in words
    assert "No measure is foretold to reach a limit." not in words


def test_costs_are_at_least_so_much_and_untold_while_a_forecast_is_likelier_than_one_in_ten(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    ends = (9e3, 9e3, 9e4)
    far = told_of(store, monkeypatch, COSTLY, 30, trends={"one": trend(ends=ends)})
    assert far.coming[0].chance is not None
    assert far.coming[0].chance < 0.1
    assert not far.urgent
    near = told_of(store, monkeypatch, COSTLY, 30, trends={"one": trend(ends=(2.0, 1.0, 9.0))})
    assert near.coming[0].chance is not None
    assert near.coming[0].chance > 0.1
    assert near.costs.expected is None
    assert "What waiting costs is not set beside it" in " ".join(waiting_words(near))
    unknown = told_of(store, monkeypatch, trends={"one": trend(ends=(2.0, 0.1, 9.0))})
    assert (unknown.visit, unknown.urgent, unknown.check_by) == (None, True, unknown.as_of)
