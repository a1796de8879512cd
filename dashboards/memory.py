"""The server's memory: what threads give back is used again, and not held for each thread apart."""

from __future__ import annotations

import gc

from analyzer.allocator import TRIMMED_FROM, tell_allocator

#: From glibc's ``malloc.h``: the number of an allocator's areas.
_AREAS = -8
#: Areas, and how much free memory stays at the end of each [bytes].
AREAS, STAYS = 2, 1_000_000
#: Objects that are made between two looks for garbage: few, as by Python itself, for a server lives long.
BETWEEN_LOOKS = 700


def keep_memory_together() -> bool:
    """Have all threads allocate from two areas, so that memory stays flat; whether the system's library can.

    By default glibc gives up to eight areas a processor to a program's threads, and each keeps the largest answer that
    was ever made there: under fifty people the server grew for as long as it was watched. Python's threads take turns,
    so that fewer areas keep none of them waiting. What questions leave behind in rings is looked for as usual.
    """
    gc.set_threshold(BETWEEN_LOOKS)
    return tell_allocator({_AREAS: AREAS, TRIMMED_FROM: STAYS})
