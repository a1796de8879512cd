"""Bits that change, files that go, forgets that stop: each is said, and what can be made anew is."""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import shutil
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.records import backup as backup_module
from analyzer.records import kept
from analyzer.records.backup import back_up, restore
from analyzer.records.changing import assign, kept_entries
from analyzer.records.checking import check, repair
from analyzer.records.exporting import export
from analyzer.records.files import all_originals, original_path, trace_path
from analyzer.records.forgetting import forget, would_go
from analyzer.records.problems import DamagedError, RecordsError
from analyzer.records.rebuilding import rebuild
from analyzer.records.replay import kept_readings
from analyzer.records.store import DATABASE, Store, open_records
from analyzer.records.traces import read_trace


@pytest.fixture
def folder(two: Path, tmp_path: Path) -> Path:
    """Records of its own with two logs, the second without its original."""
    return Path(shutil.copytree(two, tmp_path / "records"))


def shown(store: Store) -> object:
    """All that a person is shown of these records."""
    flights = [one for tail in kept.tails(store) for one in kept.tail_flights(store, tail.tail)]
    return (
        [(log.source, log.tail, log.rows, log.start, log.warnings) for log in kept.kept_logs(store)],
        [kept.flight_record(store, one.id) for one in flights],
        [kept.trace(store, one.id).to_dict(as_series=False) for one in flights],
        [kept.measures_table(store, tail.tail).to_dict(as_series=False) for tail in kept.tails(store)],
        [kept.flight_findings(store, tail.tail) for tail in kept.tails(store)],
        [kept.tail_review(store, tail.tail) for tail in kept.tails(store)],
        [(one.entry, one.made_at) for one in kept_entries(store)],
    )


def settled(folder: Path) -> Path:
    """The database, with all that was written in its own file."""
    with sqlite3.connect(folder / DATABASE) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    plain.close()
    return folder / DATABASE


def test_no_bit_of_a_trace_changes_silently(folder):
    with open_records(folder) as store:
        log = kept.kept_logs(store)[0]
    path = trace_path(folder, log.hash)
    data = path.read_bytes()
    chosen = random.Random(7)
    for _ in range(120):
        at, bit = chosen.randrange(len(data)), chosen.randrange(8)
        path.write_bytes(data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :])
        with pytest.raises(RecordsError, match="Run: taper rebuild"):
            read_trace(folder, log.hash, log.trace)
    path.write_bytes(data)
    assert read_trace(folder, log.hash, log.trace).height == log.rows


def test_no_bit_of_the_database_changes_what_is_shown_silently(folder):
    with open_records(folder) as store:
        before = shown(store)
    database = settled(folder)
    data = database.read_bytes()
    used = [at for at in range(4096, len(data)) if data[at]]
    chosen = random.Random(11)
    said = []
    for _ in range(60):
        at, bit = chosen.choice(used), chosen.randrange(8)
        for path in folder.glob(f"{DATABASE}-*"):
            path.unlink()
        database.write_bytes(data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :])
        try:
            with open_records(folder) as store:
                assert shown(store) == before, f"bit {bit} of byte {at}"
        except RecordsError as problem:
            said.append(str(problem))
    assert len(said) > 15
    assert [one for one in said if not one.isprintable()] == []


@pytest.mark.parametrize("damage", ["CAST(source AS BLOB)", "'x' || source"])
def test_a_log_s_name_that_a_disk_changed_is_said_by_export_and_by_what_reads_flights_again(folder, tmp_path, damage):
    with open_records(folder) as store:
        tail = kept.tails(store)[0].tail
        with store.writing() as connection:
            connection.execute(text(f"UPDATE logs SET source = {damage}"))
        for reading in (lambda: export(store, tmp_path / "out", "csv"), lambda: kept_readings(store, tail)):
            with pytest.raises(DamagedError):
                reading()
    assert not (tmp_path / "out").exists()


def test_a_start_that_is_no_moment_is_said_to_be_damaged(folder):
    with open_records(folder) as store, store.writing() as connection:
        connection.execute(text("UPDATE flights SET starts = '2026-03-02T09:80:00' WHERE id = 1"))
    with open_records(folder) as store, pytest.raises(RecordsError, match="2026-03-02T09:80:00 is damaged"):
        shown(store)


