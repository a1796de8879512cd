"""Keeping a folder in step: logs are added as they arrive."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from pathlib import Path

from analyzer.logs import Refusal, Source, find_logs

#: How often the folder is looked at [s].
EVERY_S = 5.0


def watch(
    paths: Iterable[Path],
    add: Callable[[list[Source | Refusal]], object],
    *,
    every_s: float = EVERY_S,
    going: Callable[[], bool] = lambda: True,
    looked: Callable[[], object] = lambda: None,
) -> None:
    """Add each log once it has stopped growing: same size and time of change at two looks in a row.

    Parameters
    ----------
    paths : folders and files to look at
    add : called with the logs that have arrived or changed
    every_s : time between looks [s]
    going : asked before each look; stops when it says no
    looked : called after each look
    """
    chosen = list(paths)
    seen: dict[str, str] = {}
    done: dict[str, str] = {}
    while going():
        arrived: list[Source | Refusal] = []
        for source in find_logs(chosen):
            if isinstance(source, Refusal):
                continue  # nothing there yet
            if not (mark := source.mark()):
                continue
            if seen.get(source.name) == mark and done.get(source.name) != mark:
                arrived.append(source)
                done[source.name] = mark
            seen[source.name] = mark
        if arrived:
            add(arrived)
        looked()
        time.sleep(every_s)
