"""How some logs are worked on: in order, in this process or in several."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol, TypeVar

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source

Worked = TypeVar("Worked")


class OverLogs(Protocol):
    """Works on some logs, in order: in this process, or on all processors with progress."""

    def __call__(
        self, work: Callable[[Source | Refusal, Fleet], Worked], sources: list[Source | Refusal], fleet: Fleet, /
    ) -> Iterable[Worked]:
        """What ``work`` gives of each log."""


def one_after_the_other(
    work: Callable[[Source | Refusal, Fleet], Worked], sources: list[Source | Refusal], fleet: Fleet
) -> Iterator[Worked]:
    """Work on some logs, in order, in this process."""
    return (work(source, fleet) for source in sources)
