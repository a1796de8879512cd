"""Letting logs go: what would go is known before, and it goes whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import delete, func, insert, select

from analyzer.records.keeping import carry_out_deletes, mark_stale
from analyzer.records.kept import KeptLog, kept_logs
from analyzer.records.people import Role
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store
from analyzer.records.tables import flights, logs, pending_deletes


@dataclass(frozen=True, slots=True)
class Going:
    """What would go."""

    logs: tuple[KeptLog, ...]
    flights: int

    @property
    def only_copies(self) -> int:
        """Logs whose original bytes are kept here."""
        return sum(log.original_kept for log in self.logs)


def would_go(store: Store, wanted: Sequence[str]) -> Going:
    """Give the logs that some tails and log numbers name.

    Raises
    ------
    RecordsError
        When one of them names nothing that is kept.
    """
    everything = kept_logs(store)
    chosen: dict[int, KeptLog] = {}
    for name in wanted:
        found = [log for log in everything if str(log.id) == name or log.tail == name.upper()]
        if not found:
            raise RecordsError(f"'{name}' is neither an aircraft nor the number of a log that is kept.")
        chosen |= {log.id: log for log in found}
    with store.reading() as connection:
        flown = connection.execute(select(func.count()).where(flights.c.log_id.in_(list(chosen)))).scalar()
    return Going(tuple(chosen.values()), int(flown or 0))


def going_of(store: Store, digests: Sequence[str]) -> Going:
    """Give the logs of some hashes, as a person was asked about them.

    Raises
    ------
    RecordsError
        When one of them is no longer kept.
    """
    wanted = set(digests)
    found = tuple(log for log in kept_logs(store) if log.hash in wanted)
    if len(found) < len(wanted):
        raise RecordsError("Some of these logs are no longer kept; open the page again.")
    with store.reading() as connection:
        flown = connection.execute(select(func.count()).where(flights.c.log_id.in_([log.id for log in found]))).scalar()
    return Going(found, int(flown or 0))


def forget(store: Store, going: Going) -> None:
    """Remove logs with their flights, measures, findings, readings and originals.

    The database lets go of all of them at once and notes whose files are to go; those are removed then, or by the
    next command that changes the records, should this one be stopped.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    store.allow(Role.MANAGER)
    with store.writing() as connection:
        for log in going.logs:
            connection.execute(delete(logs).where(logs.c.id == log.id, logs.c.hash == log.hash))
            connection.execute(delete(pending_deletes).where(pending_deletes.c.hash == log.hash))
            connection.execute(insert(pending_deletes).values(hash=log.hash))
        for tail in {log.tail for log in going.logs if log.tail}:
            mark_stale(connection, tail)
    carry_out_deletes(store)
