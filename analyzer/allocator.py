"""What glibc's allocator is told; the allocators of other systems are left as they are."""

from __future__ import annotations

import ctypes
import sys
from collections.abc import Mapping
from contextlib import suppress

#: From glibc's ``malloc.h``: how much free memory stays at the end of an area, and blocks of how much are asked of the
#: system one by one [bytes].
TRIMMED_FROM, APART_FROM = -1, -3
#: Where glibc itself ends once it was given back a block of 32 MB, the largest that it takes into account.
_MUCH_STAYS = {TRIMMED_FROM: 64 << 20, APART_FROM: 32 << 20}


def keep_freed_memory() -> bool:
    """Have memory that was given back used again; whether the system's library can.

    By itself glibc asks the system for new pages for the text of each log, and gives them back after it: to clear them
    takes up to a tenth of the time that it takes to add the log.
    """
    return tell_allocator(_MUCH_STAYS)


def tell_allocator(options: Mapping[int, int]) -> bool:
    """Set options of ``mallopt``; whether the system's library can."""
    if not sys.platform.startswith("linux"):
        return False
    with suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        return all(library.mallopt(option, value) for option, value in options.items())
    return False
