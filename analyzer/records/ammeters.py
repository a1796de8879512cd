"""What an aircraft's ammeter senses, by all its kept flights together; flights that say otherwise are judged anew."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select

from analyzer.aircraft import Fleet
from analyzer.flights.ammeter import overturned, told_together
from analyzer.records.in_order import OverLogs
from analyzer.records.store import Store
from analyzer.records.tables import flights, logs

_LOG_ODDS = flights.c.document["ammeter_log_odds"].as_float()


def kept_ammeter(store: Store, tail: str) -> tuple[str, str] | None:
    """The kind of a tail's ammeter by all its kept flights, with words; None where fewer than two have a say."""
    return told_together(odds for _, odds, _ in _kept(store, tail))


def settle_ammeters(store: Store, tails: Iterable[str], fleet: Fleet, over: OverLogs) -> int:
    """Judge anew the kept flights whose ammeter the tail's flights together take for another kind; gives how many logs.

    The sum of all kept flights decides, so that it makes no difference in which order they were kept. A log whose
    original was not kept is judged anew from its kept readings.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    settled = 0
    for tail in sorted(set(tails)):
        aircraft = fleet.of(tail)
        kept = _kept(store, tail)
        told = None if aircraft.ammeter is not None else overturned((kind, odds) for kind, odds, _ in kept)
        if told is not None:
            from analyzer.records.rebuilding import analyse_anew

            digests = {digest for kind, odds, digest in kept if odds is not None and kind != told[0]}
            known = fleet.with_aircraft(tail, aircraft.with_ammeter(*told))
            settled += analyse_anew(store, known, over, only=digests).logs
    return settled


def _kept(store: Store, tail: str) -> list[tuple[str, float | None, str]]:
    """Kind, log odds and log of each kept flight of a tail."""
    asked = select(flights.c.ammeter, _LOG_ODDS, logs.c.hash).join(logs, logs.c.id == flights.c.log_id)
    with store.reading() as connection:
        return [(kind, odds, digest) for kind, odds, digest in connection.execute(asked.where(flights.c.tail == tail))]
