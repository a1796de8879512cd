"""A flight: one engine run of a log with its events, phases and cleaned readings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from analyzer.aircraft import Aircraft
from analyzer.flights.ammeter import Ammeter
from analyzer.flights.carrying import Absence
from analyzer.flights.engine import EngineRun
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.recharge import Recharge
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import Mask, median

PHASES = ("before_start", "cranking", "recharge", "steady", "low_rpm", "alternator_offline", "shutdown")


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of a flight, in seconds from the log's first row."""

    name: str  # one of PHASES
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Flight:
    """One engine run. Masks and rows count from the flight's own first row, times from the log's."""

    trace: Trace  # cleaned: faulty readings are NaN, currents stand under the kind they are
    run: EngineRun  # rows within ``trace``: first is 0
    aircraft: Aircraft
    limits: Limits
    nominal_voltage: int  # 14 or 28 [V]
    nominal_basis: str
    ammeter: Ammeter
    running: Mask
    crank: Mask
    carries: Mask  # the alternator carries the bus
    fast: Mask  # the engine turns fast enough for that
    takeoff: int  # first row of flight or high power; the last row when there is none
    absences: tuple[Absence, ...]
    on: int | None  # row at which the alternator takes the bus, None when it never does
    recharge: Recharge | None
    regulated: Mask  # the regulator holds the bus, the recharge over: what its voltage is judged on
    phases: tuple[Phase, ...]
    reading_faults: tuple[ReadingFault, ...]
    clock_start: datetime | None  # clock at the log's first row
    rows: int
    begins_running: bool  # the first row already has the engine running

    @property
    def onset_recorded(self) -> bool:
        """Whether the rows show the alternator take the bus from a battery that carried it until then."""
        if not self.begins_running:
            return True
        if not self.on:
            return False
        before = self.trace.bus_voltage[self.run.start : self.on]
        return bool(np.nan_to_num(before).max() < self.limits["full_battery"] + self.limits["carrying_smallest_rise"])

    @property
    def from_s(self) -> float:
        """Time of the first row [s]."""
        return float(self.trace.time[0])

    @property
    def to_s(self) -> float:
        """Time of the last row [s]."""
        return float(self.trace.time[-1])

    @property
    def stop_s(self) -> float:
        """Time of the last row with the engine running [s]."""
        return float(self.trace.time[self.run.stop - 1])

    @property
    def first_crank(self) -> int:
        """First row of cranking; the engine start when no row fell into it."""
        rows = np.flatnonzero(self.crank)
        return int(rows[0]) if rows.size else self.run.start

    @property
    def air_at_start(self) -> float:
        """Outside air temperature as the engine starts [degC], NaN where none is recorded."""
        air = self.trace.outside_air_temperature
        if air is None:
            return float("nan")
        return median(air[: self.run.start + self.trace.rows_in(limit_value("start_air"))])

    def clock(self, seconds: float) -> str | None:
        """ISO 8601 clock of a time in the log, None without a clock."""
        if self.clock_start is None:
            return None
        return (self.clock_start + timedelta(seconds=round(seconds, 3))).isoformat()
