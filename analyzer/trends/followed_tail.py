"""Everything the trends say of one tail: its series followed, its findings, its condition."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from math import exp, hypot

import numpy as np

from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import MEASURES
from analyzer.phrases import counted
from analyzer.series import Z95, Floats, middle, middle_of_rows, running_upper_median
from analyzer.trends.detection import Alarm, Followed, Stretch, follow
from analyzer.trends.foretold import ForecastRecord
from analyzer.trends.history import History
from analyzer.trends.regression import Line, robust_line
from analyzer.trends.shapes import best_bend, onset_average
from analyzer.trends.statistics import mann_kendall, pettitt, theil_sen
from analyzer.trends.tracked_series import TRACKED, Series, TrackedMeasure, reset_points, series_of
from analyzer.trends.wear import Reach, Unsure, reach_of

#: Two-sided 95 % points of Student's t for 1 to 10 degrees of freedom.
T95 = (12.71, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23)


@dataclass(frozen=True, slots=True)
class LevelStep:
    """A step of a measure."""

    start: datetime | None  # None without a clock
    flight: int  # place in the tail's history, from 0
    before: float
    after: float
    pettitt_p: float  # chance of so clear a change point in a series without one


@dataclass(frozen=True, slots=True)
class Projection:
    """When a limit is reached, engine hours from the tail's last flight [h], whether that measured it or not.

    ``likely`` is rather early than late, for a limit that comes sooner than said strands somebody; None where what is
    known is too unsure for one number. By ``earliest`` and ``latest`` it is reached with the chances
    ``projection_earliest`` and ``projection_latest``.
    """

    likely: float | None
    earliest: float
    latest: float
    one_in_ten: float
    one_in_two: float
    nine_in_ten: float

    def at_pace(self, hours_a_week: float) -> Projection:
        """Give the same in weeks [weeks]."""
        return self._each(lambda hours: hours / hours_a_week)

    def after(self, flown: float) -> Projection:
        """Give the same once so many hours were flown without a sight of it [h]."""
        return self._each(lambda hours: max(hours - flown, LEAST_LEFT))

    def _each(self, changed: Callable[[float], float]) -> Projection:
        told = {one.name: getattr(self, one.name) for one in fields(self)}
        return replace(self, **{name: changed(hours) for name, hours in told.items() if hours is not None})

    @property
    def past(self) -> bool:
        """Whether the limit is passed already."""
        return self.latest <= 0.0


#: What is left at least where nobody measured it for longer than was foretold [h]: what results are rounded to, since 0
#: is said of a limit that is seen to be passed.
LEAST_LEFT = 0.1
#: Of a limit that is passed already.
PASSED = Projection(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """What rank statistics, which assume less, say of the same flights."""

    mann_kendall_p: float  # chance of so much order in a series without trend
    theil_sen_slope: float  # per 100 engine hours


@dataclass(frozen=True, slots=True)
class Slope:
    """How fast a measure changes, per 100 engine hours, with its 95 % interval."""

    per_100_h: float
    low: float
    high: float

    @property
    def sure(self) -> bool:
        """Whether it is surely not zero."""
        return not self.low <= 0.0 <= self.high


@dataclass(frozen=True, slots=True)
class Present:
    """Where a measure stands and where it goes, in its unit."""

    level: float  # at the reference temperature
    slope: Slope | None  # None over too few flights or hours
    limit: float | None
    projection: Projection | None
    second_opinion: SecondOpinion | None  # None where there is no slope
    past: bool = False  # the level lies past the limit, on whichever side that is
    far: bool = False  # it goes towards the limit, and hardly comes to it within ``trend_horizon``
    flown_since: float = 0.0  # from the last flight that measured it to the tail's last flight [h]

    @property
    def moves(self) -> bool:
        """Whether it surely changes."""
        return self.slope is not None and self.slope.sure

    @property
    def heads_untold(self) -> bool:
        """Whether it surely goes towards its limit, and nothing tells when it is reached."""
        if self.slope is None or not self.slope.sure or self.limit is None or self.ahead is not None or self.far:
            return False
        return (self.limit - self.level) * self.slope.per_100_h > 0.0

    @property
    def ahead(self) -> Projection | None:
        """When its limit is reached, passed already included, wherever it goes from there; None where nothing tells."""
        return PASSED if self.past and self.limit is not None else self.projection

    @property
    def moves_back(self) -> bool:
        """Whether it lies past its limit and surely comes back to it."""
        return self.past and self.moves and self.projection is None


@dataclass(frozen=True, slots=True)
class Began:
    """Where a measure stood before it moved, else over the first flights of its last stretch, in its unit."""

    level: float  # brought to the reference temperature and the usual load
    start: datetime


@dataclass(frozen=True, slots=True)
class Trend:
    """One measure over a tail's flights, or the reason why nothing can be said."""

    measure: str
    points: int  # flights that carry the measure
    because: str | None = None  # why nothing, or no slope, can be told at present
    now: Present | None = None  # None where nothing can be said
    changes: tuple[LevelStep, ...] = ()
    points_since: int = 0  # flights since the series last started anew
    began: Began | None = None  # None without a clock, without a slope, or over flights of a single month
    #: Of earlier forecasts; None where there were none, or none were made anew.
    record: ForecastRecord | None = field(default=None, compare=False)

    @property
    def unit(self) -> str:
        """Unit of the measure."""
        return MEASURES[self.measure]

    @property
    def projection(self) -> Projection | None:
        """When its limit is reached, None where it surely goes to none."""
        return None if self.now is None else self.now.projection

    @property
    def ahead(self) -> Projection | None:
        """When its limit is reached, passed already included (see ``Present.ahead``)."""
        return None if self.now is None else self.now.ahead

    @property
    def past_limit(self) -> bool:
        """Whether its limit is passed, by its level or by what is foretold."""
        return self.now is not None and self.now.limit is not None and self.ahead is not None and self.ahead.past


