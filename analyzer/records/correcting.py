"""Changing the fleet file beside the records: an aircraft's columns and settings, or the whole file."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sqlalchemy import Connection

from analyzer.aircraft import Aircraft, Setting, parse_fleet
from analyzer.fleet_edit import with_columns, with_settings
from analyzer.records.changes import note
from analyzer.records.durable import write_whole
from analyzer.records.people import Role
from analyzer.records.place import FLEET
from analyzer.records.store import Store, sentences
from analyzer.small_files import read_text


def keep_columns_of_tail(store: Store, tail: str, columns: Mapping[str, str]) -> None:
    """Write columns of an aircraft into the fleet file beside the records, for logs that are read from now on.

    Raises
    ------
    RecordsError
        When it cannot be written.
    """
    _change_fleet_file(store, tail, lambda text, _: with_columns(text, tail, columns))


def keep_settings_of_tail(store: Store, tail: str, chosen: Callable[[Aircraft], Mapping[str, Setting]]) -> None:
    """Set some keys of an aircraft in the fleet file beside the records, or take them away where None.

    What is set is ``chosen`` by the aircraft as it stands, while nobody else may change it.

    Raises
    ------
    FleetFileError
        When a value cannot be; nothing was changed then.
    RecordsError
        When it cannot be written, or who asks may not.
    """
    _change_fleet_file(store, tail, lambda text, now: with_settings(text, tail, chosen(now)))


def _change_fleet_file(store: Store, tail: str, change: Callable[[str, Aircraft], str]) -> None:
    """Change the fleet file's text by the aircraft in it while nobody else may; it must still be a fleet file."""
    store.allow(Role.EDITOR)
    path = store.folder / FLEET
    with store.writing() as connection, sentences(store.folder):
        text = read_text(path) if path.exists() else ""
        changed = change(text, parse_fleet(text, path).of(tail))
        parse_fleet(changed, path)
        _write_fleet_file(store, connection, changed.encode(), tail)


def keep_fleet_file(store: Store, data: bytes) -> None:
    """Keep a fleet file with the records, and note what stood there before.

    Raises
    ------
    RecordsError
        When it cannot be written, or who asks may not.
    """
    store.allow(Role.EDITOR)
    with store.writing() as connection, sentences(store.folder):
        _write_fleet_file(store, connection, data, None)


def _write_fleet_file(store: Store, connection: Connection, data: bytes, tail: str | None) -> None:
    path = store.folder / FLEET
    before = path.read_bytes() if path.exists() else None
    if before == data:
        return
    told = [None if one is None else {"text": one.decode("utf-8", "replace")} for one in (before, data)]
    note(connection, store.person, "fleet file changed", FLEET, tail=tail, before=told[0], after=told[1])
    write_whole(path, data)
