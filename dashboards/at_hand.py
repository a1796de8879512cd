"""Answers held at hand for everybody who asks, while nothing that they rest on has changed."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class AtHand(Generic[T]):
    """Answers by what was asked, each with the marks of what it rests on; those asked for last stay.

    Parameters
    ----------
    most
        How many are held.
    always
        What is held beside these, however much else is asked.
    """

    def __init__(self, most: int, always: frozenset[Hashable] = frozenset()) -> None:
        self._most, self._kept_always = most, always
        self._lock = threading.Lock()
        self._always: dict[Hashable, tuple[Hashable, T]] = {}
        self._others: OrderedDict[Hashable, tuple[Hashable, T]] = OrderedDict()

    def get(self, asked: Hashable, marks: Hashable) -> T | None:
        """An answer; None where it is not held, or something has changed since."""
        with self._lock:
            if asked in self._others:
                self._others.move_to_end(asked)
            held = self._always.get(asked) or self._others.get(asked)
            return held[1] if held is not None and held[0] == marks else None

    def hold(self, asked: Hashable, marks: Hashable, found: T) -> T:
        """Hold an answer, in place of an earlier one to the same question."""
        with self._lock:
            if asked in self._kept_always:
                self._always[asked] = marks, found
                return found
            self._others[asked] = marks, found
            self._others.move_to_end(asked)
            while len(self._others) > self._most:
                self._others.popitem(last=False)
        return found
