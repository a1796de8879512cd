"""Files that were brought in but are not kept yet: received, read, reviewed, looked at, corrected."""

from __future__ import annotations

import secrets
import shutil
import tempfile
import threading
import time
import zipfile
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO

from analyzer.aircraft import Fleet, TailError, tail_name
from analyzer.commands.columns import log_entry
from analyzer.logs import Refusal, Source, find_logs, read_log
from analyzer.logs.bounds import MAX_MEMBERS, MAX_STAGED_BYTES, MAX_UPLOAD_BYTES
from analyzer.logs.unit import whole_or_refused
from analyzer.review import review_log
from dashboards.figures.preview_chart import Preview, preview_of
from dashboards.flight_words import when_words

#: What was brought in and not kept goes after a day [s].
EXPIRY_S = 24 * 3600.0
#: Longest name of a file that is brought in [letters]; the rest is cut off at its beginning.
LONGEST_NAME = 120


class NotReceivedError(Exception):
    """A file that is not taken; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class SeenFlight:
    """What is shown of a flight before it is kept; its readings are not held, for thousands of logs may wait."""

    when: str
    findings: tuple[tuple[str, str], ...]  # name and severity, the worst first


@dataclass(frozen=True, slots=True)
class Staged:
    """One log that was brought in. ``entry`` is that of ``taper columns``, None while it is being read."""

    key: str
    name: str
    source: Source | Refusal
    mapped: Mapping[str, str] = field(default_factory=dict)  # role -> header, corrected by hand
    for_tail: bool = False  # whether they hold for all logs of the aircraft, or for this one alone
    named: str | None = None  # whose log it is, where a person said so
    entry: dict[str, Any] | None = None
    flights: tuple[SeenFlight, ...] = ()
    folder: Path = Path()  # where what it was brought in with lies
    since: float = field(default_factory=time.monotonic)  # when it was brought in [s]
    preview: Preview | None = None

    @property
    def tail(self) -> str | None:
        """Whose log it is, as a person said or as the log says."""
        return self.named or (self.entry or {}).get("tail")

    @property
    def refused(self) -> bool:
        """Whether it cannot be read as it stands."""
        return self.entry is not None and self.entry["state"] == "refused"


class Staging:
    """The files of this server that wait to be kept; gone when it ends."""

    def __init__(self, fleet: Callable[[], Fleet]) -> None:
        self._fleet = fleet
        self._folder = Path(tempfile.mkdtemp(prefix="taper-brought-in-"))
        self._staged: dict[str, Staged] = {}
        self._lock = threading.Lock()
        self._reader = ThreadPoolExecutor(1, thread_name_prefix="reading")

    def receive(self, name: str, body: BinaryIO) -> list[str]:
        """Take one file or archive; gives the keys of the logs in it, whose reading begins.

        Raises
        ------
        NotReceivedError
            When it is too large, or neither CSV nor zip.
        """
        self._let_old_go()
        safe = _name(name)
        if not safe.lower().endswith((".csv", ".txt", ".zip")):
            raise NotReceivedError(f"{safe} is neither a CSV file nor a zip archive of them.")
        folder = self._folder / secrets.token_hex(8)
        folder.mkdir()
        path = folder / safe
        try:
            _write(body, path, safe, MAX_STAGED_BYTES - self._held())
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        if safe.lower().endswith(".zip"):
            try:
                _check_archive(path, safe)
            except NotReceivedError:
                shutil.rmtree(folder, ignore_errors=True)
                raise
        found = [_staged(source, folder) for source in find_logs([path])]
        with self._lock:
            self._staged |= {one.key: one for one in found}
        for one in found:
            self._reader.submit(self._look, one.key)
        return [one.key for one in found]

    def these(self, keys: Iterable[str]) -> list[Staged]:
        """The staged logs of some keys, those that are gone left out."""
        with self._lock:
            return [self._staged[key] for key in keys if key in self._staged]

    def correct(self, key: str, mapped: Mapping[str, str]) -> None:
        """Read a log again with columns' roles corrected by hand."""
        with self._lock:
            self._staged[key] = replace(self._staged[key], mapped=dict(mapped))
        self._look(key)

    def reach(self, key: str, for_tail: bool) -> None:
        """Say whether corrections hold for all logs of the aircraft, or for this one alone."""
        with self._lock:
            if (one := self._staged.get(key)) is not None:
                self._staged[key] = replace(one, for_tail=for_tail)

    def name_tail(self, key: str, tail: str) -> None:
        """Take a person's word for whose log it is; the log's own counts again when nothing is said."""
        try:
            said = tail_name(tail) if tail.strip() else None
        except TailError:
            return  # what is none is not taken; the log's own stays
        with self._lock:
            if (one := self._staged.get(key)) is not None:
                own = (one.entry or {}).get("tail")
                self._staged[key] = replace(one, named=None if said == own else said)

    def drop(self, keys: Iterable[str]) -> None:
        """Forget staged logs, and remove what was brought in once none of its logs waits any more."""
        with self._lock:
            gone = {one.folder for key in keys if (one := self._staged.pop(key, None)) is not None}
            left = {one.folder for one in self._staged.values()}
        for folder in gone - left:
            shutil.rmtree(folder, ignore_errors=True)

    def _held(self) -> int:
        """Bytes of all that waits."""
        return sum(path.stat().st_size for path in self._folder.rglob("*") if path.is_file())

    def _let_old_go(self) -> None:
        """Forget what nobody kept in a day."""
        now = time.monotonic()
        with self._lock:
            old = [key for key, one in self._staged.items() if now - one.since > EXPIRY_S]
        self.drop(old)

    def close(self) -> None:
        """Remove every file that was brought in."""
        self._reader.shutdown(wait=False, cancel_futures=True)
        shutil.rmtree(self._folder, ignore_errors=True)

    def _look(self, key: str) -> None:
        with self._lock:
            one = self._staged.get(key)
        if one is None:
            return
        seen = _seen(one, self._fleet)
        with self._lock:
            if key in self._staged:
                self._staged[key] = replace(seen, named=self._staged[key].named)