@dataclass(frozen=True, slots=True)
class FollowedTail:
    """One tail's series, watched."""

    history: History
    limits: Limits
    series: Mapping[str, Series]
    followed: Mapping[str, Followed]


def follow_tail(history: History, chosen: Sequence[TrackedMeasure] = TRACKED) -> FollowedTail:
    """Watch the measures of a tail, each started anew at the entries that can change it."""
    limits = history.aircraft.limits(history.nominal_voltage or 14)  # without it no measure in volts is followed
    series = {kind.measure: series_of(history, kind) for kind in chosen}
    followed = {measure: follow(one, reset_points(history, one.kind, one.flight)) for measure, one in series.items()}
    return FollowedTail(history, limits, series, followed)


def trends_of(tail: FollowedTail) -> dict[str, Trend]:
    """Give the present trend of every measure that is followed."""
    return {kind.measure: trend_of(tail, kind) for kind in TRACKED}


def trend_of(tail: FollowedTail, kind: TrackedMeasure) -> Trend:
    """Give the present trend of one measure."""
    series, followed = tail.series[kind.measure], tail.followed[kind.measure]
    changes = tuple(_change(tail, series, step, followed) for step in followed.steps)
    if not series.n:
        return Trend(kind.measure, 0, because="not measured on any flight")
    last = followed.stretches[-1]
    if last.series.n < limit_value("trend_fewest_shown"):
        because = (
            f"only {counted(last.series.n, 'flight')} measured it since its last step or maintenance; "
            f"{limit_value('trend_fewest_shown'):.0f} are needed"
        )
        return Trend(kind.measure, series.n, because=because, changes=changes, points_since=last.series.n)
    line = present_line(last)
    level = line.level + _usual_conditions(last.series, line)
    if too_few := _too_few(last.series):
        level = exp(level) if kind.logarithmic else level
        limit, past = _limit(tail.limits, kind, level, kind.worse)
        told = Present(level, None, limit if kind.worse or past else None, None, None, past)
        return Trend(kind.measure, series.n, too_few, told, changes, last.series.n)
    reach = student_95(last.series.n - 2 - last.series.covariates.shape[1])
    ends = [100.0 * (line.slope + sign * reach * line.slope_sd) for sign in (-1, 0, 1)]
    if kind.logarithmic:
        level = exp(level)
        ends = [level * end for end in ends]
    limit, past = _limit(tail.limits, kind, level, ends[1])
    values = adjusted(last.series, line)
    present = Present(
        level=level,
        slope=Slope(ends[1], ends[0], ends[2]),
        limit=limit,
        projection=None,
        second_opinion=_second_opinion(last.series, values, line.level),
        past=past,
        flown_since=float(sum(one.hours for one in tail.history.flights[int(series.flight[-1]) : -1])),
    )
    return Trend(
        measure=kind.measure,
        points=series.n,
        now=_foretold(kind, last, present),
        changes=changes,
        points_since=last.series.n,
        began=_began(tail, series, last, values),
    )


