"""Which flight a person means by a day or a time, and which minute of it: at each edge and a step beside it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from analyzer.records.flight_again import NoSuchFlightError, flight_named
from analyzer.records.store import Store
from analyzer.service.plan_endurance import PlanError, loads_named, named
from analyzer.service.quit_alternator import quit_alternator
from tests.records.few_flights import flight, kept_flights

TAIL, BARE, TWICE = "N0001F", "N0002F", "N0003F"
#: Two flights on 9 May and one on the twelfth, begun some seconds after a whole minute, as recorders begin.
MORNING, AFTERNOON, LATER = datetime(2026, 5, 9, 10, 3, 21), datetime(2026, 5, 9, 14, 20, 5), datetime(2026, 5, 12, 9)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    flown = {
        TAIL: [flight(MORNING, 1.0), flight(AFTERNOON, 0.5), flight(LATER, 2.0)],
        BARE: [flight(None, 1.0, file="log1.csv"), flight(None, 2.0, file="log2.csv")],
        TWICE: [flight(MORNING, 1.0), flight(MORNING + timedelta(minutes=10), 0.5)],
    }
    with kept_flights(tmp_path_factory.mktemp("named"), flown) as opened:
        yield opened


@pytest.mark.parametrize(
    ("moment", "timed", "start"),
    [
        pytest.param(None, False, LATER, id="the last one"),
        pytest.param(datetime(2026, 5, 12), False, LATER, id="the only one of its day"),
        pytest.param(
            datetime(2026, 5, 9, 10, 3), True, MORNING, id="by the minute in which it began, as lists name it"
        ),
        pytest.param(MORNING, True, MORNING, id="by the second"),
        pytest.param(datetime(2026, 5, 9, 10, 45), True, MORNING, id="while it flew"),
        pytest.param(datetime(2026, 5, 9, 11, 3, 21), True, MORNING, id="at its end"),
        pytest.param(datetime(2026, 5, 9, 14, 20), True, AFTERNOON, id="the other of the day, by its minute"),
        pytest.param(datetime(2026, 5, 12, 23), True, LATER, id="the only one of its day, whatever the time"),
    ],
)
def test_which_flight_is_meant(store: Store, moment: datetime | None, timed: bool, start: datetime) -> None:
    assert flight_named(store, TAIL.lower(), moment, timed=timed).start == start


@pytest.mark.parametrize(
    ("moment", "timed"),
    [
        pytest.param(datetime(2026, 5, 9), False, id="a day of two flights"),
        pytest.param(datetime(2026, 5, 9, 10, 2), True, id="a minute before the first"),
        pytest.param(datetime(2026, 5, 9, 11, 4), True, id="between the two"),
    ],
)
def test_where_a_day_has_two_the_times_that_are_named_find_them(store: Store, moment: datetime, timed: bool) -> None:
    """Who is told to name 10:03 or 14:20, and does, must not be told so again."""
    with pytest.raises(NoSuchFlightError) as told:
        flight_named(store, TAIL, moment, timed=timed)
    assert str(told.value) == f"{TAIL} has 2 flights on 2026-05-09; name the time as well: 10:03, 14:20"
    for words, start in zip(str(told.value).partition("well: ")[2].split(", "), (MORNING, AFTERNOON), strict=True):
        asked = datetime.fromisoformat(f"2026-05-09T{words}")
        assert flight_named(store, TAIL, asked, timed=True).start == start


@pytest.mark.parametrize(
    ("moment", "timed", "nearest"),
    [
        pytest.param(datetime(2026, 5, 10), False, "2026-05-09, 2026-05-12", id="a day without a flight"),
        pytest.param(datetime(2026, 5, 30, 8), True, "2026-05-09, 2026-05-12", id="a time long after"),
    ],
)
def test_where_a_day_has_none_the_nearest_are_named(store: Store, moment: datetime, timed: bool, nearest: str) -> None:
    with pytest.raises(NoSuchFlightError, match=f"on {moment:%Y-%m-%d} is kept; the nearest: {nearest}$"):
        flight_named(store, TAIL, moment, timed=timed)


def test_flights_without_a_clock_are_of_no_day_and_the_last_is_the_last_kept(store: Store) -> None:
    assert flight_named(store, BARE, None).hours == 2.0
    with pytest.raises(NoSuchFlightError, match="the nearest: none with a date"):
        flight_named(store, BARE, datetime(2026, 5, 9))
    with pytest.raises(NoSuchFlightError, match=r"no flight of N0004F is kept; did you mean N000\dF\?"):
        flight_named(store, "n0004f", None)


def test_a_flight_that_two_files_hold_is_found_by_its_minute(store: Store) -> None:
    assert flight_named(store, TWICE, datetime(2026, 5, 9, 10, 3), timed=True).hours == 1.0


def shown(lasts_s: float) -> Any:
    """A kept flight of which only its length is looked at."""
    return SimpleNamespace(review=SimpleNamespace(flight=SimpleNamespace(from_s=100.0, to_s=100.0 + lasts_s)))


def refusal(minute: float, lasts_s: float = 4737.6, master_off: float = 0.0) -> str:
    """Why a question is refused; where minute and master off will do it goes on to the loads, which then will not."""
    with pytest.raises(PlanError) as told:
        quit_alternator(None, shown(lasts_s), minute, datetime(2026, 5, 9), ["toaster"], (), master_off)  # type: ignore[arg-type]
    return str(told.value)


@pytest.mark.parametrize(
    ("minute", "told"),
    [
        # The recording lasts 78.96 min: named as 79.0 it would refuse the very minute that it names.
        (79.0, "the flight's recording lasts 78.9 min; minute 79 is not in it"),
        (78.97, "the flight's recording lasts 78.9 min; minute 78.97 is not in it"),
        (78.9, "'toaster' is no load"),
        (0.0, "'toaster' is no load"),
        (-0.1, "the flight's recording lasts 78.9 min; minute -0.1 is not in it"),
        (float("nan"), "the flight's recording lasts 78.9 min; minute nan is not in it"),
    ],
)
def test_the_minute_at_which_an_alternator_quits_lies_in_the_flight(minute: float, told: str) -> None:
    assert refusal(minute).startswith(told)


@pytest.mark.parametrize(("minutes", "will_do"), [(0.0, True), (600.0, True), (600.1, False), (-1.0, False)])
def test_how_long_the_master_may_be_off(minutes: float, will_do: bool) -> None:
    assert refusal(10.0, master_off=minutes).startswith(
        "'toaster'" if will_do else "the master is off for 0 to 600 min"
    )


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("none", []), (" None ", []), ("", [""]), ("landing_light", ["landing_light"]),
        ("landing_light, Pitot_Heat", ["landing_light", " Pitot_Heat"]),
    ],
)  # fmt: skip
def test_loads_as_a_person_writes_them(text: str, names: list[str]) -> None:
    assert named(text) == names
    assert loads_named(named(text)) == [name.strip().lower() for name in names if name.strip()]


@pytest.mark.parametrize(("name", "told"), [("landing_lite", "did you mean 'landing_light'?"), ("x", "loads: ")])
def test_a_load_that_is_none_is_answered_with_the_nearest(name: str, told: str) -> None:
    with pytest.raises(PlanError) as refused:
        loads_named([name])
    assert str(refused.value).startswith(f"'{name}' is no load of the list; {told}")
