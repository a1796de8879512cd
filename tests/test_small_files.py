"""Files that may go between two looks at them: a database's journal does, beside whoever reads."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.records.place import place_of
from analyzer.records.store import open_records
from analyzer.small_files import file_marks


def test_marks_are_the_time_and_size_of_what_is_there(tmp_path: Path):
    file = tmp_path / "a"
    file.write_bytes(b"123")
    told = file.stat()
    assert file_marks([file, tmp_path / "none"]) == ((told.st_mtime_ns, 3),)


def test_a_journal_that_goes_as_it_is_looked_at_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    with open_records(place_of(tmp_path), create=True) as store:
        before = store.database.mark()
        there = Path.exists
        monkeypatch.setattr(Path, "exists", lambda path: path.name.endswith("-wal") or there(path))
        (tmp_path / "records.sqlite-wal").unlink(missing_ok=True)
        assert store.database.mark() == before[:1]
