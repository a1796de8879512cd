"""One log worked on in a helper: where that is ended, the log is refused and the others go on."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar

from analyzer.corrections import Corrections, in_effect, put_in_effect
from analyzer.endable import DiedError, EndedError, Helper, StoppedError, memory_for, seconds_for
from analyzer.logs.log import Refusal
from analyzer.logs.source import Source

T = TypeVar("T")
#: A tail's trends may take as much as a log of this size [bytes].
WHOLE_TAIL = 500_000_000


def in_helper(helper: Helper, task: Callable[[Source | Refusal], T], source: Source | Refusal) -> T:
    """Do some work on one log in a helper, with limits that grow with the log.

    Parameters
    ----------
    helper : does it
    task : what is done with the log; given a refusal it gives that refusal in its own words
    source : the log; a refused one is worked on here

    Raises
    ------
    StoppedError
        When the program is being stopped.
    """
    if isinstance(source, Refusal):
        return task(source)
    size = source.size()
    limits: dict[str, Any] = {"seconds": seconds_for(size), "memory": memory_for(size)}
    apart = partial(judged_alike, in_effect(), partial(task, source))
    try:
        try:
            return helper.do(apart, **limits)
        except DiedError:
            sys.stderr.write("taper: a helper process died; what it did is done once more\n")
            return helper.do(apart, **limits)
    except StoppedError:
        raise
    except EndedError as ended:
        return task(Refusal(source.name, str(ended)))


def task_in_helper(helper: Helper, task: Callable[[], T], size: int = WHOLE_TAIL) -> T:
    """Do some work on what is kept in a helper, with the limits of a log of so many bytes.

    Raises
    ------
    EndedError
        When it took too long or too much, or the helper died.
    """
    apart = partial(judged_alike, in_effect(), task)
    return helper.do(apart, seconds=seconds_for(size), memory=memory_for(size))


def judged_alike(corrections: Corrections, task: Callable[[], T]) -> T:
    """Do something by the corrections of the program for which it is done."""
    put_in_effect(corrections)
    return task()
