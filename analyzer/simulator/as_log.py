"""A simulated flight as a ``Log``, as if its file had been read."""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta

import polars as pl

from analyzer.logs.log import ROLE_UNITS, Clock, Column, Log
from analyzer.logs.readings import Readings
from analyzer.simulator.simulate import SimulatedFlight

#: The role of an ammeter whose header does not tell its kind.
UNTYPED = "ammeter_current"


def as_log(
    flight: SimulatedFlight, *, without: Collection[str] = (), untyped: bool = False, seamless: bool = True
) -> Log:
    """The log that reading the flight's file would give.

    Parameters
    ----------
    flight : as simulated
    without : roles that this recorder does not write
    untyped : the only ammeter stands under a header that does not tell its kind; nothing changes when both
        kinds are fitted
    seamless : no break in the recording; otherwise each gap of a minute or more is one
    """
    currents = [role for role in ("battery_current", "alternator_current") if role in flight.table.columns]
    begins = flight.scenario.begins + timedelta(seconds=round(flight.log_begins_s))
    table = flight.table.drop(role for role in without if role in flight.table.columns)
    if untyped and len(currents) == 1 and currents[0] in table.columns:
        table = table.rename({currents[0]: UNTYPED})
    roles = [name for name in table.columns if name in ROLE_UNITS]
    clock = pl.lit(begins).cast(pl.Datetime("us")) + pl.duration(
        microseconds=(pl.col("time_s") * 1e6).round().cast(int)
    )
    table = table.select("time_s", clock.alias("clock"), *roles)
    step = table["time_s"].diff()
    gaps = () if seamless else tuple(int(row) for row in (step.fill_null(0.0) >= 60.0).arg_true())
    return Log(
        source=f"{flight.scenario.tail} {begins:%Y-%m-%d}",
        tail=flight.scenario.tail,
        tail_from="metadata line",
        encoding="utf-8",
        delimiter=",",
        decimal_mark=".",
        header_row=1,
        units_row=None,
        rows_dropped=0,
        clock=Clock((), "simulated", begins.isoformat(), None, flight.scenario.recorder.period_s),
        columns=tuple(Column(role, role, ROLE_UNITS[role], None, 1.0, "simulated") for role in roles),
        unused=(),
        warnings=(),
        breaks=gaps,
        readings=Readings.of(table),
    )
