"""A real cluster of processes on this machine, and an object store that speaks over HTTP."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

BUCKET_SERVER = """
import sys, time
from moto.server import ThreadedMotoServer
server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
server.start()
print(f"http://127.0.0.1:{server.get_host_and_port()[1]}", flush=True)
sys.stdin.read()
"""
SECONDS = 60.0


class Machines:
    """Processes that were started, each with a file of what it said; all end with the test."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.started: list[subprocess.Popen[bytes]] = []

    def start(self, arguments: list[str], extra: dict[str, str] | None = None) -> tuple[subprocess.Popen[bytes], Path]:
        """Start one; its process, and the file of what it says."""
        said = self._folder / f"{len(self.started)}.txt"
        with said.open("wb") as file:
            process = subprocess.Popen(
                [sys.executable, *arguments], stdin=subprocess.PIPE, stdout=file, stderr=file,
                env=os.environ | (extra or {}), cwd=self._folder,
            )  # fmt: skip
        self.started.append(process)
        return process, said

    def scheduler(self) -> str:
        """Start a scheduler; its address."""
        asked = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
        _, said = self.start(["-m", "distributed.cli.dask_scheduler", *asked])
        return told(said, r"Scheduler at:\s+(tcp://\S+)")

    def worker(self, address: str, extra: dict[str, str] | None = None, nanny: bool = False) -> subprocess.Popen[bytes]:
        """Start a worker of one thread, and wait until the scheduler knows it."""
        asked = [address, "--nthreads", "1", "--no-dashboard", "--local-directory", str(self._folder)]
        with_nanny = "--nanny" if nanny else "--no-nanny"
        process, said = self.start(["-m", "distributed.cli.dask_worker", *asked, with_nanny], extra)
        told(said, r"(Registered to)")
        return process

    def object_store(self) -> str:
        """Start an object store; its address."""
        return told(self.start(["-c", BUCKET_SERVER])[1], r"(http://\S+)")

    def end(self) -> None:
        """End them all."""
        for process in self.started:
            process.kill()
            process.communicate()


def told(said: Path, pattern: str) -> str:
    """What a process said that fits a pattern."""
    until = time.monotonic() + SECONDS
    while time.monotonic() < until:
        if found := re.search(pattern, said.read_text("utf-8", "replace")):
            return found[1]
        time.sleep(0.05)
    raise AssertionError(said.read_text("utf-8", "replace")[-2000:])


@contextmanager
def machines(folder: Path) -> Iterator[Machines]:
    """Machines that end with this."""
    some = Machines(folder)
    try:
        yield some
    finally:
        some.end()
