"""Every change is noted with who, when, before and after; the log of changes is only ever added to."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import delete, text, update

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.logs import find_logs
from analyzer.records.accounts import add_user
from analyzer.records.adding import add_logs
from analyzer.records.backup import back_up, restore
from analyzer.records.changes import CHANGES_FILE, Change, broken_at, kept_changes
from analyzer.records.changes_table import changes_csv
from analyzer.records.changing import add_entries, assign, delete_entry, dispose, edit_entry
from analyzer.records.checking import check, repair
from analyzer.records.correcting import (
    keep_columns_of_tail,
    keep_fleet_file,
    keep_settings_of_tail,
)
from analyzer.records.forgetting import forget, would_go
from analyzer.records.people import NotAllowedError, Person, Role
from analyzer.records.problems import RecordsError
from analyzer.records.rebuilding import rebuild
from analyzer.records.store import DATABASE, Store, open_records
from analyzer.records.tables import changes
from analyzer.reports.change_words import Differs, about_words, done_words, line_words, what_differs
from analyzer.trends.entries import make_entry

EDITOR = Person("edna", Role.EDITOR, "pages")
ENTRY = make_entry("N0011R", "2026-03-03", "other", "oil")


def noted(store: Store) -> list[Change]:
    with store.reading() as connection:
        return kept_changes(connection)


@pytest.fixture
def copy(two: Path, tmp_path: Path) -> Path:
    shutil.copytree(two, tmp_path / "records")
    return tmp_path / "records"


def test_each_change_says_who_when_and_what_stood_there_before_and_after(copy: Path) -> None:
    with open_records(copy, person=EDITOR) as store:
        add_entries(store, [ENTRY])
        edit_entry(store, 2, make_entry("N0011R", "2026-03-03", "other", "oil, 6 quarts"))
        delete_entry(store, 2)
        dispose(store, "N0011R", "weak_cranking", "2026-03-01T09:00:00", "confirmed", "J. Doe", "12.1 V at the post")
        assign(store, "N0044R", [1])
        keep_columns_of_tail(store, "N0022R", {"bus_voltage": "X1"})
        found = noted(store)[:6][::-1]
    assert [one.what for one in found] == [
        "maintenance entry added", "maintenance entry changed", "maintenance entry removed", "disposition added",
        "log changed", "fleet file changed",
    ]  # fmt: skip
    assert {(one.who, one.role, one.by) for one in found} == {("edna", "editor", "pages")}
    added, edited, removed, disposed, moved, fleet = found
    assert added.before is None
    said = {"tail": "N0011R", "when": "2026-03-03T00:00:00", "kind": "other", "words": "oil", "capacity": None}
    assert added.after == said
    assert what_differs(edited) == [Differs("notes", "oil", "oil, 6 quarts")]
    assert removed.after is None
    assert (removed.before or {})["words"] == "oil, 6 quarts"
    assert (disposed.after or {})["who"] == "J. Doe"
    assert what_differs(moved)[0] == Differs("aircraft", "N0011R", "N0044R")
    assert [(done_words(one), about_words(one)) for one in (removed, disposed, fleet)] == [
        ("maintenance entry removed", "oil, 6 quarts"), ("outcome recorded", "Weak cranking"),
        ("settings changed", "1 setting"),
    ]  # fmt: skip
    assert what_differs(disposed) == [
        Differs("aircraft", "", "N0011R"), Differs("finding", "", "Weak cranking"),
        Differs("seen at", "", "2026-03-01 09:00"), Differs("outcome", "", "confirmed"),
        Differs("said by", "", "J. Doe"), Differs("notes", "", "12.1 V at the post"),
    ]  # fmt: skip
    assert what_differs(fleet) == [Differs("N0022R, column of the bus voltage", "", "X1")]
    assert [line_words(one) for one in (added, edited, removed, disposed, fleet)] == [
        "maintenance entry added: other work, 2026-03-03 00:00, oil",
        "maintenance entry changed: other work, 2026-03-03 00:00: notes oil, 6 quarts (was oil)",
        "maintenance entry removed: other work, 2026-03-03 00:00, oil, 6 quarts",
        "outcome recorded: Weak cranking, 2026-03-01 09:00, confirmed, J. Doe, 12.1 V at the post",
        "settings changed: N0022R, column of the bus voltage X1 (was not set)",
    ]  # fmt: skip
    assert fleet.before is None
    assert "X1" in (fleet.after or {})["text"]
    assert all(one.at.endswith("+00:00") for one in found)


def test_no_key_of_the_records_stands_in_the_words_of_a_change() -> None:
    """What was told in a message is named by its title, a file without its folder, a test's outcome with its unit."""
    keys = (
        "N0011R|slow_recharge|in flights|2026-05-17T12:27:00|caution",
        "N0011R|limit_ahead|cranking_voltage||near",
    )
    sent = [
        Change(1, "", "edna", "editor", "pages", "message added", "x", None, None, {"recipient": "x", "key": key})
        for key in keys
    ]
    assert [about_words(one) for one in sent] == [
        "Slow recharge, in flights, 2026-05-17 12:27:00, caution", "limit ahead, Lowest cranking voltage, near",
    ]  # fmt: skip
    log = {"source": "/srv/logs/flown.csv", "original_kept": 1}
    added = Change(2, "", "edna", "editor", "pages", "log added", "1", None, None, log)
    assert what_differs(added) == [Differs("file", "", "flown.csv"), Differs("original file kept", "", "yes")]
    tested = replace(added, what="maintenance entry changed", before={"capacity": 84.0}, after={"capacity": None})
    assert line_words(tested) == "maintenance entry changed: tested capacity not set (was 84 % of rated)"


