"""The time axis of a clock's readings at its limits: gaps, steps back, clocks that stand still, rows out of order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.logs.clock import ClockReading
from analyzer.logs.continuity import Continuity
from analyzer.logs.timeline import Axis, build, counted, distrusted

NAN = float("nan")
#: 9 May 2026, 10:15:30 UTC in seconds since 1970: 20582 days and 36930 s.
MORNING = 20582 * 86400.0 + 36930.0


def axis(shown: list[float] | np.ndarray, *, dated: bool = True, restarts: tuple[int, ...] = ()) -> Axis:
    """The axis of what a clock shows; readings that would tell whether it was set are not there."""
    period = None if dated else 86400.0
    built = build(ClockReading(np.asarray(shown, dtype=float), "made", dated, period), restarts, Continuity())
    assert built is not None
    return built


def seconds(*spans: tuple[float, int]) -> np.ndarray:
    """Stretches of a row a second, each from its first second on."""
    return np.concatenate([MORNING + first + np.arange(rows) for first, rows in spans])


@pytest.mark.parametrize(
    ("gap", "breaks"),
    [(600.0, {}), (601.0, {50: "gap"})],
    ids=["ten minutes", "a second more"],
)
def test_time_without_rows_is_time_and_a_break_only_from_ten_minutes_on(gap: float, breaks: dict) -> None:
    built = axis(seconds((0.0, 50), (49.0 + gap, 50)))
    assert built.breaks == breaks
    assert (built.time_s[49], built.time_s[50], built.time_s[-1]) == (49.0, 49.0 + gap, 98.0 + gap)


def test_rows_minutes_apart_have_a_break_from_ten_of_their_steps_on() -> None:
    """A row every two minutes: ten steps are 1200 s. Two rows' steps differ, so that no step is quite even."""
    every = MORNING + 120.0 * np.arange(30) + np.arange(30) % 2
    for gap, breaks in ((1080.0, {}), (1200.0, {15: "gap"})):  # beside the usual 119 to 121 s
        later = every.copy()
        later[15:] += gap
        assert axis(later).breaks == breaks


@pytest.mark.parametrize(
    ("back", "breaks"),
    [(60.0, {}), (61.0, {50: "clock back"})],
    ids=["a minute", "a second more"],
)
def test_a_clock_that_goes_back_by_up_to_a_minute_is_put_back_and_by_more_begins_anew(back: float, breaks) -> None:
    """Either way time runs on by the log's own step, and the rows that follow show what their clock reads."""
    shown = seconds((0.0, 50), (50.0 - back - 1.0, 200))
    built = axis(shown)
    assert built.breaks == breaks
    assert built.time_s.tolist() == [float(row) for row in range(250)]
    assert built.wall[-1] == shown[-1]


@pytest.mark.parametrize(("rows", "spread"), [(4, True), (14, True), (15, False)])
def test_rows_under_one_stamp_are_spread_within_its_time_unless_it_stands_still(rows: int, spread: bool) -> None:
    """Four rows a second; once a stamp holds more. Up to ten more than usual they share its second, then it stood."""
    shown = np.repeat(MORNING + np.arange(20.0), [4] * 10 + [rows] + [4] * 9)
    built = axis(shown)
    step = np.diff(built.time_s)[40 : 40 + rows - 1]
    assert step == pytest.approx(1.0 / rows if spread else 0.25)
    assert any("stands still" in words for _, words in built.notes) is not spread


def test_a_clock_that_never_moves_counts_a_second_a_row() -> None:
    built = axis([MORNING] * 30)
    assert built.time_s.tolist() == [float(row) for row in range(30)]
    assert built.notes[0][1].endswith("1 s from row to row was assumed")


@pytest.mark.parametrize(
    ("blank", "said"),
    [
        ([0], "the clock is blank for the first 1 row;"),
        ([0, 1], "the clock is blank for the first 2 rows;"),
        ([10], "the clock cannot be read in 1 row;"),
        ([10, 20], "the clock cannot be read in 2 rows;"),
    ],
)
def test_rows_whose_clock_cannot_be_read_lie_between_their_neighbours(blank: list[int], said: str) -> None:
    shown = MORNING + np.arange(40.0)
    shown[blank] = NAN
    built = axis(shown)
    assert built.time_s.tolist() == [float(row) for row in range(40)]
    assert built.wall.tolist() == [MORNING + row for row in range(40)]
    ((row, words),) = built.notes
    assert (row, words.startswith(said)) == (blank[0], True)


