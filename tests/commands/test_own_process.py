"""What a command's own process does beside the command."""

from __future__ import annotations

import subprocess
import sys

TELLS = """
import gc
from analyzer import cli
cli.main = lambda: print(len(gc.get_stats()), gc.isenabled(), *gc.get_threshold()) or 7
cli.run_process()
"""


def test_a_command_looks_for_garbage_seldom_and_ends_with_its_status() -> None:
    done = subprocess.run([sys.executable, "-c", TELLS], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (7, "")
    assert done.stdout.split()[1:3] == ["True", "50000"]
