"""What of the logs that wait to be kept is in the records already: asked once for each, not at every look."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analyzer.records.copies import FlightOfLog
from dashboards.staging import Staged

#: What was asked just now holds though the records have changed meanwhile, as beside an import they always do [s].
FRESH_S = 10.0
#: Logs that answers are held for: those of some large archives.
AT_HAND = 20_000


@dataclass(frozen=True, slots=True)
class Here:
    """What is kept of one log that was brought in."""

    same: bool = False  # whether its very bytes are kept
    flights: tuple[FlightOfLog, ...] = ()  # of those bytes, else those flown at its times
    marks: tuple[Any, ...] = ()  # of the records when it was asked
    asked: float = 0.0  # when [s]


class HereAlready:
    """What was asked of the records, for everybody."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._found: OrderedDict[Hashable, Here] = OrderedDict()

    def of(
        self,
        staged: Sequence[Staged],
        marks: tuple[Any, ...],
        same_bytes: Callable[[Sequence[str]], Mapping[str, Sequence[FlightOfLog]]],
        flown_then: Callable[[Staged], Sequence[FlightOfLog]],
    ) -> dict[str, Here]:
        """What is kept of each, by its key; those that are still being read are left out.

        Parameters
        ----------
        staged : the logs
        marks : of the records as they are
        same_bytes : gives the flights of those of some logs that are kept, by the SHA-256 of each
        flown_then : gives the kept flights that are in a log as well
        """
        now = time.monotonic()
        read = [one for one in staged if one.digest]
        with self._lock:
            held = {one.key: self._found.get(_what(one)) for one in read}
        told = {key: here for key, here in held.items() if here and (here.marks == marks or now - here.asked < FRESH_S)}
        if ask := [one for one in read if one.key not in told]:
            kept = same_bytes([one.digest for one in ask])
            for one in ask:
                same = one.digest in kept
                told[one.key] = Here(same, tuple(kept[one.digest] if same else flown_then(one)), marks, now)
            with self._lock:
                self._found |= {_what(one): told[one.key] for one in ask}
                while len(self._found) > AT_HAND:
                    self._found.popitem(last=False)
        return told


def _what(one: Staged) -> Hashable:
    """What an answer holds for: the log as it was read, under the tail that it has now."""
    return one.key, one.digest, one.tail, one.flights
