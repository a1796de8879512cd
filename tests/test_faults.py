"""Failing disks and flipped bits, a few of what ``python -m tests.faults`` tries by the hundred."""

from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser import ROOT
from tests.power_loss import Disk, Step


def tried(*words: str) -> str:
    command = [sys.executable, "-m", "tests.faults", *words]
    environment = os.environ | {"POLARS_MAX_THREADS": "1"}
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, env=environment)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return done.stdout


def needs_a_faulty_disk(test: Callable[[], None]) -> Callable[[], None]:
    """Skip a test where no disk can be let fail."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    for missing, reason in (
        (not hasattr(os, "fork"), "this system forks no processes"),
        (not compiler, "no C compiler, so no disk is let fail"),
        (not Path("/proc").exists(), "libraries are loaded before the C library on Linux alone"),
    ):
        test = pytest.mark.skipif(missing, reason=reason)(test)
    return test


@needs_a_faulty_disk
def test_commands_recover_from_disks_that_fail_at_the_c_library() -> None:
    said = tried("--points", "12", "--seed", "3", "--only", "entry", "dispose", "delete", "assign")
    assert "12 points, 0 faults" in said
    failed = sum(int(number) for number in re.findall(r"'(?:killed|said why not)': (\d+)", said))
    assert failed >= 3  # the disk did fail: some steps may, such as those of the second copy of the changes


@needs_a_faulty_disk
def test_what_was_done_outlasts_a_power_failure_and_what_was_not_is_done_again() -> None:
    said = tried("--power", "12", "--seed", "12", "--only", "forget", "dispose")
    assert "12 failures of power, 0 faults" in said
    assert all(int(steps) > 50 for steps in re.findall(r"(\d+) changes and syncs", said))


def test_a_disk_without_power_holds_what_was_synced_and_at_most_what_was_changed_since(tmp_path: Path) -> None:
    (tmp_path / "disk" / "kept").mkdir(parents=True)
    (tmp_path / "disk" / "kept" / "old").write_bytes(b"before")
    disk, root = Disk(tmp_path / "disk"), str(tmp_path / "disk")
    old = (tmp_path / "disk" / "kept" / "old").stat().st_ino
    for step in (
        Step("w", old, 0, "", "", b"BE"), Step("s", old, 0, "", "", b""), Step("w", old, 6, "", "", b" and after"),
        Step("c", 1, 0, f"{root}/kept/new", "", b""), Step("w", 1, 2, "", "", b"xy"), Step("s", 1, 0, "", "", b""),
        Step("m", 0, 0, f"{root}/more", "", b""), Step("c", 2, 0, f"{root}/more/lost", "", b""),
        Step("r", 0, 0, f"{root}/kept/new", f"{root}/kept/renamed", b""), Step("w", 3, 0, "", "", b"elsewhere"),
    ):  # fmt: skip
        disk.take(step)

    def held(how: str, seed: int = 1) -> dict[str, bytes]:
        into = tmp_path / f"{how} {seed}"
        disk.fail(into, how, random.Random(seed))
        return {str(path.relative_to(into)): path.read_bytes() for path in into.rglob("*") if path.is_file()}

    assert held("nothing unsynced") == {"kept/old": b"BEfore"}
    names = {"kept/old": b"BEfore", "kept/renamed": b"\0\0xy", "more/lost": b""}
    assert held("names without contents") == names
    some = [held("some of each", seed) for seed in range(40)]
    assert {one["kept/old"] for one in some} == {b"BEfore", b"BEfore and after"}
    assert {frozenset(one) for one in some} >= {frozenset(names), frozenset({"kept/old"})}
    disk.take(Step("d", 0, 0, f"{root}/kept", "", b""))
    disk.take(Step("u", 0, 0, f"{root}/kept/renamed", "", b""))
    assert held("nothing unsynced", 2) == {"kept/old": b"BEfore", "kept/renamed": b"\0\0xy"}
    disk.take(Step("t", old, 2, "", "", b""))
    disk.take(Step("s", old, 0, "", "", b""))
    assert held("names without contents", 2) == {"kept/old": b"BE", "more/lost": b""}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no processes")
def test_no_bit_flips_silently_and_what_can_be_is_made_anew() -> None:
    assert "3 flips, 0 faults" in tried("--flips", "3", "--seed", "3")
