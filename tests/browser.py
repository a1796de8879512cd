"""What tests and benchmarks of the pages share: pages served by a process of their own, and a browser.

The browser is the system's own, without anything that calls elsewhere.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]

CHROMIUM = shutil.which("chromium")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def launch(driver: Any) -> Any:
    """Start the browser through Playwright's driver."""
    return driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)


def until(page: Any, told: str, patience_s: float = 30.0) -> None:
    """Wait until an expression holds on a page, whose own policy lets no words be run as a script there."""
    over = time.monotonic() + patience_s
    while not page.evaluate(f"() => Boolean({told})"):
        assert time.monotonic() < over, told
        time.sleep(0.05)


def settled(page: Any) -> None:
    """Wait until nothing on a page moves or changes its colour any more, but for what does so without an end."""
    running = "one.playState === 'running' && one.effect?.getComputedTiming().endTime !== Infinity"
    until(page, f"!document.getAnimations().some((one) => {running})")


@contextmanager
def served(records: Path) -> Iterator[str]:
    """The address of pages served over some records by a process of their own."""
    command = [sys.executable, "-m", "analyzer", "serve", "--records", str(records), "--port", "0"]
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        line = process.stderr.readline()
        found = re.search(r"http://\S+", line)
        assert found, line + process.stderr.read()
        try:
            yield found.group(0).rstrip("/")
        except BaseException:
            process.kill()  # else what failed in between would wait for its end for ever
            raise
        process.terminate()
        said = process.stderr.read()
        assert process.wait(10) == 0, said
        assert "Traceback" not in said, said
