"""One odd log never stops the others: each is answered by one sentence, by every way that logs are read."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet, FleetFileError, read_fleet
from analyzer.cli import main
from analyzer.logs import Refusal, find_logs, read_log
from analyzer.logs import body as body_module
from analyzer.logs import source as source_module
from analyzer.logs.unit import MAX_REASON, whole_or_refused
from analyzer.records import kept
from analyzer.records.store import open_records
from analyzer.trends.entries import EntriesError, read_entries

ROOT = Path(__file__).resolve().parents[1]
GOOD = ROOT / "sample_logs" / "N012LF_2026-05-02.csv"
ROWS = "Time,Bus Volts,Amps\n" + "".join(f"10:00:{s:02d},14.1,2.0\n" for s in range(40))


class PanicException(BaseException):
    """What a panic of a compiled library is to Python: no ``Exception``."""


def too_deep() -> None:
    too_deep()


def raised(fault: BaseException) -> Callable[[], None]:
    def work() -> None:
        raise fault

    return work


@pytest.mark.parametrize(
    ("work", "words"),
    [
        (raised(PanicException("`NaiveDateTime + TimeDelta` overflowed")), "PanicException"),
        (too_deep, "RecursionError"),
        (raised(MemoryError()), "more memory than"),
        (raised(ValueError("line\none " + "x" * 9000)), "ValueError: line one xxx"),
        (raised(OSError(5, "Input/output error")), "Input/output error"),
        (raised(UnicodeEncodeError("utf-8", "\udcff", 0, 1, "\x1b[31m")), "UnicodeEncodeError"),
    ],
)
def test_whatever_is_raised_is_a_refusal_in_one_printable_sentence(work, words):
    answer = whole_or_refused("a.csv", work)
    assert isinstance(answer, Refusal)
    assert answer.source == "a.csv"
    assert words in answer.because
    assert answer.because.isprintable()
    assert len(answer.because) < MAX_REASON + 300


@pytest.mark.parametrize("stop", [KeyboardInterrupt, SystemExit])
def test_a_wish_to_stop_goes_through(stop):
    with pytest.raises(stop):
        whole_or_refused("a.csv", raised(stop()))


def test_a_panic_while_judging_costs_its_own_log_alone_in_add_review_and_the_pages(tmp_path, monkeypatch, capsys):
    import dashboards.staging as staging_module
    from dashboards.staging import Staging

    for name in ("bad", "good"):
        shutil.copy(GOOD, tmp_path / f"{name}.csv")
    (tmp_path / "bad.csv").write_bytes(GOOD.read_bytes() + b"\n")
    import analyzer.review as review_module

    cut = review_module.each_flight

    def panics(log, aircraft):
        if log.source.endswith("bad.csv"):
            raise PanicException("overflowed")
        return cut(log, aircraft)

    monkeypatch.setattr(review_module, "each_flight", panics)
    records = tmp_path / "records"
    assert main(["add", str(tmp_path / "bad.csv"), str(tmp_path / "good.csv"), "--records", str(records)]) == 1
    told = capsys.readouterr().err
    assert "1 new log kept" in told
    assert "bad.csv: The program met something" in told
    assert main(["review", str(tmp_path / "bad.csv"), str(tmp_path / "good.csv"), "--json"]) == 1
    states = [log["state"] for log in json.loads(capsys.readouterr().out)["logs"]]
    assert states == ["refused", "read"]
    monkeypatch.setattr(staging_module, "in_helper", lambda _helper, task, source: task(source))  # to panic there too
    staging = Staging(Fleet)
    try:
        keys = [staging.receive(n, BytesIO((tmp_path / n).read_bytes()))[0] for n in ("bad.csv", "good.csv")]
        until = time.monotonic() + 60
        while any(one.entry is None for one in staging.these(keys)) and time.monotonic() < until:
            time.sleep(0.05)
        assert [one.entry.state for one in staging.these(keys)] == ["refused", "read"]
        staging.drop(keys)
        assert not any(path.is_file() for path in staging._room.folder().rglob("*"))
    finally:
        staging.close()


def test_every_hostile_log_is_answered_and_the_good_one_beside_it_is_kept(shared, tmp_path, capfd):
    hostile = shared / "hostile"
    if not hostile.is_dir():
        pytest.skip("the hostile logs are not there")
    folder = tmp_path / "logs"
    shutil.copytree(hostile, folder)
    shutil.copy(GOOD, folder / "good.csv")
    names = sorted(path.name for path in folder.glob("*.csv"))
    assert main(["add", str(folder), "--records", str(tmp_path / "records")]) in (0, 1)
    told = capfd.readouterr().err
    with open_records(tmp_path / "records") as store:
        answered = {Path(log.source).name for log in kept.kept_logs(store)}
    assert "good.csv" in answered
    answered |= {name for name in names if f"{name}: " in told}
    assert answered == set(names)
    for command in ("review", "columns"):
        assert main([command, str(folder), "--json"]) in (0, 1)
        logs = json.loads(capfd.readouterr().out)["logs"]
        assert [Path(log["source"]).name for log in logs] == names
        assert all(log["because"].endswith(".") and "\n" not in log["because"] for log in logs if log["because"])
    assert "Traceback" not in told


def test_a_name_that_is_no_text_is_kept_under_one_that_is(tmp_path, capsys):
    path = os.fsencode(tmp_path) + b"/flight\xff.csv"
    shutil.copy(GOOD, path)
    assert main(["add", str(tmp_path), "--records", str(tmp_path / "records")]) == 0
    assert main(["review", os.fsdecode(path), "--brief"]) == 0
    with open_records(tmp_path / "records") as store:
        assert [Path(log.source).name for log in kept.kept_logs(store)] == ["flight\\xff.csv"]


def answer_of(path: Path) -> str:
    (answer,) = (read_log(source) for source in find_logs([path]))
    return answer.because if isinstance(answer, Refusal) else "read"


def test_pipes_sockets_and_links_out_of_the_folder_are_refused_by_name(tmp_path):
    folder = tmp_path / "logs"
    folder.mkdir()
    os.mkfifo(folder / "pipe.csv")
    (tmp_path / "outside.csv").write_text(ROWS)
    (folder / "link.csv").symlink_to(tmp_path / "outside.csv")
    (folder / "gone.csv").symlink_to(folder / "absent.csv")
    (folder / "own.csv").write_text(ROWS)
    (folder / "inside.csv").symlink_to(folder / "own.csv")
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(folder / "s.csv"))
        answers = {Path(s.source if isinstance(s, Refusal) else s.name).name: read_log(s) for s in find_logs([folder])}
    told = {name: answer.because for name, answer in answers.items() if isinstance(answer, Refusal)}
    assert told.keys() == {"pipe.csv", "link.csv", "gone.csv", "s.csv"}
    assert "named pipe" in told["pipe.csv"]
    assert "outside the folder" in told["link.csv"]
    assert "named pipe" in answer_of(folder / "pipe.csv")
    assert answer_of(folder / "link.csv") == "read"  # named by the caller, who knows where it leads


def test_what_another_program_of_the_call_writes_is_read(tmp_path):
    (tmp_path / "own.csv").write_text(ROWS)
    command = f'{sys.executable} -m analyzer columns <(cat "{tmp_path}/own.csv")'
    done = subprocess.run(["bash", "-c", command], cwd=ROOT, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("bound", "most", "text", "words"),
    [
        ("MAX_ROWS", 30, ROWS, "more than the 30 rows"),
        ("MAX_LOG_BYTES", 300, ROWS, "split it into shorter"),
        ("MAX_LINE_BYTES", 100, "Time,Bus Volts\n" + "1" * 150, "One line of the file"),
        ("MAX_LINE_BYTES", 100, "1" * 150 + "\nTime,Bus Volts\n", "One line of the file"),
    ],
)
@pytest.mark.parametrize("piece", [64, 192, 4096])
def test_bounds_are_counted_while_reading(tmp_path, monkeypatch, piece, bound, most, text, words):
    monkeypatch.setattr(source_module, "PIECE", piece)
    monkeypatch.setattr(source_module, "CHUNK", 64)
    (tmp_path / "a.csv").write_text(text)
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", text)
    assert words not in answer_of(tmp_path / "a.csv")
    monkeypatch.setattr(source_module, bound, most)
    assert words in answer_of(tmp_path / "a.csv")
    assert words in answer_of(tmp_path / "a.zip")


@pytest.mark.parametrize("data", [ROWS.encode() + bytes(5000), ROWS.replace("\n", "\r").encode()], ids=["zeros", "cr"])
def test_zeros_at_the_end_of_a_file_and_rows_of_other_systems_are_no_long_line(tmp_path, monkeypatch, data):
    monkeypatch.setattr(source_module, "CHUNK", 64)
    monkeypatch.setattr(source_module, "MAX_LINE_BYTES", 100)
    (tmp_path / "a.csv").write_bytes(data)
    assert answer_of(tmp_path / "a.csv") == "read"


def test_too_many_columns_and_too_many_irregular_rows_are_refused(tmp_path, monkeypatch):
    wide = ",".join(f"Volts {number}" for number in range(1200))
    (tmp_path / "wide.csv").write_text(wide + "\n" + ("1," * 1199 + "1\n") * 5)
    assert "1,200 cells, more than the 1,000" in answer_of(tmp_path / "wide.csv")
    (tmp_path / "odd.csv").write_text(ROWS.replace("10:00:05,14.1,2.0", '10:00:05,"14.1"'))
    assert answer_of(tmp_path / "odd.csv") == "read"
    monkeypatch.setattr(body_module, "MAX_IRREGULAR_ROWS", 30)
    assert "not alike" in answer_of(tmp_path / "odd.csv")


@pytest.mark.parametrize(("bound", "most"), [("MAX_MEMBERS", 2), ("MAX_UNPACKED_BYTES", 2000)])
def test_an_archive_of_too_much_is_refused_whole(tmp_path, monkeypatch, bound, most):
    with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for number in range(3):
            archive.writestr(f"{number}.csv", ROWS)
    assert len(find_logs([tmp_path / "a.zip"])) == 3
    monkeypatch.setattr(source_module, bound, most)
    (answer,) = find_logs([tmp_path / "a.zip"])
    assert isinstance(answer, Refusal)
    assert "more than" in answer.because


def test_archives_of_one_call_are_counted_together(tmp_path, monkeypatch):
    for name in ("a", "b"):
        with zipfile.ZipFile(tmp_path / f"{name}.zip", "w") as archive:
            archive.writestr("0.csv", ROWS)
    monkeypatch.setattr(source_module, "MAX_UNPACKED_BYTES", len(ROWS) + 10)
    first, second = find_logs([tmp_path / "a.zip", tmp_path / "b.zip"])
    assert not isinstance(first, Refusal)
    assert isinstance(second, Refusal)


def test_entries_and_a_fleet_file_out_of_all_measure_are_said(tmp_path):
    file = tmp_path / "entries.csv"
    file.write_text("tail,when,kind,words\nN0012T,2026-03-01,other," + "x" * 300_000 + "\n")
    with pytest.raises(EntriesError, match="no table that can be read"):
        read_entries(file)
    file.write_text("tail,when,kind,words\n" + "x" * 11_000_000)
    with pytest.raises(EntriesError, match="more than 10 MB"):
        read_entries(file)
    fleet = tmp_path / "fleet.toml"
    fleet.write_text("[aircraft.N0012T]\nbattery_capacity = " + "9" * 5000)
    with pytest.raises(FleetFileError, match=r"not valid TOML \(a number in it has too many digits\)"):
        read_fleet(fleet)
    fleet.write_text("a = " + "[" * 50_000)
    with pytest.raises(FleetFileError, match=r"nested too deep"):
        read_fleet(fleet)
    fleet.unlink()
    os.mkfifo(fleet)
    with pytest.raises(FleetFileError, match="pipe or device"):
        read_fleet(fleet)


def test_a_clean_up_of_temporary_files_costs_what_waited_and_nothing_that_comes(tmp_path, monkeypatch):
    from dashboards.staging import Staging

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    staging = Staging(Fleet)
    try:
        staging.receive("a.csv", BytesIO(ROWS.encode()))
        (made,) = tmp_path.glob("taper-brought-in-*")
        shutil.rmtree(made)
        made.symlink_to(tmp_path / "of somebody else", target_is_directory=True)
        (one,) = staging.these(staging.receive("b.csv", BytesIO(ROWS.encode())))
        assert one.source.path.exists()
        assert made not in one.source.path.parents
    finally:
        staging.close()


def test_after_a_clean_up_all_who_bring_files_in_share_one_folder(tmp_path, monkeypatch):
    from dashboards.staging import _Room

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    room, make = _Room(), tempfile.mkdtemp
    shutil.rmtree(room.folder())
    monkeypatch.setattr(tempfile, "mkdtemp", lambda **asked: time.sleep(0.2) or make(**asked))
    with ThreadPoolExecutor(4) as people:
        given = list(people.map(lambda _: room.folder(), range(4)))
    assert set(given) == set(tmp_path.iterdir()) == {room.folder()}


def test_what_waits_is_bounded_by_person_and_in_all_and_goes_after_a_day(monkeypatch):
    from dashboards import staging as module

    monkeypatch.setattr(module, "MAX_OWNED_BYTES", len(ROWS) + 10)
    monkeypatch.setattr(module, "MAX_STAGED_BYTES", 2 * len(ROWS) + 20)
    staging = module.Staging(Fleet)
    one, two, three = (staging.of(f"{name}.editor") for name in "abc")
    try:
        (key,) = one.receive("a.csv", BytesIO(ROWS.encode()))
        with pytest.raises(module.NotReceivedError, match="than what is left for files that wait"):
            one.receive("b.csv", BytesIO(ROWS.encode()))
        (other,) = two.receive("c.csv", BytesIO(ROWS.encode()))
        with pytest.raises(module.NotReceivedError, match="than what is left for files that wait"):
            three.receive("d.csv", BytesIO(ROWS.encode()))
        monkeypatch.setattr(module, "MAX_OWNED_BYTES", 2_000)
        monkeypatch.setattr(module, "MAX_STAGED_BYTES", len(ROWS))
        with pytest.raises(module.NotReceivedError, match="GB of files wait here"):
            three.receive("e.csv", BytesIO(ROWS.encode()))
        monkeypatch.setattr(module, "MAX_OWNED_BYTES", len(ROWS))
        with pytest.raises(module.NotReceivedError, match="GB of files of yours wait here"):
            one.receive("f.csv", BytesIO(ROWS.encode()))
        monkeypatch.setattr(module, "EXPIRY_S", -1.0)
        (last,) = one.receive("g.csv", BytesIO(ROWS.encode()))
        assert not one.these([key])
        assert not two.these([other])
        assert [path.name for path in staging._room.folder().rglob("*.csv")] == ["g.csv"]
        assert one.these([last])
    finally:
        staging.close()


def test_an_import_takes_nothing_that_somebody_else_brought_in():
    """Nor what was not read yet, which then still waits."""
    from dashboards.importing import Imports
    from dashboards.staging import Staging

    class Keeping:
        def keep(self, staged, _count):
            return list(staged)

    staging = Staging(Fleet)
    imports, own = Imports(staging), staging.of("a.editor")
    try:
        keys = [*own.receive("a.csv", BytesIO(ROWS.encode())), *own.receive("b.csv", BytesIO(ROWS.encode()))]
        until = time.monotonic() + 60
        while any(one.entry is None for one in own.these(keys)) and time.monotonic() < until:
            time.sleep(0.05)
        staging._staged[keys[1]] = replace(staging._staged[keys[1]], entry=None)
        for owner, left in (("b.editor", keys), ("a.editor", keys[1:])):
            begun = imports.begin(Keeping(), keys, owner)
            while not imports.of(begun, owner).over and time.monotonic() < until:
                time.sleep(0.05)
            assert [one.key for one in own.these(keys)] == left
    finally:
        imports.close()
        staging.close()


@pytest.mark.parametrize(
    "name",
    ["../../etc/a\x00b\x1b[31m.csv", "x" * 5000 + ".csv", "\udcff.csv", "C:\\logs\\a.csv", "\u98db" * 90 + ".csv"],
)
def test_a_name_sent_to_the_pages_is_no_path_and_holds_nothing_unprintable(name):
    from dashboards.staging import Staging

    staging = Staging(Fleet)
    try:
        (one,) = staging.these(staging.receive(name, BytesIO(ROWS.encode())))
        assert one.name.isprintable()
        assert "/" not in one.name
        assert len(one.name) <= 120
        assert one.source.path.exists()
    finally:
        staging.close()
