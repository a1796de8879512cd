"""A log's readings as arrays, and as a table where somebody asks for one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from msgspec import Struct

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

OF_TIME = ("time_s", "clock")


class Readings(Struct, frozen=True, dict=True):
    """Readings row by row. A review needs no table of them, and loading Polars takes as long as reviewing ten logs."""

    time_s: NDArray[np.float64]  # seconds from the first row, strictly increasing
    clock: NDArray[np.datetime64] | None  # what the clock read [us], NaT where unknown; None where nothing is known
    channels: Mapping[str, NDArray[Any]]  # one a role, in the units of ``ROLE_UNITS``; NaN is a missing reading

    @classmethod
    def of(cls, table: pl.DataFrame) -> Readings:
        """The readings of a table as ``table`` gives it."""
        channels = {name: table[name].to_numpy() for name in table.columns if name not in OF_TIME}
        clock = table["clock"].to_numpy() if "clock" in table.columns else None
        readings = cls(table["time_s"].to_numpy(), clock, channels)
        readings.__dict__["table"] = table
        return readings

    @property
    def first_clock(self) -> datetime | None:
        """What the clock read in the first row."""
        first: datetime | None = None if self.clock is None else self.clock[0].item()
        return first

    @cached_property
    def table(self) -> pl.DataFrame:
        """``time_s`` and ``clock`` (naive Datetime, null where unknown), and a column a role, null for missing."""
        import polars as pl

        if self.clock is None:
            clock_read = pl.Series("clock", [None], dtype=pl.Datetime("us")).new_from_index(0, len(self.time_s))
        else:
            clock_read = pl.Series("clock", self.clock)
        columns = [pl.Series("time_s", self.time_s), clock_read]
        for role, values in self.channels.items():
            columns.append(pl.Series(role, values, nan_to_null=bool(np.isnan(values).any())))
        return pl.DataFrame(columns)
