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
    print(gc.get_stats()[0]["collections"] - before, flush=True)
    return 0
cli.main = loads_much
before = gc.get_stats()[0]["collections"]
{run}
"""


def looks_for_garbage(run: str) -> int:
    code = LOOKS.format(run=run)
    folder = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=folder)
    return int(done.stdout)


def test_a_command_that_loads_libraries_hardly_looks_for_garbage() -> None:
    assert looks_for_garbage("cli.main()") > 100
    assert looks_for_garbage("cli.run_process()") < 10
