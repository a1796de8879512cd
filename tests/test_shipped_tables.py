"""Tables as kept beside the bytecode: always what the TOML says today."""

from __future__ import annotations

import json
import os
import sys
import tomllib
from datetime import date
from pathlib import Path

import pytest

import analyzer
from analyzer.shipped_tables import read_table

TABLES = sorted(Path(analyzer.__file__).parent.rglob("*.toml"))


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    path = tmp_path / "some.toml"
    path.write_text("[level]\nvolts = 14.1\n", "utf-8")
    return path


def kept_beside(path: Path) -> list[Path]:
    return sorted(path.parent.glob("__pycache__/*"))


@pytest.mark.parametrize("shipped", TABLES, ids=lambda path: path.name)
def test_a_shipped_table_is_kept_as_it_is_parsed(shipped: Path, table: Path) -> None:
    table.write_bytes(shipped.read_bytes())
    parsed = tomllib.loads(shipped.read_text("utf-8"))
    assert repr(read_table(table)) == repr(read_table(table)) == repr(parsed)  # 1 is not 1.0
    assert len(kept_beside(table)) == 1


@pytest.mark.parametrize("shipped", TABLES, ids=lambda path: path.name)
def test_a_shipped_table_is_the_same_told_as_json(shipped: Path) -> None:
    parsed = tomllib.loads(shipped.read_text("utf-8"))
    assert repr(json.loads(json.dumps(parsed))) == repr(parsed)


def test_a_table_that_json_cannot_tell_is_parsed_at_each_start(table: Path) -> None:
    table.write_text("day = 1979-05-27\n", "utf-8")
    assert read_table(table) == read_table(table) == {"day": date(1979, 5, 27)}
    assert kept_beside(table) == []


def test_an_interpreter_that_keeps_no_bytecode_reads_tables(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.implementation, "cache_tag", None)
    assert read_table(table) == {"level": {"volts": 14.1}}
    assert kept_beside(table) == []


def test_what_is_kept_spares_the_parsing(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_table(table)
    monkeypatch.setattr(tomllib, "loads", None)
    assert read_table(table) == {"level": {"volts": 14.1}}


def test_a_table_that_changed_is_read_anew_though_its_size_and_time_did_not(table: Path) -> None:
    read_table(table)
    before = table.stat()
    table.write_text("[level]\nvolts = 15.1\n", "utf-8")
    os.utime(table, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert read_table(table) == {"level": {"volts": 15.1}}


@pytest.mark.parametrize("place", [0, 63, 64, -5, -1])
def test_a_kept_table_with_one_wrong_bit_is_not_believed(table: Path, place: int) -> None:
    read_table(table)
    (kept,) = kept_beside(table)
    spoilt = bytearray(kept.read_bytes())
    spoilt[place] ^= 1
    kept.write_bytes(spoilt)
    assert read_table(table) == {"level": {"volts": 14.1}}
    assert kept.read_bytes() != spoilt  # and was kept anew


@pytest.mark.parametrize("whole", [b"", b"no hash"])
def test_a_kept_table_cut_off_is_not_believed(table: Path, whole: bytes) -> None:
    read_table(table)
    (kept,) = kept_beside(table)
    kept.write_bytes(whole)
    assert read_table(table) == {"level": {"volts": 14.1}}


def test_nothing_is_kept_where_no_bytecode_is(table: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert read_table(table) == {"level": {"volts": 14.1}}
    assert kept_beside(table) == []


def test_a_folder_that_cannot_be_written_to_costs_only_time(table: Path) -> None:
    (table.parent / "__pycache__").write_text("no folder", "utf-8")
    assert read_table(table) == {"level": {"volts": 14.1}}
    assert sorted(path.name for path in table.parent.iterdir()) == ["__pycache__", "some.toml"]


def test_a_kept_table_that_cannot_be_put_in_place_leaves_nothing_behind(table: Path) -> None:
    read_table(table)
    (kept,) = kept_beside(table)
    kept.unlink()
    kept.mkdir()
    assert read_table(table) == {"level": {"volts": 14.1}}
    assert kept_beside(table) == [kept]
