"""What can go wrong with a disk, a process or a file: a clear sentence, and nothing lost."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, inspect, select, update

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.commands import digest as digest_command
from analyzer.contract import finding_entry, flight_entry, plain
from analyzer.logs import find_logs
from analyzer.measures.measure import MEASURES
from analyzer.records import changes, changing, files, forgetting, keeping, kept, preparing, tables
from analyzer.records.adding import add_logs
from analyzer.records.changing import add_entries, assign, dispose, kept_dispositions, kept_entries
from analyzer.records.checking import check
from analyzer.records.files import all_originals, read_original, trace_path
from analyzer.records.problems import RecordsError
from analyzer.records.rebuilding import rebuild
from analyzer.records.seals import document_seal, finding_seal
from analyzer.records.store import DATABASE, Store, open_records
from analyzer.records.stored import finding_of, flight_of
from analyzer.records.tables import SCHEMA
from analyzer.service.assign_logs import assign_logs
from analyzer.trends.entries import make_entry

ROOT = Path(__file__).resolve().parents[2]
#: Runs ``add`` and kills itself, as with kill -9, just before its n-th step that touches disk or database.
DIES = """
import os, signal, sys
from pathlib import Path
import sqlalchemy
from sqlalchemy import event
from sqlalchemy.engine import Engine
left = int(sys.argv[1])
def step(*_):
    global left
    left -= 1
    if left <= 0:
        os.kill(os.getpid(), signal.SIGKILL)
event.listen(Engine, "before_cursor_execute", step)
event.listen(Engine, "commit", step)
def counted(real):
    def wrapped(*given, **named):
        step()
        return real(*given, **named)
    return wrapped
