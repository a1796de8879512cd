"""Kept flights that are stale: judged by another mark than today's (``marks.py``)."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import func, select

from analyzer.aircraft import Fleet
from analyzer.records.marks import flight_mark
from analyzer.records.seals import hold, log_seal
from analyzer.records.store import Store
from analyzer.records.tables import flights, logs

#: As many tails are asked for by name; beyond it all are read.
FEW_TAILS = 500


def stale_flights(store: Store, fleet: Fleet, tails: Collection[str | None] | None = None) -> dict[str | None, int]:
    """Give the tails with stale flights, or those of some, and of how many; None stands for logs that name no tail.

    Raises
    ------
    DamagedError
        When a mark is not one that was written: it stands in no whole row, for a disk makes none twice.
    """
    with store.reading() as connection:
        asked = select(logs.c.tail, logs.c.analysis).distinct()
        if tails is not None and None not in tails and len(tails) <= FEW_TAILS:
            asked = asked.where(logs.c.tail.in_(tails))  # by the index, whatever else is kept
        stale = {
            (tail, mark)
            for tail, mark in connection.execute(asked)
            if (tails is None or tail in tails) and mark != flight_mark(fleet.of(tail))
        }
        counted: dict[str | None, int] = {}
        for tail, mark in sorted(stale, key=str):
            own = logs.c.tail.is_(None) if tail is None else logs.c.tail == tail
            first = connection.execute(select(logs).where(own, logs.c.analysis == mark).limit(1)).mappings().one()
            hold(first["seal"], log_seal(first), f"log {first['id']} ({first['source']})")
            joined = select(func.count()).select_from(flights).join(logs, logs.c.id == flights.c.log_id)
            number = connection.execute(joined.where(own, logs.c.analysis == mark)).scalar_one()
            counted[tail] = counted.get(tail, 0) + number
    return counted
