"""Logs worked on elsewhere: whoever did the work puts all of it down by hash, and only a name travels back.

The original and the readings are written where they are kept, unless something else lies there already; what goes into
the database, and files that could not take their places, wait as a parcel in the records' own folder. Each is there
whole or not at all, so a repeat finds it and does no work, and a log is kept when the one who fills the database has
taken its parcel up (``adding.py``). Until then a check or a rebuild leaves its files to the call that put them down.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import islice
from pathlib import Path

from msgspec import MsgspecError, msgpack

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Fleet
from analyzer.logs import Refusal, Source
from analyzer.logs.unit import content_hash, source_name
from analyzer.records.durable import write_whole
from analyzer.records.files import ARRIVING, holds_original, original_path, parcels_of, read_kept, trace_path
from analyzer.records.in_order import OverLogs
from analyzer.records.marks import flight_mark, layout_mark
from analyzer.records.preparing import Prepared
from analyzer.records.tables import SCHEMA

Work = Callable[[Source | Refusal, Fleet], Prepared]
#: Prepares new logs, in order; those given together are kept together.
OverNew = Callable[[Work, list[Source | Refusal], Fleet], Iterable[list[Prepared]]]
#: Kept in one transaction, which costs as much for one: nothing of them is lost when it fails.
TOGETHER = 64


@dataclass(frozen=True, slots=True)
class Parcel:
    """What travels back of a log that was worked on: its hash, and the name of its parcel."""

    digest: str
    name: str

    def path(self, folder: Path) -> Path:
        """Where it waits in the records' folder."""
        return folder / ARRIVING / self.digest[:2] / f"{self.digest}-{self.name}"

    def remove(self, folder: Path) -> None:
        """Let it go, with what other calls that were stopped have left of the same log."""
        for path in parcels_of(folder, self.digest):
            path.unlink(missing_ok=True)


def by_parcels(over: OverLogs, folder: Path) -> OverNew:
    """Spread the work that prepares logs as ``over`` does, but let what it comes to arrive in the records' folder.

    What is given of each log is the same as ``over`` would give, but for files that lie in their places already.
    """
    return partial(_spread, over, folder)


def _spread(
    over: OverLogs, folder: Path, work: Work, sources: list[Source | Refusal], fleet: Fleet, /
) -> Iterator[list[Prepared]]:
    arrived = zip(sources, over(partial(put_down, work=work, folder=folder), sources, fleet), strict=True)
    while together := list(islice(arrived, TOGETHER)):
        yield [_taken(source, one, folder, work, fleet) for source, one in together]
        for _, one in together:  # whoever asks for the next ones has kept these
            if isinstance(one, Parcel):
                one.remove(folder)


def _taken(source: Source | Refusal, arrived: Parcel | Prepared, folder: Path, work: Work, fleet: Fleet) -> Prepared:
    """What arrived of a log; where it is not whole, the log is worked on here."""
    if isinstance(arrived, Prepared):
        return arrived
    taken = take_up(arrived, folder)
    return work(source, fleet) if taken is None else taken


def put_down(source: Source | Refusal, fleet: Fleet, *, work: Work, folder: Path) -> Parcel | Prepared:
    """Prepare one log and put down what it comes to; its parcel, or the refusal.

    Raises
    ------
    OSError
        When the folder cannot be written.
    """
    name = _name(source, fleet, work)
    there = Parcel(content_hash(source), name)
    if there.digest and take_up(there, folder) is not None:
        return there
    prepared = work(source, fleet)
    if prepared.because is not None:
        return prepared
    parcel = Parcel(prepared.digest, name)
    write_whole(parcel.path(folder), b"")  # whoever finds the log's files sees that they are this call's
    left = _without_placed_files(prepared, folder)
    data = msgpack.encode({one.name: getattr(left, one.name) for one in fields(Prepared)})
    write_whole(parcel.path(folder), hashlib.sha256(data).digest() + data)
    return parcel


def take_up(parcel: Parcel, folder: Path) -> Prepared | None:
    """What waits in a parcel; None where it, or a file that it counts on, is not there or not what was written."""
    try:
        told = parcel.path(folder).read_bytes()
        seal, data = told[:32], told[32:]
        if hashlib.sha256(data).digest() != seal:
            return None
        prepared = Prepared(**msgpack.decode(data))
        digest, with_original = prepared.digest, prepared.row["original_kept"]
    except (OSError, MsgspecError, TypeError, KeyError):
        return None
    if not prepared.trace and not trace_path(folder, digest).exists():
        return None
    if with_original and prepared.original is None and not original_path(folder, digest).exists():
        return None
    return prepared


def _without_placed_files(prepared: Prepared, folder: Path) -> Prepared:
    """A prepared log without the files that lie in their places: written just now, or there before and sound."""
    original, trace = original_path(folder, prepared.digest), trace_path(folder, prepared.digest)
    if prepared.original is not None:
        there = original.exists()
        if not there:
            write_whole(original, prepared.original)
        if not there or holds_original(original, prepared.digest):
            prepared = replace(prepared, original=None)
    there = trace.exists()
    if not there:
        write_whole(trace, prepared.trace)
    return replace(prepared, trace=b"") if not there or read_kept(trace) == prepared.trace else prepared


def _name(source: Source | Refusal, fleet: Fleet, work: Work) -> str:
    """What tells the work on a log from other work on the same bytes: its name, what is done, by what it is judged.

    And how the records are laid out, by the version of their tables and by the code that fills them.
    """
    done, asked = (work.func, work.keywords) if isinstance(work, partial) else (work, {})
    by = (flight_mark(UNKNOWN_AIRCRAFT), SCHEMA, layout_mark())
    told = (source_name(source), done.__qualname__, sorted(asked.items()), fleet, *by)
    return hashlib.sha256(repr(told).encode("utf-8", "surrogateescape")).hexdigest()[:32]
