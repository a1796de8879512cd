"""An entry in another's place: a capacity test that is not said again stays, one that is replaces it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from analyzer.records.changing import kept_entries
from analyzer.records.store import open_records
from analyzer.service.keep_entry import keep_entry
from analyzer.trends.entries import Entry, make_entry

TODAY = datetime(2026, 6, 1)


def entry(kind: str, capacity: float | None = None, tail: str = "N0KEEP") -> Entry:
    return make_entry(tail, "2026-05-02", kind, "as told", capacity, today=TODAY)


@pytest.mark.parametrize(
    ("new", "then"),
    [
        (entry("battery_serviced"), 84.0),
        (entry("battery_serviced", 71.0), 71.0),
        (entry("connection_repaired"), None),
    ],
)
def test_a_capacity_stays_where_it_is_not_said_again_and_work_of_its_kind_has_one(
    new: Entry, then: float | None, tmp_path: Path
) -> None:
    with open_records(tmp_path, create=True) as store:
        keep_entry(store, entry("battery_serviced", 84.0))
        (first,) = kept_entries(store)
        told = keep_entry(store, new, first.id)
        (kept,) = kept_entries(store)
        assert (kept.id, kept.entry.capacity, told.entry.capacity) == (first.id, then, then)
        assert told.before == first.entry
        moved = keep_entry(store, entry("battery_serviced", tail="N0ELSE"), first.id)
        assert (moved.tails, moved.flown) == ({"N0KEEP", "N0ELSE"}, False)
