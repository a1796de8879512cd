"""What a process that runs one command does otherwise than Python by itself."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

#: Runs what loads most as the command that a process was called for, and says how often it looked for garbage.
LOOKS = """
import gc
from analyzer import cli
def loads_much():
    import polars, sqlalchemy
    import analyzer.records.adding
    print(gc.get_stats()[0]["collections"] - before, gc.isenabled(), flush=True)
    return 7
cli.main = loads_much
before = gc.get_stats()[0]["collections"]
{run}
"""


def looks_for_garbage(run: str) -> tuple[int, bool]:
    """How often a process looked for garbage that loads libraries and ends with status 7, and whether it still does."""
    code = LOOKS.format(run=run)
    folder = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=folder)
    assert (done.returncode, done.stderr) == (7, "")
    times, still = done.stdout.split()
    return int(times), still == "True"


def test_a_command_hardly_looks_for_garbage_while_it_loads_libraries_and_ends_with_its_status() -> None:
    by_itself, _ = looks_for_garbage("raise SystemExit(cli.main())")
    times, still = looks_for_garbage("cli.run_process()")
    assert times < by_itself / 10  # some versions of Python look after 700 new objects, others after 2,000
    assert still
