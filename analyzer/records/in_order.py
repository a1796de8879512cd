"""How work on many logs or tails is done: in order, in this process or in several."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol, TypeVar

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source

Item = TypeVar("Item")
Worked = TypeVar("Worked")


class OverLogs(Protocol):
    """Works on some logs, in order: in this process, or on all processors with progress."""

    def __call__(
        self, work: Callable[[Source | Refusal, Fleet], Worked], sources: list[Source | Refusal], fleet: Fleet, /
    ) -> Iterable[Worked]:
        """What ``work`` gives of each log."""


class OverTails(Protocol):
    """Works some tails out, in order: in this process, or on all processors with progress."""

    def __call__(self, work: Callable[[str, Fleet], Worked], names: list[str], fleet: Fleet, /) -> Iterable[Worked]:
        """What ``work`` gives of each tail."""


def one_by_one(work: Callable[[Item, Fleet], Worked], items: list[Item], fleet: Fleet) -> Iterator[Worked]:
    """Work on each, in order, in this process."""
    return (work(item, fleet) for item in items)
