"""Records in a database of a real PostgreSQL server: the same as in a folder alone, whatever happens to it."""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, event, text

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.corrections import CORRECTIONS
from analyzer.logs import find_logs
from analyzer.records import adding, keeping, kept, moving, on_postgresql
from analyzer.records import store as store_module
from analyzer.records.adding import add_logs
from analyzer.records.backup import back_up, restore
from analyzer.records.changes import broken_at, kept_changes
from analyzer.records.changing import add_entries, delete_entry, dispose, edit_entry, kept_entries
from analyzer.records.checking import check
from analyzer.records.place import SERVER_FILE, Place
from analyzer.records.problems import RecordsError
from analyzer.records.store import DATABASE, Store, are_there, open_records
from analyzer.records.tables import SCHEMA
from analyzer.trends.entries import make_entry
from tests.browser import served
from tests.dashboards.asking import ask, call, entry_call, open_page
from tests.postgresql import Server
from tests.records import test_changes, test_faults, test_keeping, test_renewing
from tests.records.test_damage import shown
from tests.records.test_faults import DIES, EACH_ALONE, is_whole
from tests.records.test_renewing import as_shipped_afterwards

ROOT = Path(__file__).resolve().parents[2]
__all__ = ["as_shipped_afterwards"]


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory, postgresql: Server, logs: Path) -> Path:
    """The folder of records on the server with all five logs, to be copied."""
    folder = tmp_path_factory.mktemp("on_server") / "records"
    with open_records(Place(folder, postgresql.address(postgresql.new())), create=True) as opened:
        add_logs(opened, find_logs([logs]), Fleet())
    return folder


@pytest.fixture
def store(tmp_path: Path, postgresql: Server, made: Path) -> Iterator[Store]:
    """Records on the server with all five logs."""
    postgresql.copy(made, tmp_path / "records")
    with open_records(tmp_path / "records") as opened:
        assert opened.place.server is not None
        yield opened


@pytest.fixture
def copy(two: Path, tmp_path: Path, postgresql: Server) -> Path:
    """Records on the server with two logs and one entry."""
    with open_records(two) as opened:
        back_up(opened, tmp_path / "two.zip")
    place = Place(tmp_path / "records", postgresql.address(postgresql.new()))
    restore(tmp_path / "two.zip", place)
    return place.folder


def named(server: Server, folder: Path, database: str | None = None) -> str:
    """How the command line is told of records in a database, an empty one when none is named."""
    return f"{server.address(database or server.new())}&files={folder}"


# What holds in a folder alone, tried with the two fixtures above.
test_a_clock_set_back = test_faults.test_a_clock_that_was_set_back_loses_and_breaks_nothing
test_lost_readings = test_faults.test_damaged_readings_are_said_and_made_anew
test_a_damaged_original = test_faults.test_a_damaged_original_is_said_and_its_log_stays_as_it_was
test_added_whole = test_keeping.test_adding_again_changes_nothing_whatever_the_name
test_added_while_forgotten = test_faults.test_a_log_that_is_added_while_it_is_forgotten_keeps_its_files
test_said_while_rebuilt = test_faults.test_what_a_person_said_while_a_log_was_rebuilt_stays
test_taken_back = test_faults.test_what_a_person_took_back_while_a_log_was_analysed_stays_taken_back
test_a_failed_replacement = test_faults.test_a_replacement_that_cannot_be_written_leaves_all_as_it_was
test_a_folder_that_is_read_only = test_faults.test_a_read_only_folder_can_be_read_and_refuses_an_add
read_only = test_faults.read_only
test_a_flight_comes_back = test_keeping.test_a_flight_comes_back_as_a_review_of_its_log_gives_it
test_worked_out_anew = test_keeping.test_a_review_is_worked_out_anew_only_when_something_changed
test_entries = test_keeping.test_entries_are_kept_edited_deleted_and_written_beside_the_database
test_dispositions = test_keeping.test_dispositions_keep_who_said_what_and_when
test_forgetting = test_keeping.test_forgetting_takes_all_of_a_log_and_nothing_else
test_measures = test_keeping.test_measures_come_as_a_table_with_reasons
test_tables_are_exported = test_keeping.test_tables_are_exported_whole
test_pages_renew = test_renewing.test_pages_say_that_flights_are_stale_and_renew_them_in_the_background
test_each_change = test_changes.test_each_change_says_who_when_and_what_stood_there_before_and_after
test_logs_noted = test_changes.test_logs_that_are_kept_and_forgotten_are_noted_and_what_is_worked_out_anew_is_not
test_not_done_not_noted = test_changes.test_what_is_not_done_is_not_noted
test_no_line_changed = test_changes.test_no_line_can_be_changed_or_removed


