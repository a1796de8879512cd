"""Logs that ``taper add`` refused, kept as a list beside the database, so that a later digest can name them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import astuple, dataclass
from datetime import UTC, datetime

from analyzer.cells import guarded, unguarded
from analyzer.records.durable import write_whole
from analyzer.records.store import Store, sentences

REFUSED_FILE = "refused.csv"
_COLUMNS = ("at", "source", "because")
#: The list keeps the latest so many.
_MOST = 1000


@dataclass(frozen=True, slots=True)
class RefusedLog:
    """One log that could not be read."""

    at: str  # when it was last refused, ISO 8601, UTC
    source: str
    because: str


def keep_refusals(store: Store, refused: Iterable[tuple[str, str]]) -> None:
    """Note logs as refused now, each source once, with its sentence.

    Raises
    ------
    RecordsError
        When the list cannot be written.
    """
    at = datetime.now(UTC).isoformat(timespec="seconds")
    fresh = [RefusedLog(at, source, because) for source, because in refused]
    if not fresh:
        return
    again = {one.source for one in fresh}
    kept = [*(one for one in _read(store) if one.source not in again), *fresh][-_MOST:]
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(_COLUMNS)
    out.writerows([guarded(cell) for cell in astuple(one)] for one in kept)
    with sentences(store.folder):
        write_whole(store.folder / REFUSED_FILE, text.getvalue().encode("utf-8", "replace"))


def kept_refusals(store: Store, since: str = "") -> list[RefusedLog]:
    """Give the logs refused since a moment (ISO 8601, UTC), in order of time."""
    return [one for one in _read(store) if one.at >= since]


def _read(store: Store) -> list[RefusedLog]:
    """The list as it stands; lines spoilt by hand are left out."""
    path = store.folder / REFUSED_FILE
    if not path.exists():
        return []
    with sentences(store.folder):
        rows = csv.reader(io.StringIO(path.read_text("utf-8", "replace")))
        return [
            RefusedLog(*map(unguarded, row)) for row in rows if len(row) == len(_COLUMNS) and tuple(row) != _COLUMNS
        ]
