"""Runs a command in which one step that touches disk or database fails, or at which the process is killed.

``python -m tests.records.injected KIND STEP COMMAND...`` with KIND ``kill``, ``EIO`` or ``ENOSPC``; a step that
is never reached changes nothing. The number of steps taken is the last line of what it prints.
"""

from __future__ import annotations

import errno
import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import event
from sqlalchemy.engine import Engine
from sqlalchemy.exc import OperationalError

ROOT = Path(__file__).resolve().parents[2]
KINDS = ("kill", "EIO", "ENOSPC")
#: A step that no command reaches.
NEVER = 1_000_000


class Steps:
    """Counts the steps of a command; the one that is wanted fails in the way that is wanted."""

    def __init__(self, kind: str, at: int) -> None:
        self.kind, self.at, self.taken = kind, at, 0

    def of_disk(self) -> None:
        self.taken += 1
        if self.taken == self.at:
            self._die()
            code = getattr(errno, self.kind)
            raise OSError(code, os.strerror(code))

    def of_database(self, *_: object) -> None:
        self.taken += 1
        if self.taken == self.at:
            self._die()
            words = "database or disk is full" if self.kind == "ENOSPC" else "disk I/O error"
            raise OperationalError("", {}, sqlite3.OperationalError(words))

    def _die(self) -> None:
        if self.kind == "kill":
            os.kill(os.getpid(), signal.SIGKILL)


@contextmanager
def injected(kind: str, at: int) -> Iterator[Steps]:
    """What happens within fails at one step; steps are counted."""
    steps = Steps(kind, at)

    def counted(real: Callable[..., Any]) -> Callable[..., Any]:
        def wrapped(*given: Any, **named: Any) -> Any:
            steps.of_disk()
            return real(*given, **named)

        return wrapped

    places = [(os, "fsync"), (os, "ftruncate"), (Path, "replace"), (Path, "mkdir"), (Path, "unlink")]
    real = {(where, name): getattr(where, name) for where, name in places}
    opened = Path.open

    def opening(path: Path, mode: str = "r", *given: Any, **named: Any) -> Any:
        if mode[0] != "r":
            steps.of_disk()
        return opened(path, mode, *given, **named)

    for where, name in places:
        setattr(where, name, counted(real[where, name]))
    Path.open = opening  # type: ignore[method-assign]
    listened = [(Engine, "before_cursor_execute"), (Engine, "commit")]
    for where, name in listened:
        event.listen(where, name, steps.of_database)
    try:
        yield steps
    finally:
        for where, name in listened:
            event.remove(where, name, steps.of_database)
        Path.open = opened  # type: ignore[method-assign]
        for where, name in places:
            setattr(where, name, real[where, name])


def run_apart(kind: str, at: int, command: list[str]) -> tuple[int, str]:
    """Run a command in a process of its own; its exit status and all that it printed."""
    asked = [sys.executable, "-m", "tests.records.injected", kind, str(at), *command]
    done = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True)
    return done.returncode, done.stdout + done.stderr


if __name__ == "__main__":
    from analyzer.cli import main

    with injected(sys.argv[1], int(sys.argv[2])) as counting:
        status = main(sys.argv[3:])
    print(f"\n{counting.taken}")
    sys.exit(status)
