"""What the records count and give back, against a handful of flights counted by hand: each once, in its place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from math import inf, isfinite, nan
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Connection, insert, update

from analyzer.measures.measure import MEASURES, Measure, not_measurable
from analyzer.records import codec
from analyzer.records.copies import flights_at, flown_between, latest_before, latest_in_order, rows_once
from analyzer.records.digest_flights import Window, added_late, dated_later, flown, newest_start, without_clock
from analyzer.records.keeping import finish_forgetting
from analyzer.records.kept import kept_history, measures_table, tail_flights, tails
from analyzer.records.latest import latest_flights, tail_kept, tail_names
from analyzer.records.problems import DamagedError, RecordsError
from analyzer.records.seals import FLIGHT_COLUMNS, check_each_flight, check_flight, flight_seal, seal
from analyzer.records.store import Store
from analyzer.records.tables import logs, pending_deletes
from analyzer.trends.history import Reading, history_of, in_file_order
from tests.records.few_flights import flight, kept_flights

DAILY, COPIED, BARE = "N0001R", "N0002R", "N0003R"
#: Ten o'clock of a day of May 2026.
MAY = [datetime(2026, 5, day, 10) for day in range(1, 32)]
FLOWN = {
    # Five days at ten, of 1.0, 1.1 ... 1.4 h: 6.0 h.
    DAILY: [flight(MAY[day], 1.0 + 0.1 * day) for day in range(5)],
    # The second flight stands in two files, in one of them cut short; the fourth only touches the third.
    COPIED: [
        flight(MAY[0], 1.0), flight(MAY[1], 2.0), flight(MAY[1] + timedelta(minutes=20), 0.5),
        flight(MAY[2], 1.0), flight(MAY[2] + timedelta(hours=1), 0.75),
    ],
    # Files 10, 2 and 1 without a clock, and a flight with one.
    BARE: [
        flight(None, 1.0, file="x/log10.csv", bus_load=10.0), flight(None, 2.0, file="x/log2.csv", bus_load=2.0),
        flight(None, 4.0, file="x/log1.csv", bus_load=1.0), flight(MAY[9], 0.5),
    ],
}  # fmt: skip


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with kept_flights(tmp_path_factory.mktemp("counted"), FLOWN) as opened:
        yield opened


def test_each_aircraft_with_its_flights_hours_first_and_last(store: Store) -> None:
    daily, _, bare = tails(store)
    assert (daily.tail, daily.flights, daily.first, daily.last) == (DAILY, 5, MAY[0], MAY[4])
    assert daily.hours == pytest.approx(6.0)
    assert (bare.flights, bare.first, bare.last) == (4, MAY[9], MAY[9]), "flights without a clock have no days"
    assert tail_names(store) == [DAILY, COPIED, BARE]
    assert (tail_kept(store, DAILY), tail_kept(store, "N0009R")) == (True, False)


@pytest.mark.parametrize(
    ("since", "until", "hours"),
    [
        pytest.param(MAY[1], MAY[3], [1.1, 1.2, 1.3], id="both ends within"),
        pytest.param(MAY[1] + timedelta(seconds=1), MAY[3], [1.2, 1.3], id="begun a second before"),
        pytest.param(MAY[1], MAY[3] - timedelta(seconds=1), [1.1, 1.2], id="begun a second after"),
        pytest.param(MAY[6], MAY[9], [], id="none"),
        pytest.param(datetime.min, datetime.max, [1.0, 1.1, 1.2, 1.3, 1.4], id="all that a calendar has"),
    ],
)
def test_flights_begun_in_a_time(store: Store, since: datetime, until: datetime, hours: list[float]) -> None:
    with store.reading() as connection:
        told = flown_between(connection, since, until, DAILY)
    assert [row.hours for row in told] == pytest.approx(hours)


@pytest.mark.parametrize(
    ("since", "hours"),
    [
        pytest.param(MAY[0], [1.0, 2.0, 1.0, 0.75], id="the copy that was cut short is left out, what touches is not"),
        # Since ten past ten: the longer file's flight began before, and its copy is no flight of its own.
        pytest.param(MAY[1] + timedelta(minutes=10), [1.0, 0.75], id="a copy of a flight from before"),
        pytest.param(MAY[2], [1.0, 0.75], id="from the next day on"),
    ],
)
def test_a_flight_that_two_files_hold_counts_once_and_as_the_longer_of_them(
    store: Store, since: datetime, hours: list[float]
) -> None:
    with store.reading() as connection:
        told = flown_between(connection, since, MAY[30], COPIED)
    assert [row.hours for row in told] == pytest.approx(hours)


def test_the_fleet_s_flights_and_hours_of_a_time(store: Store) -> None:
    # 2 to 3 May: 1.1 + 1.2 h of one, 2.0 + 1.0 + 0.75 h of the other.
    with store.reading() as connection:
        counted, hours = flown(connection, Window(MAY[1], MAY[2] + timedelta(hours=2), "", ""))
    assert (counted, hours) == (5, pytest.approx(6.05))


@pytest.mark.parametrize(
    ("tail", "before", "count", "hours"),
    [
        pytest.param(DAILY, None, 2, [1.3, 1.4], id="the latest two, the last one last"),
        pytest.param(DAILY, MAY[4], 2, [1.2, 1.3], id="begun before a moment, not at it"),
        pytest.param(DAILY, None, 9, [1.0, 1.1, 1.2, 1.3, 1.4], id="no more than there are"),
        pytest.param(COPIED, None, 3, [2.0, 1.0, 0.75], id="copies do not take the place of flights"),
        pytest.param(COPIED, None, 1, [0.75], id="one"),
        pytest.param(BARE, None, 3, [0.5], id="only those with a clock"),
    ],
)
def test_the_latest_flights_of_an_aircraft(
    store: Store, tail: str, before: datetime | None, count: int, hours: list[float]
) -> None:
    by_id = {one.id: one.hours for one in tail_flights(store, tail)}
    with store.reading() as connection:
        told = latest_before(connection, tail, before, count)
    assert [by_id[one] for one in told] == pytest.approx(hours)


@pytest.mark.parametrize(
    ("count", "hours"), [(1, [1.0]), (2, [2.0, 1.0]), (3, [4.0, 2.0, 1.0]), (4, [0.5, 4.0, 2.0, 1.0])]
)
def test_flights_without_a_clock_are_the_latest_in_the_order_of_their_files_numbers(
    store: Store, count: int, hours: list[float]
) -> None:
    """File 10 comes after file 2, and all of them after what has a clock: as the history has them."""
    by_id = {one.id: one.hours for one in tail_flights(store, BARE)}
    with store.reading() as connection:
        assert [by_id[one] for one in latest_in_order(connection, BARE, count)] == pytest.approx(hours)
    assert [by_id[one.id] for one in latest_flights(store, [BARE], count)[BARE]] == pytest.approx(hours)
    assert [one.hours for one in kept_history(store, BARE).flights][-count:] == pytest.approx(hours)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("log2.csv", "log10.csv"),
        ("LOG2.csv", "log10.csv"),
        ("z/log1.csv", "a/log2.csv"),
        ("log1b.csv", "log02.csv"),
        ("a.csv", "b.csv"),
    ],
)
def test_files_follow_each_other_by_their_numbers(first: str, second: str) -> None:
    assert in_file_order(first, 1) < in_file_order(second, 1)
    assert in_file_order(first, 1) < in_file_order(first, 2)


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [
        pytest.param(MAY[1] - timedelta(hours=1), MAY[1], [], id="until it begins"),
        pytest.param(MAY[1], MAY[1] + timedelta(minutes=1), [2.0], id="its first minute"),
        pytest.param(MAY[1] + timedelta(minutes=30), MAY[1] + timedelta(minutes=31), [2.0, 0.5], id="with its copy"),
        pytest.param(MAY[1] + timedelta(hours=2), MAY[1] + timedelta(hours=3), [], id="from its end on"),
    ],
)
def test_flights_of_a_moment(store: Store, start: datetime, end: datetime, hours: list[float]) -> None:
    by_id = {one.id: one.hours for one in tail_flights(store, COPIED)}
    assert [by_id[one.id] for one in flights_at(store, COPIED.lower(), start, end)] == pytest.approx(hours)


LATE = Window(datetime(2026, 5, 4), datetime(2026, 5, 11), "2026-05-04T00:00:00+00:00", "2026-05-11T00:00:00+00:00")
APRIL, TENTH = "2026-04-01T08:00:00+00:00", "2026-05-10T08:00:00+00:00"


def kept_when(folder: Path, flights: list[tuple[Any, str]], read: Callable[[Connection], Any]) -> Any:
    """What is read of an aircraft's flights that were added at these times."""
    with kept_flights(folder, {DAILY: [one for one, _ in flights]}) as opened:
        with opened.writing() as connection:
            for number, (_, at) in enumerate(flights, 1):
                connection.execute(update(logs).where(logs.c.id == number).values(added_at=at, seal=None))
        with opened.reading() as connection:
            return read(connection)


