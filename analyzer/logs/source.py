"""Finding logs: files, folders and zip archives become a list of sources whose bytes come later."""

from __future__ import annotations

import hashlib
import os
import stat
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import IO

from msgspec import Struct, field
from msgspec.structs import replace

from analyzer.logs.bounds import MAX_LINE_BYTES, MAX_LOG_BYTES, MAX_MEMBERS, MAX_ROWS, MAX_UNPACKED_BYTES
from analyzer.logs.log import Refusal, RefusedError
from analyzer.logs.remote import NOTHING, Remote, fetch_fault, found_behind, is_url, name_of, open_remote, path_of

#: Bytes that are read at a time, more than most logs hold, so that these need not be joined; and counted at a time.
PIECE, CHUNK = 4 * 1024 * 1024, 128 * 1024
#: A file of maintenance entries beside the logs; it is no log.
ENTRIES_FILE = "entries.csv"


class Source(Struct, frozen=True):
    """One log to be read: a file, or a member of a zip archive."""

    name: str  # as given or found; members as "x.zip/folder/member.csv"
    path: Path
    member: str | None = None

    def read(self) -> bytes:
        """All bytes of the log.

        Raises
        ------
        RefusedError
            If the file or the archive member cannot be read; the text is one sentence.
        """
        try:
            if self.member is not None:
                return _read_member(self.path, self.member)
            return _read_file(self.path)
        except OSError as error:
            raise RefusedError(
                f"The file cannot be opened ({error.strerror or error}); check that it exists and may be read."
            ) from error

    def content_hash(self) -> str:
        """SHA-256 of all its bytes, in hexadecimal digits.

        Raises
        ------
        RefusedError
            As for ``read``.
        """
        return hashlib.sha256(self.read()).hexdigest()

    def from_any_folder(self) -> Source:
        """The same log, by a path that leads to it whatever folder a program was started in."""
        return replace(self, path=self.path.absolute())

    def place(self) -> str:
        """Where it lies, as a hash: the same from whatever folder a program was started in, and no other log's."""
        return _hashed(f"{self.path.absolute()}\0{self.member or ''}")

    def mark(self) -> str:
        """What changes when the log does, found without reading it; empty where that cannot be told."""
        try:
            found = self.path.stat()
        except (OSError, ValueError):
            return ""
        return f"{found.st_size} {found.st_mtime_ns}"

    def size(self) -> int:
        """How many bytes it holds, unpacked, as far as that is known without reading it; 0 where it is not."""
        try:
            found = self.path.stat()
            if self.member is None:
                return found.st_size
            return _archive(self.path, found.st_size, found.st_mtime_ns).getinfo(self.member).file_size
        except (OSError, KeyError, ValueError, NotImplementedError, zipfile.BadZipFile):
            return 0


class Elsewhere(Source, frozen=True):
    """A log behind a URL."""

    found: Remote = NOTHING

    def read(self) -> bytes:
        """All bytes of the log.

        Raises
        ------
        RefusedError
            If it cannot be fetched, or holds too much.
        """
        try:
            with open_remote(self.found.url) as opened:
                return _counted(opened, self.found.bytes)
        except (RefusedError, MemoryError):
            raise
        except Exception as problem:  # each client has its own
            raise RefusedError(fetch_fault(problem, self.found.url)) from problem

    def size(self) -> int:
        """How many bytes it holds, as it was told where it was found."""
        return self.found.bytes

    def from_any_folder(self) -> Source:
        """The same log, which has no path."""
        return self

    def place(self) -> str:
        """Where it lies, with what may be secret in its URL not to be read from it."""
        return _hashed(self.found.url)

    def mark(self) -> str:
        """What changes when the log does."""
        return self.found.mark