os.fsync, Path.replace, Path.open = counted(os.fsync), counted(Path.replace), counted(Path.open)
from analyzer.cli import main
from analyzer.records import together
together.TOGETHER_S = float(sys.argv[4])
status = main(["add", sys.argv[2], "--records", sys.argv[3]])
print("steps left", left)
sys.exit(status)
"""


def is_whole(folder: Path) -> int:
    """Check that every log kept is kept whole; how many there are."""
    with open_records(folder) as store:
        logs = kept.kept_logs(store)
        flights = [flight for tail in kept.tails(store) for flight in kept.tail_flights(store, tail.tail)]
        assert len(flights) == len(logs)
        for flight in flights:
            record = kept.flight_record(store, flight.id)
            assert record.result.measures.keys() == MEASURES.keys()
            assert kept.trace(store, flight.id).height == record.result.rows
        for log in logs:
            assert len(read_original(folder, log.hash)) == Path(log.source).stat().st_size
    return len(logs)


#: As ``together.TOGETHER_S``: each log is kept by itself, or all that come within so long are kept together.
EACH_ALONE, WITHIN_A_MOMENT = "0", "60"


def dying(at: int, logs: Path, folder: Path, within: str) -> subprocess.CompletedProcess[str]:
    """Run ``add`` till its n-th step."""
    command = [sys.executable, "-c", DIES, str(at), str(logs), str(folder), within]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True)


def steps_of_a_whole_add(logs: Path, folder: Path, within: str) -> int:
    """How many steps an undisturbed ``add`` takes."""
    many = 100_000
    done = dying(many, logs, folder, within)
    assert done.returncode == 0, done.stderr
    return many - int(done.stdout.split("steps left")[1])


@pytest.mark.parametrize(
    ("within", "places", "left"),
    [(EACH_ALONE, (1, 2, 5, 9, 10, 11, 12, 14), {0, 1, 2, 3, 4}), (WITHIN_A_MOMENT, (5, 9, 12, 14, 15), {0, 5})],
)
def test_killed_at_any_moment_a_log_is_kept_whole_or_not_at_all_and_the_next_run_goes_on(
    logs, tmp_path, pytestconfig, within, places, left
):
    steps = steps_of_a_whole_add(logs, tmp_path / "whole", within)
    assert steps > 60
    seen = set()
    for place in range(1, 17) if pytestconfig.getoption("--long") else places:
        folder = tmp_path / f"killed {place}"
        at = 1 + (steps - 1) * place // 16 if place > 4 else 2 * place  # the first steps make the folder and tables
        done = dying(at, logs, folder, within)
        assert done.returncode == -signal.SIGKILL, done.stderr
        if (folder / DATABASE).exists():
            seen.add(is_whole(folder))
        assert main(["add", str(logs), "--records", str(folder)]) == 0
        assert is_whole(folder) == 5
    assert left <= seen
    assert within == EACH_ALONE or seen == left


@pytest.mark.long  # two adders beside a reader are tried always
def test_two_adds_at_once_keep_each_log_once(logs, tmp_path):
    command = [sys.executable, "-m", "analyzer", "add", str(logs), "--records", str(tmp_path / "r")]
    both = [subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    told = [one.communicate(timeout=120)[1] for one in both]
    assert [one.returncode for one in both] == [0, 0], told
    assert is_whole(tmp_path / "r") == 5


def test_two_adders_beside_a_reader_keep_each_log_once_and_disturb_nobody(logs, tmp_path):
    folder = tmp_path / "r"
    open_records(folder, create=True).close()
    command = [sys.executable, "-m", "analyzer", "add", str(logs), "--records", str(folder)]
    adders = [subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    seen = []
    with open_records(folder) as reader:
        while any(one.poll() is None for one in adders):
            seen.append(sum(tail.flights for tail in kept.tails(reader)))
            hashes = [log.hash for log in kept.kept_logs(reader)]
            assert len(set(hashes)) == len(hashes)
            time.sleep(0.05)
    told = [one.communicate(timeout=120)[1] for one in adders]
    assert [one.returncode for one in adders] == [0, 0], told
    assert seen == sorted(seen)
    assert is_whole(folder) == 5


class Past(datetime):
    """A clock that was set back by a quarter of a century."""

    @classmethod
    def now(cls, tz: Any = None) -> datetime:
        return datetime(2001, 1, 1, 12, 0, tzinfo=tz)


def test_a_clock_that_was_set_back_loses_and_breaks_nothing(store, logs, monkeypatch, capsys):
    add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "before")])
    for module in (changing, changes, preparing, digest_command):
        monkeypatch.setattr(module, "datetime", Past)
    add_entries(store, [make_entry("N0011R", "2026-03-03", "other", "after")])
    assert [one.entry.words for one in kept_entries(store)] == ["before", "after"]
    with store.reading() as connection:
        noted = changes.kept_changes(connection)
    assert noted[0].at.startswith("2001")
    assert [one.id for one in noted] == list(range(len(noted), 0, -1))  # by number, whatever the clock says
    for command in (["check"], ["fleet"], ["trend", "N0011R"], ["digest", "--since", "2000-12-01"], ["add", str(logs)]):
        assert main([*command, "--records", str(store.folder)]) == 0, command
    assert "Traceback" not in capsys.readouterr().err


def test_a_reader_beside_an_add_sees_whole_logs_only(logs, tmp_path):
    with open_records(tmp_path / "r", create=True) as store:
        counts: list[int] = []
        done = threading.Event()

        def read() -> None:
            with open_records(tmp_path / "r") as reader:
                while not done.is_set():
                    with reader.reading() as connection:
                        flights = connection.exec_driver_sql("SELECT count(*) FROM flights").scalar()
                        measures = connection.exec_driver_sql("SELECT count(*) FROM measures").scalar()
                    assert measures == flights * len(MEASURES)
                    counts.append(flights)

        reader = threading.Thread(target=read)
        reader.start()
        try:
            add_logs(store, find_logs([logs]), Fleet())
        finally:
            done.set()
            reader.join()
    assert counts
    assert counts == sorted(counts)
    assert is_whole(tmp_path / "r") == 5


def test_a_full_database_disk_is_said_and_what_was_kept_stays(store, tmp_path, capsys):
    log = kept.kept_logs(store)[0]
    before = is_whole(store.folder)
    text = Path(log.source).read_bytes()
    (tmp_path / "again.csv").write_bytes(text + text[-200:])
    prepared = preparing.prepare(find_logs([tmp_path / "again.csv"])[0], Fleet(), tail=None, keep_original=True)

    class Full:
        """A connection whose database may not grow any more: SQLite's own 'database or disk is full'."""

        def __init__(self, real):
            self.real = real

        def __call__(self):
            connection = self.real()
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {pages}")
            return connection

    pool = store.database.engine.pool
    pool._creator = Full(pool._creator)
    pool._invoke_creator = lambda record: pool._creator()
    big = [{**prepared.flights[0], "number": number} for number in range(1, 400)]
    prepared.flights[:] = big
    with pytest.raises(RecordsError, match="is full; what was kept before is unharmed"):
        keeping.keep(store, prepared)
    store.close()
    assert is_whole(store.folder) == before
    assert prepared.digest not in set(all_originals(store.folder))


