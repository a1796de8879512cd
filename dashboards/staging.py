"""Files that were brought in but are not kept yet: received, read, reviewed, looked at, corrected."""

from __future__ import annotations

import copy
import hashlib
import os
import secrets
import shutil
import tempfile
import threading
import time
import zipfile
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import partial
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from msgspec import structs

from analyzer.aircraft import Fleet, FleetFileError, TailError, tail_name
from analyzer.contract_columns import RefusedLogEntry, UnderstoodEntry, understood_entry
from analyzer.endable import EndedError, Helper
from analyzer.logs import Refusal, Source, find_logs, read_log
from analyzer.logs.apart import in_helper
from analyzer.logs.bounds import MAX_MEMBERS, MAX_OWNED_BYTES, MAX_STAGED_BYTES, MAX_UPLOAD_BYTES
from analyzer.logs.unit import whole_or_refused
from analyzer.records.problems import RecordsError
from analyzer.results import clock_at
from analyzer.review import review_log
from dashboards.background import Workers
from dashboards.figures.preview_chart import Preview, preview_of
from dashboards.flight_words import when_words

#: What was brought in and not kept goes after a day [s].
EXPIRY_S = 24 * 3600.0
#: Listing what an archive holds takes no longer and no more [s, bytes].
LISTING_S, LISTING_BYTES = 30.0, 500_000_000
#: How a reading begins that tells that a log's clock may be read in two ways.
DAY_OR_MONTH = "clock: nothing in the log tells whether"
#: Longest name of a file that is brought in [letters, and bytes: most disks take 255]; the rest is cut off at its
#: beginning.
LONGEST_NAME, LONGEST_NAME_BYTES = 120, 240


class NotReceivedError(Exception):
    """A file that is not taken; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class SeenFlight:
    """What is shown of a flight before it is kept; its readings are not held, for thousands of logs may wait."""

    when: str
    findings: tuple[tuple[str, str], ...]  # name and severity, the worst first
    start: datetime | None = None  # None without a clock
    end: datetime | None = None


@dataclass(frozen=True, slots=True)
class Staged:
    """One log that was brought in. ``entry`` is that of ``taper columns``, None while it is being read."""

    key: str
    name: str
    source: Source | Refusal
    mapped: Mapping[str, str] = field(default_factory=dict)  # role -> header, corrected by hand
    for_tail: bool = False  # whether they hold for all logs of the aircraft, or for this one alone
    named: str | None = None  # whose log it is, where a person said so
    entry: UnderstoodEntry | RefusedLogEntry | None = None
    flights: tuple[SeenFlight, ...] = ()
    folder: Path = Path()  # where what it was brought in with lies
    owner: str = ""  # who brought it in; nobody else sees it
    since: float = field(default_factory=time.monotonic)  # when it was brought in [s]
    preview: Preview | None = None
    digest: str = ""  # SHA-256 of its bytes, empty until it was read
    begins: date | None = None  # the day on which it begins, where a person said whether day or month comes first
    days: tuple[date, ...] = ()  # the days between which nothing in the log decides; none where it does

    @property
    def read_as(self) -> Source | Refusal:
        """The log under the name that it is kept by; a day that a person picked stands first in it."""
        if self.begins is None or isinstance(self.source, Refusal):
            return self.source
        return structs.replace(self.source, name=f"{self.begins} {self.source.name}")

    @property
    def tail(self) -> str | None:
        """Whose log it is, as a person said or as the log says."""
        return self.named or (None if self.entry is None else self.entry.tail)

    @property
    def refused(self) -> bool:
        """Whether it cannot be read as it stands."""
        return isinstance(self.entry, RefusedLogEntry)


class _Room:
    """A temporary folder of this program's own; another one once a clean-up of the system took it away."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._make()

    def _make(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="taper-brought-in-"))
        self._mark = self._mark_now()

    def _mark_now(self) -> tuple[int, int, int, int] | None:
        """What tells the folder from what somebody else made under its name."""
        try:
            found = self._folder.lstat()
        except FileNotFoundError:
            return None
        return found.st_dev, found.st_ino, found.st_uid, found.st_mode

    def folder(self) -> Path:
        """The folder as it is now."""
        with self._lock:  # two who bring files in at once share one
            if self._mark_now() != self._mark:
                self._make()
            return self._folder


