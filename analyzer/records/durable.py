"""Files and folders that are there whole or not at all, and outlast a power failure once they are."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable, Mapping
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
    write_each_whole({path: data})


def write_each_whole(files: Mapping[Path, bytes]) -> None:
    """Write files of which each is there whole or not at all, even if power fails; all are once this returns.

    Raises
    ------
    OSError
        When one cannot be written; no part of any is left, but some may be there.
    """
    folders = {path.parent for path in files}
    make_folders(folders)
    own = f"{os.getpid()}-{secrets.token_hex(4)}{PARTIAL}"
    partials = {path: path.with_name(f"{path.name}.{own}") for path in files}
    try:
        for path, partial in partials.items():
            with partial.open("wb") as file:
                file.write(files[path])
                file.flush()
                os.fsync(file.fileno())
        for path, partial in partials.items():
            partial.replace(path)
        for folder in folders:
            settle(folder)
    except BaseException:
        for partial in partials.values():
            partial.unlink(missing_ok=True)
        raise


def make_folder(folder: Path) -> None:
    """Make a folder and those above it that are missing, each to outlast a power failure.

    Raises
    ------
    OSError
        When one cannot be made.
    """
    make_folders([folder])


def make_folders(folders: Iterable[Path]) -> None:
    """Make some folders as ``make_folder`` does one.

    Raises
    ------
    OSError
        When one cannot be made.
    """
    holding = set()
    for folder in folders:
        missing = takewhile(lambda one: not one.exists(), [folder, *folder.parents])
        for one in reversed(list(missing)):
            one.mkdir(exist_ok=True)
            holding.add(one.parent)
    for folder in holding:
        settle(folder)


def settle(folder: Path) -> None:
    """Let a new name in a folder outlast a power failure, where the system can be told to."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
