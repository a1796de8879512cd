"""The demo's records: a season's logs are written, added, and the maintenance done is entered."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from analyzer.records.adding import add_logs
from analyzer.records.changing import add_entries
from analyzer.records.kept import fleet_kept, tail_reviews, tails
from analyzer.records.place import FLEET
from analyzer.records.store import open_records
from analyzer.trends.entries import read_entries


def make_demo_records(folder: Path, says: Callable[[str], None]) -> Path:
    """Make the season's logs and records in a folder; gives the records' folder. Does nothing when they are there.

    Raises
    ------
    OSError
        When the folder cannot be written.
    """
    from analyzer.logs import find_logs
    from analyzer.simulator.club import CLUB, fleet_toml
    from analyzer.simulator.season import write_season

    logs, records = folder / "logs", folder / "records"
    says(f"Flying a season of the {CLUB}, an invented club ...")
    paths = list(write_season(logs))
    says(f"{len(paths) - 1} logs are written; reading and reviewing them ...")
    with open_records(records, create=True) as store:
        (records / FLEET).write_text(fleet_toml(), encoding="utf-8")
        fleet = fleet_kept(store)
        add_logs(store, find_logs([logs]), fleet)
        add_entries(store, read_entries(logs / "entries.csv"))
        tail_reviews(store, [kept.tail for kept in tails(store)], fleet)
    return records
