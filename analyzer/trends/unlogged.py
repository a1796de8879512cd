"""Work that nobody logged: a battery or a regulator whose measures begin anew behind a stand, offered as a question.

Nothing rests on it: trends, findings and forecasts stay as they are until somebody logs the work. A battery is asked
about where its measures step for the better together. Innocent explanations that are left out first: weather and load
(taken out of the series), luck (the step is larger than innocent causes leave, and lasts), a charge on the ground (it
lifts the rest and shortens the recharge, so that what the starter meets must have stepped as well), a voltmeter that
reads differently (the regulated voltage steps alike), and whatever was logged at that time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import exp

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.series import Z95, Floats, median_of_rows, middle
from analyzer.trends.entries import STRANDED
from analyzer.trends.followed_tail import FollowedTail, covariate_adjusted
from analyzer.trends.history import History
from analyzer.trends.judging import TrendFinding
from analyzer.trends.shapes import Step, Window, steps_at, steps_tried
from analyzer.trends.tracked_series import Ints, Series, reset_points

BATTERY, REGULATOR = "battery_replaced", "regulator_replaced"
#: What the starter meets: a charge on the ground leaves it about as it was.
OF_THE_STARTER = ("battery_resistance", "cranking_voltage")
#: What a charge on the ground moves too; the two of the recharge tell one thing.
OF_THE_CHARGE = (("recharge_time_constant", "recharge_settling_time"), ("resting_voltage",), ("maintenance_current",))
OF_THE_OTHERS = tuple(measure for alike in OF_THE_CHARGE for measure in alike)
OF_THE_REGULATOR = "regulated_voltage"


@dataclass(frozen=True, slots=True)
class Stepped:
    """One measure on both sides of the stand, weather and load taken out, in its unit."""

    measure: str
    before: float
    after: float

    @property
    def unit(self) -> str:
        """Unit of the measure."""
        return MEASURES[self.measure]


@dataclass(frozen=True, slots=True)
class Unlogged:
    """Work that may have been done while the aircraft stood; nobody logged any then."""

    kind: str  # of entry that would tell it
    flight: int  # place of the first flight since, from 0; the likeliest where several may be
    earliest: datetime  # end of the last flight that is surely before it
    latest: datetime  # start of the first flight that is surely after it
    when: datetime  # halfway the likeliest stand
    measures: tuple[Stepped, ...]  # what stepped


def unlogged_work(tail: FollowedTail, findings: Iterable[TrendFinding]) -> tuple[Unlogged, ...]:
    """Give the work on battery and regulator to ask about, where nothing at all was logged in its time.

    Flights without a clock tell no stand.
    """
    stepped = [one for one in findings if one.open and one.measure == OF_THE_REGULATOR]
    told = [_battery(tail), *(_regulator(tail, one) for one in stepped)]
    return tuple(one for one in told if one is not None and not _answered(tail.history, one))


def _answered(history: History, asked: Unlogged) -> bool:
    """Whether an entry of that time, be it that nothing was done, says what the question asks."""
    return any(asked.earliest <= one.when <= asked.latest and one.kind != STRANDED for one in history.entries)


def _stands(history: History, kind: str) -> list[int]:
    """Places of the flights that come first behind a stand, since such work was last logged."""
    shortest = timedelta(hours=limit_value("unlogged_stand"))
    since = max((history.first_from(one.when) for one in history.entries if one.kind == kind), default=0)
    places = []
    for place in range(max(1, since + 1), len(history.begun)):
        before, after = history.flights[place - 1].end, history.flights[place].start
        long = before is not None and after is not None and after - before >= shortest
        if long:
            places.append(place)
    return places


def _battery(tail: FollowedTail) -> Unlogged | None:
    """The stand behind which the battery's measures stepped most surely, None where none did."""
    stands = _stands(tail.history, BATTERY)
    of_the_starter = _steps(tail, OF_THE_STARTER, _worth_fitting(tail, stands))
    worth = [place for place, steps in of_the_starter.items() if _some_surely(tail, steps)]
    fitted = {place: of_the_starter[place] | steps for place, steps in _steps(tail, OF_THE_OTHERS, worth).items()}
    sure = [place for place, steps in fitted.items() if _is_a_battery(tail, place, steps)]
    if not sure:
        return None
    best = max(sure, key=lambda place: _evidence(tail, fitted[place]))
    moved = [name for name, step in fitted[best].items() if _surely(tail.series[name], step)]
    return _told(tail, BATTERY, best, moved, stands)


