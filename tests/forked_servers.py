"""Page servers that are copies of one process which has loaded the pages already: loading is most of a server's start.

Run as a program of its own it reads orders from its standard input, a line each, and answers each with a number::

    start FILE ARGUMENT ...   (parts kept apart by tabs)  ->  the process; what it says on stderr goes to FILE
    end PROCESS                                           ->  how it ended, once it has
"""

from __future__ import annotations

import atexit
import importlib
import os
import pkgutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parents[1]


class ForkedServers:
    """Starts and ends page servers; the process that they are copies of is begun with the first."""

    def __init__(self) -> None:
        self._loaded: subprocess.Popen[str] | None = None
        self._lock = threading.Lock()

    def start(self, arguments: list[str], said: Path) -> int:
        """Start ``taper`` with some arguments, and give the process."""
        return self._order("start", str(said), *arguments)

    def end(self, process: int, how: int = signal.SIGTERM) -> int:
        """Ask a process to end, wait until it has, and give its exit status (negative: the signal that ended it)."""
        os.kill(process, how)
        return self._order("end", str(process))

    def _close(self) -> None:
        """End the process that was loaded, and with it the servers that nobody has ended."""
        assert self._loaded is not None
        self._loaded.communicate()

    def _order(self, *parts: str) -> int:
        with self._lock:
            if self._loaded is None:
                command = [sys.executable, "-m", "tests.forked_servers"]
                self._loaded = subprocess.Popen(
                    command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
                )
                atexit.register(self._close)
            assert self._loaded.stdin is not None
            assert self._loaded.stdout is not None
            self._loaded.stdin.write("\t".join(parts) + "\n")
            self._loaded.stdin.flush()
            return int(self._loaded.stdout.readline())


def answer_orders() -> None:
    """Do what is asked for until nobody asks any more; servers that still run then are killed."""
    running: set[int] = set()
    while line := sys.stdin.readline():
        order, *parts = line.rstrip("\n").split("\t")
        if order == "start":
            answer = os.fork()
            if not answer:
                _become(parts[0], parts[1:])
            running.add(answer)
        else:
            answer = how_it_ended(int(parts[0]))
            running.discard(int(parts[0]))
        print(answer, flush=True)
    for process in running:
        os.kill(process, signal.SIGKILL)


def how_it_ended(process: int, patience_s: float = 10.0) -> int:
    """The exit status of a process that was asked to end; it is killed when it does not, and its status tells that."""
    over = time.monotonic() + patience_s
    while time.monotonic() < over:
        found, status = os.waitpid(process, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.005)
    os.kill(process, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])


def _become(said: str, arguments: list[str]) -> NoReturn:
    """Be the command from here on."""
    for stream, path in ((0, os.devnull), (1, os.devnull), (2, said)):
        os.dup2(os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600), stream)
    sys.argv = ["taper", *arguments]
    run_process()


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command itself does before it loads anything
    import dashboards
    from analyzer.cli import run_process

    for module in pkgutil.walk_packages(dashboards.__path__, "dashboards."):
        if not module.name.startswith("dashboards.pages."):  # those can be loaded only into the pages of one server
            importlib.import_module(module.name)
    answer_orders()
