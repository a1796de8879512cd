"""A flight: one engine run of a log with its events, phases and cleaned readings."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
from msgspec import Struct

from analyzer.aircraft import Aircraft, Source
from analyzer.flights.alternator_online import shown_current
from analyzer.flights.ammeter import Ammeter
from analyzer.flights.battery_kind import BatteryKind
from analyzer.flights.dips import Dip
from analyzer.flights.engine import EngineRun
from analyzer.flights.outage_kinds import AlternatorOutage
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.recharge import Recharge
from analyzer.flights.trace import Trace
from analyzer.flights.voltmeter import RECORDED, Voltmeter
from analyzer.limits import Limits, limit_value
from analyzer.series import Floats, Mask, median, readings_in, shared

PHASES = ("before_start", "cranking", "recharge", "steady", "low_rpm", "alternator_offline", "shutdown")


class Phase(Struct, frozen=True):
    """One phase of a flight, in seconds from the log's first row."""

    name: str  # one of PHASES
    from_s: float
    to_s: float


class Flight(Struct, frozen=True, dict=True):
    """One engine run. Masks and rows count from the flight's own first row, times from the log's."""

    trace: Trace  # cleaned: faulty readings are NaN, currents stand under the kind they are
    run: EngineRun  # rows within ``trace``: first is 0
    aircraft: Aircraft
    limits: Limits
    nominal_voltage: int | None  # 14 or 28 [V]; None where neither readings nor the fleet file tell
    nominal_basis: str
    ammeter: Ammeter
    battery: BatteryKind
    running: Mask
    crank: Mask
    alternator_online: Mask  # the alternator carries the bus
    rpm_sufficient: Mask  # the engine turns fast enough for that
    takeoff: int  # first row of flight or high power; the last row when there is none
    outages: tuple[AlternatorOutage, ...]
    dips: tuple[Dip, ...]  # moments in which the bus or the alternator drops out
    alternator_on_row: int | None  # row at which the alternator takes the bus, None when it never does
    recharge: Recharge | None
    regulated: Mask  # the regulator holds the bus, the recharge over: what its voltage is judged on
    phases: tuple[Phase, ...]
    reading_faults: tuple[ReadingFault, ...]
    clock_start: datetime | None  # clock at the log's first row
    rows: int
    begins_running: bool  # the first row already has the engine running
    voltmeter: Voltmeter = RECORDED  # whether the bus voltage says anything

    @property
    def regulated_volts(self) -> Floats:
        """Bus voltage in the rows in which the regulator holds it and it is recorded [V]; not cached for a long log."""
        return readings_in(self.trace.bus_voltage, self.regulated_rows)

    @cached_property
    def regulated_rows(self) -> Mask:
        """Rows of ``regulated`` in which the bus voltage is recorded."""
        return shared(self.regulated & np.isfinite(self.trace.bus_voltage))

    @property
    def source(self) -> Source | None:
        """What charges the battery: by the fleet file, or a turbine's core speed; None where nothing tells."""
        turbine = Source.STARTER_GENERATOR if self.trace.engine_speed_percent is not None else None
        return self.aircraft.source or turbine

    @property
    def from_s(self) -> float:
        """Time of the first row [s]."""
        return float(self.trace.time[0])

    @property
    def to_s(self) -> float:
        """Time of the last row [s]."""
        return float(self.trace.time[-1])

    @property
    def start(self) -> datetime | None:
        """Clock of the first row, None without a clock."""
        return None if self.clock_start is None else self.clock_start + timedelta(seconds=round(self.from_s, 3))

    @property
    def bus_told(self) -> bool:
        """Whether anything tells what carries the bus: a voltage, or a current of known kind."""
        return self.voltmeter.tells or shown_current(self.trace) is not None

    @property
    def stop_s(self) -> float:
        """Time of the last row with the engine running [s]."""
        return float(self.trace.time[self.run.stop - 1])

    @cached_property
    def first_crank(self) -> int:
        """First row of cranking; the engine start when no row fell into it."""
        rows = np.flatnonzero(self.crank)
        return int(rows[0]) if rows.size else self.run.start

    @cached_property
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
