"""The server's memory: what threads give back is used again, and not held for each thread apart."""

from __future__ import annotations

import ctypes
import sys
from contextlib import suppress

#: From glibc's ``malloc.h``: the number of an allocator's areas, and how much free memory stays at its end [bytes].
_AREAS, _TRIMMED_FROM = -8, -1
AREAS, TRIMMED_FROM = 2, 1_000_000


def keep_memory_together() -> bool:
    """Have all threads allocate from two areas, so that memory stays flat; whether the system's library can.

    By default glibc gives up to eight areas a processor to a program's threads, and each keeps the largest answer that
    was ever made there: under fifty people the server grew for as long as it was watched. Python's threads take turns,
    so that fewer areas keep none of them waiting.
    """
    if not sys.platform.startswith("linux"):
        return False
    with suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        return bool(library.mallopt(_AREAS, AREAS)) and bool(library.mallopt(_TRIMMED_FROM, TRIMMED_FROM))
    return False