def _name(given: str) -> str:
    """The name of what was sent, without its folders and without what no name should hold."""
    last = PurePosixPath(given.replace("\\", "/")).name
    kept = "".join(letter for letter in last if letter.isprintable() and not "\ud800" <= letter <= "\udfff")
    return kept[-LONGEST_NAME:] or "log.csv"


def _write(body: BinaryIO, path: Path, name: str, room: int) -> None:
    """Write what arrives, up to the limit."""
    if room <= 0:
        raise NotReceivedError(
            f"{MAX_STAGED_BYTES / 1e9:.0f} GB of files wait here to be kept, and no more are taken; keep or drop some."
        )
    left = min(MAX_UPLOAD_BYTES, room)
    with path.open("wb") as file:
        while chunk := body.read(1 << 20):
            left -= len(chunk)
            if left < 0:
                raise NotReceivedError(
                    f"{name} is larger than the {MAX_UPLOAD_BYTES / 1e6:,.0f} MB that are taken, or than what is left "
                    f"of the {MAX_STAGED_BYTES / 1e9:.0f} GB for all that waits."
                )
            file.write(chunk)


def _check_archive(path: Path, name: str) -> None:
    """Refuse an archive that would unpack to too much; a damaged one is refused when it is read."""
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError):
        return
    size = sum(member.file_size for member in members)
    if len(members) > MAX_MEMBERS or size > MAX_UPLOAD_BYTES:
        raise NotReceivedError(
            f"{name} holds {len(members):,} files of {size / 1e6:,.0f} MB together, more than the "
            f"{MAX_MEMBERS:,} files or {MAX_UPLOAD_BYTES / 1e6:,.0f} MB that are taken; split it."
        )


def _staged(source: Source | Refusal, folder: Path) -> Staged:
    """A log under the name that it was brought in by; where it lies here is nobody's matter."""
    here = f"{folder}/"
    if isinstance(source, Refusal):
        source = Refusal(source.source.removeprefix(here), source.because.replace(here, ""))
        return Staged(secrets.token_hex(8), source.source, source, folder=folder)
    source = replace(source, name=source.name.removeprefix(here))
    return Staged(secrets.token_hex(8), source.name, source, folder=folder)


def _seen(one: Staged, fleet: Callable[[], Fleet]) -> Staged:
    """Read and review one log; whatever is raised on the way refuses it alone."""
    done = whole_or_refused(one.name, lambda: _read_and_reviewed(one, fleet()))
    return replace(one, entry=log_entry(done), flights=(), preview=None) if isinstance(done, Refusal) else done


def _read_and_reviewed(one: Staged, fleet: Fleet) -> Staged | Refusal:
    log = read_log(one.source, columns=one.mapped)
    if not isinstance(log, Refusal) and not one.mapped and (columns := fleet.of(log.tail).columns):
        log = read_log(one.source, columns=columns)
    if isinstance(log, Refusal):
        return log
    review = review_log(log, fleet.of(log.tail))
    entry = log_entry(log) | {"warnings": list(review.warnings)}
    flights = tuple(
        SeenFlight(when_words(flight), tuple((found.name, found.severity) for found in flight.findings))
        for flight in review.flights
    )
    return replace(one, entry=entry, flights=flights, preview=preview_of(log))
