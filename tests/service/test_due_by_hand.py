"""Days on which things fall due, counted on a calendar: at each limit and one day beside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, NamedTuple

import pytest

from analyzer.aircraft import Aircraft, Fleet
from analyzer.records.changing import add_entries
from analyzer.records.kept import tail_reviews, tails
from analyzer.records.store import Store
from analyzer.service.due import due_items
from analyzer.service.due_result import DueKind, DueState, Origin, Unknown
from analyzer.service.flying_rate import day_after, hours_a_week
from analyzer.service.periods import period_words, usual_since
from analyzer.trends.entries import make_entry
from analyzer.trends.history import FlightSummary
from analyzer.trends.tail_result import TailResult
from tests.records.few_flights import flight, keep_as_given, kept_flights

PLAIN, OTHER, SERVICED = "N0000D", "N0001D", "battery_serviced"
#: Three hours within a fortnight: 1 h on each of three Thursdays, the last at ten on 15 January.
FLIGHTS = [flight(datetime(2026, 1, day, 10)) for day in (1, 8, 15)]
NOON = datetime(2026, 1, 15, 12)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Records of an aircraft of which nothing was entered and of one that flies a lot; others join them."""
    flown = {PLAIN: FLIGHTS, OTHER: [flight(datetime(2026, 1, 3, 9), 40.0)]}
    with kept_flights(tmp_path_factory.mktemp("due"), flown) as opened:
        yield opened


@pytest.fixture(scope="module")
def result(store: Store) -> TailResult:
    """What the three flights come to."""
    return tail_reviews(store, [PLAIN], Fleet())[0]


def new_tail(store: Store, flights: Sequence[FlightSummary]) -> str:
    """Another aircraft with these flights."""
    tail = f"N{len(tails(store)):04d}D"
    keep_as_given(store, tail, flights)
    return tail


class Work(NamedTuple):
    """What was done on a day; to the aircraft itself unless to the other."""

    day: str
    kind: str
    capacity: float | None = None
    of_other: bool = False


def due_of(store: Store, result: TailResult, *work: Work, tail: str | None = None, **known: Any) -> dict[DueKind, Any]:
    """What is due at noon of 15 January of an aircraft with the three flights, by kind."""
    name = tail or (new_tail(store, FLIGHTS) if work else PLAIN)
    made = [make_entry(OTHER if one.of_other else name, one.day, one.kind, one.kind, one.capacity) for one in work]
    if made:
        add_entries(store, made)
    kept = next(one for one in tails(store) if one.tail == name)
    fleet = Fleet({name: Aircraft(tail=name, **known)})
    return {one.kind: one for one in due_items(store, NOON, [kept], [replace(result, tail=name)], fleet)}


@pytest.mark.parametrize(
    ("fitted", "on", "state"),
    [
        # Three years from the day; soon is within 30 days of 15 January, which 14 February is the last of.
        pytest.param(date(2023, 1, 15), date(2026, 1, 15), DueState.OVERDUE, id="today"),
        pytest.param(date(2023, 1, 16), date(2026, 1, 16), DueState.SOON, id="tomorrow"),
        pytest.param(date(2023, 2, 14), date(2026, 2, 14), DueState.SOON, id="in thirty days"),
        pytest.param(date(2023, 2, 15), date(2026, 2, 15), DueState.LATER, id="in thirty-one"),
        pytest.param(date(2024, 2, 29), date(2027, 2, 28), DueState.LATER, id="fitted on a leap day"),
        pytest.param(date(2026, 1, 15), date(2029, 1, 15), DueState.LATER, id="fitted today"),
    ],
)
def test_a_battery_s_age_by_the_day(store: Store, result: TailResult, fitted: date, on: date, state: DueState) -> None:
    """A day late here is a battery flown past its age."""
    told = due_of(store, result, battery_fitted=fitted)[DueKind.BATTERY_AGE]
    assert (told.on, told.state) == (on, state)


def test_a_battery_that_is_to_be_fitted_tomorrow_has_no_age(store: Store, result: TailResult) -> None:
    assert due_of(store, result, battery_fitted=date(2026, 1, 16))[DueKind.BATTERY_AGE].unknown is Unknown.AHEAD


@pytest.mark.parametrize(
    ("tested", "capacity", "on", "state"),
    [
        pytest.param("2025-06-01", 90.0, date(2026, 6, 1), DueState.LATER, id="a year after the test"),
        pytest.param("2025-01-15", 90.0, date(2026, 1, 15), DueState.OVERDUE, id="a year ago to the day"),
        pytest.param("2025-01-16", 90.0, date(2026, 1, 16), DueState.SOON, id="a year tomorrow"),
        pytest.param("2025-06-01", 85.0, date(2026, 6, 1), DueState.LATER, id="85 percent will do"),
        pytest.param("2025-06-01", 84.9, date(2025, 6, 1), DueState.OVERDUE, id="84.9 will not: due since the test"),
    ],
)
def test_a_capacity_test_by_the_day_and_by_the_percent(
    store: Store, result: TailResult, tested: str, capacity: float, on: date, state: DueState
) -> None:
    told = due_of(store, result, Work(tested, SERVICED, capacity))[DueKind.CAPACITY_TEST]
    assert (told.on, told.state) == (on, state)