class Staging:
    """The files of this server that wait to be kept; gone when it ends."""

    def __init__(self, fleet: Callable[[], Fleet]) -> None:
        self._owner = ""
        self._fleet = fleet
        self._room = _Room()
        self._staged: dict[str, Staged] = {}
        self._lock = threading.Lock()
        self._reader = Workers(1, "reading")
        self._listing, self._helper = Helper(), Helper()

    def of(self, owner: str) -> Staging:
        """The same staging as somebody sees it: what they brought in and nothing else."""
        own = copy.copy(self)
        own._owner = owner
        return own

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
        folder = self._room.folder() / secrets.token_hex(8)
        folder.mkdir()
        path = folder / safe
        try:
            _write(body, path, safe, self._room_left())
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        try:
            found = [_staged(source, folder, self._owner) for source in self._listed(path, safe)]
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        with self._lock:
            self._staged |= {one.key: one for one in found}
        self._reader.submit(partial(self._look_at_all, [one.key for one in found]))
        return [one.key for one in found]

    def _room_left(self) -> int:
        """Bytes that whoever asks may still bring in.

        Raises
        ------
        NotReceivedError
            When there are none.
        """
        own, all_of_it = self._held(self._owner), self._held()
        for held, most, whose in ((own, MAX_OWNED_BYTES, "of yours "), (all_of_it, MAX_STAGED_BYTES, "")):
            if held >= most:
                raise NotReceivedError(
                    f"{most / 1e9:g} GB of files {whose}wait here to be kept, and no more are taken; keep or drop some."
                )
        return min(MAX_OWNED_BYTES - own, MAX_STAGED_BYTES - all_of_it)

    def _listed(self, path: Path, safe: str) -> list[Source | Refusal]:
        """The logs in what was sent, listed in a process of its own: the list of an archive alone can be huge."""
        try:
            return self._listing.do(partial(_list, path, safe), seconds=LISTING_S, memory=LISTING_BYTES)
        except EndedError as ended:
            raise NotReceivedError(f"{safe} cannot be listed: {ended}") from ended

    def these(self, keys: Iterable[str]) -> list[Staged]:
        """The staged logs of some keys, those that are gone left out."""
        with self._lock:
            return [one for key in keys if (one := self._own(key)) is not None]

    def _own(self, key: str) -> Staged | None:
        """A staged log of the owner's."""
        one = self._staged.get(key)
        return one if one is not None and one.owner == self._owner else None

    def correct(self, key: str, mapped: Mapping[str, str]) -> None:
        """Read a log again with columns' roles corrected by hand."""
        with self._lock:
            if (one := self._own(key)) is None:
                return
            self._staged[key] = replace(one, mapped=dict(mapped))
        self._look(key)

    def pick_day(self, key: str, begins: date) -> None:
        """Take a person's word for the day on which a log begins, and read it again so; another day is not taken."""
        with self._lock:
            if (one := self._own(key)) is None or begins not in one.days:
                return
            self._staged[key] = replace(one, begins=begins)
        self._look(key)

    def remove(self, key: str) -> None:
        """Take one of the owner's logs out of what waits."""
        with self._lock:
            if self._own(key) is None:
                return
        self.drop([key])

    def reach(self, key: str, for_tail: bool) -> None:
        """Say whether corrections hold for all logs of the aircraft, or for this one alone."""
        with self._lock:
            if (one := self._own(key)) is not None:
                self._staged[key] = replace(one, for_tail=for_tail)

    def name_tail(self, key: str, tail: str) -> None:
        """Take a person's word for whose log it is; the log's own counts again when nothing is said."""
        try:
            said = tail_name(tail) if tail.strip() else None
        except TailError:
            return  # what is none is not taken; the log's own stays
        with self._lock:
            if (one := self._own(key)) is not None:
                own = None if one.entry is None else one.entry.tail
                self._staged[key] = replace(one, named=None if said == own else said)

    def drop(self, keys: Iterable[str]) -> None:
        """Forget staged logs, and remove what was brought in once none of its logs waits any more."""
        with self._lock:
            gone = {one.folder for key in keys if (one := self._staged.pop(key, None)) is not None}
            left = {one.folder for one in self._staged.values()}
        for folder in gone - left:
            shutil.rmtree(folder, ignore_errors=True)

    def _held(self, owner: str | None = None) -> int:
        """Bytes of all that waits, or of what somebody brought in."""
        if owner is None:
            return _bytes_below(self._room.folder())
        with self._lock:
            folders = {one.folder for one in self._staged.values() if one.owner == owner}
        return sum(map(_bytes_below, folders))

    def _let_old_go(self) -> None:
        """Forget what nobody kept in a day."""
        now = time.monotonic()
        with self._lock:
            old = [key for key, one in self._staged.items() if now - one.since > EXPIRY_S]
        self.drop(old)

    def close(self) -> None:
        """Remove every file that was brought in."""
        self._reader.close()
        self._listing.close()
        self._helper.close()
        shutil.rmtree(self._room.folder(), ignore_errors=True)

    def _look_at_all(self, keys: Iterable[str]) -> None:
        for key in keys:
            self._look(key)

    def _look(self, key: str) -> None:
        with self._lock:
            one = self._staged.get(key)
        if one is None:
            return
        seen = self._seen(one)
        with self._lock:
            if key in self._staged:
                self._staged[key] = replace(seen, named=self._staged[key].named)

    def _seen(self, one: Staged) -> Staged:
        """Read and review one log in a process of its own; whatever happens on the way refuses it alone."""
        if isinstance(one.source, Refusal):
            return _refused(one, one.source)
        try:
            fleet = self._fleet()
        except (FleetFileError, RecordsError) as problem:
            return _refused(one, Refusal(one.name, str(problem)))
        try:
            return in_helper(self._helper, partial(_looked_at, one=one, fleet=fleet), one.read_as)
        except EndedError as ended:
            return _refused(one, Refusal(one.name, str(ended)))