def _hashed(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def _read_file(path: Path) -> bytes:
    """All bytes of a file, or of a pipe that another program of the call is writing.

    Devices never end, and a pipe with a name waits for ever for somebody to write: both are refused.
    """
    mode = path.stat().st_mode
    if stat.S_ISCHR(mode) or stat.S_ISBLK(mode):
        raise RefusedError("This is a device and no file; give the recorder's CSV file.")
    if stat.S_ISSOCK(mode) or (stat.S_ISFIFO(mode) and not _is_of_this_call(path)):
        raise RefusedError("This is a named pipe or socket and no file; give the recorder's CSV file.")
    with path.open("rb") as opened:
        return _counted(opened, path.stat().st_size)


def _is_of_this_call(path: Path) -> bool:
    """Whether a pipe has no name in any folder, as the shell's ``<(command)`` has none."""
    return "pipe:[" in os.path.realpath(path)


def _counted(opened: IO[bytes], size: int) -> bytes:
    """What a file holds, counted while it is read: bytes, rows, and how long its lines are."""
    kept: list[bytes] = []
    counts = _Counts(size)
    while piece := opened.read(PIECE):
        kept.append(piece)
        for begin in range(0, len(piece), CHUNK):
            counts.go_on(piece, begin, min(begin + CHUNK, len(piece)))
    return b"".join(kept)


class _Counts(Struct):
    """What a file of some size holds so far: bytes, rows, and letters of a line that has not ended."""

    size: int
    held: int = 0
    rows: int = 0
    line: int = 0
    not_counted: list[memoryview] = field(default_factory=list)  # whose rows may still be too few to matter

    def go_on(self, piece: bytes, begin: int, end: int) -> None:
        """Count a part of a piece too; refuse the file where that is too much."""
        self.held += end - begin
        self.not_counted.append(memoryview(piece)[begin:end])
        if self.held > MAX_LOG_BYTES:
            raise RefusedError(_too_large(max(self.size, self.held)))
        if self.held > MAX_ROWS:  # fewer bytes hold no more rows
            self.rows += sum(max(_times(b"\n", part), _times(b"\r", part)) for part in self.not_counted)
            self.not_counted.clear()
        if self.rows > MAX_ROWS:
            raise RefusedError(
                f"The file holds more than the {MAX_ROWS:,} rows that are read; split it into shorter recordings."
            )
        first, last = piece.find(b"\n", begin, end), piece.rfind(b"\n", begin, end)
        last = max(last, piece.rfind(b"\r", max(last, begin), end))
        self.line += _letters(piece[begin:end] if last < 0 else piece[begin:first] if first >= 0 else b"")
        if self.line > MAX_LINE_BYTES:
            raise RefusedError(
                f"One line of the file is longer than {MAX_LINE_BYTES / 1e6:.0f} MB, so it holds no rows of readings; "
                "check that it is the recorder's CSV file and has line ends."
            )
        self.line = self.line if last < 0 else _letters(piece[last + 1 : end])


def _times(letter: bytes, part: memoryview) -> int:
    """How often a letter stands in a part; ``bytes.count`` looks at one byte after the other."""
    import numpy as np

    return int(np.count_nonzero(np.frombuffer(part, dtype=np.uint8) == ord(letter)))


def _letters(part: bytes) -> int:
    """Bytes that are not the zeros of a file that was laid out and never filled."""
    return len(part) - part.count(0)


def _too_large(size: int) -> str:
    return (
        f"The file holds {size / 1e6:,.0f} MB, more than the {MAX_LOG_BYTES / 1e6:,.0f} MB that are read; "
        "split it into shorter recordings."
    )


@lru_cache(maxsize=2)
def _archive(path: Path, _size: int, _changed: int) -> zipfile.ZipFile:
    """An opened archive, so that its list of members is read once and not once a member."""
    return zipfile.ZipFile(path)


def _read_member(path: Path, member: str) -> bytes:
    found = path.stat()
    try:
        archive = _archive(path, found.st_size, found.st_mtime_ns)
        info = archive.getinfo(member)
        if info.flag_bits & 0x1:
            raise RefusedError(
                "This file in the zip archive is encrypted; unpack it with its password and give the unpacked file."
            )
        if info.file_size > MAX_LOG_BYTES:
            raise RefusedError(_too_large(info.file_size))
        with archive.open(info) as opened:
            return _counted(opened, info.file_size)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, NotImplementedError, RuntimeError, ValueError) as error:
        raise RefusedError(
            f"This file in the zip archive is damaged ({error}); copy the archive again or unpack it by other means."
        ) from error


def find_logs(paths: Iterable[Path | str]) -> list[Source | Refusal]:
    """Every log behind some paths or URLs, in order; one that leads to none gives a refusal instead.

    A file is taken as it is; a folder is searched through all levels for ``*.csv`` in any case, sorted;
    a zip archive gives its CSV members in their order. A file of maintenance entries (``entries.csv``)
    in a folder or archive is passed over. Names that are no text are given with their bytes written out.
    A link in a folder that leads out of it is refused, and so are archives that hold more than is read.
    A URL, which must be given as text, is the log there, or stands for every ``*.csv`` below it.
    """
    found: list[Source | Refusal] = []
    unpacked = 0
    for given in paths:
        if isinstance(given, str) and is_url(given):
            found += _behind(given)
            continue
        path = Path(given)
        try:
            is_folder, exists = path.is_dir(), path.exists()
        except (OSError, ValueError) as error:
            because = f"The path cannot be looked up ({getattr(error, 'strerror', None) or error}); check its spelling."
            found.append(Refusal(shown(given), because))
            continue
        if is_folder:
            found += _in_folder(path)
        elif not exists:
            found.append(
                Refusal(shown(given), f"There is no file or folder {shown(path)}; check the spelling of the path.")
            )
        elif path.suffix.lower() == ".zip":
            members, size = _in_archive(path, MAX_UNPACKED_BYTES - unpacked)
            found += members
            unpacked += size
        else:
            found.append(Source(shown(given), path))
    return found