@pytest.mark.parametrize(
    ("work", "on", "origin"),
    [
        pytest.param(
            [Work("2025-03-01", SERVICED, 92.0)], date(2026, 3, 1), Origin.TESTED, id="on its first day"
        ),
        pytest.param([Work("2025-02-28", SERVICED, 92.0)], date(2026, 3, 1), Origin.SET, id="the one before"),
        pytest.param([Work("2025-05-01", SERVICED)], date(2026, 3, 1), Origin.SET, id="serviced, not tested"),
        pytest.param(
            [Work("2025-05-01", SERVICED, 92.0), Work("2025-08-01", SERVICED, 91.0)],
            date(2026, 8, 1), Origin.TESTED, id="the later of two tests",
        ),
        pytest.param(
            [Work("2025-05-01", SERVICED, 92.0, of_other=True)], date(2026, 3, 1), Origin.SET, id="another aircraft's"
        ),
        pytest.param([Work("2026-01-16", SERVICED, 92.0)], date(2026, 3, 1), Origin.SET, id="not made yet"),
    ],
)  # fmt: skip
def test_which_test_counts_for_a_battery_fitted_on_the_first_of_march(
    store: Store, result: TailResult, work: list[Work], on: date, origin: Origin
) -> None:
    """A test of another battery, or of another aircraft's, must not put off this one's."""
    told = due_of(store, result, *work, battery_fitted=date(2025, 3, 1))[DueKind.CAPACITY_TEST]
    assert (told.on, told.since.origin) == (on, origin)


@pytest.mark.parametrize(
    ("set_on", "work", "day", "origin"),
    [
        (date(2024, 5, 1), "2024-04-30", date(2024, 5, 1), Origin.SET),
        (date(2024, 5, 1), "2024-05-01", date(2024, 5, 1), Origin.SET),
        (date(2024, 5, 1), "2024-05-02", date(2024, 5, 2), Origin.ENTERED),
        (None, "2024-05-02", date(2024, 5, 2), Origin.ENTERED),
    ],
)
def test_the_later_of_settings_and_entry_says_when_a_battery_was_fitted(
    store: Store, result: TailResult, set_on: date | None, work: str, day: date, origin: Origin
) -> None:
    told = due_of(store, result, Work(work, "battery_replaced"), battery_fitted=set_on)[DueKind.BATTERY_AGE]
    assert (told.since.day, told.since.origin) == (day, origin)


@pytest.mark.parametrize(
    ("hours_before", "run", "on", "state"),
    [
        # 3 h were flown since; 3 h in the fortnight from the first flight to the last are 1.5 h a week, and its days
        # count from the last flight, 15 January. 500 h less what was run:
        pytest.param(494.0, 497.0, date(2026, 1, 29), DueState.SOON, id="3 h left: a fortnight"),
        pytest.param(496.9, 499.9, date(2026, 1, 15), DueState.OVERDUE, id="6 minutes left: within today"),
        pytest.param(497.0, 500.0, None, DueState.OVERDUE, id="all of 500 h run"),
        pytest.param(490.0, 493.0, date(2026, 2, 17), DueState.LATER, id="7 h left: 32.7 days"),
        pytest.param(None, 3.0, date(2032, 5, 22), DueState.LATER, id="497 h left: 2319 days and 8 h"),
    ],
)
def test_brushes_by_the_hour(
    store: Store, result: TailResult, hours_before: float | None, run: float, on: date | None, state: DueState
) -> None:
    told = due_of(store, result, alternator_fitted=date(2026, 1, 1), alternator_hours=hours_before)[DueKind.BRUSHES]
    assert told.hours_a_week == pytest.approx(1.5)
    assert (told.run, told.on, told.state) == (pytest.approx(run), on, state)


@pytest.mark.parametrize(
    ("fitted", "run"),
    [
        pytest.param("2026-01-08", 2.0, id="a flight of the day itself may have been after"),
        pytest.param("2026-01-09", 1.0, id="the day after"),
    ],
)
def test_hours_of_new_brushes_count_from_their_day_on(
    store: Store, result: TailResult, fitted: str, run: float
) -> None:
    told = due_of(store, result, Work(fitted, "alternator_replaced"), alternator_hours=300.0)[DueKind.BRUSHES]
    assert told.run == pytest.approx(run), "what the old one had run is not the new one's"


