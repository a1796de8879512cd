"""What was foretold once a kept flight was flown: by it and its aircraft's flights before it alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyzer.aircraft import Fleet
from analyzer.records.kept import kept_history
from analyzer.records.store import Store
from analyzer.trends.followed_tail import Trend, follow_tail, trends_of
from analyzer.trends.history import History


@dataclass(frozen=True, slots=True)
class OutlookAt:
    """The limits that a flight's aircraft lay past, or was coming to."""

    flights: int  # of the aircraft up to this one; 0 where nothing tells them
    trends: tuple[Trend, ...] = ()  # those past their limit first, then the soonest; last those that nothing dates
    because: str | None = None  # why nothing can be told
    of: str | None = None  # the measure of which that is said, None where it is said of the flight


def outlook_at(tail: str, fleet: Fleet, store: Store, flight_id: int) -> OutlookAt:
    """Give the outlook of an aircraft as it was after one of its flights.

    Raises
    ------
    RecordsError
        When the records cannot be read.
    """
    history = kept_history(store, tail, fleet)
    place = next((at for at, flight in enumerate(history.flights) if flight.id == flight_id), None)
    if place is None:
        return OutlookAt(0, because="another recording of this flight counts in the trends")
    if history.flights[place].start is None and history.begun:
        return OutlookAt(0, because="without a clock nothing tells which flights came before it")
    return outlook_of(_up_to(history, place))


def outlook_of(history: History) -> OutlookAt:
    """Give the outlook of an aircraft after the last flight of a history."""
    trends = tuple(trends_of(follow_tail(history)).values())
    ahead = sorted((one for one in trends if _goes_to_a_limit(one)), key=_soonest)
    bounded = [one for one in trends if one.now is None or one.now.limit is not None]
    untold = [one for one in bounded if one.points and one.because is not None]
    if ahead or len(untold) < sum(one.points > 0 for one in bounded):
        return OutlookAt(len(history.flights), tuple(ahead))
    if not untold:
        return OutlookAt(len(history.flights), because="no measure that has a limit was measured")
    return OutlookAt(len(history.flights), because=untold[0].because, of=untold[0].measure)


def _goes_to_a_limit(trend: Trend) -> bool:
    """Whether it is past its limit or surely goes there, be it told when or not."""
    untold = trend.now is not None and trend.now.heads_untold
    return trend.past_limit or trend.projection is not None or untold


def _soonest(trend: Trend) -> float:
    """Engine hours until its limit, to sort by: those past it first, those of which none can be told last."""
    if trend.past_limit:
        return -1.0
    return float("inf") if trend.projection is None else trend.projection.one_in_two


def _up_to(history: History, place: int) -> History:
    """The history as it was after a flight; without a clock nothing tells which work came later: all of it counts."""
    end = history.flights[place].end
    entries = tuple(entry for entry in history.entries if end is None or entry.when <= end)
    return replace(history, flights=history.flights[: place + 1], entries=entries)
