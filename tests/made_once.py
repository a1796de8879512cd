"""Folders that one process of a test run makes and all of them copy."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def made_once(factory: pytest.TempPathFactory, worker_id: str, name: str, make: Callable[[Path], object]) -> Path:
    """A folder of the run, made by whichever process comes first; nobody may change what is in it."""
    shared = factory.getbasetemp() if worker_id == "master" else factory.getbasetemp().parent
    folder, mark = shared / name, shared / f"{name}.made"
    with _locked(shared / f"{name}.lock"):
        if not mark.exists():
            folder.mkdir(exist_ok=True)
            make(folder)
            mark.touch()
    return folder


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Hold a lock that other processes see."""
    while True:
        try:
            handle = os.open(path, os.O_CREAT | os.O_EXCL)
            break
        except FileExistsError:
            time.sleep(0.2)
    try:
        yield
    finally:
        os.close(handle)
        path.unlink()
