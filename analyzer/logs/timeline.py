"""A clock's readings become a time axis that never stands still and never runs back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct, field

from analyzer.logs.clock import ClockReading, run_on
from analyzer.logs.continuity import Continuity
from analyzer.logs.log import BreakKind
from analyzer.logs.moments import DAY
from analyzer.series import finite_of, middle

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: A step back of more than this is a new recording, not a correction or rows out of order [s].
LITTLE_BACK_S = 60.0
#: A dated clock that moves by more than this in one row was set, for no flight pauses so long [s].
CLOCK_SET_S = 180 * DAY
#: A clock without date that counts from zero at power-up shows less than this until it is set [s].
POWER_UP_S = 600.0
#: Rows further apart than this, and than so many usual steps, have a break between them: a longer pause than
#: a recorder makes in a flight [s].
GAP_S, GAP_STEPS = 600.0, 10.0
#: No aircraft is under way for so long, so a clock that moves on by more while it is was set [s].
NO_FLIGHT_S = 0.75 * DAY
#: 1 January 2001, in seconds since 1970: a clock that shows an earlier date was never set.
NEVER_SET_S = 978307200.0
#: Steps back of rows out of order that may leave a stamp more often in a row, at most this share of them.
REPEATED_SHARE = 0.25
#: Rows out of order are moved by at most this many places.
MAX_PLACES = 30
#: A clock that goes back at more than this share of its steps belongs to rows that were never in order.
NEVER_IN_ORDER_SHARE = 0.2
#: Elapsed time rises in nearly every step; a column that falls in more than this share of them is another thing.
ELAPSED_FALLS_SHARE = 0.05
#: Rows that stand newest first fall in this share of their steps at least.
NEWEST_FIRST_SHARE = 0.95
#: Share of the gaps between the stamps of rows out of order that must be the usual one for them to be stamps.
EVEN_SHARE = 0.8


#: What a step of the clock that is no usual one can be: a new recording; a clock that was set, or was put back a
#: little, neither of which is time; time without rows.
BACK, SET, A_LITTLE, GAP = 1, 2, 3, 4


class Axis(Struct):
    """The time axis of a log.

    ``order`` is the order in which rows are to be taken; the other arrays are in that order.
    ``time_s`` is seconds from the first row, strictly increasing; ``wall`` is what the clock reads,
    corrected, in seconds since 1970 or of the day, NaN where nothing is known.
    """

    order: NDArray[np.int64] | None
    time_s: NDArray[np.float64]
    wall: NDArray[np.float64]
    step_s: float
    breaks: dict[int, BreakKind] = field(default_factory=dict)  # row before which recording began anew: why
    notes: list[tuple[int, str]] = field(default_factory=list)  # row in the given order, or -1; what happened


def counted(rows: int, step_s: float) -> Axis:
    """An axis for a log without a clock: rows a fixed step apart."""
    return Axis(None, np.arange(rows, dtype=np.float64) * step_s, np.full(rows, np.nan), step_s)


def distrusted(reading: ClockReading) -> str | None:
    """Why a column is no clock, or None: too many of its steps go back.

    Rows that stand newest first are in an order; rows that stand in none are only believed to be so when
    dated stamps make an even axis of them.
    """
    values = finite_of(reading.seconds)
    goes_back = values[1:] < values[:-1]
    moves, back = np.count_nonzero(values[1:] != values[:-1]), int(np.count_nonzero(goes_back))
    if not back or back >= NEWEST_FIRST_SHARE * moves:
        return None
    restarts = 0 if reading.dated or reading.period else int(np.count_nonzero(values[1:][goes_back] <= values[0]))
    share = NEVER_IN_ORDER_SHARE if reading.dated or reading.period else ELAPSED_FALLS_SHARE
    if back - restarts <= max(3, share * moves):
        return None
    if reading.dated and _even_when_sorted(values):
        return None
    return f"it goes back in {back} of {len(goes_back)} steps, as no clock does"


def _even_when_sorted(values: NDArray[np.float64]) -> bool:
    gaps = np.diff(np.unique(values))
    return bool(np.count_nonzero(np.abs(gaps - middle(gaps)) < 0.01 * middle(gaps)) > EVEN_SHARE * len(gaps))


def build(reading: ClockReading, restarts: Sequence[int], readings: Continuity) -> Axis | None:
    """The axis of a clock's readings; None when no row has a readable clock.

    Parameters
    ----------
    reading : what the clock reads, one value a row, NaN where unreadable
    restarts : rows before which recording is known to have begun anew
    readings : tells a clock that is set from a recording that begins anew
    """
    raw = reading.seconds
    known = np.flatnonzero(np.isfinite(raw))
    if not len(known):
        return None
    values = raw[known] - raw[known[0]]
    if len(known) == len(raw) > 1 and not restarts and (even := _even_step(values)):
        return Axis(None, values, raw, even)
    restart = np.zeros(len(raw), dtype=bool)
    restart[[r for r in restarts if r < len(raw)]] = True
    order, notes = _rows_never_in_order(values, known, len(raw))
    if order is not None:
        restart[:] = False  # where recording began anew cannot be told from neighbours by chance
    again = _restart_between(restart, known)
    if order is None:
        values = run_on(values, reading.period, again)
        order, notes = _sorted_rows(values, known, len(raw))
    if order is not None:
        place = np.empty(len(raw), dtype=np.int64)
        place[order] = np.arange(len(raw))
        values = values[np.argsort(values, kind="stable")]
        known = np.sort(place[known])
        again = np.zeros(len(known), dtype=bool)
        readings = Continuity()
    axis = _axis(values, known, again, reading, float(raw[np.isfinite(raw)][0]), len(raw), restart, readings)
    axis.order = order
    axis.notes = notes + axis.notes
    return axis


def _even_step(values: NDArray[np.float64]) -> float | None:
    """The step of a clock that always moves by the same, and is not suspected of anything."""
    steps = np.diff(values)
    step = float(steps[0])
    steps -= step
    return round(step, 6) if 0 < step < POWER_UP_S and (np.abs(steps, out=steps) < 1e-6).all() else None


def _restart_between(restart: NDArray[np.bool_], known: NDArray[np.int64]) -> NDArray[np.bool_]:
    """For each row with a clock, whether recording restarted since the one before it."""
    count = np.cumsum(restart)[known]
    return np.diff(count, prepend=count[0]) > 0


def _rows_never_in_order(
    values: NDArray[np.float64], known: NDArray[np.int64], rows: int
) -> tuple[NDArray[np.int64] | None, list[tuple[int, str]]]:
    """The order of rows that stand in no order of time, newest first or shuffled, and a note; None when they do.

    A row whose clock cannot be read stays behind the one that it followed.
    """
    back = int(np.count_nonzero(np.diff(values) < 0))
    if back <= max(3, NEVER_IN_ORDER_SHARE * (len(values) - 1)):
        return None, []
    followed = np.clip(np.searchsorted(known, np.arange(rows), side="right") - 1, 0, None)
    what = (
        f"clock: the rows are not in the order of time, {back} of {len(values) - 1} steps go back; they were put in "
        "order by their clock, so look at how the log was exported"
    )
    return np.argsort(values[followed], kind="stable"), [(-1, what)]


def _sorted_rows(
    values: NDArray[np.float64], known: NDArray[np.int64], rows: int
) -> tuple[NDArray[np.int64] | None, list[tuple[int, str]]]:
    """The order of rows when some were written out of it, and a note; None when none were.

    Rows count as out of order when moving a few of them by a few places leaves every stamp as often as
    it was in a row; a clock that was put back repeats stamps instead.
    """
    back = np.flatnonzero(np.diff(values) < 0)
    if not len(back) or len(known) != rows or len(back) > max(3, 0.05 * rows):
        return None, []
    if (values[back] - values[back + 1]).max() > LITTLE_BACK_S:
        return None, []
    order = np.argsort(values, kind="stable")
    if np.abs(order - np.arange(rows)).max() > MAX_PLACES:
        return None, []
    again = np.count_nonzero(np.diff(values[order]) == 0) - np.count_nonzero(np.diff(values) == 0)
    if again > REPEATED_SHARE * len(back):
        return None, []
    notes = [
        (int(row) + 1, "out of order, its time is earlier than that of the row before; put in its place")
        for row in back
    ]
    return order, notes


def _usual(values: NDArray[np.float64]) -> tuple[float, int, NDArray[np.int64], NDArray[np.int64]]:
    """Usual gap between different stamps, usual rows a stamp, first row and length of each run."""
    starts = np.flatnonzero(np.concatenate(([True], np.diff(values) != 0)))
    lengths = np.diff(np.append(starts, len(values)))
    gaps = np.diff(values[starts])
    forward = gaps[gaps > 0]
    gap = middle(forward) if len(forward) else 1.0
    inner = lengths[1:-1] if len(lengths) > 3 else lengths
    return gap, max(1, int(middle(inner))), starts, lengths


def _spread(
    values: NDArray[np.float64], notes: list[tuple[int, str]], known: NDArray[np.int64]
) -> tuple[NDArray[np.float64], float]:
    """Rows that share a stamp are spread over its time; the step between rows."""
    gap, usual, starts, lengths = _usual(values)
    step = gap / usual
    if lengths.max() == 1:
        return values, step
    frozen = lengths > max(3 * usual, usual + 10)
    place = np.arange(len(values)) - np.repeat(starts, lengths)
    spacing = np.where(frozen, step, gap / np.maximum(lengths, 1))
    ends = np.zeros(len(lengths), dtype=bool)
    ends[[0, -1]] = True
    partial = ends & (lengths < usual)
    spacing = np.where(partial, step, spacing)
    late = np.where(partial & (np.arange(len(lengths)) == 0) & (len(lengths) > 1), gap - lengths * step, 0.0)
    if len(lengths) == 1:
        spacing[:] = 1.0
        notes.append((-1, "clock: it shows one and the same time in every row; 1 s from row to row was assumed"))
    spread = values + np.repeat(late, lengths) + place * np.repeat(spacing, lengths)
    for run in np.flatnonzero(frozen):
        row = int(known[starts[run]])
        notes.append(
            (
                row,
                f"the clock stands still for {lengths[run]} rows; time was counted on at the log's own step",
            )
        )
    return spread, step


def _axis(
    values: NDArray[np.float64],
    known: NDArray[np.int64],
    again: NDArray[np.bool_],
    reading: ClockReading,
    first: float,
    rows: int,
    restart: NDArray[np.bool_],
    readings: Continuity,
) -> Axis:
    notes: list[tuple[int, str]] = []
    spread, step = _spread(values, notes, known)
    steps = np.diff(spread)
    between = np.diff(known)
    jumps = _jumps(values, steps, again, reading, first, step, notes, known, readings)
    no_time = (jumps != 0) & (jumps != GAP)
    corrected = np.where(no_time, step * between, steps)
    corrected = np.maximum(corrected, step * 1e-3)
    known_time = (
        np.concatenate(([0.0], np.cumsum(corrected))) if no_time.any() or (steps <= 0).any() else spread - spread[0]
    )
    time_s = _every_row(known_time, known, rows, step)
    wall = _wall(time_s, known_time, spread, known, np.where(no_time, jumps, 0), rows) + first
    breaks: dict[int, BreakKind] = {int(known[i + 1]): "gap" for i in np.flatnonzero(jumps == GAP)}
    breaks |= {int(known[i + 1]): "clock back" for i in np.flatnonzero(jumps == BACK)}
    breaks |= {int(row): "boot" for row in np.flatnonzero(restart) if row > 0}
    if len(known) < rows:
        notes += _unread_notes(known, rows, reading)
    return Axis(None, time_s - time_s[0], wall, _typical_step(time_s, step), dict(sorted(breaks.items())), notes)


def _typical_step(time_s: NDArray[np.float64], step: float) -> float:
    return round(middle(np.diff(time_s)), 6) if len(time_s) > 1 else step


def _jumps(
    values: NDArray[np.float64],
    steps: NDArray[np.float64],
    again: NDArray[np.bool_],
    reading: ClockReading,
    first: float,
    step: float,
    notes: list[tuple[int, str]],
    known: NDArray[np.int64],
    readings: Continuity,
) -> NDArray[np.int64]:
    """What each step of the clock is that is no usual one: ``BACK``, ``SET``, ``A_LITTLE`` or ``GAP``; else 0."""
    jumps = np.zeros(len(steps), dtype=np.int64)
    start = 0  # of the stretch since the last jump
    for i in np.flatnonzero((steps <= -1e-9) | (steps > POWER_UP_S)).tolist():
        began, before, after = (first + float(values[at]) for at in (start, i, i + 1))
        size, row = float(steps[i]), int(known[i + 1])
        one = _Step(size, step, began, before, after, bool(again[i + 1]), row, reading, readings)
        jumps[i], note = _set_true(one) or _put_forward(one) or _pause(one) or _back(one) or (0, "")
        if note:
            notes.append((one.row, note))
        if jumps[i]:
            start = i + 1  # of a stretch that may count from power-up
    return jumps


class _Step(Struct, frozen=True):
    """One step of the clock that is no usual one."""

    size: float  # [s]
    usual: float  # the log's own step [s]
    began: float  # what the clock showed as its stretch began, before this step and after it [s]
    before: float
    after: float
    again: bool  # whether recording began anew here by another sign
    row: int
    reading: ClockReading
    readings: Continuity

    @property
    def may_be_set(self) -> bool:
        """Whether the clock is of a kind that is ever set; what counts from the start is not."""
        return self.reading.dated or self.reading.period is not None


def _set_true(one: _Step) -> tuple[int, str] | None:
    """A clock that is set to the true date or time of day, if this step is that."""
    unset = one.size > 0 and one.before < NEVER_SET_S
    if one.reading.dated and abs(one.size) > CLOCK_SET_S and (unset or one.readings.runs_on(one.row)):
        return SET, "the clock jumps as it is set to the true date; earlier rows are counted back from there"
    if one.reading.period and one.size > POWER_UP_S and _since_power_up(one.began, one.before):
        return SET, "the clock jumps as it is set to the time of day; earlier rows are counted back from there"
    return None


def _put_forward(one: _Step) -> tuple[int, str] | None:
    """A clock that is put forward although the flight goes on, if this step is that."""
    if one.size <= 0 or not one.may_be_set or one.again:
        return None
    if one.readings.tells_no_pause(one.row, one.size / one.usual):
        return SET, "the clock is put forward while the readings run on; time runs on at the log's own step"
    if one.size > NO_FLIGHT_S and one.readings.under_way(one.row):
        return SET, "the clock is put forward in flight; time runs on at the log's own step"
    return None


def _pause(one: _Step) -> tuple[int, str] | None:
    """Time without rows, if this step is that."""
    return (GAP, "") if one.size > max(GAP_S, GAP_STEPS * one.usual) else None


def _back(one: _Step) -> tuple[int, str] | None:
    """What a step back is."""
    if one.size >= 0:
        return None
    anew = one.again or _from_zero(one.reading, one.after, one.usual)
    far = one.size < -LITTLE_BACK_S
    if far and one.size > -CLOCK_SET_S and not anew and one.readings.runs_on(one.row):
        return SET, "the clock is put back while the readings run on; time runs on at the log's own step"
    if far or anew:
        return BACK, "the clock jumps back, recording began anew; time runs on at the log's own step"
    return A_LITTLE, "the clock goes back a little; time runs on at the log's own step"


def _from_zero(reading: ClockReading, value: float, step: float) -> bool:
    """Whether elapsed time or a counter begins anew."""
    return not reading.dated and not reading.period and 0 <= value <= 2 * step


def _since_power_up(begin: float, end: float) -> bool:
    """Whether a stretch of a clock without date counts from zero, as one does that was never set."""
    return begin % DAY <= end % DAY < POWER_UP_S


def _every_row(
    known_time: NDArray[np.float64], known: NDArray[np.int64], rows: int, step: float
) -> NDArray[np.float64]:
    """Times for rows whose clock cannot be read too: between neighbours, or at the log's own step."""
    if len(known) == rows:
        return known_time
    time_s = np.interp(np.arange(rows), known, known_time)
    lead, trail = known[0], known[-1]
    time_s[:lead] = known_time[0] - step * np.arange(lead, 0, -1)
    time_s[trail + 1 :] = known_time[-1] + step * np.arange(1, rows - trail)
    return time_s


