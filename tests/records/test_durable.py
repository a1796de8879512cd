"""Files that outlast a power failure: their contents are synced before they have their names, these after."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from analyzer.records.durable import make_folders, write_each_whole

#: What was done, in order: what was synced, by its inode, or the name that a file was given.
Steps = list[int | str]


@pytest.fixture
def steps(monkeypatch: pytest.MonkeyPatch) -> Steps:
    done: Steps = []
    sync, rename = os.fsync, Path.replace

    def fsync(handle: int) -> None:
        done.append(os.fstat(handle).st_ino)
        sync(handle)

    def replace(path: Path, target: Path) -> Path:
        done.append(target.name)
        return rename(path, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(Path, "replace", replace)
    return done


def inode(path: Path) -> int:
    return path.stat().st_ino


def test_files_are_synced_before_they_have_their_names_and_their_folders_after(tmp_path: Path, steps: Steps) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    make_folders([here, there])
    del steps[:]
    files = {here / "a": b"1", here / "b": b"2", there / "c": b"3"}
    write_each_whole(files)
    assert steps[:6] == [*map(inode, files), "a", "b", "c"]
    assert sorted(map(str, steps[6:])) == sorted(map(str, map(inode, (here, there)))), "each folder once"
    assert {path: path.read_bytes() for path in files} == files
    assert sorted(path.name for path in tmp_path.rglob("*") if path.is_file()) == ["a", "b", "c"]


def test_of_folders_that_are_made_those_that_hold_them_are_synced_once(tmp_path: Path, steps: Steps) -> None:
    make_folders([tmp_path / "one" / "deep", tmp_path / "one" / "deeper", tmp_path / "other"])
    assert sorted(map(str, steps)) == sorted(map(str, map(inode, (tmp_path, tmp_path / "one"))))
    make_folders([tmp_path / "one" / "deep"])
    assert len(steps) == 2, "those that are there already were synced when they were made"
