"""What a log costs when a cluster adds it: processor time by role, storage, transfer; and what that makes of many.

    python -m tests.benchmarks.cluster [--logs 100] [--rows 7200] [--workers 2]

Makes N distinct logs of 60 columns (``review.py``) of twenty aircraft, adds them by ``taper add`` on this machine and
by ``taper add --cluster`` with real worker processes, checks that both records are equal to the last digit, and prints
the processor seconds of each role and the bytes that are kept, for each log beyond the first sixteen: those were added
to other records before, so that starting costs nothing here.

On paper, by 120 logs of two hours (7,200 x 60, 2.7 MB) on a busy x86-64 of two processors, Python 3.11:

                        a log                   10 million             100 million
    workers             76 ms                   212 core-hours         2,100
    scheduler           7 ms at most            18                     180
    filling             5 ms                    14 on one core         140
    one machine alone   69 ms                   193                    1,930
    read, twice         5.3 MB                  53 TB                  531 TB
    originals           1.0 MB                  10 TB                  101 TB
    readings, database  44 and 9 kB             0.4 and 0.1 TB         4.4 and 0.9 TB

The scheduler's share holds what it does while it waits. These logs' other columns are random digits; recordings pack
better. Not measured: networks, disks of several machines, the trends of tails with thousands of flights each.

What breaks first, in this order:
- The process that fills the database: 5 ms a log are 200 logs a second, what some 15 workers' processors prepare. More
  of them only wait. Ten million take 14 hours at least, whatever the cluster.
- The list of logs: 1.8 kB each in that process (3,000 names in an object store), so 18 GB for ten million in one call.
  A call for each month or prefix needs a part of it, and the logs of each call are kept before the next.
- The database's file: 90 GB in SQLite, which backup copies whole (how long was not measured); from here on PostgreSQL.
- The shared folder: ten million files of each kind are 39,000 in each of 256 folders, and a log is three synced writes.

A hundred million: calls by prefix, several at once into one PostgreSQL (which lets one program write at a time, so
filling stays at 200 logs a second and takes six days; beyond that the records would have to be cut by aircraft, each
part with a database of its own), originals and readings in an object store in place of the shared folder, which this
program does not do yet, and each log hashed where it is prepared, to read it once.
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
from analyzer.records.place import ORIGINALS, TRACES
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
