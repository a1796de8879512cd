"""Time ``taper review --json`` against a bare read of the same columns, and against the plain way.

    python tests/benchmarks/review.py [--logs 1 10 100] [--repeats 5]

Makes N logs of 7,200 rows and 60 columns (a simulated flight a second a row, and 55 columns of engine
temperatures), then runs three whole processes in turn, several times over:

- bare    Polars reads the needed columns of every log and adds one of them up
- review  ``taper review --json`` on all logs
- plain   ``naive.py``, the three principal judgements with pandas and SciPy

Prints the median seconds of each, the ratios of the medians, and the largest memory of one process. The
answers are checked before any time is given. Seconds on a shared machine say little; ratios of one run do.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

ROWS, COLUMNS = 7200, 60
NEEDED = ["time", "bus volts [V]", "battery amps [A]", "rpm", "oat [degC]"]
BARE = f"""
import sys
import polars as pl
total = 0.0
for name in sys.argv[1:]:
    total += pl.read_csv(name, columns={NEEDED!r})["rpm"].sum()
print(total)
"""


def make_log(folder: Path) -> Path:
    """One log of 7,200 rows and 60 columns; the others are its copies under other names."""
    from analyzer.simulator import simulate
    from analyzer.simulator.healthy import healthy

    scenario = healthy(seed=3)
    flight = simulate(replace(scenario, plan=replace(scenario.plan, cruise_min=100.0)))
    table = flight.table.head(ROWS)
    start = scenario.begins
    generator = np.random.default_rng(7)
    data: dict[str, object] = {
        "time": pl.datetime_range(start, start.replace(year=start.year + 1), "1s", eager=True)
        .head(ROWS)
        .dt.strftime("%Y-%m-%dT%H:%M:%S"),
        "bus volts [V]": table["bus_voltage"].round(2),
        "battery amps [A]": table["battery_current"].round(1),
        "rpm": table["engine_speed"].round(0).cast(pl.Int64),
        "oat [degC]": table["outside_air_temperature"].round(1),
    }
    for number in range(COLUMNS - len(data)):
        data[f"temperature {number + 1} [degC]"] = np.round(generator.normal(180.0, 20.0, ROWS), 1)
    path = folder / "log.csv"
    pl.DataFrame(data).write_csv(path)
    return path


def timed(command: list[str]) -> tuple[float, str]:
    """Wall seconds of a whole process, and what it printed."""
    begun = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return time.perf_counter() - begun, done.stdout


def check_answers(bare: str, review: str, plain: str, logs: int) -> None:
    """Stop when a contestant did not do its work."""
    flights = [flight for log in json.loads(review)["logs"] for flight in log["flights"]]
    if float(bare) <= 0.0 or len(flights) != logs or len(plain.splitlines()) != logs:
        raise SystemExit("a wrong answer, so no time is given")
    if any(flight["measures"]["recharge_time_constant"]["state"] != "measured" for flight in flights):
        raise SystemExit("the review did not measure the recharge, so no time is given")


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--logs", type=int, nargs="+", default=[1, 10, 100])
    parser.add_argument("--repeats", type=int, default=5)
    arguments = parser.parse_args()
    print(
        f"{platform.machine()}, {os.cpu_count()} processors, "
        f"Python {platform.python_version()}, Polars {pl.__version__}"
    )
    print(
        f"{'logs':>5} {'bare s':>8} {'review s':>9} {'plain s':>8} {'review/bare':>12} {'review/plain':>13} {'MiB':>6}"
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        text = make_log(folder).read_bytes()
        (folder / "log.csv").unlink()
        for logs in arguments.logs:
            paths = [str(folder / f"{logs}_{number}.csv") for number in range(logs)]
            for path in paths:
                Path(path).write_bytes(text)
            commands = (
                [sys.executable, "-c", BARE, *paths],
                [sys.executable, "-m", "analyzer", "review", "--json", *paths],
                [sys.executable, str(Path(__file__).with_name("naive.py")), *paths],
            )
            check_answers(*(timed(command)[1] for command in commands), logs)
            rounds = [[timed(command)[0] for command in commands] for _ in range(arguments.repeats)]
            bare, review, plain = (statistics.median(column) for column in zip(*rounds, strict=True))
            memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
            print(
                f"{logs:>5} {bare:>8.2f} {review:>9.2f} {plain:>8.2f} {review / bare:>12.2f} "
                f"{review / plain:>13.2f} {memory:>6.0f}"
            )
            for path in paths:
                Path(path).unlink()
        seconds = statistics.median(timed([sys.executable, "-m", "analyzer", "--help"])[0] for _ in range(5))
        print(f"taper --help {seconds:.2f} s")


if __name__ == "__main__":
    main()
