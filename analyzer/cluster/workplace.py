"""What a worker does with a batch of logs, and whether it is one whose results would be equal to this machine's.

Each log is worked on in a helper of the worker's, within the same limits of time and memory as on one machine.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import platform
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, partial
from importlib.metadata import version
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Generic, TypeVar

import numpy as np
import polars as pl
from scipy.special import ndtr

from analyzer import __version__
from analyzer.aircraft import Fleet
from analyzer.corrections import Corrections
from analyzer.endable import Helper
from analyzer.logs import Refusal, Source
from analyzer.logs.apart import in_helper, judged_alike

T = TypeVar("T")
ANALYZER = Path(__file__).parents[1]
#: What else the last digits of a result depend on.
LIBRARIES = ("numpy", "scipy", "polars", "scikit-learn")
#: Names of what they depend on beside what is installed.
MACHINE, CALCULATION = "processor", "calculation"
#: Helpers of this worker that have nothing to do; one for each batch that it works on at a time.
_FREE: SimpleQueue[Helper] = SimpleQueue()


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a worker must be and see."""

    versions: Mapping[str, str]
    paths: tuple[str, ...] = ()  # of this machine, where the logs are
    folder: str = ""  # of the records, where there are any
    token: str = ""  # name of a file in it that was made for this run


@dataclass(frozen=True, slots=True)
class Batch(Generic[T]):
    """Some logs, and what is done with each."""

    work: Callable[[Source | Refusal, Fleet], T]
    sources: Sequence[Source | Refusal]
    fleet: Fleet
    corrections: Corrections
    wanted: Wanted


class UnlikeError(Exception):
    """This worker is not one whose results would be equal; the text says why."""


@cache
def versions_here() -> dict[str, str]:
    """What a result's last digit depends on, by name.

    This program's version and code, Python's and libraries', the kind of machine, and what a fixed calculation comes to
    on it: libraries choose their code by the processor.
    """
    code = hashlib.sha256()
    for path in sorted(one for kind in ("*.py", "*.toml") for one in ANALYZER.rglob(kind)):
        code.update(path.read_bytes())
    told = {"taper": f"{__version__} (code {code.hexdigest()[:8]})", "python": platform.python_version()}
    told |= {name: version(name) for name in LIBRARIES}
    return told | {MACHINE: platform.machine(), CALCULATION: calculated_here()}


def calculated_here() -> str:
    """What a fixed calculation comes to in this process, to the last digit, as 16 letters of its hash.

    It is made of what reviews are made of: functions, sums, a fit by least squares, and a table's means.
    """
    x = np.arange(1, 4097) / 997.0
    functions = [np.exp(-x), np.log1p(x), np.sin(x), np.sqrt(x), x**0.3, ndtr(x - 2.0)]
    design = np.column_stack([np.ones_like(x), *functions[1:4]])
    terms, *_ = np.linalg.lstsq(design, functions[0], rcond=None)
    means = pl.Series(functions[2]).rolling_mean(25, min_samples=1).to_numpy()
    told = [*functions, terms, design.T @ design, means, np.array([x.std(), functions[0].sum(), pl.Series(x).std()])]
    return hashlib.sha256(b"".join(np.ascontiguousarray(one).tobytes() for one in told)).hexdigest()[:16]


def unlike_here(wanted: Wanted) -> str | None:
    """Why this process is not one to work for another; None where nothing speaks against it."""
    own = versions_here()
    if odd := [name for name, one in wanted.versions.items() if own.get(name) != one]:
        has, want = (", ".join(f"{name} {told.get(name)}" for name in odd) for told in (own, wanted.versions))
        because = f"it has {has} and this machine {want}, so its results would not be equal"
        if set(odd) <= {MACHINE, CALCULATION}:
            return f"{because} to the last digit; use workers whose processors calculate like this machine's"
        return f"{because}; install the same there"
    if multiprocessing.current_process().daemon:
        return (
            "it was started with a nanny, under which it may not start the processes that logs are read in; start it "
            "with --no-nanny"
        )
    if missing := [path for path in wanted.paths if not Path(path).exists()]:
        return f"it does not see {missing[0]}; give logs in a folder that all machines share under the same name"
    if wanted.folder and not (Path(wanted.folder) / wanted.token).exists():
        return (
            f"it does not see the records' folder {wanted.folder}, which all machines must share under the same name, "
            "and be allowed to write"
        )
    return None


def work_through(batch: Batch[T]) -> list[T]:
    """Do the work on each log of a batch, in order.

    Raises
    ------
    UnlikeError
        When this is not the place for it.
    """
    if because := unlike_here(batch.wanted):
        raise UnlikeError(because)
    task = partial(judged_alike, batch.corrections)
    with _helper() as helper:
        return [in_helper(helper, partial(_one, task, batch.work, batch.fleet), one) for one in batch.sources]


def _one(
    judged: Callable[[Callable[[], T]], T],
    work: Callable[[Source | Refusal, Fleet], T],
    fleet: Fleet,
    source: Source | Refusal,
) -> T:
    return judged(partial(work, source, fleet))


@contextmanager
def _helper() -> Iterator[Helper]:
    """A helper that is free, or one more."""
    try:
        helper = _FREE.get_nowait()
    except Empty:
        helper = Helper()
    try:
        yield helper
    finally:
        _FREE.put(helper)
