"""What an aircraft's kept flights say of limits for its recorder's alarms, and of its loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analyzer.aircraft import Aircraft
from analyzer.limits import Limits, limit_value
from analyzer.measures.meter_record import MeterRecord, meter_record
from analyzer.measures.own_loads import FlightLoads, flight_loads
from analyzer.quantity import Quantity
from analyzer.records.changing import kept_entries
from analyzer.records.kept import fleet_kept
from analyzer.records.problems import RecordsError
from analyzer.records.replay import KeptReadings, kept_readings, replay_log
from analyzer.records.store import Store
from analyzer.trends.alarm_limits import AlarmLimits, alarm_limits
from analyzer.trends.load_list import LoadList, load_list


@dataclass(frozen=True, slots=True)
class MeteredFlight:
    """One kept flight."""

    id: int
    start: datetime | None


@dataclass(frozen=True, slots=True)
class OwnMeters:
    """What the flights came to, the latest only; ``unread`` says which logs could not be read and why."""

    tail: str
    flights: tuple[MeteredFlight, ...]
    alarms: AlarmLimits | None  # None without a flight
    loads: LoadList
    since: datetime | None  # work after which alone flights count as the aircraft's usual ones
    unread: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MetersAsked:
    """All that it is worked out from, small enough to be sent to another process."""

    tail: str
    readings: tuple[KeptReadings, ...]
    aircraft: Aircraft
    since: datetime | None = None


#: Work after which the meters may read otherwise.
_CHANGES_READINGS = ("regulator_replaced", "instrument_replaced")


def meters_asked(store: Store, tail: str) -> MetersAsked:
    """Give the latest kept logs of an aircraft, of which no more are read than ``alarm_flights``."""
    latest = kept_readings(store, tail)[-int(limit_value("alarm_flights")) :]
    worked = [one.entry.when for one in kept_entries(store, tail) if one.entry.kind in _CHANGES_READINGS]
    return MetersAsked(tail.upper(), tuple(latest), fleet_kept(store).of(tail.upper()), max(worked, default=None))


def own_meters(asked: MetersAsked) -> OwnMeters:
    """Read the flights and give what they come to."""
    flights: list[MeteredFlight] = []
    records: list[MeterRecord] = []
    unread: list[str] = []
    bound: list[tuple[Limits, int | None]] = []
    stepped: list[FlightLoads] = []
    for kept in asked.readings:
        try:
            replayed = replay_log(kept, asked.aircraft)
        except RecordsError as problem:
            unread.append(str(problem))
            continue
        for one in replayed:
            if one.id is None:  # a flight by today's cutting alone; the records show none such
                continue
            flights.append(MeteredFlight(one.id, one.start))
            counts = asked.since is None or (one.start is not None and one.start >= asked.since)
            records.append(meter_record(one.review.flight, sound=counts and not one.review.findings))
            stepped.append(flight_loads(one.review.flight))
            bound.append((one.review.flight.limits, one.review.flight.nominal_voltage))
    # limits in volts are those of one system: the latest that is known
    limits, nominal = next((one for one in reversed(bound) if one[1] is not None), (None, None))
    alike = [number for number, (_, volts) in enumerate(bound) if volts == nominal]
    alarms = None if limits is None else _alarms([records[number] for number in alike], limits, asked.aircraft)
    loads = load_list([stepped[number] for number in alike], nominal)
    return OwnMeters(asked.tail, tuple(flights), alarms, loads, asked.since, tuple(unread))


def _alarms(records: Sequence[MeterRecord], limits: Limits, aircraft: Aircraft) -> AlarmLimits:
    light = Quantity(limits["low_voltage"], "V", assumed=aircraft.low_voltage is None)
    return alarm_limits(records, limits, light)
