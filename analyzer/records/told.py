"""What was told to whom by message: each thing once. Recipients stand here by the name that people gave them.

Neither an address nor a secret is kept, here or anywhere else in the records.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

from sqlalchemy import insert, select

from analyzer.records.people import Role
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store, sentences
from analyzer.records.tables import told

LOCK_FILE = "messages.lock"


def told_to(store: Store, recipient: str) -> frozenset[str]:
    """Give the keys of all that a recipient was told."""
    with store.reading() as connection:
        asked = select(told.c.key).where(told.c.recipient == recipient)
        return frozenset(connection.execute(asked).scalars())


def keep_told(store: Store, recipient: str, things: Iterable[tuple[str, str]]) -> None:
    """Keep that a recipient was told some things: (tail, key) of each.

    Raises
    ------
    RecordsError
        When it cannot be written, or who asks may not.
    """
    store.allow(Role.EDITOR)
    at = datetime.now(UTC).isoformat(timespec="seconds")
    with store.writing() as connection:
        for tail, key in things:
            connection.execute(insert(told).values(recipient=recipient, tail=tail, key=key, at=at))


@contextmanager
def telling_alone(store: Store) -> Iterator[None]:
    """Let no other program tell anything meanwhile, where the system can do that; else both would tell the same.

    Raises
    ------
    RecordsError
        When another one does so at this moment, who asks may not, or what is told could not be noted.
    """
    store.allow(Role.EDITOR)
    if not store.writable:
        raise RecordsError(
            f"Nothing was sent: the records in {store.folder} cannot be written, so that it could not be noted and "
            "would be sent again each time. Correct the folder's permissions."
        )
    with sentences(store.folder):
        handle = os.open(store.folder / LOCK_FILE, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        with contextlib.suppress(ImportError):
            import fcntl

            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise RecordsError(
                    "Nothing was sent: another program is sending messages from these records; wait for it."
                ) from None
        yield
    finally:
        os.close(handle)
