"""One kept flight worked out anew from its log, and what the records know of its battery: for page and command."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from msgspec.structs import replace

from analyzer.aircraft import Fleet
from analyzer.findings.battery_state import shows_wear
from analyzer.logs import read_log
from analyzer.logs.log import Log, Refusal
from analyzer.measures.battery_life import BatteryKnown, CapacityTest, RunDown, condition_by_test
from analyzer.phrases import nearest
from analyzer.records.ammeters import kept_ammeter
from analyzer.records.changing import Disposition, kept_dispositions, kept_entries
from analyzer.records.files import Held, read_original
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import (
    KeptFlight,
    KeptLog,
    flight_findings,
    flight_record,
    run_down_flights,
    tail_flights,
    tail_review,
)
from analyzer.records.latest import tail_names
from analyzer.records.problems import RecordsError
from analyzer.records.replay import KeptReadings, kept_readings, log_of_readings
from analyzer.records.store import Store
from analyzer.records.traces import read_trace_and_breaks
from analyzer.review import FlightReview, LogReview, review_log
from analyzer.trends.open_findings import flights_that_count

FROM_READINGS = (
    "the recorder's file was not kept or is damaged; this page is worked from the kept readings, so that the names of "
    "its columns are not known"
)
#: Entries after which what was found of the battery before no longer counts.
NEW_BATTERY = "battery_replaced"
#: A day without a time is meant about its noon.
HALF_A_DAY = timedelta(hours=12)


class NoSuchFlightError(ValueError):
    """A flight that was asked for is not kept; the message names those that are near."""


@dataclass(frozen=True, slots=True)
class Judging:
    """What a kept log is judged with: columns, and its aircraft's ammeter as its flights together tell it."""

    columns: Mapping[str, str]
    ammeter: tuple[str, str] | None


def judging_of(store: Store, log: KeptLog, fleet: Fleet) -> Judging:
    """Give what a kept log is judged with."""
    told = kept_ammeter(store, log.tail) if log.tail else None
    return Judging({**fleet.of(log.tail).columns, **log.columns}, told)


def reviewed_again(store: Store, log: KeptLog, fleet: Fleet, judging: Judging) -> LogReview:
    """Review a kept log as today.

    Raises
    ------
    RecordsError
        When its file and its readings are lost, or it can no longer be read.
    """
    return review_log(_read_again(store, log, judging.columns), fleet.of(log.tail), judging.ammeter)


def _read_again(store: Store, log: KeptLog, columns: Mapping[str, str]) -> Log:
    """A log from its original bytes, from its kept readings where these were not kept or are damaged."""
    try:
        held = Held(log.source, Path(log.source), None, read_original(store.folder, log.hash))
    except RecordsError:
        of_tail = kept_readings(store, log.tail) if log.tail else []
        alone = KeptReadings(log.source, Path(log.source), None, store.folder, log.hash, "", log.start)
        kept = next((one for one in of_tail if one.digest == log.hash), alone)
        again = log_of_readings(kept, *read_trace_and_breaks(store.folder, log.hash, log.trace))
        return replace(again, warnings=(FROM_READINGS,))
    found = read_log(held, columns=columns)
    if isinstance(found, Refusal):
        raise RecordsError(f"{log.source} is kept but can no longer be read: {found.because}")
    return found


def same_flight(review: LogReview, from_s: float, to_s: float) -> FlightReview:
    """Of a log's flights as cut today the one that a kept flight is: the one that shares most time with it.

    Raises
    ------
    RecordsError
        When none does.
    """

    def shared(one: FlightReview) -> float:
        return min(one.flight.to_s, to_s) - max(one.flight.from_s, from_s)

    found = max(review.flights, key=shared, default=None)
    if found is None or shared(found) <= 0.0:
        raise RecordsError("As its log is understood today, this flight is none any more. Run: taper rebuild")
    return found