def test_a_mark_of_the_judgement_that_a_disk_changed_is_no_older_judgement(folder):
    with open_records(folder) as store, store.writing() as connection:
        connection.execute(text(CHANGES["a mark"]))
    with open_records(folder) as store, pytest.raises(RecordsError, match=r"What is kept of log 1 .* is damaged"):
        shown(store)


def _other_first(column: str) -> str:
    """A statement that changes the first digit of a hash, whichever it is."""
    other = f"CASE substr({column}, 1, 1) WHEN '0' THEN '1' ELSE '0' END"
    return f"UPDATE logs SET {column} = {other} || substr({column}, 2) WHERE id = 1"


CHANGES: dict[str, str] = {
    "a reading": "UPDATE flights SET readings = zeroblob(length(readings)) WHERE id = 1",
    "a start": "UPDATE flights SET starts = '2025-03-01T09:00:00' WHERE id = 1",
    "a document": "UPDATE flights SET document = replace(document, '14', '15') WHERE id = 1",
    "no document": "UPDATE flights SET document = '{' WHERE id = 1",
    "no text": "UPDATE flights SET document = CAST(x'7bff' AS TEXT) WHERE id = 1",
    "a measure": "UPDATE measures SET value = value + 1 WHERE flight_id = 1 AND value IS NOT NULL",
    "a log's name": "UPDATE logs SET source = 'other.csv' WHERE id = 1",
    "a log's hash": _other_first("hash"),
    "a mark": _other_first("analysis"),
    "an aircraft": "UPDATE flights SET tail = 'N0091R' WHERE id = 1",
    "words": "UPDATE entries SET words = 'old'",
    "a review": "UPDATE tails SET review = replace(review, '14', '15')",
    "no review": "UPDATE tails SET review = CAST(x'7bff' AS TEXT)",
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_changed_is_found_and_made_anew(folder, change):
    with open_records(folder) as store:
        before = shown(store)
        assert check(store).troubles == []
        with store.writing() as connection:
            connection.exec_driver_sql(CHANGES[change])
    with open_records(folder) as store:
        found = check(store)
        assert found.troubles
        again = repair(store, found, Fleet())
        assert again.troubles == []
        after = shown(store)
    # the moment at which an entry was made stands in the database alone
    assert after[:6] == before[:6]
    assert [one[0] for one in after[6]] == [one[0] for one in before[6]]


def both(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-9])


@pytest.mark.parametrize("spoil", [both, Path.unlink], ids=["cut", "gone"])
def test_files_that_are_cut_or_gone_are_found_and_what_can_be_is_made_anew(
    folder, logs: Path, spoil: Callable[[Path], None], capsys
):
    with open_records(folder) as store:
        with_original, without = kept.kept_logs(store)
        before = shown(store)
    spoil(trace_path(folder, with_original.hash))
    assert main(["check", "--records", str(folder)]) == 1
    assert "made anew from its original" in capsys.readouterr().out
    assert main(["check", "--repair", "--records", str(folder)]) == 0
    with open_records(folder) as store:
        assert shown(store) == before
    spoil(original_path(folder, with_original.hash))
    spoil(trace_path(folder, without.hash))
    capsys.readouterr()
    assert main(["check", "--repair", "--records", str(folder)]) == 1
    told = capsys.readouterr().out
    assert told.count("Add the log again") + told.count("add the log again") == 2
    with open_records(folder) as store:
        assert len(kept.kept_logs(store)) == 2  # nothing was taken away
    for log in sorted(logs.glob("*.csv"))[:2]:  # as was advised
        assert main(["add", str(log), "--records", str(folder)]) == 0
    with open_records(folder) as store:
        assert check(store).troubles == []
        assert shown(store) == before
        assert not original_path(folder, without.hash).exists()  # it was kept without, and is


def test_a_lost_database_brings_back_logs_that_were_kept_without_their_originals(folder):
    with open_records(folder) as store:
        before = shown(store)
        lone = kept.kept_logs(store)[1]
        assign(store, "N0055R", [lone.id])
    for path in folder.glob(f"{DATABASE}*"):
        path.unlink()
    with open_records(folder, create=True) as store:
        rebuilt = rebuild(store, Fleet())
        assert len(rebuilt.taken_in) == 2
        again = {log.hash: log for log in kept.kept_logs(store)}
        assert (again[lone.hash].tail, again[lone.hash].tail_from) == ("N0055R", "assigned")
        assert not again[lone.hash].original_kept
        assign(store, "N0011R", [again[lone.hash].id])
        after = shown(store)
        assert check(store).troubles == []
    for place in (0, 2):
        assert sorted(map(repr, after[place])) == sorted(map(repr, before[place]))
    assert {repr(one.result.measures) for one in after[1]} == {repr(one.result.measures) for one in before[1]}
    assert rebuild_again(folder) == 0


