"""Logs made in memory from simulated flights, as the reader would give them."""

from __future__ import annotations

import polars as pl

from analyzer.logs.log import ROLE_UNITS, Clock, Column, Log
from analyzer.logs.readings import Readings
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.as_log import as_log


def log_of(scenario: Scenario) -> Log:
    """A simulated flight as if its file had been read."""
    return as_log(simulate(scenario))


def log_from(table: pl.DataFrame, tail: str | None = None) -> Log:
    """A log whose table is this; without a clock."""
    if "clock" not in table.columns:
        table = table.with_columns(clock=pl.lit(None, dtype=pl.Datetime("us")))
    roles = [name for name in table.columns if name in ROLE_UNITS]
    columns = tuple(Column(role, role, ROLE_UNITS[role], None, 1.0, "made") for role in roles)
    clock = Clock((), "made", None, None, 1.0)
    return Log("made", tail, None, "utf-8", ",", ".", 1, None, 0, clock, columns, (), (), (), Readings.of(table))
