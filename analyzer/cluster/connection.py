"""A cluster that was named by its address: reached, checked, and given logs in batches, whose results come in order."""

from __future__ import annotations

import contextlib
import hashlib
import logging
import pickle
import secrets
import time
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from analyzer.aircraft import Fleet
from analyzer.cluster.problems import KEPT, ClusterError
from analyzer.cluster.workplace import Batch, UnlikeError, Wanted, versions_here, work_through
from analyzer.corrections import in_effect
from analyzer.logs import Refusal, Source

T = TypeVar("T")
#: How long a scheduler, and then a first worker, may take to answer [s].
ANSWER_S = 10.0
#: How often the cluster is looked after while a batch is waited for [s].
LOOKING_S = 2.0
#: Without any worker for so long, nothing is waited for any more [s].
ALONE_S = 60.0
#: A batch holds so many logs and bytes at most: some seconds of work, which is what a lost worker costs.
BATCH_LOGS, BATCH_BYTES = 16, 32_000_000
#: Batches given out for each thread of the workers.
AHEAD = 4
MISSING = (
    "--cluster needs a library that is not installed. In this project's checkout, here and on every worker: "
    "pip install '.[cluster]'"
)


@contextmanager
def connected(address: str, paths: Sequence[str] = (), folder: Path | None = None) -> Iterator[Cluster]:
    """Reach a cluster, and check that its workers give results equal to this machine's.

    Parameters
    ----------
    address : of the scheduler
    paths : of this machine, which workers must see
    folder : the records', which they must see and write

    Raises
    ------
    ClusterError
        When it cannot be reached or used, or the folder cannot be written.
    """
    client = _reached(address)
    token = None if folder is None else folder / f".cluster-{secrets.token_hex(8)}"
    try:
        if token is not None:
            _begun(token)
        seen = {path.parent: str(path) for path in map(_full, paths) if path.exists()}  # one of a folder stands for all
        told = tuple(seen.values())
        wanted = Wanted(versions_here(), told, str(folder.absolute()) if folder else "", token.name if token else "")
        yield Cluster(client, address, wanted)
    finally:
        if token is not None:
            token.unlink(missing_ok=True)
        client.close()


def _full(path: str) -> Path:
    return Path(path).absolute()


def _begun(token: Path) -> None:
    """Make the file by which workers know that they see the same folder."""
    try:
        token.touch()
    except OSError as problem:
        raise ClusterError(f"The folder {token.parent} cannot be written ({problem.strerror}).") from problem


def _reached(address: str) -> Any:
    try:
        from distributed import Client
    except ModuleNotFoundError as problem:
        raise ClusterError(MISSING) from problem
    for name in ("distributed", "distributed.client", "tornado", "asyncio"):
        logging.getLogger(name).setLevel(logging.CRITICAL)  # what matters of it is said here
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # on versions: they are held against each other here
            client = Client(address, timeout=ANSWER_S, set_as_default=False)
    except OSError as problem:
        raise ClusterError(
            f"No cluster answers at {address} within {ANSWER_S:.0f} s ({_told(problem)}). Start its scheduler with: "
            "dask scheduler; it prints the address."
        ) from problem
    except (ValueError, TypeError, RuntimeError) as problem:
        raise ClusterError(
            f"The address {address} of a cluster cannot be used ({_told(problem)}); one reads like tcp://10.0.0.5:8786"
        ) from problem
    return client


def _told(problem: Exception) -> str:
    """A fault's own words, short."""
    return " ".join(str(problem).split())[:160] or type(problem).__name__


@dataclass(frozen=True, slots=True)
class _Given:
    """A batch that was given out, and what it will come to."""

    batch: Batch[Any]
    future: Any


