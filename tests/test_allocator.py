"""What a log's text took is used for the next one, and no page of it is asked of the system again."""

from __future__ import annotations

import platform
import subprocess
import sys
from pathlib import Path

import pytest

PAGES_OF_A_LOG = """
import resource
from analyzer.allocator import keep_freed_memory
if {told}:
    assert keep_freed_memory()
def work():
    blocks = [bytes([number]) * 3_000_000 for number in range(4)]
work(), work()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(10):
    work()
print((resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before) / 10)
"""


def pages_of_a_log(told: bool) -> float:
    code = PAGES_OF_A_LOG.format(told=told)
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).resolve().parents[1],
    )
    return float(done.stdout)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="another allocator, which is left as it is")
def test_memory_that_was_given_back_is_used_again() -> None:
    assert pages_of_a_log(told=False) > 1000.0  # of the 3,000 that 12 MB are
    assert pages_of_a_log(told=True) < 100.0