def answers(where: str, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    """What the commands say of some records, without when it was done."""
    told: dict[str, object] = {}
    commands = (["fleet"], ["trend"], ["digest", "--since", "2026-01-01"], ["flight", "N012LF"])
    for command in commands:
        assert main([*command, "--json", "--records", where]) == 0, command
        told[command[0]] = re.sub(rf"{datetime.now():%Y-%m}-\d\dT[\d:]+", "just now", capsys.readouterr().out)
    with open_records(store_module.place_of(Path(where))) as opened, opened.reading() as connection:
        told["changes"] = [
            (one.id, one.who, one.role, one.by, one.what, one.about, one.tail, one.before, one.after)
            for one in kept_changes(connection)
        ]
        assert broken_at(connection) is None
        told["logs"] = [one.source for one in kept.kept_logs(opened)]
        told["starts"] = [one.start for one in kept.tail_flights(opened, "N037LF")]
    return told


def without_clock(log: str) -> str:
    """A log whose rows are counted and not timed, so that its flight has no start."""
    first, names, *rows = log.splitlines()
    counted = [f"{place},{row.partition(',')[2]}" for place, row in enumerate(rows)]
    return "\n".join([first, f"elapsed_s,{names.partition(',')[2]}", *counted])


def test_the_same_logs_and_words_come_to_the_same_in_both_engines(tmp_path, postgresql, capsys):
    found, bare = {}, tmp_path / "bare.csv"
    bare.write_text(without_clock((ROOT / "sample_logs" / "N037LF_2026-05-03.csv").read_text()))
    for folder, where in (
        (tmp_path / "alone", str(tmp_path / "alone")),
        (tmp_path / "files", named(postgresql, tmp_path / "files")),
    ):
        fleet = str(ROOT / "sample_logs" / "fleet.toml")
        assert main(["add", str(ROOT / "sample_logs"), str(bare), "--fleet", fleet, "--records", where]) == 0
        with open_records(folder) as opened:
            add_entries(opened, [make_entry("N012LF", "2026-05-10", "regulator_replaced", "new")])
            add_entries(opened, [make_entry("N058LF", "2026-05-03", "other", 'Öl ½ "quart" \\ \t\x7f 🛩')])
            edit_entry(opened, 2, make_entry("N058LF", "2026-05-04", "other", "oil"))
            dispose(opened, "N012LF", "overvoltage_trip", "2026-05-09T10:03:00", "fixed", "J. Doe", "", 1)
            delete_entry(opened, 1)
        capsys.readouterr()
        found[folder.name] = answers(str(folder), capsys)
    assert found["alone"].keys() == found["files"].keys()
    for name in found["alone"]:
        assert found["files"][name] == found["alone"][name], name
    assert len(found["files"]["changes"]) > 18
    assert found["files"]["starts"][0] is None
    assert len(found["files"]["starts"]) == 4


def test_four_adders_of_overlapping_logs_at_once_lose_and_double_nothing(logs, tmp_path, postgresql):
    # The folder and the tables are made by whichever comes first.
    where, every = named(postgresql, tmp_path / "r"), sorted(logs.glob("*.csv"))
    parts = (every, every[::-1], every[:3], every[2:])
    adders = [
        subprocess.Popen(
            [sys.executable, "-m", "analyzer", "add", *map(str, part), "--records", where],
            cwd=ROOT, stderr=subprocess.PIPE, text=True,
        )
        for part in parts
    ]  # fmt: skip
    told = [one.communicate(timeout=300)[1] for one in adders]
    assert [one.returncode for one in adders] == [0, 0, 0, 0], told
    assert is_whole(tmp_path / "r") == 5
    with open_records(tmp_path / "r") as opened:
        assert len({log.hash for log in kept.kept_logs(opened)}) == 5
        assert check(opened).troubles == []
        with opened.reading() as connection:
            assert [one.what for one in kept_changes(connection)] == ["log added"] * 5
            assert connection.execute(text("SELECT sum(revision) FROM tails")).scalar() == 5


@pytest.mark.parametrize("moment", ["insert", "commit"])
def test_a_server_that_dies_while_logs_are_added_is_said_and_the_same_command_completes(
    logs, tmp_path, postgresql, monkeypatch, capsys, moment
):
    where, begun, real = named(postgresql, tmp_path / "r"), [], keeping._insert

    def dying(*given: Any) -> bool:
        begun.append(given)
        if moment == "insert" and len(begun) == 3:
            postgresql.kill()
        return real(*given)

    def commits(_: Connection) -> None:
        if moment == "commit" and len(begun) == 3:
            postgresql.kill()

    monkeypatch.setattr(adding, "AT_ONCE", 1)
    monkeypatch.setattr(keeping, "_insert", dying)
    event.listen(Engine, "commit", commits)
    try:
        assert main(["add", str(logs), "--records", where]) == 3
        told = capsys.readouterr().err
        assert main(["fleet", "--records", where]) == 3
        assert "cannot be reached" in capsys.readouterr().err
    finally:
        event.remove(Engine, "commit", commits)
        postgresql.start()
    assert "what was kept before is unharmed; run the same command again" in told
    assert "Traceback" not in told
    assert is_whole(tmp_path / "r") == 2
    assert main(["add", str(logs), "--records", where]) == 0
    assert is_whole(tmp_path / "r") == 5
    with open_records(tmp_path / "r") as opened:
        assert check(opened).troubles == []


@pytest.mark.parametrize("at", [8, 40, 75])
def test_an_adder_that_is_killed_keeps_whole_logs_and_holds_nobody_up(logs, tmp_path, postgresql, at):
    where = named(postgresql, tmp_path / "r")
    done = subprocess.run(
        [sys.executable, "-c", DIES, str(at), str(logs), where, EACH_ALONE],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert main(["add", str(logs), "--records", where]) == 0
    assert is_whole(tmp_path / "r") == 5


def test_a_server_that_comes_back_is_used_again_without_a_word(store, postgresql):
    before = shown(store)
    postgresql.kill()
    with pytest.raises(RecordsError, match="cannot be reached"):
        kept.tails(store)
    postgresql.start()
    assert shown(store) == before


def refused(where: str, capsys: pytest.CaptureFixture[str], command: str = "add") -> str:
    """The sentence by which records are refused."""
    words = [str(ROOT / "sample_logs")] if command == "add" else []
    assert main([command, *words, "--records", where]) == 3
    told = capsys.readouterr().err
    assert "Traceback" not in told
    return told


def test_two_databases_never_share_a_folder_nor_two_folders_a_database(store, tmp_path, postgresql, capsys):
    first = str(store.place.server).rpartition("@/")[2].partition("?")[0]
    second = postgresql.new()
    told = refused(named(postgresql, store.folder, second), capsys)
    assert f"holds the files of the records in {postgresql.address(first)}" in told
    other = tmp_path / "other"
    told = refused(named(postgresql, other, first), capsys)
    assert f"{SERVER_FILE} is not in it" in told
    assert not other.exists()
    with open_records(Place(other, postgresql.address(second)), create=True):
        pass
    told = refused(named(postgresql, other, first), capsys)
    assert f"files of other records, those in {postgresql.address(second)}" in told
    told = refused(named(postgresql, store.folder, second), capsys, "fleet")
    assert f"files of other records, those in {postgresql.address(first)}" in told


def test_who_looks_while_another_makes_the_records_looks_again(store, monkeypatch):
    real, looked = on_postgresql.server_of, []

    def before_it_was_there(folder: Path) -> Any:
        looked.append(folder)
        return None if len(looked) == 1 else real(folder)

    monkeypatch.setattr(on_postgresql, "server_of", before_it_was_there)
    assert are_there(store.folder)
    assert len(looked) == 2


def test_a_folder_with_records_of_its_own_is_no_folder_beside_a_server(two, tmp_path, postgresql, capsys):
    folder = Path(shutil.copytree(two, tmp_path / "records"))
    told = refused(named(postgresql, folder), capsys)
    assert f"holds records of its own, in {DATABASE}" in told
    assert not (folder / SERVER_FILE).exists()


def test_a_lost_database_is_made_anew_from_the_folder(store, postgresql, capsys):
    add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
    before = [(log.source, log.tail) for log in kept.kept_logs(store)]
    with store.reading() as connection:
        noted = [(one.id, one.what, one.after) for one in kept_changes(connection)]
    where = named(postgresql, store.folder)
    told = refused(where, capsys, "rebuild")
    assert f"move {SERVER_FILE} in that folder away and run: taper rebuild" in told
    (store.folder / SERVER_FILE).unlink()
    assert main(["rebuild", "--records", where]) == 0
    with open_records(store.folder) as again:
        assert [(log.source, log.tail) for log in kept.kept_logs(again)] == before
        assert [one.entry.words for one in kept_entries(again)] == ["new"]
        with again.reading() as connection:
            assert [(one.id, one.what, one.after) for one in kept_changes(connection)][-len(noted) :] == noted
            assert broken_at(connection) is None


def test_a_move_that_fails_takes_away_what_it_moved_and_nothing_of_others(copy, tmp_path, postgresql, monkeypatch):
    with open_records(copy) as store:
        back_up(store, tmp_path / "whole.zip")
    place = Place(tmp_path / "shared", postgresql.address(postgresql.new()))
    full = moving.settle

    def put_beside_and_fail(folder: Path) -> None:
        (folder / "of_another.txt").write_text("theirs")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(moving, "settle", put_beside_and_fail)
    with pytest.raises((RecordsError, OSError)):
        restore(tmp_path / "whole.zip", place)
    assert [path.name for path in place.folder.iterdir()] == ["of_another.txt"]
    (place.folder / "of_another.txt").unlink()
    monkeypatch.setattr(moving, "settle", full)
    restore(tmp_path / "whole.zip", place)
    with open_records(place) as again:
        assert check(again).troubles == []


def test_a_backup_of_either_engine_is_restored_to_either(copy, two, tmp_path, postgresql):
    own = Path(shutil.copytree(two, tmp_path / "alone"))  # reviews are worked out in it
    with open_records(own) as alone, open_records(copy) as on_server:
        before = shown(alone)
        assert shown(on_server) == before
        add_entries(on_server, [make_entry("N0011R", "2026-03-05", "other", "numbered on")])
        assert [one.id for one in kept_entries(on_server)] == [1, 2]
        delete_entry(on_server, 2)
        back_up(on_server, tmp_path / "of_server.zip")
    restore(tmp_path / "of_server.zip", tmp_path / "back")
    with open_records(tmp_path / "back") as back:
        assert back.place.server is None
        assert shown(back) == before
        assert check(back).troubles == []
    place = Place(tmp_path / "again", postgresql.address(postgresql.new()))
    restore(tmp_path / "of_server.zip", place)
    with open_records(place) as again:
        assert shown(again) == before
        assert check(again).troubles == []
    with pytest.raises(RecordsError, match="is not the one with the files of the records in"):
        restore(tmp_path / "of_server.zip", Place(tmp_path / "third", str(place.server)))
    assert not list((tmp_path / "third").iterdir())


def test_no_password_is_ever_said_or_kept(logs, tmp_path, postgresql, monkeypatch, capsys):
    secret = "q7-Perpend1cular"
    postgresql.sql(f"CREATE ROLE guarded LOGIN PASSWORD '{secret}'")
    access = postgresql.folder / "data" / "pg_hba.conf"
    access.write_text(f"local all guarded scram-sha-256\n{access.read_text()}")
    postgresql.sql("SELECT pg_reload_conf()")
    database = postgresql.new()
    postgresql.sql("GRANT ALL ON SCHEMA public TO guarded", database)
    where = named(postgresql, tmp_path / "r", database).replace("//club@", "//guarded@")
    assert "taken from PGPASSWORD, ~/.pgpass or a service file" in refused(where, capsys)
    monkeypatch.setenv("PGPASSWORD", f"{secret}-not")
    assert secret not in refused(where, capsys)
    monkeypatch.setenv("PGPASSWORD", secret)
    assert main(["add", str(sorted(logs.glob("*.csv"))[0]), "--records", where]) == 0
    said = capsys.readouterr()
    assert main(["changes", "--records", str(tmp_path / "r")]) == 0
    said_later = capsys.readouterr()
    assert secret not in said.out + said.err + said_later.out + said_later.err
    assert not any(secret.encode() in path.read_bytes() for path in (tmp_path / "r").rglob("*") if path.is_file())


@pytest.mark.parametrize(
    "address",
    [
        "postgresql://club:S3cret@h/db?files=/tmp/x", "postgresql://h/db?password=S3cret&files=/tmp/x",
        "postgresql://club:S3c/ret@h/db?files=/tmp/x", "postgresql://club:12/S3cret@h/db?files=/tmp/x",
        "postgresql://club:S3#cret@h/db?files=/tmp/x", "postgres://club:[S3cret@h/db", "postgresql://S3cret:x/db",
    ],
)  # fmt: skip
def test_an_address_with_a_password_is_refused_and_not_repeated(address, capsys, monkeypatch):
    told = refused(address, capsys)
    assert "3c" not in told
    assert "cret" not in told
    monkeypatch.setenv("TAPER_RECORDS", address)
    assert main(["review", str(ROOT / "sample_logs" / "N012LF_2026-05-09.csv"), "--brief"]) == 2
    told = capsys.readouterr().err
    assert "The address of the records" in told
    assert "cret" not in told


def test_what_is_wrong_with_server_or_address_is_one_sentence(postgresql, tmp_path, capsys, monkeypatch):
    assert "name it in the address: postgresql://club@h/db?files=FOLDER" in refused("postgresql://club@h/db", capsys)
    told = refused(f"{postgresql.address('nowhere')}&files={tmp_path / 'r'}", capsys)
    assert 'database "nowhere" does not exist' in told
    assert "createdb" in told
    told = refused(f"postgresql://club@/db?host={tmp_path}&files={tmp_path / 'r'}", capsys)
    assert "cannot be reached" in told
    told = refused(named(postgresql, tmp_path / "r"), capsys, "fleet")
    assert "There are no records in" in told
    assert not (tmp_path / "r").exists()
    monkeypatch.setitem(sys.modules, "psycopg", None)
    assert "pip install '.[postgresql]'" in refused(named(postgresql, tmp_path / "r", "club1"), capsys)


def test_a_writer_that_never_ends_is_said(store, monkeypatch):
    monkeypatch.setattr(on_postgresql, "PATIENCE_S", 1.0)
    with open_records(store.folder) as other, store.writing():
        assert len(kept.tails(other)) == 2  # a reader waits for nobody
        with pytest.raises(RecordsError, match="Another program has been writing"), other.writing():
            pass


def test_the_mark_by_which_pages_know_of_changes_moves_with_each_and_with_nothing_else(store):
    marks = [store.database.mark()]
    kept.tail_review(store, "N0011R")  # is worked out and kept
    marks.append(store.database.mark())
    add_entries(store, [make_entry("N0011R", "2026-03-02", "other", "oil")])
    marks.append(store.database.mark())
    assert marks == sorted(set(marks))
    kept.tails(store)
    with suppress(ZeroDivisionError), store.writing() as connection:
        connection.execute(text("DELETE FROM entries"))
        raise ZeroDivisionError
    with store.writing():
        pass
    assert store.database.mark() == marks[-1]


def test_a_reader_sees_one_moment_whatever_is_written_beside_it(store):
    with store.reading() as connection:
        before = kept_changes(connection)
        add_entries(store, [make_entry("N0011R", "2026-03-02", "other", "meanwhile")])
        assert kept_changes(connection) == before


def test_a_page_that_the_servers_disk_changed_is_said_and_hides_nothing_else(store, postgresql, capsys):
    add_entries(store, [make_entry("N0011R", "2026-03-02", "other", "oil")])
    database = str(store.place.server).rpartition("@/")[2].partition("?")[0]
    path = postgresql.folder / "data" / str(postgresql.sql("SELECT pg_relation_filepath('flights')", database)[0][0])
    postgresql.sql("CHECKPOINT")
    postgresql.kill()
    data = bytearray(path.read_bytes())
    data[4000] ^= 1
    path.write_bytes(data)
    postgresql.start()
    assert "is damaged (invalid page in block 0" in refused(str(store.folder), capsys, "fleet")
    found = check(store)
    kinds = [one.kind for one in found.troubles if one.kind != "database"]  # the server counts such pages a bit later
    assert (kinds, found.logs, found.entries) == (["results"] * 5, 5, 1)


def test_limits_are_not_written_into_a_folder_that_is_anothers(store, tmp_path, postgresql, capsys):
    (tmp_path / "own.toml").write_text("[limits]\nregulated_high = { at_14 = 13.0, at_28 = 26.0 }\n")
    where = named(postgresql, store.folder)
    assert main(["rebuild", "--limits", str(tmp_path / "own.toml"), "--records", where]) == 3
    assert "holds the files of the records in" in capsys.readouterr().err
    assert not (store.folder / CORRECTIONS).exists()


def test_an_account_that_may_only_read_reads_and_is_told_so(store, postgresql, capsys):
    database = str(store.place.server).rpartition("@/")[2].partition("?")[0]
    postgresql.sql("CREATE ROLE reader LOGIN")
    postgresql.sql("GRANT SELECT ON ALL TABLES IN SCHEMA public TO reader", database)
    where = named(postgresql, store.folder, database).replace("//club@", "//reader@")
    for command in (["fleet"], ["trend", "N0011R"], ["check"]):
        assert main([*command, "--records", where]) == 0, command
    capsys.readouterr()
    assert "cannot be written to; nothing was changed" in refused(where, capsys)


def test_what_is_changed_by_hand_in_the_database_is_noted_and_a_changed_row_is_found(store, postgresql):
    database = str(store.place.server).rpartition("@/")[2].partition("?")[0]
    before = store.database.mark()
    postgresql.sql("UPDATE logs SET tail = 'N0099R' WHERE id = 1", database)
    assert store.database.mark() != before
    with store.reading() as connection:
        assert broken_at(connection) is None
        last = kept_changes(connection, newest=1)[0]
    assert (last.who, last.by, last.what) == ("club", "database", "log changed")
    assert ((last.before or {})["tail"], (last.after or {})["tail"]) == ("N0011R", "N0099R")
    found = check(store)
    assert "log 1 (" in found.troubles[0].what


def test_every_text_is_of_any_length_and_in_the_order_of_its_letters_numbers(store):
    asked = (
        "SELECT column_name, character_maximum_length, collation_name FROM information_schema.columns "
        "WHERE table_schema = 'public' AND data_type = 'character varying' AND table_name <> 'belonging'"
    )
    with store.reading() as connection:
        found = connection.execute(text(asked)).all()
    assert len(found) > 40
    assert {tuple(one[1:]) for one in found} == {(None, "C")}


def test_records_of_a_newer_program_are_left_alone(store, capsys):
    with store.writing() as connection:
        connection.execute(text(f"UPDATE schema_version SET version = {SCHEMA + 1}"))
    for command in ("fleet", "add", "rebuild"):
        assert "newer version" in refused(str(store.folder), capsys, command)


@pytest.mark.parametrize("fails", [False, True])
def test_a_step_to_the_next_version_is_taken_whole_or_not_at_all(store, monkeypatch, capsys, fails):
    def forward(connection: Any) -> None:
        connection.execute(text("ALTER TABLE entries ADD COLUMN place VARCHAR"))
        if fails:
            connection.execute(text("SELECT 1 FROM nowhere"))

    monkeypatch.setattr(store_module, "SCHEMA", SCHEMA + 1)
    monkeypatch.setitem(store_module.STEPS, SCHEMA, forward)
    assert main(["fleet", "--records", str(store.folder)]) == (3 if fails else 0)
    assert "Traceback" not in capsys.readouterr().err
    with store.reading() as connection:
        version = connection.execute(text("SELECT version FROM schema_version")).scalar()
        columns = connection.execute(text("SELECT * FROM entries")).keys()
    assert (version, "place" in columns) == ((SCHEMA, False) if fails else (SCHEMA + 1, True))


def test_pages_show_and_change_what_the_server_holds(store):
    with served(store.folder) as address:
        assert ask(address, "/").status == 200
        assert "N0011R" in open_page(address, "/").text
        assert call(address, entry_call("N0011R", "oil on the server")).status == 200
        assert "oil on the server" in open_page(address, "/entries").text
    assert [one.entry.words for one in kept_entries(store)] == ["oil on the server"]