def rebuild_again(folder: Path) -> int:
    with open_records(folder) as store:
        return len(rebuild(store, Fleet()).taken_in)


def test_a_file_of_the_records_that_is_a_pipe_or_a_link_is_not_followed(folder, tmp_path):
    with open_records(folder) as store:
        with_original, without = kept.kept_logs(store)
        flight = kept.tail_flights(store, "N0011R")[0]
        path = trace_path(folder, with_original.hash)
        moved = path.rename(tmp_path / "elsewhere.parquet")
        os.mkfifo(path)
        with pytest.raises(RecordsError, match="pipe or device"):
            kept.trace(store, flight.id)
        path.unlink()
        path.symlink_to(moved)
        with pytest.raises(RecordsError, match="is a link"):
            kept.trace(store, flight.id)
        assert without.hash != with_original.hash


@pytest.mark.parametrize("by", ["start", "tail"])
def test_what_a_damaged_index_tells_is_no_answer(folder, tmp_path, capsys, by):
    """An index holds columns of its own, which no seal of a row holds."""
    digest = ["digest", "--since", "2026-01-01", "--until", "2026-10-01", "--json"]
    commands = (digest, ["export", str(tmp_path / "out")])
    path, tail, start = folder / DATABASE, b"N0011R", b"2026-03-01T09:00:00"
    for command in commands:
        assert main([*command, "--records", str(folder)]) == 0
    sound = capsys.readouterr().out, [(one.name, one.read_bytes()) for one in sorted((tmp_path / "out").iterdir())]
    data = path.read_bytes()
    whole, spoilt = (
        (start + tail, start + b"N0811R") if by == "start" else (tail + start, tail + b"2026-03-01T08:00:00")
    )
    places = [found.start() for found in re.finditer(re.escape(whole), data)]
    assert places, "in the index, and in the row where it has the same order"
    for place in places:
        path.write_bytes(data[:place] + spoilt + data[place + len(spoilt) :])
        shutil.rmtree(tmp_path / "out", ignore_errors=True)
        statuses = [main([*command, "--records", str(folder)]) for command in commands]
        told = capsys.readouterr()
        written = [(one.name, one.read_bytes()) for one in sorted((tmp_path / "out").glob("*"))]
        for status, same in zip(statuses, (told.out == sound[0], written == sound[1]), strict=True):
            assert same if status == 0 else status == 3, (place, told.err)


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["entry", "N0011R", "--list"], b"N0011R2026-03-03"),
        (["changes", "N0011R"], b"N0011R"),
        (["squawk", "N0011R", "low volts", "--json"], b"N0011R2026-03-03"),
    ],
)
def test_what_people_wrote_and_a_damaged_index_does_not_find_is_missed(folder, capsys, command, words):
    for entry in (["N0011R", "2026-03-03", "battery replaced"], ["N0022R", "2026-03-04", "battery replaced"]):
        assert main(["entry", *entry, "--records", str(folder)]) == 0
    path = settled(folder)
    capsys.readouterr()
    assert main([*command, "--records", str(folder)]) == 0
    sound, data = capsys.readouterr().out, path.read_bytes()
    told = []
    for place in [found.start() for found in re.finditer(words, data)]:
        path.write_bytes(data[:place] + b"N0811R" + data[place + 6 :])
        status, out = main([*command, "--records", str(folder)]), capsys.readouterr()
        missed = status == 3 or "not what was written" in out.out
        assert missed or (status == 0 and out.out == sound), (place, out.out)
        told.append(missed)
    assert any(told), "in the index, and in the row"


def test_a_backup_of_a_newer_version_is_refused_before_anything_is_put_there(folder, tmp_path, capsys):
    with closing(sqlite3.connect(folder / DATABASE)) as opened, opened:
        opened.execute("UPDATE schema_version SET version = 99")
    sums = {DATABASE: hashlib.sha256((folder / DATABASE).read_bytes()).hexdigest()}
    told = {"made_at": "2031-01-01T00:00:00+00:00", "logs": 2, "flights": 2, "sha256": sums}
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as archive:
        archive.write(folder / DATABASE, DATABASE)
        archive.writestr("backup.json", json.dumps(told))
    assert main(["restore", str(tmp_path / "b.zip"), "--records", str(tmp_path / "again")]) == 3
    assert "newer version of this program (its records' version is 99" in capsys.readouterr().err
    assert not (tmp_path / "again").exists()


