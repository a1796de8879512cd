"""Words of a log and of people reach neither a terminal nor a spreadsheet as what steers it."""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.aircraft import Fleet, TailError, tail_name
from analyzer.cells import guarded, unguarded
from analyzer.cli import main
from analyzer.commands.terminal import clean_output, without_steering
from analyzer.records.changing import add_entries, dispose, kept_dispositions, kept_entries
from analyzer.records.rebuilding import rebuild
from analyzer.records.refusals import keep_refusals, kept_refusals
from analyzer.records.store import DATABASE, open_records
from analyzer.trends.entries import make_entry

SAMPLE = Path(__file__).resolve().parents[2] / "sample_logs" / "N012LF_2026-05-02.csv"
STEERING = "\x1b]0;owned\x07\x1b[2J\u202eevil\u2066\x9b31m\r\U000e0041"


@given(st.text())
def test_nothing_that_steers_is_left_and_json_stays_the_same(text):
    cleaned = without_steering(text)
    assert all(letter.isprintable() or letter.isspace() for letter in cleaned if ord(letter) < 0xA0)
    assert not set(cleaned) & set("\x1b\x07\r\x9b\u202e\u2066\u200f\ufeff")
    document = json.dumps([text], ensure_ascii=False)
    assert json.loads(without_steering(document)) == [text]


@pytest.mark.parametrize(
    ("tty", "text", "written"),
    [
        (True, "\x1b[31;1mWARNING\x1b[0m \x1b[2J", "\x1b[31;1mWARNING\x1b[0m \\u001b[2J"),
        (False, "\x1b[31;1mWARNING\x1b[0m", "\\u001b[31;1mWARNING\\u001b[0m"),
        (True, "tab\tline\n", "tab\tline\n"),
    ],
)
def test_only_our_own_colours_pass_and_on_a_terminal_alone(monkeypatch, tty, text, written):
    stream = io.StringIO()
    stream.isatty = lambda: tty  # type: ignore[method-assign]
    monkeypatch.setattr(sys, "stdout", stream)
    with clean_output():
        assert sys.stdout.write(text) == len(text)
    assert stream.getvalue() == written
    assert sys.stdout is stream


def test_words_of_a_log_reach_the_terminal_clean(tmp_path, capsys):
    name = tmp_path / f"flight{STEERING.replace('/', '')}.csv"
    lines = SAMPLE.read_text("utf-8").splitlines(keepends=True)
    at = next(place for place, line in enumerate(lines) if line.lower().count("volt"))
    lines[at] = lines[at].rstrip("\n") + f",odd {STEERING.replace(chr(13), '')}\n"
    name.write_text("".join(line if place <= at else line.rstrip("\n") + ",x\n" for place, line in enumerate(lines)))
    records = str(tmp_path / "records")
    for command in (["columns"], ["review"], ["review", "--brief"], ["add", "--records", records]):
        main([command[0], str(name), *command[1:]])
    main(["assign", "--records", records])
    told = capsys.readouterr()
    for letter in "\x1b\x07\x9b\u202e\u2066\U000e0041":
        assert letter not in told.out + told.err
    assert "\\u202eevil" in told.out
    assert main(["columns", str(name), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["logs"][0]["source"] == str(name)


@given(st.text(alphabet="'=+-@\t\r\nab\uff1d\uff0b\uff0d\uff20", max_size=6))
def test_a_guarded_cell_is_no_formula_and_comes_back_as_it_was(text):
    assert guarded(text)[:1] not in ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
    assert unguarded(guarded(text)) == text


def test_files_beside_the_database_hold_no_formula_and_are_read_back(tmp_path):
    words = '=HYPERLINK("x","y")'
    with open_records(tmp_path / "r", create=True) as store:
        add_entries(store, [make_entry("N0012T", "2026-03-01", "other", one) for one in (words, "'" + words, "plain")])
        dispose(store, "N0012T", "weak_cranking", "2026-03-01T09:00:00", "confirmed", "@who", "+1")
        keep_refusals(store, [("=a.csv", "-b")])
    for path in (tmp_path / "r").glob("*.csv"):
        for row in csv.reader(io.StringIO(path.read_text("utf-8"))):
            assert not any(cell[:1] in ("=", "+", "-", "@") for cell in row), path
    for path in (tmp_path / "r").glob(f"{DATABASE}*"):
        path.unlink()
    with open_records(tmp_path / "r", create=True) as store:
        rebuild(store, Fleet())
        assert {one.entry.words for one in kept_entries(store)} == {words, "'" + words, "plain"}
        assert [(one.who, one.words) for one in kept_dispositions(store)] == [("@who", "+1")]
        assert [(one.source, one.because) for one in kept_refusals(store)] == [("=a.csv", "-b")]


@pytest.mark.parametrize("good", ["N047KT", "d-exyz", "N0 12T", "N0_012", "Ä12", "CLUB.1"])
def test_a_tail_has_letters_and_digits(good):
    assert tail_name(f" {good} ") == good.upper()


@pytest.mark.parametrize("bad", ["", "=N0", "N0\x1b[31m", "N0\u202e1", "N0/../1", "N0<b>", "-", "N" * 17, "N0\n1"])
def test_what_is_no_tail_is_said_everywhere(tmp_path, bad, capsys):
    with pytest.raises(TailError) as told:
        tail_name(bad)
    assert str(told.value).isprintable()
    records = str(tmp_path / "records")
    assert main(["add", str(SAMPLE), "--tail", bad, "--records", records]) == 2
    assert main(["entry", bad, "2026-03-01", "oil", "--records", records]) == 2
    assert "is no tail" in capsys.readouterr().err
