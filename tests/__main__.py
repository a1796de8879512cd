"""Run everything that must pass: lint, format, types, tests.

``python -m tests [pytest arguments]``; with ``--long`` also all cases of the tests that draw hundreds of them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.browser import BROWSERS, CHROMIUM

ROOT = Path(__file__).resolve().parents[1]
CHECKS = (["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"])  # done while the tests begin
WORKERS = (os.cpu_count() or 1) + 2  # some more, since tests of pages wait for a browser
#: A file's tests stay in one process, which makes what they share once; the longest files begin (``conftest.FIRST``).
TESTS = ["pytest", "--numprocesses", str(WORKERS), "--dist", "loadfile", "--no-loadscope-reorder"]


def install_browser() -> None:
    """Install Debian's Chromium, which the tests of the pages drive, where it is missing and may be installed.

    Its build without windows does the same work in less time; where there is none, the usual one is taken. Without any
    those tests are skipped with a reason.
    """
    if CHROMIUM or not shutil.which("apt-get"):
        return
    print("== chromium", flush=True)
    quietly = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.call(["apt-get", "update", "-qq"], **quietly)
    for package in BROWSERS:
        wanted = [package, "fonts-liberation"]
        if subprocess.call(["apt-get", "install", "-y", "-qq", "--no-install-recommends", *wanted], **quietly) == 0:
            return
    print("chromium cannot be installed; the tests of the pages will be skipped", flush=True)


def compile_once() -> None:
    """Let one process compile what is tested, where none has yet: the workers, which begin together, all would.

    Where Python keeps nothing that it compiled (``PYTHONDONTWRITEBYTECODE``) that would be of no use.
    """
    if not sys.dont_write_bytecode and not any(ROOT.glob("tests/*/__pycache__/*-pytest-*.pyc")):
        command = [sys.executable, "-m", "pytest", "--collect-only"]
        subprocess.call(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def main() -> int:
    """Run the tests, and the other checks beside them; the first exit status that is not zero."""
    install_browser()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # else hundreds of processes compile every module anew
    with tempfile.TemporaryFile() as said:
        checks = [
            subprocess.Popen([sys.executable, "-m", *check], cwd=ROOT, stdout=said, stderr=said) for check in CHECKS
        ]
        print("== pytest", flush=True)
        compile_once()
        status = subprocess.call([sys.executable, "-m", *TESTS, *sys.argv[1:]], cwd=ROOT)
        for (name, *_), check in zip(CHECKS, checks, strict=True):
            print(f"== {name}: {'passed' if check.wait() == 0 else 'failed'}", flush=True)
            status = check.returncode or status
        said.seek(0)
        print(said.read().decode(errors="replace"), end="", flush=True)
    return status


if __name__ == "__main__":
    sys.exit(main())
