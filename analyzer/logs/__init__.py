"""A recorder's CSV becomes a ``Log``: find the logs behind some paths, read each.

>>> from analyzer.logs import find_logs, read_log   # doctest: +SKIP
>>> logs = [read_log(source) for source in find_logs(["flights/"])]   # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from analyzer.logs.log import GIVEN_ROLES, ROLE_UNITS, Clock, Column, Log, Refusal
from analyzer.logs.source import Source, find_logs

if TYPE_CHECKING:
    from analyzer.logs.read import read_log

__all__ = [
    "CLOCK_ROLES",
    "GIVEN_ROLES",
    "ROLE_UNITS",
    "Clock",
    "Column",
    "Log",
    "Refusal",
    "Source",
    "find_logs",
    "read_log",
]


def __getattr__(name: str) -> object:
    """Load the reader, and with it the heavy libraries, when it is first asked for."""
    if name == "read_log":
        from analyzer.logs.read import read_log

        return read_log
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
