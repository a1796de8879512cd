"""The option that lets a cluster work on the logs, in place of this machine's processors."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from analyzer.aircraft import Fleet
from analyzer.commands.logs import over_logs, with_progress
from analyzer.logs.log import Refusal
from analyzer.logs.remote import is_url
from analyzer.logs.source import Source

if TYPE_CHECKING:
    from analyzer.cluster.connection import Cluster
    from analyzer.records.in_order import OverLogs

T = TypeVar("T")
HELP = """\
Many machines (pip install '.[cluster]' on each, the same version of everything): --cluster lets the workers of a
Dask cluster do what this machine's processors would, with results equal to the last digit and in the same order. A
worker with other versions, or whose processor brings another last digit into a trial calculation, is refused.

  dask scheduler                                     on one machine; it prints its address
  dask worker tcp://10.0.0.5:8786 --no-nanny         once on each of the others: all its processors
  {example}

{sees}
Whoever reaches a scheduler can run anything on its workers, and they on this machine: keep all on a network that you
trust, or use the scheduler's own TLS (tls://...). Logs may also lie in an object store or on a server:
s3://bucket/2026, gs://..., https://..., by the client of that protocol (pip install s3fs for s3://), which finds its
credentials by itself, on every machine. A worker that is lost costs the batch that it was at, and another does it."""


def add_cluster_argument(parser: argparse.ArgumentParser) -> None:
    """The argument that names a cluster."""
    parser.add_argument(
        "--cluster", metavar="ADDRESS", help="let the workers of a Dask cluster do it: tcp://HOST:PORT of its scheduler"
    )


@contextmanager
def spread_by(arguments: argparse.Namespace, folder: Path | None = None) -> Iterator[OverLogs]:
    """What spreads the work on logs: the cluster that was named, else this machine's processors.

    Parameters
    ----------
    arguments : with ``cluster`` and ``paths``
    folder : of the records, where workers write to it

    Raises
    ------
    ClusterError
        When the cluster cannot be used.
    """
    if arguments.cluster is None:
        yield over_logs
        return
    from analyzer.cluster.connection import connected

    with connected(arguments.cluster, [path for path in arguments.paths if not is_url(path)], folder) as cluster:
        yield partial(_on_cluster, cluster)


def _on_cluster(
    cluster: Cluster, work: Callable[[Source | Refusal, Fleet], T], sources: list[Source | Refusal], fleet: Fleet, /
) -> Iterator[T]:
    """Work on some logs by a cluster, with the progress that ``over_logs`` shows."""
    return with_progress(cluster.over(work, sources, fleet), len(sources), "Reading logs on the cluster")
