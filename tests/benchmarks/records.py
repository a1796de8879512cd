"""Time the records at size: a made store of many flights, and adding to it against adding to an empty one.

    python tests/benchmarks/records.py [--flights 200000] [--tails 100] [--logs 100]

Makes a store of flights that no log belongs to (summaries drawn by a generator, the rows that ``taper add``
would write), then times

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

import numpy as np

from analyzer.measures.measure import MEASURES, Measure, around, not_measurable
from analyzer.records import codec
from analyzer.records.store import Store, open_records
from analyzer.records.tables import flights, logs, measures, tails

ROOT = Path(__file__).resolve().parents[2]
TURNS = 3
LEVELS = {
    "resting_voltage": (12.7, 0.03),
    "cranking_voltage": (9.6, 0.3),
    "recharge_time_constant": (2.8, 0.3),
    "recharge_settling_time": (7.0, 1.0),
    "maintenance_current": (0.8, 0.15),
    "regulated_voltage": (14.05, 0.03),
    "regulation_scatter": (0.02, 0.004),
}


def fill(store: Store, tail_count: int, flight_count: int) -> None:
    """Write flights of made summaries, a tail at a time."""
    rng = np.random.default_rng(1)
    each, number = flight_count // tail_count, 0
    for place in range(tail_count):
        tail = f"N0{place:03d}B"
        with store.writing() as connection:
            rows: dict[str, list[dict[str, object]]] = {"logs": [], "flights": [], "measures": []}
            start = datetime(2015, 1, 1, 8, 0)
            for _ in range(each):
                number += 1
                start += timedelta(hours=float(rng.uniform(20, 70)))
                for name, own in _rows(number, tail, start, rng).items():
                    rows[name] += own
            connection.execute(logs.insert(), rows["logs"])
            connection.execute(flights.insert(), rows["flights"])
            connection.execute(measures.insert(), rows["measures"])
            connection.execute(tails.insert().values(tail=tail, revision=1))


def _rows(number: int, tail: str, start: datetime, rng: np.random.Generator) -> dict[str, list[dict[str, object]]]:
    found: dict[str, Measure] = {}
    for name in MEASURES:
        if name in LEVELS:
            level, spread = LEVELS[name]
            found[name] = around(name, float(max(rng.normal(level, spread), 0.001)), spread)
        else:
            found[name] = not_measurable(name, "the store is made")
    hours = float(rng.uniform(0.6, 1.8))
    log = {
        "id": number, "hash": f"{number:064d}", "source": f"made/{number}.csv", "tail": tail, "tail_from": "made",
        "rows": 4000, "starts": start.isoformat(), "warnings": [], "original_kept": False, "added_at": "2026-01-01",
        "analysis": "made",
    }  # fmt: skip
    flight = {
        "id": number, "log_id": number, "number": 1, "tail": tail, "starts": start.isoformat(),
        "ends": (start + timedelta(hours=hours)).isoformat(), "from_s": 0.0, "to_s": 3600.0 * hours, "hours": hours,
        "nominal_voltage": 14, "ammeter": "battery", "air_start": float(rng.normal(12, 8)),
        "air_flight": float(rng.normal(9, 8)), "drawn_ah": 0.2, "readings": codec.encode(found), "document": {},
    }  # fmt: skip
    own = [
        {"flight_id": number, "name": m.name, "value": m.value, "low": m.low, "high": m.high, "because": m.because,
         "note": None} for m in found.values()
    ]  # fmt: skip
    return {"logs": [log], "flights": [flight], "measures": own}


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
        with open_records(full, create=True) as store:
            fill(store, asked.tails, asked.flights)
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
