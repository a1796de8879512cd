"""Time the records at size: a made store of many flights, and adding to it against adding to an empty one.

    python -m tests.benchmarks.records [--flights 200000] [--tails 100] [--logs 100]

Makes a store of flights (``made_fleet``), then times

- fleet   ``taper fleet --json``, a whole process, after the first reader has worked out each tail's trends
- trend   ``taper trend TAIL --json``, a whole process, as kept and worked out anew
- add     ``taper add`` of N new logs to that store and to one that was empty, in turns, and the ratio; each
          works the touched tail's trends out anew

Answers are checked before any time is given. Seconds on a shared machine say little; ratios of one run do.
"""

from __future__ import annotations

import argparse
import json
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from analyzer.records.store import open_records
from tests.benchmarks.made_fleet import make_records

ROOT = Path(__file__).resolve().parents[2]
TURNS = 3


def write_logs(folder: Path, count: int, minutes: int = 0) -> None:
    """Short logs of one tail, each of other bytes."""
    from analyzer.simulator import simulate
    from analyzer.simulator.healthy import short_hop
    from analyzer.simulator.writers import COMMA, write_csv

    folder.mkdir()
    scenario = short_hop(5)
    for number in range(count):
        begins = datetime(2026, 1, 1, 9, 0) + timedelta(days=number, minutes=minutes)
        write_csv(simulate(replace(scenario, begins=begins, tail="N0007B")), folder / f"N0007B_{number}.csv", COMMA)


def taper(*arguments: str) -> tuple[float, str]:
    """Wall seconds of one call, and what it printed."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "analyzer", *arguments], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return time.perf_counter() - begun, done.stdout


def median_of(times: int, *arguments: str) -> float:
    return statistics.median(taper(*arguments)[0] for _ in range(times))


def main() -> None:
    """Make the store, check the answers, print the times."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=int, default=200_000)
    parser.add_argument("--tails", type=int, default=100)
    parser.add_argument("--logs", type=int, default=100)
    asked = parser.parse_args()
    print(f"{platform.machine()}, Python {platform.python_version()}, {asked.flights} flights of {asked.tails} tails")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        full, empty = folder / "full", folder / "empty"
        begun = time.perf_counter()
        make_records(full, [asked.flights // asked.tails] * asked.tails)
        size = sum(path.stat().st_size for path in full.rglob("*") if path.is_file())
        print(f"made in {time.perf_counter() - begun:.0f} s, {size / 1e6:.0f} MB")
        first, told = taper("fleet", "--json", "--records", str(full))
        document = json.loads(told)
        if [row["flights"] for row in document["tails"]] != [asked.flights // asked.tails] * asked.tails:
            raise SystemExit("fleet: wrong answer, so no time is given")
        print(f"fleet, first reader     {first:7.2f} s ({first / asked.tails:.2f} s a tail)")
        print(f"fleet, later readers    {median_of(5, 'fleet', '--json', '--records', str(full)):7.2f} s")
        print(f"trend of one, as kept   {median_of(5, 'trend', 'N0003B', '--json', '--records', str(full)):7.2f} s")
        anew = median_of(5, "trend", "N0003B", "--until", "2090-01-01", "--json", "--records", str(full))
        print(f"trend of one, anew      {anew:7.2f} s")
        added: dict[Path, list[float]] = {empty: [], full: []}
        for turn in range(TURNS):  # in turns, so that what else the machine does falls on both alike
            write_logs(folder / f"logs{turn}", asked.logs, turn)
            for where, times in added.items():
                times.append(taper("add", str(folder / f"logs{turn}"), "--records", str(where))[0])
        with open_records(full) as store, store.reading() as connection:
            expected = asked.flights + TURNS * asked.logs
            if connection.exec_driver_sql("SELECT count(*) FROM logs").scalar() != expected:
                raise SystemExit("add: wrong answer, so no time is given")
        ratio = statistics.median(b / a for a, b in zip(*added.values(), strict=True))
        print(f"add of {asked.logs} logs         {min(added[empty]):7.2f} s empty, {min(added[full]):.2f} s full, "
              f"ratio {ratio:.2f} (median of {TURNS})")  # fmt: skip
        again = taper("fleet", "--json", "--records", str(full))[0]
        print(f"fleet, after the adds   {again:7.2f} s")


if __name__ == "__main__":
    main()
