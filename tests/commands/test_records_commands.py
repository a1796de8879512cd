"""The commands on the records, as their users call them."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analyzer.cli import main

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"


@pytest.fixture
def records(sample_records: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Records of the sample logs, named by the environment."""
    folder = tmp_path / "records"
    shutil.copytree(sample_records, folder)
    monkeypatch.setenv("TAPER_RECORDS", str(folder))
    return folder


def test_add_says_what_it_kept_and_a_second_time_that_it_was_kept_already(records, capsys):
    count = len(list(SAMPLES.glob("*.csv")))
    assert main(["add", str(SAMPLES)]) == 0
    said = capsys.readouterr()
    assert f"0 new logs kept with 0 flights, {count} kept already, 0 refused" in said.err
    assert said.out == ""


def test_add_refuses_what_is_no_log_with_a_reason_and_keeps_the_rest(tmp_path, capsys):
    (tmp_path / "x.csv").write_text("nothing\n")
    shutil.copy(next(iter(sorted(SAMPLES.glob("*.csv")))), tmp_path / "y.csv")
    assert main(["add", str(tmp_path / "x.csv"), str(tmp_path / "y.csv"), "--records", str(tmp_path / "r")]) == 1
    said = capsys.readouterr().err
    assert "1 new log kept with 1 flight," in said
    assert f"refused: {tmp_path / 'x.csv'}: " in said


def test_the_fleet_lists_every_aircraft_the_one_in_most_need_first(records, capsys):
    assert main(["fleet", "--json", "--since", "2026-01-01"]) == 0
    document = json.loads(capsys.readouterr().out)
    order = ["warning", "caution", "advisory", "unknown", "good"]
    places = [order.index(row["condition"]) for row in document["tails"]]
    assert places == sorted(places)
    assert {row["tail"] for row in document["tails"]} == {f.stem.split("_")[0] for f in SAMPLES.glob("*.csv")}
    assert all("changed" in row for row in document["tails"])
    assert main(["fleet"]) == 0
    text = capsys.readouterr().out
    assert all(row["tail"] in text for row in document["tails"])
    assert "do not declare an aircraft airworthy" in " ".join(text.split())