def test_a_clock_set_to_the_true_date_carries_the_rows_before_it_back() -> None:
    """Ten rows of 1 January 2000, then the true time: the first row was ten seconds before it."""
    unset = 946684800.0
    built = axis(np.concatenate((unset + np.arange(10.0), MORNING + np.arange(30.0))))
    assert built.time_s.tolist() == [float(row) for row in range(40)]
    assert built.wall.tolist() == [MORNING - 10.0 + row for row in range(40)]
    assert built.breaks == {}


@pytest.mark.parametrize(("rows", "order"), [(30, True), (31, False)])
def test_a_row_that_was_written_late_is_put_in_its_place_within_thirty_places(rows: int, order: bool) -> None:
    """One row stands so many places behind where its stamp belongs; its step back is less than a minute."""
    given_rows = np.arange(400)
    late = np.concatenate((given_rows[:100], given_rows[101 : 101 + rows], [100], given_rows[101 + rows :]))
    built = axis(MORNING + late)
    assert (built.order is not None) is order
    if order:
        assert late[built.order].tolist() == given_rows.tolist()
        assert built.time_s.tolist() == given_rows.tolist()
        assert [row for row, _ in built.notes] == [100 + rows]


def test_rows_newest_first_are_turned_round_with_one_note() -> None:
    shown = MORNING + np.arange(100.0)[::-1]
    built = axis(shown)
    assert built.order.tolist() == list(range(100))[::-1]
    assert built.time_s.tolist() == [float(row) for row in range(100)]
    ((row, words),) = built.notes
    assert (row, "99 of 99 steps go back" in words) == (-1, True)


@pytest.mark.parametrize(
    ("falls", "dated", "trusted"),
    [(3, False, True), (10, False, True), (11, False, False), (40, True, True), (41, True, False)],
)
def test_a_column_that_falls_too_often_is_no_clock(falls: int, dated: bool, trusted: bool) -> None:
    """Of 200 steps a dated clock may fall in a fifth, elapsed time in a twentieth, each by 3 s to no even stamps.

    Elapsed time begins at 100 s and never falls to it again, which would be a restart.
    """
    steps = np.full(200, 5.0)
    steps[2 : 2 + 4 * falls : 4] = -3.37
    shown = 100.0 + np.concatenate(([0.0], np.cumsum(steps)))
    reading = ClockReading(MORNING + shown if dated else shown, "made", dated)
    said = distrusted(reading)
    assert (said is None) is trusted
    assert said is None or said == f"it goes back in {falls} of 200 steps, as no clock does"


@given(
    st.lists(st.integers(1, 5), min_size=2, max_size=60),
    st.integers(-(10**8), 10**8),
    st.lists(st.integers(0, 59), max_size=4, unique=True),
)
def test_an_axis_does_not_depend_on_when_the_flight_was(steps: list[int], moved: int, blank: list[int]) -> None:
    """Shifted by any whole seconds, the same rows stand at the same seconds from the first, and the clock shifts."""
    shown = MORNING + np.concatenate(([0.0], np.cumsum(steps)))
    shown[[row for row in blank if 0 < row < len(shown)]] = NAN
    here, there = axis(shown), axis(shown + moved)
    assert there.time_s.tolist() == here.time_s.tolist()
    assert (there.wall - here.wall).tolist() == [float(moved)] * len(shown)
    assert (there.step_s, there.breaks) == (here.step_s, here.breaks)
    assert (np.diff(here.time_s) > 0.0).all()
    known = np.isfinite(shown)
    assert here.wall[known].tolist() == shown[known].tolist(), "a clock that only runs on is read as it stands"


def test_rows_without_a_clock_are_counted() -> None:
    built = counted(4, 0.5)
    assert built.time_s.tolist() == [0.0, 0.5, 1.0, 1.5]
    assert np.isnan(built.wall).all()
