"""Files and folders that are there whole or not at all, and outlast a power failure once they are."""

from __future__ import annotations

import os
import secrets
from itertools import takewhile
from pathlib import Path

#: Ends the name of a file that is being written.
PARTIAL = ".partial"


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all, even if power fails.

    Raises
    ------
    OSError
        When it cannot be written; no part of it is left.
    """
    make_folder(path.parent)
    partial = path.with_name(f"{path.name}.{os.getpid()}-{secrets.token_hex(4)}{PARTIAL}")
    try:
        with partial.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)
        settle(path.parent)
    except BaseException:
        partial.unlink(missing_ok=True)
        raise


def make_folder(folder: Path) -> None:
    """Make a folder and those above it that are missing, each to outlast a power failure.

    Raises
    ------
    OSError
        When one cannot be made.
    """
    missing = takewhile(lambda one: not one.exists(), [folder, *folder.parents])
    for one in reversed(list(missing)):
        one.mkdir(exist_ok=True)
        settle(one.parent)


def settle(folder: Path) -> None:
    """Let a new name in a folder outlast a power failure, where the system can be told to."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
