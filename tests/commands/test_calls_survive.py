"""Odd places, odd terminals and interrupted runs: a sentence, the right exit status, and no log lost."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.commands.logs import FEW_LOGS, helpers_at_hand, over_logs
from analyzer.logs import Refusal, find_logs
from analyzer.measures.regulation import minute_means

ROOT = Path(__file__).resolve().parents[2]
LOG = ROOT / "sample_logs" / "N074LF_2026-07-04.csv"
TAPER = [sys.executable, "-m", "analyzer"]


def many(folder: Path, count: int) -> Path:
    text = LOG.read_bytes()
    for number in range(count):
        (folder / f"{number:03}.csv").write_bytes(text)
    return folder


def children_of(process: int) -> list[int]:
    listed = Path(f"/proc/{process}/task/{process}/children")
    if not listed.exists():
        pytest.skip("this system does not list a process's children")
    return [
        int(child)
        for thread in Path(f"/proc/{process}/task").iterdir()
        for child in thread.joinpath("children").read_text().split()
    ]


def helpers_of(process: int) -> list[int]:
    """The helpers of a run, as soon as it has some: copies of it, called as it is."""
    for _ in range(500):
        called = Path(f"/proc/{process}/cmdline").read_bytes()
        if helpers := [one for one in children_of(process) if Path(f"/proc/{one}/cmdline").read_bytes() == called]:
            return helpers
        time.sleep(0.01)
    raise AssertionError("no helper was started")


def worked(helper: int) -> int:
    """How long a helper has worked, in the ticks of the processor's clock."""
    return int(Path(f"/proc/{helper}/stat").read_text().rsplit(")", 1)[1].split()[11])


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full on this system")
@pytest.mark.parametrize("command", [["review"], ["review", "--json"], ["columns"]])
def test_a_full_disk_behind_the_output_is_said_in_a_sentence(command: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*TAPER, *command, str(LOG)], stdout=full, stderr=subprocess.PIPE, text=True, cwd=ROOT, check=False
        )
    assert done.returncode == 2
    assert done.stderr.startswith("taper: the output cannot be written")
    assert "Traceback" not in done.stderr


def test_a_terminal_that_knows_only_ascii_still_gets_the_text() -> None:
    done = subprocess.run(
        [*TAPER, "review", str(ROOT / "sample_logs" / "N037LF_2026-04-19.csv")],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert done.returncode == 0
    assert b"Regulated voltage" in done.stdout


def test_json_is_ascii_whatever_the_path_and_the_terminal(tmp_path: Path) -> None:
    folder = tmp_path / "Flüge ✈"
    folder.mkdir()
    done = subprocess.run(
        [*TAPER, "review", "--json", str(many(folder, 1))],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=False,
    )
    assert done.returncode == 0
    assert json.loads(done.stdout.decode("ascii"))["logs"][0]["source"].endswith("Flüge ✈/000.csv")


def test_devices_and_impossible_paths_are_refused() -> None:
    zero, long = find_logs(["/dev/zero", "a" * 5000])
    assert isinstance(long, Refusal)
    assert "cannot be looked up" in long.because
    assert main(["review", zero.name if not isinstance(zero, Refusal) else zero.source]) == 1


def test_a_name_that_stands_twice_in_a_zip_is_not_lost_in_silence(tmp_path: Path) -> None:
    path = tmp_path / "twice.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(LOG, "a.csv")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.write(LOG, "a.csv")
    found = find_logs([path])
    assert [isinstance(entry, Refusal) for entry in found] == [False, True]


def test_a_recording_is_never_overwritten_by_its_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "flight.csv"
    path.write_bytes(LOG.read_bytes())
    assert main(["columns", str(path), "--table", str(path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert path.read_bytes() == LOG.read_bytes()


def test_a_column_can_be_named_in_the_review_as_well(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "odd.csv"
    rows = [f"{second},{12.6 if second < 60 else 14.1},{0 if second < 60 else 2300}" for second in range(900)]
    path.write_text("\n".join(["seconds,zq,rpm", *rows]) + "\n")
    assert main(["review", str(path), "--json"]) == 1
    assert "--map" in json.loads(capsys.readouterr().out)["logs"][0]["because"]
    assert main(["review", str(path), "--map", "bus_voltage=zq", "--json"]) == 0
    (flight,) = json.loads(capsys.readouterr().out)["logs"][0]["flights"]
    assert flight["measures"]["regulated_voltage"]["value"] == pytest.approx(14.1)


def test_brief_is_one_line_a_flight(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(ROOT / "sample_logs"), "--brief"]) == 0
    text = capsys.readouterr().out.split("\n\n")[0].splitlines()
    assert len(text) == len(list((ROOT / "sample_logs").glob("*.csv")))
    assert any(line.startswith("warning") and "Alternator off line" in line for line in text)


def test_a_helper_that_dies_costs_no_log(tmp_path: Path) -> None:
    """One is at work on a log that takes it a second or two when all are killed."""
    command = [*TAPER, "review", "--json", str(many(tmp_path, 60))]
    head, _, rows = LOG.read_bytes().partition(b"\n")
    (tmp_path / "000.csv").write_bytes(head + b"\n" + 40 * rows)
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0, cwd=ROOT)
    while max(map(worked, helpers := helpers_of(process.pid))) < 10:
        time.sleep(0.01)
    for helper in helpers:
        os.kill(helper, signal.SIGKILL)
    out, err = process.communicate(timeout=300)
    assert process.returncode == 0
    assert len(json.loads(out)["logs"]) == 60
    assert b"a helper process died" in err


def test_an_interrupt_ends_the_run_with_one_word_and_leaves_no_helper(tmp_path: Path) -> None:
    command = [*TAPER, "review", "--json", str(many(tmp_path, 200))]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0, cwd=ROOT)
    helpers = helpers_of(process.pid)
    time.sleep(1.0)  # in the middle of the work
    asked = time.monotonic()
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert time.monotonic() - asked < 10.0
    assert process.returncode == 130
    assert err.decode().strip() == "taper: stopped"
    for _ in range(500):
        if not any(Path(f"/proc/{helper}").exists() for helper in helpers):
            return
        time.sleep(0.02)
    raise AssertionError("a helper goes on after the interrupt")


def test_on_a_terminal_too_helpers_are_copies_of_the_run(tmp_path: Path) -> None:
    """The progress that is drawn there has a thread of its own, beside which nothing may be copied."""
    ours, theirs = os.openpty()
    command = [*TAPER, "review", str(many(tmp_path, 40))]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs, cwd=ROOT)
    os.close(theirs)
    try:
        assert helpers_of(process.pid)
    finally:
        process.kill()
        process.wait()
        os.close(ours)


def is_even(number: int, _fleet: Fleet) -> bool:
    if number < 0:
        raise ValueError("below nought")
    return number % 2 == 0


def test_helpers_at_hand_go_on_after_work_that_failed() -> None:
    with helpers_at_hand(FEW_LOGS):
        for _ in range(2):
            with pytest.raises(ValueError, match="below nought"):
                list(over_logs(is_even, [*range(FEW_LOGS), -1], Fleet()))
            assert list(over_logs(is_even, list(range(FEW_LOGS)), Fleet())) == [True, False] * (FEW_LOGS // 2)


def test_a_run_of_many_hours_costs_no_more_means_than_one_of_a_few() -> None:
    time_s = np.arange(0.0, 400_000.0, 2.0)
    means, _ = minute_means(time_s, np.full(time_s.size, 14.0) + 0.01 * (np.arange(time_s.size) % 3))
    assert 300 < means.size <= 602
