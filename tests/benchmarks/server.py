"""Fifty people at the pages while a season is brought in and kept: errors, how long they wait, the server's memory.

``python -m tests.benchmarks.server [--people 50] [--seconds 60] [--logs 40]``; the exit status is 1 after an error.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import re
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from datetime import datetime, timedelta
from pathlib import Path

from analyzer.commands.demo_records import make_demo_records
from tests.browser import ROOT
from tests.dashboards.asking import Answer, ask, call, entry_call, open_page, part

LOG = ROOT / "sample_logs" / "N012LF_2026-05-09.csv"
PATHS = ("/", "/_dash-layout", "/_dash-dependencies", "/assets/look.css", "/sheet/flight/1.html", "/aircraft/N012LF")
PAGES = ("/", "/aircraft/N012LF", "/aircraft/N047KT", "/digest", "/entries", "/bring-in", "/squawk", "/reference")
#: Flights that demo records hold at least.
FLIGHTS = 100


def season(logs: int) -> bytes:
    """A zip archive of one flight on many days."""
    made, text = io.BytesIO(), LOG.read_text("utf-8")
    first = datetime(2027, 1, 1)
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for number in range(logs):
            day = first + timedelta(days=number)
            archive.writestr(f"N099ZZ_{number}.csv", text.replace("2026-05-09", f"{day:%Y-%m-%d}"))
    return made.getvalue()


def memory_of(process: int) -> float:
    """Memory that a process holds [MB]."""
    told = re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{process}/status").read_text("ascii"))
    return int(told[1]) / 1000.0 if told else 0.0


def keep_call(keys: list[str]) -> dict[str, object]:
    """The callback that keeps what was brought in."""
    outputs = (
        ("bring-import", "data"), ("bring-result", "children"), ("bring-keys", "data"), ("bring-chosen", "data"),
        ("bring-import-clock", "disabled"),
    )  # fmt: skip
    return {
        "outputs": [{"id": name, "property": prop} for name, prop in outputs],
        "inputs": [part("bring-keep", "n_clicks", 1)],
        "state": [part("bring-keys", "data", keys)],
        "changedPropIds": ["bring-keep.n_clicks"],
    }


def bring_in(address: str, logs: int) -> None:
    """Bring a season in, wait until it is read, and have it kept."""
    answer = ask(address, "/bring-in/file?name=season.zip", "POST", season(logs), X_Taper="bring-in")
    keys = json.loads(answer.body)["keys"]
    dependencies = json.loads(ask(address, "/_dash-dependencies").body)
    output = next(one["output"] for one in dependencies if "bring-import.data" in one["output"])
    time.sleep(logs * 0.2)
    call(address, keep_call(keys) | {"output": output})


def step(address: str, chance: random.Random) -> Answer:
    """What a person does next: opens a page, enters something, or fetches what belongs to a page."""
    kind = chance.random()
    if kind < 0.3:
        return open_page(address, chance.choice((*PAGES, f"/flight/{chance.randint(1, FLIGHTS)}")))
    if kind < 0.33:
        return call(address, entry_call("N012LF", f"noted {chance.random()}"))
    return ask(address, chance.choice(PATHS))


def person(address: str, until: float, waits: list[float], errors: list[str]) -> None:
    """One person who goes from page to page, and now and then enters something."""
    chance = random.Random(threading.get_ident())
    while time.monotonic() < until:
        began = time.monotonic()
        try:
            answer = step(address, chance)
            if answer.status not in (200, 202) or "trouble-title" in answer.text:
                errors.append(f"{answer.status}: {answer.text[:500]}")
        except OSError as problem:
            errors.append(repr(problem))
        waits.append(time.monotonic() - began)
        time.sleep(chance.uniform(0.2, 2.0))


def main() -> int:
    """Run it; the exit status."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--people", type=int, default=50)
    asked.add_argument("--seconds", type=float, default=60.0)
    asked.add_argument("--logs", type=int, default=40)
    asked.add_argument("--records", type=Path, help="a folder of demo records made before; it is changed")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        records = given.records or make_demo_records(Path(folder), print)
        command = [sys.executable, "-m", "analyzer", "serve", "--records", str(records), "--port", "0"]
        with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) as process:
            assert process.stderr is not None
            found = re.search(r"http://\S+", process.stderr.readline())
            assert found
            address = found[0].rstrip("/")
            ask(address, "/")
            before, waits, errors = memory_of(process.pid), [], []  # type: float, list[float], list[str]
            until = time.monotonic() + given.seconds
            people = [
                threading.Thread(target=person, args=(address, until, waits, errors)) for _ in range(given.people)
            ]
            people.append(threading.Thread(target=bring_in, args=(address, given.logs)))
            for one in people:
                one.start()
            held = [before]
            while any(one.is_alive() for one in people):
                held.append(memory_of(process.pid))
                time.sleep(0.5)
            process.terminate()
            began = time.monotonic()
            said = process.communicate(timeout=60)[1]
            stopped = time.monotonic() - began
    waits.sort()
    print(f"{len(waits)} requests of {given.people} people, {len(errors)} errors, {said.count('Traceback')} tracebacks")
    print(f"waits: median {statistics.median(waits):.2f} s, 95 % within {waits[int(0.95 * len(waits))]:.2f} s, "
          f"longest {waits[-1]:.2f} s")  # fmt: skip
    tenths = " ".join(f"{held[len(held) * tenth // 10]:.0f}" for tenth in range(10))
    print(f"the server's memory: {tenths} MB tenth by tenth, {held[-1]:.0f} MB after; stopped in {stopped:.1f} s")
    for one in errors[:10]:
        print(one)
    if "Traceback" in said:
        print(said)
    return 1 if errors or "Traceback" in said else 0


if __name__ == "__main__":
    sys.exit(main())
