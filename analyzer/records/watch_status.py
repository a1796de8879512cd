"""The watched folder and how it fares: when it was last looked at, what of it was kept last, and what was refused."""

from __future__ import annotations

import contextlib
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import or_, select

from analyzer.records.durable import write_whole
from analyzer.records.refusals import RefusedLog, kept_refusals
from analyzer.records.store import Store
from analyzer.records.tables import logs
from analyzer.small_files import read_text

WATCHED_FILE = "watched.json"
#: A look is noted so often [s]; who has noted none for three such times watches no more.
NOTED_EVERY_S = 60.0


@dataclass(frozen=True, slots=True)
class WatchStatus:
    """How the watched folders fare."""

    paths: tuple[str, ...]  # folders and files, as they were named
    looked_at: datetime  # UTC
    last_kept: tuple[str, str] | None  # log, and when, ISO 8601, UTC
    refused: tuple[RefusedLog, ...]  # of these folders, the latest last

    def goes_on(self, now: datetime) -> bool:
        """Whether it is being watched at a moment, as far as the last look tells."""
        return now - self.looked_at <= timedelta(seconds=3 * NOTED_EVERY_S)


class LookNoted:
    """Notes beside the records that some folders were looked at, now and then."""

    def __init__(self, folder: Path, paths: Sequence[Path]) -> None:
        self._file, self._paths = folder / WATCHED_FILE, [str(path) for path in paths]
        self._noted: float | None = None

    def __call__(self) -> None:
        """Note a look, unless one was noted a moment ago; a full disk keeps nobody from watching."""
        now = time.monotonic()
        if self._noted is not None and now - self._noted < NOTED_EVERY_S:
            return
        told = {"paths": self._paths, "looked_at": datetime.now(UTC).isoformat(timespec="seconds")}
        with contextlib.suppress(OSError):
            write_whole(self._file, json.dumps(told, ensure_ascii=False).encode("utf-8", "replace"))
            self._noted = now


def watch_status(store: Store) -> WatchStatus | None:
    """Give how the folders fare that were watched last; None where none ever was.

    Raises
    ------
    RecordsError
        When the records cannot be read.
    """
    try:
        told = json.loads(read_text(store.folder / WATCHED_FILE))
        paths, looked_at = tuple(map(str, told["paths"])), datetime.fromisoformat(told["looked_at"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if looked_at.tzinfo is None or not paths:
        return None
    below = or_(*(logs.c.source.startswith(path, autoescape=True) for path in paths))
    asked = select(logs.c.source, logs.c.added_at).where(below).order_by(logs.c.added_at.desc()).limit(1)
    with store.reading() as connection:
        last = connection.execute(asked).first()
    refused = tuple(one for one in kept_refusals(store) if one.source.startswith(paths))
    return WatchStatus(paths, looked_at, None if last is None else (last.source, last.added_at), refused)