def _worth_fitting(tail: FollowedTail, stands: Sequence[int]) -> list[int]:
    """The stands behind which what the starter meets looks better by more than half of what is innocent."""
    worth: set[int] = set()
    for name in OF_THE_STARTER:
        series, fewest = tail.series[name], int(limit_value("unlogged_fewest"))
        at = np.searchsorted(series.flight, stands)
        seen = (at >= fewest) & (at <= series.n - fewest)
        before, after = _middles_around(covariate_adjusted(series), at[seen])
        better = series.kind.worse * (before - after) > 0.5 * series.innocent_move[at[seen]]
        worth |= set(np.asarray(stands)[seen][better].tolist())
    return sorted(worth)


def _middles_around(values: Floats, at: Ints) -> tuple[Floats, Floats]:
    """The medians of the latest values before each of some places and of the first ones from it on."""
    reach = int(limit_value("trend_recent"))
    blank = np.full(reach, np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(np.concatenate([blank, values, blank]), reach)
    return median_of_rows(windows[at]), median_of_rows(windows[at + reach])


def _steps(tail: FollowedTail, measures: Sequence[str], places: Sequence[int]) -> dict[int, dict[str, Step]]:
    """The step of each measure behind each stand; none of those that too few flights carry on either side."""
    found: dict[int, dict[str, Step]] = {place: {} for place in places}
    for name in measures:
        around = _around(tail, name, places)
        for place, step in zip(around, steps_at(tail.series[name], [*around.values()]), strict=True):
            found[place][name] = step
    return found


def _around(tail: FollowedTail, measure: str, places: Sequence[int]) -> dict[int, Window]:
    """The flights around each stand that carry a measure, up to the entries that start it anew, and the first since.

    None of a stand that too few of them lie before or behind.
    """
    series, reach = tail.series[measure], 2 * int(limit_value("trend_recent"))
    edges, fewest = reset_points(tail.history, series.kind, series.flight), limit_value("unlogged_fewest")
    at = np.searchsorted(series.flight, places)
    before = np.searchsorted(edges, at, side="right")  # edges up to each
    first = np.maximum(at - reach, np.array([0, *edges])[before])
    end = np.minimum(at + reach, np.array([*edges, series.n])[before])
    enough = np.flatnonzero(np.minimum(at - first, end - at) >= fewest).tolist()
    return {places[one]: Window(int(first[one]), int(end[one]), int(at[one])) for one in enough}


def _better(series: Series, step: Step) -> float:
    return -series.kind.worse * step.size


def _surely(series: Series, step: Step) -> bool:
    """Whether a measure surely stepped for the better, and by more than innocent causes may leave."""
    sure = limit_value("unlogged_sure") * step.size_sd
    return _better(series, step) > max(sure, float(series.innocent_move[-1]))


def _some_surely(tail: FollowedTail, steps: Mapping[str, Step]) -> bool:
    return any(_surely(tail.series[name], step) for name, step in steps.items())


def _evidence(tail: FollowedTail, steps: Mapping[str, Step]) -> float:
    """How much more likely the flights are with the step than without, as twice a logarithm; worse ones take off."""
    signed = (_better(tail.series[name], step) / step.size_sd for name, step in steps.items())
    return float(sum(z * abs(z) for z in signed))


def _is_a_battery(tail: FollowedTail, place: int, steps: Mapping[str, Step]) -> bool:
    """Whether only another battery, or work on its leads, explains the steps behind a stand."""
    sure = {name for name, step in steps.items() if _surely(tail.series[name], step)}
    of_the_starter = [name for name in OF_THE_STARTER if name in sure]
    of_the_charge = [alike for alike in OF_THE_CHARGE if sure & set(alike)]
    if not of_the_starter or len(of_the_starter) + len(of_the_charge) < limit_value("unlogged_alike"):
        return False
    worse = [name for name, step in steps.items() if _better(tail.series[name], step) + Z95 * step.size_sd < 0.0]
    return not worse and not _is_the_voltmeter(tail, place, steps)


def _is_the_voltmeter(tail: FollowedTail, place: int, steps: Mapping[str, Step]) -> bool:
    """Whether the regulated voltage surely stepped, and the resting one alike: the meter reads differently."""
    regulated = _steps(tail, (OF_THE_REGULATOR,), [place])[place].get(OF_THE_REGULATOR)
    resting = steps.get("resting_voltage")
    if regulated is None or resting is None or abs(regulated.size) < Z95 * regulated.size_sd:
        return False
    return abs(resting.size - regulated.size) < Z95 * float(np.hypot(resting.size_sd, regulated.size_sd))


def _regulator(tail: FollowedTail, finding: TrendFinding) -> Unlogged | None:
    """The stand behind which a set point jumped that is still where it ought to be, None where it did not stand."""
    shift = finding.shift
    if shift is None or shift.of is None or shift.shape != "step":
        return None
    level = shift.of.end.value
    if not tail.limits["regulated_low"] <= level <= tail.limits["regulated_high"]:
        return None
    stands, place = _stands(tail.history, REGULATOR), shift.since_flight
    if place not in stands or not _around(tail, OF_THE_REGULATOR, [place]):
        return None
    if _is_the_voltmeter(tail, place, _steps(tail, ("resting_voltage",), [place])[place]):
        return None
    return _told(tail, REGULATOR, place, [OF_THE_REGULATOR], stands)


def _told(tail: FollowedTail, kind: str, near: int, moved: Sequence[str], stands: Sequence[int]) -> Unlogged | None:
    """Work behind the stand near a place that fits best; None where too few flights follow that, or lead up to it.

    None as well where a step between two flights that no stand parts fits better. Where the flights leave open which
    stand it was, all between the ends of those that may be.
    """
    flights, misfits = tail.history.flights, _misfits(tail, moved, near)
    most = min(misfits.values()) + limit_value("unlogged_place")
    likely = [one for one in stands if misfits.get(one, float("inf")) <= most]
    place = min(likely, key=lambda one: misfits[one], default=None)
    if place is None or not all(_around(tail, name, [place]) for name in moved):
        return None
    first, last = min(likely), max(likely)
    end, start = flights[place - 1].end, flights[place].start
    earliest, latest = flights[first - 1].end, flights[last].start
    if end is None or start is None or earliest is None or latest is None:
        raise ValueError("a stand lies between flights with a clock")
    measures = tuple(_levels(tail, name, place) for name in moved)
    when = (end + (start - end) / 2.0).replace(second=0, microsecond=0)
    return Unlogged(kind, place, earliest, latest, when, measures)


def _misfits(tail: FollowedTail, moved: Sequence[str], place: int) -> dict[int, float]:
    """How badly a step before each flight nearby fits the flights around a place."""
    near = int(limit_value("trend_recent"))
    others = range(max(1, place - near), min(len(tail.history.begun), place + near + 1))
    misfits = dict.fromkeys(others, 0.0)
    for name in moved:
        around = _around(tail, name, [place]).get(place)
        if around is None:
            continue
        part = tail.series[name].part(around.first, around.end)
        at = np.searchsorted(part.flight, others).tolist()
        inside = sorted({one for one in at if 0 < one < part.n})
        of_step = {step.at: step.misfit for step in steps_tried(part, inside)}
        for other, one in zip(others, at, strict=True):
            misfits[other] += of_step.get(one, float("inf"))
    return misfits


def _levels(tail: FollowedTail, measure: str, place: int) -> Stepped:
    """The medians of the latest flights before a stand and of the first ones behind it."""
    around = _around(tail, measure, [place])[place]  # a measure that stepped is carried by flights on both sides
    part, at = tail.series[measure].part(around.first, around.end), around.at - around.first
    values, reach = covariate_adjusted(part), int(limit_value("trend_recent"))
    ends: list[Floats] = [values[max(0, at - reach) : at], values[at : at + reach]]
    before, after = (middle(one) for one in ends)
    return Stepped(measure, exp(before), exp(after)) if part.kind.logarithmic else Stepped(measure, before, after)