def shown(path: Path | str) -> str:
    """A path as text that can be written anywhere; bytes of a name that are no text stand as ``\\xff``."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def _is_log_name(name: str) -> bool:
    return name.lower().endswith(".csv") and not name.startswith("._") and name.lower() != ENTRIES_FILE


def _in_folder(folder: Path) -> list[Source | Refusal]:
    closed: list[Source | Refusal] = []

    def cannot(error: OSError) -> None:
        because = (
            f"The folder cannot be opened ({error.strerror or error}), so logs in it are missing; check its rights."
        )
        closed.append(Refusal(shown(error.filename), because))

    files: list[Path] = []
    others = 0
    for parent, folders, names in os.walk(folder, onerror=cannot):
        folders.sort()
        logs = [name for name in names if _is_log_name(name)]
        others += len(names) - len(logs)
        files += [Path(parent) / name for name in logs]
    if not files and not closed:
        because = f"The folder {shown(folder)} holds no CSV file on any level, among {others} other files; "
        return [Refusal(shown(folder), because + "give the folder with the logs, or a log itself whatever its ending.")]
    root = folder.resolve()
    return [*(_of_folder(file, root) for file in sorted(files)), *closed]


def _behind(url: str) -> list[Source | Refusal]:
    """The logs behind a URL."""
    there = found_behind(url)
    if isinstance(there, Refusal):
        return [there]
    logs = (
        there
        if [one.url for one in there] == [url]
        else [one for one in there if _is_log_name(one.name.rsplit("/", 1)[-1])]
    )
    if not logs:
        because = f"There is no CSV file below {name_of(url)}, among {len(there)} other files; "
        return [Refusal(name_of(url), because + "give the address of the logs, or of a log itself.")]
    return [_elsewhere(one) for one in logs]


def _elsewhere(one: Remote) -> Source | Refusal:
    name = shown(one.name)
    if name.lower().endswith(".zip"):
        return Refusal(name, "A zip archive is not read from afar; copy it here, or unpack it there.")
    return Elsewhere(name, path_of(one), None, one)


def _of_folder(file: Path, root: Path) -> Source | Refusal:
    """A file that was found in a folder, unless it leads out of it or is there no more."""
    if file.is_symlink():
        led = file.resolve()
        if not led.is_relative_to(root):
            because = "This is a link to a file outside the folder, which is not followed; give that file itself."
            return Refusal(shown(file), because)
        if not led.exists():
            return Refusal(shown(file), "This is a link to a file that is not there; give the file itself.")
    return Source(shown(file), file)


def _in_archive(path: Path, left: int) -> tuple[list[Source | Refusal], int]:
    """The logs in an archive, and how many bytes they unpack to; no more than ``left`` are taken."""
    told = shown(path.name)
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            return [Refusal(shown(path), "This is a pipe or device and no zip archive; give the archive itself.")], 0
        with zipfile.ZipFile(path) as archive:
            infos = [info for info in archive.infolist() if not info.is_dir()]
    except (zipfile.BadZipFile, OSError, NotImplementedError, ValueError) as error:
        because = f"The zip archive {told} is damaged or no zip archive ({error}); copy or download it again."
        return [Refusal(shown(path), because)], 0
    logs = [i for i in infos if _is_log_name(i.filename.rsplit("/", 1)[-1]) and not i.filename.startswith("__MACOSX/")]
    if not logs:
        because = f"The zip archive {told} holds no CSV file among its {len(infos)} files; give one that does."
        return [Refusal(shown(path), because)], 0
    size = sum(info.file_size for info in logs)
    if len(infos) > MAX_MEMBERS or size > left:
        because = (
            f"The zip archive {told} holds {len(infos):,} files that unpack to {size / 1e6:,.0f} MB of logs, more than "
            f"the {MAX_MEMBERS:,} files or {max(left, 0) / 1e6:,.0f} MB that are read in one call; split it."
        )
        return [Refusal(shown(path), because)], 0
    names = Counter(info.filename for info in infos)
    found: list[Source | Refusal] = [
        Source(f"{shown(path)}/{shown(member)}", path, member) for member in dict.fromkeys(i.filename for i in logs)
    ]
    for member in sorted(name for name, times in names.items() if times > 1):
        because = (
            "The zip archive holds this name more than once and only the last can be read; unpack it by other means."
        )
        found.append(Refusal(f"{shown(path)}/{shown(member)}", because))
    return found, size
