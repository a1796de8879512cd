"""What commands that take logs share: finding and reading them, the fleet file, and progress."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from analyzer.aircraft import Fleet, read_fleet

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing.context import BaseContext

    from analyzer.corrections import Corrections
    from analyzer.logs import Log, Refusal, Source

READ, REFUSED, USAGE = 0, 1, 2
S = TypeVar("S")
T = TypeVar("T")

#: Fewer logs than this are worked through in one process: starting more costs longer than they save.
FEW_LOGS = 12


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


def read_with(source: Source | Refusal, fleet: Fleet, mapped: Mapping[str, str]) -> Log | Refusal:
    """Read a log, with the columns that the fleet file maps for its tail and, before them, those of the call."""
    from analyzer.logs import Log, read_log

    log = read_log(source, columns=mapped)
    if isinstance(log, Log) and (columns := fleet.of(log.tail).columns):
        return read_log(source, columns={**columns, **mapped})
    return log


def over_logs(
    work: Callable[[S, Fleet], T], sources: list[S], fleet: Fleet, doing: str = "Reading logs"
) -> Iterator[T]:
    """Do some work on every log (or tail), in order, on all processors when there are many; progress on a terminal."""
    from functools import partial

    from analyzer.corrections import in_effect

    task: Callable[[S], T] = partial(_in_fleet, work=work, fleet=fleet)
    if len(sources) < FEW_LOGS:
        yield from _with_progress((task(source) for source in sources), len(sources), doing)
        return
    from concurrent.futures import ProcessPoolExecutor

    sys.stdout.flush()  # or a forked helper would write what is still buffered once more
    workers = min(os.cpu_count() or 1, len(sources) // (FEW_LOGS // 2))
    with _one_thread_each():
        pool = ProcessPoolExecutor(workers, mp_context=_context(), initializer=_begin_helper, initargs=(in_effect(),))
        try:
            yield from _with_progress(_kept_going(pool, task, sources), len(sources), doing)
        except BaseException:  # after an interrupt or a closed output nobody wants what is still being done
            for process in list((getattr(pool, "_processes", None) or {}).values()):
                process.terminate()
            raise
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _kept_going(pool: ProcessPoolExecutor, task: Callable[[S], T], sources: list[S]) -> Iterator[T]:
    """Results in order; when a process of the pool dies, the rest is done in this one."""
    from concurrent.futures.process import BrokenProcessPool

    done = 0
    try:
        for result in pool.map(task, sources, chunksize=4):
            yield result
            done += 1
    except BrokenProcessPool:
        sys.stderr.write("taper: a helper process died; going on in one process\n")
        yield from map(task, sources[done:])


def _begin_helper(corrections: Corrections) -> None:
    """Leave interrupts to the parent, and judge as it does."""
    from analyzer.corrections import put_in_effect

    put_in_effect(corrections)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)


def _context() -> BaseContext:
    """Fork where that is safe, since it starts sooner: as long as no library with threads has been loaded."""
    import multiprocessing

    forkable = "fork" in multiprocessing.get_all_start_methods() and not {"polars", "numpy"} & sys.modules.keys()
    return multiprocessing.get_context("fork" if forkable else "spawn")


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Let each process use one thread: together they already fill the processors."""
    names = ("POLARS_MAX_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")
    before = {name: os.environ.get(name) for name in names}
    os.environ.update(dict.fromkeys(names, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def _in_fleet(source: S, work: Callable[[S, Fleet], T], fleet: Fleet) -> T:
    return work(source, fleet)


def _with_progress(results: Iterator[T], total: int, doing: str) -> Iterator[T]:
    if total < 3 or not sys.stderr.isatty():
        yield from results
        return
    from rich.console import Console
    from rich.progress import track

    terminal = Console(file=sys.__stderr__)  # it steers the terminal, and writes no word of a log
    yield from track(results, total=total, description=doing, console=terminal, transient=True)
