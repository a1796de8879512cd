"""A write that fails, or a kill, at every step of a command that writes: nothing is lost, nothing is doubled."""

from __future__ import annotations

import shutil
import signal
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.records import kept, rebuilding
from analyzer.records.backup import back_up
from analyzer.records.changing import kept_entries
from analyzer.records.checking import check
from analyzer.records.files import all_originals
from analyzer.records.preparing import Prepared
from analyzer.records.rebuilding import Original, prepare_original
from analyzer.records.store import DATABASE, open_records
from tests.records.injected import NEVER, injected, run_apart


def lost(two: Path, folder: Path) -> Path:
    """A copy of the records whose database is gone."""
    shutil.copytree(two, folder)
    for path in folder.glob(f"{DATABASE}*"):
        path.unlink()
    return folder


@pytest.fixture
def analysed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each original is analysed once only: what fails here is writing."""
    known: dict[str, Prepared] = {}

    def prepared(source: Original, fleet: Fleet) -> Prepared:
        if source.digest not in known:
            known[source.digest] = prepare_original(source, fleet)
        return known[source.digest]

    monkeypatch.setattr(rebuilding, "prepare_original", prepared)


@pytest.mark.usefixtures("analysed_once")
@pytest.mark.parametrize(
    ("kind", "every"),
    [
        ("EIO", 13),
        ("ENOSPC", 29),
        pytest.param("EIO", 1, marks=pytest.mark.long),
        pytest.param("ENOSPC", 4, marks=pytest.mark.long),
    ],
)
def test_a_rebuild_of_a_lost_database_never_removes_the_only_copy_of_a_log(two, tmp_path, kind, every, capsys):
    originals = set(all_originals(two))
    with injected(kind, NEVER) as steps:
        assert main(["rebuild", "--records", str(lost(two, tmp_path / "whole"))]) == 0
    assert steps.taken > 40
    failed, places = 0, range(1, steps.taken + 1, every)
    for at in places:
        folder = lost(two, tmp_path / str(at))
        with injected(kind, at):
            failed += main(["rebuild", "--records", str(folder)]) == 3
        assert set(all_originals(folder)) == originals, f"at step {at}"
        assert main(["rebuild", "--records", str(folder)]) == 0
        with open_records(folder) as store:
            assert len(kept.kept_logs(store)) == 2
            assert sum(tail.flights for tail in kept.tails(store)) == 2
        shutil.rmtree(folder)
    assert failed > len(places) // 2
    assert "Traceback" not in capsys.readouterr().err


#: Every command that writes, as it is called on records with two logs and one entry; what is added lies in ``{new}``.
WRITING: dict[str, list[str]] = {
    "add": ["add", "{new}"],
    "add named": ["add", "{new}", "--tail", "N0033R"],
    "add without originals": ["add", "{new}", "--no-originals"],
    "rebuild": ["rebuild"],
    "forget": ["forget", "N0011R", "--yes"],
    "assign": ["assign", "N0044R", "1", "2"],
    "entry": ["entry", "N0011R", "2026-03-03", "alternator replaced"],
    "import": ["entry", "--import", "{entries}"],
    "edit": ["entry", "N0011R", "2026-03-03", "alternator replaced", "--edit", "1"],
    "delete": ["entry", "--delete", "1"],
    "repair": ["check", "--repair"],
    "backup": ["backup", "{file}"],
    "restore": ["restore", "{backup}"],
}


@pytest.fixture(scope="module")
def beside(two: Path, logs: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Files that commands take: a third log, entries, a backup."""
    folder = tmp_path_factory.mktemp("beside")
    lines = ("tail,when,kind,words", "N0011R,2026-03-03,other,oil", "N0022R,2026-03-04,other,tyre", "")
    (folder / "entries.csv").write_text("\n".join(lines))
    with open_records(two) as store:
        back_up(store, folder / "b.zip")
    new = sorted(logs.glob("*.csv"))[2]
    return {"new": str(new), "entries": str(folder / "entries.csv"), "backup": str(folder / "b.zip")}


def called(command: str, folder: Path, beside: dict[str, str]) -> list[str]:
    given = beside | {"file": str(folder) + ".zip"}
    return [*(word.format(**given) for word in WRITING[command]), "--records", str(folder)]


def made_ready(command: str, two: Path, folder: Path) -> Path:
    """Records as a command finds them."""
    if command == "restore":
        return folder
    shutil.copytree(two, folder)
    if command == "repair":
        with open_records(folder) as store, store.writing() as connection:
            connection.exec_driver_sql("UPDATE flights SET starts = '2020-01-01T00:00:00' WHERE id = 1")
    return folder


def held(folder: Path) -> object:
    """What records hold, checked to the last hash."""
    with open_records(folder) as store:
        found = check(store)
        assert [one.what for one in found.troubles] == []
        entered = [(one.entry.tail, one.entry.words) for one in kept_entries(store)]
        flown = {tail.tail: tail.flights for tail in kept.tails(store)}
        return [(log.hash, log.tail, log.original_kept) for log in kept.kept_logs(store)], flown, entered


def recovered(command: str, folder: Path, beside: dict[str, str], expected: object) -> None:
    """After a fault nothing is lost, and the same command comes to what it would have come to."""
    (Path(str(folder) + ".zip")).unlink(missing_ok=True)
    if command == "restore" and folder.exists() and (folder / DATABASE).exists():
        assert held(folder) == expected  # it was done, and refuses to be done again
        return
    again = main(called(command, folder, beside))
    # what was done before the fault may be there already: nothing to forget, no such entry
    assert again == 0 or (again == 3 and command in ("forget", "delete"))
    assert held(folder) == expected


@pytest.mark.parametrize("command", WRITING)
def test_a_write_error_at_any_step_of_any_command_loses_and_doubles_nothing(command, two, beside, tmp_path, capsys):
    whole = made_ready(command, two, tmp_path / "whole")
    with injected("EIO", NEVER) as steps:
        assert main(called(command, whole, beside)) == 0
    expected = held(whole)
    places = range(1, steps.taken + 1, max(1, steps.taken // 7))
    for at in places:
        folder = made_ready(command, two, tmp_path / f"{command} {at}")
        with injected("ENOSPC" if at % 2 else "EIO", at):
            assert main(called(command, folder, beside)) in (0, 1, 3)
        recovered(command, folder, beside, expected)
    told = capsys.readouterr().err
    assert "Traceback" not in told


@pytest.mark.parametrize("command", ["rebuild", "forget", "assign", "edit", "restore"])
def test_a_kill_at_any_step_loses_and_doubles_nothing(command, two, beside, tmp_path):
    whole = made_ready(command, two, tmp_path / "whole")
    with injected("EIO", NEVER) as steps:
        assert main(called(command, whole, beside)) == 0
    expected = held(whole)
    for at in {max(1, steps.taken // 3), max(1, 2 * steps.taken // 3)}:
        folder = made_ready(command, two, tmp_path / f"{command} {at}")
        status, _ = run_apart("kill", at, called(command, folder, beside))
        assert status == -signal.SIGKILL
        recovered(command, folder, beside, expected)
