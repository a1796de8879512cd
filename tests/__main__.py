"""Run everything that must pass: lint, format, types, tests.

``python -m tests [pytest arguments]``; with ``--long`` also all cases of the tests that draw hundreds of them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CHECKS = (
    ["ruff", "check", "."],
    ["ruff", "format", "--check", "."],
    ["mypy"],
    ["pytest", "--numprocesses", str((os.cpu_count() or 1) + 1)],  # one more, since tests of pages wait for a browser
)


def install_browser() -> None:
    """Install Debian's Chromium, which the tests of the pages drive, where it is missing and may be installed.

    Without it those tests are skipped with a reason.
    """
    if shutil.which("chromium") or not shutil.which("apt-get"):
        return
    print("== chromium", flush=True)
    for arguments in (["update", "-qq"], ["install", "-y", "-qq", "chromium"]):
        if subprocess.call(["apt-get", *arguments], stdout=subprocess.DEVNULL) != 0:
            print("chromium cannot be installed; the tests of the pages will be skipped", flush=True)
            return


def main() -> int:
    """Run each check, the tests last; the first exit status that is not zero."""
    install_browser()
    status = 0
    for module, *arguments in CHECKS:
        extra = sys.argv[1:] if module == "pytest" else []
        print(f"== {module}", flush=True)
        status = subprocess.call([sys.executable, "-m", module, *arguments, *extra], cwd=ROOT) or status
    return status


if __name__ == "__main__":
    sys.exit(main())
