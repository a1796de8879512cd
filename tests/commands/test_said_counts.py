"""What commands say in numbers: one of a thing and several, the end of a day, and nothing where nothing was."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from analyzer.cli import main
from analyzer.commands.add import summary as added_summary
from analyzer.commands.check import summary as checked_summary
from analyzer.commands.rebuild import summary as rebuilt_summary
from analyzer.commands.records import until_named
from analyzer.commands.sending import fault_of
from analyzer.commands.terminal import without_steering
from analyzer.records.adding import Added
from analyzer.records.checking import Checked, Trouble
from analyzer.records.rebuilding import Rebuilt
from analyzer.trends.entries import EntriesError, parse_entries
from tests.records.few_flights import flight, kept_flights

TAIL, OTHER = "N0001C", "N0002C"


@pytest.mark.parametrize(
    ("added", "told"),
    [
        pytest.param(
            Added(new=["a"], flights=1, kept_before=["b"], refused=[("c.csv", "no header")]),
            ["1 new log kept with 1 flight, 1 kept already, 1 refused. Records: here", "refused: c.csv: no header"],
            id="one of each",
        ),
        pytest.param(
            Added(new=["a"] * 1200, flights=1503),
            ["1,200 new logs kept with 1,503 flights, 0 kept already, 0 refused. Records: here"],
            id="many",
        ),
        pytest.param(
            Added(made_whole=["a"], read_anew=["b", "c"]),
            [
                "0 new logs kept with 0 flights, 0 kept already, 0 refused. Records: here",
                "Damaged since they were kept, and whole again: 1 log.",
                "Read anew with the columns named: 2 logs kept already.",
            ],
            id="made whole and read anew",
        ),
        pytest.param(
            Added(new=["a"], without_tail=["a.csv"]),
            [
                "1 new log kept with 0 flights, 0 kept already, 0 refused. Records: here",
                "New logs that name no aircraft: 1; list them with 'taper assign' and say whose they are, or they "
                "belong to no trend:",
                "  a.csv",
            ],
            id="one that names no aircraft",
        ),
    ],
)
def test_what_came_of_an_add(added: Added, told: list[str]) -> None:
    assert added_summary(added, "here").splitlines() == told


@pytest.mark.parametrize(("nameless", "listed"), [(10, 10), (11, 10)])
def test_of_many_logs_that_name_no_aircraft_the_first_ten_are_listed(nameless: int, listed: int) -> None:
    lines = added_summary(Added(without_tail=[f"{n}.csv" for n in range(nameless)]), "here").splitlines()
    assert f"name no aircraft: {nameless};" in lines[1]
    assert lines[2:] == [f"  {n}.csv" for n in range(listed)]


@pytest.mark.parametrize(
    ("rebuilt", "told"),
    [
        pytest.param(
            Rebuilt(logs=1, changed=["a"], flights_before=1, flights_after=2, measures_changed=1, entries=1,
                    taken_in=["b"], without_original=1),
            [
                "1 log analysed anew, 1 changed by it; flights 1 -> 2; measures that differ: 1.",
                "Taken in, for the database did not know them: 1 original.",
                "Entries and dispositions taken from the files beside the database: 1.",
                "Left as before, with neither original nor readings: 1 log.",
            ],
            id="one of each",
        ),
        pytest.param(
            Rebuilt(logs=3, flights_before=4, flights_after=4,
                    findings=Counter(weak_cranking=-1, slow_recharge=2, regulator_low=0), failed=[("x.csv", "gone")]),
            [
                "3 logs analysed anew, 0 changed by it; flights 4 -> 4; measures that differ: 0.",
                "  slow_recharge: +2",
                "  weak_cranking: -1",
                "not analysed: x.csv: gone",
            ],
            id="findings that came and went, those that stay unsaid",
        ),
    ],
)  # fmt: skip
def test_what_a_rebuild_changed(rebuilt: Rebuilt, told: list[str]) -> None:
    assert rebuilt_summary(rebuilt).splitlines() == told


LOST = Trouble("A log is lost.", "Add it again.", None, "log", None)


@pytest.mark.parametrize(
    ("found", "repaired", "told"),
    [
        pytest.param(
            Checked(logs=1, flights=1, entries=1, files=1), False,
            ["Checked: 1 log, 1 flight, 1 maintenance entry, 1 file. Nothing is damaged or missing."], id="one of each",
        ),
        pytest.param(
            Checked(logs=2, flights=0, entries=2, files=4, unsealed=1, half_written=1), False,
            [
                "Checked: 2 logs, 0 flights, 2 maintenance entries, 4 files. Nothing is damaged or missing.",
                "Kept before there were hashes: 1 log; taper rebuild gives them theirs.",
                "Being written, or left so within the hour: 1 file. Nothing is missing; a repair removes what is still "
                "there after an hour.",
            ],
            id="old and unfinished",
        ),
        pytest.param(
            Checked(logs=2, troubles=[LOST]), False,
            [
                "A log is lost. Add it again.", "To make anew what can be made anew: taper check --repair",
                "Checked: 2 logs, 0 flights, 0 maintenance entries, 0 files. 1 trouble found.",
            ],
            id="one trouble",
        ),
        pytest.param(
            Checked(logs=2, troubles=[LOST, LOST], repaired=["Made anew: 1 file."]), True,
            [
                "Made anew: 1 file.", "A log is lost. Add it again.", "A log is lost. Add it again.",
                "Checked: 2 logs, 0 flights, 0 maintenance entries, 0 files. 2 troubles found.",
            ],
            id="after a repair it is not asked for again",
        ),
    ],
)  # fmt: skip
def test_what_a_check_found(found: Checked, repaired: bool, told: list[str]) -> None:
    assert checked_summary(found, repaired=repaired).splitlines() == told


@pytest.mark.parametrize(
    ("named", "moment"),
    [
        ("2026-03-29", datetime(2026, 3, 29, 23, 59, 59)),
        ("29 Mar 2026", datetime(2026, 3, 29, 23, 59, 59)),
        ("2026-03-29T16:04", datetime(2026, 3, 29, 16, 4)),
        ("2026-03-29 00:00", datetime(2026, 3, 29)),
        ("29 Mar 2026 12:00 am", datetime(2026, 3, 29)),
    ],
)
def test_a_day_is_meant_to_its_end_and_a_moment_as_it_is(named: str, moment: datetime) -> None:
    """Without it the flights of the last day would be left out of ``--until``."""
    assert until_named(named) == moment


@pytest.mark.parametrize(
    ("lines", "count"),
    [
        (["N1,2026-13-01,other,x"], "1 entry cannot be read; nothing was taken"),
        (["N1,2026-13-01,other,x", "N1,2026-01-01,odd,x"], "2 entries cannot be read; nothing was taken"),
    ],
)
def test_entries_that_cannot_be_read_are_counted_and_named_by_their_line(lines: list[str], count: str) -> None:
    text = "\n".join(["tail,when,kind,words", "N1,2026-01-01,other,good", *lines])
    with pytest.raises(EntriesError) as refused:
        parse_entries(text, "work.csv")
    told = str(refused.value).splitlines()
    assert told[0] == f"work.csv: {count}"
    assert [line.partition(":")[0] for line in told[1:]] == [f"  line {number}" for number in range(3, 3 + len(lines))]


@pytest.mark.parametrize("faults", [5, 6])
def test_of_many_entries_that_cannot_be_read_the_first_five_are_shown(faults: int) -> None:
    text = "\n".join(["tail,when,kind,words", *["N1,never,other,x"] * faults])
    with pytest.raises(EntriesError) as refused:
        parse_entries(text, "work.csv")
    told = str(refused.value).splitlines()
    assert (len(told), told[-1] == "  ...") == ((6, False) if faults == 5 else (7, True))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Records of an aircraft that flew on 1 and 10 May 2026, and of one that flew on the second."""
    flights = {TAIL: [flight(datetime(2026, 5, day, 10)) for day in (1, 10)], OTHER: [flight(datetime(2026, 5, 2, 9))]}
    with kept_flights(tmp_path_factory.mktemp("said"), flights) as store:
        yield store.folder