@pytest.mark.parametrize("size", ["24k", "120k", "160k", "200k"])
def test_a_full_disk_is_said_and_no_part_of_a_log_stays(logs, tmp_path, capsys, size):
    small = tmp_path / "small"
    small.mkdir()
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(small)], capture_output=True
    ).returncode:
        pytest.skip("a small disk cannot be mounted here: that needs an administrator")
    try:
        assert main(["add", str(logs), "--records", str(small / "r")]) == 3
        told = capsys.readouterr().err
        assert "Make room" in told or "make room" in told
        assert "Traceback" not in told
        if (small / "r" / DATABASE).exists():
            saved = shutil.copytree(small / "r", tmp_path / "saved")
            assert not list(saved.rglob("*.partial"))
            assert is_whole(saved) < 5
            assert main(["add", str(logs), "--records", str(saved)]) == 0
            assert is_whole(saved) == 5
    finally:
        subprocess.run(["umount", str(small)], check=True)


@pytest.fixture
def read_only(store: Store) -> Iterator[Path]:
    """The records' folder as nobody may write to it: for an administrator a read-only mount."""
    store.close()
    folder = store.folder
    if os.geteuid():
        everything = [folder, *folder.rglob("*")]
        for path in everything:
            path.chmod(0o555 if path.is_dir() else 0o444)
        yield folder
        for path in everything:
            path.chmod(0o755)
        return
    mounts = (["mount", "--bind", folder, folder], ["mount", "-o", "remount,bind,ro", folder])
    if any(subprocess.run(command, capture_output=True).returncode for command in mounts):
        subprocess.run(["umount", folder], capture_output=True)
        pytest.skip("an administrator may write anywhere, and nothing can be mounted read-only here")
    yield folder
    subprocess.run(["umount", folder], check=True)


def test_a_read_only_folder_can_be_read_and_refuses_an_add(read_only, logs, tmp_path, capsys):
    assert main(["add", str(logs), "--records", str(read_only)]) == 3
    assert "cannot be written to; nothing was changed" in capsys.readouterr().err
    for command in (
        ["fleet"], ["trend", "N0011R"], ["squawk", "N0011R", "low volts"], ["changes"],
        ["digest", "--since", "2026-03-01"], ["entry", "--list"], ["dispose", "N0011R", "--list"], ["assign"],
        ["check"], ["export", str(tmp_path / "tables")], ["backup", str(tmp_path / "b.zip")],
    ):  # fmt: skip
        assert main([*command, "--records", str(read_only)]) == 0, command
        told = capsys.readouterr()
        assert "Traceback" not in told.err
        assert "N0011R" in told.out or command[0] not in ("fleet", "trend", "squawk")
    assert main(["entry", "N0011R", "2026-03-01", "battery replaced", "--records", str(read_only)]) == 3
    assert "cannot be written to" in capsys.readouterr().err


