"""Files, folders and archives lead to logs, or to a sentence."""

from __future__ import annotations

import pickle
import zipfile
from pathlib import Path

import pytest

from analyzer.logs import Log, Refusal, Source, find_logs, read_log
from analyzer.logs import source as source_module

LOG = "Time,Volts\n" + "".join(f"09:00:{i:02d},12.{i}\n" for i in range(10, 40))


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    folder = tmp_path / "fleet"
    for name in ("N047KT/b.csv", "N047KT/a.CSV", "N018PB/2026/c.csv", "entries.csv", "N018PB/notes.txt"):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(LOG)
    return folder


def zipped(folder: Path, archive: Path) -> Path:
    with zipfile.ZipFile(archive, "w") as out:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                out.write(path, path.relative_to(folder.parent))
    return archive


def test_a_folder_gives_its_csv_files_of_all_levels_sorted_without_the_entries(fleet: Path):
    names = [Path(s.name).relative_to(fleet).as_posix() for s in find_logs([fleet]) if isinstance(s, Source)]
    assert names == ["N018PB/2026/c.csv", "N047KT/a.CSV", "N047KT/b.csv"]


def test_an_archive_gives_its_members_in_order_under_its_own_name(fleet: Path, tmp_path: Path):
    archive = zipped(fleet, tmp_path / "logs.zip")
    found = find_logs([archive])
    assert [s.name.removeprefix(f"{archive}/") for s in found] == [
        "fleet/N018PB/2026/c.csv",
        "fleet/N047KT/a.CSV",
        "fleet/N047KT/b.csv",
    ]
    logs = [read_log(s) for s in found]
    assert [(log.tail, log.tail_from) for log in logs] == [
        ("N018PB", "folder name"),
        ("N047KT", "folder name"),
        ("N047KT", "folder name"),
    ]


@pytest.mark.parametrize(("given", "words"), [("absent.csv", "no file or folder"), ("empty", "no CSV file")])
def test_a_path_that_leads_nowhere_is_refused_in_one_sentence(tmp_path: Path, given: str, words: str):
    (tmp_path / "empty").mkdir()
    (answer,) = find_logs([tmp_path / given])
    assert isinstance(answer, Refusal)
    assert words in answer.because
    assert read_log(answer) is answer


def test_a_broken_archive_is_refused(tmp_path: Path):
    broken = tmp_path / "broken.zip"
    broken.write_bytes(b"PK\x03\x04 and then nothing that an archive has")
    (answer,) = find_logs([broken])
    assert isinstance(answer, Refusal)
    assert "zip" in answer.because


def test_a_damaged_member_is_refused_and_the_others_are_read(fleet: Path, tmp_path: Path):
    archive = tmp_path / "logs.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("first.csv", LOG * 20)
        out.writestr("second.csv", LOG)
    data = bytearray(archive.read_bytes())
    data[60:90] = b"\xff" * 30  # inside the first member's packed bytes
    archive.write_bytes(bytes(data))
    first, second = (read_log(s) for s in find_logs([archive]))
    assert isinstance(first, Refusal)
    assert "damaged" in first.because
    assert isinstance(second, Log)


def test_an_encrypted_member_is_refused_with_what_to_do(tmp_path: Path):
    archive = tmp_path / "logs.zip"
    with zipfile.ZipFile(archive, "w") as out:
        out.writestr("flight.csv", LOG)
    data = bytearray(archive.read_bytes())
    data[6] |= 1  # general purpose bit 0, "encrypted", APPNOTE.TXT 4.4.4; local header
    data[data.index(b"PK\x01\x02") + 8] |= 1  # and central directory
    archive.write_bytes(bytes(data))
    (answer,) = (read_log(s) for s in find_logs([archive]))
    assert isinstance(answer, Refusal)
    assert "encrypted" in answer.because


def test_a_member_that_unpacks_to_more_than_is_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    archive = tmp_path / "logs.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("flight.csv", "0" * 100_000)
    monkeypatch.setattr(source_module, "MAX_LOG_BYTES", 10_000)
    (answer,) = (read_log(s) for s in find_logs([archive]))
    assert isinstance(answer, Refusal)
    assert "MB" in answer.because


def test_sources_logs_and_refusals_go_through_a_pool_of_processes(fleet: Path):
    for source in [*find_logs([fleet]), *find_logs([fleet / "absent"])]:
        again = pickle.loads(pickle.dumps(source))
        assert again == source
        answer = read_log(again)
        back = pickle.loads(pickle.dumps(answer))
        assert back.source == answer.source


@pytest.mark.parametrize(
    ("name", "tail", "tail_from"),
    [
        ("N074HC_20260304.csv", "N074HC", "file name"),
        ("2026-03-04 N047KT.csv", "N047KT", "file name"),
        ("D-EXYZ_log.csv", "D-EXYZ", "file name"),
        ("N083QM/2026/march/log001.csv", "N083QM", "folder name"),
        ("log-001.csv", None, None),
        ("n1.csv", None, None),
    ],
)
def test_a_registration_in_the_path(read, name: str, tail: str | None, tail_from: str | None):
    log = read(LOG, name)
    assert (log.tail, log.tail_from) == (tail, tail_from)


@pytest.mark.parametrize(
    ("lines", "tail"),
    [
        ("Aircraft registration: N047KT", "N047KT"),
        ("# Tail #: N047KT", "N047KT"),
        ("A/C Reg.: D-EXYZ", "D-EXYZ"),
        ("Kennzeichen,D-EXYZ", "D-EXYZ"),
        ("immatriculation = F-GXYZ", "F-GXYZ"),
        ('"Aircraft","N047KT"', "N047KT"),
        ("Aircraft: four seats", None),
        ("Software: N2", None),
    ],
)
def test_a_registration_above_the_header(read, lines: str, tail: str | None):
    log = read(f"{lines}\n{LOG}")
    assert (log.tail, log.tail_from) == (tail, "metadata line" if tail else None)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n\n\r\n", "empty"),
        (b"\0" * 4000, "empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, "binary"),
        (bytes(range(256)) * 40, "binary"),
        (b"PK\x03\x04" + bytes(range(256)) * 4, "zip"),
        (b"<!DOCTYPE html><html><body>Volts</body></html>", "web page"),
        (b"<?xml version='1.0'?><log/>", "XML"),
        (b'{"volts": [12.4]}', "JSON"),
        (b"Time,Volts,Amps\n", "only a header"),
        (b"13.8," * 200_000, "line"),
        (b"Date,Wind (kt)\n2026-03-04,12\n2026-03-05,9\n", "volt"),
    ],
)
def test_what_is_no_log_is_refused_with_the_reason(tmp_path: Path, data: bytes, words: str):
    path = tmp_path / "flight.csv"
    path.write_bytes(data)
    answer = read_log(Source("flight.csv", path))
    assert isinstance(answer, Refusal)
    assert words in answer.because
    assert answer.because.count(". ") == 0, "one sentence"
    assert answer.because.endswith(".")