def said(capsys: pytest.CaptureFixture[str], *call: str, status: int = 0) -> str:
    assert main([*call]) == status
    return capsys.readouterr().err


@pytest.mark.parametrize(
    ("count", "told"), [(1, "New and kept: 1 of 1 entry.\n"), (2, "New and kept: 1 of 2 entries.\n")]
)
def test_entries_taken_from_a_file(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], count: int, told: str
) -> None:
    """Work that stands in a file twice is kept once."""
    file = tmp_path / "entries.csv"
    rows = [f"{TAIL},2026-05-0{count},other,seen to"] * count
    file.write_text("\n".join(["tail,when,kind,words", *rows]))
    assert said(capsys, "entry", "--import", str(file), "--records", str(folder)).startswith(told)


@pytest.mark.parametrize(
    ("of", "rows"),
    [
        (["--tail", OTHER], "1 flight, 21 measures, 0 findings"),
        ([], "3 flights, 63 measures, 0 findings"),
    ],
)
def test_rows_of_tables_that_were_written(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], of: list[str], rows: str
) -> None:
    # 21 measures each.
    assert said(capsys, "export", str(tmp_path), *of, "--records", str(folder)) == f"{rows} written to {tmp_path}\n"


def test_a_log_of_changes_is_counted_by_its_lines(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "sign_ins.csv"
    told = said(capsys, "changes", "--sign-ins", "--csv", str(file), "--records", str(folder))
    assert told == f"{file} holds 0 sign-ins.\n"


def test_logs_that_name_no_aircraft_are_counted(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert said(capsys, "assign", "--records", str(folder)) == "Kept logs that name no aircraft: 0.\n"
    assert "no log of number 9 is kept" in said(capsys, "assign", TAIL, "9", "--records", str(folder), status=2)


def test_a_digest_without_flights_names_the_week_of_the_latest(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Seven days before 10 May are the third, from midnight on."""
    told = said(capsys, "digest", "--since", "2026-05-11", "--until", "2026-05-20", "--records", str(folder))
    assert "The latest flight began on 2026-05-10; its week: taper digest --since 2026-05-03\n" in told


def test_a_digest_cannot_begin_after_its_own_moment(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call = ["digest", "--since", "2026-05-12", "--until", "2026-05-11", "--records", str(folder)]
    assert "--since 2026-05-12 lies after the digest's own moment, 2026-05-11 23:59" in said(capsys, *call, status=2)
    same_day = ["digest", "--since", "2026-05-11", "--until", "2026-05-11", "--records", str(folder)]
    said(capsys, *same_day)


def arguments(**given: object) -> argparse.Namespace:
    usual = dict.fromkeys(("send", "dry_run", "recipients", "link", "since", "until", "json", "html"))
    return argparse.Namespace(**usual | given)


@pytest.mark.parametrize(
    ("given", "fault"),
    [
        ({}, None),
        ({"send": True}, None),
        ({"send": True, "link": "https://club.example"}, None),
        ({"dry_run": True}, "--dry-run goes with --send"),
        ({"link": "https://club.example"}, "--link goes with --send"),
        ({"send": True, "since": "2026-05-01"}, "it does not go with --since"),
        ({"send": True, "html": "x.html"}, "it does not go with --html"),
        ({"send": True, "link": "club.example"}, "--link must be the address of the pages"),
    ],
)
def test_what_does_not_go_together_is_said_before_anything_is_sent(given: dict[str, object], fault: str | None) -> None:
    told = fault_of(arguments(**given))
    assert told is None if fault is None else fault in str(told)


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("plain\ttext\n", "plain\ttext\n"),
        ("\x1b[2J", "\\u001b[2J"),
        ("a\u202eb", "a\\u202eb"),
        ("\r", "\\u000d"),
        ("\x7f\x9f", "\\u007f\\u009f"),
        # Beyond 16 bits as JSON writes it, by halves: U+E0041 less 0x10000 is 0xD0041, its tops 0x340, its rest 0x41.
        ("\U000e0041", "\\udb40\\udc41"),
        ("Ω 14.1 V – fine", "Ω 14.1 V – fine"),
    ],
)
def test_what_would_steer_a_terminal_is_written_out(text: str, written: str) -> None:
    assert without_steering(text) == written
    assert without_steering(text, colours=True) == written


def test_our_own_colours_pass_on_a_terminal_alone() -> None:
    told = "\x1b[31;1mWARNING\x1b[0m \x1b[5mblink"
    assert without_steering(told, colours=True) == "\x1b[31;1mWARNING\x1b[0m \\u001b[5mblink"
    assert without_steering(told) == "\\u001b[31;1mWARNING\\u001b[0m \\u001b[5mblink"
