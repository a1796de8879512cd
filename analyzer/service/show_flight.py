"""One kept flight, judged as today: which one is meant, its log and itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from analyzer.records.flight_again import flight_named, judging_of, reviewed_again, same_flight
from analyzer.records.kept import KeptFlight, fleet_kept, flight_record, log_of_flight
from analyzer.records.store import Store
from analyzer.review import FlightReview, LogReview


@dataclass(frozen=True, slots=True)
class ShownFlight:
    """A kept flight with what its log says today."""

    kept: KeptFlight
    log: LogReview
    review: FlightReview


def show_flight(store: Store, tail: str, moment: datetime | None = None, *, timed: bool = False) -> ShownFlight:
    """Give a tail's kept flight of a day, or of a moment where one is ``timed``; its last where none is named.

    Raises
    ------
    NoSuchFlightError
        When none is kept, or the day has several.
    RecordsError
        When its log is damaged.
    """
    kept = flight_named(store, tail, moment, timed=timed)
    record, fleet = flight_record(store, kept.id), fleet_kept(store)
    held = log_of_flight(store, record.tail, record.log_id)
    log = reviewed_again(store, held, fleet, judging_of(store, held, fleet))
    return ShownFlight(kept, log, same_flight(log, record.result.from_s, record.result.to_s))
