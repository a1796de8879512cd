"""The files beside the database: the logs' original bytes, compressed, and one Parquet table a log."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import time
from collections.abc import Iterator
from pathlib import Path

from isal import igzip, igzip_lib

from analyzer.logs.bounds import MAX_LOG_BYTES
from analyzer.logs.source import Source
from analyzer.records.durable import PARTIAL, settle
from analyzer.records.place import ORIGINALS, TRACES
from analyzer.records.problems import RecordsError

#: Folder of what waits to be taken up (``parcels.py``): files named by a log's hash, a hyphen, and more.
ARRIVING = "arriving"
#: Of the levels 0 to 3 of ``isal``. By the standard library as much room takes four times the work, more than reviewing
#: the log does.
PACKING = 1
#: What a packed file raises that cannot be read, is cut off, or damaged; by its stubs the last one is no class.
_DAMAGED: tuple[type[Exception], ...] = (OSError, EOFError, igzip_lib.IsalError)  # type: ignore[assignment]
#: A packed file ends with the size of what it unpacks to [bytes]; RFC 1952, section 2.3.1.
_SIZE_AT_END = 4
#: No file takes longer to be written [s].
WRITING_S = 3600.0
#: A row of 130 columns, as wide recorders write it.
BYTES_OF_ROW = 1_000


def original_path(folder: Path, digest: str) -> Path:
    """Where the original bytes of a log are kept."""
    return folder / ORIGINALS / digest[:2] / f"{digest}.csv.gz"


def trace_path(folder: Path, digest: str) -> Path:
    """Where a log's table is kept."""
    return folder / TRACES / digest[:2] / f"{digest}.parquet"


def half_written(folder: Path) -> dict[Path, bool]:
    """Files that are half written, and whether each was left by a killed program; a young one may be at work."""
    found = {}
    for path in folder.rglob(f"*{PARTIAL}"):
        with contextlib.suppress(OSError):  # it has just been finished
            found[path] = time.time() - path.stat().st_mtime > WRITING_S
    return found


def remove_partial(folder: Path) -> None:
    """Remove what killed programs left half written."""
    for path, is_left in half_written(folder).items():
        with contextlib.suppress(OSError):
            if is_left:
                path.unlink()


def packed(data: bytes) -> bytes:
    """Give bytes compressed; the same bytes always give the same result. What others packed as gzip is read alike."""
    return igzip.compress(data, compresslevel=PACKING, mtime=0)


def _unpacked(data: bytes) -> bytes:
    whole: bytes = igzip.decompress(data)  # type: ignore[no-untyped-call]
    return whole


def holds_original(path: Path, digest: str) -> bool:
    """Whether a file is the sound original of a log: what it unpacks to has the log's hash."""
    try:
        return hashlib.sha256(_unpacked(read_kept(path))).hexdigest() == digest
    except _DAMAGED:
        return False


def read_original(folder: Path, digest: str) -> bytes:
    """Give the original bytes of a log.

    Raises
    ------
    RecordsError
        When they were not kept or are damaged.
    """
    path = original_path(folder, digest)
    try:
        data = _unpacked(read_kept(path))
    except FileNotFoundError:
        raise RecordsError(f"The original of this log was not kept ({path} is not there).") from None
    except _DAMAGED as problem:
        raise RecordsError(
            f"The original {path} is damaged ({problem}); add the log again from where it came from."
        ) from problem
    if hashlib.sha256(data).hexdigest() != digest:
        raise RecordsError(
            f"The original {path} is damaged (it is not what was kept); add the log again from where it came from."
        )
    return data


def size_of_log(folder: Path, digest: str, rows: int) -> int:
    """About how many bytes a kept log has, unpacked: as its original's end says, or by its rows where there is none."""
    try:
        with original_path(folder, digest).open("rb") as file:
            file.seek(-_SIZE_AT_END, os.SEEK_END)
            told = int.from_bytes(file.read(), "little")
    except OSError:
        told = 0
    return max(min(told, MAX_LOG_BYTES), rows * BYTES_OF_ROW)


def read_kept(path: Path) -> bytes:
    """The bytes of a kept file.

    Raises
    ------
    OSError
        When it cannot be read, or is a link, pipe or device and not a file of these records.
    """
    if not stat.S_ISREG(path.lstat().st_mode):
        raise OSError(errno.EINVAL, "it is a link, pipe or device and no file of the records", str(path))
    return path.read_bytes()


def all_originals(folder: Path) -> Iterator[str]:
    """Give the hash of every original kept, in order."""
    for path in sorted((folder / ORIGINALS).glob("??/*.csv.gz")):
        yield path.name.removesuffix(".csv.gz")


def all_traces(folder: Path) -> Iterator[str]:
    """Give the hash of every log whose table is kept, in order."""
    for path in sorted((folder / TRACES).glob("??/*.parquet")):
        yield path.stem


def arriving(folder: Path) -> set[str]:
    """Give the hashes of the logs of which something waits to be taken up, or is being put down."""
    return {path.name.partition("-")[0] for path in (folder / ARRIVING).glob("??/*-*")}


def parcels_of(folder: Path, digest: str) -> list[Path]:
    """Give all that waits to be taken up of a log, from whatever call."""
    return list((folder / ARRIVING / digest[:2]).glob(f"{digest}-*"))


def remove_files(folder: Path, digest: str) -> None:
    """Remove what is kept of a log beside the database, so that not even a power failure brings it back."""
    for path in (original_path(folder, digest), trace_path(folder, digest), *parcels_of(folder, digest)):
        path.unlink(missing_ok=True)
        if path.parent.exists():
            settle(path.parent)


class Held(Source, frozen=True):
    """A log whose bytes are at hand: read once before, or taken from the originals."""

    data: bytes = b""

    def size(self) -> int:
        """How many bytes it holds."""
        return len(self.data)

    def read(self) -> bytes:
        """All bytes of the log."""
        return self.data