def test_a_backup_whose_copy_of_the_database_finds_no_room_says_so(folder, tmp_path, monkeypatch):
    """The disk that fails is that of temporary files; the records' own is sound."""

    def full(_store, _to):
        raise sqlite3.OperationalError("unable to open database file")

    monkeypatch.setattr(backup_module, "_copy_database", full)
    with open_records(folder) as store, pytest.raises(RecordsError, match=r"cannot be written \(unable to open"):
        back_up(store, tmp_path / "b.zip")
    assert list(tmp_path.glob("b.zip*")) == []


def test_a_backup_is_restored_and_proven_by_comparison(folder, tmp_path, capsys):
    with open_records(folder) as store:
        before = shown(store)
    file = tmp_path / "b.zip"
    assert main(["backup", str(file), "--records", str(folder)]) == 0
    assert main(["backup", str(file), "--records", str(folder)]) == 3
    assert "is there already" in capsys.readouterr().err
    assert main(["backup", str(folder / "b.zip"), "--records", str(folder)]) == 3
    assert main(["restore", str(file), "--records", str(folder)]) == 3
    assert "is not empty" in capsys.readouterr().err
    assert main(["restore", str(file), "--records", str(tmp_path / "again")]) == 0
    assert "every file was compared" in capsys.readouterr().err
    with open_records(tmp_path / "again") as store:
        assert shown(store) == before
    files = [path.relative_to(folder) for path in folder.rglob("*") if path.is_file() and DATABASE not in path.name]
    assert all((tmp_path / "again" / one).read_bytes() == (folder / one).read_bytes() for one in files)


def test_a_damaged_backup_is_said_and_leaves_nothing(folder, tmp_path, capsys):
    file = tmp_path / "b.zip"
    with open_records(folder) as store:
        back_up(store, file)
    data = file.read_bytes()
    chosen = random.Random(3)
    whole, left, told = 0, 0, set[str]()
    for number in range(25):
        at = chosen.randrange(len(data))
        file.write_bytes(data[:at] + bytes([data[at] ^ 4]) + data[at + 1 :])
        try:
            restore(file, tmp_path / str(number))
            whole += 1  # a bit that says nothing, such as a date in the archive
        except RecordsError as problem:
            told.add(str(problem).replace(str(file), "")[:20])
            left += (tmp_path / str(number)).exists()
    assert whole < 8
    assert left == 0
    assert all("damaged" in one or "holds" in one for one in told)
    file.write_bytes(data[:-100])
    assert main(["restore", str(file), "--records", str(tmp_path / "cut")]) == 3
    assert main(["restore", str(tmp_path / "none.zip"), "--records", str(tmp_path / "cut")]) == 3
    assert "Traceback" not in capsys.readouterr().err
    assert not list(tmp_path.glob("*.partial"))


def test_a_backup_that_holds_other_names_is_no_backup(folder, tmp_path):
    file = tmp_path / "b.zip"
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("backup.json", '{"made_at": "x", "logs": 0, "flights": 0, "sha256": {"../../evil": "0"}}')
        archive.writestr("../../evil", "x")
    with pytest.raises(RecordsError, match="no file of records"):
        restore(file, tmp_path / "again")
    assert not (tmp_path.parent / "evil").exists()


@pytest.mark.parametrize("command", [["fleet"], ["trend", "N0011R"], ["digest", "--since", "2026-01-01"]])
def test_a_severity_that_is_none_any_more_is_said_to_be_damaged(folder, capsys, command):
    with sqlite3.connect(folder / DATABASE) as plain:
        words = "flight_id, name, severity, document"
        plain.execute(f"INSERT INTO findings ({words}) VALUES (1, 'weak_cranking', 'warnang', '{{}}')")
    plain.close()
    assert main([*command, "--records", str(folder)]) == 3
    assert "is damaged: it is not what was written" in capsys.readouterr().err