def test_flights_without_a_clock_count_for_the_brushes_and_for_no_rate(store: Store) -> None:
    tail = new_tail(store, [*FLIGHTS, flight(None, 2.0, file="a")])
    own = tail_reviews(store, [tail], Fleet())[0]
    told = due_of(store, own, tail=tail, alternator_fitted=date(2026, 1, 1))[DueKind.BRUSHES]
    assert told.run == pytest.approx(5.0)
    assert told.hours_a_week == pytest.approx(1.5)


def rate(store: Store, flights: Sequence[FlightSummary], now: datetime) -> float | None:
    """Hours a week of an aircraft at a moment."""
    tail = PLAIN if flights is FLIGHTS else new_tail(store, flights)
    own = next(one for one in tails(store) if one.tail == tail)
    with store.reading() as connection:
        return hours_a_week(connection, own, now)


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        pytest.param(datetime(2026, 1, 1, 12), 1.0, id="one hour on the first day: told of a week at least"),
        pytest.param(datetime(2026, 1, 8, 10), 2.0, id="two in just a week"),
        pytest.param(datetime(2026, 1, 15, 10), 1.5, id="three in two weeks"),
        pytest.param(datetime(2026, 1, 29, 10), 0.75, id="three in four weeks"),
        # After 90 days the first of them drops out: 3 h a week x 7 / 90 at the edge, 2 h just beyond it.
        pytest.param(datetime(2026, 4, 1, 10), 3.0 * 7 / 90, id="ninety days"),
        pytest.param(datetime(2026, 4, 1, 11), 2.0 * 7 / 90, id="ninety days and an hour"),
        pytest.param(datetime(2026, 6, 1), None, id="it has not flown for a season"),
    ],
)
def test_how_much_an_aircraft_flies(store: Store, now: datetime, expected: float | None) -> None:
    told = rate(store, FLIGHTS, now)
    assert told is None if expected is None else told == pytest.approx(expected)


def test_a_flight_that_two_files_hold_is_flown_once(store: Store) -> None:
    twice = [*FLIGHTS, flight(datetime(2026, 1, 15, 10, 20), 0.5)]
    assert rate(store, twice, datetime(2026, 1, 15, 10, 30)) == pytest.approx(3.0 / (14 + 1 / 48) * 7)


@pytest.mark.parametrize(
    ("hours", "a_week", "day"),
    [
        (0.0, 1.5, date(2026, 1, 15)),
        (1.5, 1.5, date(2026, 1, 22)),
        (3.0, 7.0, date(2026, 1, 18)),
        (1.99, 1.0, date(2026, 1, 29)),  # 13.93 days from ten o'clock are not yet the 29th at ten
        (1e9, 0.1, None),
    ],
)
def test_the_day_by_which_hours_are_flown(hours: float, a_week: float, day: date | None) -> None:
    assert day_after(datetime(2026, 1, 15, 10), hours, a_week) == day


@pytest.mark.parametrize(
    ("newest", "now", "days", "since"),
    [
        (datetime(2026, 3, 9, 17, 30), datetime(2026, 3, 10, 8), 7, datetime(2026, 3, 2)),
        (None, datetime(2026, 3, 10, 8), 7, datetime(2026, 3, 3)),
        (datetime(2027, 1, 1), datetime(2026, 3, 10, 8), 7, datetime(2026, 3, 3)),
        (datetime(2026, 3, 9), datetime(2026, 3, 10), 1, datetime(2026, 3, 8)),
        (datetime(1, 1, 5), datetime(2026, 3, 10), 7, datetime.min),
    ],
    ids=["days before the last flight", "no flight", "a clock ahead", "from midnight", "the calendar's beginning"],
)
def test_what_changed_is_told_from_midnight_on(
    newest: datetime | None, now: datetime, days: int, since: datetime
) -> None:
    assert usual_since(newest, now, days) == since


@pytest.mark.parametrize(
    ("since", "words"),
    [
        (datetime(2026, 3, 2), "from 2026-03-02 on, 7 days before the last flight"),
        (datetime(2026, 3, 7), "from 2026-03-07 on, 2 days before the last flight"),
        (datetime(2026, 3, 8), "from 2026-03-08 on"),
        (datetime(2026, 3, 9), "from 2026-03-09 on"),
        (datetime(2026, 3, 2, 6, 30), "from 2026-03-02 06:30 on"),
        (datetime(2026, 4, 1), "from 2026-04-01 on"),
    ],
    ids=["a week", "two days", "one day", "the day itself", "not from midnight", "after the last flight"],
)
def test_a_period_in_words(since: datetime, words: str) -> None:
    now = datetime(2026, 3, 10, 8)
    assert period_words(since, datetime(2026, 3, 9, 17, 30), now) == words
    assert period_words(since, None, now) == words.partition(",")[0]