@pytest.mark.parametrize("how", ["garbage", "torn"])
def test_a_damaged_database_is_said_and_made_again_from_what_stands_beside_it(store, how, capsys):
    add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
    dispose(store, "N0011R", "weak_cranking", "2026-03-01T09:00:00", "confirmed", "J. Doe")
    sources = [(log.source, log.tail) for log in kept.kept_logs(store)]
    with store.writing() as connection:
        connection.exec_driver_sql("SELECT 1")
    store.close()
    database = store.folder / DATABASE
    with sqlite3.connect(database) as plain:
        plain.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    plain.close()
    data = database.read_bytes()
    database.write_bytes(
        b"no database at all " * 500 if how == "garbage" else data[:4096] + os.urandom(4096) + data[8192:12288]
    )
    assert main(["fleet", "--records", str(store.folder)]) == 3
    told = capsys.readouterr().err
    assert "is damaged" in told
    assert "taper rebuild" in told
    for name in (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm"):
        (store.folder / name).unlink(missing_ok=True)
    assert main(["rebuild", "--records", str(store.folder)]) == 0
    assert is_whole(store.folder) == 5
    with open_records(store.folder) as again:
        assert [(log.source, log.tail) for log in kept.kept_logs(again)] == sources
        assert kept_entries(again)[0].entry.kind == "battery_replaced"
        assert kept_dispositions(again)[0].who == "J. Doe"


@pytest.mark.parametrize("how", ["garbage", "torn", "absent"])
def test_damaged_readings_are_said_and_made_anew(store, how):
    flight = kept.tail_flights(store, "N0011R")[0]
    before = kept.trace(store, flight.id)
    path = trace_path(store.folder, next(log.hash for log in kept.kept_logs(store) if log.id == flight.log_id))
    if how == "absent":
        path.unlink()
    else:
        path.write_bytes(b"nothing" if how == "garbage" else path.read_bytes()[:-200])
    with pytest.raises(RecordsError, match="Run: taper rebuild"):
        kept.trace(store, flight.id)
    rebuild(store, Fleet())
    assert kept.trace(store, kept.tail_flights(store, "N0011R")[0].id).equals(before)


def test_a_damaged_original_is_said_and_its_log_stays_as_it_was(store):
    log = kept.kept_logs(store)[0]
    path = next((store.folder / "originals").rglob(f"{log.hash}*"))
    path.write_bytes(path.read_bytes()[:100])
    rebuilt = rebuild(store, Fleet())
    assert [source for source, _ in rebuilt.failed] == [log.source]
    assert "is damaged" in rebuilt.failed[0][1]
    assert len(kept.kept_logs(store)) == 5


def test_records_of_a_newer_program_are_left_alone(store, capsys):
    with store.writing() as connection:
        connection.exec_driver_sql(f"UPDATE schema_version SET version = {SCHEMA + 1}")
    store.close()
    before = (store.folder / DATABASE).read_bytes()
    for command in (["fleet"], ["add", str(store.folder)], ["rebuild"]):
        assert main([*command, "--records", str(store.folder)]) == 3
        assert "newer version" in capsys.readouterr().err
    assert (store.folder / DATABASE).read_bytes() == before


def write_as_version_5(connection: Connection) -> None:
    """Write flights and findings as they were kept before they were types: as the contract's JSON."""
    starts = {}
    for row in connection.execute(select(tables.flights)).mappings().all():
        own = connection.execute(select(tables.measures).where(tables.measures.c.flight_id == row["id"])).mappings()
        result = flight_of(row["document"], measured := own.all(), ())
        starts[row["id"]] = result.clock_start
        was = plain(flight_entry(result))
        del was["measures"], was["findings"]
        bare = [{name: value for name, value in one.items() if not name.startswith("at_")} for one in measured]
        values = {"document": was, "document_seal": document_seal(was, bare)}
        connection.execute(update(tables.flights).where(tables.flights.c.id == row["id"]).values(**values))
    for row in connection.execute(select(tables.findings)).mappings().all():
        was = plain(finding_entry(finding_of(row["document"]), starts[row["flight_id"]]))
        del was["quantities"]
        was["likely"] = [{"cause": one["cause"], "weight": one["weight"], "why": one["why"]} for one in was["likely"]]
        values = {"document": was, "seal": finding_seal(row["name"], row["severity"], was)}
        connection.execute(update(tables.findings).where(tables.findings.c.id == row["id"]).values(**values))


@pytest.mark.long(keep=3)
@pytest.mark.parametrize("version", range(SCHEMA - 1, 0, -1))  # the newest first, so that it is always tried
def test_records_of_an_older_program_are_brought_forward(store, version):
    seals = ["logs.trace", "flights.document_seal"]
    seals += [f"{table}.seal" for table in ("logs", "flights", "findings", "entries", "dispositions")]
    backwards = {
        9: [
            "DROP INDEX logs_by_added",
            "DROP INDEX flights_by_start",
            "DROP INDEX flights_by_tail",
            "CREATE INDEX flights_by_tail ON flights (tail, starts)",
        ],
        8: ["DROP TABLE told"],
        7: [
            "ALTER TABLE entries DROP COLUMN capacity",
            "PRAGMA writable_schema = ON",  # they wrote the kinds of texts so, and what is brought forward keeps that
            "UPDATE sqlite_master SET sql = replace(replace(sql, 'words VARCHAR', 'words TEXT'), 'tail VARCHAR', "
            "'tail VARCHAR(16)') WHERE type = 'table'",
            "PRAGMA writable_schema = RESET",
        ],
        6: ["DROP TABLE changes"],
        5: ["ALTER TABLE measures DROP COLUMN at_least", "ALTER TABLE measures DROP COLUMN at_most"],
        4: [f"ALTER TABLE {one.split('.')[0]} DROP COLUMN {one.split('.')[1]}" for one in seals],
        3: [
            "PRAGMA writable_schema = ON",
            "UPDATE sqlite_master SET sql = replace(sql, 'nominal_voltage INTEGER', "
            "'nominal_voltage INTEGER NOT NULL') WHERE name = 'flights'",
            "PRAGMA writable_schema = RESET",
        ],
        2: ["ALTER TABLE logs DROP COLUMN columns", "DROP TABLE leaving"],
        1: ["DROP TABLE tails"],
    }
    if version <= 5:
        with store.writing() as connection:
            write_as_version_5(connection)
    store.close()
    with closing(sqlite3.connect(store.folder / DATABASE)) as connection:
        for step in range(SCHEMA - 1, version - 1, -1):
            for statement in backwards[step]:
                connection.execute(statement)
        connection.execute(f"UPDATE schema_version SET version = {version}")
        connection.commit()
    assert is_whole(store.folder) == 5
    with open_records(store.folder) as again:
        assert kept.tail_review(again, "N0011R").flights == 3
        assert all(log.columns == {} for log in kept.kept_logs(again))
        assert check(again).troubles == []
        flight = kept.tail_flights(again, "N0011R")[0]
        told = kept.flight_record(again, flight.id).result
        assert (told.start, told.end) == (flight.start, flight.end)
        assert told.measures.keys() == MEASURES.keys()
        with again.reading() as connection:
            assert connection.exec_driver_sql("SELECT version FROM schema_version").scalar() == SCHEMA
            there = {one["name"]: one["column_names"] for one in inspect(connection).get_indexes("flights")}
            assert there == {str(one.name): list(one.columns.keys()) for one in tables.flights.indexes}
        with again.writing() as connection:
            connection.exec_driver_sql("UPDATE flights SET nominal_voltage = NULL")
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    with open_records(store.folder) as afterwards:  # now of this version, in the words of the older one
        assert len(kept.kept_logs(afterwards)) == 5


def test_no_records_is_a_sentence_that_says_how_to_begin(tmp_path, capsys):
    for command in (["fleet"], ["trend"], ["export", str(tmp_path / "x")], ["forget", "N0011R"], ["assign"]):
        assert main([*command, "--records", str(tmp_path / "none")]) == 3
        assert "taper add PATH" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


def test_a_writer_that_never_ends_is_said(store, monkeypatch):
    with open_records(store.folder) as other:
        other.database.engine.pool._creator = lambda: sqlite3.connect(
            store.folder / DATABASE, timeout=0.05, isolation_level=None, check_same_thread=False
        )
        other.database.engine.pool._invoke_creator = lambda record: other.database.engine.pool._creator()
        with store.writing(), pytest.raises(RecordsError, match="Another program has been writing"), other.writing():
            pass


def test_a_forget_that_was_stopped_half_way_is_finished_and_a_rebuild_brings_nothing_back(store, monkeypatch):
    def stopped(store):
        raise KeyboardInterrupt

    monkeypatch.setattr(forgetting, "carry_out_deletes", stopped)
    with pytest.raises(KeyboardInterrupt):
        forgetting.forget(store, forgetting.would_go(store, ["N0011R"]))
    assert len(list(all_originals(store.folder))) == 5
    rebuilt = rebuild(store, Fleet())
    assert rebuilt.taken_in == []
    assert [tail.tail for tail in kept.tails(store)] == ["N0022R"]
    assert len(list(all_originals(store.folder))) == 2


def test_a_log_that_is_added_while_it_is_forgotten_keeps_its_files(store, logs, monkeypatch):
    gone = kept.kept_logs(store)[0]
    real = forgetting.carry_out_deletes

    def added_meanwhile(open_store):
        add_logs(open_store, find_logs([gone.source]), Fleet())
        real(open_store)

    monkeypatch.setattr(forgetting, "carry_out_deletes", added_meanwhile)
    forgetting.forget(store, forgetting.would_go(store, [str(gone.id)]))
    store.close()
    assert is_whole(store.folder) == 5


def still_to_be_deleted(store: Store) -> bool:
    with store.reading() as connection:
        return connection.execute(select(tables.pending_deletes.c.hash)).first() is not None


def test_a_log_that_is_kept_again_after_a_forget_that_was_stopped_has_no_files_to_be_deleted(store, monkeypatch):
    gone = kept.kept_logs(store)[0]
    prepared = preparing.prepare(find_logs([gone.source])[0], Fleet(), tail=None, keep_original=True)
    with monkeypatch.context() as patched:
        patched.setattr(forgetting, "carry_out_deletes", lambda store: None)
        forgetting.forget(store, forgetting.would_go(store, [str(gone.id)]))
    assert still_to_be_deleted(store)
    assert keeping.keep(store, prepared)
    assert not still_to_be_deleted(store)
    keeping.carry_out_deletes(store)
    store.close()
    assert is_whole(store.folder) == 5


def test_a_log_whose_files_go_just_before_it_is_noted_has_them_written_again(store, logs, monkeypatch):
    gone = kept.kept_logs(store)[0]
    forgetting.forget(store, forgetting.would_go(store, [str(gone.id)]))
    prepared = preparing.prepare(find_logs([gone.source])[0], Fleet(), tail=None, keep_original=True)
    insert = keeping._insert

    def without_files(connection, some, numbers):
        for one in some:
            files.remove_files(store.folder, one.digest)
        return insert(connection, some, numbers)

    monkeypatch.setattr(keeping, "_insert", without_files)
    assert keeping.keep(store, prepared)
    store.close()
    assert is_whole(store.folder) == 5


def test_entries_of_a_lost_database_outlive_an_entry_made_before_the_rebuild(store):
    add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
    dispose(store, "N0011R", "weak_cranking", "2026-03-01T09:00:00", "confirmed", "J. Doe")
    store.close()
    (store.folder / DATABASE).unlink()
    with open_records(store.folder, create=True) as again:
        add_entries(again, [make_entry("N0022R", "2026-03-05", "other", "oil")])
        dispose(again, "N0011R", "weak_cranking", "2026-03-01T09:00:00", "fixed", "J. Doe")
        assert [kept_one.entry.words for kept_one in kept_entries(again)] == ["new", "oil"]
        assert [one.verdict for one in kept_dispositions(again)] == ["confirmed", "fixed"]
    assert "battery_replaced" in (store.folder / "entries.csv").read_text()
    assert "confirmed" in (store.folder / "dispositions.csv").read_text()


@pytest.mark.parametrize("text", ["tail,finding\nN0011R,x\n", "\xff\xfe", "tail,finding,at,verdict,who,words\nonly\n"])
def test_dispositions_spoilt_by_hand_are_said(store, text):
    store.close()
    (store.folder / DATABASE).unlink()
    (store.folder / "dispositions.csv").write_bytes(text.encode("latin-1"))
    with open_records(store.folder, create=True) as again, pytest.raises(RecordsError, match=r"dispositions\.csv"):
        rebuild(again, Fleet())
    assert (store.folder / "dispositions.csv").read_bytes() == text.encode("latin-1")


def test_what_a_person_said_while_a_log_was_rebuilt_stays(store):
    log = kept.kept_logs(store)[0]
    prepared = preparing.prepare(find_logs([log.source])[0], Fleet(), tail=None, keep_original=True)
    assign(store, "N0099R", [log.id])
    keeping.replace_kept(store, [prepared])
    assert [tail.tail for tail in kept.tails(store)] == ["N0011R", "N0022R", "N0099R"]
    assert kept.kept_logs(store, "N0099R")[0].tail_from == "assigned"


def test_what_a_person_took_back_while_a_log_was_analysed_stays_taken_back(store):
    log = kept.kept_logs(store)[0]
    assign_logs(store, "N0099R", [log.id])
    prepared = preparing.prepare(find_logs([log.source])[0], Fleet(), tail="N0099R", keep_original=True)
    assign_logs(store, None, [log.id])
    assert keeping.replace_kept(store, [prepared]) == [None]
    assert next(one.tail for one in kept.kept_logs(store) if one.id == log.id) == log.tail
    assert [tail.tail for tail in kept.tails(store)] == ["N0011R", "N0022R"]


def test_a_replacement_that_cannot_be_written_leaves_all_as_it_was(store, monkeypatch):
    log = kept.kept_logs(store)[0]
    prepared = preparing.prepare(find_logs([log.source])[0], Fleet(), tail=None, keep_original=True)
    before = trace_path(store.folder, log.hash).read_bytes()
    prepared.flights.clear()

    def full(path, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keeping, "write_whole", full)
    with pytest.raises(RecordsError, match="make room"):
        keeping.replace_kept(store, [prepared])
    assert trace_path(store.folder, log.hash).read_bytes() == before
    store.close()
    assert is_whole(store.folder) == 5


def test_half_written_files_of_killed_programs_are_cleared_away_by_a_rebuild(store):
    left = store.folder / "originals" / "00" / "x.csv.gz.123-ab.partial"
    left.parent.mkdir(exist_ok=True)
    left.write_bytes(b"half")
    young = left.with_name("y.csv.gz.124-ab.partial")
    young.write_bytes(b"half")
    os.utime(left, (0, 0))
    rebuild(store, Fleet())
    assert (left.exists(), young.exists()) == (False, True)


def test_a_repair_removes_what_was_left_half_written_and_what_may_be_at_work_is_no_trouble(store, capsys):
    left = store.folder / "traces" / "00" / "x.parquet.123-ab.partial"
    left.parent.mkdir(exist_ok=True)
    left.write_bytes(b"half")
    call = ["check", "--records", str(store.folder)]
    assert main([*call, "--repair"]) == 0
    assert left.exists()
    assert "Being written, or left so within the hour: 1 file. Nothing is missing" in capsys.readouterr().out
    os.utime(left, (0, 0))
    assert main(call) == 1
    assert "Left half written by stopped programs: 1 file. A repair" in capsys.readouterr().out
    assert main([*call, "--repair"]) == 0
    assert not left.exists()


def test_what_another_account_writes_is_seen_where_the_folder_cannot_be_written(store, monkeypatch):
    # The writer holds its database open, so that what it wrote stands in the file beside it alone.
    with store.database.engine.connect() as held:
        held.exec_driver_sql("SELECT 1")
        add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
        assert (store.folder / f"{DATABASE}-wal").stat().st_size > 0
        monkeypatch.setattr(os, "access", lambda *_: False)
        with open_records(store.folder) as reader:
            assert not reader.writable
            assert [one.entry.words for one in kept_entries(reader)] == ["new"]
