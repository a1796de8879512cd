"""Keeping what was brought in, in the background, so that a page can say how far it has come."""

from __future__ import annotations

import logging
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from analyzer.aircraft import FleetFileError
from analyzer.endable import EndedError
from analyzer.phrases import counted
from analyzer.records.adding import Added
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from dashboards.background import Workers
from dashboards.kept import Kept
from dashboards.staging import Staging

#: Imports that are remembered, so that a page can say what came of them.
AT_HAND = 200
FAULT = "Not everything could be saved. The window where these pages were started shows why."


@dataclass(slots=True)
class Import:
    """One import. ``added`` is there once it is done, ``because`` says why when it could not be done."""

    owner: str
    # Of the owner's logs that were read by then, refused ones too: these wait no longer once it is done.
    keys: list[str]
    total: int = 0
    begun: int = 0  # logs whose keeping has begun
    added: Added | None = None
    because: str | None = None
    digests: tuple[str, ...] = ()  # of the logs that it keeps

    @property
    def over(self) -> bool:
        """Whether nothing more comes of it."""
        return self.added is not None or self.because is not None


class Imports:
    """The imports of this server, one at a time."""

    def __init__(self, staging: Staging) -> None:
        self._staging = staging
        self._worker = Workers(1, "keeping")
        self._lock = threading.Lock()
        self._begun: OrderedDict[str, Import] = OrderedDict()

    def begin(self, kept: Kept, keys: list[str], owner: str = "") -> str:
        """Begin to keep somebody's own staged logs that were read; gives what the import is asked for by.

        Raises
        ------
        StillWorkingError
            When too many wait already.
        """
        read = [one for one in self._staging.of(owner).these(keys) if one.entry is not None]
        staged = [one for one in read if not one.refused]
        made = Import(owner, [one.key for one in read], len(staged), digests=tuple(one.digest for one in staged))
        key = secrets.token_hex(8)

        def keep() -> Added:
            return kept.keep(staged, partial(_count, made))

        self._worker.submit(partial(self._run, made, keep))
        with self._lock:
            self._begun[key] = made
            while len(self._begun) > AT_HAND:
                self._begun.popitem(last=False)
        return key

    def of(self, key: str | None, owner: str = "") -> Import | None:
        """Somebody's import; None when there is none of that key."""
        with self._lock:
            found = self._begun.get(key or "")
        return found if found is not None and found.owner == owner else None

    def close(self) -> None:
        """Begin no more imports."""
        self._worker.close()

    def _run(self, made: Import, keep: Callable[[], Added]) -> None:
        try:
            added = keep()
        except (RecordsError, FleetFileError, EndedError) as problem:
            made.because = plainly(problem)
        except Exception:  # whatever it was, the page must not wait for ever
            logging.getLogger(__name__).exception("What was imported could not be saved")
            made.because = FAULT
        else:
            self._staging.drop(made.keys)
            made.added = added


def _count(made: Import) -> None:
    made.begun += 1


def import_words(added: Added) -> list[str]:
    """Say what came of an import, a sentence each."""
    said = [
        f"{counted(len(added.new), 'new log')} with {counted(added.flights, 'flight')} imported; "
        f"{len(added.kept_before)} imported before."
    ]
    if added.read_anew:
        said.append(f"Read again with the columns you picked: {counted(len(added.read_anew), 'log')} imported before.")
    if added.made_whole:
        said.append(f"Damaged since they were imported, and whole again: {counted(len(added.made_whole), 'log')}.")
    return said
