"""Each log is its own unit: whatever is raised while one is worked on refuses that one by name, and the rest goes on.

Also what is no ``Exception``: a panic in a compiled library (Polars' ``PanicException`` is a ``BaseException``), a
recursion too deep, no memory left. Only a wish to stop (Ctrl-C, the end of the program) goes through.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from analyzer.logs.log import Refusal, RefusedError
from analyzer.logs.source import Source

T = TypeVar("T")
#: What ends the whole program and not the work on one log.
STOPPING = (KeyboardInterrupt, SystemExit, GeneratorExit)
#: Longest part of a fault's own words in its sentence [characters].
MAX_REASON = 160
OURS = ("analyzer", "dashboards")


def whole_or_refused(source: str, work: Callable[[], T]) -> T | Refusal:
    """Give what some work on one log gives, or the refusal of that log with one sentence.

    Parameters
    ----------
    source : the log's name as the refusal gives it
    work : all that is done with the log; a ``RefusedError`` gives its own sentence
    """
    try:
        return work()
    except RefusedError as refused:
        return Refusal(source, str(refused))
    except STOPPING:
        raise
    except BaseException as fault:
        return Refusal(source, fault_sentence(fault))


def source_name(source: Source | Refusal) -> str:
    """The name of a log, found or refused."""
    return source.source if isinstance(source, Refusal) else source.name


def content_hash(source: Source | Refusal) -> str:
    """SHA-256 of a log's bytes; nothing of one that will be refused, with its sentence, where it is read."""
    if isinstance(source, Refusal):
        return ""
    found = whole_or_refused(source.name, source.content_hash)
    return "" if isinstance(found, Refusal) else found


def fault_sentence(fault: BaseException) -> str:
    """The sentence for a log on which the program itself fails, with the place for whoever mends it."""
    if isinstance(fault, MemoryError):
        return (
            "The log needs more memory than this machine has free; split it into shorter recordings. "
            "Other logs are not affected."
        )
    if isinstance(fault, OSError) and fault.strerror:
        return f"The log cannot be worked on here ({fault.strerror}); check its disk and rights. Other logs go on."
    told = " ".join(f"{type(fault).__name__}: {fault}".split())
    told = "".join(letter if letter.isprintable() else "?" for letter in told)
    told = told if len(told) <= MAX_REASON else told[:MAX_REASON] + " ..."
    return (
        f"The program met something in this log that it was not made for ({_place(fault)}: {told}); this is a fault of "
        "the program, not of the log: please report it with the log. Other logs are not affected."
    )


def _place(fault: BaseException) -> str:
    """The innermost line of ours that was at work."""
    frames = traceback.extract_tb(fault.__traceback__)
    own = [frame for frame in frames if set(Path(frame.filename).parts) & set(OURS)]
    if not (chosen := own or list(frames)):
        return "unknown place"
    return f"{Path(chosen[-1].filename).name}, line {chosen[-1].lineno}"
