"""``taper digest`` as its users call it, over records of the sample logs."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from analyzer.cli import main

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Records of three of the sample logs and of one file that is no log."""
    folder = tmp_path_factory.mktemp("digest")
    for log in sorted(SAMPLES.glob("*.csv"))[:3]:
        shutil.copy(log, folder)
    (folder / "no_log.csv").write_text("nothing\n")
    assert main(["add", str(folder), "--records", str(folder / "records")]) == 1
    return str(folder / "records")


def test_what_was_found_since_is_told_with_the_log_that_was_refused(records, capsys):
    assert main(["digest", "--records", records, "--since", "2020-01-01"]) == 0
    said = capsys.readouterr().out
    assert "engine hours from 2020-01-01 on" in said
    assert "no_log.csv" in said
    assert "airworthy" in said


def test_as_a_document_it_is_one_json_object_and_names_what_the_fleet_names(records, capsys):
    assert main(["digest", "--records", records, "--since", "2020-01-01", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["contract"] == 1
    assert {"since", "as_of", "new", "worse", "fixed", "soon", "not_flown", "logs"} <= document.keys()
    assert main(["fleet", "--records", records, "--json"]) == 0
    assert document["tails"] == len(json.loads(capsys.readouterr().out)["tails"])


def test_a_moment_before_all_flights_has_nothing_to_tell(records, capsys):
    assert main(["digest", "--records", records, "--since", "2001-01-01", "--until", "2001-01-08", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert (document["tails"], document["flights"], document["new"]) == (0, 0, [])
    assert document["as_of"] == "2001-01-08T23:59:59"


def test_the_email_is_written_to_a_file(records, tmp_path, capsys):
    page = tmp_path / "digest.html"
    assert main(["digest", "--records", records, "--html", str(page)]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    assert str(page) in said.err
    assert page.read_text("utf-8").startswith("<!DOCTYPE html>")


def test_where_nothing_was_flown_the_week_of_the_latest_flight_is_named(records, capsys):
    assert main(["digest", "--records", records, "--since", "2030-01-01", "--until", "2030-01-08"]) == 0
    said = capsys.readouterr().err
    since = re.search(r"its week: taper digest --since (\d{4}-\d{2}-\d{2})", said)
    assert since
    assert main(["digest", "--records", records, "--since", since[1], "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["flights"] >= 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--since", "soon"], "is not a date"),
        (["--until", "13 Mai"], "is not a date"),
        (["--since", "2026-05-04", "--until", "2026-05-03"], "lies after"),
        (["--html", "/no/such/folder/x.html"], "cannot be written"),
        (["--fleet", "/no/such/fleet.toml"], "fleet"),
    ],
)
def test_a_wrong_call_is_answered_with_what_is_wrong(records, more, words, capsys):
    assert main(["digest", "--records", records, *more]) == 2
    said = capsys.readouterr()
    assert words in said.err
    assert said.out == ""


def test_records_that_are_not_there_are_said_to_be_missing(tmp_path, capsys):
    assert main(["digest", "--records", str(tmp_path / "nowhere")]) == 3
    assert "taper" in capsys.readouterr().err
