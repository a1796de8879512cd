"""The hashes of many logs, found where the work is done and noted as they come, so that a run goes on where it stopped.

A log that was hashed before an interrupt is not read again for it while its mark (size and time of change, or what an
object store says of its version) is the same.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

from msgspec.structs import replace

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source
from analyzer.logs.remote import is_url
from analyzer.logs.unit import content_hash
from analyzer.records.durable import make_folder
from analyzer.records.files import ARRIVING
from analyzer.records.in_order import OverLogs

NO_LOG = Source("", Path())


class Hashed(Source, frozen=True):
    """A log whose hash is known without reading it again."""

    log: Source = NO_LOG
    digest: str = ""

    def read(self) -> bytes:
        """All bytes of the log."""
        return self.log.read()

    def content_hash(self) -> str:
        """The hash that it had when it was looked at."""
        return self.digest

    def from_any_folder(self) -> Source:
        """The same log, by a path that leads to it whatever folder a program was started in."""
        return replace(self, log=self.log.from_any_folder())

    def place(self) -> str:
        """Where it lies."""
        return self.log.place()

    def mark(self) -> str:
        """What changes when the log does."""
        return self.log.mark()

    def size(self) -> int:
        """How many bytes it holds, as far as that is known without reading it."""
        return self.log.size()


class Ledger:
    """What was noted of the logs that one call names, in the records' folder."""

    def __init__(self, folder: Path, named: Sequence[str]) -> None:
        whole = "\0".join(map(_from_any_folder, named))
        call = hashlib.sha256(whole.encode("utf-8", "surrogateescape")).hexdigest()[:16]
        self._path = folder / ARRIVING / f"ledger-{call}.jsonl"

    def hashed(self, sources: Sequence[Source | Refusal], over: OverLogs) -> list[Source | Refusal]:
        """Give the logs with their hashes, of which those not noted are found by ``over``; refusals as they are.

        Raises
        ------
        OSError
            When the ledger cannot be written.
        """
        noted, marks = self._noted(), [one.mark() if isinstance(one, Source) else "" for one in sources]
        known = {
            place: digest
            for place, (one, mark) in enumerate(zip(sources, marks, strict=True))
            if isinstance(one, Source) and mark and (digest := noted.get((one.place(), mark)))
        }
        left = [place for place, one in enumerate(sources) if isinstance(one, Source) and place not in known]
        make_folder(self._path.parent)
        with self._path.open("a", encoding="utf-8", errors="surrogateescape") as file:
            for place, digest in zip(left, over(hash_of, [sources[p] for p in left], Fleet()), strict=True):
                known[place] = digest
                source = sources[place]
                if digest and marks[place] and isinstance(source, Source):
                    file.write(json.dumps([source.place(), marks[place], digest]) + "\n")
                    file.flush()
        return [_with_hash(one, known.get(place, "")) for place, one in enumerate(sources)]

    def close(self) -> None:
        """Forget what was noted: every log was kept or refused."""
        self._path.unlink(missing_ok=True)
        for folder in (*self._path.parent.glob("??"), self._path.parent):
            with contextlib.suppress(OSError):  # another call's work waits there
                folder.rmdir()

    def _noted(self) -> dict[tuple[str, str], str]:
        noted: dict[tuple[str, str], str] = {}
        if self._path.exists():
            for line in self._path.read_text("utf-8", "surrogateescape").splitlines():
                with contextlib.suppress(ValueError):  # the last one of a run that was stopped
                    where, mark, digest = json.loads(line)
                    noted[where, mark] = digest
        return noted


def _from_any_folder(named: str) -> str:
    """A path or address of a call, whatever folder that was made in."""
    return named if is_url(named) else str(Path(named).absolute())


def hash_of(source: Source | Refusal, fleet: Fleet) -> str:
    """A log's hash, as work that can be spread."""
    return content_hash(source)


def _with_hash(source: Source | Refusal, digest: str) -> Source | Refusal:
    if isinstance(source, Refusal) or not digest:
        return source
    return Hashed(source.name, source.path, source.member, source, digest)
