"""Did it help: each maintenance entry's flights before and after, by the measures that it can change.

One robust model spans both sides: the level at which the aircraft was brought in (carried on along a drift that had
been seen by then), the change at the entry, and the weather and load as far as the tail's earlier flights have taught
them. A change counts when it is sure and larger than innocent causes may leave, as everywhere in the trends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.quantity import Quantity
from analyzer.series import Floats, middle, middle_of_rows
from analyzer.trends.detection import Alarm, Stretch
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.followed_tail import FollowedTail, covariate_adjusted, student_95
from analyzer.trends.found_around import FoundAround, found_around
from analyzer.trends.history import FlightSpan, span_of
from analyzer.trends.regression import design_of, robust_fit
from analyzer.trends.tracked_series import BY_MEASURE, Matrix, Series

#: After work on the meter the same aircraft reads differently: that is neither better nor worse.
OF_THE_METER = "instrument_replaced"


class MeasureVerdict(StrEnum):
    """What came of one measure."""

    HELPED = "helped"
    WORSE = "worse"
    CHANGED = "changed"
    NO_CHANGE = "no change"
    TOO_FEW = "too few flights yet"

    @property
    def moved(self) -> bool:
        """Whether the measure surely moved."""
        return self in (MeasureVerdict.HELPED, MeasureVerdict.WORSE, MeasureVerdict.CHANGED)


class WorkVerdict(StrEnum):
    """What came of the work, by all that it can change."""

    HELPED = "helped"
    CHANGED = "changed"
    DID_NOT_HELP = "did not help"
    CAME_BACK = "helped, then came back"
    NEW = "new after the work"
    NOT_FOUND_AGAIN = "not found again"
    NO_CHANGE = "no change"
    TOO_FEW = "too few flights yet"
    NOTHING_TO_COMPARE = "nothing to compare"


@dataclass(frozen=True, slots=True)
class Difference:
    """The value just before work and after it, with the change and its 95 % interval."""

    before: Quantity
    after: Quantity
    change: Quantity  # a factor where the measure is worked in logarithms


@dataclass(frozen=True, slots=True)
class Compared:
    """One measure before and after an entry, weather and load taken out."""

    measure: str
    verdict: MeasureVerdict
    before: FlightSpan | None = None  # the flights that were compared
    after: FlightSpan | None = None
    difference: Difference | None = None  # None with too few flights
    amiss: bool = False  # it had been seen to move, or lay past its limit, when the work was done
    past_limit: bool = False  # it lies past its limit since the work
    came_back: bool = False  # its latest values are again nearer to what it was before the work

    @property
    def unit(self) -> str:
        """Unit of the measure."""
        return MEASURES[self.measure]

    @property
    def flights_before(self) -> int:
        """Flights before the work that were compared."""
        return 0 if self.before is None else self.before.count

    @property
    def flights_after(self) -> int:
        """Flights after it."""
        return 0 if self.after is None else self.after.count

    @property
    def by_ratio(self) -> bool:
        """Whether the change is a factor."""
        return BY_MEASURE[self.measure].logarithmic


@dataclass(frozen=True, slots=True)
class Comparison:
    """One entry and what came of it."""

    entry: Entry
    verdict: WorkVerdict
    measures: tuple[Compared, ...]
    findings: tuple[FoundAround, ...]


def compare_entries(tail: FollowedTail) -> tuple[Comparison, ...]:
    """Compare the flights before and after each entry, up to the entries next to it of the same measure.

    Flights without a clock cannot be set against a date and are on neither side.
    """
    return tuple(_compare(tail, entry) for entry in tail.history.entries)


def _compare(tail: FollowedTail, entry: Entry) -> Comparison:
    measures = [name for name in BY_MEASURE if name in kinds()[entry.kind].resets]
    dated = len(tail.history.begun)
    compared = tuple(_measure(tail, entry, name) for name in measures if (tail.series[name].flight < dated).any())
    found = found_around(tail.history, entry)
    return Comparison(entry, verdict_of(compared, found), compared, found)


def verdict_of(compared: tuple[Compared, ...], found: tuple[FoundAround, ...]) -> WorkVerdict:
    """One verdict by measures and findings together.

    What is new or back forbids "helped". The finding that ended most surely speaks before the measures, since these
    are told less well while the fault lasts, unless a measure lies past its limit or another finding goes on.
    """
    by_measures = taken_together(compared)
    if any(one.new for one in found):
        return WorkVerdict.NEW
    if any(one.lately and one.clean is not None for one in found) or any(one.came_back for one in compared):
        return WorkVerdict.CAME_BACK
    goes_on = any(one.goes_on for one in found)
    if any(one.ended for one in found):
        worse = any(one.past_limit and one.verdict is MeasureVerdict.WORSE for one in compared)
        return WorkVerdict.CHANGED if goes_on or worse else WorkVerdict.HELPED
    if goes_on:
        return WorkVerdict.DID_NOT_HELP
    lately = [one for one in found if one.lately and (one.before > limit_value("trend_stray_flights") or not one.after)]
    if by_measures not in (WorkVerdict.NO_CHANGE, WorkVerdict.NOTHING_TO_COMPARE) or not lately:
        return by_measures
    if min(one.flights_after for one in lately) < limit_value("trend_fewest_step"):
        return WorkVerdict.TOO_FEW
    return WorkVerdict.DID_NOT_HELP if any(one.after for one in lately) else WorkVerdict.NOT_FOUND_AGAIN


def taken_together(compared: tuple[Compared, ...]) -> WorkVerdict:
    """One verdict by the measures; "did not help" where something was amiss and is still, or something grew worse."""
    verdicts = {one.verdict for one in compared}
    if not compared:
        return WorkVerdict.NOTHING_TO_COMPARE
    if verdicts == {MeasureVerdict.TOO_FEW}:
        return WorkVerdict.TOO_FEW
    if MeasureVerdict.HELPED in verdicts:
        return WorkVerdict.CHANGED if MeasureVerdict.WORSE in verdicts else WorkVerdict.HELPED
    amiss = {one.verdict for one in compared if one.amiss}
    if MeasureVerdict.WORSE in verdicts or MeasureVerdict.NO_CHANGE in amiss:
        return WorkVerdict.DID_NOT_HELP
    if MeasureVerdict.TOO_FEW in amiss:
        return WorkVerdict.TOO_FEW
    return WorkVerdict.CHANGED if MeasureVerdict.CHANGED in verdicts else WorkVerdict.NO_CHANGE


def _measure(tail: FollowedTail, entry: Entry, measure: str) -> Compared:
    """Compare the latest flights before an entry, and since the measure last stepped, with the first ones after it."""
    series, stretches = tail.series[measure], tail.followed[measure].stretches
    at = int(np.searchsorted(series.flight, tail.history.first_from(entry.when)))
    dated = int(np.searchsorted(series.flight, len(tail.history.begun)))
    before = next((one for one in stretches if one.end == at), None)
    after = next((one for one in stretches if one.first == at), None)
    flights = (
        0 if before is None else max(0, min(at, dated) - before.first),
        0 if after is None else min(after.end, dated) - at,
    )
    if before is None or after is None or min(flights) < limit_value("trend_fewest_step"):
        amiss = before is not None and _was_amiss(tail, series, before, at)
        last = min(at, dated)
        earlier, later = _span(tail, series, last - flights[0], last), _span(tail, series, at, at + flights[1])
        return Compared(measure, MeasureVerdict.TOO_FEW, earlier, later, amiss=amiss)
    return _judged(tail, entry, series, before, replace(after, end=min(after.end, dated)))


def _judged(tail: FollowedTail, entry: Entry, series: Series, before: Stretch, after: Stretch) -> Compared:
    """Fit both sides at once; of a tail's own weather what ``after`` begins with is known."""
    at, recent = after.first, int(limit_value("trend_recent"))
    first = max(before.first, at - (recent if before.drift is None else 2 * recent))
    end = min(after.end, at + 2 * recent)
    part = replace(series.part(first, end), prior_mean=after.series.prior_mean, prior_sd=after.series.prior_sd)
    drifts = (
        None if before.drift is None else float(series.hours[before.drift.began]),
        # along a drift that goes on through the work the two sides are told apart by their levels alone
        None if after.drift is None or before.drift is not None else float(series.hours[after.drift.began]),
    )
    design, mean, sd = _both_sides(part, at - first, drifts)
    coefficients, covariance = robust_fit(part, design, mean, sd)
    usual = np.where(part.of_the_air, 0.0, middle_of_rows(part.covariates.T))
    effects = coefficients[design.shape[1] - usual.size :]
    level, change = float(coefficients[0] + usual @ effects), float(coefficients[1])
    half = student_95(part.n - design.shape[1]) * float(np.sqrt(covariance[1, 1]))
    moved = _seen_to_move(tail, series, before)
    ends = (level, level + change)
    shown = np.array([*ends, change, change - half, change + half])
    shown = np.exp(shown) if series.kind.logarithmic else shown
    verdict = MeasureVerdict.NO_CHANGE
    if abs(change) > max(half, float(series.innocent_move[at - 1])):
        verdict = MeasureVerdict.CHANGED if entry.kind == OF_THE_METER else _verdict(tail, series, ends, moved)
    if verdict is MeasureVerdict.HELPED and drifts[0] is not None and _not_beside_it(part, at - first, change):
        verdict = MeasureVerdict.NO_CHANGE
    amiss = moved is not None or _past_limit(tail, series, float(shown[0]))
    unit = MEASURES[series.kind.measure]
    came_back = amiss and verdict is MeasureVerdict.HELPED and _came_back(tail, entry, series, end, ends)
    then, now, value, low, high = shown.tolist()
    by = Quantity(value, "1" if series.kind.logarithmic else unit, low, high)
    return Compared(
        series.kind.measure,
        verdict,
        _span(tail, series, first, at),
        _span(tail, series, at, end),
        Difference(Quantity(then, unit), Quantity(now, unit), by),
        amiss,
        _past_limit(tail, series, now),
        came_back,
    )