def test_settings_that_were_changed_are_told_by_their_names_with_units_before_and_after(copy: Path) -> None:
    with open_records(copy) as store:
        keep_fleet_file(store, b"[aircraft.N0011R]\nbattery_capacity = 24\nregulated_voltage = [13.8, 14.4]\n")
        keep_fleet_file(store, b'[aircraft.N0011R]\nbattery_capacity = 35.5\nbattery = "lithium_iron_phosphate"\n')
        (last, *_) = noted(store)
    assert what_differs(last) == [
        Differs("N0011R, Battery", "", "lithium iron phosphate"),
        Differs("N0011R, Battery capacity", "24 Ah", "35.5 Ah"),
        Differs("N0011R, Regulated voltage", "13.8 to 14.4 V", ""),
    ]  # fmt: skip
    reworded = replace(last, before=last.after, after={"text": "# ours\n" + str((last.after or {})["text"])})
    assert line_words(reworded) == "settings changed: no setting differs"
    spoilt = Change(
        1, last.at, "edna", "editor", "pages", "fleet file changed", "fleet.toml", None, {"text": "[aircraft"}, None
    )
    assert what_differs(spoilt) == [Differs("text", "[aircraft", "")]


def test_logs_that_are_kept_and_forgotten_are_noted_and_what_is_worked_out_anew_is_not(copy: Path, logs: Path) -> None:
    with open_records(copy) as store:
        before = len(noted(store))
        rebuild(store, Fleet())
        assert len(noted(store)) == before
        add_logs(store, find_logs([sorted(logs.glob("*.csv"))[2]]), Fleet())
        forget(store, would_go(store, ["3"]))
        gone, kept = noted(store)[:2]
    assert (kept.what, gone.what) == ("log added", "log removed")
    assert kept.after == gone.before
    assert len((kept.after or {})["hash"]) == 64


def test_what_is_not_done_is_not_noted(copy: Path) -> None:
    with open_records(copy) as store:
        before = noted(store)
        with pytest.raises(RecordsError):
            edit_entry(store, 99, ENTRY)
        with suppress(ZeroDivisionError), store.writing() as connection:
            connection.execute(text("DELETE FROM entries"))
            assert len(kept_changes(connection)) == len(before) + 1
            raise ZeroDivisionError
        assert noted(store) == before
        assert noted(store)[0].what == "maintenance entry added"


@pytest.mark.parametrize("statement", [update(changes).values(who="x"), delete(changes)])
def test_no_line_can_be_changed_or_removed(copy: Path, statement: object) -> None:
    with open_records(copy) as store:
        before = noted(store)
        assert before
        with pytest.raises(RecordsError, match="only ever added to"), store.writing() as connection:
            connection.execute(statement)  # type: ignore[call-overload]
        assert noted(store) == before


def test_a_line_that_somebody_changed_or_took_out_behind_its_back_is_found(copy: Path) -> None:
    with open_records(copy) as store:
        add_entries(store, [ENTRY])
        with store.reading() as connection:
            assert broken_at(connection) is None
    for spoil in ("UPDATE changes SET who = 'x' WHERE id = 2", "DELETE FROM changes WHERE id = 1"):
        other = copy.with_name(spoil.split()[0])
        shutil.copytree(copy, other)
        with closing(sqlite3.connect(other / DATABASE)) as raw:
            for name in ("update", "delete"):
                raw.execute(f"DROP TRIGGER changes_stay_{name}")
            raw.execute(spoil)
            raw.commit()
        with open_records(other) as store:
            told = [one.what for one in check(store).troubles]
            damaged = [one.id for one in noted(store) if one.damaged]
            assert damaged == [2], "the line, or the one after what is gone"
        assert any("log of changes is not what was written" in one for one in told)


