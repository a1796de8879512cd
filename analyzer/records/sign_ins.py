"""Who signed in, and who tried to: a file beside the database that is only ever added to, without passwords.

Each line seals the one before it, as in the log of changes. It stands apart from the database because anybody may try
to sign in: nothing that is worked out of the records begins anew for that.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from analyzer.cells import csv_of
from analyzer.records.people import Person, Role
from analyzer.records.problems import RecordsError
from analyzer.records.seals import seal

SIGN_INS_FILE = "sign_ins.jsonl"
SIGNED_IN, FAILED, WAITS, SIGNED_OUT, OPENED = (
    "signed in", "wrong name or password", "told to wait", "signed out", "link opened",
)  # fmt: skip
#: What is noted of somebody who names no account: what they wrote may be a password in the wrong field.
NOBODY_KNOWN = "no such account"
#: Failed tries that are noted one by one in an hour; of more their number is.
MOST_FAILED, HOUR_S = 200, 3600.0
#: The last line is looked for in so many bytes; lines are far shorter.
LONGEST_LINE = 4096
#: So much is noted of an address, which a proxy may hand on at any length; one of IPv6 with its zone has some fifty.
LONGEST_ADDRESS = 100
#: Largest file that is read [bytes].
MOST_BYTES = 500_000_000
HEAD = ("number", "when (UTC)", "what", "account", "address")


@dataclass(frozen=True, slots=True)
class SignIn:
    """One line."""

    id: int
    at: str  # ISO 8601, UTC
    what: str
    who: str  # account or link
    address: str


class SignIns:
    """Notes who signs in at one folder's pages. What cannot be noted is told in the server's window."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / SIGN_INS_FILE
        self._lock = threading.Lock()
        self._hour, self._failed = 0.0, 0

    def note(self, what: str, who: str, address: str) -> None:
        """Add a line, or count it where too many tries failed in this hour."""
        with self._lock:
            left_out = self._counted(what)
            if left_out is None:
                return
            try:
                with _held(self._path) as file:
                    if left_out:
                        _append(file, f"{left_out} more failed tries", NOBODY_KNOWN, "")
                    _append(file, what, who, address[:LONGEST_ADDRESS])
            except OSError as problem:
                logging.getLogger(__name__).warning("%s cannot be written (%s)", self._path, problem.strerror)

    def _counted(self, what: str) -> int | None:
        """None where a try is only counted; else how many were only counted in the hour that is over."""
        now, left_out = time.monotonic(), 0
        if not self._hour or now - self._hour > HOUR_S:
            left_out, self._hour, self._failed = max(0, self._failed - MOST_FAILED), now, 0
        if what in (FAILED, WAITS):
            self._failed += 1
            if self._failed > MOST_FAILED:
                return None
        return left_out


@contextlib.contextmanager
def _held(path: Path) -> Iterator[BinaryIO]:
    """The file, open to this program alone where the system can do that."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    with os.fdopen(handle, "r+b") as file:
        with contextlib.suppress(ImportError):
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
        yield file


def _append(file: BinaryIO, what: str, who: str, address: str) -> None:
    """Add a sealed line; what a stopped program left half written is taken away first."""
    end = file.seek(0, os.SEEK_END)
    file.seek(max(0, end - LONGEST_LINE))
    tail = file.read()
    cut = tail.rfind(b"\n") + 1
    file.truncate(end - len(tail) + cut)
    number, sealed = _told(tail[:cut].rstrip(b"\n").rpartition(b"\n")[2])
    line = SignIn(number + 1, datetime.now(UTC).isoformat(timespec="seconds"), what, who, address)
    file.seek(0, os.SEEK_END)
    file.write(json.dumps(asdict(line) | {"seal": _seal(sealed, line)}).encode() + b"\n")
    file.flush()
    os.fsync(file.fileno())


def _told(line: bytes) -> tuple[int, str | None]:
    """Number and seal of a line; none of a first one, nor of one that is spoilt."""
    try:
        told = json.loads(line)
        return int(told["id"]), str(told["seal"])
    except (ValueError, KeyError, TypeError):
        return 0, None


def _seal(last: str | None, line: SignIn) -> str:
    return seal(last, line.id, line.at, line.what, line.who, line.address)


def kept_sign_ins(folder: Path, person: Person) -> list[SignIn]:
    """Give all lines, the newest first; a spoilt one is left out, for ``broken_line`` tells of it.

    Raises
    ------
    RecordsError
        When who asks is no manager, or the file cannot be read.
    """
    person.allow(Role.MANAGER)
    found = [line for line, _ in _lines(folder) if line is not None]
    return found[::-1]


def broken_line(folder: Path) -> int | None:
    """The first line that is not what was written, or before which one is missing."""
    last = None
    for number, (line, sealed) in enumerate(_lines(folder), 1):
        if line is None or line.id != number or sealed != _seal(last, line):
            return number
        last = sealed
    return None


def _lines(folder: Path) -> Iterator[tuple[SignIn | None, str | None]]:
    path = folder / SIGN_INS_FILE
    try:
        if path.stat().st_size > MOST_BYTES:
            raise RecordsError(f"{path} is larger than {MOST_BYTES / 1e6:,.0f} MB; move it away.")
        with path.open("rb") as lines:
            for line in lines:
                try:
                    told = json.loads(line)
                    sealed = str(told.pop("seal"))
                    one = SignIn(**told)
                    if not line.endswith(b"\n") or not isinstance(one.id, int):
                        raise ValueError("half written")
                except (ValueError, KeyError, TypeError, AttributeError):
                    yield None, None
                else:
                    yield one, sealed
    except FileNotFoundError:
        return
    except OSError as problem:
        raise RecordsError(f"{path} cannot be read ({problem.strerror or problem}).") from problem


def sign_ins_csv(found: Sequence[SignIn]) -> str:
    """Give lines as a CSV file, in the order given; no spreadsheet takes a cell of it for a formula."""
    return csv_of(HEAD, (asdict(one).values() for one in found))