def _wall(
    time_s: NDArray[np.float64],
    known_time: NDArray[np.float64],
    spread: NDArray[np.float64],
    known: NDArray[np.int64],
    jumps: NDArray[np.int64],
    rows: int,
) -> NDArray[np.float64]:
    """What the clock would have read in each row, stretch by stretch, with the set clock carried back."""
    offset = spread - known_time
    bounds = np.flatnonzero(jumps != 0)
    for i in bounds[::-1]:
        if jumps[i] == SET:
            earlier = bounds[bounds < i]
            begin = int(earlier[-1]) + 1 if len(earlier) else 0
            offset[begin : i + 1] = offset[i + 1]
    which = np.clip(np.searchsorted(known, np.arange(rows), side="right") - 1, 0, len(known) - 1)
    return np.asarray(time_s + offset[which], dtype=np.float64)


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _unread_notes(known: NDArray[np.int64], rows: int, reading: ClockReading) -> list[tuple[int, str]]:
    lead = int(known[0])
    notes = []
    if lead:
        notes.append(
            (
                0,
                f"the clock is blank for the first {_rows(lead)}; time there is counted back from the first set",
            )
        )
    missing = np.setdiff1d(np.arange(lead, rows), known)
    if len(missing):
        notes.append(
            (
                int(missing[0]),
                f"the clock cannot be read in {_rows(len(missing))}; time there lies between the neighbours'",
            )
        )
    return notes