def battery_known(
    store: Store, tail: str | None, log: LogReview, today: datetime, over: OverTails = one_by_one
) -> BatteryKnown:
    """What is known of the battery of a log's aircraft beside the log: its last capacity test, and whether it is worn.

    It is worn where the log's flights, the aircraft's latest flights or what stands open over them show it; ``over``
    works out what stands open where that is not kept.
    What a person disposed of as fixed, or did not find on inspection, no longer counts, nor what was found before the
    battery was replaced or its capacity tested. What was only accepted still wears the battery.
    """
    gone = _mended(kept_dispositions(store, tail)) if tail else frozenset()
    known = _entered(store, tail, today) if tail else BatteryKnown()

    def counts(name: str, at: datetime | None, key: str | None = None) -> bool:
        """Whether a finding counts, by the moment it is of; ``key`` is how people's words on it are kept."""
        said_of = key or (None if at is None else at.isoformat())
        return (name, said_of) not in gone and known.counts(at)

    causes = [
        [(cause.key, cause.weight) for cause in finding.likely]
        for one in log.flights
        for finding in one.findings
        if counts(finding.name, one.flight.start)
    ]
    if tail:
        latest = {one.id: one.start for one in tail_flights(store, tail)[-flights_that_count() :]}
        causes += [
            [(cause.key, cause.weight) for cause in one.finding.likely]
            for one in flight_findings(store, tail)
            if one.flight_id in latest and counts(one.finding.name, latest[one.flight_id])
        ]
        causes += [
            [(cause.key, cause.weight) for cause in one.likely]
            for one in tail_review(store, tail, over=over).open_findings
            if counts(one.name, one.raisings[-1].start, one.key)
        ]
    return replace(known, worn=shows_wear(causes))


def _entered(store: Store, tail: str, today: datetime) -> BatteryKnown:
    """What the entries up to today say of a tail's battery, and the flights since that ran it down."""
    said = [one.entry for one in kept_entries(store, tail) if one.entry.when.date() <= today.date()]
    fitted = max((one.when for one in said if one.kind == NEW_BATTERY), default=None)
    tests = [
        CapacityTest(one.when, one.capacity)
        for one in said
        if one.capacity is not None and not (fitted and one.when < fitted)
    ]
    tested = max(tests, key=lambda one: one.when, default=None)
    counts_still = tested is not None and condition_by_test(tested, today) is not None
    known = BatteryKnown(tested=tested, since=tested.when if tested is not None and counts_still else fitted)
    results = [flight_record(store, one).result for one in run_down_flights(store, tail)]
    shown = tuple(
        RunDown(one.start, one.capacity_shown.capacity)
        for one in results
        if one.capacity_shown is not None and one.capacity_shown.capacity is not None and known.counts(one.start)
    )
    return replace(known, run_down=shown)


def _mended(dispositions: Iterable[Disposition]) -> frozenset[tuple[str, str | None]]:
    """Findings whose cause is gone by a person's word, the latest word counting."""
    last = {(one.finding, one.at): one.verdict for one in dispositions}
    return frozenset(key for key, verdict in last.items() if verdict.ends_cause)


def _whole_minute(start: datetime) -> datetime:
    """The minute in which a flight begins, by which lists name it and people call it."""
    return start.replace(second=0, microsecond=0)


def flight_named(store: Store, tail: str, moment: datetime | None, *, timed: bool = False) -> KeptFlight:
    """Give a tail's kept flight of a day, or of a moment where one is ``timed``; its last where none is named.

    Raises
    ------
    NoSuchFlightError
        Naming the flights of that day where there are several, or else the nearest ones.
    """
    flown = tail_flights(store, tail)
    if not flown:
        raise NoSuchFlightError(f"no flight of {tail.upper()} is kept{nearest(tail.upper(), tail_names(store))}")
    dated = [one for one in flown if one.start]
    if moment is None:
        return (dated or flown)[-1]
    if timed:
        within = [one for one in dated if one.start and _whole_minute(one.start) <= moment <= (one.end or one.start)]
        if within:
            return within[0]
    day = [one for one in dated if one.start and one.start.date() == moment.date()]
    if len(day) == 1:
        return day[0]
    if day:
        times = ", ".join(f"{one.start:%H:%M}" for one in day)
        raise NoSuchFlightError(
            f"{tail.upper()} has {len(day)} flights on {moment:%Y-%m-%d}; name the time as well: {times}"
        )
    meant = moment if timed else moment + HALF_A_DAY
    starts = sorted((one.start for one in dated if one.start), key=lambda start: abs(start - meant))
    days = ", ".join(sorted({f"{start:%Y-%m-%d}" for start in starts[:3]})) or "none with a date"
    raise NoSuchFlightError(f"no flight of {tail.upper()} on {moment:%Y-%m-%d} is kept; the nearest: {days}")
