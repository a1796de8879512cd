"""What a flight's meters came to, for limits of its recorder's alarms: lasting extremes, and recorded losses."""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import LOW_RPM, OFFLINE, OUTPUT_LIMITED
from analyzer.limits import limit_value
from analyzer.series import Floats, Mask

#: The alternator does not carry the bus, and not because the engine turns slowly.
LOSSES = (OFFLINE, OUTPUT_LIMITED)


class Extremes(Struct, frozen=True):
    """The lowest and the highest reading that lasted; None where there are too few readings."""

    lowest: float | None
    highest: float | None


class Loss(Struct, frozen=True, eq=False):
    """One time at which the alternator was lost in a flight, with the readings around its beginning."""

    from_s: float  # seconds from the log's first row
    lasts: float  # [s]
    time: Floats  # from its beginning [s]
    volts: Floats  # the bus [V], NaN where none is recorded
    battery: Floats  # into the battery [A], NaN where none is recorded

    def first_below(self, limit: float, readings: Floats) -> float | None:
        """Seconds from the beginning until a reading stands below a limit and has lasted; None where it never does.

        Below zero where it was so before the alternator was lost, and stayed so: what came back was no warning of it.
        """
        found: float | None = None
        below = np.isfinite(readings) & (readings < limit)
        since: float | None = None
        for at, low in zip(self.time.tolist(), below.tolist(), strict=True):
            since = (at if since is None else since) if low else None
            if since is None:
                found = None if at < 0.0 else found
            elif found is None and at - since >= limit_value("alarm_lasting"):
                found = float(at)
        return found


class MeterRecord(Struct, frozen=True, eq=False):
    """One flight. Readings in flight are those with the engine fast enough; slow ones those with it running slowly."""

    sound: bool  # no finding of the flight speaks against taking its readings as a sound aircraft's
    bus: Extremes  # in flight [V]
    bus_slow: Extremes
    battery: Extremes | None  # in flight [A]; None without a battery ammeter that can be believed
    battery_slow: Extremes | None
    losses: tuple[Loss, ...]


def meter_record(flight: Flight, *, sound: bool) -> MeterRecord:
    """Give a flight's record, from when the alternator first takes the bus to where the engine stops."""
    fast, slow = _rows(flight)
    bus = flight.trace.bus_voltage if flight.voltmeter.tells else np.full(flight.trace.time.size, np.nan)
    amps = None if flight.ammeter.charge_at_rest else flight.trace.battery_current
    return MeterRecord(
        sound,
        _lasting(flight, bus, fast),
        _lasting(flight, bus, slow),
        None if amps is None else _lasting(flight, amps, fast),
        None if amps is None else _lasting(flight, amps, slow),
        tuple(_losses(flight, bus, amps)),
    )


def _rows(flight: Flight) -> tuple[Mask, Mask]:
    """Rows of a running engine with the alternator switched on: fast enough for it, and too slow for it."""
    on = flight.running.copy()
    on[: on.size if flight.alternator_on_row is None else flight.alternator_on_row] = False
    settled = flight.trace.rows_in(limit_value("alarm_settled"))
    fast = on & flight.rpm_sufficient
    for outage in flight.outages:
        if outage.kind == LOW_RPM:
            fast[max(0, outage.first - settled) : outage.end + settled] = False
        else:
            on[max(0, outage.first - settled) : outage.end + settled] = False
    return fast & on, on & ~fast


def _lasting(flight: Flight, readings: Floats, rows: Mask) -> Extremes:
    """The lowest and highest value beyond which the readings stay for as long as an alarm needs."""
    width = max(1, flight.trace.rows_in(limit_value("alarm_lasting")))
    known = rows & np.isfinite(readings)
    if int(known.sum()) < width * int(limit_value("alarm_fewest_windows")):
        return Extremes(None, None)
    windows = np.lib.stride_tricks.sliding_window_view
    high_end = windows(np.where(known, readings, np.inf), width).max(axis=1)
    low_end = windows(np.where(known, readings, -np.inf), width).min(axis=1)
    if not np.isfinite(high_end).any():
        return Extremes(None, None)
    return Extremes(float(high_end.min()), float(low_end.max()))


def _losses(flight: Flight, bus: Floats, amps: Floats | None) -> list[Loss]:
    trace, around = flight.trace, limit_value("alarm_around")
    found = []
    for outage in flight.outages:
        if outage.kind not in LOSSES:
            continue
        begins = float(trace.time[outage.first])
        lasts = float(trace.time[outage.end - 1]) - begins
        rows = (trace.time >= begins - around) & (trace.time <= begins + min(lasts, around)) & flight.running
        flow = np.full(int(rows.sum()), np.nan) if amps is None else amps[rows]
        found.append(Loss(begins, lasts, trace.time[rows] - begins, bus[rows], flow))
    return found
