"""A backup of the records in one file, made while others write; and records made from it, proven by comparison.

The file is a zip archive without compression (what is large in it is compressed already), with a list of the SHA-256 of
every file in it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select

from analyzer.corrections import CORRECTIONS
from analyzer.logs.source import ENTRIES_FILE
from analyzer.records.accounts import ACCOUNTS_FILE
from analyzer.records.changes import CHANGES_FILE
from analyzer.records.changing import ASSIGNED_FILE, DISPOSITIONS_FILE
from analyzer.records.durable import PARTIAL, make_folder, settle, write_whole
from analyzer.records.files import original_path, read_kept, trace_path
from analyzer.records.moving import move_to_server
from analyzer.records.people import Role
from analyzer.records.place import FLEET, ORIGINALS, TRACES, Place, place_of
from analyzer.records.problems import RecordsError
from analyzer.records.refusals import REFUSED_FILE
from analyzer.records.sign_ins import SIGN_INS_FILE
from analyzer.records.store import DATABASE, Store, sentences
from analyzer.records.tables import SCHEMA, logs
from analyzer.records.traces import seal_of

LIST = "backup.json"
BESIDE = (
    ENTRIES_FILE, DISPOSITIONS_FILE, ASSIGNED_FILE, REFUSED_FILE, CHANGES_FILE, SIGN_INS_FILE, ACCOUNTS_FILE, FLEET,
    CORRECTIONS,
)  # fmt: skip
#: Files that a backup may hold: nothing else is unpacked.
_NAMES = re.compile(
    rf"({re.escape(DATABASE)}|{'|'.join(map(re.escape, BESIDE))}"
    rf"|{ORIGINALS}/[0-9a-f]{{2}}/[0-9a-f]{{64}}\.csv\.gz|{TRACES}/[0-9a-f]{{2}}/[0-9a-f]{{64}}\.parquet)"
)
#: A log that is changed while it is copied is taken as it is afterwards; this often at most.
TRIES = 5
CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Backup:
    """What a backup holds."""

    path: Path
    made_at: str  # ISO 8601, UTC
    files: int
    size: int  # bytes of all files together
    logs: int
    flights: int
    missing: tuple[str, ...] = ()  # originals and readings that the records themselves had lost, as sentences


class _ChangedError(Exception):
    """A log was changed or forgotten between the copy of the database and that of its files."""


def back_up(store: Store, path: Path) -> Backup:
    """Write all records into one file, whole or not at all. Others may go on reading and writing.

    Raises
    ------
    RecordsError
        When it cannot be written, or is there already.
    """
    store.allow(Role.MANAGER)
    if path.exists():
        raise RecordsError(f"{path} is there already; give another name, or move it away first.")
    if store.folder.resolve() in path.resolve().parents:
        raise RecordsError("The backup would lie in the records' own folder and be lost with it; name another place.")
    partial = path.with_name(f"{path.name}.{os.getpid()}-{secrets.token_hex(4)}{PARTIAL}")
    try:
        for last in range(TRIES):
            try:
                made = _write(store, partial, patient=last == TRIES - 1)
                break
            except _ChangedError:
                continue
        partial.chmod(0o600)  # it may hold accounts
        with partial.open("rb") as written:
            os.fsync(written.fileno())
        partial.replace(path)
        settle(path.parent)
    except (OSError, sqlite3.OperationalError) as problem:  # the latter of the copy that is made of the database
        reason = getattr(problem, "strerror", None) or problem
        raise RecordsError(f"The backup {path} cannot be written ({reason}); no part of it is left.") from problem
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
    return Backup(path, *made)


def _write(store: Store, path: Path, *, patient: bool) -> tuple[str, int, int, int, int, tuple[str, ...]]:
    """Write the archive; ``patient`` takes a log as its files are, even where they do not fit its row."""
    with tempfile.TemporaryDirectory(prefix="taper-backup-") as folder:
        copied = Path(folder) / DATABASE
        counts, rows = _copy_database(store, copied)
        sums: dict[str, str] = {}
        size = 0
        missing: list[str] = []
        with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED, allowZip64=True) as archive:
            for name, data in _files(store, rows, missing, patient=patient):
                archive.writestr(name, data)
                sums[name], size = hashlib.sha256(data).hexdigest(), size + len(data)
            archive.write(copied, DATABASE)
            sums[DATABASE], size = _sum_of(copied), size + copied.stat().st_size
            made_at = datetime.now(UTC).isoformat(timespec="seconds")
            told = {"made_at": made_at, "logs": counts[0], "flights": counts[1], "sha256": sums}
            archive.writestr(LIST, json.dumps(told, indent=1))
    return made_at, len(sums), size, *counts, tuple(missing)


def _copy_database(store: Store, to: Path) -> tuple[tuple[int, int], list[tuple[str, bool, str | None]]]:
    """A copy of the database as at one moment; its counts of logs and flights, and each log's hash, original, seal."""
    with store.reading() as connection:
        store.database.copy(connection, to)
    with closing(sqlite3.connect(to)) as copy:
        counts = tuple(int(copy.execute(f"SELECT count(*) FROM {name}").fetchone()[0]) for name in ("logs", "flights"))
        rows = copy.execute(str(select(logs.c.hash, logs.c.original_kept, logs.c.trace))).fetchall()
    return (counts[0], counts[1]), [(row[0], bool(row[1]), row[2]) for row in rows]