def test_what_is_counted_of_logs_that_came_late_or_with_a_clock_that_is_wrong(tmp_path: Path) -> None:
    """Added on 10 May: flights of 1 and 8 May and of June, and one without a clock; in April one of 3 May."""
    flown_then = [MAY[0], MAY[7], datetime(2026, 6, 9, 10), None]
    flights = [(flight(start, file="a"), TENTH) for start in flown_then] + [(flight(MAY[2]), APRIL)]
    earlier = replace(LATE, until_utc="2026-05-09T00:00:00+00:00")

    def read(connection: Connection) -> list[Any]:
        return [
            [(one.tail, one.flights, one.earliest) for one in added_late(connection, LATE)],
            without_clock(connection, LATE), dated_later(connection, LATE), newest_start(connection, LATE.until),
            added_late(connection, earlier), dated_later(connection, earlier),
            newest_start(connection, datetime(2026, 4, 30)),
        ]  # fmt: skip

    assert kept_when(tmp_path, flights, read) == [[(DAILY, 1, MAY[0])], 1, 1, MAY[7], (), 0, None]


@pytest.mark.parametrize(
    ("flights", "late"),
    [
        pytest.param(
            [(flight(MAY[0], 1.0), TENTH), (flight(MAY[0] + timedelta(minutes=5), 0.5), TENTH)], [(1, MAY[0])],
            id="two files of one flight",
        ),
        pytest.param(
            [(flight(MAY[0], 1.0), APRIL), (flight(MAY[0] + timedelta(minutes=5), 0.5), TENTH)], [],
            id="a copy, cut short, of a flight that was there",
        ),
        pytest.param(
            [(flight(MAY[0], 0.5), APRIL), (flight(MAY[0], 1.0), TENTH)], [(1, MAY[0])], id="the longer file of one"
        ),
        pytest.param(
            [(flight(MAY[1]), TENTH), (flight(MAY[0]), TENTH), (flight(LATE.since), TENTH)], [(2, MAY[0])],
            id="two, and one of the window itself",
        ),
    ],
)  # fmt: skip
def test_a_flight_that_came_late_is_told_once_and_not_for_another_file_of_it(
    tmp_path: Path, flights: list[tuple[Any, str]], late: list[tuple[int, datetime]]
) -> None:
    """Who is told of two flights that came late looks for two."""
    told = kept_when(tmp_path, flights, lambda connection: added_late(connection, LATE))
    assert [(one.flights, one.earliest) for one in told] == late