def _bytes_below(folder: Path) -> int:
    """Bytes of all files below a folder; what goes meanwhile is left out."""
    size = 0
    for parent, _, names in os.walk(folder):
        for name in names:
            with suppress(FileNotFoundError):
                size += Path(parent, name).stat().st_size
    return size


def _list(path: Path, name: str) -> list[Source | Refusal]:
    if name.lower().endswith(".zip"):
        _check_archive(path, name)
    return find_logs([path])


def _refused(one: Staged, because: Refusal) -> Staged:
    return replace(one, entry=understood_entry(because), flights=(), preview=None)


def _looked_at(source: Source | Refusal, one: Staged, fleet: Fleet) -> Staged:
    done = source if isinstance(source, Refusal) else whole_or_refused(one.name, lambda: _read_and_reviewed(one, fleet))
    return _refused(one, done) if isinstance(done, Refusal) else done


def _name(given: str) -> str:
    """The name of what was sent, without its folders and without what no name should hold."""
    last = PurePosixPath(given.replace("\\", "/")).name
    kept = "".join(letter for letter in last if letter.isprintable() and not "\ud800" <= letter <= "\udfff")
    held = kept[-LONGEST_NAME:].encode()[-LONGEST_NAME_BYTES:]
    return held.decode(errors="ignore") or "log.csv"


def _write(body: BinaryIO, path: Path, name: str, room: int) -> None:
    """Write what arrives, up to the limit."""
    left = min(MAX_UPLOAD_BYTES, room)
    with path.open("wb") as file:
        while chunk := body.read(1 << 20):
            left -= len(chunk)
            if left < 0:
                raise NotReceivedError(
                    f"{name} is larger than the {MAX_UPLOAD_BYTES / 1e6:,.0f} MB that are taken, or than what is left "
                    "for files that wait here to be kept."
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


def _staged(source: Source | Refusal, folder: Path, owner: str) -> Staged:
    """A log under the name that it was brought in by; where it lies here is nobody's matter."""
    here = f"{folder}/"
    if isinstance(source, Refusal):
        source = Refusal(source.source.removeprefix(here), source.because.replace(here, ""))
        return Staged(secrets.token_hex(8), source.source, source, folder=folder, owner=owner)
    source = structs.replace(source, name=source.name.removeprefix(here))
    return Staged(secrets.token_hex(8), source.name, source, folder=folder, owner=owner)


def _read_and_reviewed(one: Staged, fleet: Fleet) -> Staged | Refusal:
    source = one.read_as
    if isinstance(source, Refusal):
        return source
    log = read_log(source, columns=one.mapped)
    if not isinstance(log, Refusal) and not one.mapped and (columns := fleet.of(log.tail).columns):
        log = read_log(source, columns=columns)
    if isinstance(log, Refusal):
        return log
    review = review_log(log, fleet.of(log.tail))
    entry = understood_entry(structs.replace(log, warnings=review.warnings))
    flights = tuple(
        SeenFlight(
            when_words(flight),
            tuple((found.name, found.severity) for found in flight.findings),
            *(clock_at(flight.flight.clock_start, end) for end in (flight.flight.from_s, flight.flight.to_s)),
        )
        for flight in review.flights
    )
    return replace(
        one,
        entry=entry,
        flights=flights,
        preview=preview_of(log),
        digest=hashlib.sha256(source.read()).hexdigest(),
        days=one.days or _days_it_may_begin(entry),
    )


def _days_it_may_begin(entry: UnderstoodEntry | RefusedLogEntry) -> tuple[date, ...]:
    """The two days between which nothing in a log decides, the one it was read as first; none where one is known."""
    if isinstance(entry, RefusedLogEntry) or not any(one.startswith(DAY_OR_MONTH) for one in entry.warnings):
        return ()
    if entry.clock.start is None:
        return ()
    read = datetime.fromisoformat(entry.clock.start).date()
    return (read, read.replace(month=read.day, day=read.month)) if read.day != read.month else ()
