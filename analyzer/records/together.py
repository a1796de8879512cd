"""Keeping what comes one after the other in few transactions: one costs as much for many as for one."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TypeVar

T = TypeVar("T")
#: What comes within so long, and the next one, is kept together [s]; where power fails it is lost and worked out again.
TOGETHER_S = 1.0


@contextmanager
def kept_together(keep: Callable[[list[T]], object], most: int = sys.maxsize) -> Iterator[Callable[[T], None]]:
    """Give what keeps one after the other: those of a moment together, ``most`` at a time, and at the end the rest.

    When that fails, or the work is stopped, each of those that are not kept yet is kept by itself, as far as it can be.
    """
    waiting: list[T] = []
    since = monotonic()

    def take(one: T) -> None:
        nonlocal since
        waiting.append(one)
        if len(waiting) >= most or monotonic() - since >= TOGETHER_S:
            keep(waiting)
            waiting.clear()
            since = monotonic()

    try:
        yield take
        if waiting:
            keep(waiting)
    except BaseException:
        for one in waiting:
            keep([one])
        raise
