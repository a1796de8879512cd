"""Failing disks and flipped bits, a few of what ``python -m tests.faults`` tries by the hundred."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.browser import ROOT


def tried(*words: str) -> str:
    command = [sys.executable, "-m", "tests.faults", *words]
    environment = os.environ | {"POLARS_MAX_THREADS": "1"}
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, env=environment)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return done.stdout


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no processes")
@pytest.mark.skipif(not (shutil.which("cc") or shutil.which("gcc")), reason="no C compiler, so no disk is let fail")
@pytest.mark.skipif(not Path("/proc").exists(), reason="libraries are loaded before the C library on Linux alone")
def test_commands_recover_from_disks_that_fail_at_the_c_library() -> None:
    said = tried("--points", "12", "--seed", "3", "--only", "entry", "dispose", "delete", "assign")
    assert "12 points, 0 faults" in said
    failed = sum(int(number) for number in re.findall(r"'(?:killed|said why not)': (\d+)", said))
    assert failed >= 3  # the disk did fail: some steps may, such as those of the second copy of the changes


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no processes")
def test_no_bit_flips_silently_and_what_can_be_is_made_anew() -> None:
    assert "3 flips, 0 faults" in tried("--flips", "3", "--seed", "3")