class Cluster:
    """The workers of one scheduler, whose results equal this machine's."""

    def __init__(self, client: Any, address: str, wanted: Wanted) -> None:
        self._client, self._address, self._wanted = client, address, wanted
        self._threads = self._checked()

    def over(
        self, work: Callable[[Source | Refusal, Fleet], T], sources: list[Source | Refusal], fleet: Fleet, /
    ) -> Iterator[T]:
        """Do some work on every log, in order (``in_order.OverLogs``).

        A batch whose worker is lost is done by another; one that loses worker after worker is done here.

        Raises
        ------
        ClusterError
            When the cluster went away, or a worker is not alike or cannot write; what came before stands.
        """
        corrections = in_effect()
        left = (Batch(work, some, fleet, corrections, self._wanted) for some in self._batches(sources))
        given: deque[_Given] = deque()
        try:
            while True:
                while len(given) < AHEAD * self._threads and (batch := next(left, None)) is not None:
                    given.append(self._give(batch))
                if not given:
                    return
                yield from self._result(given.popleft())
        finally:
            for one in given:
                one.future.cancel()

    def _batches(self, sources: list[Source | Refusal]) -> Iterator[list[Source | Refusal]]:
        """Logs that follow each other, few enough together that each thread of the workers gets several batches."""
        most = max(1, min(BATCH_LOGS, len(sources) // (AHEAD * self._threads)))
        some: list[Source | Refusal] = []
        held = 0
        for source in sources:
            one = source.from_any_folder() if isinstance(source, Source) else source
            size = one.size() if isinstance(one, Source) else 0
            if some and (len(some) == most or held + size > BATCH_BYTES):
                yield some
                some, held = [], 0
            some.append(one)
            held += size
        if some:
            yield some

    def _give(self, batch: Batch[Any]) -> _Given:
        """Give a batch out, under a key that is that of its logs and work: the same again is the same task."""
        key = f"taper-{hashlib.sha256(pickle.dumps(batch)).hexdigest()[:32]}"
        return _Given(batch, self._client.submit(work_through, batch, key=key))

    def _result(self, given: _Given) -> list[Any]:
        from distributed import KilledWorker

        try:
            self._wait_for(given.future)
            return list(given.future.result())
        except ClusterError:
            raise
        except CancelledError as problem:
            raise ClusterError(f"The scheduler at {self._address} went away. {KEPT}.") from problem
        except KilledWorker:
            return work_through(given.batch)
        except UnlikeError as problem:
            raise ClusterError(f"A worker of {self._address} cannot be used: {problem}.") from problem
        except Exception as problem:
            reason = f"{type(problem).__name__}: {_told(problem)}"
            raise ClusterError(f"The work on the cluster at {self._address} ended ({reason}). {KEPT}.") from problem

    def _wait_for(self, future: Any) -> None:
        """Wait until a batch is done or failed.

        Raises
        ------
        ClusterError
            When there has been no worker, or no scheduler, for too long.
        """
        from distributed import wait

        seen = time.monotonic()
        while not future.done():
            try:
                with self._client.as_current():
                    wait([future], timeout=LOOKING_S)
            except TimeoutError:
                seen = time.monotonic() if self._workers() else seen
            if time.monotonic() - seen > ALONE_S:
                raise ClusterError(
                    f"The cluster at {self._address} has had no worker for {ALONE_S:.0f} s. {KEPT} once workers "
                    "are started."
                )

    def _workers(self) -> dict[str, Any]:
        return dict(self._client.scheduler_info(n_workers=-1)["workers"])

    def _checked(self) -> int:
        """How many threads the workers have together, once each was found to be alike.

        Raises
        ------
        ClusterError
            When there is none, or one that is not.
        """
        with contextlib.suppress(TimeoutError):
            self._client.wait_for_workers(1, timeout=ANSWER_S)
        told = self._client.run(_asked(), self._wanted, on_error="return")
        told = {worker: one for worker, one in told.items() if not isinstance(one, OSError)}  # it has just gone away
        if not told:
            raise ClusterError(
                f"The cluster at {self._address} has no worker. Start some with: dask worker {self._address} --no-nanny"
            )
        for worker, because in sorted(told.items()):
            if isinstance(because, Exception):
                because = "it has no taper, or another version, so its results would not be equal; install the same"
            if because is not None:
                raise ClusterError(f"The worker {worker} cannot be used: {because}.")
        return sum(int(one["nthreads"]) for one in self._workers().values()) or 1


def _asked() -> Callable[[Wanted], str | None]:
    """What each worker is asked; sent as it is, for a worker may have no taper."""

    def unlike(wanted: Wanted) -> str | None:
        from analyzer.cluster.workplace import unlike_here

        return unlike_here(wanted)

    return unlike
