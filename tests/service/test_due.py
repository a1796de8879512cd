"""What falls due, from made flights and entries whose answer is known; nothing is made up, no day is too late."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from analyzer.aircraft import Aircraft, Fleet, Source
from analyzer.cli import main
from analyzer.contract_due import due_entry
from analyzer.records.changing import add_entries
from analyzer.records.store import Store, open_records
from analyzer.reports.due_calendar import due_calendar
from analyzer.reports.due_text import due_text
from analyzer.reports.due_words import due_words, not_known
from analyzer.service.due import due_list, months_after
from analyzer.service.due_result import Due, DueKind, DueList, DueState, ForecastDue, Unknown
from analyzer.service.follow_tails import UnknownTailError
from analyzer.trends.entries import Entry, make_entry
from analyzer.trends.history import Reading, history_of
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made
from tests.trends.made_replacements import changed

PLAIN, WEARS = "N0001D", "N0002D"
HISTORY = made("plain", 7).history
FIRST, LAST = (HISTORY.flights[place].start for place in (0, -1))
assert FIRST is not None
assert LAST is not None
NOW = LAST + timedelta(days=3)
HOURS = sum(flight.hours for flight in HISTORY.flights)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_records(tmp_path / "records", create=True) as opened:
        keep_history(opened, PLAIN, HISTORY)
        yield opened


def due_of(store: Store, *work: Entry, now: datetime = NOW, tail: str = PLAIN, **known: object) -> dict[DueKind, Due]:
    """What is due of an aircraft of which some things are known and entered, by kind."""
    add_entries(store, work)
    fleet = Fleet({tail: Aircraft(tail=tail, **known)})  # type: ignore[arg-type]
    return {one.kind: one for one in due_list(store, now, [tail], fleet).items}


def entry(when: date, kind: str, capacity: float | None = None) -> Entry:
    return make_entry(PLAIN, when.isoformat(), kind, kind, capacity)


def test_nothing_is_made_up_where_nothing_is_entered(store: Store) -> None:
    due = due_list(store, NOW, [PLAIN], Fleet())
    assert [(one.kind, one.on, one.unknown) for one in due.items] == [
        (DueKind.BATTERY_AGE, None, Unknown.NOT_FITTED),
        (DueKind.BRUSHES, None, Unknown.NOT_FITTED),
        (DueKind.CAPACITY_TEST, None, Unknown.NEITHER_TESTED_NOR_FITTED),
    ]
    told = not_known(due.items)
    assert [one.tails for one in told] == [(PLAIN,)] * 3
    assert told[0].why == "Not known, because no fitting date is entered; enter it in settings."
    assert Calendar.from_ical(due_calendar(due)).events == []


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [
        (date(2024, 1, 31), 13, date(2025, 2, 28)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 11, 30), 3, date(2025, 2, 28)),
        (date(2025, 5, 2), 12, date(2026, 5, 2)),
        (date(2025, 5, 2), 7.9, date(2025, 12, 2)),
        (date(2025, 5, 2), 1e6, date.max),
    ],
)
def test_months_end_on_the_same_day_or_the_month_s_last(day: date, months: float, then: date) -> None:
    assert months_after(day, months) == then


def test_a_capacity_test_counts_for_the_battery_that_was_tested(store: Store) -> None:
    fitted, tested = LAST.date() - timedelta(days=300), LAST.date() - timedelta(days=200)
    due = due_of(store, battery_fitted=fitted)[DueKind.CAPACITY_TEST]
    assert due.on == months_after(fitted, 12)
    assert "no test of it is entered" in due_words(due).why
    due = due_of(store, entry(tested, "battery_serviced", 92.0), battery_fitted=fitted)[DueKind.CAPACITY_TEST]
    assert (due.on, due.state) == (months_after(tested, 12), DueState.LATER)
    replaced = entry(tested + timedelta(days=30), "battery_replaced")
    due = due_of(store, replaced, battery_fitted=fitted)[DueKind.CAPACITY_TEST]
    assert due.on == months_after(replaced.when.date(), 12), "the test was of the battery before"


def test_a_battery_that_failed_its_test_is_given_no_year(store: Store) -> None:
    tested = LAST.date() - timedelta(days=10)
    due = due_of(store, entry(tested, "battery_serviced", 84.0))[DueKind.CAPACITY_TEST]
    assert (due.state, due.on) == (DueState.OVERDUE, tested)
    assert due_words(due).why.startswith("84 % of rated in the last capacity test")
    again = entry(tested + timedelta(days=1), "battery_serviced", 85.0)
    due = due_of(store, again)[DueKind.CAPACITY_TEST]
    assert (due.state, due.on) == (DueState.LATER, months_after(again.when.date(), 12))


def test_age_counts_from_the_latest_battery_and_never_from_a_day_to_come(store: Store) -> None:
    day = date(2022, 3, 31)
    due = due_of(store, battery_fitted=day)[DueKind.BATTERY_AGE]
    assert due.on == date(2025, 3, 31)
    assert due.state is (DueState.OVERDUE if due.on <= NOW.date() else due.state)
    due = due_of(store, entry(date(2022, 9, 1), "battery_replaced"), battery_fitted=day)[DueKind.BATTERY_AGE]
    assert (due.on, "(maintenance log)" in due_words(due).why) == (date(2025, 9, 1), True)
    due = due_of(store, battery_fitted=date(2023, 1, 1))[DueKind.BATTERY_AGE]
    assert due.on == date(2026, 1, 1), "what is set later is the battery that is in"
    ahead = due_of(store, battery_fitted=NOW.date() + timedelta(days=1))
    assert {ahead[kind].unknown for kind in (DueKind.BATTERY_AGE, DueKind.CAPACITY_TEST)} == {Unknown.AHEAD}


def test_the_states_change_on_their_days(store: Store) -> None:
    fitted = date(2023, 6, 15)
    said = [
        due_of(store, battery_fitted=fitted, now=datetime(*day, 12))[DueKind.BATTERY_AGE].state
        for day in ((2026, 5, 15), (2026, 5, 16), (2026, 6, 14), (2026, 6, 15))
    ]
    assert said == [DueState.LATER, DueState.SOON, DueState.SOON, DueState.OVERDUE]


def test_brushes_are_due_by_the_hours_that_are_kept(store: Store) -> None:
    due = due_of(store, alternator_fitted=FIRST.date())[DueKind.BRUSHES]
    span = (LAST - FIRST) / timedelta(weeks=1)
    assert due.run == pytest.approx(HOURS)
    assert due.hours_a_week >= HOURS / span * 0.999, "at the higher of its rates, so that no day is too late"
    assert due.on == (LAST + timedelta(weeks=(500.0 - HOURS) / due.hours_a_week)).date()
    assert due_words(due).why.startswith(f"{HOURS:.0f} of 500 h run since")
    due = due_of(store, alternator_fitted=FIRST.date(), alternator_hours=400.0)[DueKind.BRUSHES]
    assert due.run == pytest.approx(HOURS + 400.0)
    due = due_of(store, alternator_fitted=FIRST.date(), alternator_hours=500.0 - HOURS)[DueKind.BRUSHES]
    assert due.state is DueState.OVERDUE
    half = HISTORY.flights[20].start
    assert half is not None
    due = due_of(store, Entry(PLAIN, half, "alternator_overhauled", ""), alternator_fitted=FIRST.date())
    since = [one.hours for one in HISTORY.flights if one.start.date() >= half.date()]
    assert due[DueKind.BRUSHES].run == pytest.approx(sum(since))


def test_hours_before_the_logs_begin_are_not_made_up(store: Store) -> None:
    before = FIRST.date() - timedelta(days=1)
    due = due_of(store, alternator_fitted=before)[DueKind.BRUSHES]
    assert (due.state, due.on, due.unknown) == (DueState.UNKNOWN, None, Unknown.LOGS_BEGIN_LATER)
    why = due_words(due).why
    assert f"{HOURS:.0f} of 500 h are run at least" in why
    assert f"a date from {FIRST.date()} on" in why
    due = due_of(store, alternator_fitted=before, alternator_hours=499.0)[DueKind.BRUSHES]
    assert due.state is DueState.OVERDUE, "what is known is enough"


@pytest.mark.parametrize(
    ("known", "why"),
    [
        ({"source": Source.DC_GENERATOR, "alternator_fitted": FIRST.date()}, Unknown.NO_INTERVAL),
        ({"source": Source.STARTER_GENERATOR, "alternator_fitted": FIRST.date()}, Unknown.NO_INTERVAL),
        ({"alternators": 2}, Unknown.WHICH_OF_TWO),
        ({"alternators": 2, "alternator_fitted": FIRST.date()}, None),
    ],
)
def test_brushes_of_other_sources(store: Store, known: dict[str, object], why: Unknown | None) -> None:
    due = due_of(store, entry(LAST.date(), "alternator_replaced"), **known)[DueKind.BRUSHES]
    assert due.unknown is why
    if why is None:
        assert due.run == pytest.approx(HOURS), "the entry may be about the other of the two"


def test_a_source_without_brushes_has_none_due(store: Store) -> None:
    assert DueKind.BRUSHES not in due_of(store, source=Source.PERMANENT_MAGNET)


def test_a_forecast_is_due_no_later_than_its_early_end_at_the_higher_rate_of_flying(
    store: Store, pytestconfig: pytest.Config
) -> None:
    history = made("drift_up", 7).history
    keep_history(store, WEARS, history)
    seen = 0
    for flights in range(15, len(history.flights), 3 if pytestconfig.getoption("--long") else 7):
        then = history.flights[flights - 1].start
        assert then is not None
        with open_records(store.folder.parent / f"then-{flights}", create=True) as earlier:
            keep_history(earlier, WEARS, history.until(then))
            due = due_list(earlier, then + timedelta(days=2), [WEARS], Fleet())
        for one in due.items:
            if not isinstance(one, ForecastDue):
                continue
            seen += 1
            weeks = (then - history.flights[0].start) / timedelta(weeks=1)
            slowest = sum(flight.hours for flight in history.flights[:flights]) / weeks
            latest = then + timedelta(weeks=max(one.coming.reached.earliest, 0.0) / slowest)
            assert one.on is not None
            assert one.on <= latest.date()
            assert (one.state is DueState.OVERDUE) == (one.on <= due.as_of.date())
            assert due_words(one).why.startswith("Now ")
    assert seen >= 3


def test_a_level_past_its_limit_is_due_now_where_nothing_is_foretold(store: Store) -> None:
    """A set point below its band that comes back, or stays there, is past its limit as long as it is outside."""
    flights = []
    for place in range(40):
        start, volts = FIRST + timedelta(days=2 * place), 13.05 + 0.005 * place + 0.01 * (-1) ** place
        told = {"regulated_voltage": Reading(volts, volts - 0.02, volts + 0.02)}
        flights.append(replace(HISTORY.flights[0], start=start, end=start + timedelta(hours=1), hours=1.0,
                               nominal_voltage=14, readings=told, findings=()))  # fmt: skip
    keep_history(store, WEARS, history_of(WEARS, flights))
    last = flights[-1].start
    (due,) = [
        one for one in due_list(store, last + timedelta(days=1), [WEARS], Fleet()).items if isinstance(one, ForecastDue)
    ]
    assert (due.coming.measure, due.coming.limit, due.state) == ("regulated_voltage", 13.4, DueState.OVERDUE)
    words = due_words(due)
    assert (words.title, words.when) == ("Regulated voltage is past its limit of 13.40 V", "now")


def test_an_aircraft_without_a_clock_has_no_days(tmp_path: Path) -> None:
    history = made("plain", 7).history
    bare = [replace(one, start=None, end=None, file="a", number=n) for n, one in enumerate(history.flights)]
    with open_records(tmp_path / "bare", create=True) as store:
        keep_history(store, PLAIN, replace(history, flights=tuple(bare), entries=()))
        due = due_of(store, alternator_fitted=date(2020, 1, 1))[DueKind.BRUSHES]
        assert (due.unknown, due.run) == (Unknown.WITHOUT_CLOCK, pytest.approx(HOURS))
        due = due_of(store, alternator_fitted=date(2020, 1, 1), alternator_hours=480.0)[DueKind.BRUSHES]
        assert due.state is DueState.OVERDUE


def listed(store: Store, fitted: date, now: datetime = NOW) -> DueList:
    return due_list(store, now, [PLAIN], Fleet({PLAIN: Aircraft(tail=PLAIN, battery_fitted=fitted)}))


def test_a_calendar_program_reads_what_is_due(store: Store) -> None:
    fitted = months_after(NOW.date(), -34)
    due = listed(store, fitted)
    text = due_calendar(due, datetime(2026, 5, 2, 12, 0, tzinfo=UTC))
    assert text == due_calendar(due, datetime(2026, 5, 2, 12, 0, tzinfo=UTC))
    assert all(len(line) <= 75 for line in text.split(b"\r\n")), "RFC 5545, 3.1"
    events = {str(one["SUMMARY"]): one for one in Calendar.from_ical(text).events}
    assert len(events) == 2
    age = events[f"{PLAIN}: Battery age"]
    assert age["DTSTART"].dt == months_after(fitted, 36)
    assert age["DTEND"].dt - age["DTSTART"].dt == timedelta(days=1)
    (late,) = (one for name, one in events.items() if "capacity test" in name)
    assert late["SUMMARY"] == f"{PLAIN}: Battery capacity test (due since {months_after(fitted, 12)})"
    assert late["DTSTART"].dt == NOW.date(), "what is overdue stands where somebody looks"
    assert "maintenance manual" in late["DESCRIPTION"]
    later = Calendar.from_ical(due_calendar(listed(store, fitted + timedelta(days=40)))).events
    assert {one["UID"] for one in later} == {one["UID"] for one in events.values()}, "moved, not doubled"


def test_the_command_lists_and_writes_the_calendar(
    store: Store, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    where = ["--records", str(store.folder)]
    assert main(["settings", PLAIN, "battery_fitted=2020-02-29", *where]) == 0
    capsys.readouterr()
    assert main(["due", PLAIN.lower(), "--json", *where]) == 0
    told = json.loads(capsys.readouterr().out)
    (age,) = [one for one in told["due"] if one["what"] == "battery_age"]
    assert (age["on"], age["state"], age["since"]) == ("2023-02-28", "overdue", {"day": "2020-02-29", "origin": "set"})
    assert main(["due", "--calendar", str(tmp_path / "due.ics"), *where]) == 0
    assert len(Calendar.from_ical((tmp_path / "due.ics").read_bytes()).events) == 2
    assert main(["due", *where]) == 0
    shown = capsys.readouterr().out
    assert "due since 2023-02-28" in shown
    assert "maintenance manual comes before" in " ".join(shown.split())
    assert main(["due", "N0NONE", *where]) == 2
    assert "no flight of N0NONE was found" in capsys.readouterr().err
    with pytest.raises(UnknownTailError):
        due_list(store, NOW, ["N0NONE"])


def test_a_battery_that_may_be_another_is_asked_about_and_moves_no_date(tmp_path: Path) -> None:
    fitted = date(2024, 1, 1)
    fleet = Fleet({PLAIN: Aircraft(tail=PLAIN, battery_fitted=fitted)})
    tail = changed("battery", 701)
    with open_records(tmp_path / "records", create=True) as opened:
        keep_history(opened, PLAIN, tail.history)
        due = due_list(opened, tail.between[1] + timedelta(days=400), [PLAIN], fleet)
    (one,) = due.asked
    assert (one.tail, one.work.kind) == (PLAIN, "battery_replaced")
    assert {item.on for item in due.items if item.kind is DueKind.BATTERY_AGE} == {months_after(fitted, 36)}
    assert f"{PLAIN}: Was the battery replaced between" in " ".join(due_text(due).split())
    assert due_entry(due).asked[0].work.kind == "battery_replaced"
