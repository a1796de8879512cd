"""A write that fails, or a kill, at every step of a command that writes: nothing is lost, nothing is doubled."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.records import kept, rebuilding
from analyzer.records.files import all_originals
from analyzer.records.keeping import Prepared
from analyzer.records.rebuilding import Original, prepare_original
from analyzer.records.store import DATABASE, open_records
from tests.records.injected import NEVER, injected


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
@pytest.mark.parametrize(("kind", "every"), [("EIO", 1), ("ENOSPC", 4)])
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