def _began(tail: FollowedTail, series: Series, stretch: Stretch, values: Floats) -> Began | None:
    """The level that a drift left, as its finding has it, from when it moved.

    Without one the median of a stretch's first three flights, so that no odd one is taken for how it was. ``values``
    are those of the stretch, weather and load taken out.
    """
    drift, own = stretch.drift, stretch.series
    since = int(own.flight[0]) if drift is None else int(series.flight[drift.began])
    first, last = (tail.history.flights[place].start for place in (since, int(own.flight[-1])))
    if first is None or last is None or (first.year, first.month) == (last.year, last.month):
        return None
    level = middle(values[:3]) if drift is None else level_before(series, stretch, drift)
    return Began(exp(level) if series.kind.logarithmic else level, first)


def _too_few(series: Series) -> str | None:
    """Why a stretch tells no slope; None where it does."""
    flights, hours = limit_value("trend_fewest_slope"), limit_value("trend_shortest_slope")
    flown = float(np.ptp(series.hours))
    if series.n >= flights and flown >= hours:
        return None
    lacking, there, needed = ("hours", int(flown), hours) if flown < hours else ("flights", series.n, flights)
    return f"too few {lacking} for a slope: {there} of {needed:.0f} since its last step or maintenance"


def present_line(stretch: Stretch) -> Line:
    """Give the robust line through a stretch.

    If a drift was seen in it: flat up to where its present slope began, and the slope averaged over when that
    may have been, with the doubt of it in its spread.
    """
    if stretch.drift is None:
        return robust_line(stretch.series)
    bend = best_bend(stretch.series)
    line = robust_line(stretch.series, float(stretch.series.hours[bend.at]) if bend.at else None)
    slope, doubt = onset_average(stretch.series)
    return replace(line, slope=slope, slope_sd=hypot(line.slope_sd, doubt))


def adjusted(series: Series, line: Line) -> Floats:
    """Give the values of a stretch at the reference temperature and the usual load, by the effects found in it."""
    usual = np.where(series.of_the_air, 0.0, middle_of_rows(series.covariates.T))
    return np.asarray(series.value - (series.covariates - usual) @ line.effects, dtype=np.float64)


def _second_opinion(series: Series, values: Floats, level: float) -> SecondOpinion:
    """Rank statistics of the latest flights of a stretch by its values, weather and load taken out."""
    window = int(limit_value("trend_shape_window"))
    test = mann_kendall(values[-window:])
    slope = 100.0 * theil_sen(series.hours[-window:], values[-window:])
    return SecondOpinion(test.p, slope * exp(level) if series.kind.logarithmic else slope)


