"""Work in a process of its own that can be ended: when it takes too long or too much memory, or dies.

A thread cannot be ended, and a library that asks for all memory takes its whole process with it. So whatever is done
with files that come from outside is done in a helper, one task at a time; the program itself goes on.
"""

from __future__ import annotations

import contextlib
import gc
import os
import pickle
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from analyzer.allocator import keep_freed_memory

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.context import ForkContext, ForkServerContext, SpawnContext
    from multiprocessing.process import BaseProcess

T = TypeVar("T")
#: Shortest and longest time from one look at a helper at work to the next [s].
LOOKING_SHORTEST_S, LOOKING_LONGEST_S = 0.02, 0.25
#: How fast a process fills memory [bytes/s]: one far from its limit is left alone. Ours: measured were 2e9 to 3e9 in
#: pages of 4 kB, and up to 9.6e9 in those of 2 MB that NumPy asks for.
FILLED_PER_S = 1e10
#: Longest time that a helper may take to start on a busy machine [s].
STARTING_S = 120.0
#: Longest time for which closing a helper waits for one that is just being started [s].
CLOSING_S = 3.0
#: Fixed time of work and memory of a log, and what they grow by: a recording of 120 MB takes 350 MB and some 20 s.
LOG_S, LOG_S_PER_MB = 20.0, 0.5
LOG_BYTES, LOG_BYTES_PER_BYTE = 400_000_000, 4.0
#: Of that a helper may begin with so much as a copy of a program; a list of few logs apart that holds 40 to 120 MB.
MOST_COPIED_BYTES = LOG_BYTES // 2
#: On a machine that has other things to do a task may last this many times as long as it may work.
BUSY = 10.0
#: Of a helper's environment: one thread each, since together helpers already fill the processors; and no module from
#: the folder that the program was called in, which may hold another ``analyzer``, or anything.
_OF_A_HELPER = {
    "POLARS_MAX_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONSAFEPATH": "1",
}  # fmt: skip

#: The module that the process loads from which helpers are forked.
PRELOADED = "analyzer.preloaded"
#: Libraries with threads or connections of their own, which a process that was forked cannot use.
NOT_TO_BE_FORKED = frozenset({"polars", "psycopg"})

_STARTING = threading.Lock()


class EndedError(Exception):
    """A helper was ended, or ended itself, before its task was done; the text says why in one sentence."""


def seconds_for(size: int) -> float:
    """Give the time that a log of some bytes may be worked on [s]."""
    return LOG_S + LOG_S_PER_MB * size / 1e6


def memory_for(size: int) -> int:
    """Give the memory that a log of some bytes may take [bytes]."""
    return int(LOG_BYTES + LOG_BYTES_PER_BYTE * size)


class StoppedError(EndedError):
    """The helper was closed, for the program is being stopped; nobody waits for the task any more."""

    def __init__(self) -> None:
        super().__init__("The program is being stopped.")


class DiedError(EndedError):
    """The helper died; whether of its task or because somebody ended it is not known."""


