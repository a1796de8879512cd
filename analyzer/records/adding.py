"""Keeping logs: each is read, reviewed and kept whole or not at all, and a second time changes nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from sqlalchemy import select

from analyzer.aircraft import Fleet
from analyzer.logs import Refusal, Source
from analyzer.logs.unit import content_hash
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.files import holds_original, original_path
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import anything_kept, carry_out_deletes, keep, keep_together, replace_kept
from analyzer.records.parcels import OverNew
from analyzer.records.people import Role
from analyzer.records.preparing import Prepared, prepare
from analyzer.records.store import Store
from analyzer.records.tables import logs
from analyzer.records.together import kept_together
from analyzer.records.traces import fault_of_trace

#: Logs kept in one transaction: more would save little, and what is kept of each is held till then.
AT_ONCE = 16
#: What ``Source.size`` says where it cannot tell.
UNKNOWN = 0


@dataclass(slots=True)
class Added:
    """What came of an ``add``."""

    new: list[str] = field(default_factory=list)
    kept_before: list[str] = field(default_factory=list)
    read_anew: list[str] = field(default_factory=list)  # kept before, with other columns
    made_whole: list[str] = field(default_factory=list)  # kept before, with files that were damaged since
    refused: list[tuple[str, str]] = field(default_factory=list)
    flights: int = 0
    without_tail: list[str] = field(default_factory=list)
    tails: set[str] = field(default_factory=set)

    def count_in(self, more: Added) -> None:
        """Count in what came of a further ``add``."""
        for each in ("new", "kept_before", "read_anew", "made_whole", "refused", "without_tail"):
            getattr(self, each).extend(getattr(more, each))
        self.flights += more.flights
        self.tails |= more.tails


def add_logs(
    store: Store,
    sources: Iterable[Source | Refusal],
    fleet: Fleet,
    *,
    tail: str | None = None,
    columns: Mapping[str, str] | None = None,
    keep_originals: bool = True,
    over: OverLogs = one_by_one,
    over_new: OverNew | None = None,
) -> Added:
    """Keep every log that is not kept yet, and make whole again what a disk spoilt of one that is.

    Parameters
    ----------
    store : open for writing
    sources : from ``find_logs``
    fleet : what is known of each aircraft
    tail : whose logs they are, when the caller knows better than the logs
    columns : role -> header that a person named for these logs; kept with each, before those of its aircraft. A log
        that is kept already and was read otherwise is read anew
    keep_originals : keep their bytes, compressed, so that the analysis can be run anew
    over : how the work is spread
    over_new : how that of preparing new logs is, where otherwise (``parcels.by_parcels``): what is given together is
        kept in one transaction

    Raises
    ------
    RecordsError
        When the records cannot be written. Logs kept up to then stay kept.
    """
    store.allow(Role.EDITOR)
    carry_out_deletes(store)
    added = Added()
    spoilt: list[tuple[Source, _Known]] = []
    fresh = list(_not_kept_yet(store, sources, dict(columns or {}), added, spoilt))
    work = partial(prepare, tail=tail, columns=columns, keep_original=keep_originals)
    keep_new = partial(_keep_new, store, columns=columns, added=added)
    with store.many_writes():
        if over_new:
            for together in over_new(work, fresh, fleet):
                keep_new(together)
        else:
            with kept_together(keep_new, AT_ONCE) as take:
                for prepared in over(work, fresh, fleet):
                    take(prepared)
    for source, known in spoilt:
        again = partial(prepare, tail=None, columns=known.columns, keep_original=known.original)
        for prepared in over(again, [source], fleet):
            if prepared.because is not None:
                added.refused.append((prepared.source, prepared.because))
                continue
            keep(store, prepared)  # writes its files; its row is there
            replace_kept(store, [prepared])
            added.made_whole.append(prepared.source)
            added.tails |= tails_of(store, [prepared.digest])
    settle_ammeters(store, added.tails, fleet, over)
    return added


def _keep_new(store: Store, together: list[Prepared], *, columns: Mapping[str, str] | None, added: Added) -> None:
    """Keep some logs that were not kept when they were prepared, and note what came of each."""
    added.refused += [(one.source, one.because) for one in together if one.because is not None]
    read = [one for one in together if one.because is None]
    for prepared, new in zip(read, keep_together(store, read) if read else [], strict=True):
        if new:
            added.new.append(prepared.source)
            added.flights += len(prepared.flights)
            named = prepared.row["tail"]
            added.tails |= {named} if named else set()
            added.without_tail += [] if named else [prepared.source]
        elif columns and replace_kept(store, [prepared])[0] is not None:
            added.read_anew.append(prepared.source)
            added.tails |= tails_of(store, [prepared.digest])
        else:
            added.kept_before.append(prepared.source)


@dataclass(frozen=True, slots=True)
class _Known:
    """What the records say of a log that is kept."""

    columns: dict[str, str]
    original: bool  # whether its bytes are kept
    trace: str | None  # the seal of its readings

    def holds(self, folder: Path, digest: str) -> bool:
        """Whether its files are what was written."""
        if self.original and not holds_original(original_path(folder, digest), digest):
            return False
        return fault_of_trace(folder, digest, self.trace) is None


def _not_kept_yet(
    store: Store,
    sources: Iterable[Source | Refusal],
    columns: dict[str, str],
    added: Added,
    spoilt: list[tuple[Source, _Known]],
) -> Iterator[Source | Refusal]:
    """The sources whose bytes are not kept, or were read with other columns; of two with the same bytes the first.

    Those that are kept but whose files were spoilt are gathered in ``spoilt``.
    """
    sources = list(sources)
    hashed = list(zip(sources, _hashes(store, sources), strict=True))
    known = _kept_of(store, [digest for _, digest in hashed if digest])
    seen: dict[str, dict[str, str]] = {}
    for source, digest in hashed:
        kept, told = known.get(digest), seen.get(digest)
        own = told if told is not None else kept.columns if kept else None
        if isinstance(source, Source) and own is not None and columns in ({}, own):
            if told is None and kept is not None and not kept.holds(store.folder, digest):
                spoilt.append((source, kept))
            else:
                added.kept_before.append(source.name)
            seen[digest] = own
            continue
        if digest:
            seen[digest] = columns
        yield source


def _hashes(store: Store, sources: Sequence[Source | Refusal]) -> list[str]:
    """The hash of each log that may be kept already, or be another of these; empty for others and for a refused one.

    Where no log is kept yet, one whose size no other has is neither: it is read where it is worked on, and not here
    before.
    """
    sizes = [source.size() if isinstance(source, Source) else UNKNOWN for source in sources]
    any_kept, counted = anything_kept(store), Counter(sizes)
    needed = [any_kept or size == UNKNOWN or counted[size] > 1 for size in sizes]
    return [content_hash(source) if asked else "" for source, asked in zip(sources, needed, strict=True)]


def _kept_of(store: Store, digests: list[str]) -> dict[str, _Known]:
    """Those of some logs that are kept; costs as much as there are of these."""
    found: dict[str, _Known] = {}
    with store.reading() as connection:
        for some in batched(digests):
            asked = select(logs.c.hash, logs.c.columns, logs.c.original_kept, logs.c.trace).where(logs.c.hash.in_(some))
            for row in connection.execute(asked):
                found[row.hash] = _Known(dict(row.columns or {}), bool(row.original_kept), row.trace)
    return found


def tails_of(store: Store, digests: list[str]) -> set[str]:
    """Give the aircraft of some kept logs, by their hashes."""
    found: set[str] = set()
    with store.reading() as connection:
        for some in batched(digests):
            asked = select(logs.c.tail).where(logs.c.hash.in_(some), logs.c.tail.is_not(None))
            found |= set(connection.execute(asked).scalars())
    return found


def batched(digests: list[str], size: int = 500) -> Iterator[list[str]]:
    """Give lists no longer than a database takes in one question."""
    return (digests[first : first + size] for first in range(0, len(digests), size))