@pytest.mark.parametrize("database", [None, b"", b"no database at all", bytes(8192)])
def test_a_backup_without_a_database_of_records_is_said_and_leaves_nothing(tmp_path, capsys, database):
    file, held = tmp_path / "b.zip", {} if database is None else {DATABASE: database}
    sums = {name: hashlib.sha256(data).hexdigest() for name, data in held.items()}
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("backup.json", json.dumps({"made_at": "x", "logs": 0, "flights": 0, "sha256": sums}))
        for name, data in held.items():
            archive.writestr(name, data)
    assert main(["restore", str(file), "--records", str(tmp_path / "again")]) == 3
    assert f"The database in {file} is damaged. Nothing was restored." in capsys.readouterr().err
    assert not (tmp_path / "again").exists()


def test_a_backup_that_would_unpack_to_more_than_it_holds_is_refused_before_it_is_read(folder, tmp_path):
    file, data = tmp_path / "b.zip", bytes(1_000_000)
    sums = {"entries.csv": hashlib.sha256(data).hexdigest()}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("backup.json", json.dumps({"made_at": "x", "logs": 0, "flights": 0, "sha256": sums}))
        archive.writestr("entries.csv", data)
    with pytest.raises(RecordsError, match=r"would unpack to 1\.0 MB"):
        restore(file, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_backup_beside_a_forget_is_whole_as_of_one_moment(folder, tmp_path, monkeypatch):
    with open_records(folder) as store, open_records(folder) as other:
        real, calls = backup_module._files, []

        def forgotten_meanwhile(*given, **named):
            if not calls:
                forget(other, would_go(other, [str(kept.kept_logs(other)[0].id)]))
            calls.append(1)
            return real(*given, **named)

        monkeypatch.setattr(backup_module, "_files", forgotten_meanwhile)
        made = back_up(store, tmp_path / "b.zip")
    assert len(calls) == 2
    assert (made.logs, made.missing) == (1, ())
    restore(tmp_path / "b.zip", tmp_path / "again")
    with open_records(tmp_path / "again") as store:
        assert check(store).troubles == []


def test_a_forget_that_was_stopped_is_finished_by_the_next_command_that_can_write(folder, monkeypatch, capsys):
    from analyzer.records import forgetting

    def stopped(store):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(forgetting, "carry_out_deletes", stopped)
        with open_records(folder) as store:
            gone = kept.kept_logs(store)[0]
            going = would_go(store, [str(gone.id)])
            with pytest.raises(KeyboardInterrupt):
                forget(store, going)
    with monkeypatch.context() as patched:
        patched.setattr(os, "access", lambda *_: False)
        assert main(["fleet", "--records", str(folder)]) == 0
        told = capsys.readouterr()
        assert "still to be deleted" in told.err
        assert "1 flight" in told.out or "   1" in told.out
    assert list(all_originals(folder)) == [gone.hash]
    assert main(["fleet", "--records", str(folder)]) == 0
    assert list(all_originals(folder)) == []
    assert "deleted" not in capsys.readouterr().err


@pytest.mark.parametrize(
    ("table", "words", "damaged"),
    [
        ("tails", b"tail VARCHAR NOT NULL, \n\trevision", b"tail VARCHAR NOT NULL, \n\trgvision"),
        ("flights", b"id INTEGER NOT NULL, \n\tlog_id", b"id INTEGEP NOT NULL, \n\tlog_id"),  # a key no more
        ("flights", b"id INTEGER NOT NULL, \n\tlog_id", b"id INTEGE\xd2 NOT NULL, \n\tlog_id"),
        ("entries", b"capacity FLOAT", b"capacity FLOAV"),
    ],
)
def test_a_table_whose_definition_was_damaged_is_found_and_a_rebuild_makes_it_anew(
    folder, capsys, table, words, damaged
):
    """Else a flight's number might be read as none, and what belongs to it be left out without a word."""
    path = settled(folder)
    data = path.read_bytes()
    head, end = data.index(b"CREATE TABLE " + table.encode() + b" ("), len(data)
    at = data.index(words, head, end)
    path.write_bytes(data[:at] + damaged + data[at + len(words) :])
    for command in (["fleet"], ["squawk", "N0011R", "low volts"], ["check"]):
        assert main([*command, "--records", str(folder)]) == 3
        told = " ".join(capsys.readouterr().err.split())
        assert f"its definition of {table}" in told or "its definition of tables" in told
        assert "Move the database away (do not delete it) and run: taper rebuild." in told
    path.rename(folder.parent / "away.sqlite")
    assert main(["rebuild", "--records", str(folder)]) == 0
    assert main(["check", "--records", str(folder)]) == 0
