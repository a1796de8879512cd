"""What a log costs when a cluster adds it: processor time by role, storage, transfer; and what that makes of many.

    python -m tests.benchmarks.cluster [--logs 100] [--rows 7200] [--workers 2]

Makes N distinct logs of 60 columns (``review.py``) of twenty aircraft, adds them by ``taper add`` on this machine and
by ``taper add --cluster`` with real worker processes, checks that both records are equal to the last digit, and prints
the processor seconds of each role and the bytes that are kept, for each log beyond the first sixteen: those were added
to other records before, so that starting costs nothing here.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import psutil

from analyzer.records.on_sqlite import DATABASE
from analyzer.records.store import ORIGINALS, TRACES
from tests.benchmarks.review import ROWS, make_log, run
from tests.cluster.machines import Machines, machines
from tests.records.same_records import held

AIRCRAFT = 20
#: Logs that are added before, so that what is started has started.
FIRST = 16
MANY = 10e6


@dataclass(frozen=True, slots=True)
class Costs:
    """What adding all logs took: processor seconds by role, and seconds by the clock."""

    filling: float
    wall: float
    workers: float = 0.0
    scheduler: float = 0.0


def busy(processes: list[psutil.Process]) -> float:
    """Processor seconds that processes and those they started have taken."""
    trees = [one for process in processes for one in (process, *process.children(recursive=True))]
    return sum(sum(one.cpu_times()[:2]) for one in trees)


def adding(logs: list[Path], records: Path, *more: str) -> Costs:
    """What ``taper add`` by itself took."""
    began = time.monotonic()
    add = [sys.executable, "-m", "analyzer", "add", "--records", str(records), *more]
    return Costs(filling=run([*add, *map(str, logs)])[0].cpu, wall=time.monotonic() - began)


def on_cluster(logs: list[Path], records: Path, workers: int, started: Machines) -> Costs:
    """What ``taper add --cluster`` took with so many workers of one thread, beyond what the first logs took."""
    address = started.scheduler()
    scheduler = [psutil.Process(started.started[-1].pid)]
    those = [psutil.Process(started.worker(address).pid) for _ in range(workers)]
    first = adding(logs[:FIRST], records.with_name("warm"), "--cluster", address)
    before = busy(those), busy(scheduler)
    rest = adding(logs, records, "--cluster", address)
    share = (len(logs) - FIRST) / len(logs)  # of warm workers' time
    return Costs(rest.filling - first.filling, rest.wall - first.wall, share * (busy(those) - before[0]),
                 share * (busy(scheduler) - before[1]))  # fmt: skip


def bytes_below(path: Path) -> int:
    """What a file or all files of a folder hold."""
    return sum(one.stat().st_size for one in ([path] if path.is_file() else path.rglob("*")) if one.is_file())


def report(costs: Costs, alone: float, logs: list[Path], records: Path) -> None:
    """Print what a log cost, and what millions would."""
    count = len(logs) - FIRST
    for name, seconds in (("one machine, all", alone), ("workers", costs.workers), ("scheduler", costs.scheduler),
                          ("filling the database", costs.filling)):  # fmt: skip
        each = seconds / count
        print(f"{name:<22} {1e3 * each:7.1f} ms a log {MANY * each / 3600.0:9,.0f} core-hours")
    kept = {"originals kept": ORIGINALS, "readings kept": TRACES, "database": DATABASE}
    sizes = {"read by workers, twice": 2 * sum(log.stat().st_size for log in logs)}
    for name, size in (sizes | {name: bytes_below(records / part) for name, part in kept.items()}).items():
        each = size / len(logs)
        print(f"{name:<22} {each / 1e3:7.0f} kB a log {MANY * each / 1e12:9.2f} TB")
    print(f"{count / costs.wall:.1f} logs a second by the clock; the right column is for {MANY / 1e6:.0f} million logs")


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--logs", type=int, default=100, help=f"more than {2 * FIRST}")
    parser.add_argument("--rows", type=int, default=ROWS, help="rows of each log")
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    print(f"{platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}")
    with tempfile.TemporaryDirectory() as name, machines(Path(name)) as started:
        folder = Path(name)
        logs = [folder / f"N{100 + number % AIRCRAFT}BM_{number}.csv" for number in range(max(asked.logs, 2 * FIRST))]
        for number, path in enumerate(logs):
            make_log(path, number, asked.rows)
        alone = adding(logs, folder / "alone").filling - adding(logs[:FIRST], folder / "before").filling
        costs = on_cluster(logs, folder / "together", asked.workers, started)
        if held(folder / "alone") != held(folder / "together"):
            raise SystemExit("the cluster's records differ from one machine's, so no cost is given")
        report(costs, alone, logs, folder / "together")


if __name__ == "__main__":
    main()
