"""The browser that tests and benchmarks drive: the system's own, without anything that calls elsewhere."""

from __future__ import annotations

import shutil
from typing import Any

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
