"""Sheets as they are asked for on the command line: what is written, what is refused, and what is left alone."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from analyzer.cli import main
from analyzer.reports.sheets import writing
from analyzer.reports.sheets.document import Paragraph, Sheet
from analyzer.reports.sheets.writing import SheetError, check_target, write_sheet
from tests.paper import assert_stands_alone, first_page_size, packed, pages, pdf_words

ROOT = Path(__file__).resolve().parents[3]
SAMPLES = ROOT / "sample_logs"
TRIP = str(SAMPLES / "N012LF_2026-05-09.csv")


@pytest.mark.parametrize("ending", ["html", "pdf", "PDF"])
def test_review_writes_a_sheet_beside_its_own_output(ending: str, tmp_path: Path, capsys) -> None:
    target = tmp_path / f"trip.{ending}"
    assert main(["review", TRIP, "--json", "--sheet", str(target)]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)["logs"][0]["tail"] == "N012LF"
    assert f"Sheet written: {target}" in said.err
    words = assert_stands_alone(target.read_text("utf-8")).words if ending == "html" else pdf_words(target.read_bytes())
    assert packed("Most likely overvoltage protection tripped.") in packed(words)
    assert [path.name for path in tmp_path.iterdir()] == [target.name]


def test_letter_paper_is_letter_paper(tmp_path: Path, capsys) -> None:
    for paper, size in (("letter", (612, 792)), ("a4", (595.28, 841.89))):
        target = tmp_path / f"{paper}.pdf"
        assert main(["review", TRIP, "--brief", "--sheet", str(target), "--paper", paper]) == 0
        assert first_page_size(target.read_bytes()) == pytest.approx(size, abs=0.1)
    target = tmp_path / "letter.html"
    assert main(["review", TRIP, "--brief", "--sheet", str(target), "--paper", "letter"]) == 0
    assert "size: letter" in target.read_text("utf-8")


def test_a_file_that_exists_is_left_as_it_is_unless_forced(tmp_path: Path, capsys) -> None:
    target = tmp_path / "mine.pdf"
    target.write_text("mine")
    assert main(["review", TRIP, "--sheet", str(target)]) == 2
    said = capsys.readouterr()
    assert "exists already and is left as it is; choose another name, or say --force" in said.err
    assert said.out == ""  # said before any work
    assert target.read_text() == "mine"
    assert main(["review", TRIP, "--brief", "--sheet", str(target), "--force"]) == 0
    assert pages(target.read_bytes()) == 2


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("trip.docx", "a sheet is a file whose name ends in .html or .pdf"),
        ("trip", "a sheet is a file whose name ends in .html or .pdf"),
        ("nowhere/trip.pdf", "there is no such folder; make it first"),
        ("folder.pdf", "is a folder; name a file in it"),
    ],
)
@pytest.mark.parametrize("call", [["review", TRIP], ["trend", "N012LF", "--from", TRIP], ["squawk", "N012LF", "x"]])
def test_a_place_that_cannot_be_is_said_in_a_sentence_before_any_work(
    call: list[str], name: str, sentence: str, tmp_path: Path, capsys
) -> None:
    (tmp_path / "folder.pdf").mkdir()
    assert main([*call, "--sheet", str(tmp_path / name)]) == 2
    said = capsys.readouterr()
    assert sentence in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the administrator may write everywhere")
def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(SheetError, match="this folder cannot be written"):
        check_target(tmp_path / "a.pdf")


def test_a_write_that_fails_says_so_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(SheetError, match="cannot be written \\(No space left on device\\)"):
        write_sheet(Sheet("a", date(2026, 1, 1), (Paragraph("b"),)), tmp_path / "a.html")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("ending", "library"), [("html", "jinja2"), ("html", "matplotlib"), ("pdf", "typst")])
def test_a_library_that_is_missing_is_named_with_what_to_install(
    ending: str, library: str, tmp_path: Path, capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = writing.find_spec
    monkeypatch.setattr(writing, "find_spec", lambda name: None if name == library else known(name))
    assert main(["review", TRIP, "--sheet", str(tmp_path / f"a.{ending}")]) == 2
    assert f"a sheet needs {library}; in this project's checkout: pip install '.[sheet]'" in capsys.readouterr().err


def test_a_review_without_a_sheet_loads_no_library_of_it() -> None:
    probe = (
        "import sys; from analyzer.cli import main; main(['review', sys.argv[1], '--brief']); "
        "print([name for name in ('matplotlib', 'jinja2', 'typst') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe, TRIP], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.rstrip().endswith("[]")


def test_a_log_that_is_refused_stands_on_the_sheet_with_its_reason(tmp_path: Path, capsys) -> None:
    broken = tmp_path / "broken.csv"
    broken.write_text("nothing\n")
    target = tmp_path / "two.pdf"
    assert main(["review", str(broken), TRIP, "--brief", "--sheet", str(target)]) == 1
    words = pdf_words(target.read_bytes())
    assert packed("broken.csv") in packed(words)
    assert "refused:" in words


def test_only_refused_logs_make_a_sheet_that_says_so(tmp_path: Path, capsys) -> None:
    broken = tmp_path / "broken.csv"
    broken.write_text("nothing\n")
    target = tmp_path / "none.html"
    assert main(["review", str(broken), "--sheet", str(target)]) == 1
    assert "refused:" in assert_stands_alone(target.read_text("utf-8")).words


def test_many_logs_are_drawn_by_several_processes_into_one_document(tmp_path: Path, capsys) -> None:
    target = tmp_path / "club.pdf"
    assert main(["review", str(SAMPLES), "--brief", "--sheet", str(target)]) == 0
    words = packed(pdf_words(target.read_bytes()))
    logs = sorted(path.name for path in SAMPLES.glob("*.csv"))
    assert all(packed(name) in words for name in logs)
    assert pages(target.read_bytes()) <= 1 + 2 * len(logs)


@pytest.fixture(scope="module")
def records(sample_records: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Records of the sample logs, and one entry."""
    folder = str(shutil.copytree(sample_records, tmp_path_factory.mktemp("kept") / "records"))
    assert main(["entry", "N012LF", "2026-05-12", "regulator replaced", "--records", folder]) == 0
    return folder


