"""What commands that take logs share: finding and reading them, the fleet file, and progress."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

from analyzer.aircraft import Fleet, read_fleet
from analyzer.allocator import keep_freed_memory
from analyzer.logs.log import Refusal
from analyzer.logs.remote import is_url
from analyzer.logs.source import Source, find_logs

if TYPE_CHECKING:
    from analyzer.endable import Helper

READ, REFUSED, USAGE = 0, 1, 2
S = TypeVar("S")
T = TypeVar("T")

#: Fewer logs than this are worked through in one process: starting more costs longer than they save.
FEW_LOGS = 12
#: Helpers that a command has started for all that it will do.
_AT_HAND: list[Helper] = []


def usage(message: str) -> int:
    """Say what is wrong with the call; the exit status."""
    sys.stderr.write(f"taper: {message}\n")
    return USAGE


def fleet_of(arguments: argparse.Namespace) -> Fleet:
    """The fleet file that was given, an empty fleet otherwise.

    Raises
    ------
    FleetFileError
        When the file cannot be used.
    """
    return read_fleet(Path(arguments.fleet)) if arguments.fleet else Fleet()


def fleet_beside_records(arguments: argparse.Namespace) -> tuple[Fleet, Path | None]:
    """The fleet file that was given, else the one kept with the records, and its path where it is that one.

    Raises
    ------
    FleetFileError
        When the file cannot be used.
    """
    from analyzer.records.place import FLEET, records_folder

    if arguments.fleet:
        return read_fleet(Path(arguments.fleet)), None
    beside = records_folder() / FLEET
    return (read_fleet(beside), beside) if beside.exists() else (Fleet(), None)


def find_named(paths: list[str]) -> list[Source | Refusal]:
    """The logs behind the paths and addresses of a call (``find_logs``)."""
    return find_logs(path if is_url(path) else Path(path) for path in paths)


def over_logs(
    work: Callable[[S, Fleet], T], sources: list[S], fleet: Fleet, doing: str = "Reading logs"
) -> Iterator[T]:
    """Do some work on every log (or tail), in order, on all processors when there are many; progress on a terminal.

    On many it is done in processes that can be ended: a log that takes one with it is refused, and the others go on.
    """
    keep_freed_memory()
    task: Callable[[S], T] = partial(_in_fleet, work=work, fleet=fleet)
    if len(sources) < FEW_LOGS:
        results: Iterator[T] = (task(source) for source in sources)
    else:  # helpers are started before the progress, which has a thread, so that they may be copies
        results = _in_pool(list(_AT_HAND) or _started(_workers_for(len(sources))), task, sources)
    yield from with_progress(results, len(sources), doing)


@contextmanager
def helpers_at_hand(logs: int) -> Iterator[None]:
    """Start now what ``over_logs`` will work with until the end, where there are many logs, and keep it for each call.

    While a command has no database open they may be copies of it (``fork_where_safe``); ``add`` soon holds one open.
    """
    _AT_HAND.extend(_started(_workers_for(logs)) if logs >= FEW_LOGS else ())
    try:
        yield
    finally:
        _close(_AT_HAND)
        _AT_HAND.clear()


def _workers_for(items: int) -> int:
    return min(os.cpu_count() or 1, items // (FEW_LOGS // 2))


def _started(workers: int) -> list[Helper]:
    from analyzer.endable import Helper, fork_where_safe

    helpers = [Helper() for _ in range(workers)]
    fork_where_safe(helpers)
    return helpers


def _close(helpers: list[Helper]) -> None:
    """End helpers, and put others in the place of those at hand: one that is closed does nothing any more."""
    from analyzer.endable import Helper

    for helper in helpers:
        helper.close()
    _AT_HAND[:] = [Helper() for _ in _AT_HAND]


def _in_pool(helpers: list[Helper], task: Callable[[S], T], sources: list[S]) -> Iterator[T]:
    from concurrent.futures import ThreadPoolExecutor

    free: SimpleQueue[Helper] = SimpleQueue()
    for helper in helpers:
        free.put(helper)
    pool, done = ThreadPoolExecutor(len(helpers)), False
    try:
        yield from pool.map(partial(_in_helper, free, task), sources)
        done = True
    finally:  # after an interrupt or a closed output nobody wants what is still being done
        if not done or not _AT_HAND:
            _close(helpers)
        pool.shutdown(wait=True, cancel_futures=True)


def _in_helper(free: SimpleQueue[Helper], task: Callable[[Any], T], source: S) -> T:
    """Work on one log, or one tail, in a helper that is free."""
    from analyzer.endable import EndedError, StoppedError
    from analyzer.logs.apart import in_helper, task_in_helper

    helper = free.get()
    try:
        if isinstance(source, (Source, Refusal)):
            return in_helper(helper, task, source)
        return task_in_helper(helper, partial(task, source))
    except StoppedError:
        raise
    except EndedError:
        return task(source)  # a tail is worked out here then
    finally:
        free.put(helper)


def _in_fleet(source: S, work: Callable[[S, Fleet], T], fleet: Fleet) -> T:
    return work(source, fleet)


def with_progress(results: Iterator[T], total: int, doing: str) -> Iterator[T]:
    """Pass results on, in order, with progress on a terminal where there are some."""
    if total < 3 or not sys.stderr.isatty():
        yield from results
        return
    from rich.console import Console
    from rich.progress import track

    terminal = Console(file=sys.__stderr__)  # it steers the terminal, and writes no word of a log
    yield from track(results, total=total, description=doing, console=terminal, transient=True)