def _files(
    store: Store, rows: list[tuple[str, bool, str | None]], missing: list[str], *, patient: bool
) -> Iterator[tuple[str, bytes]]:
    """Every file beside the database under its name in the archive."""
    for name in BESIDE:
        if (path := store.folder / name).exists():
            yield name, read_kept(path)
    for digest, original_kept, sealed in rows:
        wanted = [trace_path(store.folder, digest)] + ([original_path(store.folder, digest)] if original_kept else [])
        for path in wanted:
            name = path.relative_to(store.folder).as_posix()
            try:
                data = read_kept(path)
                if path.suffix == ".parquet" and sealed is not None and seal_of(data) != sealed:
                    raise ValueError("it is not that of this analysis")
            except (OSError, ValueError) as problem:
                if not patient:
                    raise _ChangedError from problem
                missing.append(f"{name}: {getattr(problem, 'strerror', None) or problem}")
                continue
            yield name, data


def _sum_of(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as opened:
        while chunk := opened.read(CHUNK):
            found.update(chunk)
    return found.hexdigest()


def restore(path: Path, where: Place | Path) -> Backup:
    """Make records of a backup where there are none; every file is compared with what was backed up.

    A backup holds the tables as a folder without server keeps them, and is restored to either engine.

    Raises
    ------
    RecordsError
        When the folder or the server's database holds something, or the backup is damaged; nothing is left then.
    """
    place = where if isinstance(where, Place) else place_of(where)
    folder = place.folder
    if folder.exists() and any(folder.iterdir()):
        raise RecordsError(
            f"{folder} is not empty, and records are restored beside nothing else; move it away, or name another "
            "folder with --records."
        )
    partial = folder.with_name(f"{folder.name}.{os.getpid()}-{secrets.token_hex(4)}{PARTIAL}")
    try:
        with sentences(folder):
            make_folder(partial)
            made = _unpack(path, partial)
            if place.server is not None:
                move_to_server(partial, place)
                return made
            if folder.exists():
                folder.rmdir()
            partial.replace(folder)
            settle(folder.parent)
    finally:
        shutil.rmtree(partial, ignore_errors=True)
    return made


def _unpack(path: Path, folder: Path) -> Backup:
    try:
        with zipfile.ZipFile(path) as archive:
            _refuse_unpacking_to_more(archive, path)
            told = json.loads(archive.read(LIST))
            sums = dict(told["sha256"])
            size = 0
            for name, expected in sums.items():
                if not _NAMES.fullmatch(name):
                    raise RecordsError(f"{path} holds {name!r}, which is no file of records; it is no backup of them.")
                data = archive.read(name)
                if hashlib.sha256(data).hexdigest() != expected:
                    raise RecordsError(f"{path} is damaged: {name} is not what was backed up. Nothing was restored.")
                write_whole(folder / name, data)
                if name == ACCOUNTS_FILE:
                    (folder / name).chmod(0o600)
                size += len(data)
    except FileNotFoundError:
        raise RecordsError(f"There is no backup {path}; check the spelling.") from None
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, NotImplementedError, TypeError) as problem:
        raise RecordsError(f"{path} is damaged or no backup of records ({problem}). Nothing was restored.") from problem
    for part in (ORIGINALS, TRACES):
        make_folder(folder / part)
    counts = _compared(folder, path, told, sums)
    return Backup(path, str(told["made_at"]), len(sums), size, *counts)


def _refuse_unpacking_to_more(archive: zipfile.ZipFile, path: Path) -> None:
    """Refuse an archive that holds more than its own size; a backup is not compressed."""
    size, held = path.stat().st_size, sum(one.file_size for one in archive.infolist())
    if held > size:
        raise RecordsError(
            f"{path} of {size / 1e6:,.1f} MB would unpack to {held / 1e6:,.1f} MB, which no backup of records does. "
            "Nothing was restored."
        )


def _compared(folder: Path, path: Path, told: dict[str, object], sums: dict[str, str]) -> tuple[int, int]:
    """Compare what lies there now, read from the disk once more, with the backup."""
    for name, expected in sums.items():
        if _sum_of(folder / name) != expected:
            raise RecordsError(f"The disk did not keep {name} as it was written. Nothing was restored.")
    held = _held_if_sound(folder / DATABASE)
    if held is not None and held[2] > SCHEMA:
        raise RecordsError(
            f"{path} was written by a newer version of this program (its records' version is {held[2]}, this program "
            f"knows up to {SCHEMA}). Nothing was restored; update the program."
        )
    if held is None or held[:2] != (told.get("logs"), told.get("flights")):
        raise RecordsError(f"The database in {path} is damaged. Nothing was restored.")
    return held[:2]


def _held_if_sound(database: Path) -> tuple[int, int, int] | None:
    """How many logs and flights a database holds, and its version; None where it is damaged, or none of records."""
    asked = ("SELECT count(*) FROM logs", "SELECT count(*) FROM flights", "SELECT max(version) FROM schema_version")
    try:
        with closing(sqlite3.connect(database)) as opened:
            logs_there, flights_there, version = (int(opened.execute(one).fetchone()[0] or 0) for one in asked)
            sound = opened.execute("PRAGMA integrity_check").fetchone()[0]
    except sqlite3.DatabaseError:
        return None
    return (logs_there, flights_there, version) if sound == "ok" else None
