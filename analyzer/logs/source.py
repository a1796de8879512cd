"""Finding logs: files, folders and zip archives become a list of sources whose bytes come later."""

from __future__ import annotations

import os
import stat
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from analyzer.logs.log import Refusal, RefusedError

#: Largest log that is read, packed or not. Ten hours of 130 columns four times a second are 100 MB.
MAX_LOG_BYTES = 512 * 1024 * 1024

#: A file of maintenance entries beside the logs; it is no log.
ENTRIES_FILE = "entries.csv"


@dataclass(frozen=True, slots=True)
class Source:
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


def _read_file(path: Path) -> bytes:
    """All bytes of a file or of a pipe that is being written; devices never end and are refused."""
    mode = path.stat().st_mode
    if stat.S_ISCHR(mode) or stat.S_ISBLK(mode):
        raise RefusedError("This is a device and no file; give the recorder's CSV file.")
    with path.open("rb") as opened:
        data = opened.read(MAX_LOG_BYTES + 1)
    if len(data) > MAX_LOG_BYTES:
        raise RefusedError(_too_large(path.stat().st_size or len(data)))
    return data


def _too_large(size: int) -> str:
    return (
        f"The file holds {size / 1e6:,.0f} MB, more than the {MAX_LOG_BYTES / 1e6:,.0f} MB that are read; "
        "split it into shorter recordings."
    )


def _read_member(path: Path, member: str) -> bytes:
    try:
        with zipfile.ZipFile(path) as archive:
            info = archive.getinfo(member)
            if info.flag_bits & 0x1:
                raise RefusedError(
                    "This file in the zip archive is encrypted; unpack it with its password and give the unpacked file."
                )
            if info.file_size > MAX_LOG_BYTES:
                raise RefusedError(_too_large(info.file_size))
            with archive.open(info) as opened:
                data = opened.read(MAX_LOG_BYTES + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, NotImplementedError, RuntimeError) as error:
        raise RefusedError(
            f"This file in the zip archive is damaged ({error}); copy the archive again or unpack it by other means."
        ) from error
    if len(data) > MAX_LOG_BYTES:
        raise RefusedError(_too_large(len(data)))
    return data


def find_logs(paths: Iterable[Path | str]) -> list[Source | Refusal]:
    """Every log behind some paths, in order; a path that leads to none gives a refusal instead.

    A file is taken as it is; a folder is searched through all levels for ``*.csv`` in any case, sorted;
    a zip archive gives its CSV members in their order. A file of maintenance entries (``entries.csv``)
    in a folder or archive is passed over.
    """
    found: list[Source | Refusal] = []
    for given in paths:
        path = Path(given)
        try:
            is_folder, exists = path.is_dir(), path.exists()
        except (OSError, ValueError) as error:
            because = f"The path cannot be looked up ({getattr(error, 'strerror', None) or error}); check its spelling."
            found.append(Refusal(str(given), because))
            continue
        if is_folder:
            found += _in_folder(path)
        elif not exists:
            found.append(Refusal(str(given), f"There is no file or folder {path}; check the spelling of the path."))
        elif path.suffix.lower() == ".zip":
            found += _in_archive(path)
        else:
            found.append(Source(str(given), path))
    return found


def _is_log_name(name: str) -> bool:
    return name.lower().endswith(".csv") and not name.startswith("._") and name.lower() != ENTRIES_FILE


def _in_folder(folder: Path) -> list[Source | Refusal]:
    closed: list[Source | Refusal] = []

    def cannot(error: OSError) -> None:
        because = (
            f"The folder cannot be opened ({error.strerror or error}), so logs in it are missing; check its rights."
        )
        closed.append(Refusal(str(error.filename), because))

    files, others = [], 0
    for parent, folders, names in os.walk(folder, onerror=cannot):
        folders.sort()
        logs = [name for name in names if _is_log_name(name) and (Path(parent) / name).is_file()]
        others += len(names) - len(logs)
        files += [Path(parent) / name for name in logs]
    if not files and not closed:
        because = f"The folder {folder} holds no CSV file on any level, among {others} other files; give the folder "
        return [Refusal(str(folder), because + "with the logs, or a log itself whatever its ending.")]
    return [*(Source(str(file), file) for file in sorted(files)), *closed]


def _in_archive(path: Path) -> list[Source | Refusal]:
    try:
        with zipfile.ZipFile(path) as archive:
            members = [info.filename for info in archive.infolist() if not info.is_dir()]
    except (zipfile.BadZipFile, OSError, NotImplementedError, ValueError) as error:
        because = f"The zip archive {path.name} is damaged or no zip archive ({error}); copy or download it again."
        return [Refusal(str(path), because)]
    twice = sorted({m for m in members if members.count(m) > 1})
    logs = [m for m in members if _is_log_name(m.rsplit("/", 1)[-1]) and not m.startswith("__MACOSX/")]
    if not logs:
        because = f"The zip archive {path.name} holds no CSV file among its {len(members)} files; give one that does."
        return [Refusal(str(path), because)]
    found: list[Source | Refusal] = [Source(f"{path}/{member}", path, member) for member in dict.fromkeys(logs)]
    for member in twice:
        because = (
            "The zip archive holds this name more than once and only the last can be read; unpack it by other means."
        )
        found.append(Refusal(f"{path}/{member}", because))
    return found
