"""The tables that the program ships, as TOML; as read, they are kept beside the modules' bytecode.

TOML takes fifty times as long to parse as JSON, and every start needs several tables. What is kept is used only where
its hash is that of the table as it stands today, and of every byte that was kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any

#: Letters of a hash.
_HASH = 64


def read_table(path: Path) -> dict[str, Any]:
    """What a table of the program holds."""
    written = path.read_bytes()
    beside = _beside(path)
    if beside is None:
        return _parsed(written)
    with contextlib.suppress(OSError, ValueError):
        kept = beside.read_bytes()
        if kept[:_HASH] == _hashed(written, kept[_HASH:]):
            known: dict[str, Any] = json.loads(kept[_HASH:])
            return known
    table = _parsed(written)
    if not sys.dont_write_bytecode:
        with contextlib.suppress(TypeError):  # JSON has no dates: a table of such is parsed at every start
            _keep(beside, written, json.dumps(table).encode())
    return table


def _beside(path: Path) -> Path | None:
    """Where a table is kept as it was read; nowhere by an interpreter that keeps no bytecode."""
    try:
        return Path(cache_from_source(f"{path}.py")).with_suffix(".json")
    except NotImplementedError:
        return None


def _parsed(written: bytes) -> dict[str, Any]:
    import tomllib  # what is kept needs none of it

    return tomllib.loads(written.decode("utf-8"))


def _hashed(written: bytes, told: bytes) -> bytes:
    """The hash of a table as written, and as told in JSON."""
    return hashlib.sha256(hashlib.sha256(written).digest() + told).hexdigest().encode()


def _keep(beside: Path, written: bytes, told: bytes) -> None:
    """Keep a table as it was read, whole or not at all; where that cannot be, it is parsed at the next start."""
    unfinished = beside.with_suffix(f".{os.getpid()}")
    try:
        beside.parent.mkdir(parents=True, exist_ok=True)
        unfinished.write_bytes(_hashed(written, told) + told)
        unfinished.replace(beside)
    except OSError:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