def test_a_trend_from_the_records_is_that_from_the_logs(records, capsys):
    assert main(["trend", "--json"]) == 0
    of_records = json.loads(capsys.readouterr().out)
    assert main(["trend", "--from", str(SAMPLES), "--fleet", str(SAMPLES / "fleet.toml"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == of_records


def test_until_a_day_means_to_its_end(records, capsys):
    assert main(["trend", "N012LF", "--json", "--until", "2026-05-09"]) == 0
    assert json.loads(capsys.readouterr().out)["tails"][0]["flights"] == 2
    assert main(["trend", "N012LF", "--json", "--until", "2026-05-09T00:00"]) == 0
    assert json.loads(capsys.readouterr().out)["tails"][0]["flights"] == 1


def test_wrong_calls_are_told_with_what_would_be_right(records, capsys):
    for call, told in (
        (["trend", "N0999X"], "aircraft found: N012LF"),
        (["trend", "--until", "soon"], "not a date or time"),
        (["fleet", "--since", "soon"], "not a date or time"),
        (["entry", "N012LF", "2026-05-01"], "TAIL DATE"),
        (["entry", "N012LF", "2026-05-01", "x", "--kind", "batery_replaced"], "did you mean 'battery_replaced'"),
        (["assign", "N012LF", "9999"], "no log of number 9999"),
        (["dispose", "N012LF", "weak_cranking"], "TAIL FINDING TIME VERDICT"),
    ):
        assert main(call) == 2, call
        assert told in capsys.readouterr().err


def test_an_entry_is_kept_listed_and_shown_with_its_trend(records, capsys):
    assert main(["entry", "N012LF", "2026-05-10", "Replaced the battery"]) == 0
    assert "battery_replaced" in capsys.readouterr().err
    assert main(["entry", "--list", "--json"]) == 0
    (entry,) = json.loads(capsys.readouterr().out)["entries"]
    assert (entry["tail"], entry["kind"]) == ("N012LF", "battery_replaced")
    assert main(["trend", "N012LF"]) == 0
    out = capsys.readouterr().out
    assert "2026-05-10 battery replaced: too few flights yet\n      “Replaced the battery”\n" in out
    assert main(["entry", "N012LF", "2026-05-11", "oil", "--edit", str(entry["number"])]) == 0
    assert main(["entry", "--delete", str(entry["number"])]) == 0
    assert main(["entry", "--delete", str(entry["number"])]) == 3


def test_entries_are_imported_once(records, tmp_path, capsys):
    file = tmp_path / "e.csv"
    file.write_text("tail,when,kind,words\nN012LF,2026-05-10,other,oil\n")
    assert main(["entry", "--import", str(file)]) == 0
    assert main(["entry", "--import", str(file)]) == 0
    assert "New and kept: 0 of 1 entry." in capsys.readouterr().err


def test_nothing_is_forgotten_without_a_yes(records, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO())  # nobody is there to ask
    assert main(["forget", "N012LF"]) == 0
    said = capsys.readouterr()
    assert said.out.count("N012LF") >= 3
    assert "Nothing was changed" in said.err
    assert main(["forget", "N012LF", "--yes"]) == 0
    assert main(["trend", "N012LF"]) == 2


def test_a_rebuild_and_an_export_tell_their_counts(records, tmp_path, capsys):
    assert main(["rebuild"]) == 0
    assert "analysed anew, 0 changed by it" in capsys.readouterr().out
    assert main(["export", str(tmp_path / "t")]) == 0
    assert {path.name for path in (tmp_path / "t").iterdir()} == {"flights.csv", "measures.csv", "findings.csv"}


def test_a_disposition_keeps_who_said_it(records, capsys):
    call = ["dispose", "N012LF", "overvoltage_trip", "2026-05-09T10:40", "confirmed", "--who", "J. Doe"]
    assert main(call) == 0
    assert main(["dispose", "N012LF", "--list"]) == 0
    assert "J. Doe" in capsys.readouterr().out


def test_watching_keeps_a_folder_in_step_until_stopped(tmp_path):
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    sample = sorted(SAMPLES.glob("*.csv"))[0]
    shutil.copy(sample, inbox / sample.name)
    code = (
        "import sys, analyzer.records.watching as w; w.watch.__kwdefaults__['every_s'] = 0.2; "
        "from analyzer.cli import main; sys.exit(main(sys.argv[1:]))"
    )
    command = [sys.executable, "-c", code, "add", str(inbox), "--watch", "--records", str(tmp_path / "r")]
    watching = subprocess.Popen(command, cwd=SAMPLES.parent, stderr=subprocess.PIPE, text=True, bufsize=1)
    said: list[str] = []
    for line in watching.stderr:
        said.append(line)
        if "Waiting for logs" in line:
            other = sorted(SAMPLES.glob("*.csv"))[1]
            shutil.copy(other, inbox / other.name)
        if sum("new log kept" in one for one in said) == 2:
            break
    time.sleep(0.1)
    watching.send_signal(2)
    watching.communicate(timeout=30)
    assert json.loads((tmp_path / "r" / "watched.json").read_text("utf-8"))["paths"] == [str(inbox)]
    assert watching.returncode == 0
    assert "1 new log kept with 1 flight," in said[0]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({1: "N099LF"}, "no flight of N099LF was found"),
        ({2: "overvoltage_tripp"}, "did you mean 'overvoltage_trip'"),
        ({3: "2025-01-01"}, "it was at: 2026-05-09T10:03:00"),
        ({4: "maybe"}, "Outcomes: confirmed"),
    ],
)
def test_a_disposition_of_what_nobody_saw_is_refused_with_what_there_is(records, capsys, change, told):
    call = ["dispose", "N012LF", "overvoltage_trip", "2026-05-09T10:40", "confirmed", "--who", "J. Doe"]
    assert main([change.get(place, word) for place, word in enumerate(call)]) == 2
    assert told in capsys.readouterr().err


def test_a_disposition_at_an_event_is_kept_with_its_flight(records, capsys):
    call = ["dispose", "N012LF", "overvoltage_trip", "2026-05-09T10:34:21", "accepted", "--who", "J. Doe"]
    assert main(call) == 0
    assert "2026-05-09T10:03:00" in capsys.readouterr().err