class Helper:
    """One process that does one task at a time; started when first needed, and anew after it was ended."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._closed = False

    def do(self, task: Callable[[], T], *, seconds: float, memory: int) -> T:
        """Do one task in the helper and give what it gives; what it raises is raised here.

        Parameters
        ----------
        task : can be pickled, as can what it gives
        seconds : how long it may work, by the processor's time where the system tells that
        memory : how much it may hold [bytes]

        Raises
        ------
        EndedError
            When it took longer or more, or the helper died.
        """
        with self._lock:
            if self._closed:
                raise StoppedError
            try:
                pipe, process = self._started()
                pipe.send_bytes(pickle.dumps(task))
                self._wait(pipe, process, seconds, memory)
                done, result = pickle.loads(pipe.recv_bytes())
            except (EOFError, OSError) as problem:
                self._end()
                if self._closed:
                    raise StoppedError from problem
                raise DiedError(
                    "The process that read it came to a sudden end, as when memory runs out; split it into shorter "
                    "recordings, or report it. Other logs are not affected."
                ) from problem
            except BaseException:
                self._end()
                raise
            if _held(process.pid or 0) > LOG_BYTES:
                self._end()  # what it still holds is given back only so
        if not done:
            raise result
        given: T = result
        return given

    def close(self) -> None:
        """End the helper, whatever it is doing, and start none any more."""
        self._closed = True
        # one that is left half started complains of it where all may read
        waited = _STARTING.acquire(timeout=CLOSING_S)
        with contextlib.suppress(AttributeError, ValueError, OSError):  # it is being ended just now
            if (process := self._process) is not None and process.is_alive():  # a dead one's number may be another's
                process.kill()
        if waited:
            _STARTING.release()

    def fork(self) -> None:
        """Start it as a copy of this very process (``fork_where_safe``)."""
        mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})  # till the copy has stopped listening to it
        try:
            with self._lock, contextlib.suppress(EndedError, OSError, EOFError):  # else it is started when needed
                self._started(get_context("fork"))
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)

    def _started(
        self, context: ForkContext | ForkServerContext | SpawnContext | None = None
    ) -> tuple[Connection, BaseProcess]:
        if self._process is None or self._pipe is None or not self._process.is_alive():
            self._end()
            parent = None if context is None else os.getpid()
            context = _context() if context is None else context
            self._pipe, theirs = context.Pipe()
            process = context.Process(target=_serve, args=(theirs, parent), daemon=True)
            with _STARTING, _environment():
                if self._closed:
                    raise EOFError
                process.start()
                self._process = process  # not before: one that never began can be neither ended nor waited for
            theirs.close()
            if self._closed:
                raise EOFError
            if not self._pipe.poll(STARTING_S):
                self._end()
                raise EndedError("The process that reads logs could not be started in time; try again.")
            self._pipe.recv_bytes()
        return self._pipe, self._process

    def _wait(self, pipe: Connection, process: BaseProcess, seconds: float, memory: int) -> None:
        """Wait for an answer, within the limits."""
        began, worked, held = time.monotonic(), _worked(process.pid or 0), _held(process.pid or 0)
        took = 0.0
        while not pipe.poll(_until_next_look(memory - held, seconds - took)):
            held = _held(process.pid or 0)
            if held > memory:
                raise EndedError(
                    f"Reading it takes more than the {memory / 1e6:,.0f} MB of memory that a log of its size may take; "
                    "split it into shorter recordings. Other logs are not affected."
                )
            lasted = time.monotonic() - began
            took = lasted if worked is None else (_worked(process.pid or 0) or 0.0) - worked
            if took > seconds or lasted > BUSY * seconds:
                raise EndedError(
                    f"Reading it takes longer than the {seconds:,.0f} s that a log of its size may take; split it into "
                    "shorter recordings. Other logs are not affected."
                )

    def _end(self) -> None:
        if self._process is not None:
            if self._process.is_alive():
                self._process.kill()
            self._process.join(5)
            self._process = None
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None


def fork_where_safe(helpers: Iterable[Helper]) -> None:
    """Start helpers as copies of this process, where it has no other thread and nothing open that copies would share.

    That saves loading all that they need once more, which takes as long as reviewing ten logs. A helper that is
    started later, in the place of one that died, comes from the process made for it; and so does each where this one
    holds much, such as a list of a million logs, which would be taken for what the helper's own log needs.
    """
    if (
        sys.platform == "linux"
        and threading.active_count() == 1
        and NOT_TO_BE_FORKED.isdisjoint(sys.modules)
        and not _holds_a_database()
    ):
        import_module(PRELOADED)
        if _held(os.getpid()) < MOST_COPIED_BYTES:
            for helper in helpers:
                helper.fork()


def _holds_a_database() -> bool:
    """Whether this process has a SQLite file open: what it knows of locks on it would mislead a copy of it."""
    for descriptor in Path("/proc/self/fd").iterdir():
        with contextlib.suppress(OSError):  # that of the list itself is closed by now
            if ".sqlite" in descriptor.readlink().name:
                return True
    return False


@cache
def _context() -> SpawnContext | ForkServerContext:
    """How helpers are started: where it is safe forked from one small process that has loaded what they all need."""
    if sys.platform != "linux":  # macOS's own libraries do not stand being forked; Windows forks nothing
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload([PRELOADED])
    return context


def _until_next_look(bytes_left: int, seconds_left: float) -> float:
    """Give the time after which a helper that may take so much more can have taken all of either [s]."""
    return min(LOOKING_LONGEST_S, max(LOOKING_SHORTEST_S, min(bytes_left / FILLED_PER_S, seconds_left)))


def _held(process: int) -> int:
    """Memory that a process holds [bytes]; 0 where the system does not tell."""
    try:
        pages = int(_told_by_system(process, "statm").split()[1])
    except (OSError, ValueError, IndexError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")


def _worked(process: int) -> float | None:
    """The processor's time that a process has taken [s]; None where the system does not tell."""
    try:
        told = _told_by_system(process, "stat").rsplit(b")", 1)[1].split()
        return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, ValueError, IndexError):
        return None


def _told_by_system(process: int, what: str) -> bytes:
    """What the system tells of a process, in bytes: as a text file it takes three times as long, and every log asks.

    Raises
    ------
    OSError
        When there is no such process, or the system tells nothing.
    """
    descriptor = os.open(f"/proc/{process}/{what}", os.O_RDONLY)
    try:
        return os.read(descriptor, 4096)
    finally:
        os.close(descriptor)


def _serve(pipe: Connection, parent: int | None) -> None:
    """What a helper does: one task after the other, until the program that it was started for is gone.

    ``parent`` is that program where this is its copy, which holds both ends of the pipe and so is not told by that.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with, args=(parent or os.getppid(),), daemon=True).start()
    keep_freed_memory()
    gc.freeze()  # what is loaded by now is never garbage, and need not be looked through for some
    pipe.send_bytes(b"ready")
    with contextlib.suppress(EOFError, OSError):
        while True:
            task = pickle.loads(pipe.recv_bytes())
            pipe.send_bytes(_answer(task))


def _answer(task: Callable[[], Any]) -> bytes:
    try:
        return pickle.dumps((True, task()))
    except Exception as problem:
        with contextlib.suppress(Exception):
            return pickle.dumps((False, problem))
        return pickle.dumps((False, EndedError(f"{type(problem).__name__}: {problem}")))


def _end_with(parent: int) -> None:
    """End when what started this helper has ended without a word: the program, or the process it was forked from."""
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)


@contextmanager
def _environment() -> Iterator[None]:
    before = {name: os.environ.get(name) for name in _OF_A_HELPER}
    os.environ.update(_OF_A_HELPER)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
