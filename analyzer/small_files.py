"""Small files: what tells that one changed; a bound on what people write, and no waiting for a pipe nobody fills."""

from __future__ import annotations

import contextlib
import errno
import stat
from collections.abc import Iterable
from pathlib import Path
from typing import Any

#: Largest fleet file or file of entries: a hundred thousand entries of a hundred letters.
MAX_BYTES = 10_000_000


def file_marks(paths: Iterable[Path]) -> tuple[tuple[int, int], ...]:
    """Time of the last change [ns] and size [bytes] of those files that are there; one may go at any moment."""
    found = []
    for path in paths:
        with contextlib.suppress(FileNotFoundError):
            told = path.stat()
            found.append((told.st_mtime_ns, told.st_size))
    return tuple(found)


def read_bytes(path: Path, most: int = MAX_BYTES) -> bytes:
    """Give the bytes of a small file.

    Raises
    ------
    OSError
        When it cannot be opened, is no ordinary file, or holds more than ``most`` bytes.
    """
    mode = path.stat().st_mode
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):  # of a folder the system says so
        raise OSError(errno.EINVAL, "it is a pipe or device and no file", str(path))
    with path.open("rb") as opened:
        data = opened.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, f"it holds more than {most / 1e6:.0f} MB", str(path))
    return data


def read_text(path: Path, most: int = MAX_BYTES) -> str:
    """Give the text of a small UTF-8 file, without a byte order mark.

    Raises
    ------
    OSError
        When it cannot be opened, is no ordinary file, or holds more than ``most`` bytes.
    UnicodeDecodeError
        When it is not UTF-8.
    """
    return read_bytes(path, most).decode("utf-8-sig")


def read_toml(path: Path) -> dict[str, Any]:
    """Give what a small TOML file holds.

    Raises
    ------
    OSError
        When it cannot be opened, is no ordinary file, or is too large.
    UnicodeDecodeError
        When it is not UTF-8.
    ValueError
        When it is not TOML, or holds a number or tables out of all measure.
    """
    return parse_toml(read_text(path))


def parse_toml(text: str) -> dict[str, Any]:
    """Give what the text of a small TOML file holds.

    Raises
    ------
    ValueError
        When it is not TOML, or holds a number or tables out of all measure.
    """
    import tomllib  # of most files that are asked for there is none

    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError as problem:
        raise ValueError("it is nested too deep") from problem
    except ValueError as problem:
        raise ValueError("a number in it has too many digits") from problem
