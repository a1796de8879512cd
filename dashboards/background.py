"""Long work in the background: a request waits for it a while, and is answered without it then.

The threads are daemons, so that the program ends when it is asked to and not when they are done: what they change of
the records is changed whole or not at all.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from concurrent.futures import TimeoutError as LateError
from queue import SimpleQueue
from typing import Any, TypeVar

from analyzer.records.problems import RecordsError

T = TypeVar("T")
#: A request waits this long for work that is long [s], and no more than so many wait for one kind of it at once: all
#: kinds together leave some of the server's threads free.
PATIENCE_S, WAITING = 30.0, 24
#: Results that are held for who asked and has not fetched them yet, and for how long [s].
HELD, FRESH_S = 20, 60.0
#: Works that may wait for their turn, and those of one who asks.
MOST_WAITING, MOST_OF_ONE = 200, 12
TOO_MUCH_OF_ONE = "The server is busy with your other requests; try again in a few minutes."
TOO_MUCH = "The server is busy with requests that came before yours; try again in a few minutes."


class StillWorkingError(RecordsError):
    """What was asked for is being worked out; the text says so."""


class Workers:
    """Some daemon threads that do one work after the other."""

    def __init__(self, threads: int, name: str) -> None:
        self._queue: SimpleQueue[tuple[Future[Any], Callable[[], Any]] | None] = SimpleQueue()
        self._closed = False
        self._left, self._name = threads, name
        self._lock = threading.Lock()

    def submit(self, work: Callable[[], T]) -> Future[T]:
        """Have something done; what it gives or raises stands in the future.

        Raises
        ------
        StillWorkingError
            When too much waits already.
        """
        if self._queue.qsize() >= MOST_WAITING:
            raise StillWorkingError(TOO_MUCH)
        future: Future[T] = Future()
        self._queue.put((future, work))
        with self._lock:
            if self._left:
                self._left -= 1
                threading.Thread(target=self._run, name=self._name, daemon=True).start()
        return future

    def close(self) -> None:
        """Begin no more works."""
        self._closed = True
        self._queue.put(None)

    def _run(self) -> None:
        while not self._closed and (asked := self._queue.get()) is not None:
            future, work = asked
            if self._closed or not future.set_running_or_notify_cancel():
                continue
            try:
                future.set_result(work())
            except BaseException as problem:
                future.set_exception(problem)
        self._queue.put(None)  # for the next thread


class Once:
    """Long works that are each done once, however many ask for them."""

    def __init__(self, workers: Workers, says: str) -> None:
        self._workers, self._says = workers, says
        self._lock = threading.RLock()  # a work that is done at once notes its end while it is begun
        self._futures: OrderedDict[Hashable, Future[Any]] = OrderedDict()
        self._done_at: dict[Future[Any], float] = {}
        self._asked: list[tuple[str, Future[Any]]] = []  # who asked for what is not done yet
        self._seats = threading.Semaphore(WAITING)

    def get(self, key: Hashable, work: Callable[[], T], patience_s: float = PATIENCE_S, whose: str = "") -> T:
        """What a work gives, once it is done; it is begun when it is asked for first.

        ``whose`` is who asks, where one who asks for much is to keep nobody else waiting.

        Raises
        ------
        StillWorkingError
            When it is not done in time, it goes on; or when too much waits already.
        """
        with self._lock:
            future = self._futures.get(key)
            if future is None or self._is_old(future):
                self._asked = [(one, its) for one, its in self._asked if not its.done()]
                if whose and sum(one == whose for one, _ in self._asked) >= MOST_OF_ONE:
                    raise StillWorkingError(TOO_MUCH_OF_ONE)
                future = self._futures[key] = self._workers.submit(work)
                future.add_done_callback(self._note_end)
                self._asked.append((whose, future))
                while len(self._futures) > HELD:
                    self._done_at.pop(self._futures.popitem(last=False)[1], None)
        if not future.done():
            self._wait(future, patience_s)
        with self._lock:
            if self._futures.get(key) is future:
                del self._futures[key]
            self._done_at.pop(future, None)
        found: T = future.result()
        return found

    def _note_end(self, future: Future[Any]) -> None:
        with self._lock:
            if future in self._futures.values():
                self._done_at[future] = time.monotonic()

    def _is_old(self, future: Future[Any]) -> bool:
        """Whether it was done long ago and nobody fetched it."""
        ended = self._done_at.get(future)
        return ended is not None and time.monotonic() - ended > FRESH_S

    def _wait(self, future: Future[Any], patience_s: float) -> None:
        if not self._seats.acquire(blocking=False):
            raise StillWorkingError(self._says)
        try:
            future.exception(timeout=patience_s)
        except LateError:
            raise StillWorkingError(self._says) from None
        finally:
            self._seats.release()