@pytest.mark.parametrize("ending", ["html", "pdf"])
def test_trend_entry_and_squawk_write_their_sheets(ending: str, records: str, tmp_path: Path, capsys) -> None:
    calls = {
        "trend": ["trend", "N012LF"],
        "entry": ["trend", "N012LF", "--entry", "2026-05-12", "--symptom", "charging_light"],
        "squawk": ["squawk", "N012LF", "charging light came on"],
    }
    told = {
        "trend": "trends over 3 flights",
        "entry": "did the work of 2026-05-12 help?",
        "squawk": "charging light",
    }
    for name, call in calls.items():
        target = tmp_path / f"{name}.{ending}"
        assert main([*call, "--records", records, "--json", "--sheet", str(target)]) == 0
        json.loads(capsys.readouterr().out)
        content = target.read_bytes()
        words = assert_stands_alone(content.decode()).words if ending == "html" else pdf_words(content)
        assert packed(told[name]).lower() in packed(words).lower()


def test_a_squawks_occasions_are_drawn_alike_from_records_and_from_logs(records: str, tmp_path: Path, capsys) -> None:
    call = ["squawk", "N012LF", "charging light came on", "--since", "2026-05-01"]
    fleet = ["--fleet", str(SAMPLES / "fleet.toml")]
    drawn = []
    for source in (["--records", records], ["--from", str(SAMPLES), *fleet]):
        target = tmp_path / f"{len(drawn)}.html"
        assert main([*call, "--sheet", str(target), *source]) == 0
        drawn.append(assert_stands_alone(target.read_text("utf-8")).targets)
    assert drawn[0]
    assert drawn[0] == drawn[1]


def test_an_entry_in_text_and_json_says_what_the_sheet_says(records: str, capsys) -> None:
    call = ["trend", "n012lf", "--entry", "2026-05-12", "--records", records]
    assert main(call) == 0
    text = capsys.readouterr().out
    assert "Too few flights yet to tell." in text
    assert "regulator replaced" in text
    assert main([*call, "--json", "--symptom", "charging_light"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["contract"] == 1
    (entry,) = document["entries"]
    assert entry["verdict"] == "too few flights yet"
    (symptom,) = entry["symptoms"]
    sides = symptom["before"], symptom["after"]
    assert [sum(side[state] for state in ("seen", "not_seen", "not_observable")) for side in sides] == [2, 1]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (["N012LF", "--entry", "2026-05-13"], "nothing was entered for N012LF on 2026-05-13; its entries: 2026-05-12"),
        (["--entry", "2026-05-12"], "--entry compares the flights of one aircraft; name it"),
        (["N012LF", "--entry", "soon"], "'soon' is not a date"),
        (["N012LF", "--symptom", "charging_light"], "--symptom goes with --entry DATE"),
        (["N012LF", "--entry", "2026-05-12", "--symptom", "rust"], "'rust' is no symptom"),
    ],
)
def test_a_wrong_call_about_an_entry_is_told_what_is_wrong(call: list[str], sentence: str, records, capsys) -> None:
    assert main(["trend", *call, "--records", records]) == 2
    assert sentence in capsys.readouterr().err
