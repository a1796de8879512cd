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
from analyzer.records.replay import KeptReadings, ReplayedFlight, kept_readings, replay_log
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
    """What the latest flights came to; ``unread`` says which logs could not be read and why.

    ``flights`` are those that ``alarms`` rest on, in their order; where there are none, all that were read.
    """

    tail: str
    flights: tuple[MeteredFlight, ...]
    alarms: AlarmLimits | None  # None where no flight tells the system's voltage
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


@dataclass(frozen=True, slots=True)
class _Metered:
    """What one flight comes to."""

    flight: MeteredFlight
    record: MeterRecord
    loads: FlightLoads
    limits: Limits
    nominal_voltage: int | None


def own_meters(asked: MetersAsked) -> OwnMeters:
    """Read the flights and give what they come to.

    Limits in volts are those of one system, that of the latest flight whose voltage is known; flights of another, or
    of none that is known, count for no alarm.
    """
    found: list[_Metered] = []
    unread: list[str] = []
    for kept in asked.readings:
        try:
            replayed = replay_log(kept, asked.aircraft)
        except RecordsError as problem:
            unread.append(str(problem))
            continue
        # a flight without a number is one by today's cutting alone; the records show none such
        found += [_metered(one, one.id, asked.since) for one in replayed if one.id is not None]
    latest = next((one for one in reversed(found) if one.nominal_voltage is not None), None)
    nominal = None if latest is None else latest.nominal_voltage
    alike = [one for one in found if latest is not None and one.nominal_voltage == nominal]
    alarms = None if latest is None else _alarms([one.record for one in alike], latest.limits, asked.aircraft)
    of_system = [one.loads for one in found if one.nominal_voltage in (nominal, None)]
    loads = load_list(of_system, nominal, asked.aircraft.loads)
    told = tuple(one.flight for one in alike or found)
    return OwnMeters(asked.tail, told, alarms, loads, asked.since, tuple(unread))


def _metered(replayed: ReplayedFlight, number: int, since: datetime | None) -> _Metered:
    review, start = replayed.review, replayed.start
    flight = review.flight
    counts = since is None or (start is not None and start >= since)
    record = meter_record(flight, sound=counts and not review.findings)
    return _Metered(MeteredFlight(number, start), record, flight_loads(flight), flight.limits, flight.nominal_voltage)


def _alarms(records: Sequence[MeterRecord], limits: Limits, aircraft: Aircraft) -> AlarmLimits:
    light = Quantity(limits["low_voltage"], "V", assumed=aircraft.low_voltage is None)
    return alarm_limits(records, limits, light)
