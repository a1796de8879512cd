"""Columns corrected by hand after a log was kept: for this log alone, or for all logs of its aircraft."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from sqlalchemy import Connection

from analyzer.aircraft import Fleet, Setting, parse_fleet
from analyzer.fleet_edit import with_columns, with_settings
from analyzer.records.adding import tails_of
from analyzer.records.ammeters import settle_ammeters
from analyzer.records.changes import note
from analyzer.records.durable import write_whole
from analyzer.records.histories import fleet_kept
from analyzer.records.in_order import OverLogs, one_by_one
from analyzer.records.keeping import replace_kept
from analyzer.records.kept import KeptLog, kept_logs
from analyzer.records.people import Role
from analyzer.records.place import FLEET
from analyzer.records.problems import RecordsError
from analyzer.records.rebuilding import Rebuilt, original_of, prepare_original, rebuild
from analyzer.records.store import Store, sentences
from analyzer.small_files import read_text


def correct_log(store: Store, log_id: int, columns: Mapping[str, str], fleet: Fleet | None = None) -> KeptLog:
    """Read one kept log anew with its own columns (role -> header), which are kept with it; none takes them away.

    Raises
    ------
    RecordsError
        When there is no such log, its original was not kept, or it cannot be read that way; nothing changed then.
    """
    store.allow(Role.EDITOR)
    log = _log(store, log_id)
    told = original_of(store.folder, log.hash, log, columns)
    known = fleet_kept(store) if fleet is None else fleet
    prepared = prepare_original(told, known)
    if prepared.because is not None:
        raise RecordsError(f"{log.source} stays as it was: {prepared.because}")
    replace_kept(store, [prepared])
    settle_ammeters(store, tails_of(store, [log.hash]), known, one_by_one)
    return _log(store, log_id)


def correct_tail(store: Store, tail: str, columns: Mapping[str, str], over: OverLogs = one_by_one) -> Rebuilt:
    """Keep columns for all logs of an aircraft, those to come too, and read the kept ones anew.

    They stand in the fleet file beside the records. A log's own columns still come first.

    Raises
    ------
    RecordsError
        When the records cannot be written.
    """
    store.allow(Role.EDITOR)
    keep_columns_of_tail(store, tail, columns)
    return rebuild(store, fleet_kept(store), over, only={log.hash for log in kept_logs(store, tail)})


def keep_columns_of_tail(store: Store, tail: str, columns: Mapping[str, str]) -> None:
    """Write columns of an aircraft into the fleet file beside the records, for logs that are read from now on.

    Raises
    ------
    RecordsError
        When it cannot be written.
    """
    _change_fleet_file(store, tail, lambda text: with_columns(text, tail, columns))


def keep_settings_of_tail(store: Store, tail: str, settings: Mapping[str, Setting]) -> None:
    """Set some keys of an aircraft in the fleet file beside the records, or take them away where None.

    Raises
    ------
    FleetFileError
        When a value cannot be; nothing was changed then.
    RecordsError
        When it cannot be written, or who asks may not.
    """
    _change_fleet_file(store, tail, lambda text: with_settings(text, tail, settings))


def _change_fleet_file(store: Store, tail: str, change: Callable[[str], str]) -> None:
    """Change the fleet file's text for an aircraft while nobody else may; what it then holds must still be one."""
    store.allow(Role.EDITOR)
    path = store.folder / FLEET
    with store.writing() as connection, sentences(store.folder):
        text = read_text(path) if path.exists() else ""
        parse_fleet(text, path)
        changed = change(text)
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


def _log(store: Store, log_id: int) -> KeptLog:
    for log in kept_logs(store):
        if log.id == log_id:
            return log
    raise RecordsError(f"No log {log_id} is kept; it may have been forgotten.")
