"""What records hold, to be held against others that were kept in another way."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sqlalchemy import select

from analyzer.records.place import ORIGINALS, TRACES
from analyzer.records.store import open_records
from analyzer.records.tables import findings, flights, logs, measures, tails

#: Differ with the moment at which a log was added, or hold that.
OF_THE_MOMENT = {"added_at", "seal"}


def held(folder: Path) -> dict[str, Any]:
    """Every row of the logs, flights, measures, findings and tails, in order, and every file beside them."""
    found: dict[str, Any] = {}
    with open_records(folder) as store, store.reading() as connection:
        for table in (logs, flights, measures, findings, tails):
            leave = OF_THE_MOMENT if table is logs else set()
            rows = connection.execute(select(table).order_by(*table.primary_key.columns)).mappings()
            found[table.name] = [{name: value for name, value in row.items() if name not in leave} for row in rows]
    for part in (ORIGINALS, TRACES):
        files = sorted((folder / part).rglob("*"))
        found[part] = {str(one.relative_to(folder)): one.read_bytes() for one in files if one.is_file()}
    return found
