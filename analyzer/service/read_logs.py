"""One log read with the columns that are known of its aircraft."""

from __future__ import annotations

from collections.abc import Mapping

from analyzer.aircraft import Fleet
from analyzer.logs import Log, Refusal, Source, read_log


def read_with(source: Source | Refusal, fleet: Fleet, mapped: Mapping[str, str]) -> Log | Refusal:
    """Read a log, with the columns that the fleet file maps for its tail and, before them, those of the call."""
    log = read_log(source, columns=mapped)
    if isinstance(log, Log) and (columns := fleet.of(log.tail).columns):
        return read_log(source, columns={**columns, **mapped})
    return log