def _not_beside_it(part: Series, count: int, change: float) -> bool:
    """Whether less than half of a change shows in the flights next to an entry: then a drift carried on made it.

    Their medians as they were read: what a season does is alike on both sides, and in a fit could stand for either.
    ``part`` holds both sides, ``count`` points before the entry.
    """
    few = int(limit_value("trend_fewest_shown"))
    before, after = part.value[max(0, count - few) : count], part.value[count : count + few]
    return (middle(after) - middle(before)) / change < 0.5


def _came_back(tail: FollowedTail, entry: Entry, series: Series, compared: int, ends: tuple[float, float]) -> bool:
    """Whether what was amiss is back: values nearer to the level before the work than to that after, weather taken out.

    Flights after those that were compared count, up to the next work on it and no longer than twice the latest ones:
    what wears again later is wear.
    """
    name = series.kind.measure
    works = [one.when for one in tail.history.entries if one.when > entry.when and name in kinds()[one.kind].resets]
    last = len(tail.history.begun) if not works else tail.history.first_from(works[0])
    until = int(np.searchsorted(series.flight, last))
    recent = int(limit_value("trend_recent"))
    until = min(until, compared + 2 * recent)
    first = max(compared, until - recent)
    if until - first < limit_value("trend_fewest_step"):
        return False
    latest = middle(covariate_adjusted(series.part(first, until)))
    return abs(latest - ends[0]) < abs(latest - ends[1])


