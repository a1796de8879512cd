"""CPU and memory of ``taper review --json`` and ``taper add`` against a bare read, and against the plain way.

    python tests/benchmarks/review.py [--logs 1 10 100] [--repeats 5] [--rows 7200] [--alike] [--add]

Makes N distinct logs of 60 columns (simulated flights a second a row, one in two with a fault, and 55 columns of
engine temperatures), then runs whole processes in turn, several times over:

- bare    Polars reads the needed columns of every log and adds one of them up
- review  ``taper review --json`` on all logs
- plain   ``naive.py``, the three principal judgements with pandas and SciPy
- add     with ``--add``: ``taper add`` of all logs into new records

Prints the median seconds of processor time of each (its own and its helpers'), the ratios of the medians, and the
largest memory of any one process of each contestant by itself. The answers are checked before any time is given.
Seconds on a shared machine say little; ratios of one run do.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
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


@dataclass(frozen=True, slots=True)
class Cost:
    """What a whole process took, with the processes that it started."""

    cpu: float  # user and system seconds
    memory: float  # of the largest of these processes [MiB]


def make_log(path: Path, number: int, rows: int) -> None:
    """Write log ``number``: of 60 columns, sound where it is even, with a fault where it is odd."""
    from analyzer.simulator import simulate
    from analyzer.simulator.healthy import healthy
    from analyzer.simulator.scenarios import FAULTY

    makers = list(FAULTY.values())
    scenario = makers[number // 2 % len(makers)](number, 14, "battery") if number % 2 else healthy(seed=3 + number)
    flight = simulate(replace(scenario, plan=replace(scenario.plan, cruise_min=rows / 60.0 - 20.0)))
    table = flight.table.head(rows)
    start = scenario.begins
    generator = np.random.default_rng(7 + number)
    data: dict[str, object] = {
        "time": pl.datetime_range(start, start.replace(year=start.year + 1), "1s", eager=True)
        .head(table.height)
        .dt.strftime("%Y-%m-%dT%H:%M:%S"),
        "bus volts [V]": table["bus_voltage"].round(2),
        "battery amps [A]": table["battery_current"].round(1),
        "rpm": table["engine_speed"].round(0).cast(pl.Int64),
        "oat [degC]": table["outside_air_temperature"].round(1),
    }
    for column in range(COLUMNS - len(data)):
        data[f"temperature {column + 1} [degC]"] = np.round(generator.normal(180.0, 20.0, table.height), 1)
    pl.DataFrame(data).write_csv(path)


#: Starts a command from a small process, for a new process counts what the one that started it held as its own. Its
#: helpers come from a process that outlives it, so this one takes over what is left behind and waits for it.
LAUNCHER = """
import ctypes, json, os, sys
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program's modules are compiled
if sys.platform == "linux" and ctypes.CDLL(None, use_errno=True).prctl(36, 1, 0, 0, 0):  # PR_SET_CHILD_SUBREAPER
    raise OSError(ctypes.get_errno(), "helpers cannot be waited for")
child = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ)
cpu, memory, exit_code = 0.0, 0, None
while True:
    try:
        ended, status, used = os.wait4(-1, 0)
    except ChildProcessError:
        break
    cpu += used.ru_utime + used.ru_stime
    memory = max(memory, used.ru_maxrss)
    exit_code = os.waitstatus_to_exitcode(status) if ended == child else exit_code
sys.stderr.write("\\n" + json.dumps([exit_code, cpu, memory]))
"""


def run(command: list[str]) -> tuple[Cost, str]:
    """What a whole process took, by itself, and what it printed."""
    done = subprocess.run([sys.executable, "-c", LAUNCHER, *command], capture_output=True, text=True, check=True)
    status, cpu, memory = json.loads(done.stderr.splitlines()[-1])
    if status:
        raise SystemExit(f"{command[:4]} ended with status {status}, so no time is given")
    return Cost(cpu, memory / 1024.0), done.stdout


def check_answers(bare: str, review: str, plain: str, logs: int) -> None:
    """Stop when a contestant did not do its work."""
    reviewed = json.loads(review)["logs"]
    sound = [flight for log in reviewed[::2] for flight in log["flights"]]
    if float(bare) <= 0.0 or len(plain.splitlines()) != logs or not all(log["flights"] for log in reviewed):
        raise SystemExit("a wrong answer, so no time is given")
    if any(flight["measures"]["recharge_time_constant"]["state"] != "measured" for flight in sound):
        raise SystemExit("the review did not measure the recharge, so no time is given")
    found = sum(any(flight["findings"] for flight in log["flights"]) for log in reviewed[1::2])
    if found < len(reviewed[1::2]) / 2:
        raise SystemExit("the review found few of the faults, so no time is given")


def contestants(paths: list[str], records: Path, add: bool) -> Iterator[tuple[str, list[str]]]:
    """Each contestant's name and command."""
    yield "bare", [sys.executable, "-c", BARE, *paths]
    yield "review", [sys.executable, "-m", "analyzer", "review", "--json", *paths]
    yield "plain", [sys.executable, str(Path(__file__).with_name("naive.py")), *paths]
    if add:
        yield "add", [sys.executable, "-m", "analyzer", "add", "--records", str(records), *paths]


def compare(paths: list[str], records: Path, repeats: int, add: bool) -> dict[str, list[Cost]]:
    """What each contestant took, in turns; their answers are checked first."""
    commands = dict(contestants(paths, records, add))
    check_answers(*(run(commands[name])[1] for name in ("bare", "review", "plain")), len(paths))
    costs: dict[str, list[Cost]] = {name: [] for name in commands}
    for _ in range(repeats):
        for name, command in commands.items():
            shutil.rmtree(records, ignore_errors=True)
            costs[name].append(run(command)[0])
    return costs


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--logs", type=int, nargs="+", default=[1, 10, 100])
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--rows", type=int, default=ROWS, help="rows of each log")
    parser.add_argument("--alike", action="store_true", help="one sound log under N names instead of N logs")
    parser.add_argument("--add", action="store_true", help="add the logs to new records as well")
    arguments = parser.parse_args()
    print(
        f"{platform.machine()}, {os.cpu_count()} processors, "
        f"Python {platform.python_version()}, Polars {pl.__version__}"
    )
    print("processor seconds, ratios to them, and MiB of the largest process of each")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        logs = [folder / f"{number}.csv" for number in range(max(arguments.logs))]
        for number, path in enumerate(logs):
            if arguments.alike and number:
                shutil.copyfile(logs[0], path)
            else:
                make_log(path, number, arguments.rows)
        for count in arguments.logs:
            paths = [str(path) for path in logs[:count]]
            costs = compare(paths, folder / "records", arguments.repeats, arguments.add)
            cpu = {name: statistics.median(cost.cpu for cost in all_of) for name, all_of in costs.items()}
            memory = {name: max(cost.memory for cost in all_of) for name, all_of in costs.items()}
            told = [f"{name} {cpu[name]:.2f} s {memory[name]:.0f} MiB" for name in cpu]
            ratios = [f"{above}/{below} {cpu[above] / cpu[below]:.2f}" for above, below in RATIOS if above in cpu]
            print(f"{count:>4} logs: {', '.join(told)}; {', '.join(ratios)}")
        helping = statistics.median(run([sys.executable, "-m", "analyzer", "--help"])[0].cpu for _ in range(5))
        print(f"taper --help {helping:.2f} s")


RATIOS = (("review", "bare"), ("review", "plain"), ("add", "review"))

if __name__ == "__main__":
    main()