def test_a_table_of_measures_has_a_row_for_each_flight_and_measure(store: Store) -> None:
    table = measures_table(store, BARE.lower())
    assert table.height == 4 * len(MEASURES)
    carried = table.drop_nulls("value")
    assert carried["name"].to_list() == ["bus_load"] * 3
    assert sorted(carried["value"].to_list()) == [1.0, 2.0, 10.0]
    assert (carried["high"] - carried["low"]).to_list() == pytest.approx([0.02] * 3)


FEW = settings(max_examples=40)
SPANS = st.lists(st.tuples(st.integers(0, 300), st.integers(1, 60)), max_size=12)


@FEW
@given(spans=SPANS, order=st.randoms())
def test_flights_once_are_the_same_in_whatever_order_they_were_kept(spans: list[tuple[int, int]], order: Any) -> None:
    """No two of them overlap, and each that was left out overlaps one that is no shorter."""

    class Row:
        def __init__(self, number: int, start: int, minutes: int) -> None:
            begin = MAY[0] + timedelta(minutes=start)
            self.id, self.starts = number, begin.isoformat()
            self.ends = (begin + timedelta(minutes=minutes)).isoformat()
            self.span = (start, start + minutes)

    rows = [Row(number, *span) for number, span in enumerate(spans)]
    shuffled = order.sample(rows, len(rows))
    kept = rows_once(shuffled)
    assert [row.id for row in kept] == [row.id for row in rows_once(rows)]
    spans_kept = [row.span for row in kept]
    assert all(one[1] <= other[0] for one, other in pairwise(spans_kept))
    for row in rows:
        first, last = row.span
        over = [(a, b) for a, b in spans_kept if a < last and first < b]
        assert row.span in over or any(b - a >= last - first for a, b in over)


NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
READINGS = st.dictionaries(st.sampled_from(sorted(MEASURES)), st.tuples(NUMBERS, NUMBERS, NUMBERS))


@FEW
@given(many=st.lists(READINGS, max_size=5))
def test_readings_come_back_bit_for_bit_and_what_was_not_measured_stays_so(many: list[dict[str, Any]]) -> None:
    kept = [
        codec.encode(
            {name: Measure(name, *own[name]) if name in own else not_measurable(name, "why") for name in MEASURES}
        )
        for own in many
    ]
    assert codec.decode_all(kept) == [{name: Reading(*values) for name, values in own.items()} for own in many]


@pytest.mark.parametrize("blob", [b"", b"\0" * 8, b"\0" * (24 * len(MEASURES) - 1), b"\0" * (24 * len(MEASURES) + 24)])
def test_readings_of_another_number_of_measures_are_not_guessed_at(blob: bytes) -> None:
    with pytest.raises(RecordsError, match="a version with other measures"):
        codec.decode_all([blob])


ROW: dict[str, Any] = {
    "number": 1, "starts": "2026-05-01T10:00:00", "ends": "2026-05-01T11:00:00", "nominal_voltage": 14,
    "ammeter": "battery", "from_s": 0.0, "to_s": 3600.0, "hours": 1.0, "air_start": 12.5, "air_flight": None,
    "drawn_ah": 0.25, "readings": b"\1\2",
}  # fmt: skip
FOUND = [("weak_cranking", "caution"), ("slow_recharge", "advisory")]


def among_others(row: dict[str, Any], found: list[tuple[str, str]]) -> None:
    """Check a flight as the second of three."""
    others = [ROW | {"id": number, "seal": flight_seal(ROW, [])} for number in (2, 4)]
    rows = [others[0], row, others[1]]
    check_each_flight({name: [one[name] for one in rows] for name in row}, {row["id"]: found})


CHECKS = pytest.mark.parametrize("check", [check_flight, among_others])
Check = Callable[[dict[str, Any], list[tuple[str, str]]], None]


@CHECKS
@pytest.mark.parametrize("column", [*FLIGHT_COLUMNS, "readings"])
def test_a_seal_breaks_with_any_column_that_a_disk_changes(column: str, check: Check) -> None:
    """A column that no seal holds could change unseen and be judged as measured."""
    value = ROW[column]
    other = b"\1\3" if column == "readings" else f"{value}1" if isinstance(value, str) else (value or 0) + 1
    assert flight_seal(ROW | {column: other}, FOUND) != flight_seal(ROW, FOUND)
    with pytest.raises(DamagedError, match="flight 3, begun"):
        check(ROW | {"id": 3, "seal": flight_seal(ROW, FOUND), column: other}, FOUND)