def _span(tail: FollowedTail, series: Series, first: int, end: int) -> FlightSpan | None:
    """The flights of some points of a series, all with a clock."""
    starts = (tail.history.flights[int(place)].start for place in series.flight[first:end])
    return span_of([start for start in starts if start is not None])


def _both_sides(
    part: Series, count: int, drifts_from_h: tuple[float | None, float | None]
) -> tuple[Matrix, Floats, Floats]:
    """Give the design of a stretch with an entry after its first ``count`` points, and what is known beforehand.

    Columns: level just before the entry, change at it, the drift up to it if there was one, that after it if there
    is one, covariates.
    """
    design, mean, sd = design_of(part, with_slope=False)
    since = (np.arange(part.n) >= count).astype(np.float64)
    columns, spreads = [since], [sd[0]]
    slope = limit_value("trend_slope_spread") * float(part.innocent_move[0]) / 100.0
    earlier, later = drifts_from_h
    if earlier is not None:
        last = part.hours[count - 1]
        columns.append(np.minimum(np.maximum(part.hours, earlier) - last, 0.0))
        spreads.append(slope)
    if later is not None:
        columns.append(np.maximum(part.hours - later, 0.0))
        spreads.append(slope)
    return (
        np.column_stack([design[:, :1], *columns, design[:, 1:]]),
        np.insert(mean, 1, np.zeros(len(columns))),
        np.insert(sd, 1, spreads),
    )


def _seen_to_move(tail: FollowedTail, series: Series, before: Stretch) -> float | None:
    """How far the measure had been seen to move for the worse, by drift or step, when the work was done."""
    steps = [one for one in tail.followed[series.kind.measure].steps if one.began == before.first]
    alarms: list[Alarm] = [*steps, *([] if before.drift is None else [before.drift])]
    moved = sum(one.moved for one in alarms)
    for_the_worse = bool(alarms) and (series.kind.worse == 0 or moved * series.kind.worse > 0.0)
    return moved if for_the_worse else None


def _was_amiss(tail: FollowedTail, series: Series, before: Stretch, at: int) -> bool:
    """Whether a measure had been seen to move for the worse, or its latest values lay past their limit."""
    latest = middle(series.value[max(before.first, at - int(limit_value("trend_recent"))) : at])
    shown = float(np.exp(latest)) if series.kind.logarithmic else latest
    return _seen_to_move(tail, series, before) is not None or _past_limit(tail, series, shown)


def _past_limit(tail: FollowedTail, series: Series, level: float) -> bool:
    up, down = series.kind.limit_up, series.kind.limit_down
    return (up is not None and level > tail.limits[up]) or (down is not None and level < tail.limits[down])


def _verdict(tail: FollowedTail, series: Series, ends: tuple[float, float], moved: float | None) -> MeasureVerdict:
    """Whether a sure change was for the better.

    A voltage that may be neither high nor low is better when it comes into its band or most of the way to it, or
    inside the band undoes most of what it had been seen to move; otherwise one setting there is as good as another.
    """
    change = ends[1] - ends[0]
    if series.kind.worse:
        return MeasureVerdict.HELPED if change * series.kind.worse < 0.0 else MeasureVerdict.WORSE
    low, high = tail.limits["regulated_low"], tail.limits["regulated_high"]
    outside = [max(low - end, end - high, 0.0) for end in ends]
    if outside[1] > outside[0]:
        return MeasureVerdict.WORSE
    if outside[0] > 0.0:
        return MeasureVerdict.HELPED if outside[1] <= 0.5 * outside[0] else MeasureVerdict.CHANGED
    if moved is None:
        return MeasureVerdict.CHANGED
    if change * moved > 0.0:
        return MeasureVerdict.WORSE
    return MeasureVerdict.HELPED if abs(change) >= 0.5 * abs(moved) else MeasureVerdict.CHANGED