def test_the_log_of_changes_outlives_its_database(copy: Path) -> None:
    with open_records(copy, person=EDITOR) as store:
        add_entries(store, [ENTRY])
        before = noted(store)
    lines = (copy / CHANGES_FILE).read_text("utf-8").splitlines()
    assert [json.loads(line)["id"] for line in lines] == [one.id for one in reversed(before)]
    with (copy / CHANGES_FILE).open("ab") as file:
        file.write(b'{"id": 99, "half')  # a program was stopped
    for path in copy.glob(f"{DATABASE}*"):
        path.unlink()
    assert main(["rebuild", "--records", str(copy)]) == 0
    with open_records(copy) as store:
        after = noted(store)
        assert after[-len(before) :] == before
        with store.reading() as connection:
            assert broken_at(connection) is None
    assert len((copy / CHANGES_FILE).read_text("utf-8").splitlines()) == len(after)


def test_the_log_of_changes_is_backed_up_and_restored(copy: Path, tmp_path: Path) -> None:
    with open_records(copy) as store:
        back_up(store, tmp_path / "b.zip")
        before = noted(store)
    assert (tmp_path / "b.zip").stat().st_mode & 0o077 == 0
    restore(tmp_path / "b.zip", tmp_path / "again")
    with open_records(tmp_path / "again") as store:
        assert noted(store) == before


def test_changes_are_shown_and_written_as_a_table(
    copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with open_records(copy, person=EDITOR) as store:
        add_entries(store, [make_entry("N0022R", "2026-03-03", "other", "=1+1")])
        rows = list(csv.reader(io.StringIO(changes_csv(noted(store)))))
    assert rows[0][:3] == ["number", "when (UTC)", "who"]
    assert rows[1][2:8] == ["edna", "editor", "pages", "maintenance entry added", "2", "N0022R"]
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)
    where = ["--records", str(copy)]
    assert main(["changes", *where]) == 0
    assert "edna" in capsys.readouterr().out.splitlines()[-1]
    assert main(["changes", "N0011R", "--json", *where]) == 0
    told = json.loads(capsys.readouterr().out)["changes"]
    assert {one["tail"] for one in told} == {"N0011R"}
    assert main(["changes", "--csv", str(tmp_path / "c.csv"), *where]) == 0
    assert len((tmp_path / "c.csv").read_text("utf-8").splitlines()) == len(rows)


#: Every use of the records that changes something, with the least role that may.
USES = {
    "add_entries": (Role.EDITOR, lambda store, _: add_entries(store, [ENTRY])),
    "edit_entry": (Role.EDITOR, lambda store, _: edit_entry(store, 1, ENTRY)),
    "delete_entry": (Role.EDITOR, lambda store, _: delete_entry(store, 1)),
    "dispose": (Role.EDITOR, lambda store, _: dispose(store, "N0011R", "a", "b", "confirmed", "c")),
    "assign": (Role.EDITOR, lambda store, _: assign(store, "N0044R", [1])),
    "add_logs": (Role.EDITOR, lambda store, _: add_logs(store, [], Fleet())),
    "keep_columns_of_tail": (
        Role.EDITOR,
        lambda store, _: keep_columns_of_tail(store, "N0011R", {"bus_voltage": "X1"}),
    ),
    "keep_settings_of_tail": (
        Role.EDITOR,
        lambda store, _: keep_settings_of_tail(store, "N0011R", lambda _: {"alternators": 1}),
    ),
    "keep_fleet_file": (Role.EDITOR, lambda store, _: keep_fleet_file(store, b"[aircraft.N0011R]\n")),
    "rebuild": (Role.EDITOR, lambda store, _: rebuild(store, Fleet(), only=set())),
    "forget": (Role.MANAGER, lambda store, _: forget(store, would_go(store, ["1"]))),
    "repair": (Role.MANAGER, lambda store, _: repair(store, check(store), Fleet())),
    "back_up": (Role.MANAGER, lambda store, there: back_up(store, there / "b.zip")),
    "add_user": (Role.MANAGER, lambda store, _: add_user(store, "x", "reader", "a long password")),
}


def beside(folder: Path) -> dict[str, bytes]:
    """What lies beside the database."""
    kinds = (".csv", ".toml", ".jsonl", ".json", ".parquet", ".gz")
    return {path.name: path.read_bytes() for path in folder.rglob("*") if path.suffix in kinds}


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize("role", list(Role))
def test_the_records_themselves_refuse_what_a_role_does_not_allow(
    copy: Path, tmp_path: Path, use: str, role: Role
) -> None:
    needed, does = USES[use]
    held = {
        path.name: path.read_bytes() for path in copy.rglob("*") if path.suffix in (".csv", ".toml", ".jsonl", ".json")
    }
    with open_records(copy, person=Person("pat", role)) as store:
        if role >= needed:
            does(store, tmp_path)
            return
        before = noted(store)
        with pytest.raises(NotAllowedError, match=f"pat may not do that: it takes the role {needed.word}"):
            does(store, tmp_path)
        assert noted(store) == before
    there = {
        path.name: path.read_bytes() for path in copy.rglob("*") if path.suffix in (".csv", ".toml", ".jsonl", ".json")
    }
    assert there == held