@CHECKS
@pytest.mark.parametrize(
    "told", [{}, {"hours": 1e-05}, {"to_s": 1e16}, {"drawn_ah": 5e-324}, {"hours": -0.0}, {"ammeter": "für \x7f"}]
)
def test_a_flight_holds_however_its_values_are_written(told: dict[str, Any], check: Check) -> None:
    row = ROW | {"id": 3} | told
    check(row | {"seal": flight_seal(row, FOUND)}, FOUND)
    check(row | {"seal": None}, FOUND)  # kept before there were seals


@CHECKS
@pytest.mark.parametrize("readings", ["\1\2", 258, None])
def test_readings_that_a_disk_made_another_kind_of_are_said_to_be_damaged(readings: Any, check: Check) -> None:
    with pytest.raises(DamagedError, match="flight 3, begun"):
        check(ROW | {"id": 3, "seal": flight_seal(ROW, []), "readings": readings}, [])


@pytest.mark.parametrize("column", FLIGHT_COLUMNS)
@pytest.mark.parametrize("other", [nan, inf, -inf])
@CHECKS
def test_what_is_no_number_or_has_no_end_is_not_taken_for_one_that_is_missing(
    column: str, other: float, check: Check
) -> None:
    missing = ROW | {"id": 3, column: None}
    check(missing | {"seal": flight_seal(missing, FOUND)}, FOUND)
    with pytest.raises(DamagedError):
        check(missing | {"seal": flight_seal(missing, FOUND), column: other}, FOUND)


@pytest.mark.parametrize(
    "found",
    [
        [],
        FOUND[:1],
        [("weak_cranking", "warning"), FOUND[1]],
        [("slow_cranking", "caution"), FOUND[1]],
        [*FOUND, FOUND[0]],
    ],
)
def test_a_seal_breaks_with_any_finding_that_is_lost_added_or_another(found: list[tuple[str, str]]) -> None:
    assert flight_seal(ROW, found) != flight_seal(ROW, FOUND)


def test_a_seal_is_the_same_for_what_a_database_gives_back() -> None:
    # It keeps no order of findings, no negative zero, and gives 1.0 back for 1.
    assert flight_seal(ROW, FOUND[::-1]) == flight_seal(ROW, FOUND)
    assert flight_seal(ROW | {"from_s": -0.0, "hours": 1, "to_s": 3600}, FOUND) == flight_seal(ROW, FOUND)
    assert seal("ab", "c") != seal("a", "bc")
    assert seal(None) != seal("") != seal()


FLIGHTS = st.lists(
    st.builds(
        flight,
        st.integers(0, 20).map(lambda day: MAY[0] + timedelta(hours=9 * day)) | st.none(),
        st.sampled_from([0.5, 1.0, 3.0]),
        file=st.sampled_from(["log1.csv", "log2.csv", "log10.csv"]),
        number=st.integers(1, 2),
        bus_load=st.just(8.0),
    ),
    max_size=8,
)


@FEW
@given(flights=FLIGHTS, order=st.randoms())
def test_a_history_is_the_same_in_whatever_order_its_flights_were_added(flights: list[Any], order: Any) -> None:
    one, other = history_of(DAILY, flights), history_of(DAILY, order.sample(flights, len(flights)))
    assert [(own.start, own.hours, own.readings) for own in one.flights] == [
        (own.start, own.hours, own.readings) for own in other.flights
    ]
    assert one.begun == sorted(set(one.begun))
    assert isfinite(one.hours)
    assert one.without_clock == sum(own.start is None for own in one.flights)
    assert [own.start for own in one.flights[: len(one.begun)]] == one.begun, "those without a clock come last"


@pytest.mark.parametrize(
    ("waiting", "told"), [(1, "the files of 1 forgotten log are"), (2, "the files of 2 forgotten logs are")]
)
def test_files_of_forgotten_logs_that_wait_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, waiting: int, told: str
) -> None:
    with kept_flights(tmp_path, {DAILY: [flight(MAY[0])]}) as opened:
        with opened.writing() as connection:
            for place in range(waiting):
                connection.execute(insert(pending_deletes).values(hash=f"{place:064d}"))
        monkeypatch.setattr(type(opened), "writable", False)
        said = finish_forgetting(opened)
    assert str(said).startswith(told)