def student_95(free: int) -> float:
    """Two-sided 95 % point of Student's t, to 0.01.

    Above ten degrees of freedom by its expansion about the normal one (Abramowitz and Stegun 26.7.5; from memory).
    """
    if free <= len(T95):
        return T95[max(free, 1) - 1]
    z = Z95
    return z + (z**3 + z) / (4.0 * free) + (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / (96.0 * free**2)


def _usual_conditions(series: Series, line: Line) -> float:
    """What load, voltage and flight length of the latest flights make of the level; the air stays at its reference."""
    return float(_usual(series) @ line.effects)


def _usual(series: Series) -> Floats:
    """Load, voltage and flight length of the latest flights, and the air at its reference (p,)."""
    recent = series.covariates[-int(limit_value("trend_recent")) :]
    return np.where(series.of_the_air, 0.0, middle_of_rows(recent.T)) if recent.size else np.zeros(0)


def _limit(limits: Limits, kind: TrackedMeasure, level: float, slope: float) -> tuple[float | None, bool]:
    """Give the limit that a level lies past, else the one that a slope leads to; and whether it lies past it."""
    up, down = (None if name is None else limits[name] for name in (kind.limit_up, kind.limit_down))
    if up is not None and level > up:
        return up, True
    if down is not None and level < down:
        return down, True
    return (up if slope > 0.0 or down is None else down), False


def _foretold(kind: TrackedMeasure, stretch: Stretch, present: Present) -> Present:
    """Add when the limit is reached.

    Nothing where the interval of the slope holds zero or leads away from the limit, or back to one that is passed,
    where the limit may never be reached, or not before anything can be foretold, or where the ends lie so far apart
    that they tell nothing.
    """
    limit = present.limit
    if limit is None or present.slope is None or not present.slope.sure:
        return present
    slope = present.slope.per_100_h
    if kind.worse and slope * kind.worse < 0.0:
        return present
    if present.past and (limit - present.level) * slope > 0.0:
        return present
    if (limit - present.level) * slope <= 0.0:
        return replace(present, projection=PASSED)
    reach = _reach(_of_the_wear(stretch), limit)
    if not reach.told:
        return replace(present, far=reach.within(limit_value("projection_earliest")) == float("inf"))
    chances = limit_value("projection_earliest"), limit_value("projection_latest"), 0.1, 0.5, 0.9
    told = Projection(reach.stated(present.flown_since), *(reach.within(chance) for chance in chances))
    return replace(present, projection=told.after(present.flown_since))


def _of_the_wear(stretch: Stretch) -> Series:
    """The flights that tell how a measure wears: all since that began and as many before, or at least the latest ones.

    Where no drift began later it wears from the first flight on, and how it quickens shows over all of them.
    """
    series = stretch.series
    began = 0 if stretch.drift is None else stretch.drift.began - stretch.first
    first = min(2 * began - series.n, series.n - int(limit_value("trend_shape_window")))
    return series.part(max(0, first), series.n)


def _reach(series: Series, limit: float) -> Reach:
    """Give when a limit is reached by some flights, as they would be in their usual conditions.

    Weather and load are taken out as they are believed beforehand; what they do beside that is found with the wear.
    """
    apart = series.covariates - _usual(series)
    values = series.value - apart @ series.prior_mean
    unit = np.ones(series.n)
    if series.kind.logarithmic:
        values = np.exp(values)
        unit = running_upper_median(values, int(limit_value("trend_recent")))
    doubt = Unsure(apart * unit[:, None], series.prior_sd)
    return reach_of(series.hours, values, unit * np.sqrt(series.variance), limit, doubt)


def _change(tail: FollowedTail, series: Series, step: Alarm, followed: Followed) -> LevelStep:
    """A step with the levels on both sides, at the reference temperature."""
    before = stretch_before(followed, step)
    level = level_before(series, before, step)
    place = int(series.flight[step.began])
    ends = (level, level + step.moved)
    if series.kind.logarithmic:
        ends = (exp(ends[0]), exp(ends[1]))
    around = covariate_adjusted(series.part(before.first, step.raised + 1))
    return LevelStep(tail.history.flights[place].start, place, *ends, pettitt(around).p)


def stretch_before(followed: Followed, alarm: Alarm) -> Stretch:
    """Give the stretch that a step ended or a drift runs in."""
    step = alarm.shape == "step"
    return next(one for one in followed.stretches if (one.end == alarm.began if step else one.drift == alarm))


def level_before(series: Series, stretch: Stretch, alarm: Alarm) -> float:
    """Give the level that a series left: that of the latest flights before it moved, knowing none after ``raised``.

    A drift that runs since the first flights has none before it; half of it lies before the middle of its flights.
    """
    part = replace(series.part(stretch.first, alarm.raised + 1), prior_mean=stretch.series.prior_mean)
    values, began = covariate_adjusted(part), alarm.began - stretch.first
    before = values[max(0, began - int(limit_value("trend_recent"))) : began]
    if before.size >= limit_value("trend_fewest_step"):
        return middle(before)
    return middle(values[began:]) - alarm.moved / 2.0


def covariate_adjusted(series: Series) -> Floats:
    """Give the values with weather taken out and load at its median, by what is known of their effects."""
    usual = np.where(series.of_the_air, 0.0, middle_of_rows(series.covariates.T)) if series.n else 0.0
    return np.asarray(series.value - (series.covariates - usual) @ series.prior_mean, dtype=np.float64)
