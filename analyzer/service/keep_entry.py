"""A maintenance entry, kept or put in another's place."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyzer.records.changing import add_entries, edit_entry, kept_entries
from analyzer.records.latest import tail_names
from analyzer.records.store import Store
from analyzer.trends.entries import TESTED_AT, Entry


@dataclass(frozen=True, slots=True)
class EntryKept:
    """What came of keeping an entry."""

    entry: Entry  # as it is kept
    before: Entry | None  # what stood in its place
    flown: bool  # whether a flight of its aircraft is kept

    @property
    def tails(self) -> frozenset[str]:
        """The aircraft that are to be judged anew."""
        return frozenset(one.tail for one in (self.entry, self.before) if one is not None)


def keep_entry(store: Store, entry: Entry, in_place_of: int | None = None) -> EntryKept:
    """Keep an entry, or put it in the place of one that is kept.

    A capacity test that the new words do not repeat stays with the entry, where work of its kind can have one.

    Raises
    ------
    RecordsError
        When there is no such entry, who asks may not, or the records cannot be written.
    """
    before = None
    if in_place_of is None:
        add_entries(store, [entry])
    else:
        if entry.capacity is None and entry.kind in TESTED_AT:
            entry = replace(entry, capacity=_capacity_of(store, in_place_of))
        before = edit_entry(store, in_place_of, entry)
    return EntryKept(entry, before, entry.tail in tail_names(store))


def _capacity_of(store: Store, number: int) -> float | None:
    return next((one.entry.capacity for one in kept_entries(store) if one.id == number), None)
