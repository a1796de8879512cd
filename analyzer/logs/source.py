"""Finding logs: files, folders and zip archives become a list of sources whose bytes come later."""

from __future__ import annotations

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
            if self.path.stat().st_size > MAX_LOG_BYTES:
                raise RefusedError(_too_large(self.path.stat().st_size))
            return self.path.read_bytes()
        except OSError as error:
            raise RefusedError(
                f"The file cannot be opened ({error.strerror or error}); check that it exists and may be read."
            ) from error


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
        if path.is_dir():
            found += _in_folder(path)
        elif not path.exists():
            found.append(Refusal(str(given), f"There is no file or folder {path}; check the spelling of the path."))
        elif path.suffix.lower() == ".zip":
            found += _in_archive(path)
        else:
            found.append(Source(str(given), path))
    return found


def _is_log_name(name: str) -> bool:
    return name.lower().endswith(".csv") and not name.startswith("._") and name.lower() != ENTRIES_FILE


def _in_folder(folder: Path) -> list[Source | Refusal]:
    files = sorted(p for p in folder.rglob("*") if _is_log_name(p.name) and p.is_file())
    if not files:
        return [
            Refusal(
                str(folder),
                f"The folder {folder} holds no CSV file on any level; give the folder with the logs.",
            )
        ]
    return [Source(str(file), file) for file in files]


def _in_archive(path: Path) -> list[Source | Refusal]:
    try:
        with zipfile.ZipFile(path) as archive:
            members = [info.filename for info in archive.infolist() if not info.is_dir()]
    except (zipfile.BadZipFile, OSError, NotImplementedError, ValueError) as error:
        because = f"The zip archive {path.name} is damaged or no zip archive ({error}); copy or download it again."
        return [Refusal(str(path), because)]
    logs = [m for m in members if _is_log_name(m.rsplit("/", 1)[-1]) and not m.startswith("__MACOSX/")]
    if not logs:
        because = f"The zip archive {path.name} holds no CSV file among its {len(members)} files; give one that does."
        return [Refusal(str(path), because)]
    return [Source(f"{path}/{member}", path, member) for member in dict.fromkeys(logs)]
